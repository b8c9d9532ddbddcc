package film

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Residuals that hang together along the wavelength tell less than as many that do
// not. With the correlation ρ of neighbours, n points of an autoregressive process of
// first order are worth
//
//	n · (1 - ρ) / (1 + ρ)
//
// independent ones (G. V. Bayley, J. M. Hammersley, J. R. Stat. Soc. Suppl. 8, 184
// (1946), from memory). ρ comes from the ratio of J. von Neumann, the sum of squares
// of successive differences over twice the sum of squares, over all curves together.

// certain is how many standard deviations, 1/√n, above 0 a correlation must be to
// count: one that is not there would widen uncertainties at random.
const certain = 3.0

// correlatedShare is the share of effective points below which they are flagged.
const correlatedShare = 0.5

// denseGrid is the number of points from which on the readings of a compressed curve are
// taken to have, on average, the differences of the residuals plus those of the model;
// on few points the two may hang together by chance.
const denseGrid = 150

// share returns the effective share of the points at x, above 0 and at most 1. Compressed
// curves are first looked at without going back to their grids.
func (m *model) share(x []float64) float64 {
	limit := certain / math.Sqrt(float64(m.points))
	rho := m.neighbours(x, false)
	if rho > limit/2 {
		rho = m.neighbours(x, true)
	}
	if rho < limit {
		return 1
	}
	return (1 - rho) / (1 + rho)
}

// neighbours returns the correlation of neighbouring residuals; exact: on the whole
// grids of all curves.
func (m *model) neighbours(x []float64, exact bool) float64 {
	res := make([]float64, m.rows)
	m.residuals(res, x)
	var successive, squares float64
	for k, at := 0, 0; k < len(m.curves); k++ {
		c := &m.curves[k]
		own := res[at : at+len(c.nm)]
		at += len(c.nm)
		if c.c == nil {
			successive += stepsOf(own)
			squares += floats.Dot(own, own)
			continue
		}
		model := m.column(0, len(own))
		for i, r := range own {
			model[i] = c.r[i] + r/c.root[i]
		}
		w := 1 / (c.sigma * c.sigma)
		if exact || c.points < denseGrid {
			whole := make([]float64, c.points)
			c.c.at.interpolate(whole, model)
			floats.Sub(whole, c.readings)
			successive += w * stepsOf(whole)
			squares += w * floats.Dot(whole, whole)
			continue
		}
		successive += w * max(0, c.steps-c.c.at.steps(model))
		squares += w*c.left + floats.Dot(own, own)
	}
	if squares == 0 {
		return 0
	}
	return 1 - successive/(2*squares)
}

// stepsOf returns the sum of squares of the differences between neighbours.
func stepsOf(y []float64) (sum float64) {
	for i := 1; i < len(y); i++ {
		d := y[i] - y[i-1]
		sum += d * d
	}
	return sum
}
