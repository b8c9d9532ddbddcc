package film

import (
	"math"

	"wane/optics"
)

// farFace holds what the far face of the pane returns, tabulated for one curve. Of the
// light that has entered the glass, the share
//
//	β = R_far·τ²
//
// returns to the front face, with τ² the transmittance of the glass there and back. The
// incoherent sum over all passes returns
//
//	(1-ρ)²·β / (1 - ρ·β)
//
// of the light on a front of reflectance ρ, which is the same from both sides. The beam
// returns a little beside the place where it entered, so ρ is the mean of film and bare
// glass both times.
//
// If the far face is bare glass or carries the film, R_far depends on the error of the
// angle and of the index of the glass. τ² and a blackened face keep their nominal values:
// a few tenths of a degree, or a few thousandths of the index, change R by about 1e-5.
type farFace struct {
	back optics.Back
	s, p []float64 // τ² where the face is bare or coated, β where it is blackened or laminated

	absorbance []float64 // -ln τ where it is bare or coated
}

// newFarFace returns the far face of g for the wavelengths nm, in nm, at angle, in degrees;
// nil if it returns nothing. The errors are those of package optics.
func newFarFace(g Glass, nm []float64, angle float64) (*farFace, error) {
	if g.Back == optics.Matched {
		return nil, nil
	}
	pane := optics.Pane{Glass: g.Index, GlassMM: g.ThicknessMM, Back: g.Back, Far: g.Return}
	if g.Back == optics.Blackened || g.Back == optics.Laminated {
		s, p, err := pane.Return(nm, angle)
		return &farFace{back: g.Back, s: s, p: p}, err
	}
	round, err := pane.RoundTrip(nm, angle)
	f := &farFace{back: g.Back, s: round, p: round, absorbance: make([]float64, len(round))}
	if err != nil || g.Blank == nil {
		for i, v := range round {
			f.absorbance[i] = min(-math.Log(v)/2, opaque)
		}
		return f, err
	}
	f.absorbance, err = g.absorbanceByBlank(nm, angle)
	return f, err
}

// absorbanceByBlank returns that of the pane once through, by its blank. Beyond the wavelengths of the blank it is that by the
// index, which no curve of transmittance may reach.
func (g *Glass) absorbanceByBlank(nm []float64, angle float64) ([]float64, error) {
	sin, out := math.Sin(angle*math.Pi/180), make([]float64, len(nm))
	for i, lambda := range nm {
		n, err := g.Index.At(lambda)
		if err != nil {
			return nil, err
		}
		a, ok := g.Blank.at(lambda)
		if !ok {
			a = 4 * math.Pi * imag(n) * g.ThicknessMM * 1e6 / lambda
		}
		out[i] = min(a/math.Sqrt(1-sin*sin/(real(n)*real(n))), opaque)
	}
	return out, nil
}

// opaque is an absorbance of which no light is left.
const opaque = 100

// returned is the returned share of the light, with its derivatives by ρ and, at fixed ρ,
// by the angle, per degree, and by the index of the glass.
type returned struct{ r, byRho, byAngle, byGlass float64 }

// at returns the returned share at point i for a front of reflectance rho. bare is the
// reflectance of the glass without a film, bareAngle its derivative by the angle, per
// degree, and bareGlass that by its index.
func (f *farFace) at(i int, rho, bare, bareAngle, bareGlass float64, isS bool) returned {
	table := f.p
	if isS {
		table = f.s
	}
	var beta, byRho, byAngle, byGlass float64 // β and its derivatives
	switch f.back {
	case optics.Coated: // both faces are taken as equal
		beta, byRho = table[i]*rho, table[i]
	case optics.Bare:
		beta, byAngle, byGlass = table[i]*bare, table[i]*bareAngle, table[i]*bareGlass
	default:
		beta = table[i]
	}
	in := 1 - rho
	den := 1 / (1 - rho*beta)
	byBeta := in * in * den * den
	return returned{
		r:       in * in * beta * den,
		byRho:   (-2*in*beta+in*in*beta*beta*den)*den + byBeta*byRho,
		byAngle: byBeta * byAngle,
		byGlass: byBeta * byGlass,
	}
}
