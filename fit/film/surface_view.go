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
	angle         float64 // nominal, degrees
	s, p          optics.FilmResponse
	bareS, bareP  optics.BareResponse
	slopes        [2]filmSlopes // of s and p
	nominalBare   [2][]float64  // bare glass at the nominal angle, s and p
	noAngleSlopes bool          // the derivatives by the angle and the glass are not needed
	needsNoSlopes bool          // no derivative is needed
	far           *farFace      // nil: the far face returns nothing
	roughness     []float64     // (4π·cos θ/λ)², 1/nm²; nil: smooth

	// Beam and slit, over which the averages are taken: the surface has len(slit)
	// neighbours for each wavelength of nm.
	rays    []ray
	slit    quadrature // offsets in nm
	surface *optics.Surface
	layer   *layer // shared by the views on the same wavelengths
	single  [2]optics.FilmResponse
}

// filmSlopes are the derivatives of the reflectance of one polarisation that the package optics does not know:
// by the index of the film, by that of its skeleton and, where the thickness spreads, by the square of the
// spread.
type filmSlopes struct{ index, solid, spread2 []float64 }

func newFilmSlopes(n int) filmSlopes {
	return filmSlopes{make([]float64, n), make([]float64, n), make([]float64, n)}
}

func newView(setup *Setup, nm []float64, angle float64, layers *[]*layer) (*view, error) {
	n := len(nm)
	v := &view{nm: nm, angle: angle, rays: cone(setup.Instrument.ConeDeg), slit: quadrature{{0, 1}},
		s: optics.NewFilmResponse(n), p: optics.NewFilmResponse(n), slopes: [2]filmSlopes{newFilmSlopes(n), newFilmSlopes(n)}}
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
	v.bareS, v.bareP = v.surface.Bare()
	if v.averages() {
		v.single = [2]optics.FilmResponse{optics.NewFilmResponse(len(neighbours)), optics.NewFilmResponse(len(neighbours))}
		for _, b := range []*optics.BareResponse{&v.bareS, &v.bareP} {
			*b = optics.BareResponse{R: make([]float64, n), DAngle: make([]float64, n), DGlass: make([]float64, n)}
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
	v.setFilm(&filmState{index: 1.3, skeleton: 1.458}, 0, 0) // any film: this is for the bare glass
	v.nominalBare = [2][]float64{slices.Clone(v.bareS.R), slices.Clone(v.bareP.R)}
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

func (v *view) averages() bool { return len(v.rays) > 1 || len(v.slit) > 1 }

// setFilm computes the reflectance under the film g, at the nominal angle plus tilt, in degrees, on glass
// whose index is off by shift.
func (v *view) setFilm(g *filmState, tilt, shift float64) {
	v.layer.set(g.index, g.skeleton)
	if v.averages() || g.spreads {
		v.setAverage(g, tilt, shift)
		return
	}
	v.surface.Set(v.angle+tilt, shift)
	to := [2]optics.FilmResponse{v.s, v.p}
	if v.noAngleSlopes {
		for q := range to {
			to[q].DAngle, to[q].DGlass = nil, nil
		}
	}
	v.surface.Film(to[0], to[1], g.d, v.layer.eps)
	if v.needsNoSlopes {
		return
	}
	for q, r := range [2]*optics.FilmResponse{&v.s, &v.p} {
		m := &v.slopes[q]
		for i, byEps := range r.DEps {
			m.index[i], m.solid[i] = byEps*v.layer.dIdx[i], byEps*v.layer.dSkl[i]
		}
	}
}

// leastSpread is the smallest relative spread at which the derivative by its square is computed. Below it the
// derivative hardly changes: the limit at 0 is reached to 1e-5.
const leastSpread = 1e-3

// setAverage is setFilm with averages over the directions of the beam, the slit and the spread of thickness.
func (v *view) setAverage(g *filmState, tilt, shift float64) {
	v.clear()
	films, spread := quadrature{{0, 1}}, math.Sqrt(g.spread2)
	if spread > 0 {
		films = gauss
	}
	for _, r := range v.rays {
		deg, slope := r.incidence(v.angle + tilt)
		v.surface.Set(deg, shift)
		if v.averages() {
			v.addBare(r.weight, slope)
		}
		for _, f := range films {
			v.film(g.d * (1 + spread*f.at))
			v.addFilm(r.weight*f.weight, slope, 1+spread*f.at)
			if g.spreads && spread >= leastSpread {
				v.addSpread(r.weight * f.weight * f.at * g.d / (2 * spread))
			}
		}
		if !g.spreads || spread >= leastSpread {
			continue
		}
		for _, at := range [2]float64{-leastSpread, leastSpread} { // the limit: half the second derivative by thickness
			v.film(g.d * (1 + at))
			v.addSpread(r.weight * g.d / (4 * at))
		}
	}
}

// film computes the reflectance of one film of thickness d, in nm, in the scratch
// responses.
func (v *view) film(d float64) {
	if len(v.single[0].R) == 0 { // only the spread is averaged over
		n := len(v.layer.nm)
		v.single = [2]optics.FilmResponse{optics.NewFilmResponse(n), optics.NewFilmResponse(n)}
	}
	v.surface.Film(v.single[0], v.single[1], d, v.layer.eps)
}

func (v *view) clear() {
	for _, r := range []*optics.FilmResponse{&v.s, &v.p} {
		for _, s := range [][]float64{r.R, r.DNM, r.DEps, r.DAngle, r.DGlass} {
			clear(s)
		}
	}
	for _, m := range v.slopes {
		clear(m.index)
		clear(m.solid)
		clear(m.spread2)
	}
	if v.averages() {
		for _, b := range []*optics.BareResponse{&v.bareS, &v.bareP} {
			clear(b.R)
			clear(b.DAngle)
			clear(b.DGlass)
		}
	}
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

func (v *view) addFilm(weight, byAngle, byD float64) {
	for q, r := range [2]*optics.FilmResponse{&v.s, &v.p} {
		one := &v.single[q]
		v.addTo(r.R, one.R, weight)
		v.addTo(r.DNM, one.DNM, weight*byD)
		v.addTo(r.DEps, one.DEps, weight)
		v.addTo(r.DAngle, one.DAngle, weight*byAngle)
		v.addTo(r.DGlass, one.DGlass, weight)
		n := len(v.slit)
		for i := range v.nm {
			for k := range v.slit {
				byEps := weight * v.slit[k].weight * one.DEps[i*n+k]
				v.slopes[q].index[i] += byEps * v.layer.dIdx[i*n+k]
				v.slopes[q].solid[i] += byEps * v.layer.dSkl[i*n+k]
			}
		}
	}
}

func (v *view) addSpread(weight float64) {
	for q := range v.single {
		v.addTo(v.slopes[q].spread2, v.single[q].DNM, weight)
	}
}

func (v *view) addBare(weight, byAngle float64) {
	s, p := v.surface.Bare()
	for q, sum := range [2]*optics.BareResponse{&v.bareS, &v.bareP} {
		one := &s
		if q == 1 {
			one = &p
		}
		v.addTo(sum.R, one.R, weight)
		v.addTo(sum.DAngle, one.DAngle, weight*byAngle)
		v.addTo(sum.DGlass, one.DGlass, weight)
	}
}
