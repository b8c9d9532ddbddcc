package film_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/fit"
	"wane/fit/film"
)

// removeAt returns s without one point of a curve.
func removeAt(s *film.Spot, curve, point int) *film.Spot {
	out := *s
	out.Curves = slices.Clone(s.Curves)
	c := &out.Curves[curve]
	c.NM, c.R = slices.Delete(slices.Clone(c.NM), point, point+1), slices.Delete(slices.Clone(c.R), point, point+1)
	return &out
}

// A reading that is off by six times its noise stands out, and what it does to the
// results is what a fit without it says.
func TestInfluenceOfAPlantedPoint(t *testing.T) {
	nm := grid(380, 1100, 4)
	probe := flatProbe(t, nm)
	for _, at := range []struct{ curve, point int }{{0, 20}, {3, 90}, {2, 170}} {
		spot := declared(truth{118, 0.36, 0.15, 1, 1.458}.spot(t, nm, fourAngles, 2))
		c := &spot.Curves[at.curve]
		c.R[at.point] = (c.R[at.point-1]+c.R[at.point+1])/2 + 6*noise
		for k := range spot.Curves { // enough for the residuals, with the point and without: the noise stays as it is
			spot.Curves[k].NoiseSD = 1.06 * noise
		}
		v := fitted(t, spot)
		require.Zero(t, v.LeftOut)
		all, err := v.Influence(context.Background(), probe)
		require.NoError(t, err)
		require.Len(t, all, 4)
		assert.Equal(t, fourAngles[at.curve], all[at.curve].AngleDeg)
		for k := range all {
			require.Len(t, all[k].Studentised, len(nm))
			for i, s := range all[k].Studentised {
				if k == at.curve && i == at.point {
					continue
				}
				// the largest of 723 normal values is beyond 5 once in 2,000 times
				assert.Less(t, math.Abs(s), 5., "curve %d, %g nm", k, nm[i])
			}
		}
		got := all[at.curve]
		assert.InDelta(t, 6, got.Studentised[at.point], 1.5, "six, and the noise of its neighbours")

		left := fitted(t, removeAt(spot, at.curve, at.point))
		for _, q := range []struct {
			name          string
			shift, before float64
			after         film.Estimate
		}{
			{"thickness", got.ThicknessNM[at.point], v.ThicknessNM.Value, left.ThicknessNM},
			{"bare", got.Bare[at.point], v.Bare.Value, left.Bare},
			{"mean", got.Mean[at.point], v.Mean(probe).Value, left.Mean(probe)},
		} {
			t.Logf("%s: predicted %.3g, found %.3g, u %.2g", q.name, q.shift, q.after.Value-q.before, q.after.U)
			// first order: a part of a hundred, and a thousandth of u where fits end
			assert.InDelta(t, q.after.Value-q.before, q.shift, 0.01*math.Abs(q.shift)+0.001*q.after.U, q.name)
			assert.Greater(t, math.Abs(q.shift), 0.01*q.after.U, "worth comparing: %s", q.name)
		}
	}
}

// Leverages add up to the number of parameters that the readings determine: of all free
// ones less what the priors do. Source: the trace of the hat matrix is the number of
// parameters (D. C. Hoaglin, R. E. Welsch, Am. Stat. 32, 17-22 (1978)), with priors that of
// J(J'J + P)⁻¹J' (T. Hastie, R. Tibshirani, J. Friedman, The Elements of Statistical Learning,
// 2nd ed. (2009), equation 3.50), both from memory: with priors that say
// next to nothing all free parameters, with all nuisances held three.
func TestLeveragesAddUp(t *testing.T) {
	nm := grid(380, 1100, 4)
	spot := declared(truth{118, 0.36, 0.15, 1, 1.458}.spot(t, nm, fourAngles, 2))
	spot.Known, spot.Coating = sessionOnly(film.Session{}), film.Coating{Skeleton: 1.458}
	all, err := fitted(t, spot).Influence(context.Background(), nil)
	require.NoError(t, err)
	sum := 0.0
	for k := range all {
		sum += floats.Sum(all[k].Leverage)
		assert.Nil(t, all[k].Mean)
	}
	assert.InDelta(t, 3, sum, 1e-9)
}

// A bare fraction on its bound stays there, and fits that are no least squares say so.
func TestInfluenceAtABoundAndOfARobustFit(t *testing.T) {
	spot := declared(truth{118, 0.36, 0, 1, 1.458}.spot(t, grid(380, 1100, 4), fourAngles, 0))
	v := fitted(t, spot)
	for seed := uint64(1); v.Bare.Value > 0; seed++ {
		spot = declared(truth{118, 0.36, 0, 1, 1.458}.spot(t, grid(380, 1100, 4), fourAngles, seed))
		v = fitted(t, spot)
	}
	all, err := v.Influence(context.Background(), nil)
	require.NoError(t, err)
	for k := range all {
		for i := range all[k].Bare {
			require.Zero(t, all[k].Bare[i])
		}
	}
	robust := *spot
	robust.Loss = fit.SoftL1
	_, err = fitted(t, &robust).Influence(context.Background(), nil)
	var in *film.InputError
	assert.ErrorAs(t, err, &in)
}
