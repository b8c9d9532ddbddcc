package film

import (
	"context"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"

	"wane/fit"
)

// The scan looks at films of these optical thicknesses (nm), on coarse curves, and
// refines the best of them. The step is below the quarter of a fringe at 300 nm.
// Thick films are looked at only when no thin one fits.
const (
	scanStep   = 15.0
	scanThin   = 400.0
	scanPoints = 40 // per curve
	scanKept   = 3
)

var scanBare = []float64{0, 0.4}

// starts returns the parameter vector to start the full fit from.
func (m *model) start(ctx context.Context, params []fit.Param) ([]float64, error) {
	coarse, err := m.coarse()
	if err != nil {
		return nil, err
	}
	best, chi2, err := coarse.refined(ctx, params, scanStep, scanThin)
	if err != nil || chi2 < PoorFit {
		return best, err
	}
	thick, thickChi2, err := coarse.refined(ctx, params, scanThin+scanStep, maxTau)
	if err != nil || thickChi2 >= chi2 {
		return best, err
	}
	return thick, nil
}

// coarse is the model on at most scanPoints points of each curve, each the mean of
// neighbours and as much less noisy: smooth curves keep nearly all that they tell.
func (m *model) coarse() (*model, error) {
	spot := *m.spot
	spot.Curves = append([]Curve(nil), m.spot.Curves...)
	sigma := make([]float64, len(spot.Curves))
	for k := range spot.Curves {
		c := &spot.Curves[k]
		size := (len(c.NM) + scanPoints - 1) / scanPoints
		sigma[k] = m.curves[k].sigma / math.Sqrt(float64(size))
		c.NM, c.R = means(c.NM, size), means(c.R, size)
	}
	return newModel(&spot, sigma)
}

// means returns the means of size neighbours after the other; what is left over at
// the end is left out.
func means(v []float64, size int) []float64 {
	out := make([]float64, 0, len(v)/size)
	for ; len(v) >= size; v = v[size:] {
		out = append(out, stat.Mean(v[:size], nil))
	}
	return out
}

// refined scans optical thicknesses from lo to hi and returns the best solution
// reached from the most promising ones, with its reduced chi-square.
func (m *model) refined(ctx context.Context, params []fit.Param, lo, hi float64) ([]float64, float64, error) {
	var best []float64
	chi2 := math.Inf(1)
	for _, x := range m.scan(params, lo, hi) {
		s, err := m.solve(ctx, params, x)
		if err != nil {
			return nil, 0, err
		}
		if s.chi2 < chi2 {
			best, chi2 = s.x, s.chi2
		}
	}
	return best, chi2, nil
}

// candidate is the best vector found at one optical thickness.
type candidate struct {
	x    []float64
	cost float64
}

// scan returns up to scanKept vectors: the lowest local minima over optical
// thickness of the cost, with index, bare fraction and angle factors at their
// best of a few values.
func (m *model) scan(params []fit.Param, lo, hi float64) [][]float64 {
	t := trial{m: m, params: params, x: startVector(params), res: make([]float64, m.points),
		xx: make([]float64, len(m.angles)), xy: make([]float64, len(m.angles))}
	indices, bares := scanValues(params[pIndex], 6), m.scanBare(params)
	var line []candidate
	for tau := lo; tau <= hi; tau += scanStep {
		if params[pTau].Fixed {
			tau = params[pTau].Start
		}
		best := candidate{x: make([]float64, len(params)), cost: math.Inf(1)}
		for _, index := range indices {
			for _, bare := range bares {
				t.x[pTau], t.x[pIndex], t.x[pBare] = tau, index, bare
				if cost := t.profileFactors(); cost < best.cost {
					best.cost = cost
					copy(best.x, t.x)
				}
			}
		}
		line = append(line, best)
		if params[pTau].Fixed {
			break
		}
	}
	return lowest(line)
}

func lowest(line []candidate) [][]float64 {
	var minima []candidate
	for i, c := range line {
		if (i == 0 || c.cost <= line[i-1].cost) && (i == len(line)-1 || c.cost < line[i+1].cost) {
			minima = append(minima, c)
		}
	}
	sort.SliceStable(minima, func(i, j int) bool { return minima[i].cost < minima[j].cost })
	var xs [][]float64
	for _, c := range minima[:min(scanKept, len(minima))] {
		xs = append(xs, c.x)
	}
	return xs
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
		predicted := t.res[at] + c.r[i]/c.sigma
		t.xx[c.setting] += predicted * predicted
		t.xy[c.setting] += predicted * c.r[i] / c.sigma
	})
	for k := range t.m.angles {
		p := t.params[pFactor(k)]
		lo, hi := p.Lower, p.Upper
		switch {
		case p.Fixed:
			lo, hi = p.Start, p.Start
		case p.Prior.SD > 0:
			lo, hi = 1-3*p.Prior.SD, 1+3*p.Prior.SD
		}
		t.x[pFactor(k)] = min(max(p.Start*t.xy[k]/t.xx[k], lo), hi)
	}
	cost := 0.0
	t.m.eachPoint(func(c *curve, i, at int) {
		y := c.r[i] / c.sigma
		d := (t.res[at]+y)*t.x[pFactor(c.setting)]/t.params[pFactor(c.setting)].Start - y
		cost += d * d
	})
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
