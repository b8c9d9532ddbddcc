package film

import (
	"math"

	"wane/optics"
)

// Coating describes the relation between the porosity of a film and its index: the
// mixing rule and the index of the solid.
type Coating struct {
	Mixing optics.Mixing
	// Skeleton is the index of the solid at 550 nm, and USkeleton its standard
	// uncertainty. If Skeleton is 0, they are 1.458 and 0.010. If Skeleton is stated
	// and USkeleton is 0, the index is fixed.
	Skeleton, USkeleton float64
}

// refNM is the wavelength, in nm, at which the index of a film is stated.
const refNM = 550

func (c Coating) skeleton() (index, u float64) {
	if c.Skeleton == 0 {
		return 1.458, 0.010
	}
	return c.Skeleton, c.USkeleton
}

// Solid returns the index of the coating's solid: fused silica, shifted to the index of the coating at 550 nm.
func (c Coating) Solid() (optics.Index, error) {
	silica := optics.FusedSilica()
	at, err := silica.At(refNM)
	index, _ := c.skeleton()
	return silica.Shifted(index - real(at)), err
}

// indexRange returns the lowest and the highest index at 550 nm of a film of the
// coating: those at porosity maxPorosity and at porosity 0.
func (c Coating) indexRange() (lo, hi float64) {
	skeleton, _ := c.skeleton()
	return c.indexOf(maxPorosity, skeleton), skeleton
}

// indexOf returns the index of a film of the given porosity, both at 550 nm.
func (c Coating) indexOf(porosity, skeleton float64) float64 {
	eps, _, _ := c.Mixing.MixReal(skeleton*skeleton, 1, porosity)
	return math.Sqrt(eps)
}

// porosityOf is the inverse of indexOf, with its derivatives by index and
// skeleton index.
func (c Coating) porosityOf(index, skeleton float64) (p, dIndex, dSkeleton float64) {
	p, dFilm, dSolid := c.Mixing.PorosityReal(index*index, skeleton*skeleton, 1)
	return p, dFilm * 2 * index, dSolid * 2 * skeleton
}

// layer is the permittivity of a coating on fixed wavelengths, with its
// derivatives by the film's index and by the skeleton index, both at 550 nm.
type layer struct {
	coating         Coating
	nm              []float64
	index, skeleton float64         // that it is set to
	profile         *optics.Profile // of structured films
	solid           []float64       // index of fused silica less its value at 550 nm
	eps, dIdx, dSkl []float64
}

func newLayer(c Coating, nm []float64) (*layer, error) {
	silica := optics.FusedSilica()
	ref, err := silica.At(refNM)
	if err != nil {
		return nil, err
	}
	n := len(nm)
	l := &layer{coating: c, nm: nm, solid: make([]float64, n), eps: make([]float64, n), dIdx: make([]float64, n),
		dSkl: make([]float64, n)}
	for i, lambda := range nm {
		v, err := silica.At(lambda)
		if err != nil {
			return nil, err
		}
		l.solid[i] = real(v) - real(ref)
	}
	l.profile, err = optics.NewProfile(nm, c.Mixing, silica, refNM)
	return l, err
}

// set fills the permittivity and its derivatives.
func (l *layer) set(index, skeleton float64) {
	if l.index == index && l.skeleton == skeleton {
		return
	}
	l.index, l.skeleton = index, skeleton
	p, pIdx, pSkl := l.coating.porosityOf(index, skeleton)
	for i, shift := range l.solid {
		solid := skeleton + shift
		eps, dP, dSolid := l.coating.Mixing.MixReal(solid*solid, 1, p)
		l.eps[i] = eps
		l.dIdx[i] = dP * pIdx
		l.dSkl[i] = dSolid*2*solid + dP*pSkl
	}
}

// profileOf returns the profile of the structured film g.
func (l *layer) profileOf(g *filmState) *optics.Profile {
	l.profile.Set(optics.StructuredFilm{ThicknessNM: g.d, Index: g.index, Skeleton: g.skeleton, Gradient: g.gradient,
		SkinNM: g.skin, Variance: g.variance})
	return l.profile
}
