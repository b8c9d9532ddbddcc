package scenario

import (
	"wane/optics"
	"wane/optics/solar"
)

// Surface is the front of a soda-lime pane, of which a film of porous silica covers a part.
type Surface struct {
	ThicknessNM float64 // of the film, nm
	Porosity    float64 // share of voids in the volume of the film, 0 to 1
	Bare        float64 // share of the surface without film, 0 to 1
}

// SolarT returns the solar transmittance of the surface, a fraction:
//
//	T = 1 - Σ w(λ) R(λ)
//
// over the grid of the solar table, R at normal incidence, w the share of AM1.5 global by energy
// from 300 to 2500 nm (ASTM G173-03).
func (s Surface) SolarT() (float64, error) {
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	if err != nil {
		return 0, err
	}
	r, err := s.Reflectance(nm, 0)
	if err != nil {
		return 0, err
	}
	mean := 0.0
	for i, w := range weights {
		mean += w * r[i]
	}
	return 1 - mean, nil
}

// Reflectance returns the reflectance of unpolarised light, a fraction for each of nm, which holds
// at least two wavelengths in nm, rising. angleDeg is the angle of incidence in degrees from the normal, in air.
//
//	R = (1 - Bare) R(film) + Bare R(glass)
//
// The film's index follows from fused silica and its voids by the rule of Bruggeman. The value comes
// from the general stack of optics, which the model of fits does not use. A wavelength outside
// the tables of the materials is an error.
func (s Surface) Reflectance(nm []float64, angleDeg float64) ([]float64, error) {
	glass, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, angleDeg, optics.U)
	if err != nil || s.Bare == 1 {
		return glass, err
	}
	index, err := optics.Porous(optics.FusedSilica(), nm, optics.Bruggeman, s.Porosity)
	if err != nil {
		return nil, err
	}
	stack := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: s.ThicknessNM}}, Substrate: optics.SodaLime()}
	r, _, err := stack.RT(nil, nil, nm, angleDeg, optics.U)
	if err != nil {
		return nil, err
	}
	for i := range r {
		r[i] = (1-s.Bare)*r[i] + s.Bare*glass[i]
	}
	return r, nil
}
