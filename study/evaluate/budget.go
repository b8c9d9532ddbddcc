package evaluate

import (
	"context"

	"gonum.org/v1/gonum/floats"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
)

// Budget takes the uncertainty of a verdict of e apart: see [film.Budget], of which
// Mean and Unseen are filled here. The solar value is solar_T. base is the verdict of
// the same spot at pull 0, or nil.
func (e *Evaluator) Budget(ctx context.Context, v, base *film.Verdict, b film.Budget) ([]film.BudgetRow, error) {
	whole, _, err := solar.Weights(e.nm, SolarLoNM, SolarHiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	b.Mean = func() (*film.Probe, error) { return e.probe(whole) }
	b.Unseen = func(seen film.Window, c film.Coating) (*film.Probe, error) {
		w, err := unseenWeights(e.nm, whole, seen)
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

// unseenWeights returns what is left of the weights whole of solar_T, on nm, outside the
// wavelengths seen; nil if nothing is.
func unseenWeights(nm, whole []float64, seen film.Window) ([]float64, error) {
	lo, hi := max(seen.LoNM, SolarLoNM), min(seen.HiNM, SolarHiNM)
	left := append([]float64(nil), whole...)
	if lo >= hi { // nothing of the band is seen
		return left, nil
	}
	w, _, err := solar.Weights(nm, lo, hi, solar.Energy)
	if err != nil {
		return nil, err
	}
	part, err := solar.Irradiance(lo, hi)
	if err != nil {
		return nil, err
	}
	all, err := solar.Irradiance(SolarLoNM, SolarHiNM)
	if err != nil {
		return nil, err
	}
	floats.AddScaled(left, -part/all, w)
	const rounding = 1e-12
	some := false
	for i := range left {
		if left[i] < rounding {
			left[i] = 0
		}
		some = some || left[i] > 0
	}
	if !some {
		return nil, nil
	}
	return left, nil
}
