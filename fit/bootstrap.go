package fit

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync/atomic"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Bootstrap says how fits are repeated on simulated data: the best model plus other
// errors.
//
// The means of priors are drawn too, with their standard deviations around the best
// values, so that the scatter includes the uncertainty of the priors.
type Bootstrap struct {
	Replicates int // number of fits

	// Block is the length of the runs of residuals of the best fit from which errors are
	// made. 1 draws residuals one by one. A longer run keeps the correlation of
	// neighbours; the first residual follows the last. Residuals are centred, and
	// multiplied by √(number of residuals and priors / degrees of freedom), because a
	// fit makes residuals smaller than errors. 0 draws normal errors of standard
	// deviation Noise instead.
	Block int

	// Noise is the standard deviation of normal errors, in units of sigma, by which the
	// residuals are divided; 0 means 1. It is not used if Block is positive.
	Noise float64

	// Seed chooses the errors. The same seed gives the same replicates, whatever the
	// number of workers.
	Seed uint64

	// Workers limits how many fits run at once; 0 means as many as there are
	// processors to run them.
	Workers int

	Settings *Settings // of each fit; may be nil

	// Shifted makes a problem faster to solve than that of newProblem, if there is one; nil: there is none. It is called
	// once for each worker, after newProblem. shift sets what is subtracted from the residuals of newProblem, one value
	// for each, for the evaluations of p that follow.
	Shifted func() (p *Problem, shift func(taken []float64), err error)
}

// Replicates are the fits of a bootstrap.
type Replicates struct {
	X         *mat.Dense // a row of parameters for each fit
	Converged []bool     // whether the fit has converged; if not, its row is where it stopped
}

// Run fits replicates of the problem that newProblem makes, of which best is the
// solution, each from there. newProblem is called once for each worker, one call after
// the other, because a problem may have memory that two goroutines must not share. Take
// percentiles of the columns by stat.Quantile of gonum.
//
// The residuals must be (model - data)/sigma. Those of a problem made by
// [Problem.Robust] are not.
//
// A faulty problem or setting gives a [*ProblemError]. If ctx is done the error
// wraps ctx.Err(). Run panics if best is not as long as the problem.
//
// Source: B. Efron, R. Tibshirani, An Introduction to the Bootstrap (1993), chapter
// 9, and for the blocks that close to a circle D. N. Politis, J. P. Romano, A
// circular block-resampling procedure for stationary data (1992); from memory.
func (b *Bootstrap) Run(ctx context.Context, newProblem func() (*Problem, error), best *Result) (*Replicates, error) {
	first, err := b.newReplicator(newProblem, best)
	if err != nil {
		return nil, err
	}
	if err := b.check(first.p.Points); err != nil {
		return nil, err
	}
	var pool []float64
	if b.Block > 0 {
		if pool, err = first.pool(best); err != nil {
			return nil, err
		}
	}
	n := len(best.X)
	out := &Replicates{X: mat.NewDense(b.Replicates, n, nil), Converged: make([]bool, b.Replicates)}
	errs := make([]error, b.Replicates)
	var next atomic.Int64
	var failed atomic.Bool
	work := func(r *replicator) {
		for !failed.Load() {
			i := int(next.Add(1)) - 1
			if i >= b.Replicates {
				return
			}
			b.draw(r, pool, i)
			fitted, err := r.w.Solve(ctx, r.p, b.Settings)
			if err != nil {
				errs[i] = fmt.Errorf("fit: replicate %d: %w", i, err)
				failed.Store(true)
				return
			}
			out.X.SetRow(i, fitted.X)
			out.Converged[i] = fitted.Converged()
		}
	}
	var wg Group
	for k := range b.workers() {
		r := first
		if k > 0 {
			if r, err = b.newReplicator(newProblem, best); err != nil {
				failed.Store(true)
				break
			}
		}
		wg.Go(func() { work(r) })
	}
	wg.Wait()
	if err != nil {
		return nil, err
	}
	// All replicates before one that failed were begun and have finished, so the first
	// failure does not depend on the number of workers.
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// check returns a *ProblemError for the first fault of b with a number of points.
func (b *Bootstrap) check(points int) error {
	switch {
	case b.Replicates < 1:
		return &ProblemError{"", "number of replicates", float64(b.Replicates), "there must be at least one"}
	case b.Block < 0 || b.Block > points:
		return &ProblemError{"", "block length", float64(b.Block), fmt.Sprintf("it must be from 1 to the %d points, or 0 "+
			"for normal errors", points)}
	case !finite(b.Noise) || b.Noise < 0:
		return &ProblemError{"", "noise", b.Noise, "it must be positive and finite, or 0 for 1"}
	case b.Workers < 0:
		return &ProblemError{"", "number of workers", float64(b.Workers), "it must be positive, or 0 for one a processor"}
	}
	return nil
}

func (b *Bootstrap) workers() int {
	n := b.Workers
	if n == 0 {
		n = runtime.GOMAXPROCS(0)
	}
	return min(n, b.Replicates)
}

// replicator is the problem of one worker, with data of its own.
type replicator struct {
	w    Workspace
	p    *Problem
	best []float64 // parameters
	base []float64 // residuals at best
	diff []float64 // base and the errors drawn: what is taken from the residuals

	shift func(taken []float64) // of p; nil: p takes diff itself
}

func (b *Bootstrap) newReplicator(newProblem func() (*Problem, error), best *Result) (*replicator, error) {
	p, err := newProblem()
	if err != nil {
		return nil, err
	}
	checkResult(p, best)
	if err := p.needResiduals(); err != nil {
		return nil, err
	}
	r := &replicator{best: best.X, base: make([]float64, p.Points), diff: make([]float64, p.Points)}
	p.Residuals(r.base, best.X)
	for i, v := range r.base {
		if !finite(v) {
			return nil, &ProblemError{"", fmt.Sprintf("residual %d", i), v, "it must be finite at the best fit"}
		}
	}
	if b.Shifted != nil {
		if p, r.shift, err = b.Shifted(); err != nil {
			return nil, err
		}
		checkResult(p, best)
		shifted := *p
		shifted.Params = slices.Clone(p.Params)
		r.p = &shifted
	} else {
		r.p = p.withResiduals(p.Points, func(dst, x []float64) {
			p.Residuals(dst, x)
			floats.Sub(dst, r.diff)
		}, p.Jacobian)
	}
	for j := range r.p.Params {
		r.p.Params[j].Start = best.X[j]
	}
	return r, nil
}

// pool returns the errors to draw from. Their sign is that of data less model, opposite
// to that of residuals.
func (r *replicator) pool(best *Result) ([]float64, error) {
	freedom := best.DegreesOfFreedom()
	if freedom < 1 {
		return nil, &ProblemError{"", "number of degrees of freedom", float64(freedom),
			"there must be at least one for residuals to say something of errors"}
	}
	pool := append([]float64(nil), r.base...)
	floats.AddConst(-stat.Mean(pool, nil), pool)
	floats.Scale(-math.Sqrt(float64(best.rows)/float64(freedom)), pool)
	return pool, nil
}

// draw gives r the data of replicate i. Each replicate has a stream of random numbers
// of its own.
func (b *Bootstrap) draw(r *replicator, pool []float64, i int) {
	rng := rand.New(rand.NewPCG(b.Seed, uint64(i)))
	copy(r.diff, r.base)
	if b.Block == 0 {
		noise := b.Noise
		if noise == 0 {
			noise = 1
		}
		for k := range r.diff {
			r.diff[k] += noise * rng.NormFloat64()
		}
	} else {
		for k, from := 0, 0; k < len(pool); k++ {
			if k%b.Block == 0 {
				from = rng.IntN(len(pool))
			}
			r.diff[k] += pool[(from+k%b.Block)%len(pool)]
		}
	}
	if r.shift != nil {
		r.shift(r.diff)
	}
	for j := range r.p.Params {
		if q := &r.p.Params[j]; !q.Fixed && q.Prior.given() {
			q.Prior.Mean = r.best[j] + q.Prior.SD*rng.NormFloat64()
		}
	}
}
