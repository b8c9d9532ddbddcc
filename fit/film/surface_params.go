package film

import (
	"fmt"
	"math"

	"wane/fit"
)

// The parameters of a spot, in the order of the solver's vectors. After them come three
// for each angle setting: the factor on scale, the captured share of the far face's
// return, and the error of the angle. Then comes one for each detector join: the step
// there. The order is that of the kinds of surface_model.go.
const (
	pTau      = iota // optical thickness at 550 nm, nm
	pIndex           // film index at 550 nm
	pBare            // bare fraction
	pSkeleton        // index of the solid at 550 nm
	pGlass           // error of the index of the glass
	pScale           // multiplicative reference error
	pShare           // s share of a native beam
	pRough2          // square of the rms roughness of textured glass, nm²
	pSpread2         // square of the spread of thickness over thickness
	pMount           // error that all angles have in common, degrees
	pAngles          // first of the three of each angle setting
)

const perAngle = 3

func pFactor(setting int) int  { return pAngles + perAngle*setting }
func pCapture(setting int) int { return pAngles + perAngle*setting + 1 }
func pTilt(setting int) int    { return pAngles + perAngle*setting + 2 } // error of the angle, degrees

// Bounds of the fit. Films up to 5 µm of silica; a porosity of 0.9 is as high as
// silica films are made (common practice, no source).
const (
	maxTau       = 7500.0
	maxPorosity  = 0.9
	minScale     = 0.5
	maxScale     = 1.5
	maxRough     = 200.0 // nm
	maxTilt      = 3.0   // degrees
	maxMount     = 2.0   // degrees
	maxGlass     = 0.1   // error of the index of the glass
	maxSpread    = 0.25  // of the thickness: the part of a normal distribution below zero is negligible
	maxStep      = 0.1   // at a detector join, a fraction
	knownCapture = 15.0  // degrees up to which all of the far face's return is captured
)

// params lists the parameters of m with their bounds, priors and pins.
func (m *model) params() []fit.Param {
	c, session := m.spot.Coating, m.spot.session()
	skeleton, u := c.skeleton()
	lo, hi := c.indexRange()
	ps := make([]fit.Param, m.size())
	ps[pTau] = fit.Param{Name: "optical_thickness", Start: 140, Lower: 0, Upper: maxTau, Scale: 100}
	ps[pIndex] = fit.Param{Name: FilmIndex, Start: (lo + hi) / 2, Lower: lo, Upper: hi, Scale: 0.1}
	ps[pBare] = fit.Param{Name: Bare, Start: 0.05, Lower: 0, Upper: 1, Scale: 0.1}
	ps[pSkeleton] = fit.Param{Name: "skeleton_index", Start: skeleton, Lower: 1.2, Upper: 1.8, Scale: 0.01,
		Prior: fit.Prior{Mean: skeleton, SD: u}, Fixed: u == 0}
	ps[pGlass] = fit.Param{Name: "glass_index", Lower: -maxGlass, Upper: maxGlass, Scale: 0.01,
		Prior: prior(0, m.spot.Glass.UIndex), Fixed: m.spot.Glass.UIndex == 0}
	ps[pScale] = fit.Param{Name: Scale, Start: 1, Lower: minScale, Upper: maxScale, Scale: 0.01,
		Prior: prior(1, session.UScale), Fixed: session.UScale == 0}
	ps[pShare] = fit.Param{Name: "s_share", Start: 0.5, Lower: 0, Upper: 1, Scale: 0.05,
		Prior: prior(0.5, session.UShare), Fixed: !m.native || session.UShare == 0}
	ps[pRough2] = fit.Param{Name: "roughness", Start: 0, Lower: 0, Upper: maxRough * maxRough, Scale: 400,
		Fixed: !m.spot.Texture}
	if m.spot.Texture {
		ps[pRough2].Start = 400
	}
	ps[pSpread2] = fit.Param{Name: Spread, Lower: 0, Upper: maxSpread * maxSpread, Scale: 0.01, Fixed: !m.spread}
	if m.spread {
		ps[pSpread2].Start = 0.01
	}
	ps[pMount] = fit.Param{Name: "mount", Lower: -maxMount, Upper: maxMount, Scale: 0.1,
		Prior: prior(0, session.UMount), Fixed: session.UMount == 0}
	for _, angle := range m.angles {
		ps[pMount].Upper = min(ps[pMount].Upper, (90-angle)/4)
	}
	for j, nm := range m.joins {
		ps[m.pJoin(j)] = fit.Param{Name: fmt.Sprintf("join@%g", nm), Lower: -maxStep, Upper: maxStep, Scale: 0.001,
			Prior: prior(0, m.spot.Instrument.UJoin)}
	}
	for k, angle := range m.angles {
		factor := fit.Param{Name: m.names[k].factor, Start: 1, Lower: minScale, Upper: maxScale, Scale: 0.01,
			Prior: prior(1, session.UFactor), Fixed: session.UFactor == 0}
		if m.spot.Texture { // only the facets near the mean plane are seen
			factor.Lower, factor.Prior, factor.Fixed = 0.02, fit.Prior{}, false
		}
		ps[pFactor(k)] = factor
		ps[pCapture(k)] = fit.Param{Name: m.names[k].capture, Start: 1, Lower: 0, Upper: 1, Scale: 0.1,
			Fixed: angle <= knownCapture || !m.returnsAt(k)}
		ps[pTilt(k)] = fit.Param{Name: m.names[k].tilt, Lower: -min(maxTilt, angle), Upper: min(maxTilt, (90-angle)/2),
			Scale: 0.1,
			Prior: prior(0, session.UAngle), Fixed: session.UAngle == 0 || angle == 0}
	}
	m.pin(ps)
	return ps
}

// prior returns the prior of a standard uncertainty; an infinite one gives none.
func prior(mean, u float64) fit.Prior {
	if math.IsInf(u, 1) {
		return fit.Prior{}
	}
	return fit.Prior{Mean: mean, SD: u}
}

// pin fixes the pinned parameters. A pinned thickness or porosity has no parameter of its own: see filmAt.
func (m *model) pin(ps []fit.Param) {
	fix := func(i int, v float64) { ps[i].Start, ps[i].Fixed, ps[i].Prior = v, true, fit.Prior{} }
	pins := m.spot.Pins
	if v, ok := pins[Bare]; ok {
		fix(pBare, v)
	}
	if v, ok := pins[Scale]; ok {
		fix(pScale, v)
	}
	if v, ok := pins[FilmIndex]; ok {
		fix(pIndex, v)
	}
	if v, ok := pins[Porosity]; ok {
		fix(pIndex, m.spot.Coating.indexOf(v, ps[pSkeleton].Start))
	}
	if v, ok := pins[Thickness]; ok {
		fix(pTau, v*ps[pIndex].Start)
	}
	if ps[pBare].Fixed && ps[pBare].Start == 1 { // no film: its parameters have no effect
		fixFilm(ps)
	}
}

// fixFilm fixes all parameters that only a film has.
func fixFilm(ps []fit.Param) {
	for _, i := range []int{pTau, pIndex, pBare, pSkeleton, pSpread2} {
		ps[i].Fixed, ps[i].Prior = true, fit.Prior{}
	}
}

// filmState is the film that a vector of parameters describes, with the derivatives of thickness and index by
// the parameters.
type filmState struct {
	d, index, skeleton float64 // nm, at 550 nm, at 550 nm
	dTau, dIndex       float64 // ∂d/∂τ and ∂d/∂index at fixed τ
	iIndex, iSkeleton  float64 // ∂index/∂(index, skeleton) parameters
	spreads            bool    // the thickness spreads
	spread2            float64 // square of the standard deviation over the mean
}

// filmAt returns the film at the vector x of parameters.
func (m *model) filmAt(x []float64) filmState {
	g := filmState{index: x[pIndex], skeleton: x[pSkeleton], iIndex: 1, spread2: x[pSpread2]}
	g.spreads = m.spread || g.spread2 > 0
	if p, ok := m.spot.Pins[Porosity]; ok {
		g.index = m.spot.Coating.indexOf(p, g.skeleton)
		_, _, dSolid := m.spot.Coating.Mixing.MixReal(g.skeleton*g.skeleton, 1, p)
		g.iIndex, g.iSkeleton = 0, dSolid*g.skeleton/g.index
	}
	if d, ok := m.spot.Pins[Thickness]; ok {
		g.d = d
		return g
	}
	g.d = x[pTau] / g.index
	g.dTau, g.dIndex = 1/g.index, -g.d/g.index
	return g
}

// uniformSDs returns, for each free parameter without a prior, the standard deviation of a uniform distribution
// between its bounds,
//
//	(upper - lower)/√12
//
// its uncertainty if only the bounds are known. It is 0 for the others.
func uniformSDs(params []fit.Param) []float64 {
	sd := make([]float64, len(params))
	for i, p := range params {
		if !p.Fixed && p.Prior.SD == 0 {
			sd[i] = (p.Upper - p.Lower) / math.Sqrt(12)
		}
	}
	return sd
}
