package optics

import "math"

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

// Return returns, for s and p, the share of the light that has just entered the
// glass which comes back to the front face from the far one on its first round:
// the far face's reflectance times [Pane.RoundTrip]. Of a light of 1 on a front
// of reflectance r, whichever side it is met from, the whole pane then reflects
//
//	r + (1-r)²·β / (1 - r·β)        β = Return
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
