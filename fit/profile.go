package fit

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Interval is the range of a parameter or quantity that the data and priors allow.
type Interval struct {
	Lower, Upper float64

	// An open side is one on which the cost does not rise far enough: the end given
	// is the bound of the parameter or the farthest value that the bounds let the
	// quantity take, which makes the interval a one-sided one, or infinite, if the cost
	// does not rise within ten thousand times the distance of a linear problem.
	LowerOpen, UpperOpen bool

	Solves int // problems solved to find it
}

// Quantity is a smooth function of the parameters: it returns the value at x and,
// unless grad is nil, stores its derivatives by each parameter in grad. x must not
// be changed; neither may be kept.
type Quantity func(grad, x []float64) float64

// LowerMinimumError says that a profile came upon a point of lower cost than that
// of the best fit handed over, which makes this one a local minimum, or one that
// has not converged. Solve again from X.
type LowerMinimumError struct {
	X    []float64 // the better point
	Cost float64   // its cost
	Best float64   // the cost of the fit handed over
}

func (e *LowerMinimumError) Error() string {
	return fmt.Sprintf("fit: the cost at %v is %v, less than the %v of the best fit: start there", e.X, e.Cost, e.Best)
}

// Profile returns the interval of parameter j within which the cost of p, least
// over all other parameters, is no more than rise above that of best, the solution
// of p. Where the problem is nearly linear its half-width is √rise standard errors;
// elsewhere it follows the cost, and does not depend on how the parameter is
// written. s may be nil.
//
// For residuals divided by their standard uncertainty, rise is a quantile of
// chi-square with one degree of freedom (3.841 for 95 %); for residuals of unknown
// scale it is t²·Cost/DegreesOfFreedom with a quantile t of Student's distribution
// (t² is one of F).
//
// The end is that of the part of the profile around best: a second valley beyond a
// ridge that is higher than rise is not looked for. Each side takes two to six
// solutions as a rule, each from the one before, moved along. An end is good to
// about 1e-7 of its distance from the best value.
//
// A faulty problem, a pinned parameter, or a rise that is not positive and finite,
// gives a [*ProblemError]; a lower cost than that of best a [*LowerMinimumError].
// If ctx is done the error wraps ctx.Err(). If a solution on the way does not
// converge, or the profile jumps, the error says where; where the model has no value
// beyond, the interval ends there. Profile panics if j is no parameter of p, or best
// not as long as p.
//
// Source: D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and Its
// Applications (1988), chapter 6 (from memory): the root of the rise is nearly
// linear in the parameter, so that it is the root that is interpolated.
func Profile(ctx context.Context, p *Problem, best *Result, j int, rise float64, s *Settings) (*Interval, error) {
	checkResult(p, best)
	if err := p.check(); err != nil {
		return nil, err
	}
	if p.Params[j].Fixed {
		return nil, &ProblemError{p.name(j), "pinned value", p.Params[j].Start, "free the parameter for a profile"}
	}
	grad := make([]float64, len(p.Params))
	grad[j] = 1
	f := newProfiler(p, best, grad, rise, s)
	f.value = best.X[j]
	f.lower, f.upper = p.Params[j].bounds()
	if math.IsInf(f.sd, 1) {
		f.sd, f.smooth = p.Params[j].size(f.value)/f.target, false // for the first step
	}
	q := *p
	q.Params = slices.Clone(p.Params)
	q.Params[j].Fixed = true
	f.p = &q
	f.hold = func(value float64, x []float64) { x[j] = value }
	f.read = func(r *Result) (float64, float64) { return r.X[j], r.Cost }
	return f.interval(ctx)
}

// ProfileOf is like [Profile], for a quantity that is a function of the parameters.
//
// Its points are solutions of p with one more residual that pulls the quantity away
// from its best value. Each of them has the least cost of all points of the same
// quantity, whatever the pull, so that they lie on the profile exactly.
//
// If residuals and priors do not determine the quantity near best, the error is a
// [*SingularError].
func ProfileOf(ctx context.Context, p *Problem, best *Result, g Quantity, rise float64, s *Settings) (*Interval,
	error) {
	checkResult(p, best)
	if err := p.check(); err != nil {
		return nil, err
	}
	grad := make([]float64, len(p.Params))
	value := g(grad, best.X)
	if !finite(value) || !finite(floats.Norm(grad, 2)) {
		return nil, &ProblemError{"", "quantity", value, "it and its derivatives must be finite at the best fit"}
	}
	f := newProfiler(p, best, grad, rise, s)
	switch {
	case f.sd == 0:
		return nil, &ProblemError{"", "derivative of the quantity by the free parameters", 0,
			"it must not be zero at the best fit"}
	case math.IsInf(f.sd, 1):
		return nil, best.undetermined(grad)
	}
	f.value = value
	f.lower, f.upper = math.Inf(-1), math.Inf(1)

	// stiffness is the width of the pull in standard errors. Where the profile is a
	// parabola, the quantity gives way by its square; elsewhere by what it did the
	// last time. (Our choice; the result does not depend on it.)
	const stiffness = 0.1
	pull, give := pull{g: g, aim: value, width: stiffness * f.sd}, stiffness*stiffness
	f.p = pull.on(p)
	f.hold = func(to float64, _ []float64) {
		pull.aim = to + give*(to-value) // beyond, by what holds it back
	}
	f.read = func(r *Result) (float64, float64) {
		v := g(nil, r.X)
		if v != value {
			give = min(max((pull.aim-v)/(v-value), 0), 10*stiffness*stiffness)
		}
		res := pull.residual(v)
		return v, r.Cost - res*res
	}
	return f.interval(ctx)
}

// pull is a residual that draws a quantity to aim.
type pull struct {
	g          Quantity
	aim, width float64
}

func (u *pull) residual(value float64) float64 { return (value - u.aim) / u.width }

// on returns p with the residual as one more point.
func (u *pull) on(p *Problem) *Problem {
	n, m := len(p.Params), p.Points
	q := p.withResiduals(m+1, func(dst, x []float64) {
		p.Residuals(dst[:m], x)
		dst[m] = u.residual(u.g(nil, x))
	}, nil)
	if p.Jacobian != nil {
		q.Jacobian = func(dst, x []float64) {
			p.Jacobian(dst[:m*n], x)
			u.g(dst[m*n:], x)
			floats.Scale(1/u.width, dst[m*n:])
		}
	}
	if p.Normal != nil {
		row := make([]float64, n)
		q.Normal = func(jj, jr, x []float64) float64 {
			data := p.Normal(jj, jr, x)
			res := u.residual(u.g(row, x))
			floats.Scale(1/u.width, row)
			floats.AddScaled(jr, res, row)
			for j, v := range row {
				floats.AddScaled(jj[j*n+j:(j+1)*n], v, row[j:])
			}
			return data + res*res
		}
	}
	return q
}

// checkResult panics if r is no result of a problem like p.
func checkResult(p *Problem, r *Result) {
	if len(r.X) != len(p.Params) {
		panic("fit: result and problem differ in their number of parameters")
	}
}

// profiler finds the ends of an interval.
type profiler struct {
	w     Workspace
	s     *Settings
	best  *Result
	whole *Problem                              // as handed over
	p     *Problem                              // with the quantity held
	hold  func(value float64, x []float64)      // makes p hold it at value; x is the start
	read  func(r *Result) (value, cost float64) // what came out, without the pull
	rise  float64

	value        float64   // at best
	sd           float64   // standard error of the quantity, if the residuals were linear
	along        []float64 // change of the parameters with the quantity, on the profile
	smooth       bool      // whether the root of the rise is linear near best
	lower, upper float64   // the quantity cannot be held outside
	target       float64   // √rise

	solves int
}

// newProfiler returns a profiler of a quantity with derivatives grad at best.
func newProfiler(p *Problem, best *Result, grad []float64, rise float64, s *Settings) *profiler {
	f := &profiler{whole: p, best: best, s: s, rise: rise, target: math.Sqrt(rise), smooth: true}
	for j, g := range grad {
		if g != 0 && best.AtBound[j] {
			f.smooth = false
		}
	}
	f.sd, f.along = best.tangent(grad)
	return f
}

// tangent returns the standard error of a quantity with derivatives grad and the
// change of the parameters with it. Parameters on a bound stay there unless the
// quantity depends on them. The standard error is infinite, and the change zero, if
// the residuals do not determine the quantity, and 0 if grad is.
func (r *Result) tangent(grad []float64) (sd float64, along []float64) {
	h := &r.near
	n := len(h.free)
	along = make([]float64, len(r.X))
	var moving []int // positions among the free
	for k, j := range h.free {
		if grad[j] != 0 || !r.AtBound[j] {
			moving = append(moving, k)
		}
	}
	m := len(moving)
	if m == 0 {
		return 0, along
	}
	t, length, g := make([]float64, n*m), make([]float64, m), make([]float64, m)
	for a, k := range moving {
		length[a] = h.length[k]
		if length[a] == 0 {
			length[a] = 1
		}
		g[a] = grad[h.free[k]] / length[a]
		for i := range n {
			t[i*m+a] = h.r[i*n+k]
		}
	}
	var d svd
	d.resize(n)
	if !d.factor(t, n, m) {
		return math.Inf(1), along
	}
	d.dropBelow(h.tol)
	variance, size := 0.0, floats.Norm(g, 2)
	for i, s := range d.s[:m] {
		v := d.vt[i*m : (i+1)*m]
		part := floats.Dot(v, g)
		if s == 0 {
			if math.Abs(part) > 1e-3*size { // as for the covariance
				clear(along)
				return math.Inf(1), along
			}
			continue
		}
		variance += part / s * (part / s)
		for a, k := range moving {
			along[h.free[k]] += v[a] * part / s / s / length[a]
		}
	}
	if variance > 0 {
		floats.Scale(1/variance, along)
	}
	return math.Sqrt(variance), along
}

// undetermined names the parameters that a quantity with derivatives grad depends on.
func (r *Result) undetermined(grad []float64) error {
	e := &SingularError{}
	for _, j := range r.near.free {
		if grad[j] != 0 {
			e.Params = append(e.Params, r.names[j])
		}
	}
	return e
}
