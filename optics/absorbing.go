package optics

import (
	"math"
	"math/cmplx"
)

// AbsorbingResponse is what a face with a film that may absorb does to light of one
// polarisation: R and T to light from the air, Inside and InsideT to light from inside
// the glass, which meets the face as if the glass were lossless (see [Pane.RT]).
// T and InsideT are the power that gets through.
type AbsorbingResponse struct{ R, T, Inside, InsideT Slopes }

// Slopes are a quantity and its derivatives, one entry per wavelength.
type Slopes struct {
	Value  []float64
	DNM    []float64 // by the thickness of the film, per nm
	DEps   []float64 // by the real part of its permittivity
	DLoss  []float64 // by the imaginary part
	DAngle []float64 // by the angle of incidence in air, per degree
	DGlass []float64 // by the real part of the index of the glass
	DSheet []float64 // by the sheet on top, per nm: see [Surface.AbsorbingUnder]
}

// NewAbsorbingResponse returns a response for n wavelengths.
func NewAbsorbingResponse(n int) AbsorbingResponse {
	var a AbsorbingResponse
	for _, s := range []*Slopes{&a.R, &a.T, &a.Inside, &a.InsideT} {
		buf := make([]float64, 7*n)
		part := func(k int) []float64 { return buf[k*n : (k+1)*n : (k+1)*n] }
		*s = Slopes{part(0), part(1), part(2), part(3), part(4), part(5), part(6)}
	}
	return a
}

// Absorbing stores in s and p what the face does under a film of thicknessNM that may absorb, with derivatives. eps
// holds the permittivity of the film at each wavelength, (n+ik)²; a k below 0 continues what the face does
// analytically. Absorbing panics if a slice is shorter than the surface; it allocates nothing. The real part of the
// index of the glass must be above sin θ.
//
// With c = cos δ, the admittances of air e0 and of the glass η, and E = c - ibη,
// H = cη - iC at the top for 1 and η at the glass (s: b = sin δ/q, C = q·sin δ; p: with
// ε/q for q; q = √(ε - sin²θ), δ = 2π/λ·d·q),
//
//	R = |(e0·E - H)/(e0·E + H)|²    T = 4·e0·Re η/|e0·E + H|²
//
// and from inside alike with air and glass exchanged. For a film that is opaque, some
// 50 µm at k = 0.1, E and H overflow: [Stack] is for that.
//
// Source: the characteristic matrix (M. Born, E. Wolf, Principles of Optics, 1.6.2,
// section from memory).
func (f *Surface) Absorbing(s, p AbsorbingResponse, thicknessNM float64, eps []complex128) {
	f.AbsorbingUnder(s, p, thicknessNM, eps, 0)
}

// AbsorbingUnder is [Surface.Absorbing] for a film under a thin residue that absorbs: a sheet of
//
//	sheetNM = thickness · Im ε
//
// of the residue, which adds G = 2π/λ·sheetNM to the admittance at the top, H + G·E for H. It stands for layers of a
// few nm, of which it leaves the phase out, and for p light what the field across the layer loses.
func (f *Surface) AbsorbingUnder(s, p AbsorbingResponse, thicknessNM float64, eps []complex128, sheetNM float64) {
	cos := math.Sqrt(1 - f.sin2)
	airS, airP := air{cos, -0.5 / cos}, air{1 / cos, 0.5 / (cos * cos * cos)}
	for i, k := range f.k {
		n := f.index[i] + complex(f.shift, 0)
		lossy, clear := newGlass(n, f.sin2), newGlass(complex(real(n), 0), f.sin2)
		m := newFilmMatrix(eps[i], f.sin2, k, thicknessNM)
		sheet := jet{v: complex(k*sheetNM, 0), sheet: complex(k, 0)}
		s.store(i, f.bySin2, airS, m.s(), lossy.s, clear.s, sheet)
		p.store(i, f.bySin2, airP, m.p(), lossy.p, clear.p, sheet)
	}
}

// jet is a complex quantity and its derivatives by thickness, by the permittivity
// of the film, by S = sin²θ, by the index of the glass and by the sheet.
type jet struct{ v, d, eps, S, glass, sheet complex128 }

func (a jet) times(b jet) jet {
	return jet{a.v * b.v, a.d*b.v + a.v*b.d, a.eps*b.v + a.v*b.eps, a.S*b.v + a.v*b.S,
		a.glass*b.v + a.v*b.glass, a.sheet*b.v + a.v*b.sheet}
}

func (a jet) plus(x complex128, b jet) jet {
	return jet{a.v + x*b.v, a.d + x*b.d, a.eps + x*b.eps, a.S + x*b.S, a.glass + x*b.glass,
		a.sheet + x*b.sheet}
}

// glass holds the admittance of a half-space in both polarisations.
type glass struct{ s, p jet }

func newGlass(n complex128, sin2 float64) glass {
	eps := n * n
	q, inverse := root(eps - complex(sin2, 0))
	ratio := eps * inverse
	cube := ratio * inverse * inverse
	return glass{s: jet{v: q, S: -0.5 * inverse, glass: n * inverse},
		p: jet{v: ratio, S: 0.5 * cube, glass: n * (2*inverse - cube)}}
}

// filmMatrix holds what the matrix of a film is made of: κ = 2π/λ·d, u = ε - S, cos δ,
// sin δ/δ and the derivative of that by δ².
type filmMatrix struct {
	eps, kappa, u, c, n, m complex128
	k                      complex128 // 2π/λ
}

func newFilmMatrix(eps complex128, sin2, k, d float64) filmMatrix {
	f := filmMatrix{eps: eps, kappa: complex(k*d, 0), u: eps - complex(sin2, 0), k: complex(k, 0)}
	x := f.kappa * f.kappa * f.u
	delta := cmplx.Sqrt(x)
	sin, cos := math.Sincos(real(delta))
	grow := math.Exp(imag(delta))
	ch, sh := (grow+1/grow)/2, math.Sinh(imag(delta))
	f.c = complex(cos*ch, -sin*sh)
	if real(x)*real(x)+imag(x)*imag(x) < 1e-4 { // the next terms are below 1e-16
		f.n = 1 - x/6*(1-x/20*(1-x/42*(1-x/72)))
		f.m = -1./6 + x*(1./60-x*(1./1680-x*(1./90720-x/7983360)))
		return f
	}
	f.n = complex(sin*ch, cos*sh) / delta
	f.m = (f.c - f.n) / (2 * x)
	return f
}

// layerMatrix is c, b and C of the matrix [c, -ib; -iC, c].
type layerMatrix struct{ c, b, C jet }

func (f *filmMatrix) s() layerMatrix {
	k2 := f.kappa * f.kappa
	half := 0.5 * f.kappa * (f.c + f.n)
	by := func(u complex128, j jet) jet { j.eps, j.S = u, -u; return j }
	return layerMatrix{
		c: by(-0.5*k2*f.n, jet{v: f.c, d: -f.k * f.kappa * f.u * f.n}),
		b: by(f.kappa*k2*f.m, jet{v: f.kappa * f.n, d: f.k * f.c}),
		C: by(half, jet{v: f.kappa * f.u * f.n, d: f.k * f.u * f.c}),
	}
}

func (f *filmMatrix) p() layerMatrix {
	m := f.s()
	inverse := jet{v: 1 / f.eps, eps: -1 / (f.eps * f.eps)}
	b := m.C.times(inverse)
	return layerMatrix{c: m.c, b: b, C: m.b.times(jet{v: f.eps, eps: 1})}
}

// store stores the powers of one polarisation at wavelength i.
func (a *AbsorbingResponse) store(i int, bySin2 float64, out air, m layerMatrix, lossy, clear, sheet jet) {
	e0 := jet{v: complex(out.e0, 0), S: complex(out.e0S, 0)}
	up, down := m.top(lossy), m.top(e0.plus(1, sheet))
	up.h = up.h.plus(1, up.e.times(sheet))
	out4 := e0.times(jet{v: 4})
	a.R.store(i, bySin2, ratio(up.e.times(e0).plus(-1, up.h), up.e.times(e0).plus(1, up.h)))
	a.T.store(i, bySin2, through(out4, lossy, up.e.times(e0).plus(1, up.h)))
	sum := down.e.times(clear).plus(1, down.h)
	a.Inside.store(i, bySin2, ratio(down.e.times(clear).plus(-1, down.h), sum))
	a.InsideT.store(i, bySin2, through(out4, clear, sum))
}

// fields are the tangential fields at one side of a film.
type fields struct{ e, h jet }

// top returns the fields on one side for 1 and eta on the other.
func (m *layerMatrix) top(eta jet) fields {
	return fields{e: m.c.plus(-1i, m.b.times(eta)), h: m.c.times(eta).plus(-1i, m.C)}
}

// realJet is a real quantity with its derivatives by d, Re ε, Im ε, S, glass and sheet.
type realJet struct{ v, d, eps, loss, S, glass, sheet float64 }

// ratio returns |n/d|².
func ratio(n, d jet) realJet {
	a, b := squared(n), squared(d)
	inverse := 1 / b.v
	v := a.v * inverse
	return realJet{v, (a.d - v*b.d) * inverse, (a.eps - v*b.eps) * inverse, (a.loss - v*b.loss) * inverse,
		(a.S - v*b.S) * inverse, (a.glass - v*b.glass) * inverse, (a.sheet - v*b.sheet) * inverse}
}

// through returns out4·Re(eta)/|d|², for out4 and eta that no film changes.
func through(out4, eta, d jet) realJet {
	b := squared(d)
	inverse := 1 / b.v
	v := real(out4.v) * real(eta.v) * inverse
	return realJet{v, -v * b.d * inverse, -v * b.eps * inverse, -v * b.loss * inverse,
		v * (real(out4.S)/real(out4.v) + real(eta.S)/real(eta.v) - b.S*inverse),
		v * (real(eta.glass)/real(eta.v) - b.glass*inverse), -v * b.sheet * inverse}
}

// squared returns |a|². By Im ε a changes as i times what it does by Re ε.
func squared(a jet) realJet {
	by := func(da complex128) float64 { return 2 * (real(a.v)*real(da) + imag(a.v)*imag(da)) }
	return realJet{square(a.v), by(a.d), by(a.eps), by(1i * a.eps), by(a.S), by(a.glass), by(a.sheet)}
}

func (s *Slopes) store(i int, bySin2 float64, r realJet) {
	s.Value[i], s.DNM[i], s.DEps[i], s.DLoss[i] = r.v, r.d, r.eps, r.loss
	s.DAngle[i], s.DGlass[i], s.DSheet[i] = r.S*bySin2, r.glass, r.sheet
}
