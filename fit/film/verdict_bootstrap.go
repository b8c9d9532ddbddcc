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

// Bootstrap says how the fit of a spot is repeated on curves that might as well have
// been measured: the best fit with other errors, and with other values of what is
// known beforehand.
type Bootstrap struct {
	Replicates int // 0 means 1000

	// Parametric draws normal errors, as large as the inflated noise says. Otherwise
	// they are runs of the residuals of the best fit, as long as their correlation asks
	// for.
	Parametric bool

	Level   float64 // of the intervals; 0 means 0.95
	Seed    uint64  // the same seed gives the same replicates
	Workers int     // fits at once, which change nothing; 0: one a processor
}

// Scatter is how a quantity scatters over replicates: its standard deviation and, with
// equal shares below and above, the range of level. All are NaN for what is pinned or
// not in the model.
type Scatter struct{ SD, Lower, Upper float64 }

// Bootstrapped is the outcome of a bootstrap.
type Bootstrapped struct {
	Quantities []Scatter // in the order of [Quantities]
	Means      []Scatter // of the probes
	Converged  int       // replicates that have; the others are left out
	Block      int       // length of the runs of residuals; 0 of a parametric one
}

// Bootstrap repeats the fit of the structure that the uncertainties come from, from the
// best fit, on all points. The structure is not chosen again.
//
// Runs of residuals are drawn from all curves as one series, so that one in some
// hundred joins the end of a curve to the beginning of the next; residuals are in units
// of each curve's noise. The source is that of [fit.Bootstrap].
//
// There is none of a fit with a robust loss: the error is an [*InputError]. If ctx is
// done the error wraps ctx's.
func (v *Verdict) Bootstrap(ctx context.Context, b *Bootstrap, probes ...*Probe) (*Bootstrapped, error) {
	level, err := levelOf(b.Level)
	switch {
	case err != nil:
		return nil, err
	case v.model.spot.Loss != fit.Squares:
		return nil, robustError("the scatter of repeated fits")
	case b.Replicates < 0 || b.Workers < 0:
		return nil, &InputError{"bootstrap", fmt.Sprintf("%d replicates by %d workers cannot be made", b.Replicates,
			b.Workers), "give positive numbers, or 0"}
	}
	s, out := v.widest, &Bootstrapped{}
	run := fit.Bootstrap{Replicates: b.Replicates, Seed: b.Seed, Workers: b.Workers, Settings: &fitSettings}
	if run.Replicates == 0 {
		run.Replicates = 1000
	}
	if b.Parametric {
		run.Noise = math.Sqrt(s.inflation())
	} else {
		out.Block = v.blockLength(s)
		run.Block = out.Block
	}
	var last *Verdict
	all, err := run.Run(ctx, func() (*fit.Problem, error) {
		if last, err = v.onAllPoints(s); err != nil {
			return nil, err
		}
		return last.problemAt(s), nil
	}, s.result)
	if err != nil {
		return nil, err
	}
	for _, c := range all.Converged {
		if c {
			out.Converged++
		}
	}
	if out.Converged < 2 {
		return nil, fmt.Errorf("could not repeat the fit: %d of %d replicates have converged", out.Converged, run.Replicates)
	}
	for _, name := range Quantities() {
		q, err := last.quantity(name)
		if err != nil {
			return nil, err
		}
		out.Quantities = append(out.Quantities, v.scatter(&q, all, level))
	}
	for _, p := range probes {
		q := last.meanOf(p)
		out.Means = append(out.Means, v.scatter(&q, all, level))
	}
	return out, nil
}

// blockLength returns the length of the runs of residuals of s,
//
//	(6ρ²/(1-ρ²)²·n)^⅓
//
// for n points whose neighbours have the correlation ρ, at most the length of the
// shortest curve; 1 where nothing hangs together.
//
// Source: D. N. Politis, H. White, Econometric Reviews 23, 53-70 (2004), for circular
// blocks, worked out for an autoregressive process of first order; from memory.
func (v *Verdict) blockLength(s *solution) int {
	shortest := v.model.points
	for i := range v.model.spot.Curves {
		shortest = min(shortest, len(v.model.spot.Curves[i].NM))
	}
	rho := s.correlation()
	length := math.Cbrt(6 * rho * rho / ((1 - rho*rho) * (1 - rho*rho)) * float64(v.model.points))
	return min(max(int(math.Ceil(length)), 1), shortest)
}

// correlation returns that of neighbouring residuals, which the effective share of the
// points comes from.
func (s *solution) correlation() float64 { return (1 - s.effectiveShare) / (1 + s.effectiveShare) }

// scatter returns that of q over the replicates that have converged.
func (v *Verdict) scatter(q *quantity, all *fit.Replicates, level float64) Scatter {
	if !q.hasFreeParameter(v.widest) || v.Model == ModelBare && q.name != Scale && q.name != "mean" ||
		v.Model != ModelSpread && q.name == Spread {
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
