package fit

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
)

// linearise fills w.next with the problem near x. w.resid holds the residuals at x.
// The error names the column of the Jacobian that is not finite.
func (w *Workspace) linearise(x []float64) error {
	w.jacobians++
	if w.p.Normal != nil {
		return w.reduceNormalEquations(x)
	}
	if w.p.Jacobian != nil {
		w.p.Jacobian(w.jac, x)
	} else {
		w.difference(x)
	}
	for k, j := range w.free {
		length := blas64.Nrm2(w.column(j))
		if prior := w.p.Params[j].Prior; prior.given() {
			length = math.Hypot(length, 1/prior.SD)
		}
		if !finite(length) {
			return w.notFinite(j, length)
		}
		w.lengths[k] = length
	}
	w.next.rescale(&w.now, w.lengths)
	w.stack(x)
	w.next.reduce(w.stacked, w.tau, w.work)
	return nil
}

func (w *Workspace) notFinite(j int, length float64) error {
	return &ProblemError{w.p.name(j), "length of the Jacobian column", length, "it must be finite at the start"}
}

// column returns column j of the Jacobian.
func (w *Workspace) column(j int) blas64.Vector {
	return blas64.Vector{N: w.p.Points, Data: w.jac[j:], Inc: len(w.p.Params)}
}

// stack fills w.stacked with the scaled free columns of the Jacobian and, as last
// column, the residuals. Below them it adds a row for each prior of a free parameter.
func (w *Workspace) stack(x []float64) {
	n, all := len(w.free), len(w.p.Params)
	for i, r := range w.resid {
		row := w.stacked.Data[i*(n+1) : (i+1)*(n+1)]
		for k, j := range w.free {
			row[k] = w.jac[i*all+j] / w.next.scale[k]
		}
		row[n] = r
	}
	i := w.p.Points
	for k, j := range w.free {
		prior := w.p.Params[j].Prior
		if !prior.given() {
			continue
		}
		row := w.stacked.Data[i*(n+1) : (i+1)*(n+1)]
		clear(row)
		row[k] = 1 / prior.SD / w.next.scale[k]
		row[n] = prior.residual(x[j])
		i++
	}
}

// difference fills the free columns of the Jacobian at x with second-order
// differences. They are central, or one-sided where a bound or a residual that is not
// finite prevents that. A column that cannot be computed becomes NaN.
func (w *Workspace) difference(x []float64) {
	copy(w.shifted, x)
	for _, j := range w.free {
		done := false
		for _, o := range offsets(&w.p.Params[j], x[j]) {
			if done = w.differenceAt(j, x[j], o[0], o[1]); done {
				break
			}
		}
		if !done {
			w.setColumn(j, func(int) float64 { return math.NaN() })
		}
		w.shifted[j] = x[j]
	}
}

// offsets returns the pairs of steps to try from x, best first. Steps that are
// not within the bounds are 0.
func offsets(p *Param, x float64) [3][2]float64 {
	lower, upper := p.bounds()
	// The cube root of the precision balances truncation and rounding errors of a
	// second-order difference (common practice).
	h := min(math.Cbrt(epsilon)*p.size(x), max(upper-x, x-lower)/3)
	pairs := [3][2]float64{{h, -h}, {h, 2 * h}, {-h, -2 * h}}
	for i := range pairs {
		for k, step := range pairs[i] {
			to := x + step
			if to < lower || to > upper {
				pairs[i] = [2]float64{}
				break
			}
			pairs[i][k] = to - x // the step after rounding
		}
	}
	return pairs
}

// differenceAt fills column j with the derivative at 0 of the parabola through
// the residuals at offsets 0, a and b of parameter j,
//
//	[ (f(a) - f(0))·b/a - (f(b) - f(0))·a/b ] / (b - a)
//
// and reports whether all residuals are finite and both offsets are not 0.
func (w *Workspace) differenceAt(j int, x, a, b float64) bool {
	if a == 0 || b == 0 || !w.shift(w.atA, j, x+a) || !w.shift(w.atB, j, x+b) {
		return false
	}
	w.setColumn(j, func(i int) float64 {
		return ((w.atA[i]-w.resid[i])*(b/a) - (w.atB[i]-w.resid[i])*(a/b)) / (b - a)
	})
	return true
}

// shift stores in dst the residuals with parameter j at x, and reports whether they
// are finite.
func (w *Workspace) shift(dst []float64, j int, x float64) bool {
	w.shifted[j] = x
	w.evaluations++
	w.p.Residuals(dst, w.shifted)
	for _, r := range dst {
		if !finite(r) {
			return false
		}
	}
	return true
}

func (w *Workspace) setColumn(j int, value func(i int) float64) {
	all := len(w.p.Params)
	for i := range w.p.Points {
		w.jac[i*all+j] = value(i)
	}
}
