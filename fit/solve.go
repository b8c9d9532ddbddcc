package fit

import (
	"context"
	"math"

	"gonum.org/v1/gonum/floats"
)

// Solve finds a local minimum of the cost of p, the sum of the squares of its
// residuals and of the residuals of its priors, from the start in p.Params. s may
// be nil.
//
// It is a Levenberg-Marquardt method in a trust region: each step goes to the
// lowest point of the local quadratic model of the cost, within the bounds and
// within a distance that grows and shrinks with the quality of the model. A step
// is accepted only if it lowers the cost and ends where all residuals and
// derivatives are finite. Residuals and Jacobian are never evaluated outside the
// bounds.
//
// A faulty problem, such as one whose residuals at the start are not finite,
// gives a [*ProblemError]. If ctx is done, Solve returns, within one step, the
// best point so far together with an error that wraps ctx.Err(). That a fit has
// not converged is not an error: see [Result.Converged].
//
// Source: J. J. Moré, The Levenberg-Marquardt algorithm: implementation and
// theory, Lecture Notes in Mathematics 630 (1978), 105-116 (from memory), for the
// scaling, the radius and most of the tests for convergence; the bounds are
// handled in our own way (step.go).
func Solve(ctx context.Context, p *Problem, s *Settings) (*Result, error) {
	return new(Workspace).Solve(ctx, p, s)
}

const (
	// firstRadius is the length of the first step at most, in lengths of the start.
	// (Our choice: of 920 starts within 5 % of those of NIST, 0.3, 1, 3, 10 and 100
	// bring 912, 910, 904, 906 and 871 to the certified minimum.)
	firstRadius = 1

	acceptShare = 1e-4 // a step is accepted if the cost falls by this share of the predicted fall
	roundingTol = 1e-8 // a predicted fall below this share of the cost may be hidden by rounding errors
)

// descend takes steps until there is a reason to stop.
func (w *Workspace) descend(ctx context.Context, s Settings) Reason {
	radius := firstRadius * w.now.length(w.x, w.free)
	if radius == 0 {
		radius = math.Sqrt(w.cost) // of the unit of scaled variables, that of the residuals
	}
	for {
		switch {
		case ctx.Err() != nil:
			return Cancelled
		case w.cosine() <= max(s.GradTol, epsilon):
			return GradConverged
		case w.iterations >= s.MaxIterations:
			return IterationLimit
		}
		var reason Reason
		if radius, reason = w.tryStep(radius, s); reason != 0 {
			return reason
		}
	}
}

// cosine returns the largest absolute cosine of the angle between the residuals and
// their derivative by a parameter that can move.
func (w *Workspace) cosine() float64 {
	w.setBox()
	if w.cost == 0 {
		return 0
	}
	largest, size := 0.0, math.Sqrt(w.cost)
	for k, g := range w.now.grad {
		if g != 0 && !w.step.isBlocked(k, g) {
			largest = max(largest, math.Abs(g)/w.now.norm[k]/size)
		}
	}
	return largest
}

// setBox sets the box of the step to the bounds, seen from x.
func (w *Workspace) setBox() {
	for k, j := range w.free {
		lower, upper := w.p.Params[j].bounds()
		w.step.lo[k] = (lower - w.x[j]) * w.now.scale[k]
		w.step.hi[k] = (upper - w.x[j]) * w.now.scale[k]
	}
}

// tryStep tries the step for a radius, accepts it if the cost falls far enough, and
// returns the next radius, or the reason to stop.
func (w *Workspace) tryStep(radius float64, s Settings) (float64, Reason) {
	w.iterations++
	w.step.findStep(&w.now, radius)
	predicted, slope := w.now.change(w.step.p, w.step.rhs)
	if !(predicted > 0) {
		return 0, Stalled
	}
	w.moveTrial()
	before, length, size := w.cost, floats.Norm(w.step.p, 2), w.now.length(w.x, w.free)
	data, cost := w.evaluate(w.trial)
	actual := before - cost
	accepted := actual >= acceptShare*predicted && w.acceptTrial(data, cost)

	costTol := max(s.CostTol, epsilon) * before
	shortened, tiny := w.step.shortened, length <= max(s.StepTol, epsilon)*size
	switch {
	case max(predicted, math.Abs(actual)) <= costTol && (!shortened || w.predictedFall() <= costTol):
		return 0, CostConverged
	case tiny && !accepted && w.predictedFall() <= roundingTol*before:
		return 0, CostConverged
	case tiny && !accepted:
		return 0, Stalled
	case tiny && !shortened:
		return 0, StepConverged
	case !accepted || actual < 0.25*predicted:
		return length * backtrack(actual, slope), 0
	case actual > 0.75*predicted || !shortened:
		return 2 * length, 0
	}
	return radius, 0
}

// predictedFall returns the fall of the cost for the best step of any length, if the
// cost were quadratic. It overwrites the step.
//
// It decides two cases. Where only the radius makes a step short, the fit has not
// converged. Where even a tiny step does not lower the cost, a predicted fall at the
// level of rounding errors means that the fit has converged; a larger one means that
// the Jacobian is wrong.
func (w *Workspace) predictedFall() float64 {
	w.step.findStep(&w.now, math.Inf(1))
	fall, _ := w.now.change(w.step.p, w.step.rhs)
	return fall
}

// moveTrial sets the trial to x and the step.
func (w *Workspace) moveTrial() {
	copy(w.trial, w.x)
	for k, j := range w.free {
		lower, upper := w.p.Params[j].bounds()
		switch p := w.step.p[k]; {
		case p == 0:
		case p == w.step.lo[k]:
			w.trial[j] = lower
		case p == w.step.hi[k]:
			w.trial[j] = upper
		default:
			w.trial[j] = min(max(w.x[j]+p/w.now.scale[k], lower), upper)
		}
	}
}

// acceptTrial makes the trial the present point and returns true. It returns false,
// and changes nothing, if the Jacobian is not finite there. data and cost are the
// sums of squares at the trial, without and with the priors.
func (w *Workspace) acceptTrial(data, cost float64) bool {
	if w.linearise(w.trial) != nil {
		return false
	}
	w.now, w.next = w.next, w.now
	w.x, w.trial = w.trial, w.x
	w.data, w.cost = data, cost
	return true
}

// backtrack returns the share of the step, from 0.1 to 0.5, at which a parabola is
// lowest. The parabola has the slope 2·slope at the start of the step and has fallen
// by actual at its end; its lowest point is at
//
//	slope / (actual + 2·slope)
func backtrack(actual, slope float64) float64 {
	if !finite(actual) {
		return 0.1
	}
	return min(max(slope/(actual+2*slope), 0.1), 0.5)
}
