package ageing

import (
	"slices"
	"sync"

	"wane/study"
	"wane/study/life"
)

// Changes computes rows of results from fits. It adds the study keys, the change since pull 0 and the
// correction by the route of the study. Call [Changes.AddControl] once for each control, then
// [Changes.Rows] once for each coupon, of several at once if need be. It keeps only the changes of the controls in memory.
//
// With T the solar transmittance of a spot now and T0 that at pull 0, fractions, and the changes in
// percentage points,
//
//	change            = 100·(T - T0)
//	corrected change  = change - mean change of the controls
//	gain kept         = 1 + change / gain at pull 0
//
// The mean is unweighted. Its controls are those of the same coating at the same pull that were read in the same
// sessions, now and at pull 0; the value of a control is the mean of its spots. For the route controls the fits
// are those of single spots, for the route session those of the joint fits of sessions. By the route session the
// corrected change is the change if there are no controls. Each of these quantities is a weighted sum of results, and
// its uncertainty is [study.Uncertainty]. If the controls scatter more than their errors explain, their
// observed standard error replaces the part of it that only they have.
//
// The baseline of a spot is its pull 0, or the baseline pull of a coupon that joined late, in the same condition, else in
// a clean one, else in any. Of the controls that correct a coupon the change since the same pull counts. The
// controls are those in the same condition, else in a clean one, else in any. Soiled controls never
// correct a clean reading. The change of a soiled reading since a clean pull 0 is film loss and soiling
// together; it has [study.FlagConditions].
type Changes struct {
	route     study.Route
	follows   study.Followed
	coupons   map[string]*study.Coupon
	lives     *life.Lives
	starts    []int // the baseline pulls of exposed coupons, each once
	pulls     map[pullKey]*study.Pull
	humidity  map[string]study.Num // by session, percent
	distrust  map[string]bool      // the sessions that are not trusted
	controls  map[controlKey][]controlChange
	means     map[meanKey]*controlMean // computed when first needed
	meansLock sync.Mutex               // of means
	keepsFits bool                     // changes of controls are kept as sums of fits, too: see [Routes]

	instruments map[string]string        // by session
	bridges     map[[2]string]spotChange // the offsets to take off a change, by instruments, from and to
}

// pullKey names a pull of an exposure.
type pullKey struct {
	exposure string
	pull     int
}

// NewChanges returns changes for the roster and the route of a study, without controls.
func NewChanges(roster *study.Roster, route study.Route) *Changes {
	b := &Changes{route: route, follows: study.FollowedSolarT(), coupons: map[string]*study.Coupon{}, lives: life.New(roster),
		pulls: map[pullKey]*study.Pull{}, controls: map[controlKey][]controlChange{}, means: map[meanKey]*controlMean{},
		humidity: humidities(roster), instruments: map[string]string{}}
	for i := range roster.Sessions {
		b.instruments[roster.Sessions[i].Session] = roster.Sessions[i].Instrument
	}
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		b.coupons[c.Coupon] = c
		if c.Role == study.Exposed && !slices.Contains(b.starts, c.BaselinePull) {
			b.starts = append(b.starts, c.BaselinePull)
		}
	}
	for i := range roster.Pulls {
		p := &roster.Pulls[i]
		b.pulls[pullKey{p.Exposure, p.Pull}] = p
	}
	return b
}

// Follow makes changes, and corrected changes, those of another quantity than the solar transmittance, in the unit of its
// changes. Rows then have no gain kept and no unseen change, which are of the solar transmittance. It comes before any
// control is added.
func (b *Changes) Follow(q study.Followed) { b.follows = q }

// DistrustSessions sets the sessions that are not trusted. Without it all are trusted. Rows that depend on a
// session that is not trusted get a flag.
func (b *Changes) DistrustSessions(sessions map[string]bool) { b.distrust = sessions }

// Rows returns the rows of one coupon, in the order of its fits. All fits of the coupon must be given.
func (b *Changes) Rows(fits []*study.Fit) []*study.Result {
	fits = b.follows.Fits(fits)
	rows := make([]*study.Result, len(fits))
	for i, f := range fits {
		base := b.baselineOf(f, fits)
		rows[i] = b.row(f, base)
		b.flagTrust(rows[i], f, base)
		b.flagDose(rows[i], f)
	}
	return rows
}

// flagTrust flags a row if one of the sessions of its readings, or of its pull 0, is not trusted.
func (b *Changes) flagTrust(r *study.Result, f, base *study.Fit) {
	if b.distrusts(f) {
		r.Flags = append(r.Flags, study.FlagSessionNotTrusted)
	}
	if base != nil && base != f && r.Change.Value.Valid() && b.distrusts(base) {
		r.Flags = append(r.Flags, study.FlagBaselineNotTrusted)
	}
}

// flagDose flags a row by how its dose is known.
func (b *Changes) flagDose(r *study.Result, f *study.Fit) {
	l := b.lives.Of(f.Coupon)
	if l == nil || !life.IsExposed(l.Coupon.Role) {
		return
	}
	d := l.DoseAt(f.Pull)
	for _, flag := range []struct {
		is   bool
		word string
	}{{d.Planned, study.FlagDosePlanned}, {d.Short, study.FlagDoseShort}, {d.Several, study.FlagTransferred}} {
		if flag.is {
			r.Flags = append(r.Flags, flag.word)
		}
	}
}

// distrusts reports whether one of the sessions of a fit is not trusted.
func (b *Changes) distrusts(f *study.Fit) bool {
	return len(b.distrust) > 0 && slices.ContainsFunc(sessionsOf(f), func(session string) bool { return b.distrust[session] })
}

// sessionsOf returns the sessions of the readings of a fit.
func sessionsOf(f *study.Fit) []string {
	if len(f.Sessions) > 0 {
		return f.Sessions
	}
	return []string{f.Session}
}

// baselineOf returns the fit of the same spot at the baseline pull of the coupon in the nearest condition; nil if no such
// fit has a solar value, and for a fit of an earlier pull.
func (b *Changes) baselineOf(f *study.Fit, fits []*study.Fit) *study.Fit {
	first := 0
	if c := b.coupons[f.Coupon]; c != nil {
		first = c.BaselinePull
	}
	if f.Pull < first {
		return nil
	}
	return fitAt(first, f, fits)
}

// fitAt returns the fit of the same spot at a pull in the nearest condition; nil if no such fit has a solar value.
func fitAt(pull int, f *study.Fit, fits []*study.Fit) *study.Fit {
	var best *study.Fit
	for _, g := range fits {
		if g.Pull == pull && g.Spot == f.Spot && g.Result.SolarT.Value.Valid() &&
			(best == nil || study.ConditionDistance(f.Condition, g.Condition) < study.ConditionDistance(f.Condition,
				best.Condition)) {
			best = g
		}
	}
	return best
}

// row returns the row of a fit; base is its fit at pull 0, nil if there is none.
func (b *Changes) row(f, base *study.Fit) *study.Result {
	r := f.Result
	r.Flags, r.Fit = append([]string(nil), r.Flags...), f
	r.Coupon, r.Pull, r.Spot, r.Session, r.Condition = f.Coupon, study.Num(f.Pull), f.Spot, f.Session, f.Condition
	c := b.coupons[f.Coupon]
	if c == nil {
		return &r
	}
	b.fillKeys(&r, c, f)
	if b.isHumid(c, f, base) {
		r.Flags = append(r.Flags, study.FlagHumid)
	}
	var across string
	if r.Change, r.ChangeTerms, across = b.change(f, base); across != "" {
		r.Flags = append(r.Flags, across)
	}
	switch {
	case base == nil:
		r.Flags = append(r.Flags, study.FlagNoBaseline)
	case study.CleanCondition(base.Condition) != study.CleanCondition(f.Condition):
		r.Flags = append(r.Flags, study.FlagConditions)
	}
	if base != nil && len(f.AnglesDeg) > 0 && len(base.AnglesDeg) > 0 && !slices.Equal(f.AnglesDeg, base.AnglesDeg) {
		r.Flags = append(r.Flags, study.FlagAngles)
	}
	if !c.Role.Coated() {
		r.Gain = study.NoMeasure()
		if b.followsSolarT() {
			r.ChangeUnseen = unseenChange(f, base, r.Change)
		}
		return &r
	}
	if b.followsSolarT() {
		r.GainKept = gainKept(f, base, r.Change, r.ChangeTerms)
		r.ChangeUnseen = unseenChange(f, base, r.Change)
	}
	r.State = stateAgainst(&r, f, base)
	if grew(b.solarChange(&r, f, base), &r, f, base) {
		r.Flags = append(r.Flags, study.FlagGrew)
	}
	if c.Role == study.Exposed {
		b.correct(&r, c, f, base)
	}
	return &r
}

// solarChange returns the change of the solar transmittance of a row, in pp.
func (b *Changes) solarChange(r *study.Result, f, base *study.Fit) study.Measure {
	if b.followsSolarT() {
		return r.Change
	}
	solarT := study.FollowedSolarT()
	return changeSince(&solarT, f, base)
}

func (b *Changes) followsSolarT() bool { return b.follows.Split && b.follows.Output == study.OutSolarT }

// fillKeys fills the study keys, and what the coupon had gone through.
func (b *Changes) fillKeys(r *study.Result, c *study.Coupon, f *study.Fit) {
	r.Role, r.Supplier, r.Coating, r.Lot, r.Exposure = string(c.Role), c.Supplier, c.Coating, c.Lot, c.Exposure
	r.BaselinePull, r.SpotPosition, r.RackPosition = study.Num(c.BaselinePull), f.Position, c.Position
	l := b.lives.Of(c.Coupon)
	cleaned, rinsed := l.Cleanings(f.Pull, f.Condition)
	r.Cleanings, r.Rinses = study.Num(cleaned), study.Num(rinsed)
	if life.IsExposed(c.Role) {
		d := l.DoseAt(f.Pull)
		r.Exposure, r.Dose, r.DoseUnit = d.Exposure, d.Value, d.Unit
	}
	for _, exposure := range []string{r.Exposure, c.Exposure} {
		if p := b.pulls[pullKey{exposure, f.Pull}]; p != nil {
			r.Date = p.Date
			return
		}
	}
}
