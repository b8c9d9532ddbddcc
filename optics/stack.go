package optics

import "math"

// Film is a plane, uniform, coherent layer.
type Film struct {
	Index       Index
	ThicknessNM float64 // at least 0
}

// Stack is any number of films between two half-spaces. Films[0] is the film
// that the light meets first. The ambient must be lossless.
type Stack struct {
	Ambient   Index
	Films     []Film
	Substrate Index
}

// RT returns the power reflectance R of the stack and the power transmittance T
// into the substrate, at its top face; each has one value per element of nm.
//
// nm holds vacuum wavelengths in nm, in any order. angleDeg is the angle of
// incidence in the ambient, in degrees from the normal, 0 <= angleDeg < 90.
//
// The films are plane and coherent, and light that the far side of the substrate
// returns is not included: see [Pane]. For each film, from the substrate up, the
// ratio g of the tangential magnetic to the tangential electric field (s; of
// the electric to the magnetic for p) is carried from its lower face to its
// upper one. With m = 1 (s) or m = ε (p),
//
//	g' = (g·(1+u) + q²·v/m) / (1+u + g·m·v)
//	q = √(ε - n0²sin²θ),  u = exp(4πi·q·d/λ),  v = (1-u)/q
//
// from g = q/m of the substrate up. With g0 that of the ambient
//
//	R = |(g0 - g)/(g0 + g)|²
//
// As |u| <= 1, nothing grows without bounds in a thick absorbing film.
//
// If dstR or dstT is nil it is allocated. Otherwise the result is stored in it;
// it must then be as long as nm, and RT panics if it is not. Nothing else
// allocates.
//
// A wavelength that is not positive and finite, an angle, polarisation or
// thickness outside its range, or an absorbing ambient gives a [*DomainError].
// An index asked for outside its range gives a [*RangeError]. After an error
// the contents of dstR and dstT are unspecified.
//
// The tests hold R and T to 1e-12 of an evaluation at 40 digits for up to two
// films up to 5 µm, with k up to 3.5. Beyond that the error was not measured.
//
// Source: the equations above are the characteristic matrix of M. Born, E.
// Wolf, Principles of Optics, 1.6 (section from memory), scaled by exp(iδ).
func (s Stack) RT(dstR, dstT, nm []float64, angleDeg float64, pol Polarisation) (R, T []float64, err error) {
	R, T = destination(dstR, len(nm)), destination(dstT, len(nm))
	if err := checkInputs(nm, angleDeg, pol); err != nil {
		return nil, nil, err
	}
	if err := checkFilms(s.Films); err != nil {
		return nil, nil, err
	}
	sin, cos := math.Sincos(angleDeg * math.Pi / 180)
	for i, lambda := range nm {
		n0, err := s.ambientAt(lambda)
		if err != nil {
			return nil, nil, err
		}
		substrate, err := s.Substrate.At(lambda)
		if err != nil {
			return nil, nil, err
		}
		w := wave{lambda, n0 * n0 * sin * sin}
		f, err := w.face(n0, n0*cos, s.Films, false, substrate)
		if err != nil {
			return nil, nil, err
		}
		R[i], T[i] = pol.mean(f.s.r, f.p.r), pol.mean(f.s.t, f.p.t)
	}
	return R, T, nil
}

func (s Stack) ambientAt(nm float64) (float64, error) {
	n, err := s.Ambient.At(nm)
	if err == nil && imag(n) != 0 {
		err = &DomainError{"k of " + s.Ambient.Name() + " as ambient", -1, imag(n), "0"}
	}
	return real(n), err
}
