package fit_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// squared is p as a problem that gives its own normal equations.
func squared(p *fit.Problem) *fit.Problem {
	n, res, jac := len(p.Params), make([]float64, p.Points), make([]float64, p.Points*len(p.Params))
	return &fit.Problem{Params: p.Params, Points: p.Points, Normal: func(jj, jr, x []float64) (cost float64) {
		p.Residuals(res, x)
		p.Jacobian(jac, x)
		for i, r := range res {
			row := jac[i*n : (i+1)*n]
			cost += r * r
			for a, da := range row {
				jr[a] += r * da
				for b := a; b < n; b++ {
					jj[a*n+b] += da * row[b]
				}
			}
		}
		return cost
	}}
}

// TestNISTNormal holds the sets of NIST, given by their normal equations, to the
// certified values, from the nearer start. Squares halve the digits: 4 are asked
// for.
func TestNISTNormal(t *testing.T) {
	for _, s := range loadNIST(t) {
		t.Run(s.Name, func(t *testing.T) {
			r, err := fit.Solve(context.Background(), squared(s.problem(s.Start2)), nil)
			require.NoError(t, err)
			cov, err := r.Covariance()
			require.NoError(t, err)
			assert.GreaterOrEqual(t, digits(r.X, s.Certified), 4.0, "%v", r.X)
			sd := fit.StandardErrors(nil, cov)
			for j := range sd {
				sd[j] *= s.ResidualSD
			}
			assert.GreaterOrEqual(t, digits(sd, s.CertifiedSD), 4.0)
			assert.Equal(t, len(s.y)-len(s.Certified), r.DegreesOfFreedom())
		})
	}
}

// With priors, bounds and pins, the way over normal equations ends where that over
// residuals does, and allocates no more for many points than for few.
func TestNormalEqualsResiduals(t *testing.T) {
	for _, s := range loadNIST(t) {
		if s.Name != "Misra1a" && s.Name != "Thurber" && s.Name != "Gauss1" {
			continue
		}
		p := s.problem(s.Start2)
		p.Params[0].Prior = fit.Prior{Mean: 1.01 * s.Certified[0], SD: 0.01 * s.Certified[0]}
		p.Params[1].Lower, p.Params[1].Upper = math.Min(s.Start2[1], 1.001*s.Certified[1]),
			math.Max(s.Start2[1], 1.001*s.Certified[1])
		if len(p.Params) > 3 {
			p.Params[2].Fixed = true
		}
		want, err := fit.Solve(context.Background(), p, nil)
		require.NoError(t, err)
		got, err := fit.Solve(context.Background(), squared(p), nil)
		require.NoError(t, err)
		assert.InDelta(t, 1, got.Cost/want.Cost, 1e-9)
		assert.Equal(t, want.AtBound, got.AtBound)
		for j := range want.X {
			assert.InDelta(t, want.X[j], got.X[j], 1e-4*s.CertifiedSD[j], "%s b%d", s.Name, j+1)
		}
	}
}

// A parameter that nothing depends on, and two of which only the sum matters, are
// named; what is determined is found.
func TestNormalNotDetermined(t *testing.T) {
	p := squared(&fit.Problem{
		Params: []fit.Param{{Name: "a", Start: 1}, {Name: "b", Start: 1}, {Name: "c", Start: 1}, {Name: "idle", Start: 1}},
		Points: 4,
		Residuals: func(dst, x []float64) {
			for i := range dst {
				dst[i] = (x[0]+x[1])*float64(i) + x[2] - 3*float64(i) - 7
			}
		},
		Jacobian: func(dst, x []float64) {
			for i := range 4 {
				copy(dst[4*i:], []float64{float64(i), float64(i), 1, 0})
			}
		},
	})
	r, err := fit.Solve(context.Background(), p, nil)
	require.NoError(t, err)
	assert.InDelta(t, 3, r.X[0]+r.X[1], 1e-7)
	assert.InDelta(t, 7, r.X[2], 1e-7)
	assert.Equal(t, 1.0, r.X[3])
	var singular *fit.SingularError
	_, err = r.Covariance()
	require.ErrorAs(t, err, &singular)
	assert.Equal(t, []string{"a", "b", "idle"}, singular.Params)
}

// A sum of squares that is no number at the start is a fault of the problem.
func TestNormalNotFinite(t *testing.T) {
	p := &fit.Problem{Params: []fit.Param{{Start: 1}}, Points: 3, Normal: func(_, _,
		_ []float64) float64 {
		return math.NaN()
	}}
	_, err := fit.Solve(context.Background(), p, nil)
	var fault *fit.ProblemError
	require.ErrorAs(t, err, &fault)
	assert.Contains(t, fault.Error(), "sum of squares")
}
