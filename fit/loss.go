package fit

import (
	"fmt"
	"math"
	"slices"
)

// Loss says how a point with a large residual counts. Its zero value is [Squares].
//
// A residual r counts scale²·ρ(z) in the cost instead of r², with z = (r/scale)²
// and scale the size, in units of residuals, from which a residual counts as
// large. Source of the definitions: the reference of scipy.optimize.least_squares,
// SciPy 1.10.1, whose cost is half of ours.
type Loss int

const (
	Squares Loss = iota // ρ = z: least squares
	SoftL1              // ρ = 2·(√(1+z) - 1), smooth
	Huber               // ρ = z up to 1, beyond 2√z - 1
)

var lossWords = []string{"squares", "soft-l1", "huber"}

// String returns the word of l, which [ParseLoss] reads.
func (l Loss) String() string {
	if !l.known() {
		return fmt.Sprintf("Loss(%d)", int(l))
	}
	return lossWords[l]
}

// ParseLoss returns the loss called squares, soft-l1 or huber.
func ParseLoss(word string) (Loss, error) {
	if i := slices.Index(lossWords, word); i >= 0 {
		return Loss(i), nil
	}
	return 0, fmt.Errorf("fit: no loss is called %q: choose squares, soft-l1 or huber", word)
}

func (l Loss) known() bool { return l >= 0 && int(l) < len(lossWords) }

// transform returns v = sign(u)·√ρ(u²) of a residual u, in units of the scale, and dv/du.
func (l Loss) transform(u float64) (v, slope float64) {
	size := math.Abs(u)
	switch {
	case l == SoftL1:
		root := math.Hypot(1, u)
		share := math.Sqrt(2 / (1 + root)) // v/u, without the difference of near equals
		return u * share, 1 / (root * share)
	case l == Huber && size > 1:
		root := math.Sqrt(2*size - 1)
		return math.Copysign(root, u), 1 / root
	}
	return u, 1
}

// weight returns ρ'(u²).
func (l Loss) weight(u float64) float64 {
	switch size := math.Abs(u); {
	case l == SoftL1:
		return 1 / math.Hypot(1, u)
	case l == Huber && size > 1:
		return 1 / size
	}
	return 1
}

// Weights stores the weights ρ'((r/scale)²) that l gives to residuals in dst and returns it. A point of
// weight 1 counts in full. Multiply the residuals by the square roots of the weights at the solution:
// least squares then has the same solution.
//
// residuals are those of the problem before [Problem.Robust], and are not changed; scale is as for
// Robust. If dst is nil it is allocated; otherwise it must be as long as residuals, and Weights panics
// if it is not. The weight of a NaN is NaN for SoftL1 and 1 for the others.
func (l Loss) Weights(dst, residuals []float64, scale float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(residuals))
	}
	if len(dst) != len(residuals) {
		panic("fit: destination and residuals differ in length")
	}
	for i, r := range residuals {
		dst[i] = l.weight(r / scale)
	}
	return dst
}

// Robust returns a problem in which residuals count by the loss l instead of by their squares. Each
// residual r of p becomes
//
//	r' = sign(r) · scale · √ρ((r/scale)²)
//
// so that the sum of squares of r' is the robust cost. The derivatives of p are multiplied by dr'/dr,
// which is continuous. Priors count as before. p itself is not changed.
//
// scale is the size of a residual, in the unit of the residuals, above which l grows more slowly than
// the square. For residuals divided by the standard uncertainty of the data it is 1 to a few.
//
// These give a [*ProblemError]: a faulty p, an l that is no loss, a scale that is not positive and
// finite, and a p that has only normal equations, since Robust needs each residual. A residual that is
// NaN stays NaN, which [Solve] reports.
//
// The covariance of the robust problem is only approximate: points with a small weight lie on a nearly
// flat part of the cost. The problem has scratch memory, so two goroutines must not use it at once.
// Evaluations allocate nothing.
//
// Source: P. J. Huber, E. M. Ronchetti, Robust Statistics, 2nd ed. (2009), chapter 7, from memory;
// testdata/robust_scipy.py has the figures that the tests compare with.
func (p *Problem) Robust(l Loss, scale float64) (*Problem, error) {
	switch {
	case !l.known():
		return nil, &ProblemError{"", "loss", float64(l), "choose Squares, SoftL1 or Huber"}
	case !(scale > 0) || !finite(scale):
		return nil, &ProblemError{"", "scale of the loss", scale, "it must be positive and finite"}
	}
	if err := p.needResiduals(); err != nil {
		return nil, err
	}
	n := len(p.Params)
	raw, at := make([]float64, p.Points), make([]float64, n) // residuals of p, and the x they belong to
	evaluate := func(x []float64) {
		p.Residuals(raw, x)
		copy(at, x)
	}
	at[0] = math.NaN() // equal to no x: nothing is evaluated yet
	q := p.withResiduals(p.Points, func(dst, x []float64) {
		evaluate(x)
		for i, r := range raw {
			v, _ := l.transform(r / scale)
			dst[i] = scale * v
		}
	}, nil)
	if p.Jacobian == nil {
		return q, nil
	}
	q.Jacobian = func(dst, x []float64) {
		if !slices.Equal(at, x) {
			evaluate(x)
		}
		p.Jacobian(dst, x)
		for i, r := range raw {
			_, slope := l.transform(r / scale)
			row := dst[i*n : (i+1)*n]
			for j := range row {
				row[j] *= slope
			}
		}
	}
	return q, nil
}

// needResiduals returns a *ProblemError if p gives no single residuals, and otherwise
// one for the first fault of p. A problem of normal equations has no single residuals.
func (p *Problem) needResiduals() error {
	if p.Residuals == nil {
		return &ProblemError{"", "number of residual functions", 0, "each residual is needed here: give Residuals"}
	}
	return p.check()
}

// withResiduals returns a problem with a copy of the parameters of p and with other
// residuals. It has no normal equations.
func (p *Problem) withResiduals(points int, residuals, jacobian func(dst, x []float64)) *Problem {
	return &Problem{Params: slices.Clone(p.Params), Points: points, Residuals: residuals, Jacobian: jacobian}
}
