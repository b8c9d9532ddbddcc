package fit

// Settings says when [Solve] stops. The zero value of a field, and a nil
// *Settings, mean the defaults. A negative tolerance, or one too small to reach
// in double precision, leaves only the limit of double precision.
type Settings struct {
	// MaxIterations limits the number of steps tried; 0 or less means 1000.
	MaxIterations int

	// CostTol stops when a step changes the cost by no more than this fraction and
	// no step, however long, is predicted to lower it by more; 0 means 1e-12.
	CostTol float64

	// StepTol stops when the step to the predicted minimum is no longer than this
	// fraction of the parameters, both weighted by how strongly the residuals
	// depend on each; 0 means 1e-10.
	StepTol float64

	// GradTol stops when the cosine of the angle between the residuals and their
	// derivative by any parameter that can move is no larger than this; 0 means
	// 1e-10.
	GradTol float64
}

const epsilon = 0x1p-52 // distance from 1 to the next double

// filled returns s with the defaults in place; s may be nil.
func (s *Settings) filled() Settings {
	if s == nil {
		s = &Settings{}
	}
	f := Settings{MaxIterations: s.MaxIterations,
		CostTol: tolerance(s.CostTol, 1e-12), StepTol: tolerance(s.StepTol, 1e-10), GradTol: tolerance(s.GradTol, 1e-10)}
	if f.MaxIterations <= 0 {
		f.MaxIterations = 1000
	}
	return f
}

func tolerance(given, standard float64) float64 {
	if given == 0 {
		return standard
	}
	return max(given, 0)
}

// Reason says why [Solve] stopped.
type Reason int

// The reasons to stop. The first three mean that the fit has converged.
const (
	CostConverged  Reason = iota + 1 // the cost no longer changes
	StepConverged                    // the parameters no longer change
	GradConverged                    // the residuals are at right angles to their derivatives
	Stalled                          // no step lowers the cost, though the Jacobian predicts a fall
	IterationLimit                   // Settings.MaxIterations steps were tried
	Cancelled                        // the context was done
)

func (r Reason) String() string {
	switch r {
	case CostConverged:
		return "cost converged"
	case StepConverged:
		return "step converged"
	case GradConverged:
		return "gradient converged"
	case Stalled:
		return "stalled"
	case IterationLimit:
		return "iteration limit"
	case Cancelled:
		return "cancelled"
	}
	return "not run"
}

// Result is the best point that [Solve] found.
type Result struct {
	X           []float64 // parameters, fixed ones included, in the order of Problem.Params
	Cost        float64   // sum of squares of all residuals, priors included
	DataCost    float64   // sum of squares without the priors
	Iterations  int       // steps tried
	Evaluations int       // calls of Residuals, those for differences included
	Jacobians   int       // Jacobians made, by Problem.Jacobian or by differences
	Reason      Reason
	AtBound     []bool // one per parameter: whether it ended on a bound; false for fixed ones

	names []string // of the parameters, for errors
	rows  int      // residuals, priors of free parameters included
	near  neighbourhood
}

// Converged reports whether the fit stopped because it had converged. A minimum
// found from one start is a local one.
func (r *Result) Converged() bool {
	return r.Reason == CostConverged || r.Reason == StepConverged || r.Reason == GradConverged
}
