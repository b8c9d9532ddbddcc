package evaluate

import (
	"context"
	"fmt"
	"math"

	"wane/fit/film"
	"wane/study"
)

// Proposal is a measurement that has not been made: the expected film, and the curve to be
// read at each angle.
type Proposal struct {
	ThicknessNM, Porosity, Bare float64 // nm, fraction, fraction
	LoNM, HiNM, StepNM          float64 // range and step of the wavelengths
	Polarisation                string  // s, p, u or n
	NoiseSD                     float64 // of one point, a fraction
}

// maxPlanned is the largest number of points of a proposed curve.
const maxPlanned = 20000

// The words for the quantities whose uncertainty a plan can minimise.
const (
	goalThickness = "thickness"
	goalPorosity  = "porosity"
	goalBare      = "bare"
	goalSolid     = "solid"
	goalSolarT    = "solar_T"
)

// Goals returns the quantities whose uncertainty a plan can minimise.
func Goals() []string {
	return []string{goalThickness, goalPorosity, goalBare, goalSolid, goalSolarT}
}

// Plan is a set of angles with its expected result.
type Plan struct {
	AnglesDeg []float64
	Result    study.Result // the expected film, with its uncertainties; its change is that between two sessions
	Means     string       // that the set has beside its angles, such as MeansTrap; empty: none
	Tried     int          // number of sets that were compared; 0 if the set was given
	All       bool         // all sets of the size were compared
}

// Plan returns the expected result of the proposed curves at the angles, in degrees: see
// [film.Fitter.Precision]. The result has no study keys, no state, and no quantity that
// needs readings. A proposal that cannot be measured gives a [*study.Refusal].
func (e *Evaluator) Plan(ctx context.Context, p *Proposal, anglesDeg []float64) (*Plan, error) {
	plan, err := p.at(anglesDeg)
	if err != nil {
		return nil, err
	}
	return e.precision(ctx, plan, anglesDeg)
}

// precision returns the expected result of a plan of package film, whose reflectances are at the angles, in degrees.
func (e *Evaluator) precision(ctx context.Context, plan *film.Plan, anglesDeg []float64) (*Plan, error) {
	v, err := e.fitter.Precision(ctx, plan)
	if err != nil {
		return nil, refusal(err)
	}
	return e.planned(anglesDeg, v, plan.Curves)
}

// BestAngles returns the set of size angles, among the candidates, in degrees, with the
// least uncertainty of goal: see [film.Fitter.BestAngles]. It panics if goal is not one of
// [Goals]. A proposal that cannot be measured gives a [*study.Refusal].
func (e *Evaluator) BestAngles(ctx context.Context, p *Proposal, candidatesDeg []float64, size int,
	goal string) (*Plan, error) {
	plan, err := p.at(candidatesDeg)
	if err != nil {
		return nil, err
	}
	c, err := e.fitter.BestAngles(ctx, plan, size, e.goal(goal))
	if err != nil {
		return nil, refusal(err)
	}
	out, err := e.planned(c.AnglesDeg, c.Verdict, plan.Curves)
	if err != nil {
		return nil, err
	}
	out.Tried, out.All = c.Tried, c.All
	return out, nil
}

// goal returns the function that takes the uncertainty of the goal called word from a
// verdict.
func (e *Evaluator) goal(word string) func(v *film.Verdict) float64 {
	switch word {
	case goalThickness:
		return func(v *film.Verdict) float64 { return v.ThicknessNM.U }
	case goalPorosity:
		return func(v *film.Verdict) float64 { return v.Porosity.U }
	case goalBare:
		return func(v *film.Verdict) float64 { return v.Bare.U }
	case goalSolid:
		return func(v *film.Verdict) float64 { return v.SolidNM.U }
	case goalSolarT:
		return func(v *film.Verdict) float64 { return v.Mean(e.solar).U }
	}
	panic("evaluate: no goal of a plan: " + word)
}

// planned returns the plan of a verdict. The curves of the verdict have the same wavelengths
// as curves.
func (e *Evaluator) planned(anglesDeg []float64, v *film.Verdict, curves []film.Curve) (*Plan, error) {
	f := study.NewFit(study.Unit{})
	if err := e.fillFit(f, v, curves); err != nil {
		return nil, err
	}
	seen, err := e.coveredBy(curves)
	if err != nil {
		return nil, err
	}
	f.Result.SolarShareCovered = study.Num(seen.share)
	f.Result.RMSResidual, f.Result.ReducedChi2 = study.Null(), study.Null() // there are no readings
	parts, err := v.Errors(e.measurands()...)
	if err != nil {
		return nil, err
	}
	all, _ := errorsOf(parts)
	f.Result.Change = study.Measure{Value: 0, U: twoSessions(all)}
	return &Plan{AnglesDeg: anglesDeg, Result: f.Result}, nil
}

// at returns the plan of package film, with a curve at each angle.
func (p *Proposal) at(anglesDeg []float64) (*film.Plan, error) {
	pol, native, err := Beam(p.Polarisation)
	if err != nil {
		return nil, err
	}
	nm, err := p.grid()
	if err != nil {
		return nil, err
	}
	plan := &film.Plan{ThicknessNM: p.ThicknessNM, Porosity: p.Porosity, Bare: p.Bare}
	for _, a := range anglesDeg {
		plan.Curves = append(plan.Curves, film.Curve{NM: nm, AngleDeg: a, Pol: pol, Native: native, NoiseSD: p.NoiseSD})
	}
	return plan, nil
}

// grid returns the wavelengths of the curves, in nm, rising.
func (p *Proposal) grid() ([]float64, error) {
	if !(p.LoNM > 0 && p.HiNM > p.LoNM) || math.IsInf(p.HiNM, 1) {
		return nil, &study.Refusal{Fault: fmt.Sprintf("%g to %g nm is no range of wavelengths", p.LoNM, p.HiNM),
			Try: "give the shorter wavelength first, in nm, for example 380-1100"}
	}
	steps := (p.HiNM - p.LoNM) / p.StepNM
	if !(p.StepNM > 0 && steps < maxPlanned) {
		return nil, &study.Refusal{Fault: fmt.Sprintf("a step of %g nm does not divide %g-%g nm into up to %d points",
			p.StepNM, p.LoNM, p.HiNM, maxPlanned), Try: "give the step in nm, for example 2"}
	}
	nm := make([]float64, 1+int(steps+1e-9)) // rounding may make a whole number of steps a little smaller
	for i := range nm {
		nm[i] = p.LoNM + float64(i)*p.StepNM
	}
	return nm, nil
}
