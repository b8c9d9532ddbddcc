package optics

import (
	"math"
	"math/cmplx"
)

// Surface is a face of glass in air seen at one angle of incidence. It holds
// the terms that do not depend on a film, one entry per wavelength. The
// reflectance of a single lossless film on the glass, with its derivatives, then
// costs one sine and cosine per wavelength and no allocation. The glass may
// absorb. A Surface is safe for concurrent use unless a method that sets is called.
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
//
// The derivatives by the angle go through S = sin²θ, by which e0, η2 and δ are
// known in closed form, and those by the index of the glass through η2; they are
// checked against differences in the tests.
type Surface struct {
	angle  float64      // degrees
	shift  float64      // added to the index of the glass
	sin2   float64      // sin²θ
	bySin2 float64      // ∂S/∂angle, per degree
	nm     []float64    // λ, as the instrument states it
	off    float64      // what is added to λ, nm
	k      []float64    // 2π/(λ + off), 1/nm
	index  []complex128 // of the glass, without the shift
	s, p   []admittance
	bare   [2]BareResponse // s and p
}

// BareResponse is the reflectance of the face without a film for one polarisation
// and its derivatives, one entry per wavelength.
type BareResponse struct {
	R      []float64 // reflectance
	DAngle []float64 // ∂R/∂angle of incidence, per degree
	DGlass []float64 // ∂R/∂(real part of the index of the glass)
}

// admittance holds the terms of one polarisation at one wavelength, named as in the
// formula above, and their derivatives by S and by the index of the glass.
type admittance struct {
	n, a float64 // 4·e0·a and |e0+η2|²
	q, m float64 // e0²+|η2|² and e0²|η2|²
	b2   float64 // 2b
	e02  float64 // e0²

	nS, aS, qS, mS, b2S, e02S float64
	nG, aG, qG, mG, b2G       float64
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
	n := len(nm)
	f := &Surface{angle: math.NaN(), nm: append([]float64(nil), nm...), off: math.NaN(), k: make([]float64, n),
		index: index, s: make([]admittance, n),
		p: make([]admittance, n)}
	for q := range f.bare {
		buf := make([]float64, 3*n)
		f.bare[q] = BareResponse{R: buf[:n:n], DAngle: buf[n : 2*n : 2*n], DGlass: buf[2*n:]}
	}
	f.SetWavelengthError(0)
	f.Set(angleDeg, 0)
	return f, nil
}

// SetWavelengthError adds nm to all wavelengths, as far as they enter the phase of a film. The indices stay those of the
// stated wavelengths: an error of 1 nm moves them by some 5e-5, and R by as little. It allocates nothing; like [Surface.Set]
// it changes the Surface.
func (f *Surface) SetWavelengthError(nm float64) {
	if f.off == nm {
		return
	}
	f.off = nm
	for i, lambda := range f.nm {
		f.k[i] = 2 * math.Pi / (lambda + nm)
	}
}

// Set changes the angle of incidence to angleDeg, from 0 to less than 90 degrees,
// and adds glassShift to the real part of the index of the glass as given to
// [NewSurface]; with it, the index must stay above 1. Set allocates nothing; it is
// one of the two methods that change a Surface.
func (f *Surface) Set(angleDeg, glassShift float64) {
	if f.angle == angleDeg && f.shift == glassShift {
		return
	}
	f.angle, f.shift = angleDeg, glassShift
	sin, cos := math.Sincos(angleDeg * math.Pi / 180)
	f.sin2, f.bySin2 = sin*sin, 2*sin*cos*math.Pi/180
	airS, airP := air{cos, -0.5 / cos}, air{1 / cos, 0.5 / (cos * cos * cos)}
	for i, n := range f.index {
		n += complex(glassShift, 0)
		eps := n * n
		q, inverse := root(eps - complex(f.sin2, 0)) // n·cos θ in the glass
		ratio := eps * inverse
		cube := ratio * inverse * inverse
		// s: e0 = cos θ, η2 = q. p: e0 = 1/cos θ, η2 = ε/q.
		f.s[i] = airS.onto(q, -0.5*inverse, n*inverse)
		f.p[i] = airP.onto(ratio, 0.5*cube, n*(2*inverse-cube))
		f.s[i].bare(f.bySin2, &f.bare[0], i)
		f.p[i].bare(f.bySin2, &f.bare[1], i)
	}
}

// root returns the square root of z, whose imaginary part is not negative, and the
// inverse of the root: what cmplx.Sqrt does, in a third of the time where z is not
// far from the positive axis.
func root(z complex128) (q, inverse complex128) {
	x, y := real(z), imag(z)
	switch {
	case y == 0 && x > 0:
		r := math.Sqrt(x)
		return complex(r, 0), complex(1/r, 0)
	case x <= y:
		q = cmplx.Sqrt(z)
		return q, 1 / q
	}
	modulus := math.Sqrt(x*x + y*y)
	re := math.Sqrt(0.5 * (modulus + x))
	im := 0.5 * y / re
	return complex(re, im), complex(re/modulus, -im/modulus)
}

// air is e0 of one polarisation and its derivative by S.
type air struct{ e0, e0S float64 }

// onto makes the terms of air on glass of η2, given its derivatives by S and by the
// index of the glass.
func (v air) onto(eta, etaS, etaG complex128) admittance {
	re, im, reS, imS, reG, imG := real(eta), imag(eta), real(etaS), imag(etaS), real(etaG), imag(etaG)
	mod2, mod2S, mod2G := re*re+im*im, 2*(re*reS+im*imS), 2*(re*reG+im*imG)
	e0, e0S := v.e0, v.e0S
	e02, e02S := e0*e0, 2*e0*e0S
	return admittance{
		n: 4 * e0 * re, a: (e0+re)*(e0+re) + im*im, q: e02 + mod2, m: e02 * mod2, b2: 2 * im, e02: e02,
		nS: 4 * (e0S*re + e0*reS), aS: 2*(e0+re)*(e0S+reS) + 2*im*imS, qS: e02S + mod2S, mS: e02S*mod2 + e02*mod2S,
		b2S: 2 * imS, e02S: e02S,
		nG: 4 * e0 * reG, aG: 2*(e0+re)*reG + 2*im*imG, qG: mod2G, mG: e02 * mod2G, b2G: 2 * imG,
	}
}

// bare stores the reflectance without a film and its derivatives.
func (t *admittance) bare(bySin2 float64, to *BareResponse, i int) {
	inverse := 1 / t.a
	trans := t.n * inverse
	to.R[i] = 1 - trans
	to.DAngle[i] = (trans*t.aS - t.nS) * inverse * bySin2
	to.DGlass[i] = (trans*t.aG - t.nG) * inverse
}

// Bare returns the reflectances of the face without a film for s and p. The slices
// belong to f and must not be changed.
func (f *Surface) Bare() (s, p BareResponse) { return f.bare[0], f.bare[1] }

// FilmResponse is the reflectance of a film of one polarisation and its
// derivatives, one entry per wavelength. Where DAngle and DGlass are nil they are not
// computed, which saves a quarter of the time.
type FilmResponse struct {
	R      []float64 // reflectance
	DNM    []float64 // ∂R/∂thickness, per nm
	DEps   []float64 // ∂R/∂permittivity of the film
	DAngle []float64 // ∂R/∂angle of incidence, per degree
	DGlass []float64 // ∂R/∂(real part of the index of the glass)
}

// NewFilmResponse returns a response for n wavelengths.
func NewFilmResponse(n int) FilmResponse {
	buf := make([]float64, 5*n)
	return FilmResponse{R: buf[:n:n], DNM: buf[n : 2*n : 2*n], DEps: buf[2*n : 3*n : 3*n], DAngle: buf[3*n : 4*n : 4*n],
		DGlass: buf[4*n:]}
}

// Film stores in s and p the reflectance of a lossless film of thicknessNM on
// the face, and its derivatives. eps holds the real permittivity of the film at
// each wavelength, every value above sin²θ. Film panics if a slice is shorter
// than the surface; it allocates nothing.
func (f *Surface) Film(s, p FilmResponse, thicknessNM float64, eps []float64) {
	n := len(f.k)
	eps = eps[:n]
	turns := s.DAngle != nil && p.DAngle != nil
	for i, k := range f.k {
		e := eps[i]
		u := e - f.sin2
		root := math.Sqrt(u)
		kq := k * root
		iu := 1 / u
		ph := phase{d: kq, eps: 0.5 * thicknessNM * kq * iu}
		ph.sin2, ph.cos2 = math.Sincos(2 * thicknessNM * kq)

		v := e * e * iu
		f.s[i].film(&s, i, u, iu, root, 1, -1, f.bySin2, &ph, turns)
		f.p[i].film(&p, i, v, u/(e*e), e/root, (2*e-v)*iu, v*iu, f.bySin2, &ph, turns)
	}
}

// phase is the phase thickness δ of a film: the sine and cosine of 2δ, and ∂δ/∂d
// and ∂δ/∂ε. ∂δ/∂S is -∂δ/∂ε.
type phase struct{ sin2, cos2, d, eps float64 }

// film stores the response of one polarisation by the formula of [Surface]: v = e1²
// with its inverse and its derivatives by the permittivity (vE) and by S (vS), and
// e1.
func (t *admittance) film(to *FilmResponse, i int, v, iv, e1, vE, vS, bySin2 float64, ph *phase, turns bool) {
	half := 0.5 - 0.5*ph.cos2
	miv := t.m * iv
	w := v - t.q + miv
	den, byPhase, byV := t.a+w*half, w*ph.sin2, (1-miv*iv)*half
	absorbs := t.b2 != 0
	var ie1, diff float64
	if absorbs {
		ie1 = e1 * iv
		diff = t.e02*ie1 - e1
		x := t.b2 * diff
		den += 0.5 * x * ph.sin2
		byPhase += x * ph.cos2
		byV -= 0.25 * t.b2 * (t.e02*iv + 1) * ie1 * ph.sin2
	}
	den = 1 / den
	trans := t.n * den
	g := trans * den // ∂R by ∂ of the denominator: n/den²
	byPhase *= g
	to.R[i] = 1 - trans
	to.DNM[i] = byPhase * ph.d
	to.DEps[i] = g*byV*vE + byPhase*ph.eps
	if !turns {
		return
	}
	byS := t.aS + (t.mS*iv-t.qS)*half
	byG := t.aG + (t.mG*iv-t.qG)*half
	if absorbs {
		byS += 0.5 * (t.b2S*diff + t.b2*t.e02S*ie1) * ph.sin2
		byG += 0.5 * t.b2G * diff * ph.sin2
	}
	to.DAngle[i] = (g*(byV*vS+byS) - t.nS*den - byPhase*ph.eps) * bySin2
	to.DGlass[i] = g*byG - t.nG*den
}
