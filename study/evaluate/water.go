package evaluate

import (
	"math"

	"wane/fit/film"
	"wane/study"
)

// dry states the fit of curves for the film with dry pores, where water in them is declared. The declared share has two
// effects of its session, as a film near the best index is worse with more and with less: see [spreadOf]. They are
// among the errors of the fit, and in the uncertainties. The equivalent film keeps its thickness, and its index as it
// was read. Nothing changes where no water is declared, and for glass without a film.
func (e *Evaluator) dry(f *study.Fit, v *film.Verdict, curves []film.Curve) error {
	water := e.setup.Water
	if water == (film.Water{}) || v.Model == film.ModelBare {
		return nil
	}
	seen, err := e.coveredBy(curves)
	if err != nil {
		return err
	}
	quantities := e.measurands()
	if seen.probe != nil {
		quantities = append(quantities, film.Measurand{Mean: seen.probe})
	}
	shift, porosity, err := v.Dried(water.Share, quantities...)
	if err != nil {
		return err
	}
	spread, err := spreadOf(v, water, quantities, append(shift, porosity))
	if err != nil {
		return err
	}
	r := &f.Result
	first := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerSession, Name: "pore_water"}}
	second := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerSession, Name: "pore_water_2"}}
	for q, to := range [outputs]*study.Measure{study.OutSolarT: &r.SolarT, study.OutCellT: &r.CellT,
		study.OutGain: &r.Gain, study.OutSolid: &r.Solid, study.OutThickness: &r.Thickness} {
		first.By[q], second.By[q] = perUnit[q]*spread[q].slope, perUnit[q]*spread[q].curve
		to.Value += study.Num(perUnit[q] * shift[q])
		to.U = study.Num(math.Hypot(float64(to.U), math.Hypot(first.By[q], second.By[q])))
	}
	if len(shift) > outputs {
		f.SeenT -= study.Num(seen.share * shift[outputs])
	}
	if r.Porosity.U.Valid() { // a pinned one is as it was pinned
		by := spread[len(shift)]
		r.Porosity = study.Measure{Value: study.Num(porosity),
			U: study.Num(math.Hypot(float64(r.Porosity.U), math.Hypot(by.slope, by.curve)))}
	}
	if water.UShare > 0 {
		f.Errors.Shared = append(f.Errors.Shared, first, second)
	}
	f.Errors, r.Flags = asStored(f.Errors), append(r.Flags, study.FlagDried)
	return nil
}

// shareSpread is what the error of the declared share does to a quantity, as standard uncertainties: slope is what
// changes its sign with that error, curve the rest, whose sign is that of its mean.
type shareSpread struct{ slope, curve float64 }

// spreadOf returns that of changes by drying, and of the porosity after them; at has both for the declared share.
// With the moves a of a quantity and x of the share, and means over the true share,
//
//	slope = mean(x a) / √mean(x²),  slope² + curve² = mean(a²)
//
// so that the uncertainty is the root mean square about the value, also where the slope vanishes.
func spreadOf(v *film.Verdict, water film.Water, quantities []film.Measurand, at []float64) ([]shareSpread, error) {
	out := make([]shareSpread, len(at))
	if water.UShare == 0 {
		return out, nil
	}
	meanXX, meanXA, meanA, meanAA := 0.0, make([]float64, len(at)), make([]float64, len(at)), make([]float64, len(at))
	shares, weights := water.Spread()
	for k, w := range weights {
		changes, porosity, err := v.Dried(shares[k], quantities...)
		if err != nil {
			return nil, err
		}
		x := shares[k] - water.Share
		meanXX += w * x * x
		for q, to := range append(changes, porosity) {
			a := to - at[q]
			meanXA[q] += w * x * a
			meanA[q] += w * a
			meanAA[q] += w * a * a
		}
	}
	for q := range out {
		slope := meanXA[q] / math.Sqrt(meanXX)
		curve := math.Sqrt(max(0, meanAA[q]-slope*slope))
		out[q] = shareSpread{slope, math.Copysign(curve, meanA[q])}
	}
	return out, nil
}
