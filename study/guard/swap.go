package guard

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
)

// Limits of the guard of swapped coupons. Common practice, no source; the rates of the
// simulated studies of swap_test.go stand there.
const (
	swapTimes   = 5     // ratio of the differences from the own and from another history, of one of a pair
	swapBetter  = 3     // the same ratio of the other of a pair
	swapOutlier = 3     // least difference from the own history, in medians of the session
	swapFloor   = 0.004 // least difference from the own history, rms, a fraction
	swapNoise   = 2     // least difference from the own history, in standard deviations of a point
	swapCommon  = 0.75  // least share of a unit's bands that the other coupon has too
	swapToBare  = 0.7   // cosine between a change and the way to bare glass, above which all of a ring have lost film
	typicalOf   = 3     // least number of coupons of a kind for the median change of the kind
)

// swappedKind explains the guard swapped.
func swappedKind() study.Term {
	limits := []string{
		fmt.Sprintf("two coupons or more that have exchanged names (A read as B, B as A; or A as B, B as C, C as A): each "+
			"fits the last pull of the other at least %d times better than its own (of a pair, one %d times and the other %d "+
			"times), is %d times as far off its own as the median of coupons of its kind, and at least %g pp rms, unless all "+
			"are coated and changed in the direction of bare glass (1 is exactly that direction; %g or more)",
			swapTimes, swapTimes, swapBetter, swapOutlier, 100*swapFloor, swapToBare),
		fmt.Sprintf("or a coated coupon as far off reads, within its noise and %g %% of the level, what another of the same "+
			"pane reads in the session, or read at its last pull if it was not read now; it is %d times as far from each pull "+
			"of its own, and from none of them it changed in the direction of bare glass (%g or more)",
			100*rereadPart, swapTimes, wayToBare),
		"a coupon taken for one with less film cannot be distinguished from ageing",
	}
	return study.Term{Word: Swapped,
		Meaning: "coupons have exchanged their names, or one was read under the name of another",
		Limit:   strings.Join(limits, "; "),
		Remedy:  "compare the labels and measure again; set wrong readings aside with wane review --aside"}
}

// kind is the kind of a unit: units of one kind are expected to age in the same way.
type kind struct {
	role              study.Role
	coating, exposure string
	from, to          int    // pulls
	before, now       string // conditions
}

// trial is a unit of the session in question, with its reading and its expected reading. The vectors hold all bands
// of all settings of the session, NaN where there is none.
type trial struct {
	study.Unit
	coupon   *guarded
	kind     kind
	counted  bool       // all of its readings count
	now      []float64  // its reading
	last     []float64  // its reading at the last pull
	want     []float64  // its expected reading
	ownMiss  float64    // rms difference of now from want; NaN without a history
	noise    float64    // of a point
	readings []*Reading // that are compared
	settings int        // their number

	best          *trial  // the trial whose expected reading fits far better; nil if there is none
	bestMiss      float64 // rms difference of now from the expected reading of best
	ownCommonMiss float64 // rms difference of now from want, over the same bands

	ringed bool // it is held in a ring
}

// swapped holds the readings of coupons that have exchanged their names. In a ring of coupons each fits the history
// of the next one far better than its own, and lies far from its own.
//
// The expected reading of a coupon is
//
//	last reading · scale of the session + median change of its kind
//
// with the scale from the dark coupons. A batch that ages is therefore not suspected. A coupon that was scratched
// may resemble another, but then the other does not resemble it. A ring of coupons that all lost film comes from
// ageing. A coupon that was read twice, under two names, makes no ring: see mistaken.
func (j *judging) swapped(past []Reading, whole func() ([]Reading, error)) error {
	axis := newBandAxis(j.seen)
	trials := j.trials(axis, past)
	scales := axis.scales(trials)
	setExpected(axis, trials, scales)
	typical := map[kind]float64{}
	for _, t := range trials {
		if _, ok := typical[t.kind]; !ok {
			typical[t.kind] = typicalOwn(trials, t)
		}
	}
	var off []*trial
	for _, t := range trials {
		if t.ownMiss >= max(swapOutlier*typical[t.kind], swapFloor, swapNoise*t.noise) {
			off = append(off, t)
		}
	}
	for _, t := range off {
		t.choose(off)
	}
	for _, t := range off {
		if t.best == nil || !closesRing(t, off) || j.allLose(axis, t, off, scales) {
			continue
		}
		t.ringed = true
		reason := t.ringReason()
		for _, s := range t.readings {
			j.hold(s, Swapped, "%s", reason)
		}
	}
	return j.mistaken(axis, trials, off, scales, whole)
}

// ringReason returns why a trial is held in a ring.
func (t *trial) ringReason() string {
	return fmt.Sprintf("coupon %s at pull %d reads like coupon %s; perhaps the coupons were exchanged: compare the "+
		"labels and measure again. Spot %s is %s (rms over %d readings) from what it should read by pull %d, and %s "+
		"from what coupon %s, spot %s, should read",
		t.Coupon, t.Pull, t.best.Coupon, t.Spot, points(t.ownCommonMiss), t.settings, t.kind.from, points(t.bestMiss),
		t.best.Coupon, t.best.Spot)
}

// bandAxis maps the bands of each setting to places in the vectors of trials.
type bandAxis struct {
	settings []setting
	at       map[setting]bandBlock
	n        int
}

// bandBlock holds the places of the bands of one setting.
type bandBlock struct{ at, firstNM, n int }

// newBandAxis returns the axis of all bands of the readings.
func newBandAxis(seen []Reading) *bandAxis {
	a := &bandAxis{at: map[setting]bandBlock{}}
	for i := range seen {
		s := &seen[i]
		if len(s.Bands) == 0 {
			continue
		}
		k := ownSetting(&s.Place)
		e, ok := a.at[k]
		if !ok {
			e = bandBlock{firstNM: s.FirstBandNM}
			a.settings = append(a.settings, k)
		}
		end := max(e.firstNM+e.n*study.BandNM, s.FirstBandNM+len(s.Bands)*study.BandNM)
		e.firstNM = min(e.firstNM, s.FirstBandNM)
		e.n = (end - e.firstNM) / study.BandNM
		a.at[k] = e
	}
	for _, k := range a.settings {
		e := a.at[k]
		e.at = a.n
		a.n += e.n
		a.at[k] = e
	}
	return a
}

// ownSetting returns the setting of a place, with its replicate.
func ownSetting(p *study.Place) setting {
	k := settingOf(p)
	k.replicate = p.Replicate
	return k
}

// empty returns a vector without bands: all NaN.
func (a *bandAxis) empty() []float64 {
	v := make([]float64, a.n)
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}

// put stores the bands of a reading in a vector, and reports whether its setting has a place there.
func (a *bandAxis) put(v []float64, s *Reading) bool {
	e, ok := a.at[ownSetting(&s.Place)]
	if !ok {
		return false
	}
	for i := range e.n {
		if b, ok := band(&s.Traits, e.firstNM+i*study.BandNM); ok {
			v[e.at+i] = b
		}
	}
	return true
}

// trials returns a trial for each unit that has a history, in the order of the units' first readings.
func (j *judging) trials(axis *bandAxis, past []Reading) []*trial {
	type spot struct{ coupon, spot string }
	history := map[spot][]*Reading{}
	for i := range past {
		s := &past[i]
		history[spot{s.Coupon, s.Spot}] = append(history[spot{s.Coupon, s.Spot}], s)
	}
	units, order := map[study.Unit][]*Reading{}, []study.Unit(nil)
	for i := range j.seen {
		s := &j.seen[i]
		u := study.Unit{Coupon: s.Coupon, Pull: s.Pull, Spot: s.Spot, Condition: s.Condition}
		if s.Standing == study.Aside || j.guard.coupons[s.Coupon] == nil {
			continue
		}
		if units[u] == nil {
			order = append(order, u)
		}
		units[u] = append(units[u], s)
	}
	var all []*trial
	for _, u := range order {
		last := lastPull(u, j.known(u, history[spot{u.Coupon, u.Spot}]))
		if last == nil {
			continue
		}
		t := &trial{Unit: u, coupon: j.guard.coupons[u.Coupon], counted: true, now: axis.empty(), last: axis.empty()}
		t.kind = kind{t.coupon.Role, t.coupon.Coating, t.coupon.Exposure, last[0].Pull, u.Pull, last[0].Condition,
			u.Condition}
		for _, s := range last {
			axis.put(t.last, s)
		}
		for _, s := range units[u] {
			if axis.put(t.now, s) {
				t.counted = t.counted && s.Standing == study.Counted
				t.noise = max(t.noise, s.Noise)
				t.readings = append(t.readings, s)
			}
		}
		t.settings = len(t.readings)
		all = append(all, t)
	}
	return all
}

// known returns the history of a unit. For a unit in question it excludes readings that are held as swapped.
func (j *judging) known(u study.Unit, history []*Reading) []*Reading {
	if u.Pull != j.pull {
		return history
	}
	return slices.DeleteFunc(slices.Clone(history), func(s *Reading) bool { return s.Swapped })
}

// lastPull returns the readings of the last pull before that of a unit, in the nearest condition; nil if there
// is none.
func lastPull(u study.Unit, history []*Reading) (last []*Reading) {
	better := func(a, b *Reading) int {
		return cmp.Or(cmp.Compare(a.Pull, b.Pull), -cmp.Compare(study.ConditionDistance(u.Condition, a.Condition),
			study.ConditionDistance(u.Condition, b.Condition)))
	}
	for _, s := range history {
		switch {
		case s.Pull >= u.Pull:
		case last == nil || better(s, last[0]) > 0:
			last = []*Reading{s}
		case better(s, last[0]) == 0 && s.Condition == last[0].Condition:
			last = append(last, s)
		}
	}
	return last
}

// scales returns, for each setting, the scale of the session over that of the last pulls: the median of now/last
// over the dark coupons that count. It is 1 with fewer than three coupons.
func (a *bandAxis) scales(trials []*trial) []float64 {
	scales := make([]float64, len(a.settings))
	for i, k := range a.settings {
		e := a.at[k]
		var ratios []float64
		var coupons []string
		for _, t := range trials {
			if now, last, n := sumShared(t.now[e.at:e.at+e.n], t.last[e.at:e.at+e.n]); t.coupon.dark() && t.counted && n > 0 &&
				last > 0 {
				ratios, coupons = append(ratios, now/last), append(coupons, t.Coupon)
			}
		}
		if scales[i] = 1; countDistinct(coupons) >= typicalOf {
			scales[i] = median(ratios)
		}
	}
	return scales
}

// times returns a vector multiplied by the scale of each setting.
func (a *bandAxis) times(v, scales []float64) []float64 {
	v = slices.Clone(v)
	for i, k := range a.settings {
		e := a.at[k]
		for b := range v[e.at : e.at+e.n] {
			v[e.at+b] *= scales[i]
		}
	}
	return v
}

// sumShared returns the sums of two vectors over the places at which neither is NaN, and the number of these.
func sumShared(v, w []float64) (a, b float64, n int) {
	for i := range v {
		if !math.IsNaN(v[i]) && !math.IsNaN(w[i]) {
			a, b, n = a+v[i], b+w[i], n+1
		}
	}
	return a, b, n
}

// countDistinct returns the number of different names.
func countDistinct(names []string) int {
	names = slices.Clone(names)
	slices.Sort(names)
	return len(slices.Compact(names))
}

// setExpected fills want and ownMiss of each trial. Dark coupons are expected not to change. The same holds for
// exposed coupons of a kind with fewer than three coupons.
func setExpected(axis *bandAxis, trials []*trial, scales []float64) {
	kinds, order := map[kind][]*trial{}, []kind(nil)
	for _, t := range trials {
		t.want = axis.times(t.last, scales)
		if kinds[t.kind] == nil {
			order = append(order, t.kind)
		}
		kinds[t.kind] = append(kinds[t.kind], t)
	}
	for _, k := range order {
		if !kinds[k][0].coupon.dark() {
			addMedianChange(kinds[k])
		}
	}
	for _, t := range trials {
		t.ownMiss, _ = rmsDifference(t.now, t.want, t.want)
	}
}

// addMedianChange adds the median change of a kind to the expected readings of its trials.
func addMedianChange(of []*trial) {
	var coupons []string
	for _, t := range of {
		if t.counted {
			coupons = append(coupons, t.Coupon)
		}
	}
	if countDistinct(coupons) < typicalOf {
		return
	}
	for b := range of[0].want {
		var changes []float64
		for _, t := range of {
			if d := t.now[b] - t.want[b]; t.counted && !math.IsNaN(d) {
				changes = append(changes, d)
			}
		}
		if len(changes) < typicalOf {
			continue
		}
		m := median(changes)
		for _, t := range of {
			t.want[b] += m
		}
	}
}

// rmsDifference returns the rms difference of v and w over the places at which none of v, w and mask is NaN, and the
// number of these places. It is NaN without such a place.
func rmsDifference(v, w, mask []float64) (rms float64, n int) {
	sum := 0.0
	for i := range v {
		if d := v[i] - w[i]; !math.IsNaN(d) && !math.IsNaN(mask[i]) {
			sum, n = sum+d*d, n+1
		}
	}
	return math.Sqrt(sum / float64(n)), n
}

// typicalOwn returns the median of ownMiss over the units like t, without the two coupons with the largest, which may
// be swapped. Units like t are those of its kind or, if t is dark, all dark ones. If fewer than three coupons
// remain, all units of the session count instead. It is 0 if none remains.
func typicalOwn(trials []*trial, t *trial) float64 {
	alike := func(u *trial) bool { return u.kind == t.kind || u.coupon.dark() && t.coupon.dark() }
	own, coupons := withoutFurthest(trials, alike)
	if coupons < typicalOf {
		own, _ = withoutFurthest(trials, func(*trial) bool { return true })
	}
	if len(own) == 0 {
		return 0
	}
	return median(own)
}

// withoutFurthest returns ownMiss of the chosen units that count, without those of the two coupons with the largest,
// and the number of the other coupons.
func withoutFurthest(trials []*trial, chosen func(*trial) bool) (own []float64, coupons int) {
	counts := func(t *trial) bool { return t.counted && !math.IsNaN(t.ownMiss) && chosen(t) }
	furthest := map[string]float64{}
	for _, t := range trials {
		if counts(t) {
			furthest[t.Coupon] = max(furthest[t.Coupon], t.ownMiss)
		}
	}
	order := sortedKeys(furthest)
	slices.SortStableFunc(order, func(a, b string) int { return cmp.Compare(furthest[b], furthest[a]) })
	for _, c := range order[:min(2, len(order))] {
		delete(furthest, c)
	}
	for _, t := range trials {
		if _, ok := furthest[t.Coupon]; ok && counts(t) {
			own = append(own, t.ownMiss)
		}
	}
	return own, len(furthest)
}

// choose finds the other trial whose history this one fits best: on the same spot of another coupon of the
// same pane, or on any spot if that coupon has no trial of this spot.
func (t *trial) choose(off []*trial) {
	sameSpot := map[string]bool{}
	for _, u := range off {
		sameSpot[u.Coupon] = sameSpot[u.Coupon] || u.Spot == t.Spot
	}
	_, all := rmsDifference(t.now, t.want, t.want)
	for _, u := range off {
		if u.Coupon == t.Coupon || !samePane(t.coupon, u.coupon) || sameSpot[u.Coupon] && u.Spot != t.Spot {
			continue
		}
		other, n := rmsDifference(t.now, u.want, t.want)
		self, _ := rmsDifference(t.now, t.want, u.want)
		if float64(n) < swapCommon*float64(all) || self < swapBetter*other {
			continue
		}
		if t.best == nil || other < t.bestMiss {
			t.best, t.bestMiss, t.ownCommonMiss = u, other, self
		}
	}
}

// samePane reports whether two coupons have the same glass, far face and thickness.
func samePane(a, b *guarded) bool {
	return a.Glass == b.Glass && a.Back == b.Back && a.ReturnSpectrum == b.ReturnSpectrum &&
		(a.GlassMM == b.GlassMM || !a.GlassMM.Valid() && !b.GlassMM.Valid())
}

// allLose reports whether all coupons of the ring of a trial are coated and have lost film since their last pulls,
// as by ageing or scratches. Of two coupons that exchanged names, one appears to have gained film, unless both have
// lost more since.
func (j *judging) allLose(axis *bandAxis, t *trial, off []*trial, scales []float64) bool {
	for _, u := range off {
		if u.best == nil || u.Coupon != t.Coupon && !(reaches(t, u.Coupon, off) && reaches(u, t.Coupon, off)) {
			continue
		}
		if !u.coupon.Role.Coated() || !(j.guard.toBare(axis, u, axis.times(u.last, scales)) >= swapToBare) {
			return false
		}
	}
	return true
}

// reaches reports whether the choice of a trial leads to a coupon.
func reaches(t *trial, coupon string, off []*trial) bool {
	reached, queue := map[string]bool{t.best.Coupon: true}, []string{t.best.Coupon}
	for len(queue) > 0 {
		from := queue[0]
		queue = queue[1:]
		for _, u := range off {
			if u.Coupon == from && u.best != nil && !reached[u.best.Coupon] {
				reached[u.best.Coupon] = true
				queue = append(queue, u.best.Coupon)
			}
		}
	}
	return reached[coupon]
}

// closesRing reports whether the choice of a trial leads back to its coupon, and whether it is sure. In a pair it is
// enough that one of the two is sure: an aged coupon under the name of a control fits no history well.
func closesRing(t *trial, off []*trial) bool {
	sure := t.isSure()
	for _, u := range off {
		sure = sure || u.best != nil && u.Coupon == t.best.Coupon && u.best.Coupon == t.Coupon && u.isSure()
	}
	return sure && reaches(t, t.Coupon, off)
}

// isSure reports whether the trial fits its choice at least swapTimes better than its own history.
func (t *trial) isSure() bool { return t.ownCommonMiss >= swapTimes*t.bestMiss }
