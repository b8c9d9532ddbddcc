package fit_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

func nistProblem(t *testing.T, name string, start []float64) *fit.Problem {
	for _, s := range loadNIST(t) {
		if s.Name == name {
			return s.problem(start)
		}
	}
	require.Fail(t, "no such set", name)
	return nil
}

// valley is Rosenbrock's function as two residuals.
func valley(start []float64) *fit.Problem {
	return &fit.Problem{
		Params: []fit.Param{{Name: "x0", Start: start[0]}, {Name: "x1", Start: start[1]}},
		Points: 2,
		Residuals: func(dst, x []float64) {
			dst[0], dst[1] = 10*(x[1]-x[0]*x[0]), 1-x[0]
		},
		Jacobian: func(dst, x []float64) {
			dst[0], dst[1], dst[2], dst[3] = -20*x[0], 10, -1, 0
		},
	}
}

// Values of scipy.optimize.least_squares, SciPy 1.10.1, method="dogbox" or "trf",
// x_scale="jac", tolerances 1e-15: testdata/bounded_scipy.py has the calls.
func TestBoundedAgainstSciPy(t *testing.T) {
	for _, c := range []struct {
		name         string
		problem      *fit.Problem
		lower, upper []float64
		want         []float64
		cost         float64
		atBound      []bool
		tol          float64 // relative, of the parameters
	}{
		// Either program stops where the cost, known to 16 digits, changes no more:
		// that is within about 1e-8 standard deviations, here of 1 to 15 %.
		{"Misra1a, b1 held down", nistProblem(t, "Misra1a", []float64{200, 0.0005}),
			[]float64{0, 0}, []float64{230, 1},
			[]float64{230.0, 0.0005752257721501518}, 0.24762196990632593, []bool{true, false}, 1e-9},
		{"Thurber, b3 and b6 held", nistProblem(t, "Thurber", []float64{1300, 1500, 500, 75, 1, 0.4, 0.05}),
			[]float64{0, 0, 0, 0, 0, 0.39, 0}, []float64{2000, 2000, 560, 100, 2, 0.45, 0.5},
			[]float64{1290.5380196278325, 1458.4532320408666, 560, 70.9733691177161, 0.9415855498923863, 0.39,
				0.04506855698066688},
			5935.507846423406, []bool{false, false, true, false, false, true, false}, 1e-7},
		// The last two are exact by hand, too.
		{"valley closed", valley([]float64{-1.2, 1}), []float64{-2, -2}, []float64{0.5, 2},
			[]float64{0.5, 0.25}, 0.25, []bool{true, false}, 1e-12},
		{"corner", valley([]float64{1.5, -1}), []float64{1.2, -2}, []float64{2, 1},
			[]float64{1.2, 1}, 19.4, []bool{true, true}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			for j := range c.problem.Params {
				c.problem.Params[j].Lower, c.problem.Params[j].Upper = c.lower[j], c.upper[j]
			}
			jacobian := c.problem.Jacobian
			for name, f := range map[string]func(dst, x []float64){"derivatives": jacobian, "differences": nil} {
				c.problem.Jacobian = f
				r := solve(t, c.problem, tight)
				for j, want := range c.want {
					assert.InDelta(t, want, r.X[j], c.tol*math.Abs(want), "%s: parameter %d", name, j)
				}
				assert.InEpsilon(t, c.cost, r.Cost, 1e-12, name)
				assert.Equal(t, c.atBound, r.AtBound, name)
			}
		})
	}
}

// A parameter on a bound counts as free in the covariance, here of a line:
// (X'X)⁻¹ for x = 0, 1, 2 by hand.
func TestCovarianceAtBound(t *testing.T) {
	p := line([]float64{0, 1, 2}, []float64{0, 2, 4}, 1, fit.Param{Start: 0}, fit.Param{Start: 1, Lower: 0, Upper: 1})
	r := solve(t, p, nil)
	require.Equal(t, []bool{false, true}, r.AtBound)
	assert.InDelta(t, 1, r.X[0], 1e-12, "the mean of y - x")
	cov, err := r.Covariance()
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{5.0 / 6, -0.5, 0.5}, []float64{cov.At(0, 0), cov.At(0, 1), cov.At(1, 1)}, 1e-12)
}

// The zero value has no bounds; one bound of zero is a bound.
func TestZeroBounds(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name         string
		lower, upper float64
		want         float64
	}{
		{"none", 0, 0, -3},
		{"from zero", 0, inf, 0},
		{"up to zero", -inf, 0, -3},
		{"below", -inf, -5, -5},
		{"in between", -4, 0, -3},
	} {
		t.Run(c.name, func(t *testing.T) {
			start := max(min(7, c.upper), c.lower)
			if c.upper == 0 && c.lower == 0 {
				start = 7
			}
			r := solve(t, &fit.Problem{
				Params: []fit.Param{{Start: start, Lower: c.lower, Upper: c.upper}}, Points: 1,
				Residuals: func(dst, x []float64) { dst[0] = x[0] + 3 },
			}, nil)
			assert.InDelta(t, c.want, r.X[0], 1e-12)
			assert.Equal(t, c.want != -3, r.AtBound[0])
		})
	}
}

// wavy is a random smooth problem of m residuals in n parameters: amplitudes,
// frequencies and offsets are random, some parameters have one bound, some two,
// some sit on a bound from the outset.
func wavy(rng *rand.Rand, m, n int) *fit.Problem {
	a := make([]float64, m*n)
	f := make([]float64, m*n)
	y := make([]float64, m)
	for i := range a {
		a[i], f[i] = rng.NormFloat64(), rng.Float64()
	}
	for i := range y {
		y[i] = 3 * rng.NormFloat64()
	}
	p := &fit.Problem{Points: m}
	for range n {
		lower := rng.NormFloat64()
		q := fit.Param{Lower: lower, Upper: lower + math.Exp(4*rng.Float64()-4)}
		q.Start = lower + rng.Float64()*(q.Upper-lower)
		switch rng.IntN(6) {
		case 0:
			q.Start = q.Lower
		case 1:
			q.Start = q.Upper
		case 2:
			q.Lower = math.Inf(-1)
		case 3:
			q.Upper = math.Inf(1)
		case 4:
			q.Prior = fit.Prior{Mean: lower, SD: 0.5}
		}
		p.Params = append(p.Params, q)
	}
	p.Residuals = func(dst, x []float64) {
		for i := range dst {
			dst[i] = -y[i]
			for j := range x {
				dst[i] += a[i*n+j] * math.Sin(f[i*n+j]*x[j])
			}
		}
	}
	p.Jacobian = func(dst, x []float64) {
		for i := range m {
			for j := range x {
				dst[i*n+j] = a[i*n+j] * f[i*n+j] * math.Cos(f[i*n+j]*x[j])
			}
		}
	}
	return p
}

// watch makes p fail the test when it is evaluated outside its bounds.
func watch(t *testing.T, p *fit.Problem) *fit.Problem {
	inside := func(what string, x []float64) {
		for j, q := range p.Params {
			if !(x[j] >= q.Lower && x[j] <= q.Upper) {
				assert.Fail(t, "out of bounds", "%s: parameter %d is %v, bounds %v to %v", what, j, x[j], q.Lower, q.Upper)
			}
		}
	}
	w := *p
	w.Residuals = func(dst, x []float64) {
		inside("residuals", x)
		p.Residuals(dst, x)
	}
	if p.Jacobian != nil {
		w.Jacobian = func(dst, x []float64) {
			inside("Jacobian", x)
			p.Jacobian(dst, x)
		}
	}
	return &w
}

// TestBoundsHold follows random problems, difference Jacobians and hair-thin boxes
// included, and checks what is promised of the point at the end: the cost is not
// above that of the start, and no parameter can move downhill within its bounds.
func TestBoundsHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	onBound := 0
	for range 400 {
		n := 1 + rng.IntN(6)
		p := wavy(rng, n+rng.IntN(30), n)
		if rng.IntN(4) == 0 {
			q := &p.Params[0]
			q.Lower, q.Upper = q.Start, q.Start+1e-9*math.Abs(q.Start)
		}
		for _, differences := range []bool{false, true} {
			q := *p
			if differences {
				q.Jacobian = nil
			}
			r := solve(t, watch(t, &q), &fit.Settings{MaxIterations: 5000})
			start, _ := fit.Solve(context.Background(), p, &fit.Settings{GradTol: 2}) // a cosine is at most 1
			require.Zero(t, start.Iterations)
			assert.LessOrEqual(t, r.Cost, start.Cost)
			for j, cosine := range cosines(p, r) {
				q := p.Params[j]
				assert.Equal(t, r.X[j] == q.Lower || r.X[j] == q.Upper, r.AtBound[j])
				onBoundNow := r.X[j] == q.Lower && cosine > 0 || r.X[j] == q.Upper && cosine < 0
				if onBoundNow {
					onBound++
					continue
				}
				// The cost is good to 1e-12 or so, hence slopes to the root of that;
				// differences in a thin box know slopes only to the rounding errors
				// over its width.
				if tol := 1e-5; !(differences && q.Upper-q.Lower < 1e-8) {
					assert.InDelta(t, 0, cosine, tol, "parameter %d of %v at %v: %v", j, p.Params, r.X, r.Reason)
				}
			}
		}
	}
	assert.Greater(t, onBound, 400, "parameters that bounds stop")
}

// cosines returns, from the Jacobian of p, the cosine between the residuals at
// the result, those of priors included, and the derivative by each parameter.
func cosines(p *fit.Problem, r *fit.Result) []float64 {
	m, n := p.Points, len(p.Params)
	res, jac := make([]float64, m), make([]float64, m*n)
	p.Residuals(res, r.X)
	p.Jacobian(jac, r.X)
	cos := make([]float64, n)
	for j, q := range p.Params {
		dot, length2 := 0.0, 0.0
		for i := range m {
			dot += jac[i*n+j] * res[i]
			length2 += jac[i*n+j] * jac[i*n+j]
		}
		if q.Prior.SD > 0 {
			dot += (r.X[j] - q.Prior.Mean) / (q.Prior.SD * q.Prior.SD)
			length2 += 1 / (q.Prior.SD * q.Prior.SD)
		}
		cos[j] = dot / math.Sqrt(length2*r.Cost)
	}
	return cos
}
