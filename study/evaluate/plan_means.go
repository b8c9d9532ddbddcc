package evaluate

import (
	"context"
	"math"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// The means that a plan tries beside the curves of a given set: see [Evaluator.PlanMeans].
const (
	MeansTrap     = "light-trap"      // a light trap is read in each session
	MeansMounting = "second-mounting" // each spot is set down and read twice
	MeansAngle    = "extra-angle"     // one angle more
)

// trapU is the standard uncertainty of a zero that light traps tell, a fraction: common practice, no source.
const trapU = 0.0001

// PlanMeans returns what the curves at the angles, in degrees, would give with one means more at a time, each with its
// name in Means. The extra angle is the one among the candidates, in degrees, that makes solar_T least uncertain; without
// a candidate that is not in the set already, there is none. A light trap is left out where the zero is known as well
// without one. A proposal that cannot be measured gives a [*study.Refusal].
func (e *Evaluator) PlanMeans(ctx context.Context, p *Proposal, anglesDeg, candidatesDeg []float64) ([]*Plan, error) {
	var out []*Plan
	add := func(means string, plan *Plan, err error) error {
		if err == nil {
			plan.Means = means
			out = append(out, plan)
		}
		return err
	}
	if known := knownOf(&e.setup); known.Session.UZero > trapU {
		known.Session.UZero = trapU
		plan, err := e.knowing(&known).Plan(ctx, p, anglesDeg)
		if err := add(MeansTrap, plan, err); err != nil {
			return nil, err
		}
	}
	twice, known := *p, knownOf(&e.setup)
	twice.NoiseSD /= math.Sqrt2
	known.Placement.UFactor /= math.Sqrt2
	known.Placement.UTiltDeg /= math.Sqrt2
	known.Placement.UZero /= math.Sqrt2
	plan, err := e.knowing(&known).Plan(ctx, &twice, anglesDeg)
	if err := add(MeansMounting, plan, err); err != nil {
		return nil, err
	}
	var best *Plan
	for _, angle := range candidatesDeg {
		if slices.Contains(anglesDeg, angle) {
			continue
		}
		set := append(slices.Clone(anglesDeg), angle)
		slices.Sort(set)
		plan, err := e.Plan(ctx, p, set)
		if err != nil {
			return nil, err
		}
		if best == nil || plan.Result.SolarT.U < best.Result.SolarT.U {
			best = plan
		}
	}
	if best == nil {
		return out, nil
	}
	return out, add(MeansAngle, best, nil)
}

// knowing returns an evaluator of the same spots of which other errors are known.
func (e *Evaluator) knowing(known *film.Known) *Evaluator {
	out := *e
	out.setup.Known = known
	out.fitter = film.NewFitter(out.setup)
	return &out
}

// twoSessions returns the uncertainty, in pp, of the change of solar_T of a spot between two readings like those of the
// errors, each in a session of its own.
func twoSessions(errors study.Errors) study.Num {
	read := func(session string) *study.Errors {
		e := errors
		e.Shared = slices.Clone(errors.Shared)
		e.NameOwners(&study.Owners{Session: session, Instrument: "instrument"})
		return &e
	}
	return study.Num(study.Uncertainty([]study.Weighted{
		{Errors: read("later"), Output: study.OutSolarT, Weight: 100},
		{Errors: read("first"), Output: study.OutSolarT, Weight: -100}}))
}
