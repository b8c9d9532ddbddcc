package film

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
	"wane/optics"
)

// Residuals of 1 and -1 that change their sign c times in 100 have the correlation
// 1 - 4c/(2·100): 0.28 with 36 changes, which three standard deviations of 1/√100 do not
// tell from 0, and 0.32 with 34, which counts and leaves (1 - 0.32)/(1 + 0.32) of the points.
func TestCorrelationThatCounts(t *testing.T) {
	for changes, want := range map[int]float64{36: 1, 34: 0.68 / 1.32, 10: 0.2 / 1.8, 99: 1} {
		residuals := make([]float64, 100)
		for i := range residuals {
			residuals[i] = 1
			if i > 0 {
				residuals[i] = residuals[i-1]
			}
			if i > 0 && i <= changes {
				residuals[i] *= -1
			}
		}
		m := &model{points: 100, curves: []curve{{r: make([]float64, 100), fitted: residuals, sigma: 1}}}
		assert.InDelta(t, want, m.effectiveShare(), 1e-12, "%d changes", changes)
	}
}

// Whether residuals hang together is first asked of compressed curves without going back
// to their points, and then of the points: the answer is that of the points, here of what
// Curves returns, for correlations about the limit of three standard deviations, on dense
// quiet grids and on few points.
func TestCorrelationIsThatOfThePoints(t *testing.T) {
	for _, c := range []struct {
		step, noise, ar float64
	}{{2, 0.0002, 0.085}, {18, 0.0001, 0.3}} {
		counts := 0
		for seed := range uint64(60) {
			rng, spot := rand.New(rand.NewPCG(seed, 30)), noisySpot(t, Glass{Index: optics.SodaLime()}, 150, 0.1, seed)
			m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1, 1, 1, 1})
			require.NoError(t, err)
			x := startVector(m.params(0))
			x[pTau], x[pIndex], x[pBare] = 150, 1.29, 0.1
			clean := make([]float64, m.rows)
			m.residuals(clean, x)
			var nm []float64
			readings := make([][]float64, 4)
			drift := 0.0
			m.eachPoint(func(k *curve, i, at int) {
				if math.Mod(k.nm[i]-380, c.step) != 0 {
					return
				}
				drift = c.ar*drift + math.Sqrt(1-c.ar*c.ar)*c.noise*rng.NormFloat64()
				readings[k.source] = append(readings[k.source], clean[at]+k.r[i]+drift)
				if k.source == 0 {
					nm = append(nm, k.nm[i])
				}
			})
			for k := range spot.Curves {
				spot.Curves[k].NM, spot.Curves[k].R, spot.Curves[k].NoiseSD = nm, readings[k], c.noise
			}
			v, err := Fit(context.Background(), spot)
			require.NoError(t, err)
			curves, err := v.Curves()
			require.NoError(t, err)
			var successive, squares float64
			for _, k := range curves {
				for i := range k.NM {
					r := k.Measured[i] - k.Fitted[i]
					squares += r * r
					if i > 0 {
						d := r - (k.Measured[i-1] - k.Fitted[i-1])
						successive += d * d
					}
				}
			}
			rho, want := 1-successive/(2*squares), 1.0
			if rho >= 3/math.Sqrt(float64(v.Points)) {
				want = (1 - rho) / (1 + rho)
				counts++
			}
			assert.InDelta(t, want, v.EffectivePoints/float64(v.Points), 0.001,
				"step %g, seed %d: correlation %.4f of %d points", c.step, seed, rho, v.Points)
		}
		assert.Greater(t, counts, 10, "of 60 count")
		assert.Less(t, counts, 59)
	}
}

// Points of which less than a half are effective are flagged, and those of which more are not.
func TestCorrelationThatIsFlagged(t *testing.T) {
	v, err := Fit(context.Background(), noisySpot(t, Glass{Index: optics.SodaLime()}, 118, 0.1, 3))
	require.NoError(t, err)
	for share, flagged := range map[float64]bool{0.49: true, 0.51: false} {
		v.chosen.effectiveShare, v.Flags = share, nil
		v.setFlags()
		assert.Equal(t, flagged, len(v.Flags) > 0 && v.Flags[len(v.Flags)-1] == flagCorrelated, "%g: %v", share, v.Flags)
	}
}

// Variances are multiplied by the reduced chi-square over the effective share of the
// points, and never by less than 1.
func TestInflationByHand(t *testing.T) {
	for _, c := range [][3]float64{{1.2, 1, 1.2}, {1.2, 0.5, 2.4}, {0.8, 0.5, 1.6}, {0.8, 1, 1}} {
		assert.InDelta(t, c[2], (&solution{chi2: c[0], effectiveShare: c[1]}).inflation(), 1e-12, "%v", c)
	}
}

// The corrected criterion is the sum of squares over the noise, plus 2k + 2k(k+1)/(n-k-1)
// (C. M. Hurvich, C.-L. Tsai, Biometrika 76, 297 (1989), from memory). With 3 free
// parameters, 60 points worth 30, and an inflation of 1/0.5: 130/2 + 6 + 24/26.
func TestCriterionByHand(t *testing.T) {
	s := &solution{params: []fit.Param{{}, {}, {Fixed: true}, {}}, cost: 130, chi2: 1, effectiveShare: 0.5}
	assert.InDelta(t, 65+6+24./26, s.akaike(s, 60), 1e-12)
	more := &solution{params: make([]fit.Param, 5), cost: 120, chi2: 1, effectiveShare: 0.5}
	assert.InDelta(t, 60+10+60./24, more.akaike(s, 60), 1e-12)
	assert.True(t, math.IsInf(s.akaike(s, 8), 1), "4 points do not tell 3 parameters from more")
}

// What the other spots say counts as much less as their joint fit is inflated: a quarter
// of the normal matrix, gradient and sum of squares with an inflation of 4.
func TestKnowledgeIsInflated(t *testing.T) {
	j, err := new(Fitters).fitJointly(context.Background(), madeUp(t, 6), nil, 2)
	require.NoError(t, err)
	n := len(j.fit.params)
	x := make([]float64, n)
	rng := rand.New(rand.NewPCG(3, 3))
	for i := range x {
		x[i] = j.fit.x[i] + 0.01*rng.NormFloat64()
	}
	says := func(inflation float64) (cost float64, jj, jr []float64) {
		j.fit.inflation = inflation
		k := &placedKnowledge{Knowledge: j.Without(2), at: make([]int, n)}
		for i := range k.at {
			k.at[i] = i
		}
		jj, jr = make([]float64, n*n), make([]float64, n)
		return k.add(jj, jr, x), jj, jr
	}
	cost, jj, jr := says(1)
	quarter, jj4, jr4 := says(4)
	assert.InDelta(t, 1, 4*quarter/cost, 1e-9)
	for i := range jr {
		assert.InDelta(t, 0, 4*jr4[i]-jr[i], 1e-9*math.Abs(jr[i])+1e-9)
	}
	for i := range jj {
		assert.InDelta(t, 0, 4*jj4[i]-jj[i], 1e-9*math.Abs(jj[i])+1e-9)
	}
	assert.Greater(t, cost, 1.)
}

// The covariance of a joint fit is inflated by its reduced chi-square over the effective
// share of all points, as that of a spot is. Neighbours of these residuals hang together, and
// the spots disagree on their common scale.
func TestJointInflation(t *testing.T) {
	members := madeUp(t, 7)
	rng := rand.New(rand.NewPCG(7, 7))
	for i := range members {
		for k := range members[i].Spot.Curves {
			c, drift := &members[i].Spot.Curves[k], 0.0
			for p := range c.R {
				drift = 0.6*drift + 0.0004*rng.NormFloat64()
				c.R[p] = c.R[p]*(1+0.02*float64(i-2)) + drift
			}
		}
	}
	j, err := new(Fitters).fitJointly(context.Background(), members, nil, 2)
	require.NoError(t, err)
	points, effective := 0.0, 0.0
	for _, s := range j.Spots {
		require.NoError(t, s.Err)
		points, effective = points+float64(s.Verdict.Points), effective+s.Verdict.EffectivePoints
	}
	chi2 := j.Cost / float64(j.fit.dof)
	require.Less(t, effective, 0.8*points)
	require.Greater(t, chi2*points/effective, 1.3)
	assert.InDelta(t, chi2*points/effective, j.fit.inflation, 1e-9)
	for i := range j.Shared {
		assert.InDelta(t, 1, j.Shared[i].U/math.Sqrt(j.fit.inflation*j.fit.inverse.At(i, i)), 1e-12)
	}
}

// A result is supported up to its limit and not beyond, and the limits are those that the
// comment of Support names.
func TestSupportedAtItsLimit(t *testing.T) {
	assert.True(t, supported("solar value", "pp", "", 0.1, limitSolarPP).OK)
	assert.False(t, supported("solar value", "pp", "", 0.1001, limitSolarPP).OK)
	assert.True(t, supported("bare fraction", "1", "", 0.1, limitBare).OK)
	assert.False(t, supported("bare fraction", "1", "", 0.1001, limitBare).OK)
	j, err := FitSession(context.Background(), madeUp(t, 8), 2)
	require.NoError(t, err)
	probe, err := NewProbe([]float64{400, 500, 600, 700}, []float64{0.25, 0.25, 0.25, 0.25}, 0, optics.U,
		optics.SodaLime(), Coating{})
	require.NoError(t, err)
	s := j.Support(func(int) *Probe { return probe })
	assert.InDelta(t, 0.1, s.Solar.Limit, 0)
	assert.InDelta(t, 0.1, s.Bare.Limit, 0)
	// the films are 150/1.29, 131/1.33 and 170/1.27 nm thick: 5 % of the middle one are 5.8 nm
	assert.InDelta(t, 0.05*150/1.29, s.Thickness.Limit, 0.05)
}
