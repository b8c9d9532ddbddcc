package film

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"wane/fit"
)

// Bootstrap says how the fit of a spot is repeated on simulated curves: the best fit
// plus other errors. The means of priors are drawn too.
type Bootstrap struct {
	Replicates int // 0 means 1000

	// Parametric draws normal errors with the standard deviation of the inflated noise.
	// Otherwise the errors are runs of residuals of the best fit. The length of the runs
	// follows from the correlation of neighbouring residuals.
	Parametric bool

	Level   float64 // of the intervals, above 0 and below 1; 0 means 0.95
	Seed    uint64  // the same seed gives the same replicates
	Workers int     // number of concurrent fits; 0 means one per processor; results do not depend on it
}

// Scatter describes the values of a quantity over the replicates, in the unit of the
// quantity: their standard deviation, and the interval that holds the share Level of them
// with equal shares below and above. All three are NaN for a quantity that is pinned or
// not in the model.
type Scatter struct{ SD, Lower, Upper float64 }

// Bootstrapped is the result of a bootstrap.
type Bootstrapped struct {
	Quantities []Scatter // in the order of [Quantities]
	Means      []Scatter // one for each probe, in their order
	Converged  int       // number of replicates that have converged; only these count
	Block      int       // length of the runs of residuals, in points; 0 if Parametric
}

// Bootstrap repeats the fit from the best one, with errors at all points: that of the equivalent uniform film for its
// parameters, that whose structure is free for the others. Bare glass and film are not chosen between again.
//
// Runs of residuals are drawn from one series of all curves, in units of the noise of
// each curve. About one run in a hundred joins the end of a curve to the beginning of
// the next. The source is that of [fit.Bootstrap].
//
// A fit with a robust loss, a level outside its range and a negative number give an
// [*InputError]. Fewer than two replicates that have converged give an error. If ctx is
// done, the error wraps ctx.Err().
func (v *Verdict) Bootstrap(ctx context.Context, b *Bootstrap, probes ...*Probe) (*Bootstrapped, error) {
	level, err := levelOf(b.Level)
	switch {
	case err != nil:
		return nil, err
	case v.model.spot.Loss != fit.Squares:
		return nil, robustError("the scatter of repeated fits")
	case !v.Converged:
		return nil, &InputError{"bootstrap", "the fit has not converged, so that repeated fits say nothing",
			"look at the flags of the fit first: check glass, far face, units and quantities of the curves"}
	case b.Replicates < 0 || b.Workers < 0:
		return nil, &InputError{"bootstrap", fmt.Sprintf("%d replicates by %d workers cannot be made", b.Replicates,
			b.Workers), "give positive numbers, or 0"}
	}
	out := &Bootstrapped{}
	uniform, err := v.repeat(ctx, b, v.model, v.chosen)
	if err != nil {
		return nil, err
	}
	physical := uniform
	if m, s := v.physical(); s != v.chosen {
		if physical, err = v.repeat(ctx, b, m, s); err != nil {
			return nil, err
		}
	}
	out.Block, out.Converged = physical.block, min(uniform.converged, physical.converged)
	of := func(q quantity) Scatter {
		if q.s == v.chosen {
			return v.scatter(q.on(uniform.m, q.s), uniform, level)
		}
		return v.scatter(q.on(physical.m, q.s), physical, level)
	}
	for _, name := range Quantities() {
		q, err := v.quantity(name)
		if err != nil {
			return nil, err
		}
		out.Quantities = append(out.Quantities, of(q))
	}
	for _, p := range probes {
		out.Means = append(out.Means, of(v.meanOf(p)))
	}
	return out, nil
}

// repeated are the replicates of one solution.
type repeated struct {
	*fit.Replicates
	m                *model // on all points
	converged, block int
}

// repeat repeats the fit of a solution.
func (v *Verdict) repeat(ctx context.Context, b *Bootstrap, m *model, s *solution) (*repeated, error) {
	out := &repeated{}
	run := fit.Bootstrap{Replicates: b.Replicates, Seed: b.Seed, Workers: b.Workers, Settings: &fitSettings}
	if run.Replicates == 0 {
		run.Replicates = 1000
	}
	if b.Parametric {
		run.Noise = math.Sqrt(s.inflation())
	} else {
		out.block = v.blockLength(s)
		run.Block = out.block
	}
	if m.level() >= 0 {
		run.Shifted = func() (*fit.Problem, func([]float64), error) { return m.shifted(s) }
	}
	all, err := run.Run(ctx, func() (*fit.Problem, error) {
		last, err := m.onAllPoints()
		if err != nil {
			return nil, err
		}
		out.m = last
		return last.problemAt(s), nil
	}, s.result)
	if err != nil {
		return nil, err
	}
	out.Replicates = all
	for _, c := range all.Converged {
		if c {
			out.converged++
		}
	}
	if out.converged < 2 {
		return nil, fmt.Errorf("could not repeat the fit: %d of %d replicates have converged", out.converged, run.Replicates)
	}
	return out, nil
}

// shifted returns the problem of s on curves that are compressed anew, and what sets their readings to those less what is
// taken from the residuals of all points.
func (m *model) shifted(s *solution) (*fit.Problem, func(taken []float64), error) {
	spot := *m.spot
	spot.Curves = slices.Clone(spot.Curves)
	for k := range spot.Curves {
		spot.Curves[k].R = slices.Clone(spot.Curves[k].R)
	}
	short, err := NewFitter(spot.Setup).packedModel(&spot, m.sigma(), m.level())
	if err != nil {
		return nil, nil, err
	}
	short.structured, short.structure = m.structured, m.structure
	params := append([]fit.Param(nil), s.params...)
	for i := range params {
		params[i].Start = s.x[i]
	}
	short.setFreeParams(params)
	shift := func(taken []float64) {
		short.constantCost = 0
		for k := range short.curves {
			c := &short.curves[k]
			for i, r := range m.curves[k].readings {
				c.readings[i] = r + c.sigma*taken[i]
			}
			taken = taken[len(c.readings):]
			c.unpackedSquares = c.packed.at.pack(c.r, c.readings)
			short.constantCost += c.unpackedSquares / (c.sigma * c.sigma)
		}
	}
	return &fit.Problem{Params: params, Points: short.points, Normal: short.fillNormalEquations}, shift, nil
}

// blockLength returns the length of the runs of residuals of s, in points,
//
//	(6·ρ²/(1-ρ²)² · n)^⅓
//
// rounded up, for n points whose neighbours have the correlation ρ. It is at least 1 and
// at most the length of the shortest curve.
//
// Source: D. N. Politis, H. White, Econometric Reviews 23, 53-70 (2004), for circular
// blocks, evaluated for an autoregressive process of first order; from memory.
func (v *Verdict) blockLength(s *solution) int {
	shortest := v.model.points
	for i := range v.model.spot.Curves {
		shortest = min(shortest, len(v.model.spot.Curves[i].NM))
	}
	rho := s.correlation()
	length := math.Cbrt(6 * rho * rho / ((1 - rho*rho) * (1 - rho*rho)) * float64(v.model.points))
	return min(max(int(math.Ceil(length)), 1), shortest)
}

// correlation returns the correlation ρ of neighbouring residuals. With the effective
// share e of the points it is
//
//	(1 - e) / (1 + e)
func (s *solution) correlation() float64 { return (1 - s.effectiveShare) / (1 + s.effectiveShare) }

// scatter returns that of q over the replicates that have converged.
func (v *Verdict) scatter(q quantity, all *repeated, level float64) Scatter {
	if !q.hasFreeParameter() || v.Model == ModelBare && q.name != Scale && q.name != "mean" {
		return Scatter{math.NaN(), math.NaN(), math.NaN()}
	}
	values := make([]float64, 0, len(all.Converged))
	for i, converged := range all.Converged {
		if converged {
			values = append(values, q.of(mat.Row(nil, i, all.X)).value)
		}
	}
	slices.Sort(values)
	at := func(p float64) float64 { return stat.Quantile(p, stat.LinInterp, values, nil) }
	return Scatter{stat.StdDev(values, nil), at((1 - level) / 2), at((1 + level) / 2)}
}
