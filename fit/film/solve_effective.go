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

// correlationSigmas is how many of its standard deviations, 1/√n, a correlation must lie above 0 to count.
// Otherwise one that is not there would widen uncertainties at random.
const correlationSigmas = 3.0

// correlatedShare is the effective share of the points below which [Flags] has a flag.
const correlatedShare = 0.5

// denseGrid is the number of points from which on the readings of a compressed curve are taken to have, on
// average, the differences of the residuals plus those of the model. On fewer points the two may be correlated
// by chance.
const denseGrid = 150

// effectiveShare returns the effective share of the points, above 0 and at most 1, where fillNormalEquations
// was called last. For compressed curves it first estimates it without the whole grids.
func (m *model) effectiveShare() float64 {
	limit := correlationSigmas / math.Sqrt(float64(m.points))
	rho := m.neighbourCorrelation(false)
	if rho > limit/2 {
		rho = m.neighbourCorrelation(true)
	}
	if rho < limit {
		return 1
	}
	return (1 - rho) / (1 + rho)
}

// neighbourCorrelation returns the correlation of neighbouring residuals; exact: on the whole
// grids of all curves.
func (m *model) neighbourCorrelation(exact bool) float64 {
	var successive, squares float64
	for k := range m.curves {
		c := &m.curves[k]
		w := 1 / (c.sigma * c.sigma)
		switch {
		case c.packed == nil:
			whole := floats.SubTo(make([]float64, len(c.r)), c.fitted, c.r)
			successive += w * stepsOf(whole)
			squares += w * floats.Dot(whole, whole)
		case exact || c.points < denseGrid:
			whole := make([]float64, c.points)
			c.packed.at.interpolate(whole, c.fitted)
			floats.Sub(whole, c.readings)
			successive += w * stepsOf(whole)
			squares += w * floats.Dot(whole, whole)
		default:
			successive += w * max(0, c.steps-c.packed.at.steps(c.fitted))
			squares += w*c.unpackedSquares + m.curveCosts[k]
		}
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
