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
	rootTol     = 1e-5 // relative error of the root of the rise at which the last interpolation follows
	jumpTol     = 1e-6 // share of the distance below which a bracket is a jump of the profile
	trustedRoot = 2    // in targets: a point with a larger root may lie in another valley
	negligible  = 1e-6 // of the rise
	farthest    = 1e4  // in first steps: beyond, a side is open
	maxSolves   = 80   // on a side; only jumps take many
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

// checkBest returns a *LowerMinimumError if a fit from best finds a lower cost.
func (f *profiler) checkBest(ctx context.Context) error {
	q := *f.original
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

// compare returns a *LowerMinimumError if the cost at x is lower than that of best by
// more than the tolerance of fits.
func (f *profiler) compare(x []float64, cost float64) error {
	if cost-f.best.Cost < -1e-11*f.best.Cost-negligible*f.rise {
		return &LowerMinimumError{X: x, Cost: cost, Best: f.best.Cost}
	}
	return nil
}

// side is one side of a profile. distance is that of the quantity from its best value,
// in its unit.
type side struct {
	*profiler
	sign      float64 // of the change of the quantity outwards
	limit     float64 // limit of the quantity
	longest   float64 // distance of the limit
	nodes     []node  // solved, best first
	inside    node    // the farthest node with a root below the target
	outside   node    // the nearest node with a root above it, if bracketed
	bracketed bool    // whether the end lies between inside and outside
	recheck   float64 // distance that must be solved again before the search goes beyond it
}

// node is a point of the profile. Where the model has no value, root is infinite and
// x is nil.
type node struct {
	distance float64
	root     float64 // of the rise of the cost
	x        []float64
}

func (f *profiler) side(sign, limit float64) *side {
	best := node{0, 0, f.best.X}
	return &side{profiler: f, sign: sign, limit: limit, longest: sign * (limit - f.value),
		nodes: []node{best}, inside: best, recheck: math.Inf(1)}
}

// valueAt returns the value of the quantity at a distance.
func (s *side) valueAt(distance float64) float64 {
	if distance >= s.longest {
		return s.limit
	}
	return s.value + s.sign*distance
}

// end returns the end of the interval.
//
// Steps go outwards until the end is bracketed between inside and outside. Then the
// next point is interpolated, or halved where interpolation does not come nearer.
func (s *side) end(ctx context.Context) (value float64, open bool, err error) {
	if s.longest == 0 {
		return s.limit, true, nil
	}
	first := s.sd * s.target
	next, interpolated, miss := first, true, math.Inf(1)
	for range maxSolves {
		if next >= s.longest || next > farthest*first {
			if math.IsInf(s.limit, 0) {
				return s.limit, true, nil
			}
			next = s.longest
		}
		n, err := s.solveAt(ctx, next, interpolated)
		if err != nil {
			return 0, false, err
		}
		s.nodes = append(s.nodes, n)
		before := miss
		miss = math.Abs(n.root - s.target)
		switch {
		case miss <= rootTol*s.target:
			return s.valueAt(s.finalDistance()), false, nil
		case n.root < s.target && (n.distance >= s.longest || s.isStuck(next, n.distance)):
			return s.valueAt(n.distance), true, nil
		}
		s.narrow(n)
		if s.bracketed && s.outside.distance-s.inside.distance <= jumpTol*s.outside.distance {
			return s.jump()
		}
		next, interpolated = s.nextDistance(miss <= 0.5*before)
	}
	return 0, false, fmt.Errorf("fit: the profile does not end within %d solutions, the last at %v: it may not be "+
		"smooth", maxSolves, s.valueAt(next))
}

// isStuck reports whether the quantity hardly moved, to the distance reached, when it
// was constrained to a distance well beyond the last.
func (s *side) isStuck(asked, reached float64) bool {
	step := asked - s.inside.distance
	return !s.bracketed && step > 0.01*s.inside.distance && reached-s.inside.distance < 0.01*step
}

// narrow makes n the node inside or outside. If the node outside had a root far above
// the target, it may lie in another valley. It is solved again from the new node
// inside.
func (s *side) narrow(n node) {
	if n.root > s.target {
		s.outside, s.bracketed = n, true
		return
	}
	s.inside = n
	switch {
	case s.bracketed && s.outside.root > trustedRoot*s.target:
		s.bracketed, s.recheck = false, s.outside.distance
	case !s.bracketed && n.distance >= s.recheck:
		s.recheck = math.Inf(1)
	}
}

// jump returns the end where the distance between inside and outside is negligible: the
// point beyond which the model has no value. Any other jump is an error.
func (s *side) jump() (value float64, open bool, err error) {
	if !math.IsInf(s.outside.root, 1) {
		return 0, false, fmt.Errorf("fit: the profile jumps at %v: there may be another minimum of the cost",
			s.valueAt(s.inside.distance))
	}
	return s.valueAt(s.inside.distance), false, nil
}

// nextDistance returns the distance to solve next. improved says whether the last
// solution was much nearer to the target than the one before. interpolated is false if
// the distance is a fixed step instead: half the bracket, or double the distance.
func (s *side) nextDistance(improved bool) (distance float64, interpolated bool) {
	distance = s.interpolate()
	interpolated = improved && distance > s.inside.distance && !(s.bracketed && distance >= s.outside.distance)
	switch {
	case s.bracketed && !interpolated:
		return s.inside.distance + (s.outside.distance-s.inside.distance)/2, false
	case s.bracketed:
		return distance, true
	case !interpolated:
		distance = max(2*s.inside.distance, s.sd*s.target)
	}
	return min(distance, 4*s.inside.distance, s.recheck), interpolated
}

// finalDistance returns the distance of the end, near that of the last node.
func (s *side) finalDistance() float64 {
	last := s.nodes[len(s.nodes)-1].distance
	if distance := s.interpolate(); math.Abs(distance-last) <= 1e-3*last {
		return distance
	}
	return last
}

// interpolate returns the distance at the target, on the polynomial in the root of the
// rise through the last nodes, by Newton's formula. If best is one of them, the
// polynomial has the known slope there.
func (s *side) interpolate() float64 {
	var z, c []float64 // roots; distances, then divided differences
	for i := len(s.nodes) - 1; i >= 0 && len(z) < 4; i-- {
		n := s.nodes[i]
		near := func(root float64) bool { return math.Abs(root-n.root) < 1e-9*s.target }
		if n.root > trustedRoot*s.target || slices.ContainsFunc(z, near) {
			continue
		}
		z, c = append(z, n.root), append(c, n.distance)
		if i == 0 && s.smooth {
			z, c = append(z, n.root), append(c, n.distance) // twice, for the slope
		}
	}
	// Divided differences, in place. The only equal roots are those of best, next to each
	// other; their divided difference is the slope.
	for order := 1; order < len(z); order++ {
		for i := len(z) - 1; i >= order; i-- {
			if z[i] == z[i-order] {
				c[i] = s.sd
				continue
			}
			c[i] = (c[i] - c[i-1]) / (z[i] - z[i-order])
		}
	}
	distance := 0.0
	for i := len(z) - 1; i >= 0; i-- {
		distance = distance*(s.target-z[i]) + c[i]
	}
	return distance
}

// solveAt solves the problem with the quantity constrained to a distance. It starts
// from nodes near there; if interpolated is false, only from nodes inside.
func (s *side) solveAt(ctx context.Context, distance float64, interpolated bool) (node, error) {
	value := s.valueAt(distance)
	nearest, x := s.startPoints(distance, interpolated)
	r, err := s.solve(ctx, value, x)
	var fault *ProblemError
	if errors.As(err, &fault) || err == nil && !s.isSolved(r) { // without extrapolation
		r, err = s.solve(ctx, value, nearest)
	}
	switch {
	case errors.As(err, &fault): // not finite there
		return node{distance, math.Inf(1), nil}, nil
	case err != nil:
		return node{}, fmt.Errorf("fit: profile at %v: %w", value, err)
	case !s.isSolved(r):
		return node{}, fmt.Errorf("fit: profile at %v: the fit has not converged (%v): allow more iterations, or fix "+
			"what is not determined", value, r.Reason)
	}
	got, cost := s.readResult(r)
	if err := s.compare(r.X, cost); err != nil {
		return node{}, err
	}
	if got != value {
		distance = s.sign * (got - s.value)
	}
	return node{distance, math.Sqrt(max(cost-s.best.Cost, 0)), r.X}, nil
}

// isSolved reports whether r has converged, or its cost is that of best.
func (f *profiler) isSolved(r *Result) bool {
	return r.Converged() || r.Cost-f.best.Cost <= negligible*f.rise
}

// solve solves from x, with the quantity constrained to value.
func (f *profiler) solve(ctx context.Context, value float64, x []float64) (*Result, error) {
	f.solves++
	f.setValue(value, x)
	for j := range f.constrained.Params {
		f.constrained.Params[j].Start = x[j]
	}
	return f.w.Solve(ctx, f.constrained, f.s)
}

// startPoints returns two vectors of parameters, both copies: nearest is that of the
// node nearest to the distance, x that expected at the distance, on the line through
// the two nearest nodes, or along the tangent at best. x is moved into the bounds. If
// interpolated is false, nodes outside do not count.
func (s *side) startPoints(distance float64, interpolated bool) (nearest, x []float64) {
	trusted := s.target
	if interpolated {
		trusted *= trustedRoot
	}
	var a, b node
	away := func(n node) float64 { return math.Abs(n.distance - distance) }
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
		floats.AddScaled(x, s.sign*(distance-a.distance), s.tangent)
	} else if t := (distance - a.distance) / (b.distance - a.distance); math.Abs(t) <= 4 {
		for j := range x {
			x[j] += t * (b.x[j] - a.x[j])
		}
	}
	for j := range x {
		if q := &s.constrained.Params[j]; !q.Fixed {
			lower, upper := q.bounds()
			x[j] = min(max(x[j], lower), upper)
		}
	}
	return nearest, x
}
