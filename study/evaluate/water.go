package evaluate

import (
	"math"

	"wane/fit/film"
	"wane/study"
)

// waterStep is the step of the derivative by the share of the pores that is filled.
const waterStep = 0.01

// dry states the fit of curves for the film with dry pores, where water in them is declared. The declared share is an effect of its
// session: what it moves each quantity by when it is one standard uncertainty off is among the errors of the fit, and in
// the uncertainties. The equivalent film keeps its thickness, and its index as it was read. Nothing changes where no water
// is declared, and for glass without a film.
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
	more, morePorous, err := v.Dried(water.Share+waterStep, quantities...)
	if err != nil {
		return err
	}
	r := &f.Result
	effect := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerSession, Name: "pore_water"}}
	for q, to := range [outputs]*study.Measure{study.OutSolarT: &r.SolarT, study.OutCellT: &r.CellT,
		study.OutGain: &r.Gain, study.OutSolid: &r.Solid, study.OutThickness: &r.Thickness} {
		effect.By[q] = perUnit[q] * (more[q] - shift[q]) / waterStep * water.UShare
		to.Value += study.Num(perUnit[q] * shift[q])
		to.U = study.Num(math.Hypot(float64(to.U), effect.By[q]))
	}
	if len(shift) > outputs {
		f.SeenT -= study.Num(seen.share * shift[outputs])
	}
	if r.Porosity.U.Valid() { // a pinned one is as it was pinned
		r.Porosity = study.Measure{Value: study.Num(porosity), U: study.Num(math.Hypot(float64(r.Porosity.U),
			(morePorous-porosity)/waterStep*water.UShare))}
	}
	if water.UShare > 0 {
		f.Errors.Shared = append(f.Errors.Shared, effect)
	}
	f.Errors, r.Flags = asStored(f.Errors), append(r.Flags, study.FlagDried)
	return nil
}
