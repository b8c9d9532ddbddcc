package scenario

import (
	"math"

	"wane/optics"
)

// film is the front of one spot at one pull as it truly is: see the measurement model of the guide. Lengths are in nm. Neither
// the model of fits nor its optics are used here: see stack.go.
type film struct {
	glass    optics.Index // with the errors of its batch and its coupon
	skeleton float64      // index of the solid at 550 nm

	thickness, porosity, bare float64 // the thickness is the mean, without the skin; 0: there is no film
	gradient, skin, variance  float64
	leached, residue          float64 // a skin of the glass, and a layer on top, under and on film and bare glass alike
}

const (
	sublayers    = 12   // of a graded film
	thinFilm     = 30   // nm, below which the skin thins in proportion to the film
	leachedIndex = 1.48 // at 550 nm, with the dispersion of the glass
	mostPorosity = 0.95
)

// residueIndex is that of soot-like dirt.
const residueIndex = complex(1.7, 0.05)

// rule3 is the Gauss-Hermite rule of three points for a standard normal variable.
var rule3 = [3]struct{ at, weight float64 }{{-math.Sqrt(3), 1.0 / 6}, {0, 2.0 / 3}, {math.Sqrt(3), 1.0 / 6}}

// tracer computes what films reflect. Its zero value is ready. It is not for concurrent use.
type tracer struct {
	nm               []float64 // the wavelengths that it is prepared for
	glass, leached   []float64 // permittivities at them
	skin             []float64
	porous           [][]float64 // of each sublayer, from the glass up
	layers, bare     []layer
	sunny            []float64
	hasFilm, leaches bool
}

// layer is a homogeneous layer with its permittivities at the wavelengths of a tracer.
type layer struct {
	eps       []complex128
	real      []float64 // in place of eps, where it does not absorb
	thickness float64
	varies    bool // with the thickness of the film over the spot
}

// prepare makes the tracer ready for the materials and the porosities of a film at the wavelengths nm, which it keeps.
func (t *tracer) prepare(f *film, nm []float64) error {
	t.nm, t.hasFilm, t.leaches = nm, f.thickness > 0, f.leached > 0
	var err error
	if t.glass, err = permittivity(t.glass, f.glass, nm); err != nil {
		return err
	}
	if t.leaches {
		n, err := f.glass.At(550)
		if err != nil {
			return err
		}
		if t.leached, err = permittivity(t.leached, f.glass.Shifted(leachedIndex-real(n)), nm); err != nil {
			return err
		}
	}
	if !t.hasFilm {
		return nil
	}
	silica, err := optics.FusedSilica().At(550)
	if err != nil {
		return err
	}
	if t.skin, err = permittivity(t.skin, optics.FusedSilica().Shifted(f.skeleton-real(silica)), nm); err != nil {
		return err
	}
	t.porous = t.porous[:0]
	n := sublayers
	if f.gradient == 0 {
		n = 1
	}
	for i := range n {
		depth := 1 - 2*(float64(i)+0.5)/float64(n) // 1 at the glass, -1 at the top
		p := min(mostPorosity, max(0, f.porosity+f.gradient*depth))
		eps := make([]float64, len(nm))
		for k, solid := range t.skin {
			eps[k] = real(optics.Bruggeman.Mix(complex(solid, 0), 1, p))
		}
		t.porous = append(t.porous, eps)
	}
	return nil
}

// permittivity stores in dst the permittivity of a material as if it did not absorb: glass absorbs too little to be seen in what
// its face reflects.
func permittivity(dst []float64, of optics.Index, nm []float64) ([]float64, error) {
	n, err := of.On(nil, nm)
	if err != nil {
		return nil, err
	}
	if len(dst) != len(nm) {
		dst = make([]float64, len(nm))
	}
	for i := range n {
		dst[i] = real(n[i]) * real(n[i])
	}
	return dst, nil
}

// build makes the layers of a film for which the tracer is prepared, and those where it is bare, from the glass up.
func (t *tracer) build(f *film) {
	t.layers, t.bare = t.layers[:0], t.bare[:0]
	if t.leaches {
		t.bare = append(t.bare, layer{real: t.leached, thickness: f.leached})
	}
	if t.hasFilm {
		t.layers = append(t.layers, t.bare...)
		for _, eps := range t.porous {
			t.layers = append(t.layers, layer{real: eps, thickness: f.thickness / float64(len(t.porous)), varies: true})
		}
		if f.skin > 0 {
			t.layers = append(t.layers, layer{real: t.skin, thickness: f.skin * min(1, f.thickness/thinFilm)})
		}
	}
	if f.residue > 0 {
		eps := make([]complex128, len(t.nm))
		for i := range eps {
			eps[i] = residueIndex * residueIndex
		}
		dirt := layer{eps: eps, thickness: f.residue}
		t.layers, t.bare = append(t.layers, dirt), append(t.bare, dirt)
	}
}

// reflect stores in dst what a film reflects at the wavelengths that the tracer was prepared for with it, as fractions: the area
// mean of film and bare glass, and over a normal distribution of thickness. share is that of s light, angleDeg in air.
func (t *tracer) reflect(dst []float64, f *film, angleDeg, share float64) {
	t.build(f)
	sin := math.Sin(angleDeg * math.Pi / 180)
	covered := t.hasFilm && f.bare < 1
	clear(dst)
	for k, nm := range t.nm {
		w := wave{nm: nm, k: k, sin2: sin * sin, glass: t.glass[k], share: share}
		switch {
		case covered && f.variance > 0:
			for _, r := range rule3 {
				dst[k] += (1 - f.bare) * r.weight * w.reflectance(t.layers, 1+math.Sqrt(f.variance)*r.at)
			}
		case covered:
			dst[k] = (1 - f.bare) * w.reflectance(t.layers, 1)
		}
		if !covered {
			dst[k] = w.reflectance(t.bare, 1)
		} else if f.bare > 0 {
			dst[k] += f.bare * w.reflectance(t.bare, 1)
		}
	}
}

// solarT returns the solar transmittance of a film, a fraction: 1 less the mean of what it reflects at normal incidence. The
// tracer was prepared for the film at the nodes of the sun.
func (t *tracer) solarT(f *film, s *sun) float64 {
	if len(t.sunny) != len(s.nodes) {
		t.sunny = make([]float64, len(s.nodes))
	}
	t.reflect(t.sunny, f, 0, 0.5)
	mean := 0.0
	for i, w := range s.weights {
		mean += w * t.sunny[i]
	}
	return 1 - mean
}
