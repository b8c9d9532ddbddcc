package fit_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// Two parameters of which the residual sees the sum alone, with sigma 1: knowledge
// of sd 2 and 3 gives the covariance of the conjugate Gaussian posterior, the
// inverse of [[1+1/4, 1], [1, 1+1/9]]: determinant 1.25·10/9 - 1 = 7/18, so
// (20/7, -18/7; -18/7, 45/14), by hand.
func TestCovarianceWithMoreKnowledge(t *testing.T) {
	p := &fit.Problem{
		Params: []fit.Param{{Name: "a"}, {Name: "pinned", Start: 5, Fixed: true}, {Name: "b"}}, Points: 3,
		Residuals: func(dst, x []float64) { dst[0], dst[1], dst[2] = x[0]+x[2]-1, 0, 0 },
		Jacobian: func(dst, x []float64) {
			clear(dst)
			dst[0], dst[2] = 1, 1
		},
	}
	r, err := fit.Solve(context.Background(), p, nil)
	require.NoError(t, err)
	_, err = r.Covariance()
	var singular *fit.SingularError
	require.ErrorAs(t, err, &singular)
	assert.Equal(t, []string{"a", "b"}, singular.Params)

	cov, err := r.CovarianceWith([]float64{2, 0, 3})
	require.NoError(t, err)
	assert.InDelta(t, 20./7, cov.At(0, 0), 1e-12)
	assert.InDelta(t, -18./7, cov.At(0, 2), 1e-12)
	assert.InDelta(t, 45./14, cov.At(2, 2), 1e-12)
	assert.Zero(t, cov.At(1, 1))
	assert.Panics(t, func() { _, _ = r.CovarianceWith([]float64{1}) })

	// Where nothing is added, it is the plain covariance.
	p.Params[0].Prior, p.Params[2].Prior = fit.Prior{SD: 2}, fit.Prior{SD: 3}
	r, err = fit.Solve(context.Background(), p, nil)
	require.NoError(t, err)
	plain, err := r.Covariance()
	require.NoError(t, err)
	same, err := r.CovarianceWith([]float64{0, 0, 0})
	require.NoError(t, err)
	for i := range 3 {
		for j := range 3 {
			assert.InDelta(t, plain.At(i, j), same.At(i, j), 1e-12)
		}
	}
	assert.InDelta(t, 20./7, plain.At(0, 0), 1e-12)
}
