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
	throughs     []bool         // they are of transmittance
	names        []settingNames // of their parameters
	mountings    []int          // how often the coupon had been set down, each once
	joins                       // inside some curve
	curves       []curve
	rows         int     // of residuals: points, or nodes where compressed
	points       int     // measured
	constantCost float64 // part of the sum of squares that does not depend on the film
	noiseFactor  float64 // factor by which the variance of the noise has been multiplied
	maxTau       float64 // optical thickness up to which the model is valid, nm
	coarse       *model  // the same, or a shorter one for scans and profiles
	native       bool    // some curve has a native beam
	mixed        bool    // some curve has a beam that is taken for even
	reflects     bool    // some curve is of reflectance
	through      bool    // some curve is of transmittance
	structured   bool    // the structure of the film is free
	structure    float64 // how much of the usual structure a film of this thickness has, 0 to 1
	work         *fit.Workspace
	scans        *[]*scanTable // the fitter's
	columns      []float64     // scratch of fillNormalEquations
	products     []float64     // products of the columns, and with the residuals
	right        []float64
	curveCosts   []float64 // per curve: sum of squares in the last call of fillNormalEquations
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
	mounting        int          // position in model.mountings
	through         bool         // it is of transmittance
	at              placedAt     // positions of its parameters
	share           float64      // of s
	beam            beam
	cosines         []float64 // coefficients of the readings; nil: not yet made

	free   []freeKind
	slopes []kind // by which the curve is derived for them
	state  curveState
}

// placedAt holds positions of parameters of a curve: those of its placement, and that of the first join.
type placedAt struct{ factor, tilt, zero, firstJoin int }

// beam says how well the s share of a curve's beam is known.
type beam int

const (
	pureBeam   beam = iota // s or p, or any other share that is stated
	mixedBeam              // taken for even
	nativeBeam             // the native beam of the instrument
)

// beamOf returns what is known of the beam of a curve.
func (c *Curve) beamOf() beam {
	switch {
	case c.Native:
		return nativeBeam
	case c.Pol == optics.U:
		return mixedBeam
	}
	return pureBeam
}

// kind is what a parameter is to a curve. Each curve has one parameter of each kind.
type kind int

const (
	kTau kind = iota
	kIndex
	kBare
	kSkeleton
	kGlass
	kCouponGlass
	kScale
	kShare
	kNative
	kRough2
	kGradient
	kGradientOff
	kSkin
	kSkinOff
	kVariance
	kVarianceOff
	kLoss // first of those that only transmittance shows
	kResidue
	kThroughScale
	kThroughZero
	kThroughPlace
	kPaneLoss
	kPass // last of those
	kTilt
	kWavelength
	kZero
	kPlaceZero
	kLeak
	kFactor // first of those of each angle setting
	kCapture
	kAngle
	kPlaceFactor // of each curve
	kJoin        // first of the joins
	kinds        = int(kJoin) + maxJoins
)

// parameter returns the position of the parameter of a kind.
func (m *model) parameter(c *curve, k kind) int {
	switch {
	case k >= kJoin:
		return c.at.firstJoin + int(k-kJoin)
	case k == kPlaceFactor:
		return m.pPlaceFactor(c.source)
	case k == kTilt:
		return m.pTilt(c.mounting)
	case k == kPlaceZero:
		return m.pPlaceZero(c.mounting)
	}
	return position(k, c.setting)
}

// addPiece appends one piece of curve number source to the model.
func (m *model) addPiece(in *Curve, source int, p *piece, v *view, sigma float64) *curve {
	n := len(v.nm)
	v.noAngleSlopes = false // whatever spot the view served before
	m.curves = append(m.curves, curve{view: v, r: in.R[p.from:p.to], points: p.to - p.from, sigma: sigma, source: source,
		setting: m.setting(in), mounting: m.mounting(in.Mounting), joins: p.joins, share: float64(in.Pol),
		beam:       in.beamOf(),
		through:    in.Through,
		weightRoot: make([]float64, n), fitted: make([]float64, n)})
	c := &m.curves[len(m.curves)-1]
	for i := range c.weightRoot {
		c.weightRoot[i] = 1 / sigma
	}
	m.rows += n
	m.points += c.points
	m.native, m.mixed = m.native || c.beam == nativeBeam, m.mixed || c.beam == mixedBeam
	m.through, m.reflects = m.through || c.through, m.reflects || !c.through
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

// setting returns the position of that of a curve among the settings, and adds it if it is new.
func (m *model) setting(c *Curve) int {
	k := m.settingOf(c)
	if k < 0 {
		k = len(m.angles)
		m.angles, m.throughs = append(m.angles, c.AngleDeg), append(m.throughs, c.Through)
	}
	return k
}

// settingOf returns the position of the setting of a curve; -1: it is not in the model.
func (m *model) settingOf(c *Curve) int {
	for k, angle := range m.angles {
		if angle == c.AngleDeg && m.throughs[k] == c.Through {
			return k
		}
	}
	return -1
}

// mounting returns the position of a mounting among the mountings, and adds it if it is new.
func (m *model) mounting(number int) int {
	number = max(1, number)
	k := slices.Index(m.mountings, number)
	if k < 0 {
		k = len(m.mountings)
		m.mountings = append(m.mountings, number)
	}
	return k
}

func (m *model) size() int              { return m.pJoin(m.countJoins()) }
func (m *model) pPlaceFactor(c int) int { return pAngles + perAngle*len(m.angles) + c }
func (m *model) pJoin(j int) int        { return m.pMounting(max(1, len(m.mountings))) + j }

// pMounting returns the position of the first of the two parameters of mounting k, from 1: tilt and zero. Those of the
// first mounting, number 0, stand with what all curves share.
func (m *model) pMounting(k int) int {
	return m.pPlaceFactor(len(m.spot.Curves)) + perMounting*(k-1)
}

func (m *model) pTilt(mounting int) int {
	if mounting == 0 {
		return int(kTilt)
	}
	return m.pMounting(mounting)
}

func (m *model) pPlaceZero(mounting int) int {
	if mounting == 0 {
		return int(kPlaceZero)
	}
	return m.pMounting(mounting) + 1
}

// locate finds the positions of the parameters of the curves.
func (m *model) locate() {
	for k := range m.curves {
		c := &m.curves[k]
		_, before := m.ofCurve(&m.spot.Curves[c.source])
		c.at = placedAt{m.pPlaceFactor(c.source), m.pTilt(c.mounting), m.pPlaceZero(c.mounting), m.pJoin(before)}
	}
}

// returnsAt reports whether the far face returns light at an angle setting of which it is uncertain how much is seen. The
// 1e-4 or so that a blackened one returns count as seen: what the placement owns is as large.
func (m *model) returnsAt(setting int) bool {
	for k := range m.curves {
		if c := &m.curves[k]; c.setting == setting && c.far != nil && c.far.back != optics.Blackened &&
			slices.Max(c.far.s)+slices.Max(c.far.p) > leastReturn {
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
			c.free, c.slopes = make([]freeKind, 0, kinds), make([]kind, 0, kinds)
		}
		c.free, c.slopes = c.free[:0], c.slopes[:0]
		for k := kTau; k < kJoin+kind(c.joins); k++ {
			if at := m.parameter(c, k); !params[at].Fixed {
				c.addFree(k, at)
			}
		}
		c.noAngleSlopes = params[pGlass].Fixed && params[kCouponGlass].Fixed && params[c.at.tilt].Fixed &&
			params[pAngleError(c.setting)].Fixed
	}
}

// freeKind is a free parameter of a curve.
type freeKind struct {
	kind
	at     int // position
	column int // in slopes of the curve
}

// addFree adds a free parameter at a position.
func (c *curve) addFree(k kind, at int) {
	slope := k.slope()
	if c.isDivided() && (k == kTilt || k == kPlaceZero) { // the blank has those of its own placement
		slope = k
	}
	column := slices.Index(c.slopes, slope)
	if column < 0 {
		column = len(c.slopes)
		c.slopes = append(c.slopes, slope)
	}
	c.free = append(c.free, freeKind{k, at, column})
}

// slope returns a kind whose derivatives are those of k in every curve: that with which an effect merges in one reading, and
// the error of the angle for a tilt.
func (k kind) slope() kind {
	switch k {
	case kCouponGlass:
		return kGlass
	case kGradientOff:
		return kGradient
	case kSkinOff:
		return kSkin
	case kVarianceOff:
		return kVariance
	case kPlaceZero:
		return kZero
	case kTilt:
		return kAngle
	}
	return k
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
			for a, kind := range c.slopes {
				m.columns[(a+1)*rows+i] = root * slopes[kind]
			}
		}
		m.curveCosts[k] = floats.Dot(res, res)
		cost += m.curveCosts[k]
		n := len(c.slopes)
		for a := range n {
			col := m.column(a+1, rows)
			m.right[a] = floats.Dot(col, res)
			for b := a; b < n; b++ {
				v := floats.Dot(col, m.column(b+1, rows))
				m.products[a*n+b], m.products[b*n+a] = v, v
			}
		}
		for i, a := range c.free {
			jr[a.at] += m.right[a.column]
			row := m.products[a.column*n : (a.column+1)*n]
			for _, b := range c.free[i:] {
				jj[min(a.at, b.at)*size+max(a.at, b.at)] += row[b.column]
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
		if c.through && !m.through { // a scan does not look at it
			clear(res[at : at+len(c.nm)])
			at += len(c.nm)
			continue
		}
		c.prepare(&g, x)
		for i := range c.nm {
			r := c.point(i, &slopes)
			if res != nil {
				res[at] = c.weightRoot[i] * (r - c.r[i])
			}
			if jac != nil {
				row := jac[at*size : (at+1)*size]
				clear(row)
				for k := kTau; k < kJoin+kind(c.joins); k++ {
					row[m.parameter(c, k)] = c.weightRoot[i] * slopes[k]
				}
			}
			at++
		}
	}
}

// curveState is what the points of a curve have in common at one vector of parameters.
type curveState struct {
	structured                    bool
	bare, capture, share, rough2  float64
	scale, factor, place, offset  float64
	zero                          float64 // part of the offset that is not of the placement
	angleError                    float64 // of the session, degrees
	leak                          float64
	wavelength, d, skin           float64 // error of the wavelengths, thickness and skin, nm
	perTau, perIndex, perSkeleton float64 // ∂d/∂τ, ∂d/∂(index parameter) and ∂d/∂(skeleton)
	indexByIndex, indexBySkeleton float64
	absorbing                     bool // some curve is of transmittance
	paneLoss, pass, glass         float64
}

// prepare computes the state of the curve at x, for point.
func (c *curve) prepare(g *filmState, x []float64) {
	c.setFilm(g, &sight{x[c.at.tilt] + x[pAngleError(c.setting)], x[pGlass] + x[kCouponGlass], x[pWavelength]})
	a := &c.state
	*a = curveState{structured: g.structured, bare: x[pBare], capture: x[pCapture(c.setting)], share: c.share,
		rough2: x[pRough2], scale: x[pScale], factor: x[pFactor(c.setting)], place: x[c.at.factor],
		zero: x[pZero], offset: x[c.at.zero], angleError: x[pAngleError(c.setting)], leak: x[pLeak],
		wavelength: x[pWavelength], d: g.d, skin: g.skin,
		perTau: g.dTau, perIndex: g.dIndex * g.iIndex, perSkeleton: g.dIndex * g.iSkeleton,
		indexByIndex: g.iIndex, indexBySkeleton: g.iSkeleton}
	switch c.beam {
	case mixedBeam:
		a.share = x[pShare]
	case nativeBeam:
		a.share = x[pNative]
	}
	if a.absorbing = g.absorbing; a.absorbing {
		c.prepareThrough(x)
	}
	for _, v := range x[c.at.firstJoin : c.at.firstJoin+c.joins] {
		a.zero += v
	}
	a.offset += a.zero
}

// pointSlopes is the reflectance at a point before leak, scale and zero, with its derivatives as those of [faceSlopes], and
// by bare fraction, s share and capture.
type pointSlopes struct {
	r, byD, byIndex, bySolid, byGradient, bySkin, byVariance, byAngle, byGlass, byWavelength float64

	byBare, byShare, byCapture float64

	byLoss, byResidue, byPaneLoss, byPass float64 // by k of the film, the residue, and the absorption of the pane
}

// point returns the predicted reading at point i, a fraction, and stores its derivatives by kind in d.
func (c *curve) point(i int, d *[kinds]float64) float64 {
	var s pointSlopes
	switch {
	case c.state.absorbing:
		c.fillThrough(i, &s)
	case !c.direct():
		c.fillPoint(i, &s)
	case c.state.structured:
		c.fillStructured(i, &s)
	default:
		c.fillUniform(i, &s)
	}
	return c.finishPoint(i, &s, d)
}

// finishPoint returns the reading for a reflectance, and stores its derivatives by kind in d.
func (c *curve) finishPoint(i int, s *pointSlopes, d *[kinds]float64) float64 {
	a := &c.state
	through := 1 - s.r
	r := s.r + a.leak*through*through
	gain := a.scale * a.factor * a.place
	if c.roughness != nil {
		gain *= math.Exp(-a.rough2 * c.roughness[i])
		d[kRough2] = -gain * r * c.roughness[i]
	}
	d[kScale], d[kFactor], d[kPlaceFactor] = gain/a.scale*r, gain/a.factor*r, gain/a.place*r
	d[kLeak] = gain * through * through
	reading := gain*r + a.offset
	gain *= 1 - 2*a.leak*through
	byD, byIndex := gain*s.byD, gain*s.byIndex
	d[kTau] = byD * a.perTau
	d[kIndex] = byD*a.perIndex + byIndex*a.indexByIndex
	d[kSkeleton] = byD*a.perSkeleton + gain*s.bySolid + byIndex*a.indexBySkeleton
	d[kBare] = gain * s.byBare
	d[kWavelength] = gain * s.byWavelength
	d[kAngle] = gain * s.byAngle
	d[kTilt] = d[kAngle]
	d[kGlass] = gain * s.byGlass
	d[kCouponGlass] = d[kGlass]
	d[kCapture] = gain * s.byCapture
	d[kShare], d[kNative] = 0, 0
	switch c.beam {
	case mixedBeam:
		d[kShare] = gain * s.byShare
	case nativeBeam:
		d[kNative] = gain * s.byShare
	}
	if a.structured {
		d[kGradient], d[kSkin], d[kVariance] = gain*s.byGradient, gain*s.bySkin, gain*s.byVariance
		d[kGradientOff], d[kSkinOff], d[kVarianceOff] = d[kGradient], d[kSkin], d[kVariance]
	}
	d[kZero], d[kPlaceZero] = 1, 1
	if a.absorbing {
		c.finishThrough(s, gain, d)
	}
	for j := range c.joins {
		d[int(kJoin)+j] = 1
	}
	if c.isDivided() {
		return c.divide(i, reading, d)
	}
	return reading
}

// fillUniform fills a point of a direct view under a uniform film.
func (c *curve) fillUniform(i int, to *pointSlopes) {
	a := &c.state
	ws, wp := a.share, 1-a.share
	s, p, bareS, bareP := &c.uniform[0], &c.uniform[1], &c.bare[0], &c.bare[1]
	film, glass := ws*s.R[i]+wp*p.R[i], ws*bareS.R[i]+wp*bareP.R[i]
	whole := 1 - a.bare
	byEps := whole * (ws*s.DEps[i] + wp*p.DEps[i])
	to.r, to.byD = whole*film+a.bare*glass, whole*(ws*s.DNM[i]+wp*p.DNM[i])
	to.byIndex, to.bySolid, to.byBare = byEps*c.layer.dIdx[i], byEps*c.layer.dSkl[i], glass-film
	to.byWavelength = -to.byD * a.d / (c.nm[i] + a.wavelength) // only the ratio of thickness to wavelength counts
	if !c.noAngleSlopes {
		to.byAngle = whole*(ws*s.DAngle[i]+wp*p.DAngle[i]) + a.bare*(ws*bareS.DAngle[i]+wp*bareP.DAngle[i])
		to.byGlass = whole*(ws*s.DGlass[i]+wp*p.DGlass[i]) + a.bare*(ws*bareS.DGlass[i]+wp*bareP.DGlass[i])
	}
	if c.beam != pureBeam {
		to.byShare = whole*(s.R[i]-p.R[i]) + a.bare*(bareS.R[i]-bareP.R[i])
	}
}

// fillStructured is fillUniform for a structured film.
func (c *curve) fillStructured(i int, to *pointSlopes) {
	a := &c.state
	s, p, bareS, bareP := &c.structured[0], &c.structured[1], &c.bare[0], &c.bare[1]
	film, glass := a.share*s.R[i]+(1-a.share)*p.R[i], a.share*bareS.R[i]+(1-a.share)*bareP.R[i]
	whole := 1 - a.bare
	ws, wp := whole*a.share, whole*(1-a.share)
	to.r, to.byD, to.byBare = whole*film+a.bare*glass, ws*s.DNM[i]+wp*p.DNM[i], glass-film
	to.byIndex, to.bySolid = ws*s.DIndex[i]+wp*p.DIndex[i], ws*s.DSkeleton[i]+wp*p.DSkeleton[i]
	to.byGradient, to.bySkin = ws*s.DGradient[i]+wp*p.DGradient[i], ws*s.DSkin[i]+wp*p.DSkin[i]
	to.byVariance = ws*s.DVariance[i] + wp*p.DVariance[i]
	to.byAngle = ws*s.DAngle[i] + wp*p.DAngle[i] + a.bare*(a.share*bareS.DAngle[i]+(1-a.share)*bareP.DAngle[i])
	to.byGlass = ws*s.DGlass[i] + wp*p.DGlass[i] + a.bare*(a.share*bareS.DGlass[i]+(1-a.share)*bareP.DGlass[i])
	to.byWavelength = -(to.byD*a.d + to.bySkin*a.skin) / (c.nm[i] + a.wavelength)
	to.byShare = whole*(s.R[i]-p.R[i]) + a.bare*(bareS.R[i]-bareP.R[i])
}

// fillPoint fills a point of any view: the two polarisations of the patchy front, each with what comes back from the far
// face.
func (c *curve) fillPoint(i int, to *pointSlopes) {
	a := &c.state
	for q, share := range [2]float64{a.share, 1 - a.share} {
		f, bare := &c.faces[q], &c.bare[q]
		whole, glass := 1-a.bare, bare.R[i]
		r, slope := whole*f.r[i]+a.bare*glass, share
		if c.far != nil {
			ret := c.far.at(i, r, glass, bare.DAngle[i], bare.DGlass[i], q == 0)
			r += a.capture * ret.r
			to.byCapture += share * ret.r
			to.byAngle += share * a.capture * ret.byAngle
			to.byGlass += share * a.capture * ret.byGlass
			slope += share * a.capture * ret.byRho
		}
		to.r += share * r
		to.byShare += float64(1-2*q) * r
		to.byBare += slope * (glass - f.r[i])
		to.byAngle += slope * (whole*f.byAngle[i] + a.bare*bare.DAngle[i])
		to.byGlass += slope * (whole*f.byGlass[i] + a.bare*bare.DGlass[i])
		slope *= whole
		to.byD += slope * f.byD[i]
		to.byIndex += slope * f.byIndex[i]
		to.bySolid += slope * f.bySolid[i]
		to.byGradient += slope * f.byGradient[i]
		to.bySkin += slope * f.bySkin[i]
		to.byVariance += slope * f.byVariance[i]
		to.byWavelength += slope * f.byWavelength[i]
	}
}
