package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"wane/fit"
	"wane/optics"
)

// model is a spot with tables for its evaluation. It has one entry for each curve, or for each piece of a curve
// between two detector joins, on the whole grid or compressed. It is not safe for concurrent use. Evaluating
// it allocates nothing.
type model struct {
	spot         *Spot
	angles       []float64      // the distinct angle settings
	names        []settingNames // of their parameters
	joins        []float64      // nm, detector joins inside some curve
	curves       []curve
	rows         int     // of residuals: points, or nodes where compressed
	points       int     // measured
	constantCost float64 // part of the sum of squares that does not depend on the film
	noiseFactor  float64 // factor by which the variance of the noise has been multiplied
	maxTau       float64 // optical thickness up to which the model is valid, nm
	coarse       *model  // the same, or a shorter one for scans and profiles
	native       bool    // some curve has a native beam
	spread       bool    // the spread of thickness is free
	work         *fit.Workspace
	scans        *[]*scanTable // the fitter's
	columns      []float64     // scratch of fillNormalEquations
	curveCosts   []float64     // per curve: sum of squares in the last call of fillNormalEquations
}

type curve struct {
	*view
	packed          *compression // nil: the whole grid
	r               []float64    // readings, or the pseudo-readings of a compressed curve
	fitted          []float64    // model of r in the last call of fillNormalEquations
	readings        []float64    // of a compressed curve
	weightRoot      []float64    // factor on residuals: root of the weight over sigma
	steps           float64      // sum of squares of the differences of neighbouring readings, of a compressed curve
	unpackedSquares float64      // rest of the compression (surface_compress.go)
	points          int          // measured
	sigma           float64      // standard deviation of one point
	source          int          // position in the spot's curves
	setting         int          // position in model.angles
	joins           int          // detector joins below it
	firstJoin       int          // position of the first join's parameter
	share           float64      // of s
	native          bool

	free  []kind // whose parameters are free
	state curveState
}

// kind is the kind of a parameter of a curve. Each curve has one parameter of each kind.
type kind int

const (
	kTau kind = iota
	kIndex
	kBare
	kSkeleton
	kGlass
	kScale
	kShare
	kRough2
	kSpread2
	kMount
	kFactor
	kCapture
	kTilt
	kJoin // first of the joins
	kinds = int(kJoin) + maxJoins
)

// parameter returns the position of the parameter of a kind.
func (m *model) parameter(c *curve, k kind) int {
	switch {
	case k < kFactor:
		return int(k)
	case k >= kJoin:
		return m.pJoin(int(k - kJoin))
	}
	return pAngles + perAngle*c.setting + int(k-kFactor)
}

// addPiece appends one piece of curve number source to the model.
func (m *model) addPiece(in *Curve, source int, p *piece, v *view, sigma float64) *curve {
	n := len(v.nm)
	v.needsNoSlopes, v.noAngleSlopes = v.far == nil && !v.averages(), false // the view may have served another spot
	m.curves = append(m.curves, curve{view: v, r: in.R[p.from:p.to], points: p.to - p.from, sigma: sigma, source: source,
		setting: m.setting(in.AngleDeg), joins: p.joins, share: float64(in.Pol), native: in.Native,
		weightRoot: make([]float64, n), fitted: make([]float64, n)})
	c := &m.curves[len(m.curves)-1]
	for i := range c.weightRoot {
		c.weightRoot[i] = 1 / sigma
	}
	m.rows += n
	m.points += c.points
	m.native = m.native || in.Native
	return c
}

// addPacked appends one piece of a curve by its compression.
func (m *model) addPacked(in *Curve, source int, p *piece, c *compression, sigma float64) {
	k := m.addPiece(in, source, p, c.view, sigma)
	k.readings = k.r
	k.packed, k.r = c, make([]float64, len(c.nm))
	k.unpackedSquares, k.steps = c.at.pack(k.r, k.readings), stepsOf(k.readings)
	for i := range k.weightRoot {
		k.weightRoot[i] *= c.at.root[i]
	}
	m.constantCost += k.unpackedSquares / (sigma * sigma)
}

// setting returns the position of angle among the settings, and adds it if it is new.
func (m *model) setting(angle float64) int {
	k := slices.Index(m.angles, angle)
	if k < 0 {
		k = len(m.angles)
		m.angles = append(m.angles, angle)
	}
	return k
}

func (m *model) size() int       { return pAngles + perAngle*len(m.angles) + len(m.joins) }
func (m *model) pJoin(j int) int { return pAngles + perAngle*len(m.angles) + j }

// returnsAt reports whether the far face returns light at an angle setting.
func (m *model) returnsAt(setting int) bool {
	for k := range m.curves {
		if c := &m.curves[k]; c.setting == setting && c.far != nil && slices.Max(c.far.s)+slices.Max(c.far.p) > leastReturn {
			return true
		}
	}
	return false
}

// leastReturn is the returned share of the far face below which it counts as none.
const leastReturn = 1e-9

// setFreeParams sets the free parameters of the curves. Only their derivatives are computed.
func (m *model) setFreeParams(params []fit.Param) {
	for i := range m.curves {
		c := &m.curves[i]
		if c.free == nil {
			c.free = make([]kind, 0, kinds)
		}
		c.free = c.free[:0]
		for k := kTau; k < kJoin+kind(len(m.joins)); k++ {
			if !params[m.parameter(c, k)].Fixed {
				c.free = append(c.free, k)
			}
		}
		c.noAngleSlopes = params[pGlass].Fixed && params[pMount].Fixed && params[pTilt(c.setting)].Fixed
	}
}

// fillNormalEquations adds the normal equations at x to jj and jr and returns the sum of squares there:
// see Normal in [fit.Problem]. Only the elements of free parameters are filled.
func (m *model) fillNormalEquations(jj, jr, x []float64) float64 {
	g, size, cost := m.filmAt(x), m.size(), m.constantCost
	for k := range m.curves {
		c := &m.curves[k]
		c.prepare(&g, x)
		rows := len(c.nm)
		var slopes [kinds]float64
		res := m.column(0, rows)
		for i := range res {
			root := c.weightRoot[i]
			c.fitted[i] = c.point(i, &slopes)
			res[i] = root * (c.fitted[i] - c.r[i])
			for a, kind := range c.free {
				m.columns[(a+1)*rows+i] = root * slopes[kind]
			}
		}
		m.curveCosts[k] = floats.Dot(res, res)
		cost += m.curveCosts[k]
		for a, kind := range c.free {
			pa, col := m.parameter(c, kind), m.column(a+1, rows)
			jr[pa] += floats.Dot(col, res)
			for b := a; b < len(c.free); b++ {
				pb := m.parameter(c, c.free[b])
				jj[min(pa, pb)*size+max(pa, pb)] += floats.Dot(col, m.column(b+1, rows))
			}
		}
	}
	return cost
}

// column returns the scratch of fillNormalEquations for the residuals of a curve (0), or for their derivatives
// by its free parameters (from 1).
func (m *model) column(i, rows int) []float64 { return m.columns[i*rows : (i+1)*rows] }

// residuals stores (model - data)/sigma, curve after curve.
func (m *model) residuals(dst, x []float64) { m.evaluate(x, dst, nil) }

// jacobian stores the derivatives of the residuals, row by row.
func (m *model) jacobian(dst, x []float64) { m.evaluate(x, nil, dst) }

// evaluate fills res and jac at x, as residuals and jacobian do. Either may be nil.
func (m *model) evaluate(x, res, jac []float64) {
	g, at, size := m.filmAt(x), 0, m.size()
	for k := range m.curves {
		var slopes [kinds]float64
		c := &m.curves[k]
		c.prepare(&g, x)
		for i := range c.nm {
			r := c.point(i, &slopes)
			if res != nil {
				res[at] = c.weightRoot[i] * (r - c.r[i])
			}
			if jac != nil {
				row := jac[at*size : (at+1)*size]
				clear(row)
				for k := kTau; k < kJoin+kind(len(m.joins)); k++ {
					row[m.parameter(c, k)] = c.weightRoot[i] * slopes[k]
				}
			}
			at++
		}
	}
}

// curveState is what the points of a curve have in common at one vector of parameters.
type curveState struct {
	spreads                       bool
	bare, capture, share, rough2  float64
	scale, factor, offset         float64
	perTau, perIndex, perSkeleton float64 // ∂d/∂τ, ∂d/∂(index parameter) and ∂d/∂(skeleton)
	indexByIndex, indexBySkeleton float64
}

// prepare computes the state of the curve at x, for point.
func (c *curve) prepare(g *filmState, x []float64) {
	c.setFilm(g, x[pMount]+x[pTilt(c.setting)], x[pGlass])
	a := &c.state
	*a = curveState{spreads: g.spreads, bare: x[pBare], capture: x[pCapture(c.setting)], share: c.share,
		rough2: x[pRough2],
		scale:  x[pScale], factor: x[pFactor(c.setting)],
		perTau: g.dTau, perIndex: g.dIndex * g.iIndex, perSkeleton: g.dIndex * g.iSkeleton,
		indexByIndex: g.iIndex, indexBySkeleton: g.iSkeleton}
	if c.native {
		a.share = x[pShare]
	}
	for _, v := range x[c.firstJoin : c.firstJoin+c.joins] {
		a.offset += v
	}
}

// faceResponse is the reflectance of one polarisation before scale, with its derivatives by thickness, index,
// skeleton, spread², bare fraction, capture, angle (per degree) and index of the glass.
type faceResponse struct {
	r, byD, byIndex, bySolid, bySpread, byBare, byCapture, byAngle, byGlass float64
}

// point returns the predicted reading at point i, a fraction, and stores its derivatives by kind in d.
func (c *curve) point(i int, d *[kinds]float64) float64 {
	a := &c.state
	if c.needsNoSlopes && !a.spreads {
		return c.directPoint(i, d)
	}
	var s, p faceResponse
	c.fillFace(i, &c.s, &c.bareS, 0, &s)
	c.fillFace(i, &c.p, &c.bareP, 1, &p)
	ws, wp := a.share, 1-a.share
	r := ws*s.r + wp*p.r
	gain := a.scale * a.factor
	if c.roughness != nil {
		gain *= math.Exp(-a.rough2 * c.roughness[i])
		d[kRough2] = -gain * r * c.roughness[i]
	}
	byD, byIndex := gain*(ws*s.byD+wp*p.byD), gain*(ws*s.byIndex+wp*p.byIndex)
	d[kTau] = byD * a.perTau
	d[kIndex] = byD*a.perIndex + byIndex*a.indexByIndex
	d[kSkeleton] = byD*a.perSkeleton + gain*(ws*s.bySolid+wp*p.bySolid) + byIndex*a.indexBySkeleton
	d[kBare] = gain * (ws*s.byBare + wp*p.byBare)
	d[kGlass] = gain * (ws*s.byGlass + wp*p.byGlass)
	d[kScale] = gain * r / a.scale
	d[kFactor] = gain * r / a.factor
	d[kTilt] = gain * (ws*s.byAngle + wp*p.byAngle)
	d[kMount] = d[kTilt]
	if c.far != nil {
		d[kCapture] = gain * (ws*s.byCapture + wp*p.byCapture)
	}
	if c.native {
		d[kShare] = gain * (s.r - p.r)
	}
	if a.spreads {
		d[kSpread2] = gain * (ws*s.bySpread + wp*p.bySpread)
	}
	for j := range c.joins {
		d[int(kJoin)+j] = 1
	}
	return gain*r + a.offset
}

// directPoint is point for a curve without return from the far face and without averages. It mixes the two
// polarisations first.
func (c *curve) directPoint(i int, d *[kinds]float64) float64 {
	a := &c.state
	ws, wp := a.share, 1-a.share
	film, glass := ws*c.s.R[i]+wp*c.p.R[i], ws*c.bareS.R[i]+wp*c.bareP.R[i]
	whole := 1 - a.bare
	r := whole*film + a.bare*glass
	gain := a.scale * a.factor
	if c.roughness != nil {
		gain *= math.Exp(-a.rough2 * c.roughness[i])
		d[kRough2] = -gain * r * c.roughness[i]
	}
	of := gain * whole
	byD, byEps := of*(ws*c.s.DNM[i]+wp*c.p.DNM[i]), of*(ws*c.s.DEps[i]+wp*c.p.DEps[i])
	byIndex := byEps * c.layer.dIdx[i]
	d[kTau] = byD * a.perTau
	d[kIndex] = byD*a.perIndex + byIndex*a.indexByIndex
	d[kSkeleton] = byD*a.perSkeleton + byEps*c.layer.dSkl[i] + byIndex*a.indexBySkeleton
	d[kBare] = gain * (glass - film)
	d[kScale] = gain / a.scale * r
	d[kFactor] = gain / a.factor * r
	if !c.noAngleSlopes {
		on := gain * a.bare
		d[kTilt] = of*(ws*c.s.DAngle[i]+wp*c.p.DAngle[i]) + on*(ws*c.bareS.DAngle[i]+wp*c.bareP.DAngle[i])
		d[kMount] = d[kTilt]
		d[kGlass] = of*(ws*c.s.DGlass[i]+wp*c.p.DGlass[i]) + on*(ws*c.bareS.DGlass[i]+wp*c.bareP.DGlass[i])
	}
	if c.native {
		d[kShare] = gain * (whole*(c.s.R[i]-c.p.R[i]) + a.bare*(c.bareS.R[i]-c.bareP.R[i]))
	}
	for j := range c.joins {
		d[int(kJoin)+j] = 1
	}
	return gain*r + a.offset
}

// fillFace fills the reflectance of one polarisation: that of the patchy front, and the return of the far face.
func (c *curve) fillFace(i int, film *optics.FilmResponse, bare *optics.BareResponse, q int, v *faceResponse) {
	a := &c.state
	whole, glass := 1-a.bare, bare.R[i]
	byGlassAngle, byGlassIndex := bare.DAngle[i], bare.DGlass[i]
	v.r = whole*film.R[i] + a.bare*glass
	slope := 1.0
	if c.far != nil {
		ret := c.far.at(i, v.r, glass, byGlassAngle, byGlassIndex, q == 0)
		v.r += a.capture * ret.r
		v.byCapture = ret.r
		v.byAngle, v.byGlass = a.capture*ret.byAngle, a.capture*ret.byGlass
		slope += a.capture * ret.byRho
	}
	v.byD = slope * whole * film.DNM[i]
	more := &c.slopes[q]
	v.byIndex, v.bySolid = slope*whole*more.index[i], slope*whole*more.solid[i]
	if a.spreads {
		v.bySpread = slope * whole * more.spread2[i]
	}
	v.byBare = slope * (glass - film.R[i])
	v.byAngle += slope * (whole*film.DAngle[i] + a.bare*byGlassAngle)
	v.byGlass += slope * (whole*film.DGlass[i] + a.bare*byGlassIndex)
}
