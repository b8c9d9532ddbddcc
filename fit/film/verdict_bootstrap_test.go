package film_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/fit"
	"wane/fit/film"
	"wane/optics"
)

// For a spot that is well determined the scatter of repeated fits is the linear
// uncertainty, and 95 % intervals reach 1.96 of it to either side. Of 1,000 replicates
// the standard deviation is good to 1/√2000 = 2.2 %, an end to the 2.7 standard errors
// of a 2.5 % quantile over √1000, 0.085 u (both for normal scatter, from memory).
func TestBootstrapAgainstLinearUncertainties(t *testing.T) {
	nm := grid(380, 1100, 8)
	var v *film.Verdict
	// Residuals scatter as they happen to; here so that their noise is the declared one.
	for seed := uint64(1); v == nil || math.Abs(v.ReducedChi2-1) > 0.01; seed++ {
		v = fitted(t, declared(truth{118, 0.36, 0.15, 1, 1.458}.spot(t, nm, fourAngles, seed)))
	}
	require.Equal(t, float64(v.Points), v.EffectivePoints)
	probe, oblique := flatProbe(t, nm), obliqueProbe(t, nm)
	for _, parametric := range []bool{true, false} {
		b, err := v.Bootstrap(context.Background(), &film.Bootstrap{Parametric: parametric, Seed: 7}, probe, oblique)
		require.NoError(t, err)
		assert.Equal(t, 1000, b.Converged)
		if parametric {
			assert.Zero(t, b.Block)
		} else {
			assert.Equal(t, 1, b.Block, "nothing hangs together")
		}
		require.Len(t, b.Quantities, len(film.Quantities()))
		check := func(name string, e film.Estimate, s film.Scatter) {
			t.Logf("%-18s u %.3g: SD %.3f, down %.3f, up %.3f", name, e.U, s.SD/e.U, (e.Value-s.Lower)/e.U,
				(s.Upper-e.Value)/e.U)
			assert.InDelta(t, 1, s.SD/e.U, 3*0.022, name) // three Monte Carlo errors
			assert.InDelta(t, 2*normal95, (s.Upper-s.Lower)/e.U, 3*0.085*math.Sqrt2, name)
		}
		for k, name := range film.Quantities() {
			check(name, estimateOf(t, v, name), b.Quantities[k])
		}
		check("mean", v.Mean(probe), b.Means[0])
		check("mean over angles", v.Mean(oblique), b.Means[1])
	}
}

// obliqueProbe is that of a third of the light at 0, 60 and 75 degrees each.
func obliqueProbe(t *testing.T, nm []float64) *film.Probe {
	var parts []*film.Probe
	for _, angle := range []float64{0, 60, 75} {
		w := flat(len(nm))
		floats.Scale(1.0/3, w)
		p, err := film.NewProbe(nm, w, angle, optics.U, optics.SodaLime(), film.Coating{})
		require.NoError(t, err)
		parts = append(parts, p)
	}
	return film.SumOf(parts)
}

func TestBootstrapDoesNotDependOnTheWorkers(t *testing.T) {
	v := fitted(t, truth{118, 0.36, 0.05, 1, 1.458}.spot(t, grid(380, 1100, 8), fourAngles, 1))
	run := func(workers int, seed uint64) *film.Bootstrapped {
		b, err := v.Bootstrap(context.Background(), &film.Bootstrap{Replicates: 30, Workers: workers, Seed: seed})
		require.NoError(t, err)
		return b
	}
	one, three, other := run(1, 1), run(3, 1), run(3, 2)
	for k, name := range film.Quantities() {
		assert.Equal(t, one.Quantities[k], three.Quantities[k], name)
		assert.NotEqual(t, one.Quantities[k], other.Quantities[k], name)
	}
}

// Noise that hangs together, an autoregressive process of first order, makes runs
// longer than one, and the scatter larger than that of independent noise of the same
// size: by the root of (1+ρ)/(1-ρ) at most (see solve_effective.go), which is what the linear
// uncertainty takes.
func TestBootstrapOfCorrelatedNoise(t *testing.T) {
	const rho = 0.6
	rng := rand.New(rand.NewPCG(3, 4))
	nm := grid(380, 1100, 4)
	spot := declared(truth{118, 0.36, 0.15, 1, 1.458}.spot(t, nm, fourAngles, 1))
	spot.Known, spot.Coating = sessionOnly(film.Session{}), film.Coating{Skeleton: 1.458}
	for k := range spot.Curves {
		r := truth{118, 0.36, 0.15, 1, 1.458}.reflectance(t, nm, fourAngles[k], spot.Glass.Index)
		e := rng.NormFloat64()
		for i := range r {
			e = rho*e + math.Sqrt(1-rho*rho)*rng.NormFloat64()
			r[i] += noise * e
		}
		spot.Curves[k].R = r
	}
	v := fitted(t, spot)
	require.Less(t, v.EffectivePoints, 0.4*float64(v.Points))
	at := slices.Index(film.Quantities(), film.Thickness)
	run := func(b film.Bootstrap) *film.Bootstrapped {
		b.Replicates, b.Seed = 400, 5
		out, err := v.Bootstrap(context.Background(), &b)
		require.NoError(t, err)
		return out
	}
	blocks, normal := run(film.Bootstrap{}), run(film.Bootstrap{Parametric: true})
	single := v.ThicknessNM.U * math.Sqrt(v.EffectivePoints/float64(v.Points)) // were the points independent
	t.Logf("blocks of %d: SD %.4f nm; normal %.4f; linear u %.4f, of independent points %.4f", blocks.Block,
		blocks.Quantities[at].SD, normal.Quantities[at].SD, v.ThicknessNM.U, single)
	assert.Greater(t, blocks.Block, 5)
	assert.Greater(t, blocks.Quantities[at].SD, 1.4*single)
	assert.Less(t, blocks.Quantities[at].SD, 1.1*v.ThicknessNM.U)
	// of 400 replicates an SD is good to 3.5 %
	assert.InDelta(t, 1, normal.Quantities[at].SD/v.ThicknessNM.U, 0.105)
}

func TestBootstrapOfWhatHasNone(t *testing.T) {
	spot := declared(truth{0, 0, 0, 1, 1.458}.spot(t, grid(380, 1100, 8), fourAngles, 1))
	v := fitted(t, spot)
	require.Equal(t, film.ModelBare, v.Model)
	b, err := v.Bootstrap(context.Background(), &film.Bootstrap{Replicates: 50})
	require.NoError(t, err)
	for k, name := range film.Quantities() {
		assert.Equal(t, name != film.Scale, math.IsNaN(b.Quantities[k].SD), name)
	}
	var in *film.InputError
	for _, bad := range []film.Bootstrap{{Replicates: -1}, {Workers: -1}, {Level: 2}} {
		_, err := v.Bootstrap(context.Background(), &bad)
		assert.ErrorAs(t, err, &in)
	}
	robust := *spot
	robust.Loss = fit.Huber
	_, err = fitted(t, &robust).Bootstrap(context.Background(), &film.Bootstrap{})
	assert.ErrorAs(t, err, &in)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = v.Bootstrap(ctx, &film.Bootstrap{})
	assert.ErrorIs(t, err, context.Canceled)
}
