package optics

import (
	"math"
	"math/cmplx"
)

// wave is a plane wave in a stack of layers: its vacuum wavelength in nm and
// (n sin θ)², which is the same in every layer.
type wave struct{ nm, sin2 float64 }

// power holds the reflected and the transmitted fraction of the light.
type power struct{ r, t float64 }

// face holds them for both polarisations.
type face struct{ s, p power }

// normal returns n·cos θ where the permittivity is eps. As Im eps is not
// negative, nor -0 (see [Index.At]), this root runs or decays away from the
// source.
func (w wave) normal(eps complex128) complex128 {
	return cmplx.Sqrt(eps - complex(w.sin2, 0))
}

// face returns what films on a half-space of index substrate reflect and
// transmit to light from a medium of real index n0, where q0 = n0·cos θ0. The
// light meets films[0] first, or last if mirrored. The equations are those of
// [Stack.RT].
func (w wave) face(n0, q0 float64, films []Film, mirrored bool, substrate complex128) (face, error) {
	eps := substrate * substrate
	q := w.normal(eps)
	s, p := newLadder(q), newLadder(q/eps)
	for i := range films {
		f := films[len(films)-1-i]
		if mirrored {
			f = films[i]
		}
		n, err := f.Index.At(w.nm)
		if err != nil {
			return face{}, err
		}
		eps := n * n
		l := newLayer(w.normal(eps), f.ThicknessNM/w.nm)
		s.climb(l, 1)
		p.climb(l, eps)
	}
	return face{s.leave(q0), p.leave(q0 / (n0 * n0))}, nil
}

// layer is what a film does to the fields, in the letters of [Stack.RT].
type layer struct {
	u, v, q complex128
	decay   float64 // |u|
}

// newLayer returns the layer of a film d wavelengths thick. v is finite at
// q = 0, where the film carries a wave along its faces.
func newLayer(q complex128, d float64) layer {
	phase := complex(0, 4*math.Pi*d)
	if q == 0 {
		return layer{u: 1, v: -phase, decay: 1}
	}
	x := phase * q
	sin, cos := math.Sincos(imag(x))
	decay := math.Exp(real(x))
	half := math.Sin(imag(x) / 2)
	lost := 2*half*half - math.Expm1(real(x))*cos // 1 - Re u without cancelling
	return layer{
		u: complex(decay*cos, decay*sin), decay: decay,
		v: complex(lost, -decay*sin) / q, q: q,
	}
}

// ladder climbs from the substrate to the ambient in one polarisation.
type ladder struct {
	g complex128 // ratio of the tangential fields
	t float64    // power into the substrate, for unit tangential field here
}

func newLadder(g complex128) ladder { return ladder{g, real(g)} }

// climb goes through one film, up to its upper face.
func (l *ladder) climb(f layer, m complex128) {
	d := 1 + f.u + l.g*m*f.v
	l.g = (l.g*(1+f.u) + f.q*f.q*f.v/m) / d
	l.t *= 4 * f.decay / square(d)
}

// leave returns the powers seen from the ambient, where the ratio of the fields
// in the incident wave is g0.
func (l *ladder) leave(g0 float64) power {
	c := complex(g0, 0)
	d := square(c + l.g)
	return power{r: square(c-l.g) / d, t: 4 * g0 * l.t / d}
}

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
