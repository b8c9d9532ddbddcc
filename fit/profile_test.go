package fit_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
)

// puromycin is the velocity of an enzymatic reaction, treated cells, by the model of
// Michaelis and Menten: D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and
// Its Applications (1988), table A1.3; as in Puromycin of R 4.2.2 (terms:
// testdata/README.md).
func puromycin() *fit.Problem {
	conc := []float64{0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.10, 1.10} // ppm
	rate := []float64{76, 47, 97, 107, 123, 139, 159, 152, 191, 201, 207, 200}                // counts/min²
	return &fit.Problem{
		Params: []fit.Param{{Name: "Vm", Start: 200}, {Name: "K", Start: 0.05}},
		Points: len(conc),
		Residuals: func(dst, x []float64) {
			for i, c := range conc {
				dst[i] = x[0]*c/(x[1]+c) - rate[i]
			}
		},
		Jacobian: func(dst, x []float64) {
			for i, c := range conc {
				dst[2*i], dst[2*i+1] = c/(x[1]+c), -x[0]*c/(x[1]+c)/(x[1]+c)
			}
		},
	}
}

// rise95 is the rise of a 95 % interval for residuals of unknown scale.
func rise95(r *fit.Result) float64 {
	freedom := float64(r.DegreesOfFreedom())
	t := distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(0.975)
	return t * t * r.Cost / freedom
}

func profile(t *testing.T, p *fit.Problem, best *fit.Result, j int, rise float64) *fit.Interval {
	t.Helper()
	i, err := fit.Profile(context.Background(), p, best, j, rise, nil)
	require.NoError(t, err)
	return i
}

// slope is Vm/K, the slope of the rate at the origin.
func slope(grad, x []float64) float64 {
	if grad != nil {
		grad[0], grad[1] = 1/x[1], -x[0]/x[1]/x[1]
	}
	return x[0] / x[1]
}

// Values of R 4.2.2 by testdata/profile.R: confint of MASS 7.3-58.2 for nls, which
// interpolates a spline of its grid linearly and is off by up to 4e-4 of the half-width,
// and the exact ends by uniroot on the least RSS.
func TestProfileAgainstR(t *testing.T) {
	rat42 := nistProblem(t, "Rat42", []float64{75, 2.5, 0.07})
	for _, c := range []struct {
		name           string
		problem        *fit.Problem
		j              int
		quantity       fit.Quantity
		exact, confint [2]float64
	}{
		{"Vm", puromycin(), 0, nil, [2]float64{197.301932900284, 229.289055055053},
			[2]float64{197.30212738985, 229.29006396308}},
		{"K", puromycin(), 1, nil, [2]float64{0.0469203420351706, 0.0861569134271379},
			[2]float64{0.04692516685, 0.08615995233}},
		{"Vm/K", puromycin(), 0, slope, [2]float64{2607.30240909934, 4295.33628101069},
			[2]float64{2607.6134750, 4295.5426794}},
		{"b1", rat42, 0, nil, [2]float64{68.7647653352032, 77.1891392908361}, [2]float64{68.76566669448, 77.1901499772}},
		{"b2", rat42, 1, nil, [2]float64{2.41555201631566, 2.84837539444200}, [2]float64{2.41558254646, 2.8483991010}},
		{"b3", rat42, 2, nil, [2]float64{0.0594721828874775, 0.0760035723970412}, [2]float64{0.05947284442, 0.0760043889}},
		// Rat43 has a plateau of high cost beside its valley; confint stops there with an
		// error (singular gradient).
		{"b2 of Rat43", nistProblem(t, "Rat43", []float64{700, 5, 0.75, 1.3}), 1, nil,
			[2]float64{0.448242449529572, 12.492167149427040}, [2]float64{}},
	} {
		differences := *c.problem
		differences.Jacobian = nil
		for name, p := range map[string]*fit.Problem{"derivatives": c.problem, "differences": &differences,
			"normal equations": squared(c.problem)} {
			t.Run(c.name+"/"+name, func(t *testing.T) {
				best := solve(t, p, nil)
				var i *fit.Interval
				var err error
				if c.quantity == nil {
					i = profile(t, p, best, c.j, rise95(best))
				} else {
					i, err = fit.ProfileOf(context.Background(), p, best, c.quantity, rise95(best), nil)
					require.NoError(t, err)
				}
				half := (c.exact[1] - c.exact[0]) / 2
				assert.InDelta(t, c.exact[0], i.Lower, 1e-7*half)
				assert.InDelta(t, c.exact[1], i.Upper, 1e-7*half)
				if c.confint != [2]float64{} {
					assert.InDelta(t, c.confint[0], i.Lower, 5e-4*half)
					assert.InDelta(t, c.confint[1], i.Upper, 5e-4*half)
				}
				assert.False(t, i.LowerOpen || i.UpperOpen)
				assert.LessOrEqual(t, i.Solves, 12)
			})
		}
	}
}

// The definition, on all NIST sets: with the parameter pinned at an end, the cost has
// risen by as much as was asked for. The tolerance is that of the ends, 1e-7, twice
// over for the square, and that of two costs good to 1e-12.
func TestProfileOfNIST(t *testing.T) {
	solves, ends := 0, 0
	for _, s := range loadNIST(t) {
		p := s.problem(s.Start2)
		best := solve(t, p, nil)
		rise := rise95(best)
		for j := range p.Params {
			i := profile(t, p, best, j, rise)
			solves, ends = solves+i.Solves, ends+2
			assert.False(t, i.LowerOpen || i.UpperOpen, "%s b%d", s.Name, j+1)
			for _, end := range []float64{i.Lower, i.Upper} {
				got, err := pinned(s.problem(best.X), j, end)
				require.NoError(t, err)
				assert.InDelta(t, best.Cost+rise, got, 1e-6*rise+2e-12*best.Cost, "%s b%d at %v", s.Name, j+1, end)
			}
		}
	}
	assert.Less(t, float64(solves)/float64(ends), 4.0, "solutions for an end")
}

// pinned returns the least cost with parameter j at value, which is moved there in
// twenty steps.
func pinned(p *fit.Problem, j int, value float64) (cost float64, err error) {
	p.Params[j].Fixed = true
	from := p.Params[j].Start
	for k := range 20 {
		p.Params[j].Start = from + (value-from)*float64(k+1)/20
		r, err := fit.Solve(context.Background(), p, nil)
		if err != nil {
			return 0, err
		}
		for i, x := range r.X {
			p.Params[i].Start = x
		}
		cost = r.Cost
	}
	return cost, nil
}

// A linear problem with priors is a parabola: the half-width is the root of the rise
// times the standard error, and one solution a side finds it.
func TestProfileLinear(t *testing.T) {
	x, y := []float64{0, 1, 2, 3, 4, 5}, []float64{1.2, 2.7, 5.4, 6.8, 9.3, 10.9} // made up
	p := line(x, y, 0.7, fit.Param{Name: "a", Prior: fit.Prior{Mean: 0.5, SD: 0.3}},
		fit.Param{Name: "b", Prior: fit.Prior{Mean: 1.5, SD: 0.05}})
	best := solve(t, p, nil)
	cov, err := best.Covariance()
	require.NoError(t, err)
	check := func(i *fit.Interval, value, variance float64) {
		half := math.Sqrt(2.7 * variance)
		assert.InDelta(t, value-half, i.Lower, 1e-9)
		assert.InDelta(t, value+half, i.Upper, 1e-9)
		assert.Equal(t, 2, i.Solves)
	}
	for j := range p.Params {
		check(profile(t, p, best, j, 2.7), best.X[j], cov.At(j, j))
	}
	// 2a - 3b, by the propagation of covariances.
	i, err := fit.ProfileOf(context.Background(), p, best, func(grad, x []float64) float64 {
		if grad != nil {
			grad[0], grad[1] = 2, -3
		}
		return 2*x[0] - 3*x[1]
	}, 2.7, nil)
	require.NoError(t, err)
	check(i, 2*best.X[0]-3*best.X[1], 4*cov.At(0, 0)-12*cov.At(0, 1)+9*cov.At(1, 1))
}

// The interval of a parameter is that of any monotonic function of it, transformed.
func TestProfileIsInvariant(t *testing.T) {
	p := puromycin()
	best := solve(t, p, nil)
	want := profile(t, p, best, 1, rise95(best))
	for name, f := range map[string]struct{ g, slope, back func(float64) float64 }{
		"itself": {func(v float64) float64 { return v }, func(float64) float64 { return 1 },
			func(v float64) float64 { return v }},
		"logarithm": {math.Log, func(v float64) float64 { return 1 / v }, math.Exp},
		"cube":      {func(v float64) float64 { return v * v * v }, func(v float64) float64 { return 3 * v * v }, math.Cbrt},
	} {
		i, err := fit.ProfileOf(context.Background(), p, best, func(grad, x []float64) float64 {
			if grad != nil {
				grad[0], grad[1] = 0, f.slope(x[1])
			}
			return f.g(x[1])
		}, rise95(best), nil)
		require.NoError(t, err)
		assert.InEpsilon(t, want.Lower, f.back(i.Lower), 1e-7, name)
		assert.InEpsilon(t, want.Upper, f.back(i.Upper), 1e-7, name)
		assert.LessOrEqual(t, i.Solves, 12, name)
	}
}

// plane has the residuals r and as many zeros.
func plane(points int, r func(dst, x []float64), params ...fit.Param) *fit.Problem {
	return &fit.Problem{Params: params, Points: points, Residuals: func(dst, x []float64) {
		clear(dst)
		r(dst, x)
	}}
}

// Ends at bounds, by hand. Differences of linear residuals are good to 1e-10 or so.
func TestProfileAtBounds(t *testing.T) {
	inf := math.Inf(1)
	sum := func(dst, x []float64) { dst[0] = x[0] + x[1] - 1 }
	for _, c := range []struct {
		name      string
		problem   *fit.Problem
		rise      float64
		want      fit.Interval
		tolerance float64
	}{
		// The cost is x², only up to 1.5.
		{"before the rise", plane(1, func(dst, x []float64) { dst[0] = x[0] },
			fit.Param{Start: 1, Lower: -inf, Upper: 1.5}), 4,
			fit.Interval{Lower: -2, Upper: 1.5, UpperOpen: true}, 1e-7},
		// The cost is (x+1)² with x >= 0: least is 1, and (x+1)² = 1 + 8 at x = 2.
		{"best on it", plane(1, func(dst, x []float64) { dst[0] = x[0] + 1 }, fit.Param{Start: 1, Lower: 0, Upper: 10}), 8,
			fit.Interval{Lower: 0, Upper: 2, LowerOpen: true}, 1e-7},
		// The cost is (x0+x1)² + x1², least x0²/2 at x1 = -x0/2 but for x1 >= -1/2, which
		// leaves (x0-1/2)² + 1/4 from x0 = 1 on.
		{"of another parameter", plane(2, func(dst, x []float64) { dst[0], dst[1] = x[0]+x[1], x[1] },
			fit.Param{Start: 1}, fit.Param{Start: 1, Lower: -0.5, Upper: inf}), 4,
			fit.Interval{Lower: -math.Sqrt(8), Upper: 0.5 + math.Sqrt(3.75)}, 1e-7},
		// The sum alone is known: x1 makes up for x0 from 0 to 1; then the cost is (x0-1)².
		{"not determined", plane(2, sum, fit.Param{Start: 0.2, Lower: 0, Upper: 5},
			fit.Param{Start: 0.5, Lower: 0, Upper: 5}), 4,
			fit.Interval{Lower: 0, LowerOpen: true, Upper: 3}, 1e-7},
		{"not determined at all", plane(2, sum, fit.Param{Start: 0.2, Lower: -1, Upper: 2}, fit.Param{Start: 0.5}), 4,
			fit.Interval{Lower: -1, LowerOpen: true, Upper: 2, UpperOpen: true}, 0},
		{"none", plane(2, sum, fit.Param{Start: 0.2}, fit.Param{Start: 0.5}), 4,
			fit.Interval{Lower: -inf, LowerOpen: true, Upper: inf, UpperOpen: true}, 0},
		// 1 - exp(-x) was measured as 0.95 ± 0.1: the cost tends to 1/4 for large x, and is
		// 1 where exp(-x) = 0.15.
		{"saturated", plane(1, func(dst, x []float64) { dst[0] = (0.05 - math.Exp(-x[0])) / 0.1 }, fit.Param{Start: 1}), 1,
			fit.Interval{Lower: -math.Log(0.15), Upper: inf, UpperOpen: true}, 1e-7},
		// The model has no value beyond 2, where the cost x² is still too low. The end is
		// found by bisection, to 1e-6.
		{"no value", plane(1, func(dst, x []float64) {
			dst[0] = x[0]
			if x[0] > 2 {
				dst[0] = math.NaN()
			}
		}, fit.Param{Start: 1}), 9, fit.Interval{Lower: -3, Upper: 2}, 3e-6},
	} {
		best := solve(t, c.problem, nil)
		i := profile(t, c.problem, best, 0, c.rise)
		for side, v := range map[string][2]float64{"lower": {c.want.Lower, i.Lower}, "upper": {c.want.Upper, i.Upper}} {
			if math.IsInf(v[0], 0) || c.tolerance == 0 {
				assert.Equal(t, v[0], v[1], "%s: %s", c.name, side)
				continue
			}
			assert.InDelta(t, v[0], v[1], c.tolerance, "%s: %s", c.name, side)
		}
		assert.Equal(t, c.want.LowerOpen, i.LowerOpen, c.name)
		assert.Equal(t, c.want.UpperOpen, i.UpperOpen, c.name)
	}
}

// Bounds of the parameters confine a quantity: x0 + x1 in the unit square, each
// measured as 0.5 ± 1, cannot leave 0 to 2, where the cost has risen by 1/2. A rise of
// 1/8 is reached at 1 ± 1/2: half of it from each.
func TestProfileOfAtBounds(t *testing.T) {
	p := plane(2, func(dst, x []float64) { dst[0], dst[1] = x[0]-0.5, x[1]-0.5 },
		fit.Param{Start: 0.3, Lower: 0, Upper: 1}, fit.Param{Start: 0.6, Lower: 0, Upper: 1})
	best := solve(t, p, nil)
	sum := func(grad, x []float64) float64 {
		if grad != nil {
			grad[0], grad[1] = 1, 1
		}
		return x[0] + x[1]
	}
	i, err := fit.ProfileOf(context.Background(), p, best, sum, 4, nil)
	require.NoError(t, err)
	assert.Equal(t, fit.Interval{Lower: 0, LowerOpen: true, Upper: 2, UpperOpen: true, Solves: i.Solves}, *i)
	i, err = fit.ProfileOf(context.Background(), p, best, sum, 0.125, nil)
	require.NoError(t, err)
	assert.InDelta(t, 0.5, i.Lower, 1e-7)
	assert.InDelta(t, 1.5, i.Upper, 1e-7)
	assert.False(t, i.LowerOpen || i.UpperOpen)
}

func TestProfileFaults(t *testing.T) {
	ctx, p := context.Background(), puromycin()
	best := solve(t, p, nil)

	// A fit stopped before its minimum is not the best one.
	early, err := fit.Solve(ctx, p, &fit.Settings{MaxIterations: 1})
	require.NoError(t, err)
	var lower *fit.LowerMinimumError
	_, err = fit.Profile(ctx, p, early, 0, rise95(best), nil)
	require.ErrorAs(t, err, &lower)
	assert.Less(t, lower.Cost, early.Cost)
	assert.Equal(t, early.Cost, lower.Best)
	assert.Contains(t, lower.Error(), "less than")
	for j, x := range lower.X {
		p.Params[j].Start = x
	}
	again := solve(t, p, nil)
	assert.InEpsilon(t, best.Cost, again.Cost, 1e-12)
	_, err = fit.ProfileOf(ctx, p, early, slope, rise95(best), nil)
	require.ErrorAs(t, err, &lower)

	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	_, err = fit.Profile(cancelled, p, best, 0, 4, nil)
	require.ErrorIs(t, err, context.Canceled)
	_, err = fit.Profile(ctx, p, best, 0, 4, &fit.Settings{MaxIterations: 1})
	require.ErrorContains(t, err, "has not converged (iteration limit)")

	// A residual that jumps, over the end that it would have.
	jump := plane(1, func(dst, x []float64) {
		dst[0] = x[0]
		if x[0] > 2 {
			dst[0] += 10
		}
	}, fit.Param{Start: 1})
	_, err = fit.Profile(ctx, jump, solve(t, jump, nil), 0, 9, nil)
	require.ErrorContains(t, err, "the profile jumps at 1.99999")

	var fault *fit.ProblemError
	for _, rise := range []float64{0, -1, math.Inf(1), math.NaN()} {
		_, err = fit.Profile(ctx, p, best, 0, rise, nil)
		require.ErrorAs(t, err, &fault)
		assert.Equal(t, "rise", fault.Quantity)
	}
	constant := func(grad, _ []float64) float64 {
		clear(grad)
		return 5
	}
	_, err = fit.ProfileOf(ctx, p, best, constant, 4, nil)
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "derivative of the quantity by the free parameters", fault.Quantity)
	_, err = fit.ProfileOf(ctx, p, best, func(_, _ []float64) float64 { return math.NaN() }, 4, nil)
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "quantity", fault.Quantity)

	sum := plane(2, func(dst, x []float64) { dst[0] = x[0] + x[1] - 1 }, fit.Param{Name: "a", Start: 0.2},
		fit.Param{Name: "b", Start: 0.5})
	var singular *fit.SingularError
	_, err = fit.ProfileOf(ctx, sum, solve(t, sum, nil), slope, 4, nil)
	require.ErrorAs(t, err, &singular)
	assert.Equal(t, []string{"a", "b"}, singular.Params)

	assert.Panics(t, func() { _, _ = fit.Profile(ctx, p, best, 2, 4, nil) })
	assert.Panics(t, func() { _, _ = fit.Profile(ctx, p, &fit.Result{}, 0, 4, nil) })
	p.Params[1].Fixed = true
	_, err = fit.Profile(ctx, p, best, 1, 4, nil)
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "K", fault.Param)
}
