package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"wane/fit"
)

// A scan of films on compressed curves needs no model: the pseudo-data that each
// film of the scan would give are tabulated once for a grid and angle, and the
// cost of a film follows from its products with the pseudo-data of the curve.

// scanTable holds the films of the scan as one curve sees them, in order of
// optical thickness and index, for one s share.
type scanTable struct {
	share  float64
	taus   []float64 // nm
	film   []float64 // films x M, pseudo-readings times the roots of their weights
	ff, fb []float64 // per film: its square, and its product with bare glass
	bare   []float64 // M
	bb     float64
}

// scanTable returns the table for the share, made when it is first wanted.
func (c *compression) scanTable(setup *Setup, share float64, taus, indices []float64) *scanTable {
	for _, t := range c.scans {
		if t.share == share && slices.Equal(t.taus, taus) {
			return t
		}
	}
	skeleton, _ := setup.Coating.skeleton()
	m := len(c.nm)
	t := &scanTable{share: share, taus: taus, bare: make([]float64, m)}
	mix := func(dst, s, p []float64) {
		for i := range dst {
			dst[i] = c.at.root[i] * (share*s[i] + (1-share)*p[i])
		}
	}
	for _, tau := range taus {
		for _, index := range indices {
			c.see(&geometry{d: tau / index, index: index, skeleton: skeleton}, 0, 0)
			if len(t.film) == 0 {
				mix(t.bare, c.bareS.R, c.bareP.R)
				t.bb = floats.Dot(t.bare, t.bare)
			}
			film := make([]float64, m)
			mix(film, c.s.R, c.p.R)
			t.film = append(t.film, film...)
			t.ff = append(t.ff, floats.Dot(film, film))
			t.fb = append(t.fb, floats.Dot(film, t.bare))
		}
	}
	c.scans = append(c.scans, t)
	return t
}

// tabulated reports whether the scan can be read from tables: compressed curves of
// smooth glass, and nothing pinned but the scale.
func (m *model) tabulated(params []fit.Param) bool {
	for k := range m.curves {
		if c := &m.curves[k]; c.c == nil || c.rough != nil {
			return false
		}
	}
	return !params[pTau].Fixed && !params[pIndex].Fixed && !params[pBare].Fixed
}

// quickScan is like scan, from the tables.
func (m *model) quickScan(params []fit.Param, lo, hi float64) [][]float64 {
	taus, indices := scanTaus(lo, hi), scanValues(params[pIndex], scanIndices)
	tables, bz, weighted := make([]*scanTable, len(m.curves)), make([]float64, len(m.curves)), make([][]float64, len(m.curves))
	for k := range m.curves {
		c := &m.curves[k]
		tables[k] = c.c.scanTable(&m.spot.Setup, c.share, taus, indices)
		weighted[k] = floats.MulTo(make([]float64, len(c.r)), c.c.at.root, c.r)
		bz[k] = floats.Dot(tables[k].bare, weighted[k])
	}
	t := trial{m: m, params: params, x: startVector(params), xx: make([]float64, len(m.angles)), xy: make([]float64, len(m.angles))}
	fz := make([]float64, len(m.curves))
	var line []candidate
	for i, tau := range taus {
		best, at := math.Inf(1), [2]float64{}
		for j, index := range indices {
			film := i*len(indices) + j
			for k := range m.curves {
				n := len(m.curves[k].nm)
				fz[k] = floats.Dot(tables[k].film[film*n:(film+1)*n], weighted[k])
			}
			for _, bare := range scanBare {
				clear(t.xx)
				clear(t.xy)
				for k := range m.curves {
					c, s := &m.curves[k], tables[k]
					w := params[pScale].Start / (c.sigma * c.sigma)
					t.xx[c.setting] += w * params[pScale].Start * ((1-bare)*(1-bare)*s.ff[film] + 2*bare*(1-bare)*s.fb[film] + bare*bare*s.bb)
					t.xy[c.setting] += w * ((1-bare)*fz[k] + bare*bz[k])
				}
				if cost := t.setFactors(); cost < best {
					best, at = cost, [2]float64{index, bare}
				}
			}
		}
		x := append([]float64(nil), t.x...)
		x[pTau], x[pIndex], x[pBare] = tau, at[0], at[1]
		line = append(line, candidate{x, best})
	}
	for k := range m.curves { // costs are without what is the same for all
		c := &m.curves[k]
		for i := range line {
			line[i].cost += floats.Dot(weighted[k], weighted[k]) / (c.sigma * c.sigma)
		}
	}
	return lowest(line)
}

// scanTaus returns the optical thicknesses of a scan, nm.
func scanTaus(lo, hi float64) []float64 {
	var taus []float64
	for tau := lo; tau <= hi; tau += scanStep {
		taus = append(taus, tau)
	}
	return taus
}
