package evaluate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/colour"
	"wane/optics/solar"
	"wane/study"
)

// View is how a film that is predicted is looked at. Without angles, and with a fit, the curves are those that were read.
type View struct {
	AnglesDeg          []float64
	LoNM, HiNM, StepNM float64
	Polarisation       string // s, p, u or n
	Light              colour.Light
	Through            bool // the spectra are of the transmittance of the pane, in place of the reflectance
}

// Sight is what one film shows at one angle.
type Sight struct {
	AngleDeg     float64
	Polarisation string
	SolarT       study.Measure // of the front surface at this angle, of unpolarised light, a fraction
	CellT        study.Measure
	Gain         study.Measure // of solar_T, pp
	Coloured     bool          // the three below are known: not where the return of a far face is known for too little
	Lab          colour.Lab    // of the reflectance of the curve, relative to the white of the light
	Y            float64       // 100 for a perfect reflector
	Screen       colour.RGB
	LeastNM      float64 // where the curve is lowest; the shortest of them
	Least        float64 // a fraction
}

// Forecast is a film with what it shows at each angle.
type Forecast struct {
	Film   film.Sample
	Sights []Sight
}

// Forecaster predicts what films show on one pane in one instrument. It has scratch memory: each goroutine needs its own.
type Forecaster struct {
	predictor *film.Predictor
	view      View
	read      []film.Curve // of reflectance
	words     []string     // polarisation of each
	shown     spectra
	solar     []*film.Probe
	cell      []*film.Probe
	weights   *colour.Weights // nil: no colour
	white     colour.XYZ
}

// spectra are the curves that are handed out.
type spectra struct {
	predictor *film.Predictor
	curves    []film.Curve // its first ones
	words     []string     // polarisation of each
}

// colourGrid is where colour is summed on a glass, nm.
func colourGrid(glass *film.Glass) (nm []float64) {
	lo, hi := math.Inf(-1), math.Inf(1)
	if glass.Back == optics.Laminated {
		lo, hi = glass.Return.RangeNM()
	}
	for at := float64(colour.LoNM); at <= colour.HiNM; at++ {
		if lo <= at && at <= hi {
			nm = append(nm, at)
		}
	}
	return nm
}

// NewForecaster returns a forecaster of films that are stated. What cannot be predicted gives a [*study.Refusal].
func NewForecaster(setup Setup, v View) (*Forecaster, error) {
	curves, words, err := v.curves()
	if err != nil {
		return nil, err
	}
	predict := func(all []film.Curve) (*film.Predictor, error) { return film.NewPredictor(setup, all) }
	f, err := newForecaster(&setup, v, curves, words, predict)
	if err == nil && v.Through {
		err = f.showThrough(throughOf(curves), words, predict)
	}
	return f, err
}

// throughOf returns curves of transmittance like others.
func throughOf(curves []film.Curve) []film.Curve {
	out := slices.Clone(curves)
	for i := range out {
		out[i].Through = true
	}
	return out
}

// showThrough makes curves of transmittance those that are handed out.
func (f *Forecaster) showThrough(curves []film.Curve, words []string,
	predict func([]film.Curve) (*film.Predictor, error)) error {
	p, err := predict(curves)
	if err != nil {
		return refusal(err)
	}
	f.shown = spectra{p, curves, words}
	return nil
}

// Fitted is the fit of a spot that predictions start from.
type Fitted struct {
	setup   *Setup
	verdict *film.Verdict
	curves  []film.Curve
	words   []string

	through      []film.Curve // those that are of transmittance
	throughWords []string
}

// Fitted fits the readings of a unit again, by itself, to predict from.
func (e *Evaluator) Fitted(ctx context.Context, readings []study.Reading) (*Fitted, error) {
	curves, err := curvesOf(readings)
	if err != nil {
		return nil, err
	}
	_, v, err := e.fit(ctx, curves, nil)
	if err != nil {
		return nil, err
	}
	f := &Fitted{setup: &e.setup, verdict: v}
	for i := range curves {
		if curves[i].Through {
			f.through, f.throughWords = append(f.through, curves[i]), append(f.throughWords, readings[i].Polarisation)
		} else {
			f.curves, f.words = append(f.curves, curves[i]), append(f.words, readings[i].Polarisation)
		}
	}
	return f, nil
}

// Forecaster returns a forecaster that starts from the fit.
func (f *Fitted) Forecaster(v View) (*Forecaster, error) {
	curves, words, through, throughWords := f.curves, f.words, f.through, f.throughWords
	if len(v.AnglesDeg) > 0 {
		var err error
		if curves, words, err = v.curves(); err != nil {
			return nil, err
		}
		through, throughWords = throughOf(curves), words
	}
	if len(curves) == 0 {
		return nil, &study.Refusal{Fault: "no reflectance of this spot was read, and no angle is stated", Try: "add --angles"}
	}
	out, err := newForecaster(f.setup, v, curves, words, f.verdict.Predictor)
	if err == nil && v.Through {
		if len(through) == 0 {
			through, throughWords = throughOf(curves), words // which is refused
		}
		err = out.showThrough(through, throughWords, f.verdict.Predictor)
	}
	return out, err
}

// curves are those of the view.
func (v *View) curves() (curves []film.Curve, words []string, err error) {
	p := Proposal{LoNM: v.LoNM, HiNM: v.HiNM, StepNM: v.StepNM}
	nm, err := p.grid()
	if err != nil {
		return nil, nil, err
	}
	pol, native, err := Beam(v.Polarisation)
	if err != nil {
		return nil, nil, err
	}
	for _, angle := range v.AnglesDeg {
		curves = append(curves, film.Curve{NM: nm, AngleDeg: angle, Pol: pol, Native: native})
		words = append(words, v.Polarisation)
	}
	return curves, words, nil
}

// newForecaster makes the tables of curves; behind each curve is one for its colour.
func newForecaster(setup *Setup, v View, curves []film.Curve, words []string,
	predict func([]film.Curve) (*film.Predictor, error)) (*Forecaster, error) {
	f := &Forecaster{view: v, read: curves, words: words, white: v.Light.White()}
	all := append([]film.Curve(nil), curves...)
	var err error
	if nm := colourGrid(&setup.Glass); len(nm) > 1 {
		var little *colour.CoverageError
		if f.weights, err = colour.For(nm, v.Light); err != nil && !errors.As(err, &little) {
			return nil, err
		}
		for _, c := range curves {
			if c.NM = nm; f.weights != nil {
				all = append(all, c)
			}
		}
	}
	if f.predictor, err = predict(all); err != nil {
		return nil, refusal(err)
	}
	f.shown = spectra{f.predictor, curves, words}
	grid := solar.Grid(SolarLoNM, SolarHiNM)
	energy, _, err := solar.Weights(grid, SolarLoNM, SolarHiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	photons, _, err := solar.Weights(grid, cellLoNM, cellHiNM, solar.Photon)
	if err != nil {
		return nil, err
	}
	for _, c := range curves {
		for _, of := range []struct {
			to *[]*film.Probe
			w  []float64
		}{{&f.solar, energy}, {&f.cell, photons}} {
			probe, err := film.NewProbe(grid, of.w, c.AngleDeg, optics.U, setup.Glass.Index, setup.Coating)
			if err != nil {
				return nil, glassRefusal(err)
			}
			*of.to = append(*of.to, probe)
		}
	}
	return f, nil
}

// Predict returns what a film shows. A film that the model does not know gives a [*study.Refusal].
func (f *Forecaster) Predict(s film.Sample) (*Forecast, error) {
	for _, p := range []*film.Predictor{f.predictor, f.shown.predictor} {
		if err := p.Set(s); err != nil {
			var in *film.InputError
			if errors.As(err, &in) {
				return nil, &study.Refusal{Fault: strings.TrimPrefix(in.Fault, "film: "), Try: in.Try}
			}
			return nil, err
		}
	}
	out := &Forecast{Film: f.predictor.Film()}
	values := f.predictor.Values()
	for k, c := range f.read {
		s := Sight{AngleDeg: c.AngleDeg, Polarisation: f.words[k], Coloured: f.weights != nil,
			SolarT: lessThanOne(f.predictor.Mean(f.solar[k])), CellT: lessThanOne(f.predictor.Mean(f.cell[k]))}
		if s.Coloured {
			xyz := f.weights.XYZ(values[len(f.read)+k])
			s.Lab, s.Y = xyz.Lab(f.white), xyz.Y
			s.Screen, _ = xyz.SRGB(f.white)
		}
		gain := f.predictor.Gain(f.solar[k])
		s.Gain = study.Measure{Value: study.Num(100 * gain.Value), U: study.Num(100 * gain.U)}
		s.Least = math.Inf(1)
		for i, v := range values[k] {
			if v < s.Least {
				s.LeastNM, s.Least = c.NM[i], v
			}
		}
		out.Sights = append(out.Sights, s)
	}
	return out, nil
}

// lessThanOne is what a mean that is not let through leaves.
func lessThanOne(e film.Estimate) study.Measure {
	return study.Measure{Value: study.Num(1 - e.Value), U: study.Num(e.U)}
}

// Spectrum is a predicted curve; Band is empty where nothing is uncertain.
type Spectrum struct {
	NM, Values, Band []float64 // nm, fraction, half-width of the 95 % band, a fraction
	AngleDeg         float64
	Polarisation     string
}

// Spectra returns the curves of the film that was predicted last.
func (f *Forecaster) Spectra() (out []Spectrum) {
	values, bands := f.shown.predictor.Values(), f.shown.predictor.Bands()
	for k, c := range f.shown.curves {
		s := Spectrum{NM: c.NM, Values: slices.Clone(values[k]), AngleDeg: c.AngleDeg, Polarisation: f.shown.words[k]}
		if bands != nil {
			s.Band = bands[k]
		}
		out = append(out, s)
	}
	return out
}

// ParseLight reads the name of a light of package colour.
func ParseLight(word string) (colour.Light, error) {
	for _, l := range colour.Lights {
		if strings.EqualFold(l.String(), word) {
			return l, nil
		}
	}
	return 0, fmt.Errorf("there is no light %q", word)
}
