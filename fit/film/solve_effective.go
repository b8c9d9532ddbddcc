package film

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Residuals that are correlated along the wavelength carry less information than the same
// number of independent ones. With the correlation ρ of neighbours, n points of an
// autoregressive process of first order count as
//
//	n · (1 - ρ) / (1 + ρ)
//
// independent points (G. V. Bayley, J. M. Hammersley, J. R. Stat. Soc. Suppl. 8, 184
// (1946), from memory). ρ comes from the ratio of J. von Neumann,
//
//	ρ = 1 - Σ (r_i - r_{i-1})² / (2·Σ r_i²)
//
// with the sums over all curves.

// correlationSigmas is the least correlation that counts, in units of its standard deviation 1/√n. A smaller one
// may be due to chance, and would widen uncertainties at random.
const correlationSigmas = 3.0

// correlatedShare is the effective share of the points below which a verdict has a flag.
const correlatedShare = 0.5

// denseGrid is the number of points of a compressed curve from which Σ (differences of readings)² is taken as the
// sum of those of the residuals and of the model. On fewer points the two may be correlated by chance.
const denseGrid = 150

// effectiveShare returns the effective share of the points, above 0 and at most 1, at the point of the last call
// of fillNormalEquations. For compressed curves it uses the full grids only if a fast estimate is above half the limit.
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

// neighbourCorrelation returns the correlation ρ of neighbouring residuals. If exact, it uses the full grids of all
// curves.
func (m *model) neighbourCorrelation(exact bool) float64 {
	var successive, squares float64
	for k := range m.curves {
		c := &m.curves[k]
		w := 1 / (c.sigma * c.sigma)
		switch {
		case c.packed == nil:
			residuals := floats.SubTo(make([]float64, len(c.r)), c.fitted, c.r)
			successive += w * stepsOf(residuals)
			squares += w * floats.Dot(residuals, residuals)
		case exact || c.points < denseGrid:
			residuals := make([]float64, c.points)
			c.packed.at.interpolate(residuals, c.fitted)
			floats.Sub(residuals, c.readings)
			successive += w * stepsOf(residuals)
			squares += w * floats.Dot(residuals, residuals)
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
