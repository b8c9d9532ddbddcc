package foreign

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The figures of this file stand in the description of the measurement model, computed for it
// apart from the program; each is met to the digits printed unless it says otherwise.

func fresh() Surface {
	return Surface{Glass: SodaLime, Skeleton: 1.458, Thickness: 118, Porosity: 0.36}
}

func TestFigurePorosityOfAnIndex(t *testing.T) {
	// n = 1.30 means a porosity of 0.337 by Bruggeman, skeleton 1.460.
	assert.InDelta(t, 1.30, math.Sqrt(bruggeman(1.46*1.46, 1, 0.337)), 4e-4) // dn/dp is 0.7
	assert.InDelta(t, bruggeman(1.46*1.46, 1, 0.3), moist(1.46*1.46, 1.33*1.33, 0.3, 0), 1e-13)
	assert.InDelta(t, bruggeman(1.46*1.46, 1.33*1.33, 0.3), moist(1.46*1.46, 1.33*1.33, 0.3, 1), 1e-13)
}

// A ranking reversed by the weighting: gains of 110 and 130 nm, 3.26 and 3.13 by energy, 3.16 and
// 3.23 by photons. All four are met by a porosity of 0.35 and a skeleton of 1.460 with both
// weights taken over 300 to 1200 nm.
func TestFigureRankingReversed(t *testing.T) {
	for _, c := range []struct{ nm, energy, photons float64 }{{110, 3.26, 3.16}, {130, 3.13, 3.23}} {
		s := Surface{Glass: SodaLime, Skeleton: 1.460, Thickness: c.nm, Porosity: 0.35}
		assert.InDelta(t, c.energy, 100*(bandMean(s.unlayered(), 300, 1200, 0)-bandMean(s, 300, 1200, 0)), 0.005)
		assert.InDelta(t, c.photons, 100*(bandMean(s.unlayered(), 300, 1200, 1)-bandMean(s, 300, 1200, 1)), 0.005)
		// The simulator's own photon weights are over the same range.
		assert.InDelta(t, c.photons, truthOf(s).CellGainPP, 0.005)
	}
}

// bandMean returns the mean of R at normal incidence by the trapezoidal rule on the table of
// the sun, weighted by irradiance times wavelength to a power.
func bandMean(s Surface, low, high, power float64) float64 {
	table := columns(sunTable, 2)
	sum, total, before, weightBefore, rBefore := 0.0, 0.0, 0.0, 0.0, 0.0
	for i, lambda := range table[0] {
		if lambda < low || lambda > high {
			continue
		}
		r, w := s.at(lambda, 0, 1), table[1][i]*math.Pow(lambda, power)
		if before > 0 {
			sum += (lambda - before) * (w*r + weightBefore*rBefore) / 2
			total += (lambda - before) * (w + weightBefore) / 2
		}
		before, weightBefore, rBefore = lambda, w, r
	}
	return sum / total
}

func TestFigureShareOfTheSun(t *testing.T) {
	// 380-1100 nm holds 78 % of the irradiance (of 300-2500 nm).
	table := columns(sunTable, 2)
	part, total := 0.0, 0.0
	for i := 1; i < len(table[0]); i++ {
		step := (table[0][i] - table[0][i-1]) * (table[1][i] + table[1][i-1]) / 2
		if table[0][i-1] >= 300 && table[0][i] <= 2500 {
			total += step
		}
		if table[0][i-1] >= 380 && table[0][i] <= 1100 {
			part += step
		}
	}
	assert.InDelta(t, 0.78, part/total, 0.005)
}

func TestFigureLeachedGlass(t *testing.T) {
	// A 50 nm leached skin of index 1.48 lowers R by 0.45 pp; it was stated to 0.01.
	s := fresh().unlayered()
	s.Leach = 50
	truth := truthOf(s)
	assert.InDelta(t, 0.45, truth.GainPP, 0.006)
	assert.InDelta(t, truth.SolarT, truth.SolarLossless, 1e-12)
}

func TestFigureAbsorption(t *testing.T) {
	// A film with k 0.001 costs 0.2 pp, which 1 - R does not show.
	s := fresh()
	s.FilmK = 0.001
	loss := truthOf(s)
	assert.InDelta(t, 0.2, 100*(loss.SolarLossless-loss.SolarT), 0.05)
	assert.InDelta(t, 0, 100*(loss.SolarLossless-fresh().Solar().SolarT), 0.01)
	// 3 nm of residue with k 0.05 read as a gain of 0.36 pp: by so much 1 - R exceeds what passes.
	// Its index was not stated: 1.58 gives 0.36, the 1.7 of this package 0.39.
	s = fresh()
	s.Residue, s.ResidueIndex = 3, complex(1.58, 0.05)
	loss = truthOf(s)
	assert.InDelta(t, 0.36, 100*(loss.SolarLossless-loss.SolarT), 0.005)
	s.ResidueIndex = Prior().ResidueIndex
	loss = truthOf(s)
	assert.InDelta(t, 0.36, 100*(loss.SolarLossless-loss.SolarT), 0.04)
	assert.Less(t, loss.SolarT, fresh().Solar().SolarT)
}

// 10, 30 and 100 % of the pores filled with water cost 0.06, 0.23 and 1.13 pp. How partly
// filled pores were mixed was not stated; three parts by Bruggeman's rule come within 0.01 pp, full
// pores within 0.05.
func TestFigurePoreWater(t *testing.T) {
	for filled, want := range map[float64][2]float64{0.1: {0.06, 0.01}, 0.3: {0.23, 0.01}, 1: {1.13, 0.05}} {
		s := fresh()
		s.Water = filled
		assert.InDelta(t, want[0], 100*(fresh().Solar().SolarT-s.Solar().SolarT), want[1], "filled %g", filled)
	}
}

// Six slices and more were stated to give solar_T within 0.0005 pp of fifty. Slices with the
// porosity of their middle do so from seven on; six leave 0.0006 pp at a gradient of +0.05.
func TestFigureSlices(t *testing.T) {
	by := func(s Surface, n int) float64 {
		var stack stack
		out := 1.0
		for j, lambda := range sunlight().knots {
			solid := s.Skeleton + silica(lambda) - silica(550)
			l, _ := stack.solve(lambda, 0, s.glassEps(lambda), s.slicesOn(nil, solid*solid, lambda, n), one)
			out -= sunlight().energy[j] * l.R
		}
		return out
	}
	for _, g := range []float64{-0.05, 0.05} {
		s := fresh()
		s.Gradient = g
		assert.InDelta(t, s.Solar().SolarT, by(s, Slices), 1e-12)
		assert.InDelta(t, by(s, Slices), by(s, 7), 5e-6, "gradient %g", g)
		assert.InDelta(t, by(s, 1000), by(s, Slices), 1e-7, "gradient %g", g)
	}
}

func TestMaterialLeft(t *testing.T) {
	// (1 - bare fraction) x (thickness x (1 - porosity) + t); a gradient moves no material.
	s := fresh()
	s.Bare, s.Skin, s.Gradient = 0.25, 5, 0.05
	assert.InDelta(t, 0.75*(118*0.64+5), s.MaterialLeft(), 1e-9)
	s.Thickness = 0
	assert.InDelta(t, 0, s.MaterialLeft(), 1e-12)
	s.Bare = 0
	assert.InDelta(t, s.unlayered().Solar().SolarT, s.Solar().SolarT, 1e-15)
	// All structure vanishes with the film.
	s.Variance, s.Thickness = 0.01, 1e-6
	assert.InDelta(t, s.unlayered().Solar().SolarT, s.Solar().SolarT, 1e-9)
}
