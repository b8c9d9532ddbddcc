package evaluate

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wane/study"
)

// Seen is a reading without its numbers.
type Seen struct {
	Number int64 // in the study
	study.Place
	Session string
	study.Traits
	Standing study.Standing // of a new one: Held if [Guard.Reading] found a concern
	New      bool           // it is being taken in, and nobody has judged it
}

// Limits of the guard of noise. Common practice, no source.
const (
	noisyTimes  = 4
	noisyOthers = 5      // fewer readings say nothing about a session
	noisyFloor  = 0.0003 // a fraction: less noise than that hides no film
)

// humidityPoints is by how much the relative humidity of two sessions may differ, in
// percentage points: porous silica takes up water from air and gives it off. Common
// practice, no source.
const humidityPoints = 20

// Session returns what readings of one session are suspicious for among the others: level of
// whole spots, noisy, angle, humidity, swapped. seen are all of its readings, last
// what was last read before, in other sessions, at each of its spots; more of the past does no harm. whole returns
// all that was read of its coupons in other sessions, and of the others that may lie under the name of one of them.
// It is asked only if a coupon is suspected, and its error is returned. An
// empty name is that of readings without a session, of which only those of one spot at one
// pull are compared with one another.
//
// Only new readings are held, never one that a person has set aside. What is held or set
// aside is no evidence about others: it makes no median, no factor of a blank and no
// history. There are two exceptions: that a held reading is too bright counts against all of
// its spot, and that one does not fit its coupon's history for the swap of two coupons, since one of a swapped pair may be held already, a
// blank under the name of a coated coupon for its level. A reading that is held already is not
// held for its angle too.
//
// The holds come in the order of the readings' numbers, then of the guards' words.
func (g *Guard) Session(name string, seen, last []Seen, whole func() ([]Seen, error)) ([]study.Hold, error) {
	seen = slices.Clone(seen)
	slices.SortStableFunc(seen, func(a, b Seen) int { return cmp.Compare(a.Number, b.Number) })
	j := &judging{guard: g, seen: seen, held: map[held]bool{}}
	if name != "" {
		past := countedInOrder(seen, last)
		j.noisy()
		j.humidity(g.sessions[name], past)
		j.blanks()
		if err := j.swapped(past, whole); err != nil {
			return nil, err
		}
	}
	j.falling()
	j.bright()
	slices.SortStableFunc(j.holds, func(a, b study.Hold) int {
		return cmp.Or(cmp.Compare(a.Reading, b.Reading), cmp.Compare(a.Guard, b.Guard))
	})
	return j.holds, nil
}

// countedInOrder returns the readings that are counted, in the order of their numbers.
func countedInOrder(of ...[]Seen) []Seen {
	past := slices.DeleteFunc(slices.Concat(of...), func(s Seen) bool { return s.Standing != study.Counted })
	slices.SortStableFunc(past, func(a, b Seen) int { return cmp.Compare(a.Number, b.Number) })
	return past
}

// judging is the work on one session.
type judging struct {
	guard *Guard
	seen  []Seen // in the order of their numbers
	holds []study.Hold
	held  map[held]bool
}

// held is a reading and the word of the guard that holds it.
type held struct {
	number int64
	guard  string
}

// hold holds a reading, if it is new, once for each guard.
func (j *judging) hold(s *Seen, guard, format string, args ...any) {
	if !s.New || s.Standing == study.Aside {
		return
	}
	if j.held[held{s.Number, guard}] {
		return
	}
	j.held[held{s.Number, guard}] = true
	j.holds = append(j.holds, study.Hold{Reading: s.Number, Concern: study.Concern{Guard: guard, Reason: fmt.Sprintf(format, args...)}})
}

// setting is what readings must have in common to be compared.
type setting struct {
	angleDeg     float64
	polarisation string
	quantity     study.Quantity
	replicate    int // 0 where replicates are alike
}

func settingOf(p *study.Place) setting {
	return setting{p.AngleDeg, p.Polarisation, p.Quantity, 0}
}

// noisy compares the noise of each reading with the median of the others at the same angle,
// since noise rises with what is reflected.
func (j *judging) noisy() {
	noise := map[setting][]float64{}
	for i := range j.seen {
		if s := &j.seen[i]; s.Standing == study.Counted {
			noise[settingOf(&s.Place)] = append(noise[settingOf(&s.Place)], s.Noise)
		}
	}
	for _, of := range noise {
		slices.Sort(of)
	}
	for i := range j.seen {
		s := &j.seen[i]
		others := noise[settingOf(&s.Place)]
		at := -1 // of its own noise
		if s.Standing == study.Counted {
			at, _ = slices.BinarySearch(others, s.Noise)
		}
		n, typical := medianWithout(others, at)
		if n >= noisyOthers && s.Noise > max(noisyTimes*typical, noisyFloor) {
			j.hold(s, guardNoisy, "its noise is %s where that of the %d other readings of the session at %g degrees, %s, is %s; the limit is %d times as much", points(s.Noise), n, s.AngleDeg, s.Polarisation, points(typical), noisyTimes)
		}
	}
}

// medianWithout returns the median of sorted values but the one at a position, none for
// -1, and their number.
func medianWithout(sorted []float64, at int) (n int, median float64) {
	n = len(sorted)
	get := func(i int) float64 { return sorted[i] }
	if at >= 0 {
		n--
		get = func(i int) float64 {
			if i >= at {
				i++
			}
			return sorted[i]
		}
	}
	if n == 0 {
		return 0, math.NaN()
	}
	return n, (get((n-1)/2) + get(n/2)) / 2
}

// middle returns the median of values, which it sorts; NaN of none.
func middle(values []float64) float64 {
	slices.Sort(values)
	_, m := medianWithout(values, -1)
	return m
}

// humidity compares the session's with that of each coated coupon's pull 0; of several,
// with the nearest.
func (j *judging) humidity(now *sitting, past []Seen) {
	if now == nil || !now.humidity.Valid() {
		return
	}
	then := map[string]study.Num{} // by coupon: the nearest
	for i := range past {
		s := &past[i]
		before := j.guard.sessions[s.Session]
		if s.Pull != 0 || before == nil || !before.humidity.Valid() {
			continue
		}
		if h, ok := then[s.Coupon]; !ok || math.Abs(float64(before.humidity-now.humidity)) < math.Abs(float64(h-now.humidity)) {
			then[s.Coupon] = before.humidity
		}
	}
	for i := range j.seen {
		s := &j.seen[i]
		c, h, ok := j.guard.coupons[s.Coupon], study.Num(0), false
		if h, ok = then[s.Coupon]; !ok || c == nil || !c.Role.Coated() || s.Pull == 0 {
			continue
		}
		if math.Abs(float64(h-now.humidity)) > humidityPoints {
			j.hold(s, guardHumidity, "it was read at a relative humidity of %g %% and pull 0 of its coupon at %g %%: water in the pores changes the film; the limit is %d percentage points", float64(now.humidity), float64(h), humidityPoints)
		}
	}
}
