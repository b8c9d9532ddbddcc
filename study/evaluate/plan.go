package evaluate

import (
	"context"
	"fmt"
	"math"

	"wane/fit/film"
	"wane/study"
)

// Proposal is a measurement that has not been made: the film that is expected and the
// curve that is to be read at each angle.
type Proposal struct {
	ThicknessNM, Porosity, Bare float64
	LoNM, HiNM, StepNM          float64
	Polarisation                string  // s, p, u or n
	NoiseSD                     float64 // of one point, a fraction
}

// mostPlanned is the largest number of points of a proposed curve.
const mostPlanned = 20000

// The words for what a plan minimises the uncertainty of.
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

// Plan is a set of angles and what it would tell.
type Plan struct {
	AnglesDeg []float64
	Result    study.Result // the film expected, and how well it would be known
	Tried     int          // sets compared to find this one; 0: it was given
	All       bool         // those were all sets of the size
}

// Plan returns what the proposed curves at the angles would tell, as far as it is known
// before any reading exists: see [film.Fitter.Precision]. The result has neither study
// keys nor a state, nor what only readings tell.
func (e *Evaluator) Plan(ctx context.Context, p *Proposal, anglesDeg []float64) (*Plan, error) {
	plan, err := p.at(anglesDeg)
	if err != nil {
		return nil, err
	}
	v, err := e.fitter.Precision(ctx, plan)
	if err != nil {
		return nil, refusal(err)
	}
	return e.planned(anglesDeg, v, plan.Curves)
}

// BestAngles returns the set of size angles, among the candidates, that would tell the
// goal best: see [film.Fitter.BestAngles]. It panics if goal is not one of [Goals].
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

// goal returns the uncertainty that a word means.
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

// planned makes the row of a verdict for curves on the same wavelengths as these.
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
	return &Plan{AnglesDeg: anglesDeg, Result: f.Result}, nil
}

// at returns the plan with a curve at each angle.
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

// grid returns the wavelengths of the curves.
func (p *Proposal) grid() ([]float64, error) {
	if !(p.LoNM > 0 && p.HiNM > p.LoNM) || math.IsInf(p.HiNM, 1) {
		return nil, &study.Refusal{Fault: fmt.Sprintf("%g to %g nm is no range of wavelengths", p.LoNM, p.HiNM),
			Try: "give the shorter wavelength first, in nm, for example 380-1100"}
	}
	steps := (p.HiNM - p.LoNM) / p.StepNM
	if !(p.StepNM > 0 && steps < mostPlanned) {
		return nil, &study.Refusal{Fault: fmt.Sprintf("a step of %g nm does not divide %g-%g nm into up to %d points",
			p.StepNM, p.LoNM, p.HiNM, mostPlanned), Try: "give the step in nm, for example 2"}
	}
	nm := make([]float64, 1+int(steps+1e-9)) // a whole number of steps may come out a little short
	for i := range nm {
		nm[i] = p.LoNM + float64(i)*p.StepNM
	}
	return nm, nil
}
