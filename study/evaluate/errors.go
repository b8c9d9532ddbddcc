package evaluate

import (
	"wane/fit/film"
	"wane/study"
)

// outputs is the number of quantities of a fit whose uncertainty is kept effect by effect.
const outputs = int(study.NumberOfOutputs)

// byOutput has a value for each of these quantities.
type byOutput [outputs]float64

// perUnit says by how much each output quantity of a fit moves with the quantity of package film that it comes from:
// solar_T and cell_T are 1 less a mean reflectance, and the gain is in pp.
var perUnit = byOutput{study.OutSolarT: -1, study.OutCellT: -1, study.OutGain: 100, study.OutSolid: 1,
	study.OutThickness: 1}

// measurands returns the quantities of package film that the output quantities of a fit come from.
func (e *Evaluator) measurands() []film.Measurand {
	return []film.Measurand{study.OutSolarT: {Mean: e.solar}, study.OutCellT: {Mean: e.cell},
		study.OutGain: {Gain: e.solar}, study.OutSolid: {Name: film.Solid}, study.OutThickness: {Name: film.Thickness}}
}

// negligibleShare is the share of the variance of each quantity up to which an effect counts as its own.
const negligibleShare = 1e-7

// errorsOf returns what the uncertainties of a fit are made of. inside holds the columns of what it shares inside a
// joint fit, which are not among its errors. Who has the effects is filled in where fits are read: see
// [study.Errors.NameOwners].
func errorsOf(from *film.Errors) (out study.Errors, inside []byOutput) {
	var variance byOutput
	own := func(a, b int) float64 { return from.Own.At(a, b) * perUnit[a] * perUnit[b] }
	by := make([]byOutput, len(from.Effects))
	for q := range outputs {
		variance[q] = own(q, q)
		for k := range by {
			by[k][q] = from.By.At(k, q) * perUnit[q]
			variance[q] += by[k][q] * by[k][q]
		}
	}
	var negligible []byOutput
	for k, effect := range from.Effects {
		switch {
		case effect.Owner == film.OwnerJoint:
			inside = append(inside, by[k])
		case by[k].counts(&variance, negligibleShare):
			owned := study.Effect{Owner: study.Owner(effect.Owner.String()), Name: effect.Name}
			out.Shared = append(out.Shared, study.Sensitivity{Effect: owned, By: by[k]})
		default:
			negligible = append(negligible, by[k])
		}
	}
	for a := range outputs {
		for b := range a + 1 {
			out.SetOwn(study.Output(a), study.Output(b), own(a, b)+covarianceOf(negligible, negligible, a, b))
		}
	}
	return out, inside
}

// counts reports whether an effect is more than a share of the variance of any quantity.
func (by *byOutput) counts(variance *byOutput, share float64) bool {
	for q, v := range by {
		if v*v > share*variance[q] {
			return true
		}
	}
	return false
}

// covarianceOf returns the covariance of quantity a by some columns with quantity b by others of the same effects.
func covarianceOf(some, others []byOutput, a, b int) (sum float64) {
	for k := range some {
		sum += some[k][a] * others[k][b]
	}
	return sum
}

// asStored returns errors with their numbers rounded to what a study file keeps of them.
func asStored(e study.Errors) study.Errors {
	for i := range e.Shared {
		for q := range e.Shared[i].By {
			e.Shared[i].By[q] = float64(float32(e.Shared[i].By[q]))
		}
	}
	for i := range e.Own {
		e.Own[i] = float64(float32(e.Own[i]))
	}
	return e
}
