package cause

import (
	"fmt"
	"math"

	"wane/optics"
	"wane/optics/solar"
)

// The band of solar_T, nm, and the wavelength at which the index of a film is stated.
const (
	loNM, hiNM = 300, 2500
	refNM      = 550
)

// Spectra are computed at some nodes, unless the solar mean of the bare glass, whose index may be a table with kinks, is
// then off by more than that.
const (
	sunNodes = 40
	mostOff  = 1e-9
)

// Film is a uniform film on a part of a surface.
type Film struct {
	ThicknessNM float64
	Index       float64 // at 550 nm
	Bare        float64 // share of the surface without a film
}

// Surface is glass that can carry uniform films of one coating.
type Surface struct {
	weights    []float64
	face       *optics.Surface
	bare       float64 // mean reflectance without a film
	mixing     optics.Mixing
	skeleton   float64   // at 550 nm
	dispersion []float64 // index of fused silica less that at 550 nm
	eps        []float64
	s, p       optics.FilmResponse
	known      map[[2]float64]float64 // mean reflectances of films, by thickness and index
}

// NewSurface returns the front face of a glass for films of a mixing rule and a skeleton index at 550 nm. A glass whose
// index is not known from 300 to 2500 nm, and a skeleton that is not above 1, give an error.
func NewSurface(glass optics.Index, mixing optics.Mixing, skeleton float64) (*Surface, error) {
	if !(skeleton > 1) || math.IsInf(skeleton, 1) {
		return nil, fmt.Errorf("cause: a skeleton index of %g", skeleton)
	}
	nm := solar.Grid(loNM, hiNM)
	weights, _, err := solar.Weights(nm, loNM, hiNM, solar.Energy)
	if err != nil {
		return nil, err
	}
	f := &Surface{mixing: mixing, skeleton: skeleton, known: map[[2]float64]float64{}}
	if err := f.lay(glass, nm, weights); err != nil {
		return nil, err
	}
	exact, nodes := *f, optics.NewNodes(nm, sunNodes)
	if err := f.lay(glass, nodes.NM, nodes.Weights(weights)); err != nil {
		return nil, err
	}
	if math.Abs(f.bare-exact.bare) > mostOff {
		return &exact, nil
	}
	f.bare = exact.bare
	return f, nil
}

// lay computes at wavelengths what does not depend on a film.
func (f *Surface) lay(glass optics.Index, nm, weights []float64) (err error) {
	if f.face, err = optics.NewSurface(nm, 0, glass); err != nil {
		return err
	}
	silica := optics.FusedSilica()
	on, err := silica.On(nil, nm)
	if err != nil {
		return err
	}
	ref, err := silica.At(refNM)
	if err != nil {
		return err
	}
	n := len(nm)
	f.weights, f.dispersion, f.eps = weights, make([]float64, n), make([]float64, n)
	f.s, f.p = optics.NewFilmResponse(n), optics.NewFilmResponse(n)
	for _, r := range []*optics.FilmResponse{&f.s, &f.p} {
		r.DAngle, r.DGlass = nil, nil
	}
	for i, v := range on {
		f.dispersion[i] = real(v) - real(ref)
	}
	bare, _ := f.face.Bare()
	f.bare = f.mean(bare.R)
	return nil
}

// SolarT returns 1 - R of the surface with the film at normal incidence, weighted by the ASTM G173-03 global tilt
// irradiance from 300 to 2500 nm. An index above that of the skeleton counts as that of the skeleton: what it does more
// is no porosity.
func (f *Surface) SolarT(film Film) float64 {
	return 1 - (1-film.Bare)*f.covered(film.ThicknessNM, film.Index) - film.Bare*f.bare
}

// covered returns the mean reflectance of the surface under a film.
func (f *Surface) covered(thicknessNM, index float64) float64 {
	key := [2]float64{thicknessNM, index}
	if r, ok := f.known[key]; ok {
		return r
	}
	porosity, _, _ := f.mixing.PorosityReal(index*index, f.skeleton*f.skeleton, 1)
	porosity = min(max(porosity, 0), 1)
	for i, shift := range f.dispersion {
		solid := f.skeleton + shift
		f.eps[i], _, _ = f.mixing.MixReal(solid*solid, 1, porosity)
	}
	f.face.Film(f.s, f.p, thicknessNM, f.eps) // at normal incidence s and p are equal
	r := f.mean(f.s.R)
	f.known[key] = r
	return r
}

func (f *Surface) mean(r []float64) float64 {
	sum := 0.0
	for i, w := range f.weights {
		sum += w * r[i]
	}
	return sum
}
