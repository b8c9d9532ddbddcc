package fit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// At the upper end of the model's range differences must step down, at the lower
// end up; there is no bound to tell them. The derivative is that of a parabola, so
// that second-order differences have nothing but rounding errors.
func TestDifferencesAtEdge(t *testing.T) {
	for name, side := range map[string]float64{"no value above": 1, "no value below": -1} {
		t.Run(name, func(t *testing.T) {
			r := solve(t, &fit.Problem{
				Params: []fit.Param{{Start: 0.5}}, Points: 1,
				Residuals: func(dst, x []float64) {
					dst[0] = 3 * (x[0] - 0.5) * (x[0] - 2) // 0 at the start, slope -4.5
					if side*(x[0]-0.5) > 0 {
						dst[0] = math.NaN()
					}
				},
			}, nil)
			assert.Equal(t, 0.5, r.X[0])
			cov, err := r.Covariance()
			require.NoError(t, err)
			assert.InEpsilon(t, 1/(4.5*4.5), cov.At(0, 0), 1e-9)
		})
	}
}

// A model that lives on a scale of 1e-9, started from 0: without a word about that
// scale the steps of differences would leap over it, up to where the exponential
// overflows.
func TestDifferenceScale(t *testing.T) {
	const unit = 1e-9
	want := math.Log(5) * unit
	for name, p := range map[string]fit.Param{
		"scale":  {Scale: unit},
		"prior":  {Prior: fit.Prior{Mean: want, SD: unit}},
		"bounds": {Lower: -3 * unit, Upper: 3 * unit},
		"start":  {Start: unit / 10},
	} {
		t.Run(name, func(t *testing.T) {
			r := solve(t, &fit.Problem{
				Params: []fit.Param{p}, Points: 1,
				Residuals: func(dst, x []float64) { dst[0] = math.Exp(x[0]/unit) - 5 },
			}, nil)
			assert.InEpsilon(t, want, r.X[0], 1e-9)
		})
	}
}

// A parameter that lands next to 0 keeps steps of its own size: steps relative to
// what is left of it would drown in the rounding errors of 1 + 3x.
func TestDifferencesNearZero(t *testing.T) {
	r := solve(t, &fit.Problem{
		Params: []fit.Param{{Start: 2}}, Points: 1,
		Residuals: func(dst, x []float64) { dst[0] = 1 + 3*x[0] - 1 },
	}, tight)
	assert.InDelta(t, 0, r.X[0], 1e-16)
	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.InEpsilon(t, 1.0/9, cov.At(0, 0), 1e-6, "rounding errors 1e-16 over steps 1e-7")
}
