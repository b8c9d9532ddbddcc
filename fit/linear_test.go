package fit_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// line returns the straight line a + b·x through data of standard uncertainty
// sigma.
func line(x, y []float64, sigma float64, a, b fit.Param) *fit.Problem {
	return &fit.Problem{
		Params: []fit.Param{a, b}, Points: len(x),
		Residuals: func(dst, p []float64) {
			for i := range x {
				dst[i] = (p[0] + p[1]*x[i] - y[i]) / sigma
			}
		},
		Jacobian: func(dst, _ []float64) {
			for i := range x {
				dst[2*i], dst[2*i+1] = 1/sigma, x[i]/sigma
			}
		},
	}
}

func solve(t *testing.T, p *fit.Problem, s *fit.Settings) *fit.Result {
	t.Helper()
	r, err := fit.Solve(context.Background(), p, s)
	require.NoError(t, err)
	require.True(t, r.Converged(), "%v at %v", r.Reason, r.X)
	return r
}

func norris(t *testing.T) (x, y []float64) {
	rows := readCSV(t, "testdata/norris.csv")
	for _, row := range rows {
		x, y = append(x, row[0]), append(y, row[1])
	}
	return x, y
}

// Certified values of NIST StRD Norris (linear regression).
func TestNorris(t *testing.T) {
	x, y := norris(t)
	for name, jacobian := range map[string]bool{"derivatives": true, "differences": false} {
		t.Run(name, func(t *testing.T) {
			p := line(x, y, 1, fit.Param{Name: "a", Start: 1000}, fit.Param{Name: "b", Start: -7})
			// A linear problem takes one full step. What remains are rounding errors,
			// with the intercept at a 4000th of the data, and for differences those
			// divided by the steps.
			relative := 1e-12
			if !jacobian {
				p.Jacobian = nil
				relative = 1e-8
			}
			r := solve(t, p, tight)
			assert.InEpsilon(t, -0.262323073774029, r.X[0], relative*100)
			assert.InEpsilon(t, 1.00211681802045, r.X[1], relative)
			assert.InEpsilon(t, 26.6173985294224, r.Cost, 1e-12)

			cov, err := r.Covariance()
			require.NoError(t, err)
			sd := fit.StandardErrors(nil, cov)
			s := math.Sqrt(r.Cost / float64(r.DegreesOfFreedom()))
			assert.InEpsilon(t, 0.884796396144373, s, 1e-12)
			assert.InEpsilon(t, 0.232818234301152, sd[0]*s, relative*100)
			assert.InEpsilon(t, 0.429796848199937e-3, sd[1]*s, relative*100)
		})
	}
}

// The posterior of a normal mean with a normal prior and known variances is
// normal, with precision 1/s² + n/σ² and mean (m/s² + n·ȳ/σ²) over that. (Gelman
// et al., Bayesian Data Analysis, section on the normal model; from memory.)
func TestConjugateMean(t *testing.T) {
	const m, s, sigma = 10.0, 0.5, 2.0
	data := []float64{12.1, 9.4, 13.3, 11.8, 10.9} // made up, mean 11.5
	precision := 1/(s*s) + 5/(sigma*sigma)
	mean := (m/(s*s) + 5*11.5/(sigma*sigma)) / precision

	r := solve(t, &fit.Problem{
		Params: []fit.Param{{Name: "mean", Start: 3, Prior: fit.Prior{Mean: m, SD: s}}},
		Points: len(data),
		Residuals: func(dst, x []float64) {
			for i, y := range data {
				dst[i] = (x[0] - y) / sigma
			}
		},
	}, nil)
	assert.InEpsilon(t, mean, r.X[0], 1e-9) // differences
	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.InEpsilon(t, 1/precision, cov.At(0, 0), 1e-9)
	assert.Equal(t, 5, r.DegreesOfFreedom())

	// Σ(y-x)²/σ² and (x-m)²/s²
	prior := (mean - m) * (mean - m) / (s * s)
	scatter := 0.0
	for _, y := range data {
		scatter += (y - mean) * (y - mean) / (sigma * sigma)
	}
	assert.InEpsilon(t, scatter, r.DataCost, 1e-12)
	assert.InEpsilon(t, scatter+prior, r.Cost, 1e-12)
}

// For a linear model with normal priors the posterior is normal with precision
// matrix Λ = X'X/σ² + diag(1/s²) and mean Λ⁻¹(X'y/σ² + m/s²) (the same book; from
// memory), written out here for two parameters.
func TestConjugateLine(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4, 5}
	y := []float64{1.2, 2.7, 5.4, 6.8, 9.3, 10.9} // made up
	const sigma, ma, sa, mb, sb = 0.7, 0.5, 0.3, 1.5, 0.05
	n, sx, sxx, sy, sxy := 6.0, 15.0, 55.0, 36.3, 0.0
	for i := range x {
		sxy += x[i] * y[i]
	}
	w := 1 / (sigma * sigma)
	aa, ab, bb := n*w+1/(sa*sa), sx*w, sxx*w+1/(sb*sb)
	ra, rb := sy*w+ma/(sa*sa), sxy*w+mb/(sb*sb)
	det := aa*bb - ab*ab

	r := solve(t, line(x, y, sigma,
		fit.Param{Name: "a", Prior: fit.Prior{Mean: ma, SD: sa}},
		fit.Param{Name: "b", Prior: fit.Prior{Mean: mb, SD: sb}}), nil)
	assert.InEpsilon(t, (bb*ra-ab*rb)/det, r.X[0], 1e-12)
	assert.InEpsilon(t, (aa*rb-ab*ra)/det, r.X[1], 1e-12)

	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.InEpsilon(t, bb/det, cov.At(0, 0), 1e-12)
	assert.InEpsilon(t, -ab/det, cov.At(0, 1), 1e-12)
	assert.InEpsilon(t, aa/det, cov.At(1, 1), 1e-12)
	corr := fit.Correlation(cov)
	assert.InEpsilon(t, -ab/math.Sqrt(aa*bb), corr.At(0, 1), 1e-12)
	assert.InEpsilon(t, 1, corr.At(0, 0), 1e-15)
}

// A parameter that no residual depends on keeps its prior; it makes up for a
// missing point, too.
func TestOnlyAPrior(t *testing.T) {
	r := solve(t, &fit.Problem{
		Params: []fit.Param{{Start: 5}, {Start: 1, Prior: fit.Prior{Mean: 2, SD: 0.25}}},
		Points: 1,
		Residuals: func(dst, x []float64) {
			dst[0] = (x[0] - 3) / 0.1
		},
	}, nil)
	assert.InDeltaSlice(t, []float64{3, 2}, r.X, 1e-9) // differences
	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{0.1, 0.25}, fit.StandardErrors(make([]float64, 2), cov), 1e-9)
	assert.Zero(t, cov.At(0, 1))
}

func TestPins(t *testing.T) {
	x, y := norris(t)
	slope := 0.99
	mean := func(v []float64) (m float64) {
		for _, e := range v {
			m += e / float64(len(v))
		}
		return m
	}
	p := line(x, y, 2, fit.Param{Name: "a"}, fit.Param{Name: "b", Start: slope, Fixed: true,
		Prior: fit.Prior{Mean: 1, SD: 0.02}})
	residuals := p.Residuals
	p.Residuals = func(dst, v []float64) {
		assert.Equal(t, slope, v[1], "a pin moves")
		residuals(dst, v)
	}
	for name, jacobian := range map[string]func(dst, x []float64){"derivatives": p.Jacobian, "differences": nil} {
		t.Run(name, func(t *testing.T) {
			p.Jacobian = jacobian
			r := solve(t, p, tight)
			assert.InEpsilon(t, mean(y)-slope*mean(x), r.X[0], 1e-9) // intercept of a line of known slope
			assert.Equal(t, slope, r.X[1])
			assert.Equal(t, 35, r.DegreesOfFreedom(), "the prior of a pin is no observation")
			assert.InEpsilon(t, 0.25, r.Cost-r.DataCost, 1e-9, "but it costs ((0.99-1)/0.02)²")

			cov, err := r.Covariance()
			require.NoError(t, err)
			assert.InEpsilon(t, 4.0/36, cov.At(0, 0), 1e-9) // σ²/n
			assert.Zero(t, cov.At(0, 1))
			assert.Zero(t, cov.At(1, 1))
			assert.Equal(t, 0.0, fit.Correlation(cov).At(1, 1))
		})
	}
}

func TestEverythingPinned(t *testing.T) {
	x, y := []float64{1, 2}, []float64{1, 4}
	r := solve(t, line(x, y, 1, fit.Param{Start: 0, Fixed: true}, fit.Param{Start: 1, Fixed: true}), nil)
	assert.Equal(t, []float64{0, 1}, r.X)
	assert.Equal(t, 4.0, r.Cost)
	assert.Equal(t, 0, r.Iterations)
	assert.Equal(t, 2, r.DegreesOfFreedom())
	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.Equal(t, []float64{0, 0}, fit.StandardErrors(nil, cov))
}
