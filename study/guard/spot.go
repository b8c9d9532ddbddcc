package guard

import (
	"math"

	"wane/study"
)

// Limits of the guard of the level of whole spots. Common practice, no source; spot_test.go has the rates of
// simulated readings.
const (
	brightLeast, brightMost = 1.6, 10.0 // range of the factor of a wrong reference
	brightReadings          = 3         // least number of readings of a spot; many factors explain fewer
	patchStep               = 0.1       // step of the bare fraction
)

// spots returns the readings for which accept is true, in groups of one spot at one pull in one condition,
// polarisation, quantity and replicate, in the order of the first of each.
func (j *judging) spots(accept func(*Reading) bool) (all [][]*Reading) {
	type spot struct {
		study.Unit
		setting
	}
	at := map[spot]int{}
	for i := range j.seen {
		s := &j.seen[i]
		if !accept(s) {
			continue
		}
		k := spot{study.Unit{Coupon: s.Coupon, Pull: s.Pull, Spot: s.Spot, Condition: s.Condition}, ownSetting(&s.Place)}
		k.angleDeg = 0
		if _, ok := at[k]; !ok {
			at[k], all = len(all), append(all, nil)
		}
		all[at[k]] = append(all[at[k]], s)
	}
	return all
}

// bright holds all readings of a spot of coated glass if one is brighter than under any film, and if one film
// explains all of them divided by one factor. Then the reference was wrong, and not an angle. The other readings
// cannot be judged singly, since a film may reflect almost nothing or nearly as much as glass. One bright reading
// beside good ones needs no such factor, or a smaller one.
func (j *judging) bright() {
	coated := func(s *Reading) bool {
		c, _, ok := j.guard.key(&s.Place)
		return ok && c.Role.Coated() && s.Standing != study.Aside && len(s.Bands) > 0
	}
	for _, spot := range j.spots(coated) {
		if len(spot) < brightReadings || !j.tooBright(spot) {
			continue
		}
		by, ok := j.guard.divisor(spot)
		if !ok {
			continue
		}
		for _, s := range spot {
			if s.Standing == study.Counted {
				j.hold(s, levelWord, "another reading of this spot is brighter than under any film, and one film explains all "+
					"%d of them if they are divided by about %s: the reference may have been wrong, or the wrong one; measure the "+
					"spot again", len(spot), threeDigits(by))
			}
		}
	}
}

// tooBright reports whether a reading of the spot is held and brighter than under any film.
func (j *judging) tooBright(spot []*Reading) bool {
	for _, s := range spot {
		c, k, _ := j.guard.key(&s.Place)
		mis, outside := j.guard.film(c.glass, k).compare(&s.Traits, 1, 1, coatedMargin)
		if s.Standing == study.Held && outside && mis.level > mis.hi {
			return true
		}
	}
	return false
}

// divisor returns the smallest factor by which all readings of a spot must be divided so that one film, patchy or
// not, explains them within the limits of the level. For each film the factor is the mean reading over the mean
// level. ok is false if the factor is outside brightLeast to brightMost.
func (g *Guard) divisor(spot []*Reading) (by float64, ok bool) {
	films := make([][]levelRange, len(spot)) // by reading and film
	bare := make([]levelRange, len(spot))
	for i, s := range spot {
		c, k, _ := g.key(&s.Place)
		first, n := knownBands(c.glass)
		eachFilm(c.glass, k, first, n, func(lo, hi []float64) {
			var f levelRange
			f.widen(first, lo, hi)
			films[i] = append(films[i], f)
		})
		if bare[i] = g.bare(c.glass, k); len(films[i]) != len(films[0]) {
			return 0, false // the films cannot be computed at one of the angles
		}
	}
	least := math.Inf(1)
	for f := range films[0] {
		for share := 0.0; share < 1+patchStep/2; share += patchStep {
			read, made := 0.0, 0.0
			for i, s := range spot {
				v, lo, hi := films[i][f].means(&s.Traits)
				_, bareLo, bareHi := bare[i].means(&s.Traits)
				read, made = read+v, made+((1-share)*(lo+hi)+share*(bareLo+bareHi))/2
			}
			by := read / made
			fits := func(i int) bool { return films[i][f].explains(&spot[i].Traits, by, bare[i], share) }
			if by < least && allOf(len(spot), fits) {
				least = by
			}
		}
	}
	return least, least >= brightLeast && least <= brightMost
}

// allOf reports whether is is true of all numbers from 0 to n-1.
func allOf(n int, is func(int) bool) bool {
	for i := range n {
		if !is(i) {
			return false
		}
	}
	return true
}

// explains reports whether a film that leaves a share of the surface bare explains a reading divided by a
// factor: fewer than 1 of bandsPerOutlier bands lie outside.
func (s levelRange) explains(t *study.Traits, by float64, bare levelRange, share float64) bool {
	bands, out := 0, 0
	for i := range s.lo {
		v, ok := band(t, s.firstNM+i*study.BandNM)
		if !ok || i >= len(bare.lo) {
			continue
		}
		lo, hi := (1-share)*s.lo[i]+share*bare.lo[i], (1-share)*s.hi[i]+share*bare.hi[i]
		bands++
		if v /= by; v < lo-coatedMargin.beside(lo) || v > hi+coatedMargin.beside(hi) {
			out++
		}
	}
	return bands > 0 && bandsPerOutlier*out < bands
}
