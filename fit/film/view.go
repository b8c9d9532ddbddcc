package film

import (
	"math"
	"slices"

	"wane/optics"
)

// view is a curve's surface tabulated at some wavelengths: all of a measured grid,
// or the few nodes that stand for it. It holds scratch space for one film.
type view struct {
	nm      []float64
	angle   float64 // nominal, degrees
	surface *optics.Surface
	layer   *layer // shared by the views on the same wavelengths
	s, p    optics.FilmResponse
	far     *farFace  // nil: nothing comes back
	rough   []float64 // (4π·cos θ/λ)², 1/nm²; nil: smooth
}

func newView(setup *Setup, nm []float64, angle float64, layers *[]*layer) (*view, error) {
	surface, err := optics.NewSurface(nm, angle, setup.Glass.Index)
	if err != nil {
		return nil, err
	}
	l, err := sharedLayer(setup.Coating, nm, layers)
	if err != nil {
		return nil, err
	}
	far, err := newFarFace(setup.Glass, nm, angle)
	if err != nil {
		return nil, err
	}
	n := len(nm)
	v := &view{nm: nm, angle: angle, surface: surface, layer: l, s: optics.NewFilmResponse(n), p: optics.NewFilmResponse(n), far: far}
	if setup.Texture {
		cos := math.Cos(angle * math.Pi / 180)
		v.rough = make([]float64, n)
		for i, lambda := range nm {
			h := 4 * math.Pi * cos / lambda
			v.rough[i] = h * h
		}
	}
	return v, nil
}

// sharedLayer returns the layer on nm among layers, which it adds if it is new.
func sharedLayer(c Coating, nm []float64, layers *[]*layer) (*layer, error) {
	for _, l := range *layers {
		if slices.Equal(l.nm, nm) {
			return l, nil
		}
	}
	l, err := newLayer(c, nm)
	if err == nil {
		*layers = append(*layers, l)
	}
	return l, err
}

// see evaluates the film of g at the nominal angle plus tilt, in degrees.
func (v *view) see(g *geometry, tilt float64) {
	v.surface.Tilt(v.angle + tilt)
	v.layer.set(g.index, g.skeleton)
	v.surface.Film(v.s, v.p, g.d, v.layer.eps)
}
