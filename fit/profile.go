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

	// LowerOpen and UpperOpen say that the cost does not rise far enough on that side.
	// The end is then the bound of the parameter, or the farthest value that the bounds
	// let the quantity take, and the interval is one-sided. Without such a bound the end
	// is infinite: the cost does not rise within ten thousand times the distance of a
	// linear problem.
	LowerOpen, UpperOpen bool

	Solves int // problems solved to find it
}

// Quantity is a smooth function of the parameters. It returns its value at x. Unless
// grad is nil, it stores its derivative by each parameter in grad. x and grad have one
// element per parameter; x must not be changed, and neither may be kept.
type Quantity func(grad, x []float64) float64

// LowerMinimumError reports that a profile found a point of lower cost than that of
// the best fit given. That fit is a local minimum only, or has not converged. Solve
// again from X.
type LowerMinimumError struct {
	X    []float64 // the better point
	Cost float64   // its cost
	Best float64   // the cost of the fit given
}

func (e *LowerMinimumError) Error() string {
	return fmt.Sprintf("fit: the cost at %v is %v, less than the %v of the best fit: start there", e.X, e.Cost, e.Best)
}

// Profile returns the interval of parameter j within which the cost of p, minimised
// over all other parameters, is at most rise above that of best, the solution of p.
// Where the problem is nearly linear, its half-width is √rise standard errors.
// Elsewhere it follows the cost, and a change of scale of the parameter changes the
// interval in the same way. s may be nil.
//
// For residuals divided by their standard uncertainty, rise is a quantile of
// chi-square with one degree of freedom (3.841 for 95 %); for residuals of unknown
// scale it is t²·Cost/DegreesOfFreedom with a quantile t of Student's distribution
// (t² is one of F).
//
// The ends are those of the part of the profile around best. A second valley beyond a
// ridge higher than rise is not searched for. Each side usually takes two to six
// solutions, each started from the one before. The error of an end is about 1e-7 of
// its distance from the best value.
//
// A faulty problem, a fixed parameter, or a rise that is not positive and finite gives
// a [*ProblemError]; a lower cost than that of best a [*LowerMinimumError]. If ctx is
// done, the error wraps ctx.Err(). If a solution on the way does not converge, or the
// profile jumps, the error says where. Where the model has no value beyond a point,
// the interval ends at that point. Profile panics if j is no parameter of p, or best
// not as long as p.
//
// Source: D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and Its
// Applications (1988), chapter 6 (from memory). The square root of the rise is nearly
// linear in the parameter, so the root is interpolated.
func Profile(ctx context.Context, p *Problem, best *Result, j int, rise float64, s *Settings) (*Interval, error) {
	checkResult(p, best)
	if err := p.check(); err != nil {
		return nil, err
	}
	if p.Params[j].Fixed {
		return nil, &ProblemError{p.name(j), "fixed value", p.Params[j].Start, "free the parameter for a profile"}
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
	f.constrained = &q
	f.setValue = func(value float64, x []float64) { x[j] = value }
	f.readResult = func(r *Result) (float64, float64) { return r.X[j], r.Cost }
	return f.interval(ctx)
}

// ProfileOf is like [Profile], for a quantity that is a function of the parameters.
//
// Its points are solutions of p with one more residual, the constraint residual
//
//	(quantity - target) / width
//
// Each solution has the least cost of p among all points of the same quantity,
// whatever the target and the width, so it lies on the profile exactly.
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

	// relativeWidth is the width of the constraint in standard errors of the quantity.
	// The solution stays short of the target: with v its quantity and v0 the best value,
	//
	//	target - v = shortfall·(v - v0)
	//
	// Where the profile is a parabola, shortfall is the square of relativeWidth.
	// Elsewhere that of the last solution is used. (Our choice; the result does not
	// depend on it.)
	const relativeWidth = 0.1
	c, shortfall := constraint{quantity: g, target: value, width: relativeWidth * f.sd}, relativeWidth*relativeWidth
	f.constrained = c.addTo(p)
	f.setValue = func(to float64, _ []float64) {
		c.target = to + shortfall*(to-value)
	}
	f.readResult = func(r *Result) (float64, float64) {
		v := g(nil, r.X)
		if v != value {
			shortfall = min(max((c.target-v)/(v-value), 0), 10*relativeWidth*relativeWidth)
		}
		res := c.residual(v)
		return v, r.Cost - res*res
	}
	return f.interval(ctx)
}

// constraint is a residual that draws a quantity to a target.
type constraint struct {
	quantity      Quantity
	target, width float64 // in the unit of the quantity
}

// residual returns (value - target)/width.
func (c *constraint) residual(value float64) float64 { return (value - c.target) / c.width }

// addTo returns p with the constraint residual as one more point. p is not changed.
func (c *constraint) addTo(p *Problem) *Problem {
	n, m := len(p.Params), p.Points
	q := p.withResiduals(m+1, func(dst, x []float64) {
		p.Residuals(dst[:m], x)
		dst[m] = c.residual(c.quantity(nil, x))
	}, nil)
	if p.Jacobian != nil {
		q.Jacobian = func(dst, x []float64) {
			p.Jacobian(dst[:m*n], x)
			c.quantity(dst[m*n:], x)
			floats.Scale(1/c.width, dst[m*n:])
		}
	}
	if p.Normal != nil {
		row := make([]float64, n)
		q.Normal = func(jj, jr, x []float64) float64 {
			data := p.Normal(jj, jr, x)
			res := c.residual(c.quantity(row, x))
			floats.Scale(1/c.width, row)
			floats.AddScaled(jr, res, row)
			for j, v := range row {
				floats.AddScaled(jj[j*n+j:(j+1)*n], v, row[j:])
			}
			return data + res*res
		}
	}
	return q
}

// checkResult panics if r does not have the number of parameters of p.
func checkResult(p *Problem, r *Result) {
	if len(r.X) != len(p.Params) {
		panic("fit: result and problem differ in their number of parameters")
	}
}

// profiler finds the ends of an interval.
type profiler struct {
	w           Workspace
	s           *Settings
	best        *Result
	original    *Problem                              // as given
	constrained *Problem                              // with the quantity constrained
	setValue    func(value float64, x []float64)      // constrains the quantity to value; x is the start
	readResult  func(r *Result) (value, cost float64) // the quantity, and the cost without the constraint
	rise        float64

	value        float64   // of the quantity, at best
	sd           float64   // standard error of the quantity, if the residuals were linear
	tangent      []float64 // derivatives of the parameters by the quantity, on the profile at best
	smooth       bool      // whether the root of the rise is linear near best
	lower, upper float64   // limits of the quantity
	target       float64   // √rise: the root of the rise at an end

	solves int
}

// newProfiler returns a profiler of a quantity with derivatives grad at best.
func newProfiler(p *Problem, best *Result, grad []float64, rise float64, s *Settings) *profiler {
	f := &profiler{original: p, best: best, s: s, rise: rise, target: math.Sqrt(rise), smooth: true}
	for j, g := range grad {
		if g != 0 && best.AtBound[j] {
			f.smooth = false
		}
	}
	f.sd, f.tangent = best.tangent(grad)
	return f
}

// tangent returns, for a quantity with derivatives grad, its standard error and the
// derivatives of the parameters by it. Parameters on a bound stay there unless the
// quantity depends on them. If the residuals do not determine the quantity, the
// standard error is infinite and the derivatives are 0. If grad is 0, both are 0.
func (r *Result) tangent(grad []float64) (sd float64, tangent []float64) {
	h := &r.near
	n := len(h.free)
	tangent = make([]float64, len(r.X))
	var moving []int // positions among the free
	for k, j := range h.free {
		if grad[j] != 0 || !r.AtBound[j] {
			moving = append(moving, k)
		}
	}
	m := len(moving)
	if m == 0 {
		return 0, tangent
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
		return math.Inf(1), tangent
	}
	d.dropBelow(h.tol)
	variance, size := 0.0, floats.Norm(g, 2)
	for i, s := range d.s[:m] {
		v := d.vt[i*m : (i+1)*m]
		part := floats.Dot(v, g)
		if s == 0 {
			if math.Abs(part) > 1e-3*size { // as for the covariance
				clear(tangent)
				return math.Inf(1), tangent
			}
			continue
		}
		variance += part / s * (part / s)
		for a, k := range moving {
			tangent[h.free[k]] += v[a] * part / s / s / length[a]
		}
	}
	if variance > 0 {
		floats.Scale(1/variance, tangent)
	}
	return math.Sqrt(variance), tangent
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
