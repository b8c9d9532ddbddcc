package evaluate

import (
	"wane/fit/film"
	"wane/study"
)

// perUnit says by how much each output quantity of a fit moves with the quantity of package film that it comes from:
// solar_T and cell_T are 1 less a mean reflectance, and the gain is in pp.
var perUnit = [study.NumberOfOutputs]float64{study.OutSolarT: -1, study.OutCellT: -1, study.OutGain: 100,
	study.OutSolid: 1, study.OutThickness: 1}

// measurands returns the quantities of package film that the output quantities of a fit come from.
func (e *Evaluator) measurands() []film.Measurand {
	return []film.Measurand{study.OutSolarT: {Mean: e.solar}, study.OutCellT: {Mean: e.cell},
		study.OutGain: {Gain: e.solar}, study.OutSolid: {Name: film.Solid}, study.OutThickness: {Name: film.Thickness}}
}

// negligibleShare is the share of the variance of each quantity up to which an effect counts as its own: hundreds of them,
// as joint fits of large sessions have, then change no variance by more than 1e-4 of it.
const negligibleShare = 1e-7

// errorsOf returns what the uncertainties of a fit are made of, with joint the name of the joint fit that effects of
// [film.OwnerJoint] belong to. Who has the other effects is filled in where fits are read, see [study.Errors.NameOwners].
// Numbers are rounded to what a study file keeps of them.
func errorsOf(from *film.Errors, joint string) study.Errors {
	const n = int(study.NumberOfOutputs)
	var out study.Errors
	var variance [n]float64
	own := func(a, b int) float64 { return from.Own.At(a, b) * perUnit[a] * perUnit[b] }
	for q := range n {
		variance[q] = own(q, q)
		for k := range from.Effects {
			variance[q] += square(from.By.At(k, q) * perUnit[q])
		}
	}
	var more [n][n]float64 // of negligible effects
	for k, effect := range from.Effects {
		s := study.Sensitivity{Effect: study.Effect{Owner: study.Owner(effect.Owner.String()), Name: effect.Name}}
		if effect.Owner == film.OwnerJoint {
			s.Of = joint
		}
		counts := false
		for q := range n {
			s.By[q] = float64(float32(from.By.At(k, q) * perUnit[q]))
			counts = counts || square(s.By[q]) > negligibleShare*variance[q]
		}
		if counts {
			out.Shared = append(out.Shared, s)
			continue
		}
		for a := range n {
			for b := range n {
				more[a][b] += s.By[a] * s.By[b]
			}
		}
	}
	for a := range n {
		for b := range a + 1 {
			out.SetOwn(study.Output(a), study.Output(b), float64(float32(own(a, b)+more[a][b])))
		}
	}
	return out
}

func square(x float64) float64 { return x * x }
