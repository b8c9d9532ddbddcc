package fit_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// chain is Rosenbrock's valley over n parameters, 2(n-1) residuals.
func chain(n int) *fit.Problem {
	p := &fit.Problem{Points: 2 * (n - 1)}
	for j := range n {
		p.Params = append(p.Params, fit.Param{Start: -1.2 + 0.1*float64(j%5), Lower: -5, Upper: 5})
	}
	p.Residuals = func(dst, x []float64) {
		for j := range n - 1 {
			dst[2*j], dst[2*j+1] = 10*(x[j+1]-x[j]*x[j]), 1-x[j]
		}
	}
	p.Jacobian = func(dst, x []float64) {
		clear(dst)
		for j := range n - 1 {
			first, second := dst[2*j*n:], dst[(2*j+1)*n:]
			first[j], first[j+1], second[j] = -20*x[j], 10, -1
		}
	}
	return p
}

// A workspace that has seen other problems, larger and smaller ones, gives what a
// new one gives, to the last digit.
func TestWorkspaceForgets(t *testing.T) {
	var w fit.Workspace
	for _, s := range loadNIST(t) {
		for _, start := range [][]float64{s.Start1, s.Start2} {
			p := s.problem(start)
			got, err := w.Solve(context.Background(), p, nil)
			require.NoError(t, err)
			want, err := fit.Solve(context.Background(), p, nil)
			require.NoError(t, err)
			assert.Equal(t, want, got, s.Name)
		}
	}
}

// A result stays what it is when its workspace goes on.
func TestResultIsItsOwn(t *testing.T) {
	var w fit.Workspace
	first, err := w.Solve(context.Background(), valley([]float64{-1.2, 1}), nil)
	require.NoError(t, err)
	before, err := first.Covariance()
	require.NoError(t, err)
	x := append([]float64(nil), first.X...)
	_, err = w.Solve(context.Background(), chain(10), nil)
	require.NoError(t, err)
	after, err := first.Covariance()
	require.NoError(t, err)
	assert.Equal(t, before, after)
	assert.Equal(t, x, first.X)
}

// In other units, powers of two apart so that nothing is rounded, the iterations
// and the result are the same.
func TestUnits(t *testing.T) {
	for _, s := range loadNIST(t) {
		want := solve(t, s.problem(s.Start2), tight)
		p := s.problem(s.Start2)
		n, x := len(p.Params), make([]float64, len(p.Params))
		unit := func(j int) float64 { return math.Ldexp(1, 13*j-20) }
		for j := range p.Params {
			p.Params[j].Start /= unit(j)
		}
		residuals, jacobian := p.Residuals, p.Jacobian
		back := func(v []float64) []float64 {
			for j := range x {
				x[j] = v[j] * unit(j)
			}
			return x
		}
		p.Residuals = func(dst, v []float64) { residuals(dst, back(v)) }
		p.Jacobian = func(dst, v []float64) {
			jacobian(dst, back(v))
			for i := range dst {
				dst[i] *= unit(i % n)
			}
		}
		got := solve(t, p, tight)
		assert.Equal(t, want.X, back(got.X), s.Name)
		assert.Equal(t, want.Iterations, got.Iterations, s.Name)
	}
}

// More iterations allocate no more, nor do more parameters; in a workspace that
// has grown, what a solution allocates is its result.
func TestAllocations(t *testing.T) {
	const result = 7 // the struct, X, AtBound, names, free, r, length
	for _, c := range []struct {
		name    string
		problem *fit.Problem
		few     int
		many    int
	}{
		{"2 parameters", valley([]float64{-1.2, 1}), 3, 15},
		{"40 parameters", chain(40), 3, 50},
		{"100 iterations", nistProblem(t, "Bennett5", []float64{-2000, 50, 0.8}), 3, 100},
	} {
		jacobian := c.problem.Jacobian
		for how, f := range map[string]func(dst, x []float64){"derivatives": jacobian, "differences": nil} {
			t.Run(c.name+"/"+how, func(t *testing.T) {
				c.problem.Jacobian = f
				for j := range c.problem.Params {
					c.problem.Params[j].Name = "named" // names for the unnamed are made for each result
				}
				var w fit.Workspace
				allocations := func(iterations int) float64 {
					s := &fit.Settings{MaxIterations: iterations, CostTol: -1, StepTol: -1, GradTol: -1}
					r, err := w.Solve(context.Background(), c.problem, s)
					require.NoError(t, err)
					require.GreaterOrEqual(t, r.Iterations, min(iterations, 10))
					return testing.AllocsPerRun(5, func() { _, _ = w.Solve(context.Background(), c.problem, s) })
				}
				assert.LessOrEqual(t, allocations(c.few), float64(result))
				assert.LessOrEqual(t, allocations(c.many), float64(result))
			})
		}
	}
}

// dip is a smooth problem of m residuals in 4 parameters: a curve with a broad
// dip, an offset and a slope.
func dip(m int) *fit.Problem {
	at := func(i int) float64 { return 2*float64(i)/float64(m-1) - 1 }
	curve := func(x []float64, u float64) (bell, z float64) {
		z = (u - x[1]) / x[2]
		return math.Exp(-z * z), z
	}
	data, truth := make([]float64, m), []float64{0.4, 0.1, 0.5, 1}
	for i := range data {
		bell, _ := curve(truth, at(i))
		data[i] = truth[3] - truth[0]*bell + 0.001*math.Sin(12345*float64(i)) // made up, with made-up noise
	}
	return &fit.Problem{
		Params: []fit.Param{
			{Name: "depth", Start: 0.2, Lower: 0, Upper: 1}, {Name: "centre", Start: -0.2, Lower: -1, Upper: 1},
			{Name: "width", Start: 0.8, Lower: 0.1, Upper: 2}, {Name: "level", Start: 0.8, Prior: fit.Prior{Mean: 1, SD: 0.1}},
		},
		Points: m,
		Residuals: func(dst, x []float64) {
			for i := range dst {
				bell, _ := curve(x, at(i))
				dst[i] = (x[3] - x[0]*bell - data[i]) / 0.001
			}
		},
		Jacobian: func(dst, x []float64) {
			for i := range m {
				bell, z := curve(x, at(i))
				row := dst[4*i : 4*i+4]
				row[0] = -bell / 0.001
				row[1] = -x[0] * bell * 2 * z / x[2] / 0.001
				row[2] = row[1] * z
				row[3] = 1 / 0.001
			}
		},
	}
}

func BenchmarkSolve(b *testing.B) {
	p := dip(1604)
	var w fit.Workspace
	b.ReportAllocs()
	iterations := 0
	for b.Loop() {
		r, err := w.Solve(context.Background(), p, nil)
		if err != nil || !r.Converged() {
			b.Fatal(r, err)
		}
		iterations = r.Iterations
	}
	b.ReportMetric(float64(iterations), "iterations")
}

// What is left of BenchmarkSolve without the solver: the residuals and Jacobians.
func BenchmarkModel(b *testing.B) {
	p := dip(1604)
	r, j, x := make([]float64, 1604), make([]float64, 4*1604), []float64{0.4, 0.1, 0.5, 1}
	for b.Loop() {
		p.Residuals(r, x)
		p.Jacobian(j, x)
	}
}
