package foreign

import (
	"math"
	"math/cmplx"
)

// layer is one homogeneous film of permittivity eps and thickness d in nm. Where varies holds,
// its thickness follows the distribution of the film's thickness over the spot.
type layer struct {
	eps    complex128
	d      float64
	varies bool
}

// knot is one point of a quadrature over relative thickness: the film there is factor times as
// thick as its mean, and the weights of all knots sum to 1.
type knot struct{ factor, weight float64 }

// light is the reflected and the transmitted share of the power that arrives.
type light struct{ R, T float64 }

// stack is the workspace of characteristic matrices. The zero value is ready; not for
// concurrent use.
type stack struct {
	phase, etaS, etaP    []float64
	lossy                []bool
	cPhase, cEtaS, cEtaP []complex128
}

// solve returns what the layers on a half-space of permittivity substrate (real) do with plane
// waves from air, s and p, at lambda in nm and a sine squared sin2 of the angle of incidence.
// layers[0] lies on the substrate; light meets the last first. With the tilted admittances
// eta = q for s, eps / q for p, q = sqrt(eps - sin2) and delta = 2 pi q d / lambda,
//
//	(B)         (  cos delta       -i sin delta / eta ) (B)
//	(C) above = ( -i eta sin delta    cos delta       ) (C) below,   below all layers (1, eta of the substrate)
//
//	R = |(eta0 B - C) / (eta0 B + C)|^2,   T = 4 eta0 eta_substrate / |eta0 B + C|^2
//
// for fields that go as exp(-i omega t) (an absorbing layer has a positive imaginary part),
// and the mean over the knots is taken. Source: H. A. Macleod, Thin-Film Optical Filters,
// characteristic matrix of an assembly of thin films; from memory, checked in the tests.
func (s *stack) solve(lambda, sin2, substrate float64, layers []layer, knots []knot) (inS, inP light) {
	s.prepare(lambda, sin2, layers)
	upright := sin2 == 0 // s and p are one
	qSub := math.Sqrt(substrate - sin2)
	eta0S := math.Sqrt(1 - sin2)
	eta0P := 1 / eta0S
	for _, k := range knots {
		bs, cs := complex(1, 0), complex(qSub, 0)
		bp, cp := complex(1, 0), complex(substrate/qSub, 0)
		for j := range layers {
			factor := 1.0
			if layers[j].varies {
				factor = k.factor
			}
			if s.lossy[j] {
				delta := s.cPhase[j] * complex(factor, 0)
				sin, cos := cmplx.Sin(delta), cmplx.Cos(delta)
				bs, cs = turnLossy(bs, cs, sin, cos, s.cEtaS[j])
				if upright {
					continue
				}
				bp, cp = turnLossy(bp, cp, sin, cos, s.cEtaP[j])
				continue
			}
			sin, cos := sincos(s.phase[j] * factor)
			bs, cs = turn(bs, cs, sin, cos, s.etaS[j])
			if !upright {
				bp, cp = turn(bp, cp, sin, cos, s.etaP[j])
			}
		}
		inS.add(k.weight, eta0S, qSub, bs, cs)
		inP.add(k.weight, eta0P, substrate/qSub, bp, cp)
	}
	if upright {
		return inS, inS
	}
	return inS, inP
}

// prepare computes phase and admittances of every layer.
func (s *stack) prepare(lambda, sin2 float64, layers []layer) {
	if n := len(layers); cap(s.phase) < n {
		s.phase, s.etaS, s.etaP = make([]float64, n), make([]float64, n), make([]float64, n)
		s.cPhase, s.cEtaS, s.cEtaP = make([]complex128, n), make([]complex128, n), make([]complex128, n)
		s.lossy = make([]bool, n)
	}
	for j, l := range layers {
		wave := 2 * math.Pi * l.d / lambda
		if s.lossy[j] = imag(l.eps) != 0; s.lossy[j] {
			q := cmplx.Sqrt(l.eps - complex(sin2, 0))
			s.cPhase[j], s.cEtaS[j], s.cEtaP[j] = q*complex(wave, 0), q, l.eps/q
			continue
		}
		q := math.Sqrt(real(l.eps) - sin2)
		s.phase[j], s.etaS[j], s.etaP[j] = q*wave, q, real(l.eps)/q
	}
}

// sincos is math.Sincos, by the first terms of the series where they are exact to 1e-15: thin slices.
func sincos(x float64) (sin, cos float64) {
	if math.Abs(x) > 0.1 {
		return math.Sincos(x)
	}
	q := x * x
	return x * (1 - q/6*(1-q/20*(1-q/42))), 1 - q/2*(1-q/12*(1-q/30*(1-q/56)))
}

// turn carries the field through one lossless layer.
func turn(b, c complex128, sin, cos, eta float64) (complex128, complex128) {
	over, times := sin/eta, sin*eta
	return complex(cos*real(b)+over*imag(c), cos*imag(b)-over*real(c)),
		complex(cos*real(c)+times*imag(b), cos*imag(c)-times*real(b))
}

// turnLossy carries the field through one absorbing layer.
func turnLossy(b, c, sin, cos, eta complex128) (complex128, complex128) {
	return cos*b - 1i*sin/eta*c, cos*c - 1i*eta*sin*b
}

// add adds the reflected and transmitted share of one knot.
func (l *light) add(weight, eta0, etaSub float64, b, c complex128) {
	sum, difference := complex(eta0, 0)*b+c, complex(eta0, 0)*b-c
	power := real(sum)*real(sum) + imag(sum)*imag(sum)
	l.R += weight * (real(difference)*real(difference) + imag(difference)*imag(difference)) / power
	l.T += weight * 4 * eta0 * etaSub / power
}
