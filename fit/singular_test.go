package fit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// twins is a decay whose amplitude is the sum of two parameters, so that two
// columns are equal, besides a rate, an offset and a parameter without effect.
func twins() *fit.Problem {
	p := &fit.Problem{Params: []fit.Param{
		{Name: "left", Start: 1}, {Name: "rate", Start: 0.2}, {Name: "right", Start: 2}, {Name: "offset", Start: 0.5},
		{Name: "idle", Start: 7},
	}, Points: 20}
	decay := func(i int, rate float64) (e, slope float64) {
		e = math.Exp(-rate * float64(i))
		return e, -float64(i) * e
	}
	p.Residuals = func(dst, x []float64) {
		for i := range dst {
			e, _ := decay(i, x[1])
			want, _ := decay(i, 0.3)
			dst[i] = (x[0]+x[2])*e + x[3] - (5*want + 1)
		}
	}
	p.Jacobian = func(dst, x []float64) {
		for i := range p.Points {
			e, slope := decay(i, x[1])
			copy(dst[5*i:], []float64{e, (x[0] + x[2]) * slope, e, 1, 0})
		}
	}
	return p
}

func TestSingular(t *testing.T) {
	jacobian := twins().Jacobian
	for name, f := range map[string]func(dst, x []float64){"derivatives": jacobian, "differences": nil} {
		t.Run(name, func(t *testing.T) {
			p := twins()
			p.Jacobian = f
			r := solve(t, p, tight)
			assert.InDelta(t, 5, r.X[0]+r.X[2], 1e-7)
			assert.InDelta(t, 0.3, r.X[1], 1e-7)
			assert.InDelta(t, 1, r.X[3], 1e-7)
			assert.Equal(t, 7.0, r.X[4], "nothing moves it")
			for _, x := range r.X {
				assert.False(t, math.IsNaN(x) || math.IsInf(x, 0))
			}

			cov, err := r.Covariance()
			assert.Nil(t, cov)
			var singular *fit.SingularError
			require.ErrorAs(t, err, &singular)
			assert.Equal(t, []string{"left", "right", "idle"}, singular.Params)
			assert.EqualError(t, err, "fit: the residuals and priors do not determine left, right, idle")
		})
	}
}

// Priors on one twin and on the idle parameter make the same problem determined.
// Then right = 3 ± 0.1 is its prior, and left, of which the data know the sum
// with right, has the variance of that sum and of the prior.
func TestSingularCured(t *testing.T) {
	p := twins()
	p.Params[2].Prior = fit.Prior{Mean: 3, SD: 0.1}
	p.Params[4].Prior = fit.Prior{Mean: 6, SD: 2}
	r := solve(t, p, tight)
	assert.InDeltaSlice(t, []float64{2, 0.3, 3, 1, 6}, r.X, 1e-7)
	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.InEpsilon(t, 0.01, cov.At(2, 2), 1e-9)
	assert.InEpsilon(t, 4, cov.At(4, 4), 1e-9)
	assert.InEpsilon(t, -0.01, cov.At(0, 2), 1e-9)
	assert.InDelta(t, 0, cov.At(4, 0), 1e-12)

	p.Params[2].Prior, p.Params[2].Fixed, p.Params[2].Start = fit.Prior{}, true, 3
	r = solve(t, p, tight)
	pinned, err := r.Covariance()
	require.NoError(t, err)
	assert.InEpsilon(t, pinned.At(0, 0)+0.01, cov.At(0, 0), 1e-9)
}

// More parameters than the residuals can tell apart, all of one size.
func TestSingularAtStart(t *testing.T) {
	p := &fit.Problem{
		Params: []fit.Param{{Name: "a"}, {Name: "b"}, {Name: "c"}}, Points: 3,
		Residuals: func(dst, x []float64) {
			for i := range dst {
				dst[i] = float64(i+1) * (x[0] + 2*x[1] - 3*x[2] - 4)
			}
		},
	}
	r := solve(t, p, nil)
	assert.InDelta(t, 0, r.Cost, 1e-12)
	_, err := r.Covariance()
	var singular *fit.SingularError
	require.ErrorAs(t, err, &singular)
	assert.Equal(t, []string{"a", "b", "c"}, singular.Params)
}

func TestStandardErrorsPanics(t *testing.T) {
	cov := mat.NewSymDense(2, []float64{4, 1, 1, 9})
	assert.Equal(t, []float64{2, 3}, fit.StandardErrors(nil, cov))
	assert.Panics(t, func() { fit.StandardErrors(make([]float64, 3), cov) })
}
