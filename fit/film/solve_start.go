package film

import (
	"context"
	"math"
	"sort"

	"wane/fit"
)

// The scan looks at films of these optical thicknesses (nm), on coarse curves, and
// refines the best of them. The step is below the quarter of a fringe at 300 nm.
// Thick films are looked at only when no thin one fits, and the model holds for
// them.
const (
	scanStep    = 20.0
	scanThin    = 400.0
	scanIndices = 5   // over the range of the index
	scanKept    = 3   // minima refined at most
	scanWorse   = 4.0 // a minimum this many times as costly as the lowest is not refined
)

var scanBare = []float64{0, 0.4}

// start returns the best solution found on the coarse curves.
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

// refined scans optical thicknesses from lo to hi and returns the best solution
// reached from the most promising ones.
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

// candidate is the best found at one optical thickness.
type candidate struct {
	at   int // position among the optical thicknesses
	cost float64
}

// scan returns up to scanKept vectors: the lowest local minima over optical
// thickness of the cost, with index, bare fraction and angle factors at their
// best of a few values.
func (m *model) scan(params []fit.Param, lo, hi float64) [][]float64 {
	t := trial{m: m, params: params, x: startVector(params), res: make([]float64, m.rows),
		xx: make([]float64, len(m.angles)), xy: make([]float64, len(m.angles))}
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

// lowest returns the lowest local minima along line: the lowest of
// all, and up to scanKept with those that come near it. Costs of a perfect fit may
// round to below 0.
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

// scanValues returns n values spread inside the bounds of p, or its start if it
// is fixed.
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

func (m *model) scanBare(params []fit.Param) []float64 {
	if params[pBare].Fixed {
		return []float64{params[pBare].Start}
	}
	return scanBare
}

func startVector(params []fit.Param) []float64 {
	x := make([]float64, len(params))
	for i, p := range params {
		x[i] = p.Start
	}
	return x
}

// trial is one vector of the scan and what its cost is reckoned in.
type trial struct {
	m      *model
	params []fit.Param
	x, res []float64
	xx, xy []float64 // per angle setting: sums of predicted squared and predicted times measured
}

// profileFactors sets each angle's factor in x to the best value near its prior
// and returns the sum of squares there.
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

// setFactors sets each angle's factor in x to the best value near its prior, from
// the sums in xx and xy, and returns the sum of squares less that of the data.
func (t *trial) setFactors() float64 {
	cost := 0.0
	for k := range t.m.angles {
		p := t.params[pFactor(k)]
		lo, hi := p.Lower, p.Upper
		switch {
		case p.Fixed:
			lo, hi = p.Start, p.Start
		case p.Prior.SD > 0:
			lo, hi = 1-3*p.Prior.SD, 1+3*p.Prior.SD
		}
		gain := min(max(p.Start*t.xy[k]/t.xx[k], lo), hi) / p.Start
		t.x[pFactor(k)] = gain * p.Start
		cost += gain * (gain*t.xx[k] - 2*t.xy[k])
	}
	return cost
}

// eachPoint calls do for every point, with its position in the residuals.
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
