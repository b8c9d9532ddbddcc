package guard

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wane/study"
)

// Reading is a reading as guards compare it: its place and its traits, without its numbers.
type Reading struct {
	Number int64 // in the study
	study.Place
	Session, Geometry string
	study.Traits

	// Standing is the standing of the reading without the holds of the guards swapped and exchanged. Swapped
	// reports that one of these two holds it. Unjudged reports that no person has judged the reading, so that
	// it may be held.
	Standing study.Standing
	Swapped  bool
	Unjudged bool
}

// Limits of the guard of noise. Common practice, no source.
const (
	noisyTimes  = 4      // times the median noise of the others
	noisyOthers = 5      // least number of other readings
	noisyFloor  = 0.0003 // noise that is never too high, a fraction
)

// noisyKind explains the guard noisy.
func noisyKind() study.Term {
	return study.Term{Word: noisyWord,
		Meaning: "the noise of the curve is far above that of its session",
		Limit: fmt.Sprintf("more than %d times the median of at least %d others of the session at the same angle, "+
			"polarisation and quantity, and more than %g pp", noisyTimes, noisyOthers, 100*noisyFloor),
		Remedy: "measure again; if the noise stays, check the instrument"}
}

// JudgeSession returns the holds on readings of one session by comparison with the others: level of whole
// spots, noisy, angle. seen holds all readings of the session. An empty name stands for readings without a
// session; of these, only readings of one spot at one pull are compared.
//
// Only readings that no person has judged are held. A reading that is held or set aside is not compared with
// others, and neither is one that is not specular. There is one exception: a held reading that is too bright
// may hold all readings of its spot. A reading that is already held is not held for its angle too.
func (g *Guard) JudgeSession(name string, seen []Reading) []study.Hold {
	j := g.judging(seen)
	if name != "" {
		j.noisy()
		j.blanks()
	}
	j.falling()
	j.bright()
	return j.sortedHolds()
}

// JudgeNames returns the holds on readings of one session at one pull that were perhaps read under the name of
// another coupon. seen holds all readings of the session. last holds the last readings before it, in other
// sessions, at each spot; older readings are allowed. whole returns all readings of the coupons in other
// sessions, and of the other coupons that may have been read under their names. It is called only if a coupon
// is suspected, and its error is returned.
//
// A reading that is held or set aside is not part of the history. Holds by this guard or by the comparison of films
// on the readings in question do not count: the readings are judged as if they did not exist. The result at a pull
// therefore depends on earlier pulls only. There is one exception: a reading that another guard holds counts if it
// does not fit the history of its coupon. One of two swapped coupons may already be held, for example a blank
// under the name of a coated coupon for its level.
func (g *Guard) JudgeNames(pull int, seen, last []Reading, whole func() ([]Reading, error)) ([]study.Hold, error) {
	j := g.judging(seen)
	j.pull = pull
	err := j.swapped(counted(slices.Concat(seen, last)), whole)
	return j.sortedHolds(), err
}

// compared returns copies of the specular readings, in the order of their places.
func compared(seen []Reading) []Reading {
	seen = slices.DeleteFunc(slices.Clone(seen), func(s Reading) bool { return !study.Specular(s.Geometry) })
	slices.SortStableFunc(seen, byPlace)
	return seen
}

// counted returns copies of the specular readings that count.
func counted(seen []Reading) []Reading {
	return slices.DeleteFunc(compared(seen), func(s Reading) bool { return s.Standing != study.Counted })
}

// byPlace compares readings by their places, which differ.
func byPlace(a, b Reading) int {
	return cmp.Or(cmp.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull), cmp.Compare(a.Spot, b.Spot),
		cmp.Compare(a.Condition, b.Condition), cmp.Compare(a.AngleDeg, b.AngleDeg),
		cmp.Compare(a.Polarisation, b.Polarisation), cmp.Compare(a.Quantity, b.Quantity),
		cmp.Compare(a.Replicate, b.Replicate))
}

// judging is the judgement of one session.
type judging struct {
	guard *Guard
	seen  []Reading // in the order of their places
	holds []study.Hold
	held  map[held]bool
	pull  int // of the readings in question, for the guard of exchanged coupons
}

// anyPull means that the readings of all pulls are in question.
const anyPull = -1

// judging returns the judgement of the readings seen, without holds.
func (g *Guard) judging(seen []Reading) *judging {
	return &judging{guard: g, seen: compared(seen), held: map[held]bool{}, pull: anyPull}
}

// sortedHolds returns the holds in the order of the readings' numbers, then of the guards' words.
func (j *judging) sortedHolds() []study.Hold {
	slices.SortStableFunc(j.holds, func(a, b study.Hold) int {
		return cmp.Or(cmp.Compare(a.Reading, b.Reading), cmp.Compare(a.Guard, b.Guard))
	})
	return j.holds
}

// held names a reading and the guard that holds it.
type held struct {
	number int64
	guard  string
}

// hold holds a reading once for each guard, if the reading is in question and no person has judged it.
func (j *judging) hold(s *Reading, guard, format string, args ...any) {
	if !s.Unjudged || s.Standing == study.Aside || j.pull != anyPull && s.Pull != j.pull {
		return
	}
	if j.held[held{s.Number, guard}] {
		return
	}
	j.held[held{s.Number, guard}] = true
	concern := study.Concern{Guard: guard, Reason: fmt.Sprintf(format, args...)}
	j.holds = append(j.holds, study.Hold{Reading: s.Number, Concern: concern})
}

// setting is the setting of a reading. Readings that are compared have it in common.
type setting struct {
	angleDeg     float64
	polarisation string
	quantity     study.Quantity
	replicate    int // 0 if replicates are compared with one another
}

// settingOf returns the setting of a place, for comparison across replicates.
func settingOf(p *study.Place) setting {
	return setting{p.AngleDeg, p.Polarisation, p.Quantity, 0}
}

// noisy compares the noise of each reading with the median of the others at the same angle, polarisation and
// quantity, since noise rises with the reflectance.
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
		n, typical := medianWithoutOne(others, at)
		if n >= noisyOthers && s.Noise > max(noisyTimes*typical, noisyFloor) {
			j.hold(s, noisyWord, "its noise is %s where that of the %d other readings of the session at %g degrees, %s, is "+
				"%s; the limit is %d times as much", points(s.Noise), n, s.AngleDeg, s.Polarisation, points(typical), noisyTimes)
		}
	}
}

// medianWithoutOne returns the number and the median of sorted values without the one at a position. The position -1
// excludes none. The median of no value is NaN.
func medianWithoutOne(sorted []float64, at int) (n int, median float64) {
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

// median returns the median of values and sorts them. It is NaN without a value.
func median(values []float64) float64 {
	slices.Sort(values)
	_, m := medianWithoutOne(values, -1)
	return m
}
