package film

import (
	"math"
	"slices"

	"wane/fit"
	"wane/optics"
)

// model is a spot made ready for evaluation: one entry per curve, on the whole
// grid or compressed. It is not safe for concurrent use; evaluating it allocates
// nothing.
type model struct {
	spot   *Spot
	angles []float64 // the distinct angle settings
	curves []curve
	rows   int     // of residuals: points, or nodes where compressed
	points int     // measured
	rest   float64 // of the sum of squares, which no film changes
	maxTau float64 // optical thickness up to which the model holds, nm
	coarse *model  // the same, or a shorter one for scans and profiles
	native bool    // some curve has a native beam
	work   *fit.Workspace
}

type curve struct {
	*view
	c       *compression // nil: the whole grid
	r       []float64    // readings, or the pseudo-data that stand for them
	left    float64      // sum of squares of the readings that the pseudo-data leave out
	points  int          // measured
	sigma   float64      // standard deviation of one point
	setting int          // position in model.angles
	share   float64      // of s
	native  bool
}

// add appends a curve to the model.
func (m *model) add(in *Curve, v *view, sigma float64) *curve {
	m.curves = append(m.curves, curve{view: v, r: in.R, points: len(in.R), sigma: sigma, setting: m.setting(in.AngleDeg),
		share: float64(in.Pol), native: in.Native})
	m.rows += len(v.nm)
	m.points += len(in.R)
	m.native = m.native || in.Native
	return &m.curves[len(m.curves)-1]
}

// addPacked appends a curve by its compression.
func (m *model) addPacked(in *Curve, c *compression, sigma float64) {
	k := m.add(in, c.view, sigma)
	k.c, k.r = c, make([]float64, len(c.nm))
	k.left = c.pack(k.r, in.R)
	m.rest += k.left / (sigma * sigma)
}

func (m *model) setting(angle float64) int {
	for k, a := range m.angles {
		if a == angle {
			return k
		}
	}
	m.angles = append(m.angles, angle)
	return len(m.angles) - 1
}

func (m *model) size() int { return pAngles + perAngle*len(m.angles) }

// returnsAt reports whether some light comes back from the far face at an angle
// setting.
func (m *model) returnsAt(setting int) bool {
	for k := range m.curves {
		if c := &m.curves[k]; c.setting == setting && c.far != nil && slices.Max(c.far.s)+slices.Max(c.far.p) > leastReturn {
			return true
		}
	}
	return false
}

// leastReturn is the share of light from the far face that is taken for nothing.
const leastReturn = 1e-9

// residuals stores (model - data)/sigma, curve after curve.
func (m *model) residuals(dst, x []float64) { m.evaluate(x, dst, nil) }

// jacobian stores the derivatives of the residuals, row by row.
func (m *model) jacobian(dst, x []float64) { m.evaluate(x, nil, dst) }

// evaluate fills res, jac or both; nil leaves one out.
func (m *model) evaluate(x, res, jac []float64) {
	g, at, size := m.geometry(x), 0, m.size()
	for k := range m.curves {
		c := &m.curves[k]
		c.see(&g, x[pTilt(c.setting)])
		n := len(c.nm)
		for i := range n {
			v := c.point(i, x)
			if res != nil {
				res[at+i] = v.r * v.gain / c.sigma
			}
			if jac != nil {
				row := jac[(at+i)*size : (at+i+1)*size]
				clear(row)
				c.derivatives(row, i, x, &g, &v)
			}
		}
		c.finish(res, jac, at, size)
		at += n
	}
}

// finish turns the rows of one curve, which begin at row at, from predictions into
// residuals.
func (c *curve) finish(res, jac []float64, at, size int) {
	n := len(c.nm)
	if c.c != nil && jac != nil {
		c.c.stir(jac[at*size:(at+n)*size], size)
	}
	if res == nil {
		return
	}
	res = res[at : at+n]
	if c.c != nil {
		c.c.stir(res, 1)
	}
	for i := range res {
		res[i] -= c.r[i] / c.sigma
	}
}

// local is the reflectance of one point before scale (r) and what multiplies it
// (gain), with the derivatives of r by thickness, permittivity, bare fraction,
// capture, angle (per degree) and s share.
type local struct {
	r, gain                                       float64
	dThick, dEps, dBare, dCapture, dAngle, dShare float64
}

func (c *curve) point(i int, x []float64) local {
	share := c.share
	if c.native {
		share = x[pShare]
	}
	bare, capture := x[pBare], x[pCapture(c.setting)]
	bareS, bareP := c.surface.Bare()
	byAngleS, byAngleP := c.surface.BareByAngle()
	s := c.face(i, bare, bareS[i], byAngleS[i], &c.s, capture, true)
	p := c.face(i, bare, bareP[i], byAngleP[i], &c.p, capture, false)
	v := local{
		r:        share*s.r + (1-share)*p.r,
		dThick:   share*s.dThick + (1-share)*p.dThick,
		dEps:     share*s.dEps + (1-share)*p.dEps,
		dBare:    share*s.dBare + (1-share)*p.dBare,
		dCapture: share*s.dCapture + (1-share)*p.dCapture,
		dAngle:   share*s.dAngle + (1-share)*p.dAngle,
		dShare:   s.r - p.r,
		gain:     x[pScale] * x[pFactor(c.setting)],
	}
	if c.rough != nil {
		v.gain *= math.Exp(-x[pRough2] * c.rough[i])
	}
	return v
}

// face returns the reflectance of one polarisation: the patchy front and what
// comes back from the far face. glass and glassAngle are bare glass and its
// derivative by the angle.
func (c *curve) face(i int, bare, glass, glassAngle float64, f *optics.FilmResponse, capture float64, isS bool) local {
	rho := (1-bare)*f.R[i] + bare*glass
	v, slope := local{r: rho}, 1.0
	if c.far != nil {
		ret := c.far.at(i, rho, glass, glassAngle, isS)
		v.r += capture * ret.r
		v.dCapture = ret.r
		v.dAngle = capture * ret.byAngle
		slope += capture * ret.byRho
	}
	v.dThick = slope * (1 - bare) * f.DNM[i]
	v.dEps = slope * (1 - bare) * f.DEps[i]
	v.dBare = slope * (glass - f.R[i])
	v.dAngle += slope * ((1-bare)*f.DAngle[i] + bare*glassAngle)
	return v
}

func (c *curve) derivatives(row []float64, i int, x []float64, g *geometry, v *local) {
	k := v.gain / c.sigma
	byIndex := v.dThick*g.dIndex + v.dEps*c.layer.dIdx[i]
	row[pTau] = k * v.dThick * g.dTau
	row[pIndex] = k * byIndex * g.iIndex
	row[pSkeleton] = k * (v.dEps*c.layer.dSkl[i] + byIndex*g.iSkeleton)
	row[pBare] = k * v.dBare
	row[pScale] = k * v.r / x[pScale]
	row[pFactor(c.setting)] = k * v.r / x[pFactor(c.setting)]
	row[pCapture(c.setting)] = k * v.dCapture
	row[pTilt(c.setting)] = k * v.dAngle
	if c.native {
		row[pShare] = k * v.dShare
	}
	if c.rough != nil {
		row[pRough2] = -k * v.r * c.rough[i]
	}
}
