package film

import "wane/optics"

// farFace is what the far face of the pane sends back, tabulated for one curve.
// Light that has entered the glass comes back to the front face as the share β
// = R_far·τ², with τ² the transmittance of the glass there and back, and the
// incoherent sum over all passes returns
//
//	(1-ρ)²·β / (1 - ρ·β)
//
// of the light on a front of reflectance ρ, from either side alike. The beam
// comes back a little beside the place where it went in, so ρ is the mean of
// film and bare glass both times.
//
// R_far follows an error of the angle and of the index of the glass where it is
// bare glass or the film; τ² and the paint of a blackened face keep their values at
// the nominal ones, which the few tenths of a degree in question change by some
// 1e-5 of R, and the few thousandths of the index by as little.
type farFace struct {
	back optics.Back
	s, p []float64 // τ² where the face is bare or coated, β where it is blackened
}

// newFarFace returns nil where nothing comes back.
func newFarFace(g Glass, nm []float64, angle float64) (*farFace, error) {
	if g.Back == optics.Matched {
		return nil, nil
	}
	pane := optics.Pane{Glass: g.Index, GlassMM: g.ThicknessMM, Back: g.Back}
	if g.Back == optics.Blackened {
		s, p, err := pane.Return(nm, angle)
		return &farFace{g.Back, s, p}, err
	}
	round, err := pane.RoundTrip(nm, angle)
	return &farFace{g.Back, round, round}, err
}

// returned is what comes back, with its derivatives by ρ and, at fixed ρ, by the
// angle, per degree, and by the index of the glass.
type returned struct{ r, byRho, byAngle, byGlass float64 }

// at returns what comes back at point i for a front of reflectance rho on glass
// that reflects bare, with derivatives bareAngle by the angle and bareGlass by its
// index.
func (f *farFace) at(i int, rho, bare, bareAngle, bareGlass float64, isS bool) returned {
	table := f.p
	if isS {
		table = f.s
	}
	var beta, byRho, byAngle, byGlass float64 // β and its derivatives
	switch f.back {
	case optics.Coated: // both faces are taken to be alike
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
