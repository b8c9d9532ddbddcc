package film

import "math"

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

// share returns the effective share of the points at x, above 0 and at most 1.
func (m *model) share(x []float64) float64 {
	res := make([]float64, m.rows)
	m.residuals(res, x)
	var successive, squares float64
	for k, at := 0, 0; k < len(m.curves); k++ {
		c := &m.curves[k]
		own := res[at : at+len(c.nm)]
		at += len(c.nm)
		for _, r := range own {
			squares += r * r
		}
		if c.c == nil {
			for i := 1; i < len(own); i++ {
				successive += (own[i] - own[i-1]) * (own[i] - own[i-1])
			}
			continue
		}
		// A compressed curve: its readings have the differences of the residuals plus
		// those of the smooth model, which hardly hang together with them.
		squares += c.left / (c.sigma * c.sigma)
		model := m.column(0, len(own))
		for i, r := range own {
			model[i] = c.r[i] + r/c.root[i]
		}
		successive += max(0, c.steps-c.c.at.steps(model)) / (c.sigma * c.sigma)
	}
	if squares == 0 {
		return 1
	}
	rho := 1 - successive/(2*squares)
	if rho < certain/math.Sqrt(float64(m.points)) {
		return 1
	}
	return (1 - rho) / (1 + rho)
}

// stepsOf returns the sum of squares of the differences between neighbours.
func stepsOf(y []float64) (sum float64) {
	for i := 1; i < len(y); i++ {
		d := y[i] - y[i-1]
		sum += d * d
	}
	return sum
}
