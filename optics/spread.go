package optics

import "math"

// spread is a quadrature over a distribution of thickness of relative variance
// v about its mean d: the sum of weight·R(d·(1 + offset)).
type spread struct {
	n  int
	at [9]struct {
		offset, weight   float64
		inverse          float64 // 1/(1 + offset)
		offsetV, weightV float64 // their derivatives by v
	}
}

const (
	// Up to these the three points are within 1e-5 of R of the seven, for
	// wavelengths from 360 nm.
	fewPointsVariance = 0.01
	fewPointsNM       = 150
	// From this variance to fewPointsVariance the three points give way to the
	// seven, so that R has no jump at which a fit would stall.
	bothRulesVariance = 0.008
	// Below this variance the points keep their places, so that R is linear in v.
	linearVariance = 1e-5
)

// gaussHermite averages over a normal distribution of standard deviation 1 (M.
// Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, table 25.10, from
// memory; moments checked in the tests).
var (
	gauss3 = [...][2]float64{{0, 2. / 3}, {-1.7320508075688772, 1. / 6}, {1.7320508075688772, 1. / 6}}
	gauss7 = [...][2]float64{
		{0, 0.4571428571428571},
		{-1.154405394739968, 0.2401231786050127}, {1.154405394739968, 0.2401231786050127},
		{-2.366759410734541, 3.075712396758645e-2}, {2.366759410734541, 3.075712396758645e-2},
		{-3.750439717725742, 5.482688559722185e-4}, {3.750439717725742, 5.482688559722185e-4},
	}
)

// spreadRule returns the quadrature for a film.
func spreadRule(d, v float64) (s spread) {
	switch {
	case v > fewPointsVariance || v > linearVariance && d > fewPointsNM:
		return spreadOver(gauss7[:], v)
	case v > bothRulesVariance:
		return bothRules(v)
	}
	return spreadOver(gauss3[:], v)
}

// bothRules returns (1-w) times the rule of three points and w times that of
// seven, with w = t²(3-2t) rising from 0 to 1 between the two variances.
func bothRules(v float64) spread {
	const width = fewPointsVariance - bothRulesVariance
	t := (v - bothRulesVariance) / width
	w, wV := t*t*(3-2*t), 6*t*(1-t)/width
	few, s := spreadOver(gauss3[:], v), spreadOver(gauss7[:], v)
	for i := range s.n {
		s.at[i].weightV = wV * s.at[i].weight
		s.at[i].weight *= w
	}
	s.at[0].weight += (1 - w) * few.at[0].weight // both have the mean thickness first
	s.at[0].weightV -= wV * few.at[0].weight
	for _, at := range few.at[1:few.n] {
		at.weight, at.weightV = (1-w)*at.weight, -wV*at.weight
		s.at[s.n] = at
		s.n++
	}
	return s
}

// spreadOver returns the quadrature over the points of a normal distribution.
func spreadOver(points [][2]float64, v float64) (s spread) {
	s.n = len(points)
	root := math.Sqrt(max(v, linearVariance))
	for i, p := range points {
		at := &s.at[i]
		at.offset, at.weight, at.offsetV = root*p[0], p[1], p[0]/(2*root)
		at.inverse = 1 / (1 + at.offset)
		if v > linearVariance {
			continue
		}
		at.weightV, at.offsetV = p[1]/linearVariance, 0
		at.weight = v * at.weightV
		if p[0] == 0 {
			at.weightV -= 1 / linearVariance
			at.weight = 1 + v*at.weightV
		}
	}
	return s
}
