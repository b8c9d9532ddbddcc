package evaluate

import (
	"context"
	"math"
	"slices"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// The means that a plan tries beside the curves of a given set: see [Evaluator.PlanMeans].
const (
	MeansTrap     = "light-trap"      // a light trap is read in each session
	MeansMounting = "second-mounting" // each spot is set down and read twice
	MeansAngle    = "extra-angle"     // one angle more
	MeansThrough  = "transmittance"   // the transmittance of each spot is read at normal incidence
	MeansPane     = "pane-blank"      // and that of a dark blank of the same pane in each session
)

// trapU is the standard uncertainty of a zero that light traps tell, a fraction: common practice, no source.
const trapU = 0.0001

// PlanMeans returns what the curves at the angles, in degrees, would give with one means more at a time, each with its
// name in Means. The extra angle is the one among the candidates, in degrees, that makes solar_T least uncertain; without
// a candidate that is not in the set already, there is none. A light trap is left out where the zero is known as well
// without one, and transmittance where the far face lets no light out. Without transmittance the film is taken as lossless;
// with it, the uncertainties contain that of what film and residue absorb. A proposal that cannot be measured gives a
// [*study.Refusal].
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
	if best != nil {
		if err := add(MeansAngle, best, nil); err != nil {
			return nil, err
		}
	}
	through, err := e.plansThrough(ctx, p, anglesDeg)
	return append(out, through...), err
}

// plansThrough returns what the curves at the angles would give with the transmittance of the same spot at normal
// incidence, without and with a dark blank of the same pane that is read in the same session, with the same noise. The film
// that is expected absorbs nothing, but may, as the law knows it. There are none where the far face lets no light out.
func (e *Evaluator) plansThrough(ctx context.Context, p *Proposal, anglesDeg []float64) ([]*Plan, error) {
	if !e.setup.Glass.LetsThrough() {
		return nil, nil
	}
	plan, err := p.at(anglesDeg)
	if err != nil {
		return nil, err
	}
	nm, err := p.grid()
	if err != nil {
		return nil, err
	}
	plan.Curves = append(plan.Curves, film.Curve{NM: nm, Pol: optics.U, NoiseSD: p.NoiseSD, Through: true})
	known := knownOf(&e.setup)
	known.Loss.K, known.Loss.ResidueNM = 0, 0
	through := e.knowing(&known)
	alone, err := through.precision(ctx, plan, anglesDeg)
	if err != nil {
		return nil, err
	}
	blank, err := paneOf(&e.setup.Glass, nm)
	if err != nil {
		return nil, err
	}
	plan.Curves[len(plan.Curves)-1].NoiseSD *= math.Sqrt2 // the noise of the blank is in the absorption of the pane
	withBlank, err := e.under(WithBlank(through.setup, blank, true)).precision(ctx, plan, anglesDeg)
	if err != nil {
		return nil, err
	}
	alone.Means, withBlank.Means = MeansThrough, MeansPane
	return []*Plan{alone, withBlank}, nil
}

// paneOf returns the blank that a pane without a film would make by the table of its glass.
func paneOf(glass *film.Glass, nm []float64) (*film.Blank, error) {
	pane := optics.Pane{Glass: glass.Index, GlassMM: glass.ThicknessMM, Back: optics.Bare}
	_, through, err := pane.RT(nil, nil, nm, 0, optics.U)
	if err != nil {
		return nil, refusal(err)
	}
	b, err := film.NewBlank(glass.Index, nm, through, 0)
	return b, refusal(err)
}

// knowing returns an evaluator of the same spots of which other errors are known.
func (e *Evaluator) knowing(known *film.Known) *Evaluator {
	setup := e.setup
	setup.Known = known
	return e.under(setup)
}

// under returns an evaluator of the same glass and coating under another setup.
func (e *Evaluator) under(setup Setup) *Evaluator {
	out := *e
	out.setup, out.fitter = setup, film.NewFitter(setup)
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
