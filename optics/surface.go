package optics

import (
	"math"
	"math/cmplx"
)

// Surface is a face of glass in air seen at one angle of incidence. It holds
// what does not depend on a film, one entry per wavelength, so that the
// reflectance of a single lossless film on the glass, with its derivatives,
// costs one sine and cosine per wavelength and no allocation. The glass may
// absorb. A Surface is safe for concurrent use as long as nobody tilts it.
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
// known in closed form; they are checked against differences in the tests.
type Surface struct {
	angle  float64      // degrees
	sin2   float64      // sin²θ
	bySin2 float64      // ∂S/∂angle, per degree
	k      []float64    // 2π/λ, 1/nm
	eps    []complex128 // permittivity of the glass
	s, p   []admittance
	// reflectances of the face without a film, and their derivatives by the angle
	bareS, bareP, bareSAngle, barePAngle []float64
}

// admittance holds the terms of one polarisation at one wavelength, named as in the
// formula above, and their derivatives by S.
type admittance struct {
	n, a float64 // 4·e0·a and |e0+η2|²
	q, m float64 // e0²+|η2|² and e0²|η2|²
	b2   float64 // 2b
	e02  float64 // e0²

	nS, aS, qS, mS, b2S, e02S float64
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
	bare := make([]float64, 4*n)
	f := &Surface{
		angle: math.NaN(), k: make([]float64, n), eps: index, s: make([]admittance, n), p: make([]admittance, n),
		bareS: bare[:n:n], bareP: bare[n : 2*n : 2*n], bareSAngle: bare[2*n : 3*n : 3*n], barePAngle: bare[3*n:],
	}
	for i, lambda := range nm {
		f.k[i] = 2 * math.Pi / lambda
		f.eps[i] = index[i] * index[i]
	}
	f.Tilt(angleDeg)
	return f, nil
}

// Tilt changes the angle of incidence to angleDeg, from 0 to less than 90 degrees.
// It allocates nothing; it is the one method that changes a Surface.
func (f *Surface) Tilt(angleDeg float64) {
	if f.angle == angleDeg {
		return
	}
	f.angle = angleDeg
	sin, cos := math.Sincos(angleDeg * math.Pi / 180)
	f.sin2, f.bySin2 = sin*sin, 2*sin*cos*math.Pi/180
	for i, eps := range f.eps {
		q := cmplx.Sqrt(eps - complex(f.sin2, 0)) // n·cos θ in the glass
		// s: e0 = cos θ, η2 = q. p: e0 = 1/cos θ, η2 = ε/q.
		f.s[i] = newAdmittance(cos, -0.5/cos, q, -0.5/q)
		f.p[i] = newAdmittance(1/cos, 0.5/(cos*cos*cos), eps/q, 0.5*eps/(q*q*q))
		f.bareS[i], f.bareSAngle[i] = f.s[i].bare(f.bySin2)
		f.bareP[i], f.barePAngle[i] = f.p[i].bare(f.bySin2)
	}
}

// newAdmittance makes the terms from e0 and η2 and their derivatives by S.
func newAdmittance(e0, e0S float64, eta, etaS complex128) admittance {
	re, im, reS, imS := real(eta), imag(eta), real(etaS), imag(etaS)
	mod2, mod2S := re*re+im*im, 2*(re*reS+im*imS)
	e02, e02S := e0*e0, 2*e0*e0S
	return admittance{
		n: 4 * e0 * re, a: (e0+re)*(e0+re) + im*im, q: e02 + mod2, m: e02 * mod2, b2: 2 * im, e02: e02,
		nS: 4 * (e0S*re + e0*reS), aS: 2*(e0+re)*(e0S+reS) + 2*im*imS, qS: e02S + mod2S, mS: e02S*mod2 + e02*mod2S, b2S: 2 * imS, e02S: e02S,
	}
}

// bare returns the reflectance without a film and its derivative by the angle.
func (t *admittance) bare(bySin2 float64) (r, byAngle float64) {
	trans := t.n / t.a
	return 1 - trans, (trans*t.aS - t.nS) / t.a * bySin2
}

// Bare returns the reflectances of the face without a film for s and p, one
// per wavelength. The slices belong to f and must not be changed.
func (f *Surface) Bare() (s, p []float64) { return f.bareS, f.bareP }

// BareByAngle returns the derivatives of [Surface.Bare] by the angle, per degree.
func (f *Surface) BareByAngle() (s, p []float64) { return f.bareSAngle, f.barePAngle }

// FilmResponse is the reflectance of a film of one polarisation and its
// derivatives, one entry per wavelength.
type FilmResponse struct {
	R      []float64 // reflectance
	DNM    []float64 // ∂R/∂thickness, per nm
	DEps   []float64 // ∂R/∂permittivity of the film
	DAngle []float64 // ∂R/∂angle of incidence, per degree
}

// NewFilmResponse returns a response for n wavelengths.
func NewFilmResponse(n int) FilmResponse {
	buf := make([]float64, 4*n)
	return FilmResponse{R: buf[:n:n], DNM: buf[n : 2*n : 2*n], DEps: buf[2*n : 3*n : 3*n], DAngle: buf[3*n:]}
}

// Film stores in s and p the reflectance of a lossless film of thicknessNM on
// the face, and its derivatives. eps holds the real permittivity of the film at
// each wavelength, every value above sin²θ. Film panics if a slice is shorter
// than the surface; it allocates nothing.
func (f *Surface) Film(s, p FilmResponse, thicknessNM float64, eps []float64) {
	n := len(f.k)
	eps = eps[:n]
	sR, sD, sE, sA := s.R[:n], s.DNM[:n], s.DEps[:n], s.DAngle[:n]
	pR, pD, pE, pA := p.R[:n], p.DNM[:n], p.DEps[:n], p.DAngle[:n]
	for i, k := range f.k {
		e := eps[i]
		u := e - f.sin2
		root := math.Sqrt(u)
		kq := k * root
		ph := phase{d: kq, eps: 0.5 * thicknessNM * kq / u}
		ph.sin2, ph.cos2 = math.Sincos(2 * thicknessNM * kq)

		v := e * e / u
		var bySin2 float64
		sR[i], sD[i], sE[i], bySin2 = f.s[i].film(u, root, 1, -1, &ph)
		sA[i] = bySin2 * f.bySin2
		pR[i], pD[i], pE[i], bySin2 = f.p[i].film(v, e/root, (2*e-v)/u, v/u, &ph)
		pA[i] = bySin2 * f.bySin2
	}
}

// phase is the phase thickness δ of a film: the sine and cosine of 2δ, and ∂δ/∂d
// and ∂δ/∂ε. ∂δ/∂S is -∂δ/∂ε.
type phase struct{ sin2, cos2, d, eps float64 }

// film evaluates the formula of [Surface] for one polarisation: v = e1² and its
// derivatives by the permittivity (vE) and by S (vS), and e1. It returns R and its
// derivatives by thickness, permittivity and S.
func (t *admittance) film(v, e1, vE, vS float64, ph *phase) (r, rD, rE, rS float64) {
	half := 0.5 - 0.5*ph.cos2
	w := v - t.q + t.m/v
	diff := t.e02/e1 - e1
	x := t.b2 * diff
	den := 1 / (t.a + w*half + 0.5*x*ph.sin2)
	trans := t.n * den
	g := trans * den // ∂R by ∂ of the denominator: n/den²

	byPhase := g * (w*ph.sin2 + x*ph.cos2)
	wV := 1 - t.m/(v*v)
	xV := -0.5 * t.b2 * (t.e02/v + 1) / e1
	byV := g * (wV*half + 0.5*xV*ph.sin2)
	byS := g*(t.aS+(t.mS/v-t.qS)*half+0.5*(t.b2S*diff+t.b2*t.e02S/e1)*ph.sin2) - t.nS*den
	return 1 - trans, byPhase * ph.d, byV*vE + byPhase*ph.eps, byV*vS + byS - byPhase*ph.eps
}
