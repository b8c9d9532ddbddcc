package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"wane/fit"
)

// A scan does not evaluate the model for each spot where it can be helped. The
// pseudo-readings that each film of the scan gives, or its readings on a coarse grid, are tabulated once for a set of grids
// and angles. The cost of a film follows from the scalar products of its pseudo-readings
// with those of the measured curves.

// scanTable holds the films of a scan, in order of optical thickness and, within one,
// of index. Pseudo-readings are multiplied by the roots of their weights, √w_j, and
// those of all curves follow each other.
type scanTable struct {
	curves []curveKey
	lo, hi float64   // range of optical thickness, nm
	index  fit.Param // its bounds are the range of the index
	taus   []float64 // optical thicknesses, nm
	values []float64 // indices
	rows   int       // number of pseudo-readings of all curves
	film   []float64 // films x rows
	ff, fb []float64 // films x curves: |film|², and film·bare
	bare   []float64 // rows: pseudo-readings of bare glass
	bb     []float64 // curves: |bare|²

	line  []candidate // scratch of a scan
	found []mixture
	costs []float64 // films
}

// curveKey is what the pseudo-readings of a curve depend on.
type curveKey struct {
	v     *view
	share float64
}

// scanTable returns the table for the curves of m, for optical thicknesses from lo to hi,
// in nm, and the range of the index. It is made on its first use and kept.
func (m *model) scanTable(lo, hi float64, index fit.Param) *scanTable {
	same := func(s curveKey, c curve) bool { return s.v == c.view && s.share == c.share }
	for _, t := range *m.scans {
		if t.lo == lo && t.hi == hi && t.index == index && slices.EqualFunc(t.curves, m.curves, same) {
			return t
		}
	}
	taus, indices := scanTaus(lo, hi), scanValues(index, scanIndices)
	films := len(taus) * len(indices)
	skeleton, _ := m.spot.Coating.skeleton()
	t := &scanTable{lo: lo, hi: hi, index: index, taus: taus, values: indices, rows: m.rows,
		line: make([]candidate, len(taus)), found: make([]mixture, len(taus)), costs: make([]float64, films)}
	row := func(r func(c *curve, q int) []float64) (out []float64) {
		for k := range m.curves {
			c := &m.curves[k]
			s, p := r(c, 0), r(c, 1)
			for i := range c.nm {
				value := c.share*s[i] + (1-c.share)*p[i]
				if c.packed != nil {
					value *= c.packed.at.root[i]
				}
				out = append(out, value)
			}
		}
		return out
	}
	t.bare = row(func(c *curve, q int) []float64 { return c.nominalBare[q] })
	for k := range m.curves {
		t.curves = append(t.curves, curveKey{m.curves[k].view, m.curves[k].share})
	}
	t.bb = m.curveProducts(nil, t.bare, t.bare)
	for _, tau := range taus {
		for _, index := range indices {
			g := filmState{d: tau / index, index: index, skeleton: skeleton}
			for k := range m.curves {
				m.curves[k].setFilm(&g, &sight{})
			}
			film := row(func(c *curve, q int) []float64 { return c.seen(q, &g) })
			t.film = append(t.film, film...)
			t.ff, t.fb = m.curveProducts(t.ff, film, film), m.curveProducts(t.fb, film, t.bare)
		}
	}
	kept := len(t.film)
	for _, o := range *m.scans {
		kept += len(o.film)
	}
	if kept > keptScans {
		*m.scans = nil
	}
	*m.scans = append(*m.scans, t)
	return t
}

// curveProducts appends the scalar product of a and b over each curve to dst. a and b
// have an element for each pseudo-reading.
func (m *model) curveProducts(dst, a, b []float64) []float64 {
	for k := range m.curves {
		n := len(m.curves[k].nm)
		dst = append(dst, floats.Dot(a[:n], b[:n]))
		a, b = a[n:], b[n:]
	}
	return dst
}

// keptScans is the number of values in scan tables, of 8 bytes each, above which all kept ones are dropped.
const keptScans = 1 << 20

// canTabulate reports whether the scan can use tables: nothing comes back from the far face, the
// glass is smooth, and optical thickness, index and bare fraction are free.
func (m *model) canTabulate(params []fit.Param) bool {
	for k := range m.curves {
		if c := &m.curves[k]; c.far != nil || c.roughness != nil {
			return false
		}
	}
	return !params[pTau].Fixed && !params[pIndex].Fixed && !params[pBare].Fixed
}

// tableScan is like scan, but takes the films from tables. For each film it uses the
// best gain, one for all curves, and the best bare fraction.
func (m *model) tableScan(params []fit.Param, lo, hi float64) [][]float64 {
	table, gain := m.scanTable(lo, hi, params[pIndex]), gainRange(params)
	taus, indices := table.taus, table.values
	weighted, weights := make([]float64, 0, m.rows), make([]float64, len(m.curves))
	var bare products
	for k := range m.curves {
		c := &m.curves[k]
		weights[k] = 1 / (c.sigma * c.sigma)
		for i, r := range c.r {
			weighted = append(weighted, c.weightRoot[i]*r/c.sigma)
			bare.zz += c.weightRoot[i] * r * c.weightRoot[i] * r
		}
	}
	bare.bz, bare.bb = floats.Dot(table.bare, weighted), floats.Dot(weights, table.bb)
	line, found, costs := table.line, table.found, table.costs
	for i := range taus {
		found[i].cost = math.Inf(1)
		for j := range indices {
			film, p := i*len(indices)+j, bare
			p.fz = floats.Dot(table.film[film*table.rows:(film+1)*table.rows], weighted)
			for k, w := range weights {
				p.ff += w * table.ff[film*len(weights)+k]
				p.fb += w * table.fb[film*len(weights)+k]
			}
			best := p.best(gain)
			costs[film] = best.cost
			if best.cost < found[i].cost {
				found[i], found[i].index = best, j
			}
		}
		line[i] = candidate{i, found[i].cost}
	}
	var xs [][]float64
	for _, c := range lowest(line) {
		x, f := startVector(params), &found[c.at]
		film := c.at*len(indices) + f.index
		x[pTau], x[pIndex] = vertex(taus, c.at, costs, film, len(indices)), vertex(indices, f.index, costs, film, 1)
		x[pBare] = f.bare
		m.setGain(params, x, f.gain)
		xs = append(xs, x)
	}
	return xs
}

// vertex returns the lowest point of the parabola through the costs at values[i] and at
// its two neighbours, at most half way to either of them. At an end of values, and where
// the parabola does not open upwards, it is values[i]. The cost of values[i] is
// costs[at]; those of the neighbours are costs[at-stride] and costs[at+stride].
func vertex(values []float64, i int, costs []float64, at, stride int) float64 {
	if i == 0 || i == len(values)-1 {
		return values[i]
	}
	down, up := costs[at-stride]-costs[at], costs[at+stride]-costs[at]
	if !(down+up > 0) {
		return values[i]
	}
	off := min(max(0.5*(down-up)/(down+up), -0.5), 0.5)
	return values[i] + off*(values[i+1]-values[i])
}

// products are scalar products over all points of the measured curves z, the curves f of
// a film and the curves b of bare glass, each divided by the noise.
type products struct{ zz, ff, fb, bb, fz, bz float64 }

// mixture is the model gain·((1-bare)·f + bare·b) with the best gain and bare fraction
// for a film f. cost is its sum of squares |z - mixture|².
type mixture struct {
	index            int // position of the film among the indices
	gain, bare, cost float64
}

// mostBare is the largest bare fraction of a start: there must be a film to fit.
const mostBare = 0.9

// best returns the mixture of least cost, with the gain in its range and the bare
// fraction from 0 to mostBare. The cost
//
//	zz - 2·g·mz + g²·mm        m = (1-bare)·f + bare·b
//
// is quadratic in the parts g·(1-bare) and g·bare. If its minimum is outside the range, the
// least cost lies on an edge of the range; best searches the four edges.
func (p *products) best(gain [2]float64) mixture {
	determinant := p.ff*p.bb - p.fb*p.fb
	film, bare := (p.fz*p.bb-p.bz*p.fb)/determinant, (p.bz*p.ff-p.fz*p.fb)/determinant
	if g := film + bare; g >= gain[0] && g <= gain[1] && bare >= 0 && bare <= mostBare*g {
		return mixture{gain: g, bare: bare / g, cost: p.zz - film*p.fz - bare*p.bz}
	}
	best := mixture{cost: math.Inf(1)}
	try := func(g, b float64) {
		g, b = min(max(g, gain[0]), gain[1]), min(max(b, 0), mostBare)
		mz := (1-b)*p.fz + b*p.bz
		mm := (1-b)*(1-b)*p.ff + 2*b*(1-b)*p.fb + b*b*p.bb
		if cost := p.zz - 2*g*mz + g*g*mm; cost < best.cost {
			best = mixture{gain: g, bare: b, cost: cost}
		}
	}
	for _, b := range [2]float64{0, mostBare} {
		try(((1-b)*p.fz+b*p.bz)/((1-b)*(1-b)*p.ff+2*b*(1-b)*p.fb+b*b*p.bb), b)
	}
	dd := p.ff - 2*p.fb + p.bb // |b - f|²
	for _, g := range gain {
		if dd > 0 && !math.IsInf(g, 0) {
			try(g, ((p.bz-p.fz)/g-p.fb+p.ff)/dd)
		}
	}
	return best
}

// gainRange returns the lower and the upper limit of scale times angle factor in a scan:
// three standard deviations of their priors, or the bounds of the scale without a prior.
func gainRange(params []fit.Param) [2]float64 {
	scale, factor := params[pScale], params[pFactor(0)]
	center := scale.Start * factor.Start
	sd := 0.0
	for _, p := range []fit.Param{scale, factor} {
		switch {
		case p.Fixed:
		case p.Prior.SD == 0:
			return [2]float64{minScale, maxScale}
		default:
			sd = math.Hypot(sd, p.Prior.SD)
		}
	}
	return [2]float64{center - 3*sd, center + 3*sd}
}

// setGain stores the gain in x: in the scale if its prior is at least as wide as that of
// the angle factors, else in the factors. A fixed parameter keeps its value.
func (m *model) setGain(params []fit.Param, x []float64, gain float64) {
	inside := func(p *fit.Param, v float64) float64 { return min(max(v, p.Lower), p.Upper) }
	scale, factor := &params[pScale], &params[pFactor(0)]
	if !scale.Fixed && (factor.Fixed || scale.Prior.SD == 0 || scale.Prior.SD >= factor.Prior.SD) {
		x[pScale] = inside(scale, gain/factor.Start)
		return
	}
	if factor.Fixed {
		return
	}
	for k := range m.angles {
		x[pFactor(k)] = inside(&params[pFactor(k)], gain/scale.Start)
	}
}

// scanTaus returns the optical thicknesses of a scan, from lo to hi, in nm, rising.
func scanTaus(lo, hi float64) []float64 {
	taus := make([]float64, 0, int((hi-lo)/scanStep)+1)
	for tau := lo; tau <= hi; tau += scanStep {
		taus = append(taus, tau)
	}
	return taus
}
