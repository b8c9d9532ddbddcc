package guard

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wane/study"
)

// Reading is a reading without its numbers.
type Reading struct {
	Number int64 // in the study
	study.Place
	Session, Geometry string
	study.Traits

	// Standing is how it stands but for the guards of exchanged coupons, this one and the third
	// look, and Swapped tells that one of them holds it. Unjudged: no person has judged it, so
	// that it may be held.
	Standing study.Standing
	Swapped  bool
	Unjudged bool
}

// Limits of the guard of noise. Common practice, no source.
const (
	noisyTimes  = 4
	noisyOthers = 5      // fewer readings say nothing about a session
	noisyFloor  = 0.0003 // a fraction: less noise than that hides no film
)

func noisyKind() study.Term {
	return study.Term{Word: noisyWord,
		Meaning: "the noise of the curve is far above that of its session",
		Limit: fmt.Sprintf("more than %d times the median of at least %d others of the session at the same angle, "+
			"polarisation and quantity, and more than %g pp", noisyTimes, noisyOthers, 100*noisyFloor),
		Remedy: "measure again; if the noise stays, check the instrument"}
}

// JudgeSession returns what readings of one session are suspicious for among the others: level of
// whole spots, noisy, angle. seen are all of its readings. An empty name is that of readings
// without a session, of which only those of one spot at one pull are compared with one another.
//
// Only readings that nobody has judged are held. What is held or set aside is no evidence about
// others: it makes no median and no factor of a blank, nor is a reading that is not specular.
// There is one exception: that a held
// reading is too bright counts against all of its spot. A reading that is held already is not
// held for its angle too. What is found does not depend on the order of seen.
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

// JudgeNames returns which readings of one session at one pull are suspicious for having
// been read under another coupon's name. seen are all readings of the session, last what was
// last read before, in other sessions, at each of its spots; more of the past does no harm.
// whole returns all that was read of its coupons in other sessions, and of the others that may
// lie under the name of one of them. It is asked only if a coupon is suspected, and its error
// is returned.
//
// What is held or set aside makes no history: for the readings in question not what this guard
// or the comparison of films holds either; what else was read in the session is evidence as if this guard had not been.
// So what is found at a pull depends on what was found at earlier pulls only. There is
// one exception: that a held reading does not fit its coupon's history counts for the swap
// of two coupons, since one of a swapped pair may be held already, a blank under the name of
// a coated coupon for its level.
func (g *Guard) JudgeNames(pull int, seen, last []Reading, whole func() ([]Reading, error)) ([]study.Hold, error) {
	j := g.judging(seen)
	j.pull = pull
	err := j.swapped(counted(slices.Concat(seen, last)), whole)
	return j.sortedHolds(), err
}

// compared returns copies of the readings that are compared with others, the specular ones, in
// the order of their places.
func compared(seen []Reading) []Reading {
	seen = slices.DeleteFunc(slices.Clone(seen), func(s Reading) bool { return !study.Specular(s.Geometry) })
	slices.SortStableFunc(seen, byPlace)
	return seen
}

// counted returns copies of those that count.
func counted(seen []Reading) []Reading {
	return slices.DeleteFunc(compared(seen), func(s Reading) bool { return s.Standing != study.Counted })
}

// byPlace orders readings, none of which are at one place.
func byPlace(a, b Reading) int {
	return cmp.Or(cmp.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull), cmp.Compare(a.Spot, b.Spot),
		cmp.Compare(a.Condition, b.Condition), cmp.Compare(a.AngleDeg, b.AngleDeg),
		cmp.Compare(a.Polarisation, b.Polarisation), cmp.Compare(a.Quantity, b.Quantity), cmp.Compare(a.Replicate, b.Replicate))
}

// judging is the work on one session.
type judging struct {
	guard *Guard
	seen  []Reading // in the order of their places
	holds []study.Hold
	held  map[held]bool
	pull  int // of the readings in question, for the guard of exchanged coupons
}

const anyPull = -1

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

// held is a reading and the word of the guard that holds it.
type held struct {
	number int64
	guard  string
}

// hold holds a reading, if it is in question and nobody has judged it, once for each guard.
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
		n, typical := medianWithoutOne(others, at)
		if n >= noisyOthers && s.Noise > max(noisyTimes*typical, noisyFloor) {
			j.hold(s, noisyWord, "its noise is %s where that of the %d other readings of the session at %g degrees, %s, is %s; the limit is %d times as much", points(s.Noise), n, s.AngleDeg, s.Polarisation, points(typical), noisyTimes)
		}
	}
}

// medianWithoutOne returns the median of sorted values but the one at a position, none for
// -1, and their number.
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

// median returns the median of values, which it sorts; NaN of none.
func median(values []float64) float64 {
	slices.Sort(values)
	_, m := medianWithoutOne(values, -1)
	return m
}
