package optics

import (
	"math"
	"math/cmplx"
)

// Mixing is a rule for the permittivity ε = (n + ik)² of a porous film, from
// the permittivity εs of its solid, the permittivity εv of what fills its voids
// (1 for air) and its porosity p, the void share of its volume. The structure
// is taken to be far smaller than the wavelength.
//
// Three of the rules embed both in a host of permittivity h, and differ in h:
//
//	1/(ε + 2h) = (1-p)/(εs + 2h) + p/(εv + 2h)
//
// Written so, all are linear in p at a fixed film: see [Mixing.Porosity]. The
// rules are those of the sources; this common form follows by adding a constant
// to both sides. The methods panic on a value that is none of the four.
type Mixing int

const (
	// Bruggeman treats solid and void in the same way, h = ε: D. A. G. Bruggeman, Ann.
	// Phys. 416, 636-664 (1935), citation from memory.
	Bruggeman Mixing = iota
	// MaxwellGarnett has round voids in a connected solid, h = εs: J. C.
	// Maxwell Garnett, Phil. Trans. R. Soc. A 203, 385-420 (1904), citation
	// from memory.
	MaxwellGarnett
	// LorentzLorenz adds the polarisabilities of both in vacuum, h = 1: M.
	// Born, E. Wolf, Principles of Optics, 2.3.3, section from memory.
	LorentzLorenz
	// VolumeAverage adds permittivities, ε = (1-p)εs + pεv, the limit of great
	// h. It is the upper Wiener bound: O. Wiener, Abh. Sächs. Akad. Wiss. 32,
	// 507-604 (1912), citation from memory.
	VolumeAverage
)

var mixingWords = []string{"bruggeman", "maxwell-garnett", "lorentz-lorenz", "volume-average"}

// String returns the word that [ParseMixing] reads.
func (m Mixing) String() string { return wordAt(int(m), mixingWords) }

// ParseMixing reads bruggeman, maxwell-garnett, lorentz-lorenz or
// volume-average.
func ParseMixing(word string) (Mixing, error) {
	i, err := parseWord("mixing rule", word, mixingWords)
	return Mixing(i), err
}

// Mix returns the permittivity of a film of the given porosity, 0 to 1, from
// the permittivities of solid and void, whose imaginary parts are not negative.
//
// Of the two roots of Bruggeman's equation it takes the one that does not
// amplify light: there is only one, since the equation maps the upper half
// plane into itself.
func (m Mixing) Mix(solid, void complex128, porosity float64) complex128 {
	p := complex(porosity, 0)
	if m == Bruggeman {
		return bruggeman(solid, void, p)
	}
	return embedded(m, solid, void, p)
}

// Porosity returns the porosity p at which solid and void make the permittivity
// film, in closed form:
//
//	p = (εs - ε)/(εs - εv) · (εv + 2h)/(ε + 2h)
//
// without the second factor for [VolumeAverage]. p is complex: an imaginary
// part that is not small against the real part says that no porosity makes this
// film. Where solid and void are equal p is not determined, and not finite.
func (m Mixing) Porosity(film, solid, void complex128) complex128 {
	return porosity(m, film, solid, void)
}

// MixReal is [Mixing.Mix] for lossless materials, with the derivatives of the
// result by porosity and by the permittivity of the solid. Permittivities are
// positive; porosity may lie outside [0, 1] as long as the result is positive.
// It does not allocate.
func (m Mixing) MixReal(solid, void, porosity float64) (eps, dPorosity, dSolid float64) {
	if m == Bruggeman {
		eps = bruggemanReal(solid, void, porosity)
	} else {
		eps = embedded(m, solid, void, porosity)
	}
	gp, gf, gs := m.slopes(eps, solid, void, porosity)
	return eps, -gp / gf, -gs / gf
}

// PorosityReal is [Mixing.Porosity] for lossless materials, with the
// derivatives of the result by the permittivities of film and solid. p lies
// outside [0, 1] if film lies outside solid and void. It does not allocate.
func (m Mixing) PorosityReal(film, solid, void float64) (p, dFilm, dSolid float64) {
	p = porosity(m, film, solid, void)
	gp, gf, gs := m.slopes(film, solid, void, p)
	return p, -gf / gp, -gs / gp
}

// slopes returns the derivatives, by porosity, film and solid, of
//
//	G = p(εs - εv)(ε + 2h) - (εs - ε)(εv + 2h)
//
// which is 0 for a film made by the rule; without the factors in h for
// VolumeAverage.
func (m Mixing) slopes(film, solid, void, p float64) (gp, gf, gs float64) {
	if m == VolumeAverage {
		return solid - void, 1, p - 1
	}
	h := host(m, film, solid)
	gp = (solid - void) * (film + 2*h)
	gf = p*(solid-void) + void + 2*h
	gs = p*(film+2*h) - (void + 2*h)
	gh := 2*p*(solid-void) - 2*(solid-film)
	switch m {
	case Bruggeman:
		gf += gh
	case MaxwellGarnett:
		gs += gh
	}
	return gp, gf, gs
}

// host returns the permittivity of the host in which the rule embeds both.
func host[T float64 | complex128](m Mixing, film, solid T) T {
	switch m {
	case Bruggeman:
		return film
	case MaxwellGarnett:
		return solid
	case LorentzLorenz:
		return 1
	}
	panic(panicMixing)
}

// porosity solves the rule for p.
func porosity[T float64 | complex128](m Mixing, film, solid, void T) T {
	p := (solid - film) / (solid - void)
	if m == VolumeAverage {
		return p
	}
	h := host(m, film, solid)
	return p * (void + 2*h) / (film + 2*h)
}

// embedded solves the rule for ε where the host does not depend on it.
func embedded[T float64 | complex128](m Mixing, solid, void, p T) T {
	if m == VolumeAverage {
		return (1-p)*solid + p*void
	}
	h := host(m, 0, solid)
	return (solid*(void+2*h) - 2*h*p*(solid-void)) / (void + 2*h + p*(solid-void))
}

// bruggeman returns the root of 2ε² - bε - εs·εv = 0 with Im ε ≥ 0, the
// positive one if both are real.
func bruggeman(solid, void, p complex128) complex128 {
	b := (2-3*p)*solid + (3*p-1)*void
	root := cmplx.Sqrt(b*b + 8*solid*void)
	if imag(root) < 0 {
		root = -root
	}
	return (b + root) / 4
}

// bruggemanReal is bruggeman for real arguments.
func bruggemanReal(solid, void, p float64) float64 {
	b := (2-3*p)*solid + (3*p-1)*void
	return (b + math.Sqrt(b*b+8*solid*void)) / 4
}

// Porous returns the index of a solid with air in its pores, by a mixing rule, at wavelengths in nm that increase; porosity
// is the share of the volume that is air, 0 to below 1. Loss of the solid does not count. A wavelength outside the table of
// the solid is a [*RangeError].
func Porous(solid Index, nm []float64, m Mixing, porosity float64) (Index, error) {
	n, k := make([]float64, len(nm)), make([]float64, len(nm))
	for i, lambda := range nm {
		at, err := solid.At(lambda)
		if err != nil {
			return Index{}, err
		}
		n[i] = math.Sqrt(real(m.Mix(complex(real(at)*real(at), 0), 1, porosity)))
	}
	return Table("porous "+solid.Name(), nm, n, k)
}
