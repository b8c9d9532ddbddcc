package optics

import (
	"math"
	"math/cmplx"
)

// Surface is a face of glass in air seen at one angle of incidence. It holds
// what does not depend on a film, one entry per wavelength, so that the
// reflectance of a single lossless film on the glass, with its derivatives,
// costs one sine and cosine per wavelength and no allocation. The glass may
// absorb. A Surface is read-only after [NewSurface] and safe for concurrent
// use.
//
// With tilted admittances (s: n·cos θ, p: n/cos θ), e0 of air, e1 of the film
// and η2 = a + ib of the glass, and δ the phase thickness of the film,
//
//	R = 1 - N / (A + W sin²δ + V sin δ cos δ)
//	N = 4·e0·a            A = |e0 + η2|²
//	W = e1² - (e0² + |η2|²) + e0²|η2|²/e1²
//	V = 2b·(e0²/e1 - e1)
//	δ = (2π/λ)·d·√(ε - sin²θ)
//
// which follows from the characteristic matrix (M. Born, E. Wolf, Principles
// of Optics, 1.6.2, section from memory) by taking the modulus out; the power
// that a lossless film does not reflect enters the glass.
type Surface struct {
	sin2 float64   // sin²θ
	k    []float64 // 2π/λ, 1/nm
	s, p []admittance
	// reflectances of the face without a film
	bareS, bareP []float64
}

// admittance holds the terms of one polarisation at one wavelength; the names
// are those of the formula above.
type admittance struct {
	n, a float64 // 4·e0·a and |e0+η2|²
	q, m float64 // e0²+|η2|² and e0²|η2|²
	b2   float64 // 2b
	e02  float64 // e0²
}

// NewSurface tabulates the face of glass in air at angleDeg, for the
// wavelengths nm in any order. The errors are those of [Stack.RT].
func NewSurface(nm []float64, angleDeg float64, glass Index) (*Surface, error) {
	if err := checkInputs(nm, angleDeg, U); err != nil {
		return nil, err
	}
	index, err := glass.On(nil, nm)
	if err != nil {
		return nil, err
	}
	sin, cos := math.Sincos(angleDeg * math.Pi / 180)
	n := len(nm)
	f := &Surface{
		sin2: sin * sin,
		k:    make([]float64, n),
		s:    make([]admittance, n), p: make([]admittance, n),
		bareS: make([]float64, n), bareP: make([]float64, n),
	}
	for i, lambda := range nm {
		eps := index[i] * index[i]
		q := cmplx.Sqrt(eps - complex(f.sin2, 0)) // n·cos θ in the glass
		f.k[i] = 2 * math.Pi / lambda
		f.s[i] = newAdmittance(cos, q)
		f.p[i] = newAdmittance(1/cos, eps/q)
		f.bareS[i] = 1 - f.s[i].n/f.s[i].a
		f.bareP[i] = 1 - f.p[i].n/f.p[i].a
	}
	return f, nil
}

func newAdmittance(e0 float64, eta complex128) admittance {
	re, im := real(eta), imag(eta)
	mod2 := re*re + im*im
	return admittance{
		n: 4 * e0 * re, a: (e0+re)*(e0+re) + im*im,
		q: e0*e0 + mod2, m: e0 * e0 * mod2,
		b2: 2 * im, e02: e0 * e0,
	}
}

// Len returns the number of wavelengths.
func (f *Surface) Len() int { return len(f.k) }

// Bare returns the reflectances of the face without a film for s and p, one
// per wavelength. The slices belong to f and must not be changed.
func (f *Surface) Bare() (s, p []float64) { return f.bareS, f.bareP }

// FilmResponse is the reflectance of a film of one polarisation and its
// derivatives, one entry per wavelength.
type FilmResponse struct {
	R    []float64 // reflectance
	DNM  []float64 // ∂R/∂thickness, per nm
	DEps []float64 // ∂R/∂permittivity of the film
}

// NewFilmResponse returns a response for n wavelengths.
func NewFilmResponse(n int) FilmResponse {
	buf := make([]float64, 3*n)
	return FilmResponse{R: buf[:n:n], DNM: buf[n : 2*n : 2*n], DEps: buf[2*n:]}
}

// Film stores in s and p the reflectance of a lossless film of thicknessNM on
// the face, and its derivatives. eps holds the real permittivity of the film at
// each wavelength, every value above sin²θ. Film panics if a slice is shorter
// than the surface; it allocates nothing.
func (f *Surface) Film(s, p FilmResponse, thicknessNM float64, eps []float64) {
	n := len(f.k)
	eps = eps[:n]
	sR, sD, sE := s.R[:n], s.DNM[:n], s.DEps[:n]
	pR, pD, pE := p.R[:n], p.DNM[:n], p.DEps[:n]
	for i, k := range f.k {
		e := eps[i]
		u := e - f.sin2
		root := math.Sqrt(u)
		kq := k * root
		sin, cos := math.Sincos(2 * thicknessNM * kq)
		dPhase := 0.5 * thicknessNM * kq / u // ∂δ/∂ε

		sR[i], sD[i], sE[i] = f.s[i].film(u, root, 1, sin, cos, kq, dPhase)
		v := e * e / u
		pR[i], pD[i], pE[i] = f.p[i].film(v, e/root, (2*e-v)/u, sin, cos, kq, dPhase)
	}
}

// film evaluates the formula of [Surface] for one polarisation: v = e1² and its
// derivative dv by the permittivity, e1, and sin 2δ, cos 2δ, ∂δ/∂d, ∂δ/∂ε.
func (t *admittance) film(v, e1, dv, sin2, cos2, dD, dE float64) (r, rD, rE float64) {
	half := 0.5 - 0.5*cos2
	w := v - t.q + t.m/v
	x := t.b2 * (t.e02/e1 - e1)
	den := 1 / (t.a + w*half + 0.5*x*sin2)
	trans := t.n * den
	g := trans * den // ∂R by ∂ of the denominator: n/den²

	byPhase := g * (w*sin2 + x*cos2)
	dw := (1 - t.m/(v*v)) * dv
	dx := -0.5 * t.b2 * (t.e02/v + 1) / e1 * dv
	return 1 - trans, byPhase * dD, g*(dw*half+0.5*dx*sin2) + byPhase*dE
}
