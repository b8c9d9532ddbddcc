package film

import (
	"context"
	"math"
	"sort"

	"wane/fit"
)

// A scan computes the cost of films over a range of optical thickness on the coarse
// curves, and the solver refines the best of them. The step is below a quarter of a
// fringe at 300 nm. Films above scanThin are scanned only if no thinner film fits and
// the model is valid for them.
const (
	scanStep    = 20.0  // of the optical thickness, nm
	scanThin    = 400.0 // largest optical thickness of the first scan, nm
	scanIndices = 5     // values of the index, over its range
	scanKept    = 3     // largest number of minima that are refined
	scanWorse   = 4.0   // a minimum with more than this times the least cost is not refined
)

var scanBare = []float64{0, 0.4} // bare fractions of a scan

// start returns the best solution on the coarse curves.
func (m *model) start(ctx context.Context, params []fit.Param) (*solution, error) {
	best, err := m.coarse.refined(ctx, params, scanStep, scanThin)
	if err != nil || best.chi2 < PoorFit || m.maxTau < maxTau {
		return best, err
	}
	thick, err := m.coarse.refined(ctx, params, scanThin+scanStep, maxTau)
	if err != nil || thick.chi2 >= best.chi2 {
		return best, err
	}
	return thick, nil
}

// refined scans optical thicknesses from lo to hi, in nm, solves from the minima of the
// scan, and returns the solution of least cost.
func (m *model) refined(ctx context.Context, params []fit.Param, lo, hi float64) (*solution, error) {
	scan := m.scan
	if m.canTabulate(params) {
		scan = m.tableScan
	}
	var best *solution
	for _, x := range scan(params, lo, hi) {
		s, err := m.solve(ctx, params, x)
		if err != nil {
			return nil, err
		}
		if best == nil || s.cost < best.cost {
			best = s
		}
	}
	if best == nil { // no cost was a number
		return nil, &InputError{"spot", "no film gives curves that can be compared with these",
			"check the values and units of the curves and of the glass"}
	}
	return best, nil
}

// candidate is the least cost at one optical thickness.
type candidate struct {
	at   int // position among the optical thicknesses
	cost float64
}

// scan returns up to scanKept vectors of parameters: the lowest local minima of the cost
// over optical thickness. At each optical thickness, index and bare fraction are the best
// of a few values and the angle factors are fitted.
func (m *model) scan(params []fit.Param, lo, hi float64) [][]float64 {
	t := trial{m: m, params: params, x: startVector(params), res: make([]float64, m.rows),
		xx: make([]float64, len(m.angles)), xy: make([]float64, len(m.angles))}
	if m.through && m.reflects {
		short := *m
		short.through, t.m = false, &short // reflectance knows the film better, and takes less time
	}
	indices, bares := scanValues(params[pIndex], scanIndices), m.scanBare(params)
	var line []candidate
	var found [][]float64
	for tau := lo; tau <= hi; tau += scanStep {
		if params[pTau].Fixed {
			tau = params[pTau].Start
		}
		best, x := candidate{at: len(line), cost: math.Inf(1)}, make([]float64, len(params))
		for _, index := range indices {
			for _, bare := range bares {
				t.x[pTau], t.x[pIndex], t.x[pBare] = tau, index, bare
				if cost := t.profileFactors(); cost < best.cost {
					best.cost = cost
					copy(x, t.x)
				}
			}
		}
		line, found = append(line, best), append(found, x)
		if params[pTau].Fixed {
			break
		}
	}
	var xs [][]float64
	for _, c := range lowest(line) {
		xs = append(xs, found[c.at])
	}
	return xs
}

// lowest returns the lowest local minima along line, in rising order of cost: at most
// scanKept, each with at most scanWorse times the least cost. The lowest is always among
// them, also where rounding makes the cost of a perfect fit negative.
func lowest(line []candidate) []candidate {
	var minima []candidate
	for i, c := range line {
		if (i == 0 || c.cost <= line[i-1].cost) && (i == len(line)-1 || c.cost < line[i+1].cost) {
			minima = append(minima, c)
		}
	}
	sort.SliceStable(minima, func(i, j int) bool { return minima[i].cost < minima[j].cost })
	kept := minima[:0]
	for k, c := range minima[:min(scanKept, len(minima))] {
		if k == 0 || c.cost <= scanWorse*minima[0].cost {
			kept = append(kept, c)
		}
	}
	return kept
}

// scanValues returns the centres of n equal parts of the range between the bounds of p,
// or only its start if p is fixed.
func scanValues(p fit.Param, n int) []float64 {
	if p.Fixed {
		return []float64{p.Start}
	}
	v := make([]float64, n)
	for i := range v {
		v[i] = p.Lower + (p.Upper-p.Lower)*(float64(i)+0.5)/float64(n)
	}
	return v
}

// scanBare returns the bare fractions of a scan.
func (m *model) scanBare(params []fit.Param) []float64 {
	if params[pBare].Fixed {
		return []float64{params[pBare].Start}
	}
	return scanBare
}

// startVector returns the starts of params.
func startVector(params []fit.Param) []float64 {
	x := make([]float64, len(params))
	for i, p := range params {
		x[i] = p.Start
	}
	return x
}

// trial is one vector of the scan, with scratch memory for its cost.
type trial struct {
	m      *model
	params []fit.Param
	x, res []float64
	xx, xy []float64 // per angle setting: Σ predicted² and Σ predicted·measured
}

// profileFactors sets each angle factor in x to its best value within the range of its
// prior and returns the sum of squares there.
func (t *trial) profileFactors() float64 {
	for k := range t.m.angles {
		t.x[pFactor(k)] = t.params[pFactor(k)].Start
	}
	t.m.residuals(t.res, t.x)
	clear(t.xx)
	clear(t.xy)
	t.m.eachPoint(func(c *curve, i, at int) {
		measured := c.weightRoot[i] * c.r[i]
		predicted := t.res[at] + measured
		t.xx[c.setting] += predicted * predicted
		t.xy[c.setting] += predicted * measured
	})
	yy := 0.0
	t.m.eachPoint(func(c *curve, i, at int) { yy += c.weightRoot[i] * c.r[i] * c.weightRoot[i] * c.r[i] })
	return yy + t.setFactors()
}

// setFactors sets each angle factor in x to its best value within three standard
// deviations of its prior, from the sums in xx and xy. With gain the factor over its
// start, it returns the sum of squares less Σ measured²,
//
//	Σ gain·(gain·xx - 2·xy)        over the angle settings
func (t *trial) setFactors() float64 {
	cost := 0.0
	for k := range t.m.angles {
		p := t.params[pFactor(k)]
		lo, hi := p.Lower, p.Upper
		switch {
		case t.m.throughs[k]: // whose level is not that of the film alone
			lo, hi = minScale, maxScale
		case p.Fixed:
			lo, hi = p.Start, p.Start
		case p.Prior.SD > 0:
			lo, hi = 1-3*p.Prior.SD, 1+3*p.Prior.SD
		}
		gain := min(max(p.Start*t.xy[k]/t.xx[k], lo), hi) / p.Start
		if !t.m.throughs[k] {
			t.x[pFactor(k)] = gain * p.Start
		}
		cost += gain * (gain*t.xx[k] - 2*t.xy[k])
	}
	return cost
}

// eachPoint calls do for every point i of every curve c; at is its position in the
// residuals.
func (m *model) eachPoint(do func(c *curve, i, at int)) {
	at := 0
	for k := range m.curves {
		c := &m.curves[k]
		for i := range c.nm {
			do(c, i, at)
			at++
		}
	}
}
