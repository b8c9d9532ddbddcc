package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"wane/study"
	"wane/study/life"
	"wane/study/store"
)

// CouponPull is how a study stands with a coupon at one of its pulls.
type CouponPull struct {
	Coupon            string
	Role              study.Role
	Coating, Exposure string
	Pull              int
	Dose              study.Num // null of what is kept in the dark
	DoseUnit, Date    string    // as planned

	SpotsRead, SpotsExpected int // spots; 0 expected: not known
	AnglesRead               int // different angles of incidence
	Held, Aside              int // readings
	Fits                     int // current fits, a spot in a condition
	Stale                    int // of these, those that the next fit makes again
	Unfitted                 int // spots in a condition without a fit

	Protocol string // the version that the pull remembers, as damp-heat@1; or empty

	Ended string // how the life of the coupon had ended by then; empty: it had not

	State     PullState
	Attention []string // words of [AttentionWords], what hurts most first

	passed bool // a later pull is read or due: what is missing cannot be made up
}

// PullState says in one word what was read of a coupon at a pull.
type PullState string

// The states of a coupon at a pull.
const (
	PullRead    PullState = "read"    // all that is expected
	PullPartly  PullState = "partly"  // spots or angles are missing
	PullMissing PullState = "missing" // its day has come, and nothing is read
	PullMissed  PullState = "missed"  // nothing is read, and a later pull is
	PullPlanned PullState = "planned" // its day has not come
	PullEnded   PullState = "ended"   // the coupon was lost, is broken or was taken out for good
)

// The words of attention.
const (
	AttentionMissed   = "missed"
	AttentionOverdue  = "overdue"
	AttentionSpot     = "spot-missing:"
	AttentionAngle    = "angle-missing:"
	AttentionHeld     = "held"
	AttentionUnfitted = "not-fitted"
	AttentionStale    = "stale"
)

// AttentionWord is a word of attention with what it means and what helps.
type AttentionWord struct{ Word, Meaning, Remedy string }

// AttentionWords returns all words, what hurts most first.
func AttentionWords() []AttentionWord {
	return []AttentionWord{
		{AttentionMissed, "nothing is read at this pull, and a later pull of the coupon is read",
			"nothing: its dose has passed; if readings exist, take them in"},
		{AttentionOverdue,
			"nothing is read, and the day of the pull has come; one without a day is due when others of its exposure are read",
			"`wane due` says what to do"},
		{AttentionSpot, "this spot is expected at this pull and is not read", "read it before the coupon goes out again"},
		{AttentionAngle, "this spot (before the @) is expected at this angle in degrees and is not read; a T behind the " +
			"angle is transmittance", "read it before the coupon goes out again"},
		{AttentionHeld, "guards hold readings", "`wane review` lists them"},
		{AttentionUnfitted, "spots are read and not evaluated", "`wane fit`"},
		{AttentionStale, "fits were made of other readings or entries, or by an earlier model", "`wane fit`"},
	}
}

// StatusOptions say what status is asked for.
type StatusOptions struct {
	AsOf Moment                 // at which the study is looked at
	Keep func(*CouponPull) bool // which rows are wanted; nil: all
}

// Status is how a study stands.
type Status struct {
	Day      string       // that counts as today
	Rows     []CouponPull // in the order of coupon and pull
	Tasks    []Task       // of the whole study, due on this day, most urgent first
	NextPull string       // the next planned one after this day, in words; empty: none with a day
	Overview Overview
	Rules    []RuleState // with what rules say now by which verdicts were issued, if anything came since
}

// Status returns how the study stands, at one moment.
func (d *Desk) Status(ctx context.Context, opt StatusOptions) (*Status, error) {
	s, err := d.standing(ctx, opt.AsOf)
	if err != nil {
		return nil, err
	}
	out := &Status{Day: s.day, Rows: s.rows, Tasks: s.tasks(), NextPull: s.nextPull(), Overview: s.overview}
	if out.Rules, err = d.Rules(ctx, RuleOptions{Changes: true, AsOf: opt.AsOf.Line}); err != nil {
		return nil, err
	}
	if opt.Keep != nil {
		out.Rows = slices.DeleteFunc(s.rows, func(row CouponPull) bool { return !opt.Keep(&row) })
	}
	return out, nil
}

// standing is what status and due are made from.
type standing struct {
	roster   *study.Roster
	day      string
	rows     []CouponPull
	expect   *expectation
	plan     *pullPlan
	coupons  map[string]*study.Coupon
	lives    *life.Lives
	reads    map[string]*store.CouponReads
	sessions map[string]bool // that readings name
	fits     map[couponPullKey]fitCounts
	overview Overview
}

type couponPullKey struct {
	coupon string
	pull   int
}

// fitCounts counts the units of a coupon at a pull.
type fitCounts struct{ fits, stale, missing int }

// standing looks at the study at one moment.
func (d *Desk) standing(ctx context.Context, asOf Moment) (s *standing, err error) {
	err = d.view(ctx, asOf.Line, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		s = d.newStanding(roster, asOf.Day)
		if err := s.load(d, v); err != nil {
			return err
		}
		names, err := v.SessionsRead()
		if err != nil {
			return err
		}
		for _, name := range names {
			s.sessions[name] = true
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	s.addAllRows(s.roster.Coupons)
	s.overview.Coupons = len(s.roster.Coupons)
	for i := range s.rows {
		s.overview.Held += s.rows[i].Held
	}
	return s, nil
}

// newStanding knows the roster and no reading.
func (d *Desk) newStanding(roster *study.Roster, day string) *standing {
	if day == "" {
		day = d.now().Format(time.DateOnly)
	}
	return &standing{roster: roster, day: day, reads: map[string]*store.CouponReads{}, sessions: map[string]bool{},
		coupons: couponsByCode(roster), lives: life.New(roster), fits: map[couponPullKey]fitCounts{}}
}

func (s *standing) addReads(r store.CouponReads) error {
	s.reads[r.Coupon] = &r
	return nil
}

// addAllRows makes the rows of coupons from what is read.
func (s *standing) addAllRows(coupons []study.Coupon) {
	s.plan = newPullPlan(s)
	s.expect = newExpectation(s)
	n := 0
	for i := range coupons {
		n += len(s.plan.of(coupons[i].Coupon))
	}
	s.rows = make([]CouponPull, 0, n)
	for i := range coupons {
		s.addRows(&coupons[i])
	}
}

// load loads what is read, and counts fits: from the last survey and what came since, where there is one.
func (s *standing) load(d *Desk, v *store.View) error {
	survey, changed, err := d.surveyOf(v)
	if err != nil {
		return err
	}
	if survey == nil {
		return s.loadAll(d, v)
	}
	for i := range survey.Coupons {
		c := &survey.Coupons[i]
		if _, since := slices.BinarySearch(changed, c.Coupon); since || s.coupons[c.Coupon] == nil {
			continue
		}
		s.reads[c.Coupon] = &c.CouponReads
		for k := range c.Pulls {
			s.fits[couponPullKey{c.Coupon, c.Pulls[k].Pull}] = fitCounts{fits: c.Fits[k]}
			s.overview.Spots += c.Fits[k]
		}
	}
	for _, coupon := range changed {
		if err := v.ReadsOf(coupon, s.addReads); err != nil {
			return err
		}
	}
	units, err := v.UnitsOf(changed)
	if err != nil {
		return err
	}
	return s.countFits(d, units)
}

// loadAll is load from all readings.
func (s *standing) loadAll(d *Desk, v *store.View) error {
	if err := v.Reads(s.addReads); err != nil {
		return err
	}
	units, err := v.Units()
	if err != nil {
		return err
	}
	return s.countFits(d, units)
}

// countFits counts the fits of units, and those that are missing or stale.
func (s *standing) countFits(d *Desk, units []store.Unit) error {
	w, err := d.newWorkspace(s.roster, units, 1)
	if err != nil {
		return err
	}
	for _, job := range w.jobs() {
		for i := range job.units {
			u := &job.units[i]
			key := couponPullKey{u.Coupon, u.Pull}
			c := s.fits[key]
			s.overview.Spots++
			switch u.fit {
			case u.digest:
				c.fits++
			case [32]byte{}:
				c.missing++
				s.overview.Fits.Missing++
			default:
				c.fits++
				c.stale++
				s.overview.Fits.Stale++
			}
			s.fits[key] = c
		}
	}
	return nil
}

// addRows adds the rows of a coupon.
func (s *standing) addRows(c *study.Coupon) {
	of, last := s.lives.Of(c.Coupon), s.lastRead(c.Coupon)
	plan := s.plan.of(c.Coupon)
	for i := range plan {
		p := &plan[i]
		row := CouponPull{Coupon: c.Coupon, Role: c.Role, Coating: c.Coating, Exposure: p.Exposure, Pull: p.Pull,
			Dose: study.Null(), Date: p.Date, Protocol: p.Protocol}
		if of.EndedBy(p.Pull) {
			row.Ended = string(of.End().Event)
		}
		if life.IsExposed(c.Role) {
			row.Dose, row.DoseUnit = study.Num(p.Dose), p.DoseUnit
		}
		read := s.readAt(c.Coupon, p.Pull)
		if read != nil {
			row.SpotsRead, row.AnglesRead = len(read.Spots), countAngles(read)
			row.Held, row.Aside = read.Held, read.Aside
		}
		f := s.fits[couponPullKey{c.Coupon, p.Pull}]
		row.Fits, row.Stale, row.Unfitted = f.fits, f.stale, f.missing
		spots := s.expect.spots(c, p.Pull)
		row.SpotsExpected = len(spots)
		row.State = s.stateOf(&row, p, last, of.OverAt(p.Pull))
		row.passed = last > p.Pull || i+1 < len(plan) && s.isDue(&plan[i+1])
		row.Attention = s.attention(c, &row, spots, read)
		s.rows = append(s.rows, row)
	}
}

// stateOf returns the state of a row, which is over where the coupon is not read any more, but for missing spots and
// angles, which make read partly.
func (s *standing) stateOf(row *CouponPull, p *life.Planned, last int, over bool) PullState {
	switch {
	case row.SpotsRead > 0:
		return PullRead
	case over:
		return PullEnded
	case last > p.Pull:
		return PullMissed
	case s.isDue(p):
		return PullMissing
	}
	return PullPlanned
}

// isDue reports whether the day of a pull has come. One without a day is due from when the first coupon
// that goes with it is read at it, and pull 0 at once.
func (s *standing) isDue(p *life.Planned) bool {
	if p.Date != "" {
		return p.Date <= s.day
	}
	return s.plan.begun(p) || p.Pull == 0
}

// attention returns the words of a row, and makes its state partly where something is missing.
func (s *standing) attention(c *study.Coupon, row *CouponPull, spots []string, read *store.PullReads) (words []string) {
	switch row.State {
	case PullMissed:
		words = append(words, AttentionMissed)
	case PullMissing:
		words = append(words, AttentionOverdue)
	case PullRead:
		gaps := s.expect.gaps(c, row.Pull, spots, read)
		if len(gaps) > 0 {
			row.State = PullPartly
		}
		words = append(words, gaps...)
	}
	if row.Held > 0 {
		words = append(words, AttentionHeld)
	}
	if row.Unfitted > 0 {
		words = append(words, AttentionUnfitted)
	}
	if row.Stale > 0 {
		words = append(words, AttentionStale)
	}
	return words
}

// readAt returns what was read of a coupon at a pull; nil if nothing ever was.
func (s *standing) readAt(coupon string, pull int) *store.PullReads {
	r := s.reads[coupon]
	if r == nil {
		return nil
	}
	for i := range r.Pulls {
		if r.Pulls[i].Pull == pull {
			return &r.Pulls[i]
		}
	}
	return nil
}

// lastRead returns the last pull at which a spot of a coupon was read, -1 if none was.
func (s *standing) lastRead(coupon string) int {
	last := -1
	if r := s.reads[coupon]; r != nil {
		for i := range r.Pulls {
			if len(r.Pulls[i].Spots) > 0 {
				last = r.Pulls[i].Pull
			}
		}
	}
	return last
}

// countAngles counts the different angles of the curves.
func countAngles(read *store.PullReads) int {
	var angles []float64
	for i := range read.Spots {
		for _, k := range read.Spots[i].Curves {
			if !slices.Contains(angles, k.AngleDeg) {
				angles = append(angles, k.AngleDeg)
			}
		}
	}
	return len(angles)
}

// angleWords writes an angle as the words of attention do: 60, and 8T for transmittance.
func angleWords(k store.CurveKind) string {
	if k.Quantity == study.Transmittance {
		return fmt.Sprintf("%gT", k.AngleDeg)
	}
	return fmt.Sprintf("%g", k.AngleDeg)
}
