package film_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
	"wane/fit/film"
	"wane/optics"
)

// uneven is a spot whose thickness has the given standard deviation, in nm: a mean of
// many films by the general stack, weighted by a normal distribution.
func (t truth) uneven(tb testing.TB, sd float64, nm []float64, angles []float64, seed uint64) *film.Spot {
	spot := t.spot(tb, nm, angles, seed)
	for k := range spot.Curves {
		c := &spot.Curves[k]
		even, mean := t.reflectance(tb, nm, c.AngleDeg, optics.SodaLime()), t.unevenly(tb, sd, nm, c.AngleDeg)
		c.R = slices.Clone(c.R)
		for i := range c.R {
			c.R[i] += mean[i] - even[i]
		}
	}
	return spot
}

// unevenly is the reflectance without noise.
func (t truth) unevenly(tb testing.TB, sd float64, nm []float64, angle float64) []float64 {
	mean, weights := make([]float64, len(nm)), 0.0
	for z := -3.75; z <= 3.75; z += 0.5 {
		w, at := math.Exp(-z*z/2), t
		at.thickness += sd * z
		weights += w
		for i, r := range at.reflectance(tb, nm, angle, optics.SodaLime()) {
			mean[i] += w * r
		}
	}
	for i := range mean {
		mean[i] /= weights
	}
	return mean
}

// structured says that nothing but the session and the structure of films is off.
func structured(structure film.Structure) *film.Known {
	return &film.Known{Session: usualSession, Structure: structure}
}

// Each structure is found by itself where the film has it, and the rungs below it are worse.
func TestStructures(t *testing.T) {
	ctx, nm := context.Background(), grid(380, 1100, 4)
	tr := truth{118, 0.36, 0.05, 1, 1.458}
	names := []string{film.ModelBare, film.ModelFilm, "film+gradient", "film+skin", "film+variance"}
	fitted := func(t *testing.T, spot *film.Spot) *film.Verdict {
		spot.Structures = true
		v, err := film.Fit(ctx, spot)
		require.NoError(t, err)
		for i, r := range v.Rungs {
			assert.Equal(t, names[i], r.Model)
			assert.Equal(t, r.Model == v.Model, r.Chosen)
			if i > 1 {
				assert.Equal(t, v.Rungs[1].Free+1, r.Free)
			}
		}
		return v
	}
	bare := fitted(t, truth{0, 0.3, 0, 1, 1.458}.spot(t, nm, fourAngles, 4))
	assert.Equal(t, film.ModelBare, bare.Model)
	assert.Len(t, bare.Rungs, 2, "no structure without a film")
	even := fitted(t, tr.spot(t, nm, fourAngles, 4))
	require.Len(t, even.Rungs, 5)
	assert.Greater(t, even.Rungs[1].LikelihoodRatio, 1000.0)
	for _, r := range even.Rungs[2:] {
		assert.Less(t, r.LikelihoodRatio, 11.0, r.Model) // the 0.1 % point of chi-square with one degree of freedom is 10.8
		near(t, r.Size, 0, 4*r.Size.U, r.Model)
	}
	uneven := fitted(t, tr.uneven(t, 20, nm, fourAngles, 4))
	spread := uneven.Rungs[4]
	near(t, spread.Size, 20./118*20/118, 0.005, "variance")
	assert.Greater(t, spread.LikelihoodRatio, 50.0)
	assert.Less(t, spread.AICc, uneven.Rungs[1].AICc)
}

// A spread of 10 % of the thickness, unknown to a uniform film, moves the solar mean of the uniform film by many
// uncertainties, and that of the fit whose structure is free by few.
func TestStructureFreeMeansAreRight(t *testing.T) {
	ctx, nm, tr := context.Background(), grid(380, 1100, 4), truth{118, 0.36, 0.05, 1, 1.458}
	want := 0.0
	for _, r := range tr.unevenly(t, 10, nm, 0) {
		want += r / float64(len(nm))
	}
	off := map[bool]float64{}
	for _, free := range []bool{false, true} {
		spot := tr.uneven(t, 10, nm, fourAngles, 4)
		if free {
			spot.Known = structured(film.DefaultStructure())
		}
		v, err := film.Fit(ctx, spot)
		require.NoError(t, err)
		probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, spot.Glass.Index, spot.Coating)
		require.NoError(t, err)
		mean := v.Mean(probe)
		off[free] = math.Abs(mean.Value-want) / mean.U
	}
	assert.Less(t, off[true], 3.0)
	assert.Greater(t, off[false], off[true])
}

// A film at the detection limit is found in 95 of 100 spots, within three binomial
// standard deviations.
func TestDetectionLimit(t *testing.T) {
	ctx, nm := context.Background(), grid(380, 1100, 4)
	declared := func(tr truth, seed uint64) *film.Spot {
		spot := tr.spot(t, nm, fourAngles, seed)
		for k := range spot.Curves {
			spot.Curves[k].NoiseSD = noise
		}
		return spot
	}
	blank, err := film.Fit(ctx, declared(truth{0, 0.3, 0, 1, 1.458}, 1))
	require.NoError(t, err)
	limit, err := blank.DetectionLimit(ctx)
	require.NoError(t, err)
	assert.Greater(t, limit, 3.0)
	assert.Less(t, limit, 20.0)
	n, found := runs(150), 0
	for seed := range uint64(n) {
		// a film of the index half way between that of porosity 0.9 and that of none
		v, err := film.Fit(ctx, declared(truth{limit, 0.46, 0, 1, 1.458}, seed))
		require.NoError(t, err)
		if v.Model != film.ModelBare {
			found++
		}
	}
	assert.InDelta(t, 0.95, float64(found)/float64(n), 3*math.Sqrt(0.95*0.05/float64(n)), "limit %.1f nm", limit)
}

// Residuals that hang together count for less: with noise that is a running mean of
// five the points are worth about a fifth, and the errors of the thickness stay within
// what is stated.
func TestEffectivePoints(t *testing.T) {
	ctx, nm, tr := context.Background(), grid(380, 1100, 2), truth{118, 0.36, 0.05, 1, 1.458}
	n, square := 60, 0.0
	for seed := range uint64(n) {
		rng := rand.New(rand.NewPCG(seed, 9))
		spot := tr.spot(t, nm, fourAngles, seed)
		spot.Known = sessionOnly(film.Session{UScale: 0.01})
		for k := range spot.Curves {
			c := &spot.Curves[k]
			c.R, c.NoiseSD = tr.reflectance(t, nm, c.AngleDeg, optics.SodaLime()), noise
			white := make([]float64, len(nm)+4)
			for i := range white {
				white[i] = rng.NormFloat64()
			}
			for i := range c.R {
				for _, w := range white[i : i+5] {
					c.R[i] += noise / math.Sqrt(5) * w // of standard deviation noise
				}
			}
		}
		v, err := film.Fit(ctx, spot)
		require.NoError(t, err)
		assert.Contains(t, v.Flags, "correlated")
		// Neighbours of a running mean of five have the correlation 4/5: an
		// autoregressive process of that is worth 1/9 of its points.
		assert.InDelta(t, 1./9, v.EffectivePoints/float64(v.Points), 0.04)
		square += math.Pow((v.ThicknessNM.Value-118)/v.ThicknessNM.U, 2) / float64(n)
	}
	assert.Less(t, math.Sqrt(square), 1.2, "rms of error over u")

	v, err := film.Fit(ctx, tr.spot(t, nm, fourAngles, 3))
	require.NoError(t, err)
	assert.Equal(t, float64(v.Points), v.EffectivePoints, "white noise counts in full")

	// Also where the points are few and quiet: at three standard deviations one in 700.
	few := 0
	for seed := range uint64(100) {
		rng, spot := rand.New(rand.NewPCG(seed, 10)), tr.spot(t, grid(380, 1100, 18), fourAngles, seed)
		for k := range spot.Curves {
			c := &spot.Curves[k]
			c.R, c.NoiseSD = tr.reflectance(t, c.NM, c.AngleDeg, optics.SodaLime()), 0.0001
			for i := range c.R {
				c.R[i] += 0.0001 * rng.NormFloat64()
			}
		}
		v, err := film.Fit(ctx, spot)
		require.NoError(t, err)
		if v.EffectivePoints < float64(v.Points) {
			few++
		}
	}
	assert.LessOrEqual(t, few, 2)
}

// Masked points are as if they had not been measured, spikes are found and excluded,
// and the spot that was given is not changed.
func TestLeftOut(t *testing.T) {
	ctx, nm, tr := context.Background(), grid(380, 1100, 2), truth{118, 0.36, 0.05, 1, 1.458}
	clean, err := film.Fit(ctx, tr.spot(t, nm, fourAngles, 5))
	require.NoError(t, err)

	spoilt := tr.spot(t, nm, fourAngles, 5)
	for k := range spoilt.Curves {
		for i, lambda := range nm {
			if lambda >= 850 && lambda <= 870 {
				spoilt.Curves[k].R[i] += 0.02
			}
		}
	}
	bad, err := film.Fit(ctx, spoilt)
	require.NoError(t, err)
	assert.Contains(t, bad.Flags, "poor-fit")
	before := slices.Clone(spoilt.Curves[0].R)
	spoilt.Masks = []film.Window{{LoNM: 849, HiNM: 871}}
	masked, err := film.Fit(ctx, spoilt)
	require.NoError(t, err)
	assert.Equal(t, 4*len(nm)-4*11, masked.Points)
	assert.Equal(t, 4*11, masked.LeftOut)
	assert.Equal(t, []string{"masked"}, masked.Flags)
	assert.InDelta(t, clean.ThicknessNM.Value, masked.ThicknessNM.Value, clean.ThicknessNM.U)
	assert.Equal(t, before, spoilt.Curves[0].R)

	spiky := tr.spot(t, nm, fourAngles, 5)
	spiky.Curves[0].R[40] += 0.05
	spiky.Curves[0].R[200] -= 0.01
	spiky.Curves[3].R[300] += 0.3
	v, err := film.Fit(ctx, spiky)
	require.NoError(t, err)
	assert.Equal(t, []string{"spikes"}, v.Flags)
	assert.Equal(t, 3, v.LeftOut)
	assert.InDelta(t, clean.ThicknessNM.Value, v.ThicknessNM.Value, 0.2*clean.ThicknessNM.U)
}

// Fringes of a thick film, sampled coarsely, are no spikes.
func TestFringesAreNoSpikes(t *testing.T) {
	for _, thickness := range []float64{800, 2000, 5000} {
		spot := truth{thickness, 0.2, 0, 1, 1.458}.spot(t, grid(380, 1100, 5), []float64{8, 45}, 2)
		v, err := film.Fit(context.Background(), spot)
		require.NoError(t, err)
		assert.NotContains(t, v.Flags, "spikes", "%g nm", thickness)
	}
}

// The order of the fringes of thick films is the right one: thickness within its
// uncertainty, from scans without a start value.
func TestFringeOrder(t *testing.T) {
	for _, thickness := range []float64{400, 900, 1700, 3100, 5000} {
		tr := truth{thickness, 0.25, 0.05, 1, 1.458}
		v, err := film.Fit(context.Background(), tr.spot(t, grid(380, 1100, 1), fourAngles, 7))
		require.NoError(t, err)
		assert.Equal(t, film.ModelFilm, v.Model)
		near(t, v.ThicknessNM, thickness, 0.005*thickness, "thickness")
	}
}

// A robust loss takes points that are far off for what they are: with one in thirty
// off by 20 standard deviations, in runs that no rule of spikes catches, thickness stays
// within its uncertainty where squares are led astray.
func TestRobustLoss(t *testing.T) {
	ctx, nm, tr := context.Background(), grid(380, 1100, 4), truth{118, 0.36, 0.05, 1, 1.458}
	spoilt := func(loss fit.Loss) *film.Spot {
		spot := tr.spot(t, nm, fourAngles, 11)
		spot.Loss = loss
		for k := range spot.Curves {
			for i := 30; i < 36; i++ {
				spot.Curves[k].R[i] += 20 * noise
			}
			spot.Curves[k].NoiseSD = noise
		}
		return spot
	}
	squares, err := film.Fit(ctx, spoilt(fit.Squares))
	require.NoError(t, err)
	assert.Greater(t, math.Abs(squares.ThicknessNM.Value-118), 0.8)
	for _, loss := range []fit.Loss{fit.SoftL1, fit.Huber} {
		v, err := film.Fit(ctx, spoilt(loss))
		require.NoError(t, err)
		assert.True(t, v.Converged)
		near(t, v.ThicknessNM, 118, 1, loss.String())
		near(t, v.Bare, 0.05, 0.02, loss.String())
	}
}

// Replicate scans give the noise: also that part of it which neighbours share and
// second differences do not see.
func TestReplicates(t *testing.T) {
	nm, tr := grid(380, 1100, 2), truth{118, 0.36, 0.05, 1, 1.458}
	spot := tr.spot(t, nm, []float64{8, 60}, 1)
	again := tr.spot(t, nm, []float64{8, 60}, 2)
	spot.Curves = append(spot.Curves, again.Curves...)
	v, err := film.Fit(context.Background(), spot)
	require.NoError(t, err)
	assert.InDelta(t, noise, v.NoiseSD, 0.05*noise)
	rng := rand.New(rand.NewPCG(4, 4))
	for k := range spot.Curves {
		drift := 0.0
		for i := range nm {
			drift = 0.98*drift + 2e-4*rng.NormFloat64() // of standard deviation 1e-3, correlated over 50 points
			spot.Curves[k].R[i] += drift
		}
	}
	v, err = film.Fit(context.Background(), spot)
	require.NoError(t, err)
	assert.Greater(t, v.NoiseSD, 1.5*noise)
	assert.Less(t, v.ReducedChi2, film.PoorFit)
}

// A thousand random starts, all over the bounds, end at one minimum or above it, and the
// fit without a start finds it.
func TestRandomStarts(t *testing.T) {
	ctx := context.Background()
	for _, tr := range []truth{{118, 0.36, 0.05, 1, 1.458}, {60, 0.2, 0.3, 1, 1.458}} {
		spot := tr.spot(t, grid(380, 1100, 8), fourAngles, 3)
		v, err := film.Fit(ctx, spot)
		require.NoError(t, err)
		lower, reached, err := v.RandomStarts(ctx, 1000, 1)
		require.NoError(t, err)
		assert.Zero(t, lower, "starts that end below the fit")
		assert.Greater(t, reached, 300, "starts that end at the fit's minimum")
	}
}

// What two fits share is taken out of a difference as large as it is, also where residuals
// hang together: with AR(1) noise of correlation 0.3, found from the curves themselves,
// differences of an unchanged film scatter as their uncertainty says. Over n lives the
// root mean square of n normal deviates is within 3/√(2n) of 1.
func TestDifferenceUnderCorrelatedNoise(t *testing.T) {
	ctx, nm, tr := context.Background(), grid(380, 1100, 4), truth{118, 0.36, 0.05, 1, 1.458}
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	n, square := runs(80), 0.0
	for life := range uint64(n) {
		var mean [2]film.Estimate
		var errors [2]*film.Errors
		for pull := range uint64(2) {
			rng, spot := rand.New(rand.NewPCG(life, pull)), tr.spot(t, nm, fourAngles, 1)
			spot.Glass.UIndex = 0.002
			for k := range spot.Curves {
				c := &spot.Curves[k]
				c.R = tr.reflectance(t, nm, c.AngleDeg, optics.SodaLime())
				drift := 0.0
				for i := range c.R {
					drift = 0.3*drift + math.Sqrt(1-0.09)*noise*rng.NormFloat64()
					c.R[i] += drift
				}
			}
			v, err := film.Fit(ctx, spot)
			require.NoError(t, err)
			mean[pull] = v.Mean(probe)
			errors[pull], err = v.Errors(film.Measurand{Mean: probe})
			require.NoError(t, err)
		}
		a, b := mean[0], mean[1]
		variance := a.U*a.U + b.U*b.U - 2*sharedBy(errors[0], errors[1], 0, film.OwnerCoating, film.OwnerBatch)
		require.Greater(t, variance, 0.0)
		square += (a.Value - b.Value) * (a.Value - b.Value) / variance / float64(n)
	}
	// Scale, factors and angles are as known in both, not drawn: the differences scatter
	// by the noise alone, which is less than all that their uncertainty holds.
	assert.Less(t, math.Sqrt(square), 1+3/math.Sqrt(2*float64(n)))
	assert.Greater(t, math.Sqrt(square), 0.1)
}
