package fit_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"wane/fit"
)

func replicates(t *testing.T, b fit.Bootstrap, p func() *fit.Problem, best *fit.Result) *mat.Dense {
	t.Helper()
	r, err := b.Run(context.Background(), func() (*fit.Problem, error) { return p(), nil }, best)
	require.NoError(t, err)
	for i, converged := range r.Converged {
		require.True(t, converged, "replicate %d", i)
	}
	return r.X
}

// checkMoments compares the means and covariances of the rows of x with what they must
// be. Tolerances are four standard deviations of what as many draws from a normal
// distribution give, sqrt(cov/n) and sqrt((cov_ii·cov_jj + cov_ij²)/(n-1)).
func checkMoments(t *testing.T, x *mat.Dense, mean []float64, want mat.Symmetric, what string) {
	t.Helper()
	rows, cols := x.Dims()
	n := float64(rows)
	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, x, nil)
	for i := range cols {
		assert.InDelta(t, mean[i], stat.Mean(mat.Col(nil, i, x), nil), 4*math.Sqrt(want.At(i, i)/n)+1e-12, "%s: mean %d",
			what, i)
		for j := i; j < cols; j++ {
			tolerance := 4 * math.Sqrt((want.At(i, i)*want.At(j, j)+want.At(i, j)*want.At(i, j))/(n-1))
			assert.InDelta(t, want.At(i, j), cov.At(i, j), tolerance, "%s: covariance of %d and %d", what, i, j)
		}
	}
}

// Residuals drawn one by one: the covariance of the bootstrap distribution of
// stackloss, exactly, by R 4.2.2: testdata/influence.R. It is that of lm, because the
// intercept makes the mean of the residuals 0.
func TestBootstrapOfResiduals(t *testing.T) {
	byColumns := []float64{1.41514741071e+02, 2.87587105660e-01, 1.81867301573e-02, -6.51794368740e-01, -3.65106746827e-02,
		1.35441859830e-01, -1.67632079730e+00, -7.14352147025e-03, 1.04768274731e-05, 2.44278279550e-02}
	want := mat.NewSymDense(4, nil)
	for j, k := 0, 0; j < 4; j++ {
		for i := 0; i <= j; i, k = i+1, k+1 {
			want.SetSym(i, j, byColumns[k])
		}
	}
	best := solve(t, stackloss(t), nil)
	b := fit.Bootstrap{Replicates: 4000, Block: 1, Seed: 1}
	checkMoments(t, replicates(t, b, func() *fit.Problem { return stackloss(t) }, best), best.X, want, "stackloss")
}

// lh is the mean of luteinizing hormone in blood every ten minutes, whose residuals are
// correlated: P. J. Diggle, Time Series (1990), table A.1; lh of R 4.2.2
// (terms: testdata/README.md).
func lh() *fit.Problem {
	y := []float64{2.4, 2.4, 2.4, 2.2, 2.1, 1.5, 2.3, 2.3, 2.5, 2, 1.9, 1.7, 2.2, 1.8, 3.2, 3.2, 2.7, 2.2, 2.2, 1.9, 1.9,
		1.8, 2.7, 3,
		2.3, 2, 2, 2.9, 2.9, 2.7, 2.7, 2.3, 2.6, 2.4, 1.8, 1.7, 1.5, 1.4, 2.1, 3.3, 3.5, 3.5, 3.1, 2.6, 2.1, 3.4, 3, 2.9}
	return &fit.Problem{
		Params: []fit.Param{{Name: "mean", Start: 2}}, Points: len(y),
		Residuals: func(dst, x []float64) {
			for i := range y {
				dst[i] = x[0] - y[i]
			}
		},
	}
}

// Blocks keep the correlation, which nearly doubles the variance of the mean: exact
// variances of the bootstrap distributions by R 4.2.2: testdata/influence.R.
func TestBootstrapOfBlocks(t *testing.T) {
	best := solve(t, lh(), nil)
	for block, variance := range map[int]float64{1: 0.00633865248227, 6: 0.0119134160757} {
		b := fit.Bootstrap{Replicates: 4000, Block: block, Seed: 2}
		checkMoments(t, replicates(t, b, lh, best), best.X, mat.NewSymDense(1, []float64{variance}), "lh")
	}
}

// Normal errors give a linear problem with priors the covariance of its posterior,
// which for two parameters is written out as in TestConjugateLine, around its best
// values, with means of priors far from them. Other noise of the data counts square,
// beside that of the priors: (A + P)⁻¹(noise²·A + P)(A + P)⁻¹.
func TestBootstrapOfNormalErrors(t *testing.T) {
	x, y := []float64{0, 1, 2, 3, 4, 5}, []float64{1.2, 2.7, 5.4, 6.8, 9.3, 10.9} // made up
	const sigma, sa, sb = 0.7, 0.3, 0.05
	p := func() *fit.Problem {
		return line(x, y, sigma, fit.Param{Name: "a", Prior: fit.Prior{Mean: 0.5, SD: sa}},
			fit.Param{Name: "b", Prior: fit.Prior{Mean: 1.5, SD: sb}})
	}
	const n, sx, sxx, w = 6.0, 15.0, 55.0, 1 / (sigma * sigma)
	data := mat.NewDense(2, 2, []float64{n * w, sx * w, sx * w, sxx * w})
	known := mat.NewDiagDense(2, []float64{1 / (sa * sa), 1 / (sb * sb)})
	var precision, posterior mat.Dense
	precision.Add(data, known)
	require.NoError(t, posterior.Inverse(&precision))
	best := solve(t, p(), nil)
	for _, noise := range []float64{0, 1, 3} {
		var inner, want mat.Dense
		inner.Scale(max(noise*noise, 1), data)
		inner.Add(&inner, known)
		want.Product(&posterior, &inner, &posterior)
		b := fit.Bootstrap{Replicates: 4000, Noise: noise, Seed: 3}
		checkMoments(t, replicates(t, b, p, best), best.X, mat.NewSymDense(2, want.RawMatrix().Data), "line")
	}
}

// The percentiles of many replicates of a curved problem lie near the ends of the
// profile, on the same side of those of a linear problem: normal errors of the
// residual scatter around the best fit of Puromycin, at 2.5 and 97.5 %. For the profile
// the quantile is 1.96², of known errors. (What two methods share is a test of
// plausibility: 15 % of the half-width, of which the Monte Carlo error is 4 %.)
func TestBootstrapNearProfile(t *testing.T) {
	best := solve(t, puromycin(), nil)
	noise2 := best.Cost / float64(best.DegreesOfFreedom())
	x := replicates(t, fit.Bootstrap{Replicates: 4000, Noise: math.Sqrt(noise2), Seed: 4}, puromycin, best)
	for j := range 2 {
		i := profile(t, puromycin(), best, j, 1.959964*1.959964*noise2)
		column := mat.Col(nil, j, x)
		slices.Sort(column)
		half := (i.Upper - i.Lower) / 2
		assert.InDelta(t, i.Lower, stat.Quantile(0.025, stat.Empirical, column, nil), 0.15*half)
		assert.InDelta(t, i.Upper, stat.Quantile(0.975, stat.Empirical, column, nil), 0.15*half)
	}
}

// Replicates of the problem by its normal equations, whose data are shifted, are those of its residuals.
func TestBootstrapShifted(t *testing.T) {
	best := solve(t, puromycin(), nil)
	for _, block := range []int{0, 3} {
		b := fit.Bootstrap{Replicates: 50, Block: block, Noise: 10, Seed: 5, Workers: 2}
		want := replicates(t, b, puromycin, best)
		b.Shifted = func() (*fit.Problem, func([]float64), error) {
			p := puromycin()
			taken, whole := make([]float64, p.Points), p.Residuals
			p.Residuals = func(dst, x []float64) {
				whole(dst, x)
				floats.Sub(dst, taken)
			}
			return squared(p), func(diff []float64) { copy(taken, diff) }, nil
		}
		got := replicates(t, b, puromycin, best)
		for i := range b.Replicates {
			for j := range 2 {
				assert.InEpsilon(t, want.At(i, j), got.At(i, j), 1e-5, "replicate %d", i)
			}
		}
	}
}

// The replicates do not depend on the workers, nor those of a seed on their number.
func TestBootstrapWorkers(t *testing.T) {
	best := solve(t, puromycin(), nil)
	for _, block := range []int{0, 1, 5} {
		b := fit.Bootstrap{Replicates: 50, Block: block, Noise: 10, Seed: 5, Workers: 1}
		want := replicates(t, b, puromycin, best)
		b.Workers = 7
		assert.Equal(t, want, replicates(t, b, puromycin, best))
		b.Workers, b.Replicates = 0, 20
		assert.Equal(t, mat.DenseCopyOf(want.Slice(0, 20, 0, 2)), replicates(t, b, puromycin, best))
		b.Seed++
		assert.NotEqual(t, mat.DenseCopyOf(want.Slice(0, 20, 0, 2)), replicates(t, b, puromycin, best))
	}
}

// Bounds hold, pinned parameters stay, and a fit that runs out of iterations is told of.
func TestBootstrapKeepsToTheProblem(t *testing.T) {
	p := func() *fit.Problem {
		p := stackloss(t)
		p.Params[1].Lower, p.Params[1].Upper = 0.7, 0.8
		p.Params[1].Start = 0.75
		p.Params[2] = fit.Param{Name: "water", Start: 1.2, Fixed: true}
		return p
	}
	best := solve(t, p(), nil)
	x := replicates(t, fit.Bootstrap{Replicates: 100, Block: 1}, p, best)
	bound := 0
	for i := range 100 {
		assert.Equal(t, 1.2, x.At(i, 2))
		assert.True(t, x.At(i, 1) >= 0.7 && x.At(i, 1) <= 0.8)
		if x.At(i, 1) == 0.7 || x.At(i, 1) == 0.8 {
			bound++
		}
	}
	assert.Greater(t, bound, 20)

	best = solve(t, puromycin(), nil)
	b := fit.Bootstrap{Replicates: 3, Block: 1, Settings: &fit.Settings{MaxIterations: 1}}
	r, err := b.Run(context.Background(), func() (*fit.Problem, error) { return puromycin(), nil }, best)
	require.NoError(t, err)
	assert.Equal(t, []bool{false, false, false}, r.Converged)
}

func TestBootstrapFaults(t *testing.T) {
	ctx := context.Background()
	best := solve(t, puromycin(), nil)
	sound := func() (*fit.Problem, error) { return puromycin(), nil }
	for _, b := range []fit.Bootstrap{
		{}, {Replicates: -1}, {Replicates: 1, Block: 13}, {Replicates: 1, Block: -1},
		{Replicates: 1, Noise: -1}, {Replicates: 1, Noise: math.NaN()}, {Replicates: 1, Workers: -1},
	} {
		var fault *fit.ProblemError
		_, err := b.Run(ctx, sound, best)
		require.ErrorAs(t, err, &fault, "%+v", b)
	}
	many := fit.Bootstrap{Replicates: 1000, Block: 1, Workers: 3}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	_, err := many.Run(cancelled, sound, best)
	require.ErrorIs(t, err, context.Canceled)

	// A problem that cannot be made, at first or for a later worker.
	refused := errors.New("refused")
	for after := range int64(3) {
		var made atomic.Int64
		_, err = many.Run(ctx, func() (*fit.Problem, error) {
			if made.Add(1) > after {
				return nil, refused
			}
			return puromycin(), nil
		}, best)
		require.ErrorIs(t, err, refused)
	}

	var fault *fit.ProblemError
	_, err = many.Run(ctx, func() (*fit.Problem, error) {
		return &fit.Problem{Params: make([]fit.Param, 2), Points: 1},
			nil
	}, best)
	require.ErrorAs(t, err, &fault)
	_, err = many.Run(ctx, func() (*fit.Problem, error) {
		p := puromycin()
		p.Residuals = func(dst, _ []float64) { dst[3] = math.NaN() }
		return p, nil
	}, best)
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "residual 3", fault.Quantity)
	two := line([]float64{0, 1}, []float64{2, 3}, 1, fit.Param{}, fit.Param{})
	_, err = many.Run(ctx, func() (*fit.Problem, error) { return two, nil }, solve(t, two, nil))
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "number of degrees of freedom", fault.Quantity)
	assert.Panics(t, func() { _, _ = many.Run(ctx, func() (*fit.Problem, error) { return lh(), nil }, best) })
}
