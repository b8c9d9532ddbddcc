package film

import (
	"math"

	"wane/fit"
)

// The parameters of a spot, in the order of the vectors that the solver sees: one for each kind of surface_model.go up to
// kFactor, at the position of its number; then three for each angle setting: the factor on scale, the captured share of the
// far face's return, and the error of the angle; then one factor for each curve; then tilt and zero of each mounting but the
// first; then the step at each detector join.
const (
	pTau        = int(kTau)        // optical thickness at 550 nm, nm
	pIndex      = int(kIndex)      // film index at 550 nm
	pBare       = int(kBare)       // bare fraction
	pSkeleton   = int(kSkeleton)   // index of the solid at 550 nm
	pGlass      = int(kGlass)      // error of the index of the glass
	pScale      = int(kScale)      // multiplicative reference error
	pShare      = int(kShare)      // s share of a beam that is taken for even
	pNative     = int(kNative)     // s share of a native beam
	pRough2     = int(kRough2)     // square of the rms roughness of textured glass, nm²
	pGradient   = int(kGradient)   // half the difference of the porosity between bottom and top
	pSkin       = int(kSkin)       // thickness of the dense skin, nm of solid
	pVariance   = int(kVariance)   // variance of the thickness over its square
	pWavelength = int(kWavelength) // error of the wavelengths, nm
	pZero       = int(kZero)       // what the instrument reads without light from the coupon, a fraction
	pLeak       = int(kLeak)       // share of the light that a matched far face returns, or its error at a laminated one
	pAngles     = int(kFactor)     // first of the three of each angle setting
)

const perAngle, perMounting = 3, 2

func pFactor(setting int) int     { return pAngles + perAngle*setting }
func pCapture(setting int) int    { return pAngles + perAngle*setting + 1 }
func pAngleError(setting int) int { return pAngles + perAngle*setting + 2 } // degrees

// Bounds of the fit. Films up to 5 µm of silica; a porosity of 0.9 is as high as
// silica films are made (common practice, no source).
const (
	maxTau       = 7500.0
	maxPorosity  = 0.9
	minScale     = 0.5
	maxScale     = 1.5
	maxRough     = 200.0 // nm
	maxTilt      = 2.0   // of a placement, degrees
	maxGlass     = 0.1   // error of the index of the glass
	maxZero      = 0.05  // a fraction
	maxLeak      = 0.05  // a fraction
	maxStep      = 0.1   // at a detector join, a fraction
	knownCapture = 15.0  // degrees up to which the far face's return is all seen

	maxAngleError      = 3.0 // degrees
	maxWavelengthError = 5.0 // nm

	mostWavelengthError = 2.0 // that may be stated, nm

	// leastBare is the least bare fraction of the film whose structure is free; below 0 continues the reflectance
	// analytically. At a bound of 0 the estimates of whole films pile up, and changes are smaller than their uncertainties
	// say.
	leastBare                = -0.1
	leastLoss, maxLoss       = -0.05, 0.2 // k of the film; a negative one continues the transmittance analytically
	leastResidue, maxResidue = -5.0, 50.0 // nm, as well
	maxPaneLoss              = 5.0        // absorbance of the pane over what is expected

	maxGradient                = 0.3       // of porosity
	leastSkin, maxSkin         = -15., 30. // nm; a negative skin continues the reflectance analytically
	leastVariance, maxVariance = -0.01, 0.06
)

// params lists the parameters of m with their bounds, priors and pins. What is known of owners that are apart is not merged
// with what is known of others: see law.go.
func (m *model) params(apart owners) []fit.Param {
	ps := make([]fit.Param, m.size())
	m.lawParams(ps, apart)
	lo, hi := m.spot.Coating.indexRange()
	ps[pTau] = fit.Param{Name: "optical_thickness", Start: 140, Lower: 0, Upper: maxTau, Scale: 100}
	ps[pIndex] = fit.Param{Name: FilmIndex, Start: (lo + hi) / 2, Lower: lo, Upper: hi, Scale: 0.1}
	ps[pBare] = fit.Param{Name: Bare, Start: 0.05, Lower: 0, Upper: 1, Scale: 0.1}
	if m.structured {
		ps[pBare].Lower = leastBare
	}
	ps[pRough2] = fit.Param{Name: "roughness", Start: 0, Lower: 0, Upper: maxRough * maxRough, Scale: 400,
		Fixed: !m.spot.Texture}
	if m.spot.Texture {
		ps[pRough2].Start = 400
	}
	for k, angle := range m.angles {
		for i := range max(1, len(m.mountings)) {
			ps[m.pTilt(i)].Upper = min(ps[m.pTilt(i)].Upper, (90-angle)/4)
		}
		if factor := &ps[pFactor(k)]; m.spot.Texture { // only the facets near the mean plane are seen
			factor.Lower, factor.Prior, factor.Fixed = 0.02, fit.Prior{}, false
		}
		ps[pCapture(k)] = fit.Param{Name: m.names[k].capture, Start: 1, Lower: 0, Upper: 1, Scale: 0.1,
			Fixed: m.throughs[k] || angle <= knownCapture || !m.returnsAt(k)}
		off := &ps[pAngleError(k)]
		off.Lower, off.Upper = -min(off.Upper, angle), min(off.Upper, (90-angle)/2)
		if angle == 0 {
			off.Lower, off.Fixed, off.Prior = -maxAngleError, true, fit.Prior{}
		}
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

// filmKinds are the kinds that only a film has.
var filmKinds = []kind{kTau, kIndex, kBare, kSkeleton, kGradient, kGradientOff, kSkin, kSkinOff, kVariance, kVarianceOff,
	kLoss}

// fixFilm fixes all parameters that only a film has.
func fixFilm(ps []fit.Param) {
	for _, i := range filmKinds {
		ps[i].Fixed, ps[i].Prior = true, fit.Prior{}
	}
}

// filmState is the film that a vector of parameters describes, with the derivatives of thickness and index by
// the parameters.
type filmState struct {
	d, index, skeleton       float64 // nm, at 550 nm, at 550 nm
	dTau, dIndex             float64 // ∂d/∂τ and ∂d/∂index at fixed τ
	iIndex, iSkeleton        float64 // ∂index/∂(index, skeleton) parameters
	structured               bool
	gradient, skin, variance float64 // where it is structured: see law.go
	absorbing                bool
	k, residue               float64 // where it is absorbing
}

// filmAt returns the film at the vector x of parameters.
func (m *model) filmAt(x []float64) filmState {
	g := filmState{index: x[pIndex], skeleton: x[pSkeleton], iIndex: 1}
	if m.structured {
		g.structured = true
		g.gradient, g.skin = x[kGradient]+x[kGradientOff], x[kSkin]+x[kSkinOff]
		g.variance = x[kVariance] + x[kVarianceOff]
	}
	if m.through {
		g.absorbing, g.k, g.residue = true, x[kLoss], x[kResidue]
	}
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
