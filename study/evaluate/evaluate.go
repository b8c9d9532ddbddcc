// Package evaluate computes the result of a spot from its curves: the state of the film, its solar values, and
// their uncertainties.
//
// Start with [NewEvaluator] for one glass and coating, then call [Evaluator.Spot] or [Evaluator.Unit] for each
// spot. [Session] fits all spots of a session together, [JointPulls] all pulls of a spot. An Evaluator keeps
// the tables that its spots share and scratch memory, so each goroutine needs its own. Everything here is a
// pure function of its arguments: no files, no clock, no printing.
//
// # Solar values
//
// solar_T is 1 - R of the fitted front surface at normal incidence, weighted by the ASTM G173-03 global tilt
// irradiance over 300-2500 nm; cell_T is weighted by its photons over 300-1200 nm. Where reflectance alone was read,
// the film counts as lossless: all light that the surface does not reflect enters the glass. Where transmittance was
// read too, what the film absorbs is subtracted, and the model of the result is [ModelAbsorbing]. The gain is solar_T less that of
// the same glass without a film. The index of this glass is the fitted one, which may differ from its table.
//
// # States and flags
//
// [States] has the rules of the states: the state of a spot is the first whose rule holds. [Flags] has the
// words that a row can carry. Without a baseline thickness thinned and full cannot be distinguished, and the
// state is empty.
package evaluate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
)

// The bands of the solar values, nm.
const (
	SolarLoNM, SolarHiNM = 300, 2500
	cellLoNM, cellHiNM   = 300, 1200
	dataMaxAngle         = 15 // largest angle, in degrees, for solar_T_data
)

// Setup is what all spots of one kind of coupon have in common.
type Setup = film.Setup

// Baseline is the film at pull 0.
type Baseline struct {
	Thickness study.Measure // nm
}

// Evaluator evaluates spots of one setup.
type Evaluator struct {
	setup       Setup
	fitter      *film.Fitter
	nm          []float64   // wavelengths of the weights of solar values, nm
	solar, cell *film.Probe // of solar_T and cell_T
	covered     coveredBand // of the curves evaluated last
	weighed     weighedGrid // the one evaluated last
	leached     *Evaluator  // of the same glass with a leached skin; nil: none was needed yet
	bands       []bandProbe // of sunlight; nil: none were needed yet
}

// coveredBand is the part of the solar band that curves cover.
type coveredBand struct {
	lo, hi, share float64     // nm, nm, share of the irradiance
	probe         *film.Probe // of the mean over it; nil if the curves cover nothing of the band
}

// weighedGrid is a grid of readings with its weights of the solar band.
type weighedGrid struct {
	nm, w []float64
	share float64 // of the band that it covers
}

// weigh returns the weights of a grid. Successive spots mostly have the same one, so the last one is kept. The error says
// that it lies outside the band.
func (e *Evaluator) weigh(nm []float64) (*weighedGrid, error) {
	if len(e.weighed.nm) > 0 && slices.Equal(e.weighed.nm, nm) {
		return &e.weighed, nil
	}
	w, share, err := solar.Weights(nm, SolarLoNM, SolarHiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	e.weighed = weighedGrid{slices.Clone(nm), w, share}
	return &e.weighed, nil
}

// coveredBy returns the part of the solar band from the shortest to the longest wavelength of the curves.
// Successive spots mostly cover the same part, so the last one is kept.
func (e *Evaluator) coveredBy(curves []film.Curve) (*coveredBand, error) {
	lo, hi := math.Inf(1), 0.0
	for i := range curves {
		nm := curves[i].NM
		lo, hi = min(lo, nm[0]), max(hi, nm[len(nm)-1])
	}
	lo, hi = max(lo, SolarLoNM), min(hi, SolarHiNM)
	if lo >= hi { // the curves cover nothing of the band
		return &coveredBand{lo: lo, hi: lo}, nil
	}
	if e.covered.lo == lo && e.covered.hi == hi {
		return &e.covered, nil
	}
	w, _, err := solar.Weights(e.nm, lo, hi, solar.Energy)
	if err != nil {
		return nil, err
	}
	part, err := solar.Irradiance(lo, hi)
	if err != nil {
		return nil, err
	}
	whole, err := solar.Irradiance(SolarLoNM, SolarHiNM)
	if err != nil {
		return nil, err
	}
	probe, err := e.probe(w)
	if err != nil {
		return nil, err
	}
	e.covered = coveredBand{lo: lo, hi: hi, share: part / whole, probe: probe}
	return &e.covered, nil
}

// NewEvaluator returns an evaluator with the solar weights for setup. A glass whose index is not known over
// 300-2500 nm gives a [*study.Refusal]: solar values are not extrapolated.
func NewEvaluator(setup Setup) (*Evaluator, error) { return NewEvaluatorIn(setup, nil) }

// NewEvaluatorIn is NewEvaluator with other sunlight than that at normal incidence; nil: that. In other light solar_T, its
// gain and their errors are of the transmittance in that light, and cell_T is solar_T: see [Modifier].
func NewEvaluatorIn(setup Setup, light *Light) (*Evaluator, error) {
	e := &Evaluator{setup: setup, fitter: film.NewFitter(setup), nm: solar.Grid(SolarLoNM, SolarHiNM)}
	w, _, err := solar.Weights(e.nm, SolarLoNM, SolarHiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	if e.solar, err = e.probe(w); err != nil {
		return nil, glassRefusal(err)
	}
	if light != nil {
		e.cell = e.solar
		if e.solar, err = e.probeIn(light); err != nil {
			return nil, err
		}
		return e, nil
	}
	if w, _, err = solar.Weights(e.nm, cellLoNM, cellHiNM, solar.Photon); err != nil {
		return nil, err
	}
	if e.cell, err = e.probe(w); err != nil {
		return nil, err
	}
	return e, nil
}

// probe returns a probe of the front surface at normal incidence, weighted by w.
func (e *Evaluator) probe(w []float64) (*film.Probe, error) {
	return film.NewProbe(e.nm, w, 0, optics.U, e.setup.Glass.Index, e.setup.Coating)
}

// glassRefusal returns the refusal of a glass whose index is not known over the solar band; other errors as they
// are.
func glassRefusal(err error) error {
	var out *optics.RangeError
	if !errors.As(err, &out) {
		return err
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("the index of %s is known from %g to %g nm only, and solar_T needs %d to %d nm", out.Index,
			out.LoNM, out.HiNM, SolarLoNM, SolarHiNM),
		Try: "give a glass whose table reaches that far; nothing is extrapolated",
	}
}

// Spot evaluates the curves of one spot of coated glass. pins may be nil. base is the film at pull 0, nil if it is
// not known. The result has no study keys. The verdict is for figures, intervals and budgets. Curves that cannot be
// fitted give a [*study.Refusal]; if ctx is done, the error is that of ctx.
func (e *Evaluator) Spot(ctx context.Context, curves []film.Curve, pins film.Pins, base *Baseline) (*study.Result,
	*film.Verdict, error) {
	f, v, err := e.fit(ctx, curves, pins)
	if err != nil {
		return nil, nil, err
	}
	f.Result.State = state(v, base)
	return &f.Result, v, nil
}

// maxPoints is the largest number of points of one spot that is fitted. They need about 90 MB of memory.
const maxPoints = 80_000

// fit evaluates curves and returns a fit without a unit, with its verdict.
func (e *Evaluator) fit(ctx context.Context, curves []film.Curve, pins film.Pins) (*study.Fit, *film.Verdict, error) {
	points := 0
	for i := range curves {
		points += len(curves[i].NM)
	}
	if points > maxPoints {
		return nil, nil, &study.Refusal{Fault: fmt.Sprintf("there are %d points in all, and no more than %d are fitted",
			points, maxPoints),
			Try: "read fewer with --range, or export in larger steps"}
	}
	v, err := e.fitter.Fit(ctx, &film.Spot{Setup: e.setup, Curves: curves, Pins: pins})
	if err != nil {
		return nil, nil, refusal(err)
	}
	f := study.NewFit(study.Unit{})
	if err := e.fillFit(f, v, curves); err != nil {
		return nil, nil, err
	}
	parts, err := v.Errors(e.measurands()...)
	if err != nil {
		return nil, nil, err
	}
	all, _ := errorsOf(parts)
	f.Errors = asStored(all)
	e.fillFromData(&f.Result, curves)
	if err := e.dry(f, v, curves); err != nil {
		return nil, nil, err
	}
	return f, v, nil
}

// refusal returns the refusal of an error of package film about its input; other errors as they are.
func refusal(err error) error {
	var in *film.InputError
	if errors.As(err, &in) {
		return &study.Refusal{Fault: in.What + ": " + in.Fault, Try: in.Try}
	}
	var out *optics.RangeError
	if errors.As(err, &out) {
		return &study.Refusal{
			Fault: fmt.Sprintf("the curves reach %g nm, but the index of %s is known from %g to %g nm only", out.NM, out.Index,
				out.LoNM, out.HiNM),
			Try: "cut the curves to that range, or give a glass known there",
		}
	}
	return err
}

// fillFit copies a verdict into a fit and adds the solar values.
func (e *Evaluator) fillFit(f *study.Fit, v *film.Verdict, curves []film.Curve) error {
	seen, err := e.coveredBy(curves)
	if err != nil {
		return err
	}
	r, front, cell := &f.Result, v.Mean(e.solar), v.Mean(e.cell)
	f.SeenLoNM, f.SeenHiNM, f.SeenT = study.Num(seen.lo), study.Num(seen.hi), 0
	if seen.probe != nil {
		f.SeenT = study.Num(seen.share * (1 - v.Mean(seen.probe).Value))
	}
	r.SolarT = study.Measure{Value: study.Num(1 - front.Value), U: study.Num(front.U)}
	r.CellT = study.Measure{Value: study.Num(1 - cell.Value), U: study.Num(cell.U)}
	gain := v.Gain(e.solar)
	r.Gain = study.Measure{Value: study.Num(100 * gain.Value), U: study.Num(100 * gain.U)}
	r.Thickness, r.Porosity, r.BareFraction = measure(v.ThicknessNM), measure(v.Porosity), measure(v.Bare)
	r.Solid, r.OpticalThickness, r.FilmIndex = measure(v.SolidNM), measure(v.OpticalThicknessNM), measure(v.Index)
	r.FilmK, r.Scale = measure(v.K), measure(v.Scale)
	if absorbed := v.Absorbed(e.solar); !math.IsNaN(absorbed.Value) {
		r.Absorbed = study.Measure{Value: study.Num(100 * absorbed.Value), U: study.Num(100 * absorbed.U)}
	}
	r.Noise, r.RMSResidual = study.Num(v.NoiseSD), study.Num(v.RMSResidual)
	r.ReducedChi2, r.Points = study.Num(v.ReducedChi2), study.Num(v.Points)
	if r.Model = v.Model; v.Model == film.ModelFilm && r.Absorbed.Value.Valid() {
		r.Model = ModelAbsorbing
	}
	r.Flags = append([]string(nil), v.Flags...)
	return nil
}

// ModelAbsorbing is the model of results where transmittance was read: a film that may absorb. With the model film it counts as
// lossless, and with bare there is none.
const ModelAbsorbing = "film+k"

// measure returns an estimate as a measure.
func measure(e film.Estimate) study.Measure {
	return study.Measure{Value: study.Num(e.Value), U: study.Num(e.U)}
}

// fillFromData fills the solar value of the readings themselves, from the curve of reflectance at the smallest angle, or of
// transmittance where there is no other.
func (e *Evaluator) fillFromData(r *study.Result, curves []film.Curve) {
	best := 0
	for i := range curves {
		a, b := &curves[i], &curves[best]
		if b.Through && !a.Through || a.Through == b.Through && a.AngleDeg < b.AngleDeg {
			best = i
		}
	}
	c := &curves[best]
	weighed, err := e.weigh(c.NM)
	if err != nil { // the curve lies outside the band
		r.SolarShareCovered = 0
		return
	}
	r.SolarShareCovered = study.Num(weighed.share)
	if c.AngleDeg > dataMaxAngle || e.setup.Texture || e.setup.Glass.Back != optics.Matched {
		return
	}
	mean := 0.0
	for i, wi := range weighed.w {
		mean += wi * c.R[i]
	}
	r.SolarTData = study.Num(1 - mean)
}
