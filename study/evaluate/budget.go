package evaluate

import (
	"context"

	"gonum.org/v1/gonum/floats"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
)

// Budget divides the uncertainty of a verdict of e into terms: see [film.Budget]. It fills
// Mean and Unseen of b. The solar value is solar_T. base is the verdict on the same spot at
// pull 0, or nil. A budget that cannot be made gives a [*study.Refusal].
func (e *Evaluator) Budget(ctx context.Context, v, base *film.Verdict, b film.Budget) ([]film.BudgetRow, error) {
	all, _, err := solar.Weights(e.nm, SolarLoNM, SolarHiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	b.Mean = func() (*film.Probe, error) { return e.probe(all) }
	b.Unseen = func(seen film.Window, c film.Coating) (*film.Probe, error) {
		w, err := unseenWeights(e.nm, all, seen)
		if w == nil || err != nil {
			return nil, err
		}
		return film.NewProbe(e.nm, w, 0, optics.U, e.setup.Glass.Index, c)
	}
	rows, err := b.Run(ctx, v, base)
	if err != nil {
		return nil, refusal(err)
	}
	return rows, nil
}

// unseenWeights returns the part of the weights all of solar_T, on nm, outside the measured
// wavelengths. It is nil if no weight is outside. all is not changed.
func unseenWeights(nm, all []float64, seen film.Window) ([]float64, error) {
	lo, hi := max(seen.LoNM, SolarLoNM), min(seen.HiNM, SolarHiNM)
	rest := append([]float64(nil), all...)
	if lo >= hi { // no wavelength of the band is measured
		return rest, nil
	}
	w, _, err := solar.Weights(nm, lo, hi, solar.Energy)
	if err != nil {
		return nil, err
	}
	part, err := solar.Irradiance(lo, hi)
	if err != nil {
		return nil, err
	}
	total, err := solar.Irradiance(SolarLoNM, SolarHiNM)
	if err != nil {
		return nil, err
	}
	floats.AddScaled(rest, -part/total, w)
	const rounding = 1e-12
	some := false
	for i := range rest {
		if rest[i] < rounding {
			rest[i] = 0
		}
		some = some || rest[i] > 0
	}
	if !some {
		return nil, nil
	}
	return rest, nil
}
