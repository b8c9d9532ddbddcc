package film

import (
	"math"
	"slices"

	"wane/optics"
)

// view holds the reflectance of a surface at some wavelengths: all of a measured grid, or the few nodes that
// stand for it. It has scratch memory for one film.
type view struct {
	nm            []float64
	angle         float64      // nominal, degrees
	nominalBare   [2][]float64 // bare glass at the nominal angle, s and p
	divisor       *divisor     // nil: readings are not divided
	noAngleSlopes bool         // nobody asks for the derivatives by the angle and the glass
	far           *farFace     // nil: nothing comes back
	roughness     []float64    // (4π·cos θ/λ)², 1/nm²; nil: smooth
	cosineRows    cosineTable  // of a whole grid

	// Beam and slit, over which the averages are taken: the surface has len(slit)
	// neighbours for each wavelength of nm.
	coneDeg float64      // half-angle of the beam; 0: it is parallel
	rays    []optics.Ray // of the film set
	slit    quadrature   // offsets in nm
	surface *optics.Surface
	layer   *layer // shared by the views on the same wavelengths

	bare       [2]optics.BareResponse // s and p
	uniform    [2]optics.FilmResponse // of the film set, at each neighbour, if that is uniform
	structured [2]optics.StructuredResponse
	faces      [2]faceSlopes // of the film set, averaged; filled unless the view is direct

	last struct { // the film set
		film   filmState
		off    sight
		slopes bool // by the angle and the glass, too
		whole  bool // all of it is there
	}
	// Where some curve of the spot is of transmittance: see surface_through.go.
	lossy      []complex128           // permittivity of the film
	lossless   [2]optics.FilmResponse // the film without its loss
	absorbing  [2]optics.AbsorbingResponse
	losses     [2]losses    // of the film
	bareLosses [2]losses    // of bare glass under a residue
	lossesOn   []lossesOn   // by number of nodes
	blankSlope [2][]float64 // by the index of the glass, of the logarithm of the pane by a blank; nil: by its glass
}

// faceSlopes are the reflectance of one polarisation of a film, averaged over beam and slit, and its derivatives by the
// thickness at fixed index, by the indices of film and solid, by the structure, by the angle in degrees, by the index of the
// glass and by the error of the wavelengths in nm.
type faceSlopes struct {
	r, byD, byIndex, bySolid, byGradient, bySkin, byVariance, byAngle, byGlass, byWavelength []float64
}

func (f *faceSlopes) all() [10][]float64 {
	return [...][]float64{f.r, f.byD, f.byIndex, f.bySolid, f.byGradient, f.bySkin, f.byVariance, f.byAngle, f.byGlass,
		f.byWavelength}
}

func newFaceSlopes(n int) faceSlopes {
	buf := make([]float64, 10*n)
	at := func(k int) []float64 { return buf[k*n : (k+1)*n : (k+1)*n] }
	return faceSlopes{at(0), at(1), at(2), at(3), at(4), at(5), at(6), at(7), at(8), at(9)}
}

// newView returns the view of a curve. withLosses says that a pane which lets light through may absorb in its film.
func newView(setup *Setup, nm []float64, angle float64, layers *[]*layer, withLosses bool) (*view, error) {
	n := len(nm)
	v := &view{nm: nm, angle: angle, coneDeg: setup.Instrument.ConeDeg, slit: quadrature{{0, 1}}}
	neighbours := nm
	if width := setup.Instrument.SlitNM; width > 0 {
		v.slit = slices.Clone(slit)
		neighbours = make([]float64, 0, n*len(slit))
		for q := range v.slit {
			v.slit[q].at *= width
		}
		for _, lambda := range nm {
			for _, q := range v.slit {
				neighbours = append(neighbours, lambda+q.at)
			}
		}
	}
	var err error
	if v.surface, err = optics.NewSurface(neighbours, angle, setup.Glass.Index); err != nil {
		return nil, err
	}
	if v.layer, err = sharedLayer(setup.Coating, neighbours, layers); err != nil {
		return nil, err
	}
	if v.far, err = newFarFace(setup.Glass, nm, angle); err != nil {
		return nil, err
	}
	if withLosses && v.far != nil && v.far.absorbance != nil {
		if v.lossesOn, err = newLossesOn(setup, nm, angle, layers); err != nil {
			return nil, err
		}
	}
	for q := range v.uniform {
		v.uniform[q] = optics.NewFilmResponse(len(neighbours))
		if !v.direct() {
			v.faces[q] = newFaceSlopes(n)
		}
	}
	v.bare[0], v.bare[1] = v.surface.Bare()
	if v.averages() {
		for q := range v.bare {
			v.bare[q] = optics.BareResponse{R: make([]float64, n), DAngle: make([]float64, n), DGlass: make([]float64, n)}
		}
	}
	if setup.Texture {
		cos := math.Cos(angle * math.Pi / 180)
		v.roughness = make([]float64, n)
		for i, lambda := range nm {
			h := 4 * math.Pi * cos / lambda
			v.roughness[i] = h * h
		}
	}
	v.setFilm(&filmState{index: 1.3, skeleton: 1.458}, &sight{}) // any film: this is for the bare glass
	v.nominalBare = [2][]float64{slices.Clone(v.bare[0].R), slices.Clone(v.bare[1].R)}
	if setup.Divided {
		v.divisor = &divisor{v.nominalBare, [2][]float64{slices.Clone(v.bare[0].DAngle), slices.Clone(v.bare[1].DAngle)}}
	}
	if setup.Glass.Blank != nil {
		for q := range v.blankSlope {
			v.blankSlope[q] = make([]float64, n)
			for i := range nm { // both of its faces let 1 - R through
				v.blankSlope[q][i] = 2 * v.bare[q].DGlass[i] / (1 - v.bare[q].R[i])
			}
		}
	}
	return v, nil
}

// sharedLayer returns the layer on nm among layers, and adds it if it is new.
func sharedLayer(c Coating, nm []float64, layers *[]*layer) (*layer, error) {
	for _, l := range *layers {
		if slices.Equal(l.nm, nm) {
			return l, nil
		}
	}
	l, err := newLayer(c, nm)
	if err == nil {
		*layers = append(*layers, l)
	}
	return l, err
}

func (v *view) averages() bool { return v.coneDeg > 0 || len(v.slit) > 1 }

// direct reports whether the reflectances of the film are those of the curve: nothing comes back from the far face and
// nothing is averaged.
func (v *view) direct() bool { return v.far == nil && !v.averages() }

// sight is by how much a surface is seen otherwise than is stated.
type sight struct {
	angle      float64 // degrees, added to the angle of incidence
	glass      float64 // added to the index of the glass
	wavelength float64 // nm, added to all wavelengths
}

// setFilm computes the reflectance under the film g, unless it is there already.
func (v *view) setFilm(g *filmState, off *sight) {
	last := &v.last
	if last.whole && last.film == *g && last.off == *off && (last.slopes || v.noAngleSlopes) {
		if !g.structured {
			v.layer.set(g.index, g.skeleton) // other views share it
		}
		return
	}
	last.whole = false
	v.computeFilm(g, off)
	last.film, last.off, last.slopes, last.whole = *g, *off, !v.noAngleSlopes, true
}

// computeFilm does what setFilm says.
func (v *view) computeFilm(g *filmState, off *sight) {
	v.surface.SetWavelengthError(off.wavelength)
	if v.direct() {
		v.surface.Set(v.angle+off.angle, off.glass)
		v.film(g)
		return
	}
	for q := range v.faces {
		for _, s := range v.faces[q].all() {
			clear(s)
		}
		if v.averages() {
			clear(v.bare[q].R)
			clear(v.bare[q].DAngle)
			clear(v.bare[q].DGlass)
		}
	}
	v.rays = optics.Cone(v.rays, v.angle+off.angle, v.coneDeg)
	for i := range v.rays {
		r := &v.rays[i]
		v.surface.Set(r.AngleDeg, off.glass)
		v.film(g)
		v.addRay(g, off.wavelength, r)
	}
	if g.absorbing {
		v.fillLosses(g, off)
	}
}

// addRay adds the film that was evaluated last, and bare glass, to the averages, as a ray sees them: a part of the light
// that is s on the axis of the beam is p to the surface there, and the other way round.
func (v *view) addRay(g *filmState, wavelength float64, r *optics.Ray) {
	averages := v.averages()
	for q := range v.faces {
		for _, a := range raysOf(r, q) {
			if a.weight == 0 && a.byTurn == 0 {
				continue
			}
			v.addFilm(g, wavelength, q, a.from, a.addend)
			if averages {
				v.addBare(q, a.from, a.addend)
			}
		}
	}
}

// raysOf returns what a ray brings to polarisation q of the averages, and from which of its own.
func raysOf(r *optics.Ray, q int) [2]turnedAddend {
	return [...]turnedAddend{{q, addend{r.Weight * (1 - r.Turned), r.DAngle, -r.Weight * r.DTurned}},
		{1 - q, addend{r.Weight * r.Turned, r.DAngle, r.Weight * r.DTurned}}}
}

// turnedAddend is an addend from a polarisation of the ray.
type turnedAddend struct {
	from int
	addend
}

// addend says how what a ray sees enters an average.
type addend struct {
	weight float64
	slope  float64 // derivative of the angle of the ray by that of the axis
	byTurn float64 // derivative of the weight by the angle of the axis, per degree
}

// seen returns the reflectances of polarisation q of the film g, which was set last.
func (v *view) seen(q int, g *filmState) []float64 {
	switch {
	case !v.direct():
		return v.faces[q].r
	case g.structured:
		return v.structured[q].R
	}
	return v.uniform[q].R
}

// film evaluates the film g as the surface is set.
func (v *view) film(g *filmState) {
	if g.structured {
		if len(v.structured[0].R) == 0 {
			n := len(v.layer.nm)
			v.structured = [2]optics.StructuredResponse{optics.NewStructuredResponse(n), optics.NewStructuredResponse(n)}
		}
		v.surface.Structured(v.structured[0], v.structured[1], v.layer.profileOf(g))
		return
	}
	v.layer.set(g.index, g.skeleton)
	to := v.uniform
	if v.noAngleSlopes {
		for q := range to {
			to[q].DAngle, to[q].DGlass = nil, nil
		}
	}
	v.surface.Film(to[0], to[1], g.d, v.layer.eps)
}

// addTo adds weight times the average of one over the slit to sum.
func (v *view) addTo(sum, one []float64, weight float64) {
	n := len(v.slit)
	for i := range sum {
		for q := range v.slit {
			sum[i] += weight * v.slit[q].weight * one[i*n+q]
		}
	}
}

// addFilm adds polarisation from of the film that was evaluated last to that of polarisation q of the averages.
func (v *view) addFilm(g *filmState, wavelength float64, q, from int, a addend) {
	n, to := len(v.slit), &v.faces[q]
	if g.structured {
		one := &v.structured[from]
		v.addTo(to.byIndex, one.DIndex, a.weight)
		v.addTo(to.bySolid, one.DSkeleton, a.weight)
		v.addTo(to.byGradient, one.DGradient, a.weight)
		v.addTo(to.bySkin, one.DSkin, a.weight)
		v.addTo(to.byVariance, one.DVariance, a.weight)
		v.addFace(to, one.R, one.DNM, one.DAngle, one.DGlass, a)
	} else {
		one := &v.uniform[from]
		v.addFace(to, one.R, one.DNM, one.DAngle, one.DGlass, a)
	}
	for i := range v.nm {
		for k := range v.slit {
			at, share := i*n+k, a.weight*v.slit[k].weight
			byStretch := g.d
			if g.structured {
				byStretch = g.d*v.structured[from].DNM[at] + g.skin*v.structured[from].DSkin[at]
			} else {
				byStretch *= v.uniform[from].DNM[at]
				to.byIndex[i] += share * v.uniform[from].DEps[at] * v.layer.dIdx[at]
				to.bySolid[i] += share * v.uniform[from].DEps[at] * v.layer.dSkl[at]
			}
			to.byWavelength[i] -= share * byStretch / (v.layer.nm[at] + wavelength)
		}
	}
}

// addFace adds what all films have.
func (v *view) addFace(to *faceSlopes, r, byD, byAngle, byGlass []float64, a addend) {
	v.addTo(to.r, r, a.weight)
	v.addTo(to.byD, byD, a.weight)
	v.addTo(to.byAngle, byAngle, a.weight*a.slope)
	v.addTo(to.byGlass, byGlass, a.weight)
	if a.byTurn != 0 {
		v.addTo(to.byAngle, r, a.byTurn)
	}
}

// addBare is addFilm for bare glass.
func (v *view) addBare(q, from int, a addend) {
	var bare [2]optics.BareResponse
	bare[0], bare[1] = v.surface.Bare()
	one, sum := &bare[from], &v.bare[q]
	v.addTo(sum.R, one.R, a.weight)
	v.addTo(sum.DAngle, one.DAngle, a.weight*a.slope)
	v.addTo(sum.DGlass, one.DGlass, a.weight)
	if a.byTurn != 0 {
		v.addTo(sum.DAngle, one.R, a.byTurn)
	}
}
