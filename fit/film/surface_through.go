package film

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"wane/optics"
)

// Transmittance is that of the whole pane. Front and far face are summed over the passes of light between them
// ([optics.Passes]), s and p apart:
//
//	T = t·t_far·A / (1 - r_inside·r_far·A²)        A = exp(-absorbance·a)
//
// with a that of the pane by its index and thickness. Where some curve is of transmittance the film may absorb, and
// what it reflects and lets through is that of the lossless film, with its structure, and the difference that k and a
// residue make to the uniform film of the same thickness and index:
//
//	t = 1 - ρ + (1 - bare)·[t_film(k, residue) - t_film(0, 0)] + bare·[t_glass(residue) - t_glass(0)]
//
// and as well for r and r_inside. Reflectance at several angles can tell k of the film, as far as the loss is spread
// through it, but not that of a thin residue on it, which transmittance alone shows. The difference is small, so that
// what the structure would change of it is not seen: an absorptance of 1 % is off by some 3e-4 under a skin of 10 nm.

// lossSlopes are the difference that k and residue make to a quantity of the film, averaged over beam and slit, with
// its derivatives by thickness, by the indices of film and solid, by k, by the residue in nm, by the angle in
// degrees, by the index of the glass and by the error of the wavelengths in nm.
type lossSlopes struct {
	value, byD, byIndex, bySolid, byLoss, byResidue, byWavelength, byAngle, byGlass []float64
}

// lossSlopesOfFilm is how many of them do not hang on angle and glass.
const lossSlopesOfFilm = 7

func (l *lossSlopes) all() [9][]float64 {
	return [...][]float64{l.value, l.byD, l.byIndex, l.bySolid, l.byLoss, l.byResidue, l.byWavelength, l.byAngle, l.byGlass}
}

// losses are those of what a film reflects, lets through, and reflects to light from inside the glass.
type losses struct{ r, t, inside lossSlopes }

func (l *losses) all() [3]*lossSlopes { return [...]*lossSlopes{&l.r, &l.t, &l.inside} }

func newLosses(n int) losses {
	one := func() lossSlopes {
		buf := make([]float64, 9*n)
		at := func(k int) []float64 { return buf[k*n : (k+1)*n : (k+1)*n] }
		return lossSlopes{at(0), at(1), at(2), at(3), at(4), at(5), at(6), at(7), at(8)}
	}
	return losses{one(), one(), one()}
}

// lossLevels are the numbers of nodes by which a view computes its losses, which are smooth in 1/wavelength, and the
// phase thickness of the film at the shortest wavelength less that at the longest up to which the polynomial through
// the nodes is right to 1e-5 of the loss.
var lossLevels = []struct {
	nodes int
	phase float64
}{{12, 1.9}, {24, 7}}

// lossesOn is where a view computes its losses instead of on its own wavelengths: on the nodes of a polynomial.
type lossesOn struct {
	view   *view
	nodes  *nodes
	maxTau float64 // optical thickness up to which it holds, nm
}

// newLossesOn returns the nodes of a curve by level; fewer where it has few points.
func newLossesOn(setup *Setup, nm []float64, angle float64, layers *[]*layer) ([]lossesOn, error) {
	var all []lossesOn
	span := 2 * math.Pi * (1/nm[0] - 1/nm[len(nm)-1])
	for _, level := range lossLevels {
		if 2*level.nodes > len(nm) {
			break
		}
		at := gaussNodes(nm, nil, level.nodes)
		if at == nil {
			break
		}
		v, err := newView(setup, at.nm, angle, layers, false)
		if err != nil {
			return nil, err
		}
		all = append(all, lossesOn{v, at, level.phase / span})
	}
	return all, nil
}

// fillLosses fills the losses of the film g.
func (v *view) fillLosses(g *filmState, off *sight) {
	v.clearLosses()
	on, nodes := v, (*nodes)(nil)
	for _, l := range v.lossesOn {
		if g.d*g.index <= l.maxTau {
			on, nodes = l.view, l.nodes
			on.noAngleSlopes = v.noAngleSlopes
			on.clearLosses()
			on.surface.SetWavelengthError(off.wavelength)
			break
		}
	}
	on.rays = optics.Cone(on.rays, v.angle+off.angle, on.coneDeg)
	for i := range on.rays {
		r := &on.rays[i]
		on.surface.Set(r.AngleDeg, off.glass)
		on.addLosses(g, off.wavelength, r)
	}
	if on != v {
		all, from := v.allLosses(), on.allLosses()
		for q := range all {
			to, from := all[q].all(), from[q].all()
			for k := range to {
				for j, values := range from[k].all() {
					if j < lossSlopesOfFilm || !v.noAngleSlopes {
						nodes.interpolate(to[k].all()[j], values)
					}
				}
			}
		}
	}
}

// clearLosses makes the losses those of no ray yet.
func (v *view) clearLosses() {
	if v.lossy == nil {
		n := len(v.layer.nm)
		v.lossy = make([]complex128, n)
		for q := range v.losses {
			v.absorbing[q], v.lossless[q] = optics.NewAbsorbingResponse(n), optics.NewFilmResponse(n)
			v.losses[q], v.bareLosses[q] = newLosses(len(v.nm)), newLosses(len(v.nm))
		}
	}
	for _, l := range v.allLosses() {
		for _, of := range l.all() {
			for _, s := range of.all() {
				clear(s)
			}
		}
	}
}

// allLosses are those of film and of bare glass, in s and p.
func (v *view) allLosses() [4]*losses {
	return [...]*losses{&v.losses[0], &v.losses[1], &v.bareLosses[0], &v.bareLosses[1]}
}

// addLosses adds those of the film g at a ray, to which the surface is set.
func (v *view) addLosses(g *filmState, wavelength float64, r *optics.Ray) {
	v.layer.set(g.index, g.skeleton)
	v.addLossesTo(&v.losses, g, wavelength, r)
	none := filmState{residue: g.residue}
	v.addLossesTo(&v.bareLosses, &none, wavelength, r)
}

// addLossesTo adds those of the film g, whose index the layer has.
func (v *view) addLossesTo(all *[2]losses, g *filmState, wavelength float64, r *optics.Ray) {
	v.surface.Film(v.lossless[0], v.lossless[1], g.d, v.layer.eps)
	for i, eps := range v.layer.eps {
		v.lossy[i] = complex(eps-g.k*g.k, 2*g.k*math.Sqrt(eps))
	}
	v.surface.AbsorbingUnder(v.absorbing[0], v.absorbing[1], g.d, v.lossy, g.residue)
	for q := range all {
		for _, a := range raysOf(r, q) {
			if a.weight == 0 && a.byTurn == 0 {
				continue
			}
			to, of := &all[q], &v.absorbing[a.from]
			film := lossyFilm{&v.lossless[a.from], g, wavelength, a.addend}
			v.addLoss(&to.r, &of.R, &film, 1)
			v.addLoss(&to.t, &of.T, &film, -1)
			v.addLoss(&to.inside, &of.Inside, &film, 1)
		}
	}
}

// lossyFilm is a film with what it is without its loss, as one ray meets it.
type lossyFilm struct {
	lossless   *optics.FilmResponse
	film       *filmState
	wavelength float64
	addend
}

// addLoss adds the difference of one quantity. sign is by how much the lossless one moves with the lossless
// reflectance.
func (v *view) addLoss(to *lossSlopes, of *optics.Slopes, l *lossyFilm, sign float64) {
	n, k, clear, layer := len(v.slit), l.film.k, l.lossless, v.layer
	start := (1 - sign) / 2 // at a lossless reflectance of 0
	for i := range to.value {
		for q := range v.slit {
			at, share := i*n+q, l.weight*v.slit[q].weight
			index, value := math.Sqrt(layer.eps[at]), of.Value[at]-start-sign*clear.R[at]
			byD := of.DNM[at] - sign*clear.DNM[at]
			byEps := of.DEps[at] + of.DLoss[at]*k/index - sign*clear.DEps[at]
			to.value[i] += share * value
			to.byD[i] += share * byD
			to.byIndex[i] += share * byEps * layer.dIdx[at]
			to.bySolid[i] += share * byEps * layer.dSkl[at]
			to.byLoss[i] += share * 2 * (index*of.DLoss[at] - k*of.DEps[at])
			to.byResidue[i] += share * of.DSheet[at]
			to.byWavelength[i] -= share * (byD*l.film.d + of.DSheet[at]*l.film.residue) / (layer.nm[at] + l.wavelength)
			if !v.noAngleSlopes {
				to.byAngle[i] += share*l.slope*(of.DAngle[at]-sign*clear.DAngle[at]) + l.byTurn*v.slit[q].weight*value
				to.byGlass[i] += share * (of.DGlass[at] - sign*clear.DGlass[at])
			}
		}
	}
}

// prepareThrough completes the state of a curve where some curve is of transmittance.
func (c *curve) prepareThrough(x []float64) {
	a := &c.state
	a.paneLoss, a.pass, a.glass = x[kPaneLoss], x[kPass], x[pGlass]+x[kCouponGlass]
	if c.through {
		a.scale, a.factor, a.place = x[kThroughScale], 1, x[kThroughPlace]
		a.zero, a.offset = x[kThroughZero], 0
	}
}

// passThrough returns the transmittance of the pane once through at point i, and its derivatives by the parameters
// and by the index of the glass. A pane that is known by a blank was computed from that with the expected index of
// its faces.
func (c *curve) passThrough(i, q int) (pass, byPaneLoss, byPass, byGlass float64) {
	a := &c.state
	once := math.Exp(-a.paneLoss * c.far.absorbance[i])
	pass = once * a.pass
	if c.blankSlope[q] != nil {
		faces := 1 + c.blankSlope[q][i]*a.glass
		byGlass = pass * c.blankSlope[q][i]
		once, pass = once*faces, pass*faces
	}
	return pass, -c.far.absorbance[i] * pass, once, byGlass
}

// paneSlopes are the derivatives of what a curve reads by R, T and the inner reflectance of the front, and by the far
// face.
type paneSlopes struct{ r, t, inside, farR, farT, pass, capture float64 }

// seenOf returns what a curve reads of a pane, and its derivatives by what that was summed from.
func (c *curve) seenOf(front optics.Front, p *optics.PanePowers) (value float64, by paneSlopes) {
	if c.through {
		return p.T, paneSlopes{p.TBy.R, p.TBy.T + p.TBy.InsideT, p.TBy.Inside, p.TByFar.R, p.TByFar.T, p.TByPass, 0}
	}
	share, returned := c.state.capture, p.R-front.R
	return front.R + share*returned, paneSlopes{1, share * (p.RBy.T + p.RBy.InsideT), share * p.RBy.Inside, share * p.RByFar, 0,
		share * p.RByPass, returned}
}

// fillThrough is fillPoint where some curve is of transmittance.
func (c *curve) fillThrough(i int, to *pointSlopes) {
	a := &c.state
	for q, share := range [2]float64{a.share, 1 - a.share} {
		f, bare, lost, soiled := &c.faces[q], &c.bare[q], &c.losses[q], &c.bareLosses[q]
		whole, glass := 1-a.bare, bare.R[i]
		rho := whole*f.r[i] + a.bare*glass
		front := optics.Front{R: rho + whole*lost.r.value[i] + a.bare*soiled.r.value[i],
			T:      1 - rho + whole*lost.t.value[i] + a.bare*soiled.t.value[i],
			Inside: rho + whole*lost.inside.value[i] + a.bare*soiled.inside.value[i]}
		front.InsideT = front.T
		far := optics.FarFace{R: glass, T: 1 - glass}
		if c.far.back == optics.Coated { // both faces are taken as equal
			far = optics.FarFace{R: front.Inside, T: front.T}
		}
		pass, byPaneLoss, byPass, passByGlass := c.passThrough(i, q)
		p := optics.Passes(front, far, pass)
		value, by := c.seenOf(front, &p)
		byFar := by.farR - by.farT // by the reflectance of a bare far face
		if c.far.back == optics.Coated {
			by.inside, by.t, byFar = by.inside+by.farR, by.t+by.farT, 0
		}
		byRho := by.r - by.t + by.inside
		film, free := share*whole, share*a.bare
		to.r += share * value
		to.byShare += float64(1-2*q) * value
		to.byBare += share * (byRho*(glass-f.r[i]) + by.loss(soiled.values(i)) - by.loss(lost.values(i)))
		to.byD += film * (byRho*f.byD[i] + by.loss(lost.r.byD[i], lost.t.byD[i], lost.inside.byD[i]))
		to.byIndex += film * (byRho*f.byIndex[i] + by.loss(lost.r.byIndex[i], lost.t.byIndex[i], lost.inside.byIndex[i]))
		to.bySolid += film * (byRho*f.bySolid[i] + by.loss(lost.r.bySolid[i], lost.t.bySolid[i], lost.inside.bySolid[i]))
		to.byLoss += film * by.loss(lost.r.byLoss[i], lost.t.byLoss[i], lost.inside.byLoss[i])
		to.byResidue += film*by.loss(lost.residues(i)) + free*by.loss(soiled.residues(i))
		to.byWavelength += film*(byRho*f.byWavelength[i]+by.loss(lost.wavelengths(i))) + free*by.loss(soiled.wavelengths(i))
		to.byGradient += film * byRho * f.byGradient[i]
		to.bySkin += film * byRho * f.bySkin[i]
		to.byVariance += film * byRho * f.byVariance[i]
		to.byAngle += film*(byRho*f.byAngle[i]+by.loss(lost.angles(i))) + free*by.loss(soiled.angles(i)) +
			share*(byRho*a.bare+byFar)*bare.DAngle[i]
		to.byGlass += film*(byRho*f.byGlass[i]+by.loss(lost.glasses(i))) + free*by.loss(soiled.glasses(i)) +
			share*((byRho*a.bare+byFar)*bare.DGlass[i]+by.pass*passByGlass)
		to.byCapture += share * by.capture
		to.byPaneLoss += share * by.pass * byPaneLoss
		to.byPass += share * by.pass * byPass
	}
}

// loss returns how much a curve reads more where R, T and the inner reflectance of the front are more.
func (by *paneSlopes) loss(r, t, inside float64) float64 { return by.r*r + by.t*t + by.inside*inside }

// The losses of R, T and the inner reflectance at point i, and their derivatives.
func (l *losses) values(i int) (r, t, inside float64) {
	return l.r.value[i], l.t.value[i], l.inside.value[i]
}
func (l *losses) residues(i int) (r, t, inside float64) {
	return l.r.byResidue[i], l.t.byResidue[i], l.inside.byResidue[i]
}
func (l *losses) wavelengths(i int) (r, t, inside float64) {
	return l.r.byWavelength[i], l.t.byWavelength[i], l.inside.byWavelength[i]
}
func (l *losses) angles(i int) (r, t, inside float64) {
	return l.r.byAngle[i], l.t.byAngle[i], l.inside.byAngle[i]
}
func (l *losses) glasses(i int) (r, t, inside float64) {
	return l.r.byGlass[i], l.t.byGlass[i], l.inside.byGlass[i]
}

// finishThrough is the part of finishPoint that only spots with transmittance have.
func (c *curve) finishThrough(s *pointSlopes, gain float64, d *[kinds]float64) {
	d[kLoss], d[kResidue] = gain*s.byLoss, gain*s.byResidue
	d[kPaneLoss], d[kPass] = gain*s.byPaneLoss, gain*s.byPass
	if !c.through {
		return
	}
	d[kThroughScale], d[kThroughPlace], d[kThroughZero] = d[kScale], d[kPlaceFactor], 1
	d[kScale], d[kFactor], d[kPlaceFactor], d[kZero], d[kPlaceZero] = 0, 0, 0, 0, 0
}

// checkThrough returns an [*InputError] where the law has no transmittance.
func (s *Spot) checkThrough() error {
	for i := range s.Curves {
		if !s.Curves[i].Through {
			continue
		}
		what := fmt.Sprintf("curve %d", i+1)
		if nm, b := s.Curves[i].NM, s.Glass.Blank; b != nil && (nm[0] < b.NM[0] || nm[len(nm)-1] > b.NM[len(b.NM)-1]) {
			return &InputError{what, fmt.Sprintf("its transmittance goes from %g to %g nm, and that of the blank from %g to %g nm",
				nm[0], nm[len(nm)-1], b.NM[0], b.NM[len(b.NM)-1]),
				"cut it with --range, or read the blank over the same range; nothing is extrapolated"}
		}
		if s.Texture {
			return &InputError{what, "it is of transmittance, and textured glass scatters what it lets through past the detector",
				"leave it out, or measure transmittance on smooth glass of the same coating"}
		}
		if !s.Glass.LetsThrough() {
			return &InputError{what, fmt.Sprintf("it is of transmittance, and behind a %v far face the light that should be measured "+
				"is absorbed", s.Glass.Back),
				"leave it out, or measure transmittance of a pane whose far face is bare or coated, of known " +
					"thickness"}
		}
	}
	return nil
}

// mostNearNormal is the angle in degrees up to which reflectances count as those at normal incidence; smoothed is
// over how many points values are averaged, so that noise does not decide.
const (
	mostNearNormal = 15.0
	smoothed       = 9
)

// checkEnergy returns an [*InputError] where the pane reflects and lets through more light than arrives, by more than
// 4 standard deviations of the noise and 3 standard uncertainties of scales and zeros, which are independent and add in
// squares. sigma is the noise of each curve.
func (s *Spot) checkEnergy(sigma []float64) error {
	known := s.known()
	for i := range s.Curves {
		t := &s.Curves[i]
		if !t.Through || t.AngleDeg > mostNearNormal {
			continue
		}
		ofT := floats.Norm([]float64{known.Session.UThroughScale, known.Session.UThroughZero, known.Placement.UThrough,
			s.Glass.UPass}, 2)
		if err := excess(t, nil, 4*sigma[i]/3+3*ofT, fmt.Sprintf("curve %d", i+1)); err != nil {
			return err
		}
		scale := floats.Norm([]float64{known.Session.UScale, known.Session.UFactor, known.Placement.UFactor}, 2)
		for k := range s.Curves {
			r := &s.Curves[k]
			if r.Through || r.AngleDeg > mostNearNormal || r.Pol != t.Pol && t.AngleDeg > 0 {
				continue
			}
			u := floats.Norm([]float64{ofT, scale * floats.Max(r.R), known.Session.UZero, known.Placement.UZero}, 2)
			what := fmt.Sprintf("curves %d and %d", k+1, i+1)
			if err := excess(t, r, 4*math.Hypot(sigma[i], sigma[k])/3+3*u, what); err != nil {
				return err
			}
		}
	}
	return nil
}

// excess returns an error where transmittance t, with reflectance r where there is one, exceeds 1 by more than most.
func excess(t, r *Curve, most float64, what string) error {
	sum, from, values := 0.0, 0, []float64{}
	for i, nm := range t.NM {
		v, ok := 0.0, true
		if r != nil {
			v, ok = r.valueAt(nm)
		}
		if !ok {
			values, sum, from = values[:0], 0, i+1
			continue
		}
		values = append(values, v+t.R[i])
		sum += v + t.R[i]
		if n := len(values); n > smoothed {
			sum -= values[n-1-smoothed]
		}
		if mean := sum / smoothed; i-from+1 >= smoothed && mean > 1+most {
			fault, of := fmt.Sprintf("its transmittance is %.4g near %.0f nm", mean, nm), "transmittance"
			if r != nil {
				fault, of = fmt.Sprintf("reflectance and transmittance add to %.4g near %.0f nm", mean, nm), "both quantities"
			}
			return &InputError{what, fault + ": more light than arrives, by more than noise and scale explain",
				"check unit and reference of " + of + ", and that they are of the same coupon"}
		}
	}
	return nil
}

// valueAt returns the reading at a wavelength by a straight line between its neighbours; ok is false outside the curve.
func (c *Curve) valueAt(nm float64) (v float64, ok bool) {
	n := len(c.NM)
	if nm < c.NM[0] || nm > c.NM[n-1] {
		return 0, false
	}
	k := min(floats.Within(c.NM, nm), n-2)
	if k < 0 { // the last wavelength
		k = n - 2
	}
	return lineAt(nm, c.NM[k], c.NM[k+1], c.R[k], c.R[k+1]), true
}
