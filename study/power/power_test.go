package power_test

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/power"
)

// figures returns the lines of testdata/power.txt of one kind, without the kind. R 4.2.2 made them by testdata/power.R, whose
// calls stand there: power.t.test with strict = TRUE, pt with a noncentrality, pbinom, integrate.
func figures(t *testing.T, kind string) (lines [][]string) {
	t.Helper()
	file, err := os.Open("testdata/power.txt")
	require.NoError(t, err)
	defer file.Close()
	for scan := bufio.NewScanner(file); scan.Scan(); {
		if words := strings.Fields(scan.Text()); words[0] == kind {
			lines = append(lines, words[1:])
		}
	}
	require.NotEmpty(t, lines)
	return lines
}

func number(t *testing.T, word string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(word, 64)
	require.NoError(t, err)
	return x
}

func group(t *testing.T, n, sd string) power.Group {
	t.Helper()
	return power.Group{Spread: power.Spread{Coupon: number(t, sd)}, Coupons: int(number(t, n)), Lots: 1}
}

// still is a group whose mean is known: a comparison with it is a test of one mean.
var still = power.Group{Spread: power.Spread{Coupon: 1e-9}, Coupons: 2, Lots: 1}

func compare(t *testing.T, a, b power.Group) *power.Comparison {
	t.Helper()
	c, err := power.NewComparison(a, b, power.Test{})
	require.NoError(t, err)
	return c
}

// One mean: R's power.t.test, both sides counted; to the 1e-6 that the package states.
func TestPowerOfOneMean(t *testing.T) {
	for _, f := range figures(t, "one") {
		c := compare(t, group(t, f[0], "1"), still)
		assert.InDelta(t, number(t, f[2]), c.Different(number(t, f[1])), 1e-6, f)
		assert.InDelta(t, number(t, f[0])-1, c.DoF, 1e-6)
	}
}

// Two means with their own variances: Welch's statistic by R's noncentral t, given the share of the first sum of squares,
// which is beta distributed. At no difference it is the chance of a false call.
func TestPowerOfWelch(t *testing.T) {
	for _, f := range figures(t, "welch") {
		c := compare(t, group(t, f[0], f[1]), group(t, f[2], f[3]))
		assert.InDelta(t, number(t, f[5]), c.Different(number(t, f[4])), 1e-6, f)
	}
}

// Two one-sided tests, by the integral over the sample deviation up to where the interval is as wide as the margin.
func TestPowerOfEquivalence(t *testing.T) {
	for _, f := range figures(t, "tost") {
		c := compare(t, group(t, f[0], "0.5"), still)
		assert.InDelta(t, number(t, f[3]), c.Equal(number(t, f[1]), number(t, f[2])), 1e-6, f)
	}
}

// Acceptance by the integral over what is shared, and by R over what is not; R's inner integrals are good to some 1e-8.
func TestAcceptance(t *testing.T) {
	losses := map[string]power.Losses{"normal": {Law: power.Normal, Mean: 0.2, SD: 0.06},
		"exponential": {Law: power.Exponential, Mean: 0.1}, "lognormal": {Law: power.Lognormal, Mean: 0.15, SD: 0.1}}
	for _, f := range figures(t, "accept") {
		own, shared := number(t, f[4]), number(t, f[5])
		rule := power.Rule{Coupons: int(number(t, f[1])), Failures: int(number(t, f[2])), Limit: number(t, f[3]),
			U: math.Hypot(own, shared), Shared: shared}
		c, err := rule.Chances(losses[f[0]])
		require.NoError(t, err)
		assert.InDelta(t, number(t, f[6]), c.Accept, 1e-6, f)
		assert.InDelta(t, number(t, f[7]), c.Reject, 1e-6, f)
		assert.InDelta(t, 1, c.Accept+c.Reject+c.Undecided, 1e-12)
	}
}

// Without an error of measurement all of n coupons pass with the chance that one conforms, to the nth power; an exponential
// loss is below its mean with 1 - 1/e.
func TestAcceptanceWithoutError(t *testing.T) {
	c, err := power.Rule{Coupons: 5, Limit: 0.1}.Chances(power.Losses{Law: power.Exponential, Mean: 0.1})
	require.NoError(t, err)
	assert.InDelta(t, 1-math.Exp(-1), c.Conforming, 1e-15)
	assert.InDelta(t, math.Pow(1-math.Exp(-1), 5), c.Accept, 1e-12)
	assert.InDelta(t, 0, c.Undecided, 1e-12)
}

// Of one coupon with one of two uncertainties, the chances are the means of those with each.
func TestAcceptanceWithSeveralUncertainties(t *testing.T) {
	losses := power.Losses{Law: power.Lognormal, Mean: 0.15, SD: 0.1}
	chances := func(r power.Rule) power.Chances {
		r.Coupons, r.Limit = 1, 0.3
		c, err := r.Chances(losses)
		require.NoError(t, err)
		return c
	}
	small, large, both := chances(power.Rule{U: 0.02}), chances(power.Rule{U: 0.2}), chances(power.Rule{Us: []float64{0.02, 0.2}})
	assert.InDelta(t, (small.Accept+large.Accept)/2, both.Accept, 1e-12)
	assert.InDelta(t, (small.Reject+large.Reject)/2, both.Reject, 1e-12)
}

// More pulls, by hand: four even steps give Σ(t - 1/2)² = 2 (1/4 + 1/16) = 0.625, and the last pull alone 2 of its errors'
// variances over 1.
func TestPullsFactor(t *testing.T) {
	assert.InDelta(t, 1/(2*0.625), power.PullsFactor(4), 1e-15)
	for _, pulls := range []int{0, 1, 2} {
		assert.InDelta(t, 1, power.PullsFactor(pulls), 1e-15)
	}
}

// With three lots each the lot is the unit: of four degrees of freedom, and with the spread of lots. With two it is not.
func TestLots(t *testing.T) {
	of := func(lots int) *power.Comparison {
		g := power.Group{Spread: power.Spread{Coupon: 0.3, Lot: 0.2, U: 0.4}, Coupons: 6, Lots: lots}
		return compare(t, g, g)
	}
	three, two := of(3), of(2)
	assert.True(t, three.ByLots)
	assert.InDelta(t, 4, three.DoF, 1e-9)
	assert.InDelta(t, math.Sqrt(2*(0.04/3+0.25/6)), three.SE, 1e-12)
	assert.False(t, two.ByLots)
	assert.InDelta(t, 10, two.DoF, 1e-9)
	assert.InDelta(t, math.Sqrt(2*0.25/6), two.SE, 1e-12)
}

// What the searches find has the chance that was asked for. More pairs and a shared error cost power, and the false calls of a
// known error are as many as the level says.
func TestSearches(t *testing.T) {
	g := power.Group{Spread: power.Spread{Coupon: 0.05, U: 0.02}, Coupons: 6, Lots: 1, Pulls: 4}
	c := compare(t, g, g)
	assert.InDelta(t, 0.8, c.Different(c.Least(0.8)), 1e-9)
	assert.InDelta(t, 0.9, c.Equal(0, c.LeastMargin(0.9)), 1e-9)
	more, err := power.NewComparison(g, g, power.Test{Pairs: 3, Shared: 0.01})
	require.NoError(t, err)
	assert.Greater(t, more.Least(0.8), c.Least(0.8))
	known := power.Group{Spread: power.Spread{U: 1e-9}, Coupons: 2, Lots: 1}
	shared, err := power.NewComparison(known, known, power.Test{Shared: 1})
	require.NoError(t, err)
	assert.InDelta(t, 0.05, shared.Different(0), 1e-9)
}

// What cannot be is an error with a remedy, not a number.
func TestFaults(t *testing.T) {
	sound := power.Group{Spread: power.Spread{U: 1}, Coupons: 4, Lots: 1}
	for _, g := range []power.Group{
		{Spread: power.Spread{U: 1}, Coupons: 1, Lots: 1}, {Spread: power.Spread{U: 1}, Coupons: 4}, {Coupons: 4, Lots: 1},
		{Spread: power.Spread{U: math.NaN()}, Coupons: 4, Lots: 1}, {Spread: power.Spread{U: 1}, Coupons: 2, Lots: 3},
	} {
		_, err := power.NewComparison(sound, g, power.Test{})
		var fault *power.Error
		require.ErrorAs(t, err, &fault, "%+v", g)
		assert.NotEmpty(t, fault.Try)
	}
	for _, l := range []power.Losses{{Law: "beta", Mean: 1}, {Law: power.Lognormal}, {Law: power.Normal, SD: -1}} {
		_, err := power.Rule{Coupons: 3, Limit: 1}.Chances(l)
		assert.Error(t, err, "%+v", l)
	}
	_, err := power.Rule{Coupons: 3, Failures: 3, Limit: 1}.Chances(power.Losses{Law: power.Normal, SD: 1})
	assert.Error(t, err)
}
