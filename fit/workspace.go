package fit

import (
	"context"
	"fmt"

	"gonum.org/v1/gonum/blas/blas64"
)

// Workspace is the memory of a solver that solves many problems one after the other.
// Once it has grown to their size, only the results are allocated. The zero value is
// ready for use. Two goroutines must not use it at once.
type Workspace struct {
	p        *Problem
	free     []int // indices of the parameters that are not fixed
	rows     int   // residuals, priors of free parameters included
	x, trial []float64
	data     float64 // sum of squares of the data residuals at x
	cost     float64 // the same, with the priors

	jj, jr   []float64 // normal equations at the point evaluated last, if Problem.Normal is set
	resid    []float64 // at the point evaluated last
	jac      []float64 // as Problem.Jacobian fills it
	lengths  []float64 // of the columns of the free parameters
	stacked  blas64.General
	tau      []float64
	work     []float64
	atA, atB []float64 // residuals at shifted
	shifted  []float64

	now, next local // at x, and at the trial
	step      stepper

	iterations, evaluations, jacobians int
}

// Solve is like the function [Solve], in the memory of w. The result does not
// share that memory.
func (w *Workspace) Solve(ctx context.Context, p *Problem, s *Settings) (*Result, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	w.resize(p)
	defer func() { w.p = nil }()
	if err := w.evaluateStart(); err != nil {
		return nil, err
	}
	reason := w.descend(ctx, s.filled())
	result := w.result(reason)
	if reason == Cancelled {
		return result, fmt.Errorf("fit: stopped after %d iterations: %w", w.iterations, ctx.Err())
	}
	return result, nil
}

// resize makes room for p.
func (w *Workspace) resize(p *Problem) {
	w.p = p
	w.iterations, w.evaluations, w.jacobians = 0, 0, 0
	w.free = w.free[:0]
	for j := range p.Params {
		if !p.Params[j].Fixed {
			w.free = append(w.free, j)
		}
	}
	n, all := len(w.free), len(p.Params)
	_, rows := p.count()
	for _, v := range []*[]float64{&w.x, &w.trial, &w.shifted} {
		*v = resized(*v, all)
	}
	w.rows = rows
	w.lengths = resized(w.lengths, n)
	if p.Normal != nil {
		w.jj, w.jr, w.resid = resized(w.jj, all*all), resized(w.jr, all), w.resid[:0]
	} else {
		for _, v := range []*[]float64{&w.resid, &w.atA, &w.atB} {
			*v = resized(*v, p.Points)
		}
		w.jac = resized(w.jac, p.Points*all)
		w.stacked = blas64.General{Rows: rows, Cols: n + 1, Stride: n + 1, Data: resized(w.stacked.Data, rows*(n+1))}
		w.tau = resized(w.tau, min(rows, n+1))
		w.work = resized(w.work, 32*(n+1))
	}
	w.now.resize(n)
	w.next.resize(n)
	w.step.resize(n)
}

// evaluateStart evaluates the start.
func (w *Workspace) evaluateStart() error {
	for j := range w.p.Params {
		w.x[j] = w.p.Params[j].Start
	}
	w.data, w.cost = w.evaluate(w.x)
	for i, r := range w.resid {
		if !finite(r) {
			return &ProblemError{"", fmt.Sprintf("residual %d", i), r, "it must be finite at the start"}
		}
	}
	if !finite(w.cost) {
		return &ProblemError{"", "sum of squares", w.cost, "the residuals at the start are too large"}
	}
	if err := w.linearise(w.x); err != nil {
		return err
	}
	w.now, w.next = w.next, w.now
	return nil
}

// evaluate stores the residuals at x in w.resid, or the normal equations in w.jj and
// w.jr, and returns the sum of squares without and with the priors.
func (w *Workspace) evaluate(x []float64) (data, cost float64) {
	w.evaluations++
	if w.p.Normal != nil {
		clear(w.jj)
		clear(w.jr)
		data = w.p.Normal(w.jj, w.jr, x)
	} else {
		w.p.Residuals(w.resid, x)
		for _, r := range w.resid {
			data += r * r
		}
	}
	cost = data
	for j := range w.p.Params {
		r := w.p.Params[j].Prior.residual(x[j])
		cost += r * r
	}
	return data, cost
}

// result returns the present point.
func (w *Workspace) result(reason Reason) *Result {
	r := &Result{
		X: append([]float64(nil), w.x...), Cost: w.cost, DataCost: w.data,
		Iterations: w.iterations, Evaluations: w.evaluations, Jacobians: w.jacobians,
		Reason: reason, AtBound: make([]bool, len(w.x)),
		names: make([]string, len(w.x)), rows: w.rows, near: w.neighbourhood(),
	}
	for j := range r.names {
		r.names[j] = w.p.name(j)
	}
	for _, j := range w.free {
		lower, upper := w.p.Params[j].bounds()
		r.AtBound[j] = w.x[j] == lower || w.x[j] == upper
	}
	return r
}
