package guard

import (
	"fmt"
	"math"
	"slices"

	"wane/study"
)

// Limits of the guard of coupons mistaken for others. Common practice, no source; the rates
// of the simulated studies of mistaken_test.go stand there.
const (
	rereadPart = 0.003 // rms difference of a second reading of a spot, as a share of its level, beside its noise
	wayToBare  = 0.25  // cosine between a change and the way to bare glass, above which film was lost
)

// mistaken holds readings of one coupon under the name of another that make no ring. Such a reading is equal, within
// noise, to that of another coated coupon in the session, or at its last pull if it was not read now. And it lies
// far from the expected reading of its own coupon.
//
// A coupon that ages or was scratched may become equal to another: of simulated sessions with such coupons one in
// ten has one. But such a coupon comes nearer to bare glass. A coupon is therefore suspected only if it has come
// nearer to bare glass since none of its pulls. The last pull alone does not decide, since the coupon may have been
// soiled then. The coupon must also lie far from each of its pulls, as it was and with the median change of its
// kind since. A coupon read under the name of one with less film is not found.
func (j *judging) mistaken(axis *bandAxis, trials, off []*trial, scales []float64,
	whole func() ([]Reading, error)) error {
	suspects, order := suspects(axis, trials, off, scales)
	order = slices.DeleteFunc(order, func(name string) bool {
		return !slices.ContainsFunc(suspects[name], func(t *trial) bool { return t.Pull == j.pull })
	})
	if len(order) == 0 {
		return nil
	}
	history, err := whole()
	if err != nil {
		return err
	}
	past := counted(slices.Concat(j.seen, history))
	own := j.nearestOwn(axis, suspects, past)
	others := j.candidates(axis, trials, scales, past)
	for _, name := range order {
		units := suspects[name]
		var best *candidate
		least := math.Inf(1)
		for i := range others {
			o := &others[i]
			if o.name == name || !samePane(o.coupon, units[0].coupon) ||
				o.units == nil && !mayShareName(o.coupon, units[0].coupon) {
				continue
			}
			if rms, ok := o.fits(units, own); ok && rms < least {
				best, least = o, rms
			}
		}
		if best == nil {
			continue
		}
		for _, t := range units {
			reason := best.reason(t)
			for _, s := range t.readings {
				j.hold(s, Swapped, "%s", reason)
			}
		}
	}
	return nil
}

// mayShareName reports whether two coupons may be read together: both of one exposure, so that their pulls
// have the same numbers, or one of all exposures.
func mayShareName(a, b *guarded) bool {
	return a.Exposure == b.Exposure || a.Exposure == "" || b.Exposure == ""
}

// suspects returns the units of suspected coupons, and the coupons in the order of their first reading. A coupon is
// suspected if it is coated, if none of its units is held in a ring, and if all of them lie far from their expected
// readings and from those of the last pull.
func suspects(axis *bandAxis, trials, off []*trial, scales []float64) (of map[string][]*trial, order []string) {
	of = map[string][]*trial{}
	for _, t := range off {
		last := axis.times(t.last, scales)
		if was, _ := rmsDifference(t.now, last, last); t.coupon.Role.Coated() && !t.ringed && was >= swapFloor {
			of[t.Coupon] = append(of[t.Coupon], t)
		}
	}
	units := map[string]int{}
	for _, t := range trials {
		if units[t.Coupon]++; units[t.Coupon] == 1 && of[t.Coupon] != nil {
			order = append(order, t.Coupon)
		}
	}
	order = slices.DeleteFunc(order, func(c string) bool { return len(of[c]) < units[c] })
	return of, order
}

// nearestOwn returns, for each unit of the suspects, the least rms difference from an earlier pull of its own, as it
// was read or with the median change of its kind since. It is 0 for a unit that has lost film since one of these
// pulls.
func (j *judging) nearestOwn(axis *bandAxis, suspects map[string][]*trial, past []Reading) map[study.Unit]float64 {
	nearest := map[study.Unit]float64{}
	for {
		trials := j.trials(axis, past)
		if len(trials) == 0 {
			return nearest
		}
		scales := axis.scales(trials)
		setExpected(axis, trials, scales)
		latest := trials[0].kind.from
		for _, t := range trials {
			latest = max(latest, t.kind.from)
			if suspects[t.Coupon] == nil {
				continue
			}
			last := axis.times(t.last, scales)
			was, _ := rmsDifference(t.now, last, last)
			rms := min(was, t.ownMiss)
			if !(j.guard.toBare(axis, t, last) < wayToBare) {
				rms = 0
			}
			if least, ok := nearest[t.Unit]; !ok || rms < least {
				nearest[t.Unit] = rms
			}
		}
		past = slices.DeleteFunc(slices.Clone(past), func(s Reading) bool { return s.Pull >= latest })
	}
}

// toBare returns the cosine between the change of a unit since its last reading and the way from that reading to
// bare glass, over the bands with a known level of bare glass. It is NaN without such a band.
func (g *Guard) toBare(axis *bandAxis, t *trial, last []float64) float64 {
	along, change, way := 0.0, 0.0, 0.0
	for _, s := range t.readings {
		c, k, ok := g.key(&s.Place)
		if !ok {
			continue
		}
		bare, e := g.bare(c.glass, k), axis.at[ownSetting(&s.Place)]
		for i := range bare.lo {
			b := (bare.firstNM-e.firstNM)/study.BandNM + i
			if b < 0 || b >= e.n || bare.hi[i]-bare.lo[i] > maxLevelSpread*bare.hi[i] {
				continue
			}
			x, y := t.now[e.at+b]-last[e.at+b], (bare.lo[i]+bare.hi[i])/2-last[e.at+b]
			if !math.IsNaN(x) && !math.IsNaN(y) {
				along, change, way = along+x*y, change+x*x, way+y*y
			}
		}
	}
	return along / math.Sqrt(change*way)
}

// candidate is a coated coupon that may have been read under another name.
type candidate struct {
	name   string
	coupon *guarded
	units  []*trial               // its units in the session; none if it was not read
	reads  func(*trial) []float64 // its reading at a unit's spot and condition, nil if there is none
}

// candidates returns the coupons with readings that count in the session, in the order of their first reading, and
// then those with earlier readings only, in the order of their names.
func (j *judging) candidates(axis *bandAxis, trials []*trial, scales []float64, past []Reading) (all []candidate) {
	units, order := map[string][]*trial{}, []string(nil)
	for _, t := range trials {
		if !t.counted {
			continue
		}
		if units[t.Coupon] == nil {
			order = append(order, t.Coupon)
		}
		units[t.Coupon] = append(units[t.Coupon], t)
	}
	history := map[string][]*Reading{}
	for i := range past {
		if s := &past[i]; !s.Swapped {
			history[s.Coupon] = append(history[s.Coupon], s)
		}
	}
	for i := range j.seen {
		delete(history, j.seen[i].Coupon)
	}
	add := func(name string, reads func(*trial) []float64) {
		if c := j.guard.coupons[name]; c != nil && c.Role.Coated() {
			all = append(all, candidate{name, c, units[name], reads})
		}
	}
	for _, name := range order {
		add(name, func(t *trial) []float64 {
			if u := twinOf(t, units[name]); u != nil {
				return u.now
			}
			return nil
		})
	}
	for _, name := range sortedKeys(history) {
		add(name, func(t *trial) []float64 { return axis.times(lastReadValues(axis, t, name, history[name]), scales) })
	}
	return all
}

// twinOf returns the unit of the same spot and condition; nil if there is none.
func twinOf(t *trial, units []*trial) *trial {
	for _, u := range units {
		if u.Spot == t.Spot && u.Condition == t.Condition {
			return u
		}
	}
	return nil
}

// lastReadValues returns the readings of another coupon at the spot of a unit, at its last pull before.
func lastReadValues(axis *bandAxis, t *trial, name string, history []*Reading) []float64 {
	v := axis.empty()
	there := slices.DeleteFunc(slices.Clone(history), func(s *Reading) bool { return s.Spot != t.Spot })
	for _, s := range lastPull(study.Unit{Coupon: name, Pull: t.Pull, Spot: t.Spot, Condition: t.Condition}, there) {
		axis.put(v, s)
	}
	return v
}

// fits reports whether each unit agrees with the reading of the other coupon within the limit of a second reading,
// and whether each earlier pull of its own is swapTimes as far away. rms is the largest difference, a fraction.
func (d *candidate) fits(units []*trial, own map[study.Unit]float64) (rms float64, ok bool) {
	for _, t := range units {
		other := d.reads(t)
		if other == nil {
			return 0, false
		}
		_, all := rmsDifference(t.now, t.now, t.now)
		r, n := rmsDifference(t.now, other, other)
		if n == 0 || float64(n) < swapCommon*float64(all) || r > t.rereadLimit() || own[t.Unit] < swapTimes*r {
			return 0, false
		}
		rms = max(rms, r)
	}
	return rms, true
}

// rereadLimit returns the largest rms difference of a second reading, a fraction.
func (t *trial) rereadLimit() float64 {
	sum, n := 0.0, 0.0
	for _, v := range t.now {
		if !math.IsNaN(v) {
			sum, n = sum+v*v, n+1
		}
	}
	return math.Hypot(t.noise, rereadPart*math.Sqrt(sum/n))
}

// reason returns why a unit is held as a reading of the other coupon.
func (d *candidate) reason(t *trial) string {
	other := d.reads(t)
	rms, _ := rmsDifference(t.now, other, other)
	const ask = "compare the labels and measure again"
	is := fmt.Sprintf("Spot %s is %s (rms over %d readings) from what it should read by pull %d, though it has lost "+
		"no film", t.Spot, points(t.ownMiss), t.settings, t.kind.from)
	if twinOf(t, d.units) == nil {
		return fmt.Sprintf("coupon %s at pull %d reads like coupon %s at its last pull; perhaps that one, or one like it, "+
			"lay in its place: %s. %s, and %s from what was read of coupon %s; the limit is %s",
			t.Coupon, t.Pull, d.name, ask, is, points(rms), d.name, points(t.rereadLimit()))
	}
	return fmt.Sprintf("coupon %s at pull %d reads like coupon %s in this session; perhaps one coupon was read under "+
		"both names: %s. %s, and %s from what coupon %s reads; the limit is %s",
		t.Coupon, t.Pull, d.name, ask, is, points(rms), d.name, points(t.rereadLimit()))
}
