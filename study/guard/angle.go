package guard

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
)

const (
	otherAngles  = 2    // least number of other angles with blanks that give the scale at an angle
	agreeSigmas  = 3    // largest difference of the factor of an angle from the scale, in its standard uncertainties
	steepDeg     = 60.0 // angle from which unpolarised reflectance rises steeply
	fallingBands = 4    // least number of common bands of a pair of readings
)

// angleKind explains the guard angle.
func angleKind() study.Term {
	limits := []string{
		fmt.Sprintf("a dark blank more than %g %% and %g pp off what the blanks of the session say at %d other angles or "+
			"more",
			100*angleMargin.part, 100*angleMargin.least, otherAngles),
		"coated glass as far outside what any film reflects, by the scale of these blanks, if another angle fits",
		fmt.Sprintf("both at least %g standard deviations of the blanks' scale, the angle factor and the angle", angleSigmas),
		fmt.Sprintf("an unpolarised level that falls to an angle of %g degrees or more by that much more than any film "+
			"explains",
			steepDeg),
	}
	return study.Term{Word: angleWord,
		Meaning: "the level does not fit the stated angle; a reference or a detector that is off at this angle looks the " +
			"same",
		Limit:  strings.Join(limits, "; "),
		Remedy: "check the angle in the export and in the map, and measure the spot again"}
}

// blankFactor is a reading of a dark blank over what its glass reflects.
type blankFactor struct {
	seen     *Reading
	coupon   *guarded
	key      levelKey
	expected levelRange
	factor   float64
	u        float64 // relative standard uncertainty, from the priors of angle factor and angle
}

// blanks judges the angles by the dark blanks of the session, separately for each polarisation. The blanks at the
// other angles give the scale of the session. The rest of a difference belongs to the angle of the reading.
func (j *judging) blanks() {
	factors := map[string][]blankFactor{}
	for i := range j.seen {
		if f, ok := j.factor(&j.seen[i]); ok {
			factors[f.seen.Polarisation] = append(factors[f.seen.Polarisation], f)
		}
	}
	for _, pol := range sortedKeys(factors) {
		var fit []blankFactor
		for i := range factors[pol] {
			if !j.blankAngle(&factors[pol][i], factors[pol]) {
				fit = append(fit, factors[pol][i])
			}
		}
		factors[pol] = fit
	}
	for i := range j.seen {
		s := &j.seen[i]
		if of := factors[s.Polarisation]; len(of) > 0 && s.Standing == study.Counted {
			j.coatedAngle(s, of)
		}
	}
}

// sortedKeys returns the keys of m in rising order.
func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// factor returns the factor of a reading. ok is false if the reading does not count or is not of a dark blank, or
// if the expected level is not known well enough: where the captured share of the far face's return or the s
// share is unknown, or near Brewster's angle. A level outside its limit gives no factor: the reading is held for
// it, or is that of another coupon.
func (j *judging) factor(s *Reading) (f blankFactor, ok bool) {
	c, k, ok := j.guard.key(&s.Place)
	if !ok || c.Role != study.Blank || s.Standing != study.Counted {
		return f, false
	}
	f = blankFactor{seen: s, coupon: c, key: k, expected: j.guard.bare(c.glass, k)}
	mean, lo, hi := f.expected.means(&s.Traits)
	if !(lo > minLevel) || hi-lo > maxLevelSpread*hi {
		return f, false
	}
	f.factor = mean / ((lo + hi) / 2)
	f.u = math.Hypot(film.DefaultSession().UFactor, f.expected.turn(&s.Traits)/(angleSigmas*lo))
	_, outside := f.expected.compare(&s.Traits, 1, 1, blankMargin)
	return f, !outside
}

// turn returns the change of the mean of a range, over the bands of a reading, with an error of the angle of
// angleErrorDeg.
func (s levelRange) turn(t *study.Traits) float64 {
	less, more, n := 0.0, 0.0, 0.0
	for i := range s.lo {
		if _, ok := band(t, s.firstNM+i*study.BandNM); ok {
			less, more, n = less+s.less[i], more+s.more[i], n+1
		}
	}
	return max(less, more) / n
}

// scaleOf returns the scale from the factors of blanks, its relative standard uncertainty, and the number of
// angles. The scale is the mean of the medians m at the angles, weighted by their uncertainties u:
//
//	scale = Σ (m/u²) / Σ (1/u²)
//
// ok is false if the angles do not agree, or if there are none.
func scaleOf(factors []blankFactor) (scale, u float64, angles int, ok bool) {
	byAngle, uOf := map[float64][]float64{}, map[float64]float64{}
	for i := range factors {
		deg := factors[i].key.angleDeg
		byAngle[deg] = append(byAngle[deg], factors[i].factor)
		uOf[deg] = max(uOf[deg], factors[i].u)
	}
	sum, weights := 0.0, 0.0
	for _, deg := range sortedKeys(byAngle) {
		w := 1 / (uOf[deg] * uOf[deg])
		sum, weights = sum+w*median(byAngle[deg]), weights+w
	}
	scale, u, ok = sum/weights, 1/math.Sqrt(weights), len(byAngle) > 0
	for deg, of := range byAngle {
		ok = ok && math.Abs(median(of)-scale) <= agreeSigmas*scale*uOf[deg]
	}
	return scale, u, len(byAngle), ok
}

// byScale returns the margin of the guard of angles with a scale of the relative standard uncertainty u.
func byScale(u float64) margin {
	m := angleMargin
	m.u = math.Hypot(film.DefaultSession().UFactor, u)
	return m
}

// blankAngle holds the reading of a blank that the scale of the other angles does not explain, and reports
// whether it does not.
func (j *judging) blankAngle(f *blankFactor, all []blankFactor) (off bool) {
	others := slices.DeleteFunc(slices.Clone(all), func(o blankFactor) bool { return o.key.angleDeg == f.key.angleDeg })
	scale, u, n, agree := scaleOf(others)
	if n < otherAngles || !agree {
		return false
	}
	s := f.seen
	mis, outside := f.expected.compare(&s.Traits, 1, scale, byScale(u))
	if !outside {
		return false
	}
	lo, hi, fits := j.guard.angleThatFits(f.coupon, f.key, &s.Traits, scale)
	if !fits && !j.guard.angleMatters(f.coupon, f.key) {
		return false
	}
	would := "no other angle would fit"
	if fits {
		would = "it would fit " + angles(lo, hi)
	}
	j.hold(s, angleWord, "the level is %s%s where this blank should read %s at %g degrees, %s, by the session's "+
		"blanks at %d other angles; the limit is %s off; %s, or a reference or detector is off at this angle: measure again",
		percent(mis.level), mis.where(), percentRange(mis.lo, mis.hi), s.AngleDeg, s.Polarisation, n, points(mis.limit),
		would)
	return true
}

// coatedAngle holds a reading of coated glass that no film explains with the scale of the session's blanks, if
// another angle fits.
func (j *judging) coatedAngle(s *Reading, all []blankFactor) {
	c, k, ok := j.guard.key(&s.Place)
	if !ok || !c.Role.Coated() || !s.Unjudged {
		return
	}
	scale, u, _, agree := scaleOf(all)
	if !agree {
		return
	}
	mis, outside := j.guard.film(c.glass, k).compare(&s.Traits, 1, scale, byScale(u))
	if !outside {
		return
	}
	lo, hi, fits := j.guard.angleThatFits(c, k, &s.Traits, scale)
	if !fits {
		return
	}
	j.hold(s, angleWord, "the level is %s%s where %s reflects %s at %g degrees, %s, whatever film is on it, by the "+
		"session's blanks; the limit is %s outside; it would fit %s, or a reference or detector is off at this angle: "+
		"measure again",
		percent(mis.level), mis.where(), c.Glass, percentRange(mis.lo, mis.hi), s.AngleDeg, s.Polarisation,
		points(mis.limit), angles(lo, hi))
}

// falling holds unpolarised readings of one spot at one pull whose level falls from one angle to a steeper
// one, of 60 degrees or more, more than under any film. Of several pairs the reading that is in most of them
// is held first, until no pair remains; of a single pair both are held.
func (j *judging) falling() {
	unpolarised := func(s *Reading) bool {
		pol, _, err := evaluate.Beam(s.Polarisation)
		return err == nil && pol != 0 && pol != 1 && s.Standing == study.Counted
	}
	for _, spot := range j.spots(unpolarised) {
		j.fallingSpot(spot)
	}
}

// fall is a pair of readings whose level falls with the angle.
type fall struct {
	flat, steep *Reading
	from, to    float64 // mean levels
}

// fallingSpot applies falling to the readings of one spot.
func (j *judging) fallingSpot(readings []*Reading) {
	var falls []fall
	for _, steep := range readings {
		for _, flat := range readings {
			if steep.AngleDeg >= steepDeg && flat.AngleDeg < steep.AngleDeg {
				if f := (fall{flat: flat, steep: steep}); j.falls(&f) {
					falls = append(falls, f)
				}
			}
		}
	}
	for len(falls) > 0 {
		count, most := map[int64]int{}, 0
		for _, f := range falls {
			for _, s := range []*Reading{f.flat, f.steep} {
				count[s.Number]++
				most = max(most, count[s.Number])
			}
		}
		falls = slices.DeleteFunc(falls, func(f fall) bool {
			worst := false
			for _, s := range []*Reading{f.flat, f.steep} {
				if count[s.Number] == most {
					worst = true
					j.hold(s, angleWord, "the level falls from %s at %g degrees to %s at %g degrees, %s, at the same spot, which "+
						"no film explains: one of the two angles is another, or a reference or detector is off at it; the limit is "+
						"%g %%, at least %g pp, beyond what a film can do; measure both again",
						percent(f.from), f.flat.AngleDeg, percent(f.to), f.steep.AngleDeg, f.steep.Polarisation, 100*angleMargin.part,
						100*angleMargin.least)
				}
			}
			return worst
		})
	}
}

// falls reports whether the mean level of a pair falls more than under any film, over the bands that both
// readings have.
func (j *judging) falls(f *fall) bool {
	c, steep, ok := j.guard.key(&f.steep.Place)
	if !ok {
		return false
	}
	_, flat, _ := j.guard.key(&f.flat.Place)
	first, n := knownBands(c.glass)
	first, n = commonBands(first, n, f.flat.FirstBandNM, len(f.flat.Bands))
	first, n = commonBands(first, n, f.steep.FirstBandNM, len(f.steep.Bands))
	if n < fallingBands {
		return false
	}
	seen := &study.Traits{FirstBandNM: first, Bands: f.flat.Bands[(first-f.flat.FirstBandNM)/study.BandNM:][:n]}
	for i, v := range seen.Bands {
		w, _ := band(&f.steep.Traits, first+i*study.BandNM)
		f.from, f.to = f.from+v/float64(n), f.to+w/float64(n)
	}
	if f.from-f.to <= angleMargin.beside(f.from) {
		return false
	}
	least := math.Inf(1) // rise under any film, or without one
	below, above := filmMeans(c.glass, flat, seen), filmMeans(c.glass, steep, seen)
	for i := range min(len(below), len(above)) {
		least = min(least, above[i].lo-below[i].hi)
	}
	return f.to-f.from < least-angleMargin.beside(f.from)
}
