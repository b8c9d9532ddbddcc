package evaluate

import (
	"context"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
)

// Seen is what figures and tables of curves show of the fit of one unit: its curves, or its bands of sunlight.
type Seen struct {
	Curves       []film.FittedCurve
	Polarisation []string // of each curve
	Sunlight     []SunlightBand
}

// SunlightBand is a band of wavelengths with what of all sunlight of 300-2500 nm (AM1.5 global, by energy) passes the
// front surface in it, as a fraction of that sunlight: the bands add to solar_T.
type SunlightBand struct {
	LoNM, HiNM float64
	T          float64
	Share      float64 // of all sunlight that is in the band
}

// Widths of bands in nm: narrow ones where the spectrum has most of its power, and what is left of it is even.
const (
	narrowBandNM = 10
	wideBandNM   = 25
	wideFromNM   = 1200
)

// Seen fits the readings of a unit again, and returns the curves of the fit: by itself, not together with others of
// its session. Readings that cannot be fitted give a [*study.Refusal].
func (e *Evaluator) Seen(ctx context.Context, readings []study.Reading) (*Seen, error) {
	v, err := e.again(ctx, readings)
	if err != nil {
		return nil, err
	}
	out := &Seen{}
	if out.Curves, err = v.Curves(); err != nil {
		return nil, err
	}
	for i := range readings {
		out.Polarisation = append(out.Polarisation, readings[i].Polarisation)
	}
	return out, nil
}

// SeenInSunlight is Seen with the bands of sunlight in place of the curves.
func (e *Evaluator) SeenInSunlight(ctx context.Context, readings []study.Reading) (*Seen, error) {
	v, err := e.again(ctx, readings)
	if err != nil {
		return nil, err
	}
	out := &Seen{}
	out.Sunlight, err = e.sunlightOf(v)
	return out, err
}

// again fits readings again.
func (e *Evaluator) again(ctx context.Context, readings []study.Reading) (*film.Verdict, error) {
	curves, err := curvesOf(readings)
	if err != nil {
		return nil, err
	}
	_, v, err := e.fit(ctx, curves, nil)
	return v, err
}

// bandProbe is a band of sunlight with the probe of what the front surface reflects of it.
type bandProbe struct {
	SunlightBand
	probe *film.Probe
}

// sunlightOf returns the bands of a fit.
func (e *Evaluator) sunlightOf(v *film.Verdict) ([]SunlightBand, error) {
	probes, err := e.sunlightProbes()
	if err != nil {
		return nil, err
	}
	bands := make([]SunlightBand, len(probes))
	for i := range probes {
		bands[i] = probes[i].SunlightBand
		bands[i].T = bands[i].Share - v.Mean(probes[i].probe).Value
	}
	return bands, nil
}

// sunlightProbes returns the bands, whose probes are made once.
func (e *Evaluator) sunlightProbes() ([]bandProbe, error) {
	if e.bands != nil {
		return e.bands, nil
	}
	weights, _, err := solar.Weights(e.nm, SolarLoNM, SolarHiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	var bands []bandProbe
	for from := 0; from < len(e.nm)-1; {
		width := float64(narrowBandNM)
		if e.nm[from] >= wideFromNM {
			width = wideBandNM
		}
		to := from + 1
		for to < len(e.nm)-1 && e.nm[to] < e.nm[from]+width {
			to++
		}
		end := to // each wavelength counts in one band
		if to == len(e.nm)-1 {
			end = len(e.nm)
		}
		b := bandProbe{SunlightBand: SunlightBand{LoNM: e.nm[from], HiNM: e.nm[to]}}
		for _, w := range weights[from:end] {
			b.Share += w
		}
		b.probe, err = film.NewProbe(e.nm[from:end], weights[from:end], 0, optics.U, e.setup.Glass.Index, e.setup.Coating)
		if err != nil {
			return nil, glassRefusal(err)
		}
		bands = append(bands, b)
		from = to
	}
	e.bands = bands
	return bands, nil
}
