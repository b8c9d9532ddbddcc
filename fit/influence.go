package fit

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Influence holds the influence of each point on a fit. The values are exact for a
// linear problem and hold to first order for others. Where a leverage is 1, the fit
// without the point does not exist: Studentised, Cook and Shift are NaN there.
type Influence struct {
	// Leverage holds the hat values: the derivative of each fitted value by its own
	// datum, from 0 to 1. Without priors they add up to the number of free parameters.
	Leverage []float64

	// Studentised holds each residual divided by its standard deviation. The scatter of
	// the residuals is taken from the other points only, so a point does not hide
	// itself. It has the sign of the residual, and is NaN where the other points fit
	// perfectly.
	Studentised []float64

	// Cook holds Cook's distance: the sum of the squared changes of all fitted values
	// when the point is left out, divided by the square of the scatter and by the number
	// of free parameters. It is NaN where all points fit perfectly.
	Cook []float64

	// Shift has a row for each point and a column for each parameter. It holds the
	// change of the parameter, in its own unit, when the point is left out. Columns of
	// fixed parameters are 0.
	Shift *mat.Dense
}

// Influence returns the influence of the points of p on r, the solution of p. Priors
// count as further data. Parameters on a bound are treated as if they could move both
// ways. The square of the scatter is Cost/DegreesOfFreedom; there must be at least two
// degrees of freedom.
//
// A faulty problem gives a [*ProblemError]; a problem that does not determine its
// parameters gives a [*SingularError]. Influence panics if r is not as long as p.
//
// Source: R. D. Cook, S. Weisberg, Residuals and Influence in Regression (1982),
// chapters 2 and 3 (from memory).
func (p *Problem) Influence(r *Result) (*Influence, error) {
	checkResult(p, r)
	if err := p.needResiduals(); err != nil {
		return nil, err
	}
	freedom := float64(r.DegreesOfFreedom())
	if freedom < 2 {
		return nil, &ProblemError{"", "number of degrees of freedom", freedom,
			"there must be at least 2 to judge a point by the others"}
	}
	if _, err := r.Covariance(); err != nil {
		return nil, err
	}
	w, err := p.withResiduals(p.Points, p.Residuals, p.Jacobian).linearised(r.X)
	if err != nil {
		return nil, err
	}

	n, all := len(w.free), len(p.Params)
	out := &Influence{
		Leverage: make([]float64, p.Points), Studentised: make([]float64, p.Points), Cook: make([]float64, p.Points),
		Shift: mat.NewDense(p.Points, all, nil),
	}
	triangle := blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: n, Stride: n, Data: w.next.r}
	scatter2 := r.Cost / freedom
	z := blas64.Vector{N: n, Data: make([]float64, n), Inc: 1}
	for i, res := range w.resid {
		// The row of the Jacobian is j; h = j'(R'R)⁻¹j, and the step without the
		// point is (R'R)⁻¹j·residual/(1-h).
		for k, j := range w.free {
			z.Data[k] = w.jac[i*all+j] / w.next.scale[k]
		}
		blas64.Trsv(blas.Trans, triangle, z)
		h := min(floats.Dot(z.Data, z.Data), 1)
		rest := 1 - h
		if rest < roundingNoise*float64(p.Points) {
			rest, h = math.NaN(), 1
		}
		out.Leverage[i] = h
		others2 := (r.Cost - res*res/rest) / (freedom - 1)
		if others2 < roundingNoise*r.Cost {
			others2 = math.NaN()
		}
		out.Studentised[i] = res / math.Sqrt(others2*rest)
		out.Cook[i] = h * res * res / (rest * rest * float64(n) * scatter2)
		blas64.Trsv(blas.NoTrans, triangle, z)
		for k, j := range w.free {
			out.Shift.Set(i, j, z.Data[k]/w.next.scale[k]*res/rest)
		}
	}
	return out, nil
}

// linearised returns a workspace that holds the residuals, the Jacobian and the
// triangle of p at x.
func (p *Problem) linearised(x []float64) (*Workspace, error) {
	var w Workspace
	w.resize(p)
	copy(w.x, x)
	w.evaluate(w.x)
	if err := w.linearise(w.x); err != nil {
		return nil, err
	}
	return &w, nil
}
