package fit_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// one is a problem of one residual in one parameter, called x.
func one(start float64, f, slope func(x float64) float64) *fit.Problem {
	return &fit.Problem{
		Params: []fit.Param{{Name: "x", Start: start}}, Points: 1,
		Residuals: func(dst, x []float64) { dst[0] = f(x[0]) },
		Jacobian:  func(dst, x []float64) { dst[0] = slope(x[0]) },
	}
}

// edge has its minimum, 0, at -1, but no value below 0.
func edge() *fit.Problem {
	return one(1, func(x float64) float64 {
		if x < 0 {
			return math.NaN()
		}
		return x + 1
	}, func(float64) float64 { return 1 })
}

func TestReasons(t *testing.T) {
	wrong := nistProblem(t, "Misra1a", []float64{250, 0.0005})
	right := wrong.Jacobian
	wrong.Jacobian = func(dst, x []float64) {
		right(dst, x)
		for i := range dst {
			dst[i] = -dst[i]
		}
	}
	misra := func() *fit.Problem { return nistProblem(t, "Misra1a", []float64{250, 0.0005}) }
	for _, c := range []struct {
		name      string
		problem   *fit.Problem
		settings  *fit.Settings
		want      fit.Reason
		text      string
		converged bool
	}{
		{"cost", misra(), &fit.Settings{CostTol: 1e-6, StepTol: -1, GradTol: -1}, fit.CostConverged, "cost converged", true},
		{"step", misra(), &fit.Settings{CostTol: -1, StepTol: 1e-4, GradTol: -1}, fit.StepConverged, "step converged", true},
		{"gradient", misra(), &fit.Settings{CostTol: -1, StepTol: -1, GradTol: 1e-4}, fit.GradConverged,
			"gradient converged", true},
		{"no residual left", one(4, func(x float64) float64 { return x - 2 }, func(float64) float64 { return 1 }), nil,
			fit.GradConverged, "gradient converged", true},
		{"limit", misra(), &fit.Settings{MaxIterations: 2}, fit.IterationLimit, "iteration limit", false},
		{"wrong sign of the Jacobian", wrong, nil, fit.Stalled, "stalled", false},
		{"no value where the way leads", edge(), nil, fit.Stalled, "stalled", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := fit.Solve(context.Background(), c.problem, c.settings)
			require.NoError(t, err)
			assert.Equal(t, c.want, r.Reason, "at %v after %d iterations", r.X, r.Iterations)
			assert.Equal(t, c.text, r.Reason.String())
			assert.Equal(t, c.converged, r.Converged())
		})
	}
	assert.Equal(t, "not run", fit.Reason(0).String())
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	p := valley([]float64{-1.2, 1})
	calls, residuals := 0, p.Residuals
	p.Residuals = func(dst, x []float64) {
		if calls++; calls == 5 {
			cancel()
		}
		residuals(dst, x)
	}
	r, err := fit.Solve(ctx, p, nil)
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, fit.Cancelled, r.Reason)
	assert.Equal(t, "cancelled", r.Reason.String())
	assert.False(t, r.Converged())
	assert.Equal(t, 5, r.Evaluations, "no evaluation after the end of the context")
	assert.Less(t, r.Cost, 24.2, "the cost of the start, 100·0.44² + 2.2²")

	r, err = fit.Solve(ctx, p, nil)
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, []float64{-1.2, 1}, r.X)
	assert.Zero(t, r.Iterations)
}

// Steps that lead to where there is no value are taken back. The full first step
// from 10 is to 10·(1 - ln 10000) < 0, where the logarithm is not defined.
func TestNoValueAtTrial(t *testing.T) {
	for name, bad := range map[string]float64{"NaN": math.NaN(), "Inf": math.Inf(1), "too large to square": 1e200} {
		t.Run(name, func(t *testing.T) {
			met := false
			p := one(10, func(x float64) float64 {
				if x <= 0 {
					met = true
					return bad
				}
				return math.Log(x / 0.001)
			}, func(x float64) float64 { return 1 / x })
			r := solve(t, p, tight)
			assert.InEpsilon(t, 0.001, r.X[0], 1e-12)
			assert.True(t, met, "the case is not what it says")
		})
	}
}

// A point whose Jacobian is not finite is not accepted either: the derivative of
// the root is infinite on the bound.
func TestNoDerivativeAtTrial(t *testing.T) {
	met := false
	p := one(1, func(x float64) float64 { return math.Sqrt(x) + 1 },
		func(x float64) float64 {
			met = met || x == 0
			return 0.5 / math.Sqrt(x)
		})
	p.Params[0].Upper = 4
	r, err := fit.Solve(context.Background(), p, nil)
	require.NoError(t, err)
	assert.True(t, met, "the case is not what it says")
	assert.Greater(t, r.X[0], 0.0)
	assert.InDelta(t, 1, r.Cost, 1e-11, "the lowest cost, that on the bound, to the default tolerance times ten")
	_, err = r.Covariance()
	require.NoError(t, err)
}

func TestErrors(t *testing.T) {
	ok := func() *fit.Problem {
		return line([]float64{1, 2, 3}, []float64{1, 2, 4}, 1, fit.Param{Name: "a"}, fit.Param{Name: "b", Start: 1})
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name  string
		spoil func(p *fit.Problem)
		want  fit.ProblemError
		text  string
	}{
		{"no points", func(p *fit.Problem) { p.Points = 0 },
			fit.ProblemError{Quantity: "number of points"}, "fit: number of points is 0: there must be at least one"},
		{"no parameters", func(p *fit.Problem) { p.Params = nil },
			fit.ProblemError{Quantity: "number of parameters"}, ""},
		{"no residuals", func(p *fit.Problem) { p.Residuals = nil },
			fit.ProblemError{Quantity: "number of residual functions"}, ""},
		{"too few residuals", func(p *fit.Problem) { p.Points = 1 },
			fit.ProblemError{Quantity: "number of residuals and priors", Value: 1},
			"fit: number of residuals and priors is 1: fewer than the 2 free parameters"},
		{"start NaN", func(p *fit.Problem) { p.Params[1].Start = nan },
			fit.ProblemError{Param: "b", Quantity: "start", Value: nan},
			`fit: start of parameter "b" is NaN: it must be finite`},
		{"start infinite, unnamed", func(p *fit.Problem) { p.Params[1] = fit.Param{Start: inf} },
			fit.ProblemError{Param: "#1", Quantity: "start", Value: inf}, ""},
		{"bounds crossed", func(p *fit.Problem) { p.Params[0].Lower, p.Params[0].Upper = 2, -1 },
			fit.ProblemError{Param: "a", Quantity: "lower bound", Value: 2},
			`fit: lower bound of parameter "a" is 2: it must be below the upper bound -1`},
		{"bounds equal", func(p *fit.Problem) { p.Params[1].Lower, p.Params[1].Upper = 1, 1 },
			fit.ProblemError{Param: "b", Quantity: "lower bound", Value: 1}, ""},
		{"bound NaN", func(p *fit.Problem) { p.Params[1].Upper = nan },
			fit.ProblemError{Param: "b", Quantity: "upper bound", Value: nan}, ""},
		{"other bound NaN", func(p *fit.Problem) { p.Params[1].Lower = nan },
			fit.ProblemError{Param: "b", Quantity: "lower bound", Value: nan}, ""},
		{"start below", func(p *fit.Problem) { p.Params[0].Lower, p.Params[0].Upper = 0.5, inf },
			fit.ProblemError{Param: "a", Quantity: "start", Value: 0},
			`fit: start of parameter "a" is 0: outside the bounds 0.5 to +Inf`},
		{"start above, pinned", func(p *fit.Problem) {
			p.Params[1] = fit.Param{Name: "b", Start: 3, Lower: -1, Upper: 1,
				Fixed: true}
		},
			fit.ProblemError{Param: "b", Quantity: "start", Value: 3}, ""},
		{"prior SD negative", func(p *fit.Problem) { p.Params[1].Prior.SD = -0.1 },
			fit.ProblemError{Param: "b", Quantity: "prior standard deviation", Value: -0.1}, ""},
		{"prior SD infinite", func(p *fit.Problem) { p.Params[1].Prior.SD = inf },
			fit.ProblemError{Param: "b", Quantity: "prior standard deviation", Value: inf}, ""},
		{"prior mean NaN", func(p *fit.Problem) { p.Params[1].Prior = fit.Prior{Mean: nan, SD: 1} },
			fit.ProblemError{Param: "b", Quantity: "prior mean", Value: nan}, ""},
		{"scale negative", func(p *fit.Problem) { p.Params[1].Scale = -1 },
			fit.ProblemError{Param: "b", Quantity: "scale", Value: -1}, ""},
		{"residual not finite", func(p *fit.Problem) {
			p.Residuals = func(dst, _ []float64) { dst[0], dst[1], dst[2] = 1, 2, inf }
		}, fit.ProblemError{Quantity: "residual 2", Value: inf}, "fit: residual 2 is +Inf: it must be finite at the start"},
		{"cost not finite", func(p *fit.Problem) {
			p.Residuals = func(dst, _ []float64) { dst[0], dst[1], dst[2] = 1, 1e200, 1 }
		}, fit.ProblemError{Quantity: "sum of squares", Value: inf}, ""},
		{"Jacobian not finite", func(p *fit.Problem) {
			p.Jacobian = func(dst, _ []float64) { copy(dst, []float64{1, 1, 1, inf, 1, 1}) }
		}, fit.ProblemError{Param: "b", Quantity: "length of the Jacobian column", Value: inf}, ""},
		{"no difference possible", func(p *fit.Problem) {
			residuals := p.Residuals
			p.Jacobian = nil
			p.Residuals = func(dst, x []float64) {
				residuals(dst, x)
				if x[0] != 0 {
					dst[1] = nan
				}
			}
		}, fit.ProblemError{Param: "a", Quantity: "length of the Jacobian column", Value: nan}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := ok()
			c.spoil(p)
			r, err := fit.Solve(context.Background(), p, nil)
			assert.Nil(t, r)
			var got *fit.ProblemError
			require.ErrorAs(t, err, &got)
			assert.Equal(t, c.want.Param, got.Param)
			assert.Equal(t, c.want.Quantity, got.Quantity)
			if math.IsNaN(c.want.Value) {
				assert.True(t, math.IsNaN(got.Value), "value %v", got.Value)
			} else {
				assert.Equal(t, c.want.Value, got.Value)
			}
			assert.NotEmpty(t, got.Fault)
			if c.text != "" {
				assert.EqualError(t, err, c.text)
			}
		})
	}
}
