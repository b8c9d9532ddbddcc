package scenario

import (
	"math"
	"math/cmplx"
)

// wave is light of one wavelength at one angle on glass.
type wave struct {
	nm    float64
	k     int     // of the wavelength, in the layers
	sin2  float64 // sine squared of the angle of incidence in air
	glass float64 // permittivity
	share float64 // of s light
}

// reflectance returns what layers on glass reflect, with those that vary factor times as thick. layers[0] lies on the glass. With
// the tilted admittances eta = q for s and eps/q for p, q = √(eps - sin²θ) and δ = 2π q d/λ, the fields B and C above a layer are
//
//	B' = B cos δ - i C sin δ / eta,   C' = C cos δ - i eta B sin δ,   B = 1, C = eta of the glass below all
//	R = |(eta0 B - C) / (eta0 B + C)|²
//
// Source: the characteristic matrix of M. Born, E. Wolf, Principles of Optics, 1.6 (section from memory). The stack of package
// optics gives the same (the tests), and takes ten times as long.
func (w *wave) reflectance(layers []layer, factor float64) float64 {
	q := math.Sqrt(w.glass - w.sin2)
	s, p := field{1, complex(q, 0)}, field{1, complex(w.glass/q, 0)}
	for i := range layers {
		l := &layers[i]
		d := 2 * math.Pi * l.thickness / w.nm
		if l.varies {
			d *= factor
		}
		if l.eps != nil {
			eps := l.eps[w.k]
			q := cmplx.Sqrt(eps - complex(w.sin2, 0))
			sin, cos := cmplx.Sin(q*complex(d, 0)), cmplx.Cos(q*complex(d, 0))
			s, p = s.through(sin, cos, q), p.through(sin, cos, eps/q)
			continue
		}
		q := math.Sqrt(l.real[w.k] - w.sin2)
		sin, cos := math.Sincos(q * d)
		s, p = s.throughLossless(sin, cos, q), p.throughLossless(sin, cos, l.real[w.k]/q)
	}
	air := math.Sqrt(1 - w.sin2)
	return w.share*s.reflected(air) + (1-w.share)*p.reflected(1/air)
}

// field is B and C.
type field struct{ b, c complex128 }

func (f field) through(sin, cos, eta complex128) field {
	return field{cos*f.b - 1i*sin/eta*f.c, cos*f.c - 1i*eta*sin*f.b}
}

// throughLossless is through for real arguments.
func (f field) throughLossless(sin, cos, eta float64) field {
	over, times := sin/eta, sin*eta
	return field{complex(cos*real(f.b)+over*imag(f.c), cos*imag(f.b)-over*real(f.c)),
		complex(cos*real(f.c)+times*imag(f.b), cos*imag(f.c)-times*real(f.b))}
}

func (f field) reflected(air float64) float64 {
	less := complex(air*real(f.b)-real(f.c), air*imag(f.b)-imag(f.c))
	more := complex(air*real(f.b)+real(f.c), air*imag(f.b)+imag(f.c))
	return (real(less)*real(less) + imag(less)*imag(less)) / (real(more)*real(more) + imag(more)*imag(more))
}
