package ageing

import (
	"math"
	"slices"

	"wane/study"
)

// minGain is the least initial gain, in its standard uncertainties, with which the gain kept is given.
const minGain = 3

// Changes computes rows of results from fits. It adds the study keys, the change since pull 0 and the
// correction by the route of the study. Call [Changes.AddControl] once for each control, then
// [Changes.Rows] once for each coupon. It keeps only the means of the controls in memory.
//
// With T the solar transmittance of a spot now and T0 that at pull 0, fractions, and the changes in
// percentage points,
//
//	change            = 100·(T - T0)       u² = 100²·(u(T)² + u(T0)² - 2·(s·s0 + g·g0))
//	corrected change  = change - m         u² = u(change)² + max(u_p, u_o)²
//	gain kept         = 1 + change / gain at pull 0
//
// s and s0 are the parts of u(T) and u(T0), with their signs, that come from the index of the coating's
// skeleton; g and g0 are those from the index of the glass. Both errors are the same at both pulls. m is
// the mean over the controls of the same coating at the same pull, and the value of a control is the mean of
// its spots. u_p is the propagated standard uncertainty of m. u_o is its observed standard error: the
// standard deviation between the controls over the root of their number.
//
// The baseline of a spot is its pull 0 in the same condition, else in a clean one, else in any. The
// controls are those in the same condition, else in a clean one, else in any. Soiled controls never
// correct a clean reading. The change of a soiled reading since a clean pull 0 is film loss and soiling
// together; it has [study.FlagConditions].
type Changes struct {
	route     study.Route
	coupons   map[string]*study.Coupon
	exposures map[string]*study.Exposure
	pulls     map[pullKey]*study.Pull
	humidity  map[string]study.Num // by session, percent
	distrust  map[string]bool      // the sessions that are not trusted
	controls  map[controlKey][]controlChange
	means     map[meanKey]controlMean // computed when first needed
}

// meanKey names a mean of controls: the controls, and the condition of the reading that they correct.
type meanKey struct {
	controlKey
	condition string
}

// controlMean is the mean change of n controls with its standard uncertainty, in pp.
type controlMean struct {
	value, u float64
	n        int
	dof      float64 // degrees of freedom of u: infinite if u is propagated
	mixed    bool    // the controls are clean and the reading is not
}

// pullKey names a pull of an exposure.
type pullKey struct {
	exposure string
	pull     int
}

// controlKey names the controls that may correct a coupon. exposure is the one that they accompany,
// empty for controls of all exposures.
type controlKey struct {
	exposure, coating string
	pull              int
}

// controlChange is the mean change of one control, in pp, in one condition.
type controlChange struct {
	value, u  float64
	condition string
}

// NewChanges returns changes for the roster and the route of a study, without controls.
func NewChanges(roster *study.Roster, route study.Route) *Changes {
	b := &Changes{route: route, coupons: map[string]*study.Coupon{}, exposures: map[string]*study.Exposure{},
		pulls: map[pullKey]*study.Pull{}, controls: map[controlKey][]controlChange{}, means: map[meanKey]controlMean{},
		humidity: humidities(roster)}
	for i := range roster.Coupons {
		b.coupons[roster.Coupons[i].Coupon] = &roster.Coupons[i]
	}
	for i := range roster.Exposures {
		b.exposures[roster.Exposures[i].Exposure] = &roster.Exposures[i]
	}
	for i := range roster.Pulls {
		p := &roster.Pulls[i]
		b.pulls[pullKey{p.Exposure, p.Pull}] = p
	}
	return b
}

// DistrustSessions sets the sessions that are not trusted. Without it all are trusted. Rows that depend on a
// session that is not trusted get a flag.
func (b *Changes) DistrustSessions(sessions map[string]bool) { b.distrust = sessions }

// AddControl adds a control. fits holds all of its fits; those of other coupons are skipped.
func (b *Changes) AddControl(fits []*study.Fit) {
	if len(fits) == 0 {
		return
	}
	c := b.coupons[fits[0].Coupon]
	if c == nil || c.Role != study.Control {
		return
	}
	type at struct {
		pull      int
		condition string
	}
	sums, order := map[at][]controlChange{}, []at{}
	for _, f := range fits {
		if change := changeSince(f, baselineOf(f, fits)); change.Value.Valid() {
			k := at{f.Pull, f.Condition}
			if sums[k] == nil {
				order = append(order, k)
			}
			sums[k] = append(sums[k], controlChange{float64(change.Value), float64(change.U), f.Condition})
		}
	}
	for _, k := range order {
		key := controlKey{c.Exposure, c.Coating, k.pull}
		control := average(sums[k])
		control.condition = k.condition
		b.controls[key] = append(b.controls[key], control)
	}
}

// average returns the unweighted mean of ms and its propagated uncertainty, √(Σ u²)/n.
func average(ms []controlChange) controlChange {
	var sum, square float64
	for _, m := range ms {
		sum += m.value
		square += m.u * m.u
	}
	n := float64(len(ms))
	return controlChange{value: sum / n, u: math.Sqrt(square) / n}
}

// Rows returns the rows of one coupon, in the order of its fits. All fits of the coupon must be given.
func (b *Changes) Rows(fits []*study.Fit) []*study.Result {
	rows := make([]*study.Result, len(fits))
	for i, f := range fits {
		base := baselineOf(f, fits)
		rows[i] = b.row(f, base)
		b.flagTrust(rows[i], f, base)
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

// distrusts reports whether one of the sessions of a fit is not trusted.
func (b *Changes) distrusts(f *study.Fit) bool {
	return slices.ContainsFunc(sessionsOf(f), func(session string) bool { return b.distrust[session] })
}

// sessionsOf returns the sessions of the readings of a fit.
func sessionsOf(f *study.Fit) []string {
	if len(f.Sessions) > 0 {
		return f.Sessions
	}
	return []string{f.Session}
}

// baselineOf returns the fit of the same spot at pull 0 in the nearest condition; nil if no such fit
// has a solar value.
func baselineOf(f *study.Fit, fits []*study.Fit) *study.Fit {
	var best *study.Fit
	for _, g := range fits {
		if g.Pull == 0 && g.Spot == f.Spot && g.Result.SolarT.Value.Valid() &&
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
	r.Flags = append([]string(nil), r.Flags...)
	r.Coupon, r.Pull, r.Spot, r.Session, r.Condition = f.Coupon, study.Num(f.Pull), f.Spot, f.Session, f.Condition
	c := b.coupons[f.Coupon]
	if c == nil {
		return &r
	}
	b.fillKeys(&r, c, f.Pull)
	if b.isHumid(c, f, base) {
		r.Flags = append(r.Flags, study.FlagHumid)
	}
	r.Change = changeSince(f, base)
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
		r.ChangeUnseen = unseenChange(f, base, r.Change)
		return &r
	}
	r.GainKept = gainKept(f, base, r.Change)
	r.ChangeUnseen = unseenChange(f, base, r.Change)
	r.State = stateAgainst(&r, base)
	if grew(f, base) {
		r.Flags = append(r.Flags, study.FlagGrew)
	}
	if c.Role == study.Exposed {
		b.correct(&r, c, f, base)
	}
	return &r
}

// fillKeys fills the study keys.
func (b *Changes) fillKeys(r *study.Result, c *study.Coupon, pull int) {
	r.Role, r.Supplier, r.Coating, r.Lot, r.Exposure = string(c.Role), c.Supplier, c.Coating, c.Lot, c.Exposure
	p := b.pulls[pullKey{c.Exposure, pull}]
	if p == nil {
		return
	}
	r.Date = p.Date
	if c.Role == study.Exposed || c.Role == study.BlankExposed {
		r.Dose = study.Num(p.Dose)
		if e := b.exposures[c.Exposure]; e != nil {
			r.DoseUnit = e.DoseUnit
		}
	}
}

// changeSince returns 100·(T - T0), in pp, with its uncertainty: see [Changes]. It is null without a baseline.
func changeSince(f, base *study.Fit) study.Measure {
	if base == nil || !f.Result.SolarT.Value.Valid() {
		return study.NoMeasure()
	}
	if f == base {
		return study.Measure{Value: 0, U: 0}
	}
	t, t0 := f.Result.SolarT, base.Result.SolarT
	return study.Measure{
		Value: 100 * (t.Value - t0.Value),
		U:     100 * study.Num(math.Sqrt(max(0, float64(t.U*t.U+t0.U*t0.U)-2*covariance(f, base)))),
	}
}

// covariance returns the covariance of solar_T of two fits of one coupon: that by the index of its
// skeleton and of its glass, and by the session if both are of one session.
func covariance(f, base *study.Fit) float64 {
	if f.SolarTWithBaseline.Valid() {
		return float64(f.SolarTWithBaseline)
	}
	sum := sharedProduct(f.SolarTShared, base.SolarTShared) + sharedProduct(f.SolarTSharedGlass, base.SolarTSharedGlass)
	if f.Session == base.Session {
		sum += sharedProduct(f.SolarTSharedSession, base.SolarTSharedSession)
	}
	return sum
}

// sharedProduct returns the product of two parts of uncertainties that come from one error, 0 if
// either is null.
func sharedProduct(a, b study.Num) float64 {
	if !a.Valid() || !b.Valid() {
		return 0
	}
	return float64(a * b)
}

// sharedBySession returns the part of the uncertainty of a change, in pp, that comes from
// the sessions of its two fits.
func sharedBySession(f, base *study.Fit) study.Num {
	if f.Session == base.Session {
		return study.Num(100 * math.Abs(float64(f.SolarTSharedSession-base.SolarTSharedSession)))
	}
	return study.Num(100 * math.Hypot(float64(f.SolarTSharedSession), float64(base.SolarTSharedSession)))
}

// gainKept returns the gain now over the gain at pull 0, both against the glass of pull 0, so that a
// change of the glass does not count. With dT the change and g0 the gain at pull 0, in pp, and q = dT/g0,
//
//	kept = 1 + q        u² = (u(dT)² + q²·u(g0)² - 2·q·cov(dT, g0)) / g0²
//
// It is null if g0 is not above minGain times its uncertainty. The uncertainty is propagated to first order,
// for which this minGain is enough. It is null if pull 0 was fitted by a version of the model that did
// not keep the covariance.
func gainKept(f, base *study.Fit, change study.Measure) study.Measure {
	if base == nil || !change.Value.Valid() || !f.Result.Gain.Value.Valid() {
		return study.NoMeasure()
	}
	g0 := base.Result.Gain
	if !(g0.Value > minGain*g0.U) {
		return study.NoMeasure()
	}
	if f == base {
		return study.Measure{Value: 1, U: 0}
	}
	q := float64(change.Value / g0.Value)
	shared := 100 * (gainCovariance(f, base) - float64(base.GainWithSolarT)) // covariance of change and initial gain, pp²
	square := float64(change.U*change.U) + q*q*float64(g0.U*g0.U) - 2*q*shared
	return study.Measure{Value: study.Num(1 + q), U: study.Num(math.Sqrt(max(0, square))) / g0.Value}
}

// gainCovariance returns the covariance of solar_T of a fit with the gain of its baseline, in pp, as
// covariance does for their solar_T.
func gainCovariance(f, base *study.Fit) float64 {
	if f.GainWithBaseline.Valid() {
		return float64(f.GainWithBaseline)
	}
	sum := sharedProduct(f.SolarTShared, base.GainShared) + sharedProduct(f.SolarTSharedGlass, base.GainSharedGlass)
	if f.Session == base.Session {
		sum += sharedProduct(f.SolarTSharedSession, base.GainSharedSession)
	}
	return sum
}

// unseenChange returns the part of a change outside the measured wavelengths, in pp. It is null if the
// readings of the two pulls do not cover the same wavelengths.
func unseenChange(f, base *study.Fit, change study.Measure) study.Num {
	if !change.Value.Valid() || f.SeenLoNM != base.SeenLoNM || f.SeenHiNM != base.SeenHiNM {
		return study.Null()
	}
	return change.Value - 100*(f.SeenT-base.SeenT)
}

// stateAgainst returns the state of a row. If the fit gave no state, the baseline decides between thinned and
// full.
func stateAgainst(r *study.Result, base *study.Fit) study.State {
	if r.State != "" || base == nil {
		return r.State
	}
	b := &base.Result
	if b.State == study.Unclear || !b.Thickness.Value.Valid() || b.Thickness.Value == 0 {
		return study.Unclear // no thickness to compare with
	}
	if study.IsThinned(r.Thickness, b.Thickness) {
		return study.Thinned
	}
	return study.Full
}

// correct fills the corrected change by the route of the study. By controls it subtracts their mean
// change. By sessions the fits are already free of the errors of their sessions, so the corrected change
// is the change.
func (b *Changes) correct(r *study.Result, c *study.Coupon, f, base *study.Fit) {
	r.Correction = string(b.route)
	if b.route == study.RouteSession {
		uncorrected := slices.Contains(r.Flags, study.FlagNoSession)
		switch {
		case !uncorrected && base != nil && slices.Contains(base.Result.Flags, study.FlagNoSession):
			r.Flags = append(r.Flags, study.FlagNoSession)
		case !uncorrected:
			r.CorrectedChange = r.Change
			if base != nil && f != base {
				r.CorrectedShared = sharedBySession(f, base)
			}
		}
		return
	}
	if b.route != study.RouteControls {
		return
	}
	m := b.controlMean(meanKey{controlKey{c.Exposure, c.Coating, f.Pull}, f.Condition})
	r.NControls = study.Num(m.n)
	if m.n == 0 {
		r.Flags = append(r.Flags, study.FlagNoControl)
		return
	}
	if m.mixed && !slices.Contains(r.Flags, study.FlagConditions) {
		r.Flags = append(r.Flags, study.FlagConditions)
	}
	r.ControlsDoF = study.Num(m.dof)
	if r.Change.Value.Valid() {
		r.CorrectedChange = study.Measure{Value: r.Change.Value - study.Num(m.value),
			U: study.Num(math.Hypot(float64(r.Change.U), m.u))}
	}
}

// controlMean returns the mean of the controls of one exposure together with those of all exposures.
func (b *Changes) controlMean(key meanKey) controlMean {
	if m, ok := b.means[key]; ok {
		return m
	}
	ofAll := key.controlKey
	ofAll.exposure = ""
	controls := nearestControls(key.condition, b.controls[key.controlKey], b.controls[ofAll])
	if len(controls) > 0 && study.CleanCondition(key.condition) && !study.CleanCondition(controls[0].condition) {
		controls = nil // the soiling of the controls would appear as a gain
	}
	out := controlMean{n: len(controls)}
	if out.n > 0 {
		out.mixed = study.CleanCondition(key.condition) != study.CleanCondition(controls[0].condition)
		m := average(controls)
		out.value, out.u, out.dof = m.value, m.u, math.Inf(1)
		if observed := standardError(controls); observed > m.u {
			out.u, out.dof = observed, float64(out.n-1)
		}
	}
	b.means[key] = out
	return out
}

// nearestControls returns the controls in the condition nearest to condition.
func nearestControls(condition string, lists ...[]controlChange) []controlChange {
	var best []controlChange
	at := 3
	for _, m := range slices.Concat(lists...) {
		switch d := study.ConditionDistance(condition, m.condition); {
		case d < at:
			best, at = []controlChange{m}, d
		case d == at:
			best = append(best, m)
		}
	}
	return best
}

// standardError returns the standard deviation of the values over the root of their number, 0 for a single
// value.
func standardError(ms []controlChange) float64 {
	n := float64(len(ms))
	if n < 2 {
		return 0
	}
	center, sum := average(ms).value, 0.0
	for _, m := range ms {
		sum += (m.value - center) * (m.value - center)
	}
	return math.Sqrt(sum / (n - 1) / n)
}
