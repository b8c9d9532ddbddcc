package fit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

const (
	rootTol    = 1e-5 // of the root of the rise; the last interpolation then does the rest
	jumpTol    = 1e-6 // share of the distance below which a bracket is a jump of the profile
	doubtful   = 2    // targets: a point outside with a larger root may lie in another valley
	negligible = 1e-6 // of the rise
	farthest   = 1e4  // first steps after which a side is open
	maxSolves  = 80   // on a side; only jumps take many
)

// interval finds both ends.
func (f *profiler) interval(ctx context.Context) (*Interval, error) {
	if !(f.rise > 0) || !finite(f.rise) {
		return nil, &ProblemError{"", "rise", f.rise, "it must be positive and finite"}
	}
	if !f.best.Converged() {
		if err := f.checkBest(ctx); err != nil {
			return nil, err
		}
	}
	var i Interval
	var err error
	if i.Lower, i.LowerOpen, err = f.side(-1, f.lower).end(ctx); err != nil {
		return nil, err
	}
	if i.Upper, i.UpperOpen, err = f.side(1, f.upper).end(ctx); err != nil {
		return nil, err
	}
	i.Solves = f.solves
	return &i, nil
}

// checkBest makes sure that no lower cost is found from best.
func (f *profiler) checkBest(ctx context.Context) error {
	q := *f.whole
	q.Params = slices.Clone(q.Params)
	for j := range q.Params {
		q.Params[j].Start = f.best.X[j]
	}
	f.solves++
	r, err := f.w.Solve(ctx, &q, f.s)
	if err != nil {
		return err
	}
	return f.compare(r.X, r.Cost)
}

// compare returns a *LowerMinimumError if the cost at x is lower than that of best, by
// more than is a matter of where fits stop.
func (f *profiler) compare(x []float64, cost float64) error {
	if cost-f.best.Cost < -1e-11*f.best.Cost-negligible*f.rise {
		return &LowerMinimumError{X: x, Cost: cost, Best: f.best.Cost}
	}
	return nil
}

// side is one side of a profile, on which out is the distance of the quantity from
// its best value.
type side struct {
	*profiler
	sign    float64 // of the change of the quantity outwards
	limit   float64 // value of the quantity
	reach   float64 // where out ends
	nodes   []node  // solved, best first
	inside  node    // the farthest with a root below the target
	outside node    // the nearest with one above, if passed
	passed  bool
	ceiling float64 // out that must not be left behind without having been looked at
}

// node is a point of the profile. Where the model has no value, root is infinite and
// x is nil.
type node struct {
	out  float64
	root float64 // of the rise of the cost
	x    []float64
}

func (f *profiler) side(sign, limit float64) *side {
	best := node{0, 0, f.best.X}
	return &side{profiler: f, sign: sign, limit: limit, reach: sign * (limit - f.value),
		nodes: []node{best}, inside: best, ceiling: math.Inf(1)}
}

// at returns the value of the quantity at out.
func (s *side) at(out float64) float64 {
	if out >= s.reach {
		return s.limit
	}
	return s.value + s.sign*out
}

// end returns the end of the interval.
//
// As long as the end is not passed, steps go outwards; then it lies between inside
// and outside. The next point is interpolated, or in the middle where that does not
// help.
func (s *side) end(ctx context.Context) (value float64, open bool, err error) {
	if s.reach == 0 {
		return s.limit, true, nil
	}
	first := s.sd * s.target
	next, helped, miss := first, true, math.Inf(1)
	for range maxSolves {
		if next >= s.reach || next > farthest*first {
			if math.IsInf(s.limit, 0) {
				return s.limit, true, nil
			}
			next = s.reach
		}
		n, err := s.solveAt(ctx, next, helped)
		if err != nil {
			return 0, false, err
		}
		s.nodes = append(s.nodes, n)
		before := miss
		miss = math.Abs(n.root - s.target)
		switch {
		case miss <= rootTol*s.target:
			return s.at(s.settle()), false, nil
		case n.root < s.target && (n.out >= s.reach || s.stuck(next, n.out)):
			return s.at(n.out), true, nil
		}
		s.narrow(n)
		if s.passed && s.outside.out-s.inside.out <= jumpTol*s.outside.out {
			return s.jump()
		}
		next, helped = s.next(miss <= 0.5*before)
	}
	return 0, false, fmt.Errorf("fit: the profile does not end within %d solutions, the last at %v: it may not be "+
		"smooth", maxSolves, s.at(next))
}

// stuck reports whether a pull well outwards, to aim, went almost nowhere.
func (s *side) stuck(aim, to float64) bool {
	step := aim - s.inside.out
	return !s.passed && step > 0.01*s.inside.out && to-s.inside.out < 0.01*step
}

// narrow makes n the point inside or outside. With a point farther inside, one outside
// that was far too high is worth another look: it may have been solved in another
// valley, where it would have stayed.
func (s *side) narrow(n node) {
	if n.root > s.target {
		s.outside, s.passed = n, true
		return
	}
	s.inside = n
	switch {
	case s.passed && s.outside.root > doubtful*s.target:
		s.passed, s.ceiling = false, s.outside.out
	case !s.passed && n.out >= s.ceiling:
		s.ceiling = math.Inf(1)
	}
}

// jump returns the end where inside and outside have come together.
func (s *side) jump() (value float64, open bool, err error) {
	if !math.IsInf(s.outside.root, 1) {
		return 0, false, fmt.Errorf("fit: the profile jumps at %v: there may be another minimum of the cost",
			s.at(s.inside.out))
	}
	return s.at(s.inside.out), false, nil
}

// next returns where to solve next; helping says whether the last solution was much
// nearer to the target than the one before. helped is false if it is the step for
// want of a better one.
func (s *side) next(helping bool) (out float64, helped bool) {
	out = s.interpolate()
	helped = helping && out > s.inside.out && !(s.passed && out >= s.outside.out)
	switch {
	case s.passed && !helped:
		return s.inside.out + (s.outside.out-s.inside.out)/2, false
	case s.passed:
		return out, true
	case !helped:
		out = max(2*s.inside.out, s.sd*s.target)
	}
	return min(out, 4*s.inside.out, s.ceiling), helped
}

// settle returns the end, from the last node, which is next to it.
func (s *side) settle() float64 {
	last := s.nodes[len(s.nodes)-1].out
	if out := s.interpolate(); math.Abs(out-last) <= 1e-3*last {
		return out
	}
	return last
}

// interpolate returns out at the target on the polynomial, in the root of the rise,
// through the last nodes, with the slope at best if that is one of them: the formula
// of Newton.
func (s *side) interpolate() float64 {
	var z, c []float64 // roots and distances
	for i := len(s.nodes) - 1; i >= 0 && len(z) < 4; i-- {
		n := s.nodes[i]
		near := func(root float64) bool { return math.Abs(root-n.root) < 1e-9*s.target }
		if n.root > doubtful*s.target || slices.ContainsFunc(z, near) {
			continue
		}
		z, c = append(z, n.root), append(c, n.out)
		if i == 0 && s.smooth {
			z, c = append(z, n.root), append(c, n.out) // stands for the slope
		}
	}
	// Divided differences, in place. Equal roots are those of best, side by side.
	for order := 1; order < len(z); order++ {
		for i := len(z) - 1; i >= order; i-- {
			if z[i] == z[i-order] {
				c[i] = s.sd
				continue
			}
			c[i] = (c[i] - c[i-1]) / (z[i] - z[i-order])
		}
	}
	out := 0.0
	for i := len(z) - 1; i >= 0; i-- {
		out = out*(s.target-z[i]) + c[i]
	}
	return out
}

// solveAt solves the problem with the quantity held at out. It starts from points
// near there, if smooth is false only from those inside.
func (s *side) solveAt(ctx context.Context, out float64, smooth bool) (node, error) {
	value := s.at(out)
	nearest, x := s.guess(out, smooth)
	r, err := s.solve(ctx, value, x)
	var fault *ProblemError
	if errors.As(err, &fault) || err == nil && !s.done(r) { // without the move
		r, err = s.solve(ctx, value, nearest)
	}
	switch {
	case errors.As(err, &fault): // not finite there
		return node{out, math.Inf(1), nil}, nil
	case err != nil:
		return node{}, fmt.Errorf("fit: profile at %v: %w", value, err)
	case !s.done(r):
		return node{}, fmt.Errorf("fit: profile at %v: the fit has not converged (%v): allow more iterations, or pin "+
			"what is not determined", value, r.Reason)
	}
	got, cost := s.read(r)
	if err := s.compare(r.X, cost); err != nil {
		return node{}, err
	}
	if got != value {
		out = s.sign * (got - s.value)
	}
	return node{out, math.Sqrt(max(cost-s.best.Cost, 0)), r.X}, nil
}

// done reports whether r is good enough: it has converged, or has nothing to lose.
func (f *profiler) done(r *Result) bool {
	return r.Converged() || r.Cost-f.best.Cost <= negligible*f.rise
}

// solve solves from x, with the quantity held at value.
func (f *profiler) solve(ctx context.Context, value float64, x []float64) (*Result, error) {
	f.solves++
	f.hold(value, x)
	for j := range f.p.Params {
		f.p.Params[j].Start = x[j]
	}
	return f.w.Solve(ctx, f.p, f.s)
}

// guess returns copies of the parameters of the node nearest to out and of where they
// are expected at out: on the line through the two nearest nodes, or along the tangent
// at best, moved into the bounds. If smooth is false, nodes outside do not count.
func (s *side) guess(out float64, smooth bool) (nearest, x []float64) {
	trusted := s.target
	if smooth {
		trusted *= doubtful
	}
	var a, b node
	away := func(n node) float64 { return math.Abs(n.out - out) }
	for _, n := range s.nodes {
		switch {
		case n.root > trusted:
		case a.x == nil || away(n) < away(a):
			a, b = n, a
		case b.x == nil || away(n) < away(b):
			b = n
		}
	}
	nearest, x = slices.Clone(a.x), slices.Clone(a.x)
	if b.x == nil {
		floats.AddScaled(x, s.sign*(out-a.out), s.along)
	} else if t := (out - a.out) / (b.out - a.out); math.Abs(t) <= 4 {
		for j := range x {
			x[j] += t * (b.x[j] - a.x[j])
		}
	}
	for j := range x {
		if q := &s.p.Params[j]; !q.Fixed {
			lower, upper := q.bounds()
			x[j] = min(max(x[j], lower), upper)
		}
	}
	return nearest, x
}
