package foreign

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

// Slices is the number of slices of a graded film.
const Slices = 50

// Surface is the front of one spot at one pull as it truly is. Lengths are in nm.
type Surface struct {
	Glass      string
	GlassShift float64 // added to the index of the glass at every wavelength
	Skeleton   float64 // index of the solid at 550 nm; dispersion of fused silica, shifted

	Thickness, Porosity, Bare float64 // Thickness is the mean, without the skin; 0 is no film
	Gradient                  float64 // porosity runs from Porosity - Gradient (top) to Porosity + Gradient
	Skin                      float64 // dense solid on top; thins with films below 30 nm
	Variance                  float64 // of the thickness, over the square of its mean

	FilmK        float64    // extinction of the porous film
	Water        float64    // share of the pore volume filled with water
	Leach        float64    // leached skin of the glass, under the film and where it is bare
	Residue      float64    // layer on top of everything
	ResidueIndex complex128 // the same at every wavelength
}

// leachedIndex is the index at 550 nm of the leached skin; it has the dispersion of its glass.
const leachedIndex = 1.48

// thinFilm is the thickness in nm below which the skin thins in proportion to the film.
const thinFilm = 30

// skin returns the thickness of the dense skin, which vanishes with the film.
func (s Surface) skin() float64 { return s.Skin * min(1, s.Thickness/thinFilm) }

// porosityAt returns the porosity of slice i of n, 0 at the glass, clipped to [0, 0.95].
func (s Surface) porosityAt(i, n int) float64 {
	depth := 1 - (float64(i)+0.5)/float64(n) // 0 at the top, 1 at the glass
	return min(0.95, max(0, s.Porosity+s.Gradient*(2*depth-1)))
}

// MaterialLeft returns the solid-equivalent thickness in nm, a mean over the spot.
func (s Surface) MaterialLeft() float64 {
	solid := 0.0
	for i := range Slices {
		solid += 1 - s.porosityAt(i, Slices)
	}
	return (1 - s.Bare) * (s.Thickness*solid/Slices + s.skin())
}

// unlayered returns the bare, clean and unleached glass of the surface.
func (s Surface) unlayered() Surface {
	return Surface{Glass: s.Glass, GlassShift: s.GlassShift, Skeleton: s.Skeleton}
}

// glassEps returns the permittivity of the glass.
func (s Surface) glassEps(lambda float64) float64 {
	n := glassIndex(s.Glass, lambda) + s.GlassShift
	return n * n
}

// layersOn appends the layers of the spot at a wavelength to dst, the film in slices (0: without a film).
func (s Surface) layersOn(dst []layer, lambda float64, slices int) []layer {
	if s.Leach > 0 {
		n := leachedIndex + glassIndex(s.Glass, lambda) - glassIndex(s.Glass, 550)
		dst = append(dst, layer{complex(n*n, 0), s.Leach, false})
	}
	if slices > 0 {
		n := s.Skeleton + silica(lambda) - silica(550)
		dst = s.slicesOn(dst, n*n, lambda, slices)
		if skin := s.skin(); skin > 0 {
			dst = append(dst, layer{complex(n*n, 0), skin, false})
		}
	}
	if s.Residue > 0 {
		dst = append(dst, layer{squared(s.ResidueIndex), s.Residue, false})
	}
	return dst
}

// slicesOn appends the porous film to dst in n slices, glass first: one layer where it is uniform.
func (s Surface) slicesOn(dst []layer, solid, lambda float64, n int) []layer {
	if s.Gradient == 0 {
		n = 1
	}
	wet := 1.0
	if s.Water > 0 {
		wet = water(lambda)
		wet *= wet
	}
	for i := range n {
		p := s.porosityAt(i, n)
		eps := bruggeman(solid, 1, p)
		if s.Water > 0 {
			eps = moist(solid, wet, p, s.Water)
		}
		dst = append(dst, layer{withLoss(eps, s.FilmK), s.Thickness / float64(n), true})
	}
	return dst
}

// ray is one direction of a beam: the sine squared of its angle and its weights as s and p light.
type ray struct{ sin2, s, p float64 }

// tracer computes what surfaces do with light. The zero value is ready; not for concurrent use.
type tracer struct {
	stack      stack
	film, bare []layer
	variance   float64 // that rule is for
	rule       []knot
	slices     int // of a graded film; 0 is Slices

	last      Surface // that lastSolar is of
	lastSolar Solar   // none yet: 0
}

// at returns the share of light of each ray, with the mean over film and bare area, into dst
// (as long as rays). The weights of a ray are those of its parts.
func (t *tracer) at(dst []light, s Surface, lambda float64, rays []ray) {
	glass := s.glassEps(lambda)
	t.bare = s.layersOn(t.bare[:0], lambda, 0)
	covered := s.Thickness > 0 && s.Bare < 1
	if covered {
		slices := t.slices
		if slices == 0 {
			slices = Slices
		}
		t.film = s.layersOn(t.film[:0], lambda, slices)
		if t.rule == nil || t.variance != s.Variance {
			t.variance, t.rule = s.Variance, knots(s.Variance)
		}
	}
	for i, r := range rays {
		dst[i] = light{}
		if covered {
			inS, inP := t.stack.solve(lambda, r.sin2, glass, t.film, t.rule)
			dst[i].mix(1-s.Bare, r, inS, inP)
		}
		if !covered || s.Bare > 0 {
			inS, inP := t.stack.solve(lambda, r.sin2, glass, t.bare, one)
			share := s.Bare
			if !covered {
				share = 1
			}
			dst[i].mix(share, r, inS, inP)
		}
	}
}

// mix adds a share of the area.
func (l *light) mix(share float64, r ray, inS, inP light) {
	l.R += share * (r.s*inS.R + r.p*inP.R)
	l.T += share * (r.s*inS.T + r.p*inP.T)
}

// one is the quadrature over a thickness that does not vary.
var one = []knot{{1, 1}}

// hermite returns the Gauss-Hermite rule of n points for a standard normal variable.
func hermite(n int) []knot {
	x, w := make([]float64, n), make([]float64, n)
	quad.Hermite{}.FixedLocations(x, w, math.Inf(-1), math.Inf(1))
	out := make([]knot, n)
	for i := range out {
		out[i] = knot{x[i] * math.Sqrt2, w[i] / math.Sqrt(math.Pi)}
	}
	return out
}

var hermites = sync.OnceValue(func() [2][]knot { return [2][]knot{hermite(5), hermite(9)} })

// knots returns the quadrature over a normal distribution of relative thickness: 5 points up to
// a variance of 0.01, else 9.
func knots(variance float64) []knot {
	if variance <= 0 {
		return one
	}
	rule := hermites()[0]
	if variance > 0.01 {
		rule = hermites()[1]
	}
	out := make([]knot, len(rule))
	for i, k := range rule {
		out[i] = knot{1 + math.Sqrt(variance)*k.factor, k.weight}
	}
	return out
}

// Solar holds the true solar values of a surface, fractions: transmittance into the glass by
// energy (300-2500 nm) and by photons (300-1200 nm), and 1 - R weighted likewise, which differs
// from it only where a layer absorbs.
type Solar struct{ SolarT, CellT, SolarLossless, CellLossless float64 }

// Solar returns the true solar values at normal incidence.
func (s Surface) Solar() Solar {
	var t tracer
	return t.solar(s)
}

// solar is Solar; the values of the last surface are at hand.
func (t *tracer) solar(s Surface) Solar {
	if s == t.last && t.lastSolar.SolarT > 0 {
		return t.lastSolar
	}
	sun := sunlight()
	normal := []ray{{0, 1, 0}}
	out := Solar{SolarLossless: 1, CellLossless: 1}
	var l [1]light
	for j, lambda := range sun.knots {
		t.at(l[:], s, lambda, normal)
		out.SolarT += sun.energy[j] * l[0].T
		out.CellT += sun.photons[j] * l[0].T
		out.SolarLossless -= sun.energy[j] * l[0].R
		out.CellLossless -= sun.photons[j] * l[0].R
	}
	t.last, t.lastSolar = s, out
	return out
}
