package ageing

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"wane/study"
)

// controlKey names the controls that may correct a coupon. exposure is the exposure that they accompany,
// empty for controls of all exposures. start is the pull since which their change counts.
type controlKey struct {
	exposure, coating string
	pull, start       int
}

// sessions names the sessions of the readings of a change, now and at its baseline.
type sessions struct{ now, start string }

// meanKey names a mean of controls: the controls, and the sessions and the condition of the readings that they
// correct.
type meanKey struct {
	controlKey
	also string // the exposure in which the coupon is by then, where that is another one
	sessions
	condition string
}

// controlChange is the mean change of one control over the spots that were read in one condition and in the same
// sessions.
type controlChange struct {
	coupon    string
	value     float64          // pp
	terms     []study.Weighted // value as a sum of results
	fits      []study.Weighted // and as one of fits, where they are kept
	condition string
	sessions
}

// controlMean is the mean change of n controls.
type controlMean struct {
	n     int
	value float64          // pp
	terms []study.Weighted // value as a sum of results
	fits  []study.Weighted // and as one of fits, where they are kept
	mixed bool             // the controls are clean and the reading is not
}

// AddControl adds a control. fits holds all of its fits; those of other coupons are skipped.
func (b *Changes) AddControl(fits []*study.Fit) {
	if len(fits) == 0 {
		return
	}
	fits = b.follows.Fits(fits)
	c := b.coupons[fits[0].Coupon]
	if c == nil || c.Role != study.Control {
		return
	}
	for _, start := range b.starts {
		b.addControlSince(start, c, fits)
	}
}

// addControlSince adds the changes of a control since a pull.
func (b *Changes) addControlSince(start int, c *study.Coupon, fits []*study.Fit) {
	type at struct {
		pull      int
		condition string
		sessions
	}
	spots, order := map[at][]spotChange{}, []at{}
	for _, f := range fits {
		if f.Pull < start || start < c.BaselinePull {
			continue
		}
		base := fitAt(start, f, fits)
		change, terms, _ := b.change(f, base)
		if !change.Value.Valid() || b.route == study.RouteSession && (hasNoSession(f) || hasNoSession(base)) {
			continue
		}
		k := at{f.Pull, f.Condition, sessionsOfChange(f, base)}
		if spots[k] == nil {
			order = append(order, k)
		}
		spots[k] = append(spots[k], spotChange{float64(change.Value), terms})
	}
	for _, k := range order {
		key := controlKey{c.Exposure, c.Coating, k.pull, start}
		control := b.meanOfSpots(spots[k])
		control.coupon, control.condition, control.sessions = c.Coupon, k.condition, k.sessions
		b.controls[key] = append(b.controls[key], control)
	}
}

// spotChange is a change, or a difference between two instruments, and the sum of results that it is.
type spotChange struct {
	value float64          // pp
	terms []study.Weighted // value as a sum of results
}

// meanOfSpots returns the mean change of the spots of one control.
func (b *Changes) meanOfSpots(spots []spotChange) (mean controlChange) {
	n, terms := float64(len(spots)), []study.Weighted(nil)
	for _, s := range spots {
		mean.value += s.value / n
		terms = append(terms, scaled(1/n, s.terms)...)
	}
	if b.keepsFits {
		mean.fits = terms
	}
	mean.terms = condensed(terms)
	return mean
}

// hasNoSession reports whether a fit of the route session is not part of a joint fit.
func hasNoSession(f *study.Fit) bool { return slices.Contains(f.Result.Flags, study.FlagNoSession) }

// sessionsOfChange names the sessions of a fit and of its baseline.
func sessionsOfChange(f, base *study.Fit) sessions {
	return sessions{sessionWord(f), sessionWord(base)}
}

// sessionWord names all sessions of a fit.
func sessionWord(f *study.Fit) string {
	if len(f.Sessions) == 0 {
		return f.Session
	}
	return strings.Join(slices.Sorted(slices.Values(f.Sessions)), "\x00")
}

// correct fills the corrected change by the route of the study: the change less the mean change of the controls. If
// there are no controls, it is the change by the route session, whose fits are free of the errors of their
// sessions.
func (b *Changes) correct(r *study.Result, c *study.Coupon, f, base *study.Fit) {
	r.Correction = string(b.route)
	switch {
	case b.route == study.RouteNone:
		return
	case b.route == study.RouteSession && hasNoSession(f):
		return
	case base == nil:
		return
	case b.route == study.RouteSession && hasNoSession(base):
		r.Flags = append(r.Flags, study.FlagNoSession)
		return
	}
	m := b.controlsOf(c, f, base)
	r.NControls = study.Num(m.n)
	if m.n == 0 {
		r.Flags = append(r.Flags, study.FlagNoControl)
		if b.route == study.RouteSession {
			r.CorrectedChange, r.CorrectedTerms = r.Change, r.ChangeTerms
		}
		return
	}
	if m.mixed && !slices.Contains(r.Flags, study.FlagConditions) {
		r.Flags = append(r.Flags, study.FlagConditions)
	}
	if r.Change.Value.Valid() {
		r.CorrectedTerms = append(slices.Clip(r.ChangeTerms), scaled(-1, m.terms)...)
		r.CorrectedChange = measured(r.Change.Value-study.Num(m.value), r.CorrectedTerms)
	}
}

// controlsOf returns the mean change of the controls of a coupon since the baseline of a fit.
func (b *Changes) controlsOf(c *study.Coupon, f, base *study.Fit) *controlMean {
	key := meanKey{controlKey{c.Exposure, c.Coating, f.Pull, c.BaselinePull}, "", sessionsOfChange(f, base), f.Condition}
	if now := b.lives.Of(c.Coupon).ExposureAt(f.Pull); now != c.Exposure {
		key.also = now
	}
	return b.controlMean(key)
}

// controlMean returns the mean of the controls of one exposure together with those of all exposures.
func (b *Changes) controlMean(key meanKey) *controlMean {
	b.meansLock.Lock()
	defer b.meansLock.Unlock()
	if m := b.means[key]; m != nil {
		return m
	}
	may, other := b.controls[key.controlKey], key.controlKey
	if key.exposure != "" { // else they are the same
		other.exposure = ""
		may = slices.Concat(may, b.controls[other])
	}
	if key.also != "" {
		other.exposure = key.also
		may = slices.Concat(may, b.controls[other])
	}
	controls := nearestControls(key, may)
	if len(controls) > 0 && study.CleanCondition(key.condition) && !study.CleanCondition(controls[0].condition) {
		controls = nil // the soiling of the controls would appear as a gain
	}
	m := &controlMean{n: len(controls)}
	if m.n > 0 {
		m.mixed = study.CleanCondition(key.condition) != study.CleanCondition(controls[0].condition)
		m.fill(controls, study.Effect{Owner: study.OwnerControls, Name: string(b.route), Of: key.words(controls)})
	}
	b.means[key] = m
	return m
}

// nearestControls returns those of the controls of the same sessions in the condition nearest to that of the key.
func nearestControls(key meanKey, may []controlChange) []controlChange {
	var best []controlChange
	at := 3
	for _, m := range may {
		if m.sessions != key.sessions {
			continue
		}
		switch d := study.ConditionDistance(key.condition, m.condition); {
		case d < at:
			best, at = []controlChange{m}, d
		case d == at:
			best = append(best, m)
		}
	}
	return best
}

// words returns a name for the mean of controls.
func (k *meanKey) words(controls []controlChange) string {
	codes := make([]string, len(controls))
	for i, c := range controls {
		codes[i] = c.coupon
	}
	return fmt.Sprintf("%s, pull %d since %d, condition %q, sessions %q and %q", strings.Join(codes, ", "), k.pull,
		k.controlKey.start, k.condition, k.now, k.sessions.start)
}

// fill fills the mean change. The part of its error that only the controls have becomes an effect, own, because all
// coupons that they correct share it: see [sample.meanSharing].
func (m *controlMean) fill(controls []controlChange, own study.Effect) {
	values, all := make([]float64, len(controls)), sample{}
	for i, c := range controls {
		values[i] = c.value
		all.add(c.terms)
		m.fits = append(m.fits, scaled(1/float64(len(controls)), c.fits)...)
	}
	m.value = stat.Mean(values, nil)
	m.terms = all.meanSharing(values, own)
}
