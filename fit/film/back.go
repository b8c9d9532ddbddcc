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
type farFace struct {
	s, p   []float64 // β, or τ² where both faces carry the film
	coated bool      // R_far is ρ itself: both faces are taken to be alike
}

// newFarFace returns nil where nothing comes back.
func newFarFace(g Glass, nm []float64, angle float64) (*farFace, error) {
	if g.Back == optics.Matched {
		return nil, nil
	}
	pane := optics.Pane{Glass: g.Index, GlassMM: g.ThicknessMM, Back: g.Back}
	if g.Back == optics.Coated {
		round, err := pane.RoundTrip(nm, angle)
		return &farFace{s: round, p: round, coated: true}, err
	}
	s, p, err := pane.Return(nm, angle)
	return &farFace{s: s, p: p}, err
}

// back returns what comes back at point i for a front of reflectance rho, and
// its derivative by rho.
func (f *farFace) back(i int, rho float64, isS bool) (ret, dRho float64) {
	table := f.p
	if isS {
		table = f.s
	}
	beta, dBeta := table[i], 0.0
	if f.coated {
		beta, dBeta = table[i]*rho, table[i]
	}
	in := 1 - rho
	den := 1 / (1 - rho*beta)
	ret = in * in * beta * den
	dRho = (-2*in*beta + in*in*beta*beta*den) * den
	return ret, dRho + in*in*den*den*dBeta
}
