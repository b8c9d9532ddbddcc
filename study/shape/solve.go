package shape

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// solution is a shape at its least squares on a path.
type solution struct {
	p       *Path
	w       *weights
	form    form
	problem *fit.Problem
	result  *fit.Result
	cov     *mat.SymDense // of what is fitted, by the weights
	gain    *mat.Dense    // the derivative of what is fitted by the path, a row for each parameter
}

// solve returns the best of the solutions from several starts.
func (w *weights) solve(ctx context.Context, p *Path, s Shape) (*solution, error) {
	sol := &solution{p: p, w: w, form: s.form()}
	for _, start := range starts(w, p, s) {
		if s == Linear { // the start is the solution
			sol.result = sol.linearResult(start)
			break
		}
		problem := w.problem(p, s, start)
		result, err := fit.Solve(ctx, problem, nil)
		if err != nil {
			return nil, fmt.Errorf("could not fit the shape %s: %w", s, err)
		}
		if sol.result == nil || result.Cost < sol.result.Cost {
			sol.problem, sol.result = problem, result
		}
	}
	if err := sol.differentiate(); err != nil {
		return nil, err
	}
	return sol, nil
}

// linearResult returns the result of a linear shape.
func (s *solution) linearResult(x []float64) *fit.Result {
	r := make([]float64, len(s.p.X))
	for i := range r {
		r[i] = s.form.at(x, s.p.X[i], 0) - s.p.Y[i]
	}
	r = s.w.whiten(r, r)
	return &fit.Result{X: x, Cost: floats.Dot(r, r), Reason: fit.GradConverged, AtBound: make([]bool, len(x))}
}

// starts returns the places from which the fit begins: the parameters that are not linear on a grid, and the others by
// least squares there.
func starts(w *weights, p *Path, s Shape) (all [][]float64) {
	first, last := p.X[0], p.X[len(p.X)-1]
	switch s {
	case Linear:
		return [][]float64{w.linear(p, s, []float64{0})}
	case Exponential:
		for _, scale := range []float64{0.1, 0.3, 1, 3} {
			all = append(all, w.linear(p, s, []float64{0, math.Log(max(scale*last, first/4))}))
		}
	case Stretched:
		for _, scale := range []float64{0.2, 1, 4} {
			for _, exponent := range []float64{0.6, 1, 1.8} {
				all = append(all, w.linear(p, s, []float64{0, math.Log(max(scale*last, first/4)), math.Log(exponent)}))
			}
		}
	case Power:
		for _, exponent := range []float64{0.4, 1, 2.2} {
			all = append(all, w.linear(p, s, []float64{0, math.Log(exponent)}))
		}
	case TwoStage:
		for i := 1; i < len(p.X)-1; i++ {
			all = append(all, w.linear(p, s, []float64{0, 0, (p.X[i-1] + p.X[i]) / 2}))
		}
	}
	return all
}

// linear fills in the parameters in which the shape is linear, the first ones that are no logarithms and no doses.
func (w *weights) linear(p *Path, s Shape, x []float64) []float64 {
	form, k := s.form(), len(p.X)
	natural := make([]float64, len(x))
	var columns [][]float64
	for i, q := range form.params {
		if q.logged || q.kind == dose {
			break
		}
		toNatural(natural, form.params, x)
		for j := range natural[:i+1] {
			natural[j] = 0
		}
		natural[i] = 1
		column := make([]float64, k)
		for j := range k {
			column[j] = form.at(natural, p.X[j], p.X[k-1])
		}
		columns = append(columns, w.whiten(nil, column))
	}
	a := mat.NewDense(k, len(columns), nil)
	for i, column := range columns {
		a.SetCol(i, column)
	}
	var least mat.VecDense
	if err := least.SolveVec(a, mat.NewVecDense(k, w.whiten(nil, p.Y))); err != nil {
		return x // as good a start as any
	}
	for i := range columns {
		x[i] = least.AtVec(i)
	}
	return x
}

// differentiate fills cov and gain, by central differences of the shape.
func (s *solution) differentiate() error {
	k, n := len(s.p.X), len(s.form.params)
	jacobian := mat.NewDense(k, n, nil)
	at := make([]float64, n)
	values := func(x []float64) []float64 {
		toNatural(at, s.form.params, x)
		y := make([]float64, k)
		for i := range k {
			y[i] = s.form.at(at, s.p.X[i], s.p.X[k-1])
		}
		return y
	}
	for j := range n {
		x := append([]float64(nil), s.result.X...)
		h := s.size(j)
		if q := s.form.params[j]; q.logged || q.kind == dose { // the others are linear: any step is exact
			h *= 1e-6
		}
		x[j] += h
		up := values(x)
		x[j] -= 2 * h
		down := values(x)
		for i := range k {
			up[i] = (up[i] - down[i]) / (2 * h)
		}
		jacobian.SetCol(j, s.w.whiten(nil, up))
	}
	var normal mat.Dense
	normal.Mul(jacobian.T(), jacobian)
	var inverse mat.Dense
	if err := inverse.Inverse(&normal); err != nil {
		var condition mat.Condition
		if !errors.As(err, &condition) || math.IsInf(float64(condition), 1) {
			return nil // cov stays nil: the path does not determine the parameters
		}
	}
	s.cov = mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			s.cov.SetSym(i, j, (inverse.At(i, j)+inverse.At(j, i))/2)
		}
	}
	// gain = (J'V⁻¹J)⁻¹ J'V⁻¹ = inverse · (L⁻¹J)' · L⁻¹
	s.gain = mat.NewDense(n, k, nil)
	unit := make([]float64, k)
	for i := range k {
		unit[i] = 1
		column := mat.NewVecDense(k, s.w.whiten(nil, unit))
		unit[i] = 0
		var down, out mat.VecDense
		down.MulVec(jacobian.T(), column)
		out.MulVec(&inverse, &down)
		s.gain.SetCol(i, out.RawVector().Data)
	}
	return nil
}

// size is what a parameter is of the order of.
func (s *solution) size(j int) float64 {
	switch q := s.form.params[j]; {
	case q.logged:
		return 1
	case q.kind == dose:
		return s.p.X[len(s.p.X)-1]
	case q.kind == rate:
		return math.Abs(s.p.Y[len(s.p.Y)-1])/s.p.X[len(s.p.X)-1] + 1e-9
	}
	return math.Abs(s.p.Y[len(s.p.Y)-1]) + 1e-9
}

func (s *solution) cost() float64 { return s.result.Cost }

func (s *solution) parameters() []float64 {
	x := make([]float64, len(s.result.X))
	toNatural(x, s.form.params, s.result.X)
	return x
}

// estimate fills the parameters of a fit.
func (s *solution) estimate(ctx context.Context, f *Fit) error {
	flags := s.p.allFlags()
	nu := float64(f.Pulls - len(s.form.params))
	if s.p.Known && isFar(f.ChiSquare, nu) {
		flags = append(flags, FlagScatter)
	}
	if !s.p.sessions && nu <= 0 && s.p.unsure() == nil {
		flags = append(flags, FlagSessionIsDose)
	}
	if math.IsNaN(f.AICc) {
		flags = append(flags, FlagNotTested)
	}
	end := ""
	for j, at := range s.result.AtBound {
		if at && end == "" {
			end = s.form.params[j].name
		}
	}
	if end != "" || s.cov == nil || !s.result.Converged() {
		what := "the path does not determine its parameters"
		if end != "" {
			what = "its " + end + " runs to the end of what is tried: the path does not show this shape"
		}
		f.cannot(what, "take a shape that the path supports: --shape all lists them by AICc", append(flags, FlagAtEnd)...)
		return nil
	}
	for j := range s.form.params {
		e, err := s.parameter(ctx, f, j, nu)
		if err != nil {
			return err
		}
		e.Flags = append(append([]string(nil), flags...), e.Flags...)
		e.Why = s.p.unsure()
		f.Parameters = append(f.Parameters, e)
	}
	s.closeFloor(f)
	return nil
}

// closeFloor takes the far end from the floor where the scale has no upper end: that end is one of what was tried.
func (s *solution) closeFloor(f *Fit) {
	if f.Shape != Exponential && f.Shape != Stretched || !math.IsNaN(f.Parameters[1].Upper) {
		return
	}
	floor := &f.Parameters[0]
	if math.IsNaN(floor.U) {
		return // it has no interval
	}
	if floor.Value < 0 {
		floor.Lower = math.NaN()
	} else {
		floor.Upper = math.NaN()
	}
	floor.Flags = append(floor.Flags, FlagOpen)
}
