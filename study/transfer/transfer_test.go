package transfer_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/transfer"
)

func rate(value, se, dof float64) transfer.Rate { return transfer.Rate{Value: value, SE: se, DoF: dof} }

// testdata/fieller.R in R 4.2.2, whose output is fieller.txt: uniroot finds the ends.
func TestRatioAgainstR(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		a, b                    transfer.Rate
		r, value, dof, from, to float64
	}{
		{rate(-2, 0.15, 5), rate(-0.1, 0.008, 7), 0, 20.000000000, 11.872407650, 15.729012499, 25.527444314},
		{rate(-2, 0.15, 5), rate(-0.1, 0.008, 7), 0.4, 20.000000000, 4.285922690, 15.864285461, 25.363861177},
		{rate(-0.3, 0.2, 4), rate(-0.5, 0.09, 9), -0.2, 0.600000000, 5.564955039, -0.377915293, 2.105157987},
		{rate(0.8, 0.1, inf), rate(0.4, 0.02, inf), 0, 2.000000000, inf, 1.488750084, 2.550037002},
	} {
		f := transfer.Ratio(c.a, c.b, c.r, 0.95)
		assert.Empty(t, f.Why)
		assert.InDelta(t, c.value, f.Value, 1e-8)
		assert.InDelta(t, c.from, f.Lower, 1e-7)
		assert.InDelta(t, c.to, f.Upper, 1e-7)
		if !math.IsInf(c.dof, 1) {
			assert.InDelta(t, c.dof, f.DoF, 1e-7)
		}
	}
}

// The mean rates of six coupons and of five, four times as fast with four times the spread: 4,000 studies cover 3,753
// to 3,844 times in 99.9 % of cases (R: qbinom(c(.0005, .9995), 4000, .95)).
func TestRatioCovers(t *testing.T) {
	rng, covered := rand.New(rand.NewPCG(21, 22)), 0
	mean := func(n int, mu, sd float64) transfer.Rate {
		sum, squares := 0.0, 0.0
		for range n {
			v := mu + sd*rng.NormFloat64()
			sum += v
			squares += v * v
		}
		m := sum / float64(n)
		return rate(m, math.Sqrt((squares/float64(n)-m*m)/float64(n-1)), float64(n-1))
	}
	for range 4000 {
		f := transfer.Ratio(mean(6, -2, 0.4), mean(5, -0.5, 0.1), 0, 0.95)
		if f.Why == "" && f.Lower <= 4 && 4 <= f.Upper {
			covered++
		}
	}
	assert.GreaterOrEqual(t, covered, 3753)
	assert.LessOrEqual(t, covered, 3844)
}

// A rate that is not distinguished from 0 has no factor below the line, and above it an interval that holds 0.
func TestRatioOfWhatIsNotSeen(t *testing.T) {
	slow, fast := rate(-0.02, 0.02, 5), rate(-2, 0.1, 5)
	f := transfer.Ratio(fast, slow, 0, 0.95)
	assert.Equal(t, transfer.NotDistinguished, f.Why)
	assert.True(t, math.IsNaN(f.Lower) && math.IsNaN(f.Upper))
	f = transfer.Ratio(slow, fast, 0, 0.95)
	assert.Empty(t, f.Why)
	assert.Negative(t, f.Lower)
	assert.Positive(t, f.Upper)
	for _, bad := range []transfer.Rate{rate(math.NaN(), 1, 1), rate(1, math.NaN(), 1),
		rate(1, 1, math.NaN()), rate(1, 1, 0), rate(1, -1, 2)} {
		assert.Equal(t, transfer.NoRate, transfer.Ratio(bad, fast, 0, 0.95).Why)
		assert.Equal(t, transfer.NoRate, transfer.Ratio(fast, bad, 0, 0.95).Why)
	}
	assert.Equal(t, transfer.NotDistinguished, transfer.Ratio(fast, rate(0, 0, 5), 0, 0.95).Why)
	exact := transfer.Ratio(rate(6, 0, 5), rate(3, 0, 5), 0, 0.95)
	assert.Equal(t, []float64{2, 2, 2}, []float64{exact.Value, exact.Lower, exact.Upper})
	assert.Panics(t, func() { transfer.Ratio(fast, slow, 2, 0.95) })
}

// Factors 2 and 8: geometric mean 4; ln 2 and ln 8 have the mean ln 4 and half their distance ln 2, t of one degree
// is 12.706.
func TestCommon(t *testing.T) {
	f, n := transfer.Common([]transfer.Factor{{Value: 2}, {Value: 8}, {Value: 9, Why: transfer.NotDistinguished},
		{Value: -1}}, 0.95)
	assert.Equal(t, 2, n)
	assert.InDelta(t, 4, f.Value, 1e-12)
	assert.InEpsilon(t, 4*math.Pow(2, 12.7062047362), f.Upper, 1e-8)
	assert.InEpsilon(t, 4*math.Pow(2, -12.7062047362), f.Lower, 1e-8)
	f, n = transfer.Common([]transfer.Factor{{Value: 2}}, 0.95)
	assert.Equal(t, 1, n)
	assert.Equal(t, transfer.NoRate, f.Why)
}

// scipy.stats.kendalltau of SciPy 1.10.1 with method="exact", and a walk over all permutations where there are ties:
// testdata/kendall.py and kendall.txt.
func TestKendallAgainstSciPy(t *testing.T) {
	for _, c := range []struct {
		x, y   []float64
		tau, p float64
	}{
		{[]float64{1, 2, 3}, []float64{1, 2, 3}, 1, 0.333333333333},
		{[]float64{1, 2, 3, 4}, []float64{1, 3, 2, 4}, 0.666666666667, 0.333333333333},
		{[]float64{-0.41, -0.02, -0.33, -0.75, -0.18}, []float64{-1.9, -0.3, -2.2, -3.1, -0.4}, 0.8, 0.083333333333},
		{[]float64{5, 3, 8, 1, 9, 2, 7}, []float64{4, 6, 9, 2, 7, 1, 8}, 0.619047619048, 0.069047619048},
		{[]float64{5, 3, 8, 1, 9, 2, 7, 4, 6, 10, 12, 11}, []float64{12, 1, 7, 3, 4, 2, 9, 6, 11, 5, 8, 10},
			0.242424242424, 0.310810013996},
		{[]float64{1, 2, 2, 3, 4}, []float64{1, 3, 2, 2, 5}, 0.666666666667, 0.2},
		{[]float64{1, 1, 2, 3}, []float64{1, 2, 3, 4}, 0.912870929175, 0.166666666667},
	} {
		k := transfer.Kendall(c.x, c.y)
		assert.InDelta(t, c.tau, k.Tau, 1e-11)
		assert.InDelta(t, c.p, k.P, 1e-11)
		assert.LessOrEqual(t, k.Least, k.P)
		turned := make([]float64, len(c.y))
		for i, v := range c.y {
			turned[i] = -v
		}
		other := transfer.Kendall(c.x, turned)
		assert.InDelta(t, -c.tau, other.Tau, 1e-11)
		assert.InDelta(t, c.p, other.P, 1e-11)
	}
	assert.InDelta(t, 2./24, transfer.Kendall([]float64{1, 2, 3, 4}, []float64{1, 3, 2, 4}).Least, 1e-15,
		"two of the 24 orders are as far")
	for _, bad := range [][2][]float64{{{1}, {2}}, {nil, nil}, {{1, 1}, {1, 2}}, {{1, math.NaN()}, {1, 2}}} {
		k := transfer.Kendall(bad[0], bad[1])
		assert.True(t, math.IsNaN(k.Tau) && math.IsNaN(k.P))
	}
	tied := make([]float64, 9)
	assert.True(t, math.IsNaN(transfer.Kendall(append(tied[:8:8], 1), []float64{1, 2, 3, 4, 5, 6, 7, 8, 9}).P),
		"too many to walk")
	assert.Panics(t, func() { transfer.Kendall([]float64{1}, nil) })
}
