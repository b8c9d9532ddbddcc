package optics

import "math"

// Cauchy is the index n = A + B/λ² + C/λ⁴ of a transparent material far from its
// resonances, λ in µm, B in µm² and C in µm⁴. A fourth term of soda-lime glass,
// in λ², is D, in 1/µm². Source: A.-L. Cauchy's formula as in M. Born, E. Wolf,
// Principles of Optics, 2.3.4 (section from memory); the term in λ² is that of M.
// Rubin, see [SodaLime].
type Cauchy struct{ A, B, C, D float64 }

// At returns n at the vacuum wavelength nm and ∂n/∂λ, per nm.
func (c Cauchy) At(nm float64) (n, perNM float64) {
	w2 := nm * nm * 1e-6
	n = c.A + (c.B+c.C/w2)/w2 + c.D*w2
	return n, (-2*(c.B+2*c.C/w2)/w2 + 2*c.D*w2) / nm
}

// Index returns the lossless index of the formula from loNM to hiNM. A range that
// is not positive, finite and rising is a [*DomainError], and so is a formula that
// does not stay above 1 in it.
func (c Cauchy) Index(name string, loNM, hiNM float64) (Index, error) {
	return formulaIndex(name, loNM, hiNM, c.At)
}

// Sellmeier is the index n² = 1 + A + Σ Bλ²/(λ² - C) of a transparent material,
// λ in µm, with the strength B and the square C of the wavelength, in µm², of each
// resonance. Source: W. Sellmeier's formula as in M. Born, E. Wolf, Principles of
// Optics, 2.3.4 (section from memory); with A = 0 it is the form of catalogues of
// optical glass.
type Sellmeier struct {
	A     float64
	Terms []Resonance
}

// Resonance is one term of [Sellmeier].
type Resonance struct{ B, C float64 }

// At returns n at the vacuum wavelength nm and ∂n/∂λ, per nm; both are not finite
// at a resonance.
func (s Sellmeier) At(nm float64) (n, perNM float64) {
	w2 := nm * nm * 1e-6
	n2, slope := 1+s.A, 0.0
	for _, t := range s.Terms {
		inverse := 1 / (w2 - t.C)
		n2 += t.B * w2 * inverse
		slope -= 2 * t.B * t.C * w2 * inverse * inverse // ∂n²/∂ln λ
	}
	n = math.Sqrt(n2)
	return n, slope / (2 * n * nm)
}

// Index returns the lossless index of the formula from loNM to hiNM, with the
// errors of [Cauchy.Index]. A strength below 0, or a resonance in the range, is a
// [*DomainError] too. The terms are copied.
func (s Sellmeier) Index(name string, loNM, hiNM float64) (Index, error) {
	s.Terms = append([]Resonance(nil), s.Terms...)
	for i, t := range s.Terms {
		if !(t.B >= 0) {
			return Index{}, &DomainError{"strength B of " + name, i, t.B, "at least 0"}
		}
		at := 1000 * math.Sqrt(t.C)
		if !(t.C >= 0) || at >= loNM && at <= hiNM {
			return Index{}, &DomainError{"C of " + name, i, t.C, "at least 0 and a resonance outside the range, in µm²"}
		}
	}
	return formulaIndex(name, loNM, hiNM, s.At)
}

// formulaIndex makes an index of a formula that is smooth from loNM to hiNM.
func formulaIndex(name string, loNM, hiNM float64, at func(nm float64) (n, perNM float64)) (Index, error) {
	for i, nm := range []float64{loNM, hiNM} {
		if err := checkWavelength(nm, i); err != nil {
			return Index{}, err
		}
	}
	if !(hiNM > loNM) {
		return Index{}, &DomainError{"end of the range of " + name, -1, hiNM, "above its begin, in nm"}
	}
	const steps = 1000
	for i := range steps + 1 {
		nm := loNM + (hiNM-loNM)*float64(i)/steps
		if n, _ := at(nm); !(n > 1) || math.IsInf(n, 1) {
			return Index{}, &DomainError{"n of " + name, -1, n, "above 1 and finite at all wavelengths of its range"}
		}
	}
	return Index{name: name, loNM: loNM, hiNM: hiNM, at: func(nm float64) complex128 {
		n, _ := at(nm)
		return complex(n, 0)
	}}, nil
}
