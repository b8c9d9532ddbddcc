package optics

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// RoundTrip returns the transmittance of the glass of the pane there and back,
// its faces left out, one value per element of nm:
//
//	τ² = exp(-8πk·d / (λ·cos θ2))
//
// nm and angleDeg and the errors are those of [Pane.RT].
func (p Pane) RoundTrip(nm []float64, angleDeg float64) ([]float64, error) {
	out := make([]float64, len(nm))
	err := p.inside(nm, angleDeg, func(i int, _ wave, _, _, roundTrip float64) error {
		out[i] = roundTrip
		return nil
	})
	return out, err
}

// Return returns β for s and p: the share of the light inside the glass that the far
// face sends back to the front face on one round trip. It is the reflectance of the
// far face times [Pane.RoundTrip], a fraction, one value per element of nm. A pane
// whose front has the reflectance r, the same from both sides, reflects
//
//	r + (1-r)²·β / (1 - r·β)
//
// nm and angleDeg and the errors are those of [Pane.RT].
func (p Pane) Return(nm []float64, angleDeg float64) (s, pp []float64, err error) {
	s, pp = make([]float64, len(nm)), make([]float64, len(nm))
	err = p.inside(nm, angleDeg, func(i int, w wave, n, q, roundTrip float64) error {
		far, err := p.back(w, n, q)
		s[i], pp[i] = far.s.r*roundTrip, far.p.r*roundTrip
		return err
	})
	return s, pp, err
}

// inside calls do for each wavelength with the wave, the real index n of the
// glass, q = n·cos θ2 and the transmittance of a round trip, which is 0 where
// no light enters the glass.
func (p Pane) inside(nm []float64, angleDeg float64, do func(i int, w wave, n, q, roundTrip float64) error) error {
	if err := p.check(nm, angleDeg, U); err != nil {
		return err
	}
	sin := math.Sin(angleDeg * math.Pi / 180)
	for i, lambda := range nm {
		glass, err := p.Glass.At(lambda)
		if err != nil {
			return err
		}
		w, n := wave{lambda, sin * sin}, real(glass)
		if n*n <= w.sin2 {
			continue
		}
		q := math.Sqrt(n*n - w.sin2)
		pass := p.pass(w, glass, q)
		if err := do(i, w, n, q, pass*pass); err != nil {
			return err
		}
	}
	return nil
}

// pass returns the transmittance of the glass once through.
func (p Pane) pass(w wave, glass complex128, q float64) float64 {
	return math.Exp(-4 * math.Pi * imag(glass) * p.GlassMM * 1e6 * real(glass) / (w.nm * q))
}

// Share is a fraction known as a table over wavelength, such as the return of a
// laminate.
type Share struct {
	name   string
	lo, hi float64
	at     interp.PiecewiseLinear
}

// NewShare returns the share known at the wavelengths nm, linear between them: at
// least two, strictly increasing, with as many values from 0 to 1. The slices are
// copied. NewShare panics if their lengths differ; rows that are not so are a
// [*DomainError].
func NewShare(name string, nm, value []float64) (Share, error) {
	if len(value) != len(nm) {
		panic(panicColumns)
	}
	ones, none := make([]float64, len(nm)), make([]float64, len(nm))
	for i, v := range value {
		if !(v >= 0 && v <= 1) {
			return Share{}, &DomainError{name, i, v, "a fraction from 0 to 1"}
		}
		ones[i] = 1
	}
	if err := checkTable(name, nm, ones, none); err != nil {
		return Share{}, err
	}
	return Share{name, nm[0], nm[len(nm)-1], piecewise(nm, value)}, nil
}

// Name returns what the share is called in messages; empty for the zero value, which
// is known nowhere.
func (s Share) Name() string { return s.name }

// RangeNM returns the shortest and the longest wavelength, in nm, at which the share
// is known.
func (s Share) RangeNM() (lo, hi float64) { return s.lo, s.hi }

// At returns the share at the vacuum wavelength nm. Outside the table it is a
// [*RangeError].
func (s Share) At(nm float64) (float64, error) {
	if err := checkWavelength(nm, -1); err != nil {
		return 0, err
	}
	if !(nm >= s.lo && nm <= s.hi) {
		return 0, &RangeError{Index: s.name, NM: nm, LoNM: s.lo, HiNM: s.hi, Share: true}
	}
	return s.at.Predict(nm), nil
}
