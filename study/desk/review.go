package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// Judged is a reading with its holds and its reviews.
type Judged struct {
	study.Place
	Number   int64 // in the study
	Session  string
	Export   string // the name of the file
	Column   int
	Standing study.Standing
	Holds    []study.Hold // of guards
	Reviews  []JudgedBy   // by people, the last one last
	Released string       // why the last run of the guards released it; empty: it did not
}

// JudgedBy is a review with the line of the log under which it stands.
type JudgedBy struct {
	study.Review
	Line study.Entry
}

// Selection chooses readings. An empty field chooses all; the zero selection chooses those that are held
// or set aside.
type Selection struct {
	Numbers      []int64
	study.Filter // of which flags do not apply
	AngleDeg     study.Num
	Polarisation string
	Held         bool // only those that are held
}

// Everything is the selection of all readings that are held or set aside.
func Everything() Selection { return Selection{AngleDeg: study.Null()} }

// Check refuses an angle of incidence or a polarisation that no reading can have.
func (s *Selection) Check() error {
	switch a := float64(s.AngleDeg); {
	case !math.IsNaN(a) && !(a >= 0 && a < 90):
		return usagef("write degrees from the normal, for example --angle 8",
			"--angle must be from 0 to below 90 degrees, not %g", a)
	case !slices.Contains([]string{"", "s", "p", "u", "n"}, s.Polarisation):
		return usagef("write for example --polarisation u",
			"--polarisation must be one of s, p, u, n, not %q", s.Polarisation)
	}
	return nil
}

// byPlace reports whether readings are chosen by their place.
func (s *Selection) byPlace() bool {
	return !s.Filter.IsZero() || s.AngleDeg.Valid() || s.Polarisation != ""
}

func (s *Selection) matches(m *store.ReadingHeader, coating string, judged store.Judged) bool {
	row := study.Row{Coupon: m.Coupon, Pull: int64(m.Pull), Spot: m.Spot, Coating: coating, Sessions: []string{m.Session}}
	for _, h := range holdsOf(judged) {
		row.Flags = append(row.Flags, h.Guard)
	}
	return s.Filter.Matches(&row) &&
		(!s.AngleDeg.Valid() || m.AngleDeg == float64(s.AngleDeg)) &&
		(s.Polarisation == "" || m.Polarisation == s.Polarisation)
}

// Judgements returns the chosen readings, in the order of their numbers, with their holds and reviews. A
// number that no reading has is refused.
func (d *Desk) Judgements(ctx context.Context, of Selection) (all []Judged, err error) {
	if err := of.Check(); err != nil {
		return nil, err
	}
	err = d.store.View(ctx, func(v *store.View) error {
		all, err = d.judgements(v, of)
		return err
	})
	return all, err
}

func (d *Desk) judgements(v *store.View, of Selection) (all []Judged, err error) {
	standings, err := v.Standings()
	if err != nil {
		return nil, err
	}
	coatings, err := coatingsOf(v, &of.Filter)
	if err != nil {
		return nil, err
	}
	if err := refuseUnknownSessions(v, of.Sessions); err != nil {
		return nil, err
	}
	take := func(m store.ReadingHeader) error {
		s := standings[m.Number]
		if !of.matches(&m, coatings[m.Coupon], s) || of.Held && s.Standing != study.Held {
			return nil
		}
		j, err := loadJudged(v, m.Number, s)
		all = append(all, j)
		return err
	}
	switch numbers := of.Numbers; {
	case len(numbers) == 0 && len(of.Coupons) > 0:
		for _, coupon := range slices.Compact(slices.Sorted(slices.Values(of.Coupons))) {
			if err = v.HeadersOf(coupon, take); err != nil {
				break
			}
		}
	case len(numbers) == 0 && of.byPlace():
		err = v.EachHeader(take)
	default:
		if len(numbers) == 0 {
			for n, s := range standings {
				if s.Standing != study.Counted {
					numbers = append(numbers, n)
				}
			}
		}
		err = forEachNumber(v, numbers, take)
	}
	slices.SortFunc(all, func(a, b Judged) int { return cmp.Compare(a.Number, b.Number) })
	return all, err
}

// coatingsOf returns the coating of each coupon, where a filter asks for coupons or coatings.
// A coupon that is not enrolled, or a coating that no coupon has, is refused.
func coatingsOf(v *store.View, of *study.Filter) (map[string]string, error) {
	if len(of.Coupons)+len(of.Coatings) == 0 {
		return nil, nil
	}
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	coatings := map[string]string{}
	var known []string
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		if coatings[c.Coupon] = c.Coating; c.Coating != "" && !slices.Contains(known, c.Coating) {
			known = append(known, c.Coating)
		}
	}
	for _, coupon := range of.Coupons {
		if _, enrolled := coatings[coupon]; !enrolled {
			return nil, notEnrolled(roster, coupon)
		}
	}
	for _, coating := range of.Coatings {
		if !slices.Contains(known, coating) {
			return nil, &study.Refusal{
				Fault: fmt.Sprintf("no coupon has the coating %q", coating),
				Try:   tryCode(coating, known, "enrol coated coupons first"),
			}
		}
	}
	return coatings, nil
}

// forEachNumber hands the readings with these numbers to take, each once. A number that no
// reading has is refused.
func forEachNumber(v *store.View, numbers []int64, take func(store.ReadingHeader) error) error {
	numbers = slices.Clone(numbers)
	slices.Sort(numbers)
	for _, n := range slices.Compact(numbers) {
		m, _, err := v.ReadingHeader(n)
		if err != nil {
			return err
		}
		if m == nil {
			return noCurrentReading(v, n)
		}
		if err := take(*m); err != nil {
			return err
		}
	}
	return nil
}

func loadJudged(v *store.View, number int64, judged store.Judged) (Judged, error) {
	m, export, err := v.ReadingHeader(number)
	if err != nil {
		return Judged{}, err
	}
	if m == nil {
		return Judged{}, noSuchReading(number)
	}
	reviews, err := reviewsOf(judged, v.Line)
	return Judged{
		Place: m.Place, Number: number, Session: m.Session, Export: export, Column: m.Column,
		Standing: judged.Standing, Holds: holdsOf(judged), Reviews: reviews,
	}, err
}

// noCurrentReading refuses a number that no current reading has.
func noCurrentReading(v *store.View, number int64) error {
	after, err := v.Instead(number)
	if err != nil {
		return err
	}
	if after == nil {
		return noSuchReading(number)
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("reading %d was moved: reading %d, of coupon %s at pull %d, spot %s, stands instead of it", number,
			after.Number, after.Row.Coupon, after.Row.Pull, after.Row.Spot),
		Try: fmt.Sprintf("name reading %d; `wane trace %s` shows both", after.Number, study.Shown(after.Row.Coupon)),
	}
}

func noSuchReading(number int64) error {
	return &study.Refusal{
		Fault: fmt.Sprintf("there is no reading %d", number),
		Try:   "see their numbers with `wane review`, or with `wane trace COUPON`",
	}
}

// holdsOf returns the holds in the order of the words of their guards. Their own order depends on what was
// entered first.
func holdsOf(judged store.Judged) (holds []study.Hold) {
	for _, h := range judged.Holds {
		holds = append(holds, h.Row)
	}
	slices.SortStableFunc(holds, func(a, b study.Hold) int { return cmp.Compare(a.Guard, b.Guard) })
	return holds
}

// reviewsOf returns reviews with their lines of the log.
func reviewsOf(judged store.Judged, lineOf func(int64) (study.Entry, error)) (all []JudgedBy, err error) {
	for _, r := range judged.Reviews {
		line, err := lineOf(r.Line)
		if err != nil {
			return nil, err
		}
		all = append(all, JudgedBy{r.Row, line})
	}
	return all, nil
}

// held returns the readings that are held.
func (d *Desk) held(ctx context.Context) ([]Judged, error) {
	of := Everything()
	of.Held = true
	return d.Judgements(ctx, of)
}

// Reviewed is what a review changed.
type Reviewed struct {
	Changed []Judged
	Guards  GuardChanges // to readings that are compared with these
}

// EverHeld counts the changed readings that a guard ever held.
func (r *Reviewed) EverHeld() (n int) {
	for i := range r.Changed {
		if len(r.Changed[i].Holds) > 0 {
			n++
		}
	}
	return n
}

// Review sets the chosen readings aside, or counts them again, for a reason that is not empty, in one
// transaction. Readings that have this standing already do not change. It returns the readings that it
// changed, with their new standing, and what the guards then changed.
//
// The fits that depend on these readings are no longer valid. Until they are made again, their rows show
// only that they were reviewed.
func (d *Desk) Review(ctx context.Context, of Selection, to study.Standing, why string) (*Reviewed, error) {
	why, err := checkReason(why)
	if err != nil {
		return nil, err
	}
	all, err := d.Judgements(ctx, of)
	if err != nil {
		return nil, err
	}
	changed := slices.DeleteFunc(all, func(j Judged) bool { return j.Standing == to })
	if len(changed) == 0 {
		return nil, d.nothingToReview(len(all), to)
	}
	done := "released"
	if to == study.Aside {
		done = "set aside"
	}
	entry := d.entry("review", fmt.Sprintf("%s %s: %s", done, countReadings(len(changed)), listNumbers(changed)))
	entry.Why = why
	units, err := d.unitsBehind(ctx, changed)
	if err != nil {
		return nil, err
	}
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		by, err := d.mayJudge(tx, changed, to)
		if err != nil {
			return err
		}
		entry.Summary += by
		for i := range changed {
			r := study.Review{Reading: changed[i].Number, Standing: to, Why: why}
			if err := tx.Review(r); err != nil {
				return err
			}
		}
		if err := refuseWithdrawn(tx, changed, to); err != nil {
			return err
		}
		return putFits(tx, units)
	})
	if err != nil {
		return nil, err
	}
	for i := range changed {
		changed[i].Standing = to
		review := study.Review{Reading: changed[i].Number, Standing: to, Why: why}
		changed[i].Reviews = append(changed[i].Reviews, JudgedBy{review, *entry})
	}
	changes, err := d.runGuards(ctx, 0)
	return &Reviewed{changed, *changes}, err
}

// refuseWithdrawn refuses to count readings of coupons or pulls that were withdrawn.
func refuseWithdrawn(tx *store.Tx, changed []Judged, to study.Standing) error {
	if to != study.Counted {
		return nil
	}
	roster, err := tx.Roster()
	if err != nil {
		return err
	}
	enrolled, numbers := couponsByCode(roster), map[string][]int64{}
	for i := range changed {
		numbers[changed[i].Coupon] = append(numbers[changed[i].Coupon], changed[i].Number)
	}
	var faults study.Refusals
	for _, coupon := range slices.Sorted(maps.Keys(numbers)) {
		what, of := "coupon "+coupon, numbers[coupon]
		if enrolled[coupon] != nil {
			what = "a pull of coupon " + coupon
			if of, _, err = tx.Unplanned(coupon); err != nil {
				return err
			}
		}
		if len(of) > 0 {
			faults = append(faults, &study.Refusal{Fault: what + " was withdrawn: " + countedReadings(of) + " cannot count",
				Try: "put them where they belong with `wane move`, which counts them there"})
		}
	}
	return faults.Err()
}

// checkReason returns a reason without spaces around it, and refuses one that is empty or cannot be shown.
func checkReason(why string) (string, error) {
	if why = strings.TrimSpace(why); why == "" {
		return "", &study.Refusal{
			Fault: "no reason is given",
			Try:   "give the reason in a full sentence: --why TEXT",
		}
	}
	if fault, try := study.CheckWords(why); fault != "" {
		return "", &study.Refusal{Fault: "the reason: " + fault, Try: try}
	}
	return why, nil
}

// mayJudge is secondPerson for a judgement of readings.
func (d *Desk) mayJudge(tx *store.Tx, changed []Judged, to study.Standing) (by string, err error) {
	rows := make([]touched, len(changed))
	for i := range changed {
		rows[i] = touched{"reading", changed[i].Number, fmt.Sprintf("reading %d", changed[i].Number)}
	}
	act := "release"
	if to == study.Aside {
		act = "set aside"
	}
	return d.secondPerson(tx, act, rows...)
}

// putFits adds fits. One whose readings another process has moved elsewhere meanwhile is left out.
func putFits(tx *store.Tx, fits []*study.Fit) error {
	for _, f := range fits {
		if err := tx.PutFit(f); err != nil && !errors.Is(err, store.ErrNoReadings) {
			return err
		}
	}
	return nil
}

// mostNamed is how many readings the log names.
const mostNamed = 50

func listNumbers(all []Judged) string {
	var words []string
	for i := range all {
		if i == mostNamed {
			words = append(words, fmt.Sprintf("and %d more", len(all)-i))
			break
		}
		words = append(words, strconv.FormatInt(all[i].Number, 10))
	}
	return strings.Join(words, " ")
}

func (d *Desk) nothingToReview(found int, to study.Standing) error {
	if found == 0 {
		return &study.Refusal{
			Fault: "no reading is chosen", Try: "give the numbers that `wane review` lists, or --coupon, --pull and --spot",
		}
	}
	state := "counted already"
	if to == study.Aside {
		state = "set aside already"
	}
	return &study.Refusal{
		Fault: countReadings(found) + ": " + state, Try: "choose other readings: `wane review` lists them",
	}
}

func countReadings(n int) string { return amount(n, "reading") }

// unitsBehind returns, for each unit whose current fit depends on the readings, a fit that says that it
// is to be made again. Where the study corrects by sessions, the fits of a session depend on all its
// readings.
func (d *Desk) unitsBehind(ctx context.Context, changed []Judged) (fits []*study.Fit, err error) {
	if len(changed) == 0 {
		return nil, nil
	}
	units, sessions := map[study.Unit]bool{}, map[string]bool{}
	for i := range changed {
		units[unitOf(&changed[i].Place)] = true
		sessions[changed[i].Session] = sharesSessions(d.Settings()) && changed[i].Session != ""
	}
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		coupons := couponsByCode(roster)
		return v.Fits(func(f *study.Fit) error {
			if !units[f.Unit] && !sessions[f.Session] {
				return nil
			}
			c := coupons[f.Coupon]
			if c == nil {
				return d.missingCoupon(f.Coupon)
			}
			again := evaluate.NotEvaluated(c.Role, f.Unit)
			again.Session = f.Session
			if slices.Contains(f.Result.Flags, study.FlagSessions) {
				again.Result.Flags = append(again.Result.Flags, study.FlagSessions)
			}
			again.Result.Flags = append(again.Result.Flags, study.FlagReviewed)
			fits = append(fits, again)
			return nil
		})
	})
	return fits, err
}
