package shape_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/lifetime"
	"wane/study/series"
	"wane/study/shape"
)

var pulls = []float64{100, 200, 300, 400}

// livesOf returns the lives of the coupons of coating A until they lost limit pp.
func livesOf(t *testing.T, d *series.Data, limit float64) *shape.Lives {
	t.Helper()
	l, err := shape.Groups(d, shape.ByCoating)[0].Lives(d, limit, shape.InDose)
	require.NoError(t, err)
	return l
}

// crossing is what is wanted of a coupon that reached the limit between two doses and was last read at a third.
func crossing(after, by, last float64) shape.Crossing {
	return shape.Crossing{Life: lifetime.Life{After: after, By: by}, Last: last}
}

// u is 0.01 pp: a loss of 0.30 is surely below 0.32 and neither at 0.31, by 1.645 u = 0.0165.
func TestCrossingsAreBetweenPulls(t *testing.T) {
	never := math.Inf(1)
	for name, c := range map[string]struct {
		losses []float64 // with pulls
		ended  string
		want   shape.Crossing
	}{
		"between two pulls":         {[]float64{.1, .2, .4, .5}, "", crossing(200, 300, 400)},
		"a pull that says neither":  {[]float64{.1, .31, .4, .5}, "", crossing(100, 300, 400)},
		"before the first pull":     {[]float64{.5, .6, .7, .8}, "", crossing(0, 100, 400)},
		"never":                     {[]float64{.1, .1, .2, .2}, "", crossing(400, never, 400)},
		"lost":                      {[]float64{.1, .1}, "broken at pull 3", crossing(200, never, 200)},
		"lost after it reached it":  {[]float64{.1, .4}, "broken at pull 3", crossing(100, 200, 200)},
		"back again":                {[]float64{.1, .4, .1, .5}, "", crossing(100, 200, 400)},
		"neither at the last pull":  {[]float64{.1, .1, .1, .31}, "", crossing(300, never, 400)},
		"a loss of 0.32 is just it": {[]float64{.1, .1, .1, .31 + 1.645e-2}, "", crossing(300, 400, 400)},
	} {
		t.Run(name, func(t *testing.T) {
			m := newMaker()
			y := make([]float64, len(c.losses))
			for i, loss := range c.losses {
				y[i] = -loss
			}
			m.coupon("A1", pulls[:len(y)], y, 0.01, 0).Ended = c.ended
			l := livesOf(t, m.d, 0.31)
			if name == "a loss of 0.32 is just it" {
				l = livesOf(t, m.d, 0.31-1e-9) // of rounding
			}
			c.want.Coupon, c.want.Again = "A1", name == "back again"
			if name == "lost" {
				c.want.Ended = c.ended
			}
			assert.Equal(t, c.want, l.Crossings[0])
		})
	}
}

// The laws are those of fit/lifetime, which is held to R's survival; here eight coupons in four intervals.
func TestLivesByTheLaws(t *testing.T) {
	m := newMaker()
	for i, at := range []int{1, 1, 2, 2, 2, 3, 9, 9} { // the pull by which each has lost more than 0.5 pp, from 0
		y := make([]float64, len(pulls))
		for k := range y {
			if y[k] = -0.1; k >= at {
				y[k] = -0.9
			}
		}
		m.coupon(string(rune('a'+i)), pulls, y, 0.01, 0)
	}
	l := livesOf(t, m.d, 0.5)
	assert.Equal(t, 6, l.Reached())
	laws, err := l.Laws(false)
	require.NoError(t, err)
	require.Len(t, laws, 3)
	lives := []lifetime.Life{{After: 100, By: 200}, {After: 100, By: 200}, {After: 200, By: 300}, {After: 200, By: 300},
		{After: 200, By: 300}, {After: 300, By: 400}, {After: 400, By: math.Inf(1)}, {After: 400, By: math.Inf(1)}}
	law, err := lifetime.FitLaw(lifetime.Weibull, lives)
	require.NoError(t, err)
	half := laws[0].Parameters[0]
	assert.Equal(t, "life_50", half.Parameter)
	assert.InEpsilon(t, law.Quantile(0.5), half.Value, 1e-9)
	lo, hi := law.Interval(0.5, 0.95)
	assert.InEpsilon(t, lo, half.Lower, 1e-9)
	assert.InEpsilon(t, hi, half.Upper, 1e-9)
	assert.Equal(t, "days", half.Unit)
	// Without a law the intervals do not overlap: shares of 2/8, 5/8 and 6/8 by the looks.
	turnbull := laws[2].Parameters
	require.Len(t, turnbull, 5)
	assert.Equal(t, [2]float64{200, 300}, [2]float64{turnbull[0].Value, turnbull[1].Value})
	for i, want := range [][2]float64{{200, 0.25}, {300, 0.625}, {400, 0.75}} {
		assert.Equal(t, want[0], turnbull[i+2].At)
		assert.InDelta(t, want[1], turnbull[i+2].Value, 1e-6)
	}
}

// Two of ten have reached the limit: half of them will long after twice the largest dose. That is stated only if it is
// asked for, and then flagged.
func TestBeyondTwiceTheDose(t *testing.T) {
	m := newMaker()
	for i := range 10 {
		y := []float64{-.1, -.1, -.1, -.1}
		if i == 0 {
			y = []float64{-.9, -.9, -.9, -.9}
		}
		if i == 1 {
			y = []float64{-.1, -.1, -.1, -.9}
		}
		m.coupon(string(rune('a'+i)), pulls, y, 0.01, 0)
	}
	l := livesOf(t, m.d, 0.5)
	laws, err := l.Laws(false)
	require.NoError(t, err)
	half := laws[0].Parameters[0]
	assert.True(t, math.IsNaN(half.Value) && math.IsNaN(half.Upper))
	assert.LessOrEqual(t, half.Lower, 800.0)
	assert.Contains(t, half.Flags, shape.FlagBeyond)
	require.NotNil(t, half.Why)
	assert.Contains(t, half.Why.Try, "--extrapolate")
	laws, err = l.Laws(true)
	require.NoError(t, err)
	half = laws[0].Parameters[0]
	assert.Greater(t, half.Value, 800.0)
	assert.Contains(t, half.Flags, shape.FlagExtrapolated)
	assert.Nil(t, half.Why)
}

// Of n coupons that all lasted 400 days, less than a share q lasts less with confidence 1 - (1-q)^n, by hand: five for
// half of them (0.5^5 = 0.031), three for 64 % (0.36^3 = 0.047, 0.37^3 = 0.0507).
func TestNotReachedHasALowerBound(t *testing.T) {
	for _, c := range []struct {
		coupons   int
		parameter string
		lower     float64
	}{{6, "life_50", 200}, {5, "life_50", 100}, {3, "life_64", 100}, {1, "life_95", 100}} {
		m := newMaker()
		for i := range c.coupons { // the first lasts 100 days, all others 200 and more, and then it is not said
			last := min(i+1, 2)
			m.coupon(string(rune('a'+i)), pulls[:last], []float64{-.1, -.1, -.1, -.1}[:last], 0.01, 0)
		}
		laws, err := livesOf(t, m.d, 0.5).Laws(true)
		require.NoError(t, err)
		require.Len(t, laws, 1)
		e := laws[0].Parameters[0]
		assert.Equal(t, c.parameter, e.Parameter)
		assert.True(t, math.IsNaN(e.Value) && math.IsNaN(e.Upper))
		assert.InDelta(t, c.lower, e.Lower, 0)
		assert.Contains(t, e.Flags, shape.FlagNotReached)
		because := map[int]string{6: "none of 6 coupons has surely reached the limit; 5 of them were read up to 200 days, " +
			"the others less long", 5: "; 4 of them", 3: "; 2 of them", 1: "the coupon has not surely reached the limit by 100 days"}
		assert.Contains(t, e.Why.Fault, because[c.coupons])
	}
}

// All in one interval: the pulls do not show how much the lives of its coupons differ, and no law has an interval.
func TestOneIntervalHasNoLaw(t *testing.T) {
	m := newMaker()
	for _, name := range []string{"a", "b", "c"} {
		m.coupon(name, pulls, []float64{-.1, -.1, -.9, -.9}, 0.01, 0)
	}
	laws, err := livesOf(t, m.d, 0.5).Laws(true)
	require.NoError(t, err)
	for _, law := range laws[:2] {
		for _, e := range law.Parameters {
			assert.True(t, math.IsNaN(e.Value) && math.IsNaN(e.Lower) && math.IsNaN(e.Upper), law.Law)
			assert.Contains(t, e.Why.Fault, "the pulls do not show how much the lives of its coupons differ")
		}
	}
	turnbull := laws[2].Parameters
	assert.Equal(t, [2]float64{200, 300}, [2]float64{turnbull[0].Value, turnbull[1].Value})
	assert.True(t, math.IsNaN(turnbull[0].Lower) && math.IsNaN(turnbull[0].Upper), "it is no interval")
}
