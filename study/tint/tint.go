// Package tint says which colour a coated surface reflects, and which films a measured tint can come from.
//
// Start with [NewView]: a glass under one light at one angle. [View.Of] is the tint of a film on it; [View.Ribbon] that
// of films of many thicknesses, and [View.Match] the way back.
//
// A surface reflects a few percent of the light: to a person who holds it against a white sheet it is nearly black. So a
// tint is shown in so much light that the bare glass at that angle has L* 90, and its true luminance is stated beside it.
//
// Colours are of the front surface alone, of unpolarised light, seen by the CIE 1931 observer (package colour). The film
// is a solid with air in its pores, by the mixing rule of the study, uniform, without loss.
package tint

import (
	"math"

	"wane/optics"
	"wane/optics/colour"
)

// GlassL is the lightness L* that bare glass has in a tint.
const GlassL = 90

// View is a glass under a light, seen at an angle.
type View struct {
	AngleDeg float64
	Light    colour.Light

	glass   optics.Index
	solid   optics.Index // of films
	mixing  optics.Mixing
	weights *colour.Weights
	white   colour.XYZ
	bare    []float64 // reflectance of the glass
	scale   float64   // of light, so that the bare glass has GlassL
}

// grid is where reflectance is computed, in nm: a film that is thinner than a wavelength has smooth curves.
var grid = func() (nm []float64) {
	for x := float64(colour.LoNM); x <= colour.HiNM; x += 5 {
		nm = append(nm, x)
	}
	return nm
}()

// NewView returns a view at an angle in degrees from the normal, 0 to below 90; solid is what films on the glass are of. An
// index that is not known from 380 to 780 nm is an [*optics.RangeError], another angle an [*optics.DomainError].
func NewView(glass, solid optics.Index, mixing optics.Mixing, angleDeg float64, light colour.Light) (*View, error) {
	weights, err := colour.For(grid, light)
	if err != nil {
		return nil, err
	}
	bare, _, err := optics.Stack{Substrate: glass}.RT(nil, nil, grid, angleDeg, optics.U)
	if err != nil {
		return nil, err
	}
	v := &View{AngleDeg: angleDeg, Light: light, glass: glass, solid: solid, mixing: mixing, weights: weights, white: light.White(), bare: bare}
	v.scale = colour.Lab{L: GlassL}.XYZ(v.white).Y / weights.XYZ(bare).Y
	return v, nil
}

// Film is a porous film of which a share of the surface is bare.
type Film struct {
	ThicknessNM float64 // above 0 to some thousand
	Porosity    float64 // 0 to below 1
	Bare        float64 // 0 to 1
}

// Tint is how a surface looks.
type Tint struct {
	Luminance float64    // what it reflects of the light that the eye sees, percent: Y of the CIE
	Lab       colour.Lab // in so much light that bare glass has L* 90, relative to the white of the light
	Screen    colour.RGB // the same for a screen or a printer whose white stands for the light
	Within    bool       // a screen can show it; else Screen is the nearest that it can
	seen      colour.XYZ
}

// Of returns the tint of a film. A film that cannot be is an [*optics.DomainError].
func (v *View) Of(film Film) (Tint, error) {
	seen, err := v.seen(film)
	if err != nil {
		return Tint{}, err
	}
	return v.tint(seen), nil
}

// Glass returns the tint of the bare glass.
func (v *View) Glass() Tint { return v.tint(v.weights.XYZ(v.bare)) }

func (v *View) tint(seen colour.XYZ) Tint {
	t := Tint{Luminance: seen.Y, seen: seen, Lab: seen.Times(v.scale).Lab(v.white)}
	t.Screen, t.Within = seen.Times(v.scale).SRGB(v.white)
	return t
}

// seen returns the tristimulus values of a film, 100 for a surface that reflects all.
func (v *View) seen(film Film) (colour.XYZ, error) {
	for _, check := range []struct {
		what, want      string
		value, low, top float64
	}{
		{"porosity", "from 0 to below 1", film.Porosity, 0, math.Nextafter(1, 0)},
		{"bare fraction", "from 0 to 1", film.Bare, 0, 1},
		{"thickness", "from 0 to 5000 nm", film.ThicknessNM, 0, 5000},
	} {
		if !(check.value >= check.low && check.value <= check.top) {
			return colour.XYZ{}, &optics.DomainError{Quantity: check.what, At: -1, Value: check.value, Want: check.want}
		}
	}
	if film.ThicknessNM == 0 {
		return v.weights.XYZ(v.bare), nil
	}
	index, err := optics.Porous(v.solid, grid, v.mixing, film.Porosity)
	if err != nil {
		return colour.XYZ{}, err
	}
	stack := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: film.ThicknessNM}}, Substrate: v.glass}
	r, _, err := stack.RT(nil, nil, grid, v.AngleDeg, optics.U)
	if err != nil {
		return colour.XYZ{}, err
	}
	for i := range r {
		r[i] += film.Bare * (v.bare[i] - r[i])
	}
	return v.weights.XYZ(r), nil
}

// At is the tint of a film of a thickness.
type At struct {
	NM float64
	Tint
}

// Ribbon returns the tints of films from 0 nm to most, in steps in nm, both above 0.
func (v *View) Ribbon(porosity, bare, most, step float64) (ribbon []At, err error) {
	if !(step > 0) || !(most > 0) || most/step > 1e5 {
		return nil, &optics.DomainError{Quantity: "step of a ribbon", At: -1, Value: step, Want: "above 0, with 100,000 steps at most"}
	}
	for i := 0; float64(i)*step <= most; i++ {
		t, err := v.Of(Film{float64(i) * step, porosity, bare})
		if err != nil {
			return nil, err
		}
		ribbon = append(ribbon, At{float64(i) * step, t})
	}
	return ribbon, nil
}
