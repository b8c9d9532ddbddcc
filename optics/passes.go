package optics

import "math"

// Front is what the front face of a pane does to light of one polarisation: R and T to
// light from the air, Inside and InsideT to light from inside the glass. On a patchy
// face each is the mean over the area.
type Front struct{ R, T, Inside, InsideT float64 }

// FarFace is what the far face of a pane does to light from inside, as fractions.
type FarFace struct{ R, T float64 }

// PanePowers are reflectance and transmittance of a pane, with their derivatives by
// what [Passes] was given.
type PanePowers struct {
	R, T     float64
	RBy, TBy Front // by the front
	RByFar   float64
	TByFar   FarFace
	RByPass  float64
	TByPass  float64
}

// Passes sums the incoherent passes of light between the faces of a pane, where pass
// is the transmittance of the glass once through: the formula of [Pane.RT].
func Passes(front Front, far FarFace, pass float64) PanePowers {
	var p PanePowers
	train := p.sum(front, far, pass)
	back := pass * pass * train // of light at the far face, per share that it returns
	through := front.T * front.InsideT
	p.RBy = Front{R: 1, T: front.InsideT * far.R * back, Inside: through * far.R * far.R * back * back,
		InsideT: front.T * far.R * back}
	p.TBy = Front{T: pass * far.T * train, Inside: p.T * far.R * back}
	p.RByFar = through * back * train
	p.TByFar = FarFace{R: p.T * front.Inside * back, T: front.T * pass * train}
	p.RByPass = 2 * through * far.R * pass * train * train
	p.TByPass = front.T * far.T * train * (2*train - 1)
	return p
}

// sum stores R and T and returns the sum over all orders of reflection inside.
func (p *PanePowers) sum(front Front, far FarFace, pass float64) (train float64) {
	train = 1 / (1 - front.Inside*far.R*pass*pass)
	p.R = front.R + front.T*front.InsideT*pass*pass*far.R*train
	p.T = front.T * pass * far.T * train
	return train
}

// FarFaces returns, for s and p, what the far face of the pane does to light that
// arrives there, and the transmittance of the glass once through; one entry per element
// of nm. Where no light enters the glass, all are 0. nm and angleDeg and the errors are
// those of [Pane.RT].
func (p Pane) FarFaces(nm []float64, angleDeg float64) (s, pp []FarFace, pass []float64, err error) {
	s, pp, pass = make([]FarFace, len(nm)), make([]FarFace, len(nm)), make([]float64, len(nm))
	err = p.inside(nm, angleDeg, func(i int, w wave, n, q, roundTrip float64) error {
		far, err := p.back(w, n, q)
		s[i], pp[i] = FarFace{far.s.r, far.s.t}, FarFace{far.p.r, far.p.t}
		pass[i] = math.Sqrt(roundTrip)
		return err
	})
	return s, pp, pass, err
}
