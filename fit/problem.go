package fit

import (
	"fmt"
	"math"
)

// Param is one parameter of a [Problem].
type Param struct {
	// Name is used in errors. Without one the parameter is called #i, counted from 0.
	Name string

	// Start is the value to start from. It must be finite and within the bounds.
	Start float64

	// Lower and Upper bound the parameter at every evaluation; Start < Lower and
	// Upper < Start are errors, and so is Lower >= Upper. Open sides are infinite.
	// If both are zero, as in a Param that does not set them, there are no bounds.
	Lower, Upper float64

	// Prior is what is known beforehand; its zero value is nothing.
	Prior Prior

	// Fixed fixes the parameter at Start. The prior of a fixed parameter still counts
	// in the cost. The cost is therefore the same function of the parameters whichever
	// are fixed, and costs of problems with different fixed parameters can be compared.
	Fixed bool

	// Scale is a typical size of the parameter, in its own unit. It matters only
	// for a Jacobian by differences, whose steps are relative to the larger of Scale
	// and the size of the value. 0 means the first of these that is not 0 or infinite: a
	// hundredth of the size of Start, the prior's SD, the distance of the bounds, 1.
	Scale float64
}

// Prior is a Gaussian prior. It adds the residual (x - Mean)/SD to the problem. Both
// are in the unit of the parameter; SD 0 means no prior.
type Prior struct{ Mean, SD float64 }

// given reports whether there is a prior.
func (p Prior) given() bool { return p.SD != 0 }

// residual returns (x - Mean)/SD, or 0 without a prior.
func (p Prior) residual(x float64) float64 {
	if !p.given() {
		return 0
	}
	return (x - p.Mean) / p.SD
}

// bounds returns Lower and Upper with the rule for the zero value applied.
func (p *Param) bounds() (lower, upper float64) {
	if p.Lower == 0 && p.Upper == 0 {
		return math.Inf(-1), math.Inf(1)
	}
	return p.Lower, p.Upper
}

// size returns the size of the parameter at x, for steps of differences.
func (p *Param) size(x float64) float64 {
	lower, upper := p.bounds()
	scale := p.Scale
	switch {
	case scale > 0:
	case p.Start != 0:
		scale = math.Abs(p.Start) / 100
	case p.Prior.given():
		scale = p.Prior.SD
	case finite(upper - lower):
		scale = upper - lower
	default:
		scale = 1
	}
	return max(math.Abs(x), scale)
}

// Problem is a least-squares problem: find the params that minimise the sum of
// the squares of Points residuals and of the residuals of the priors.
type Problem struct {
	Params []Param

	// Points is the number of residuals, priors not counted.
	Points int

	// Residuals stores the residuals at x in dst. For data with standard
	// uncertainty sigma they are (model - data)/sigma; another weight w of a
	// square enters as a factor sqrt(w) here. dst has Points elements, x one per
	// parameter, fixed ones included. x must not be changed, and neither slice may be
	// kept. Where the model has no value, store a NaN or an Inf: the solver then
	// rejects the step that led there.
	Residuals func(dst, x []float64)

	// Jacobian stores the derivatives of the residuals at x in dst, row by row:
	// dst[i*len(Params)+j] is the derivative of residual i by parameter j, without
	// the priors. dst has Points·len(Params) elements, whose contents on entry are
	// unspecified; columns of fixed parameters are not read. x is as for Residuals.
	// If Jacobian is nil, the solver takes differences, which stay inside the bounds.
	Jacobian func(dst, x []float64)

	// Normal replaces Residuals and Jacobian in a problem whose normal equations can be
	// computed faster than its residuals. It returns the sum of squares of all Points
	// residuals at x, without the priors. With J the Jacobian and r the residuals, it
	// stores
	//
	//	JᵀJ in jj, by rows, of which only the part on and above the diagonal is read,
	//	Jᵀr in jr,
	//
	// with one row and one column for each parameter; those of fixed ones are not read.
	// Both hold zeros on entry. Where the model has no value, return a NaN.
	//
	// Normal equations have half the digits of residuals: a parameter counts as not
	// determined if it is determined less than 1e-7 as well as the others.
	Normal func(jj, jr, x []float64) float64
}

// ProblemError is a fault in what was handed to [Solve].
type ProblemError struct {
	Param    string  // name of the parameter, or empty
	Quantity string  // what is at fault, such as "start" or "residual 17"
	Value    float64 // its value
	Fault    string  // what is wrong with it
}

func (e *ProblemError) Error() string {
	of := ""
	if e.Param != "" {
		of = fmt.Sprintf(" of parameter %q", e.Param)
	}
	return fmt.Sprintf("fit: %s%s is %v: %s", e.Quantity, of, e.Value, e.Fault)
}

// name returns what parameter j is called in errors.
func (p *Problem) name(j int) string {
	if n := p.Params[j].Name; n != "" {
		return n
	}
	return fmt.Sprintf("#%d", j)
}

// check returns a *ProblemError for the first fault of p.
func (p *Problem) check() error {
	if p.Points < 1 {
		return &ProblemError{"", "number of points", float64(p.Points), "there must be at least one"}
	}
	if len(p.Params) == 0 {
		return &ProblemError{"", "number of parameters", 0, "there must be at least one"}
	}
	if p.Residuals == nil && p.Normal == nil {
		return &ProblemError{"", "number of residual functions", 0, "give Residuals or Normal"}
	}
	for j := range p.Params {
		if quantity, value, fault := p.Params[j].fault(); fault != "" {
			return &ProblemError{p.name(j), quantity, value, fault}
		}
	}
	free, known := p.count()
	if known < free {
		return &ProblemError{"", "number of residuals and priors", float64(known),
			fmt.Sprintf("fewer than the %d free parameters", free)}
	}
	return nil
}

// count returns the number of free parameters, and of the residuals that can
// determine them: the points, and the priors of free parameters.
func (p *Problem) count() (free, known int) {
	known = p.Points
	for j := range p.Params {
		if p.Params[j].Fixed {
			continue
		}
		free++
		if p.Params[j].Prior.given() {
			known++
		}
	}
	return free, known
}

// fault returns the first fault of p, or an empty one.
func (p *Param) fault() (quantity string, value float64, fault string) {
	lower, upper := p.bounds()
	switch {
	case !finite(p.Start):
		return "start", p.Start, "it must be finite"
	case math.IsNaN(lower):
		return "lower bound", lower, "it must be a number or infinite"
	case math.IsNaN(upper):
		return "upper bound", upper, "it must be a number or infinite"
	case lower >= upper:
		return "lower bound", lower, fmt.Sprintf("it must be below the upper bound %v", upper)
	case p.Start < lower || p.Start > upper:
		return "start", p.Start, fmt.Sprintf("outside the bounds %v to %v", lower, upper)
	case !finite(p.Prior.SD) || p.Prior.SD < 0:
		return "prior standard deviation", p.Prior.SD, "it must be positive and finite, or 0 for no prior"
	case p.Prior.given() && !finite(p.Prior.Mean):
		return "prior mean", p.Prior.Mean, "it must be finite"
	case !finite(p.Scale) || p.Scale < 0:
		return "scale", p.Scale, "it must be positive and finite, or 0"
	}
	return "", 0, ""
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
