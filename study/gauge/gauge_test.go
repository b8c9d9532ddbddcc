package gauge_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/gauge"
)

// table returns the readings of a table in testdata, by the columns of thing, session, placement and value; thing -1:
// one.
func table(t *testing.T, name string, thing, session, placement, value int) (readings []gauge.Reading) {
	f, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		v, err := strconv.ParseFloat(row[value], 64)
		require.NoError(t, err)
		r := gauge.Reading{Session: row[session], Placement: row[placement], Value: v}
		if thing >= 0 {
			r.Of = row[thing]
		}
		readings = append(readings, r)
	}
	return readings
}

// Pastes of lme4 1.1.31 in R 4.2.2, lmer(strength ~ 1 + (1 | batch) + (1 | sample)): a batch is a session here, a
// cask of it a placement. The published variances are .678, 8.434 and 1.657; lmer stops within 1e-5 of the last.
func TestPastesAgainstLme4(t *testing.T) {
	g, err := gauge.Estimate(table(t, "pastes.csv", -1, 1, 2, 0), 0.95)
	require.NoError(t, err)
	assert.InEpsilon(t, 0.8234075226, g.Repeatability.SD, 1e-6)
	assert.InEpsilon(t, 2.9040778103, g.Placement.SD, 1e-5)
	assert.InEpsilon(t, 1.2873647350, g.Reproducibility.SD, 1e-4)
	assert.Equal(t, []float64{30, 20, 9}, []float64{g.Repeatability.DoF, g.Placement.DoF, g.Reproducibility.DoF})
	assert.Zero(t, g.Reproducibility.Lower, "the batches are not distinguished")
	assert.Equal(t, 60, g.N)
}

// testdata/gauge.R, whose output is gauge.txt: mean squares by R's aggregate and ave, intervals by the same formulas
// written in R.
func TestTwoThingsAgainstR(t *testing.T) {
	g, err := gauge.Estimate(table(t, "gauge.csv", 0, 1, 2, 3), 0.95)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		got  gauge.Component
		want [3]float64
		tol  float64
	}{
		"repeatability":   {g.Repeatability, [3]float64{0.01040669, 0.00812584, 0.01447728}, 1e-6},
		"placement":       {g.Placement, [3]float64{0.01374572, 0.00838379, 0.02255023}, 1e-6},
		"reproducibility": {g.Reproducibility, [3]float64{0.02429124, 0.01257106, 0.09339373}, 1e-6},
		"total":           {g.Total, [3]float64{0.02978772, 0.02119383, 0.09501379}, 1e-6},
	} {
		assert.InEpsilonSlice(t, c.want[:], []float64{c.got.SD, c.got.Lower, c.got.Upper}, c.tol, name)
		assert.Empty(t, c.got.Why+c.got.With, name)
	}
	assert.InEpsilon(t, 5.822015, g.Total.DoF, 1e-6)
	assert.Equal(t, []int{48, 24, 4}, []int{g.Repeatability.Groups, g.Placement.Groups, g.Reproducibility.Groups})
	with, without := g.Detectable(6, 6, 0.95, 0.8), g.Detectable(6, 0, 0.95, 0.8)
	assert.InEpsilonSlice(t, []float64{0.01407702, 23.155961, 0.03943798}, []float64{with.U, with.DoF, with.Least}, 1e-6)
	assert.InEpsilonSlice(t, []float64{0.03576605, 3.086408, 0.10020163}, []float64{without.U, without.DoF,
		without.Least}, 1e-6)
	assert.Less(t, g.Detectable(12, 12, 0.95, 0.8).Least, with.Least)
}

// The intervals cover, for components of any size beside each other and for few sessions: the exact 99.9 % binomial
// interval of 2,000 studies at 95 % is 1,867 to 1,931 (R: qbinom(c(.0005, .9995), 2000, .95)). A component that is
// small beside what lies below it they cover more often, up to 97.5 %, since neither it nor its interval can fall
// below 0.
func TestIntervalsCover(t *testing.T) {
	for _, truth := range [][3]float64{{1, 1, 1}, {1, 3, 0.5}, {0.5, 0.5, 3}, {1, 0, 2}} { // session, placement, repeat
		const studies = 2000
		rng, covered := rand.New(rand.NewPCG(5, 6)), [4]int{}
		for range studies {
			var readings []gauge.Reading
			for s := range 4 {
				session := truth[0] * rng.NormFloat64()
				for p := range 5 {
					at := session + truth[1]*rng.NormFloat64()
					for range 2 {
						readings = append(readings, gauge.Reading{Session: fmt.Sprint(s), Placement: fmt.Sprint(p),
							Value: at + truth[2]*rng.NormFloat64()})
					}
				}
			}
			g, err := gauge.Estimate(readings, 0.95)
			require.NoError(t, err)
			total := math.Hypot(math.Hypot(truth[0], truth[1]), truth[2])
			for i, c := range []gauge.Component{g.Reproducibility, g.Placement, g.Repeatability, g.Total} {
				if want := append(truth[:], total)[i]; c.Lower <= want && want <= c.Upper {
					covered[i]++
				}
			}
		}
		for i, n := range covered {
			assert.GreaterOrEqual(t, n, 1867, "truth %v, component %d", truth, i)
			if large := truth[2] <= 1 && truth[1] > 0; large && i < 3 { // that of a sum is wide: 96.9 % at most

				assert.LessOrEqual(t, n, 1931, "truth %v, component %d", truth, i)
			}
		}
	}
}

// What the readings do not separate is said, and no number is given for what they do not show.
func TestPoorDesigns(t *testing.T) {
	reading := func(session, placement string, v float64) gauge.Reading {
		return gauge.Reading{Of: "E1", Session: session, Placement: placement, Value: v}
	}
	missing := func(c gauge.Component) bool { return math.IsNaN(c.SD) && math.IsNaN(c.Upper) && c.Why != "" }

	g, err := gauge.Estimate([]gauge.Reading{reading("a", "1", 1), reading("a", "2", 3), reading("a", "3", 2)}, 0.95)
	require.NoError(t, err)
	assert.True(t, missing(g.Repeatability) && missing(g.Reproducibility) && missing(g.Total))
	assert.Equal(t, gauge.Repeatability, g.Placement.With)
	assert.InDelta(t, 1, g.Placement.SD, 1e-15) // the variance of 1, 2, 3
	// By hand: 2/7.3778 and 2/0.0506356, chi-squared of two degrees of freedom is exponential: -2 ln 0.025, -2 ln
	// 0.975.
	assert.InDelta(t, math.Sqrt(2/(-2*math.Log(0.025))), g.Placement.Lower, 1e-12)
	assert.InDelta(t, math.Sqrt(2/(-2*math.Log(0.975))), g.Placement.Upper, 1e-9)
	assert.NotEmpty(t, g.Detectable(6, 0, 0.95, 0.8).Why, "without controls the session counts")
	assert.InDelta(t, math.Sqrt(2./6+2./6), g.Detectable(6, 6, 0.95, 0.8).U, 1e-12)

	g, err = gauge.Estimate([]gauge.Reading{reading("a", "1", 1), reading("b", "1", 3)}, 0.95)
	require.NoError(t, err)
	assert.True(t, missing(g.Placement))
	assert.Equal(t, gauge.Placement+" and "+gauge.Repeatability, g.Reproducibility.With)
	assert.InDelta(t, math.Sqrt2, g.Reproducibility.SD, 1e-15)
	assert.NotEmpty(t, g.Detectable(6, 6, 0.95, 0.8).Why)

	// Sessions that scatter less than their placements: none is distinguished, and none is below 0.
	g, err = gauge.Estimate([]gauge.Reading{reading("a", "1", 1), reading("a", "2", 3), reading("b", "1", 3),
		reading("b", "2", 1.1)}, 0.95)
	require.NoError(t, err)
	assert.Zero(t, g.Reproducibility.SD)
	assert.Zero(t, g.Reproducibility.Lower)
	assert.Positive(t, g.Reproducibility.Upper)

	// One placement in each session, read twice; and a thing that was read once more than the other.
	g, err = gauge.Estimate([]gauge.Reading{reading("a", "1", 1), reading("a", "1", 1.2), reading("b", "1", 2),
		reading("b", "1", 2.2)}, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(0.5-0.02/2), g.Reproducibility.SD, 1e-12)
	assert.InDelta(t, math.Sqrt(0.5+0.02/2), g.Total.SD, 1e-12)
	other := gauge.Reading{Of: "B1", Session: "c", Placement: "1", Value: 7}
	g, err = gauge.Estimate([]gauge.Reading{reading("a", "1", 1), reading("b", "1", 2), other}, 0.95)
	require.NoError(t, err)
	assert.Equal(t, 2, g.Reproducibility.Groups)

	for _, bad := range [][]gauge.Reading{nil, {reading("a", "1", 2), reading("a", "2", 2)},
		{reading("a", "1", math.NaN())}} {
		_, err := gauge.Estimate(bad, 0.95)
		var input *gauge.InputError
		assert.ErrorAs(t, err, &input)
	}
	assert.Panics(t, func() { _, _ = gauge.Estimate(nil, 1) })
	assert.Panics(t, func() { g.Detectable(0, 1, 0.95, 0.8) })
}

// By hand: operator ada read 1 and 3, ben 7 and 9. Their means 2 and 8 have the variance 18, the sessions of one the
// variance 2, half of which is in a mean: 18 - 1 = 17. With one session each the sessions are in it: 8 - 2, the
// variance 18.
func TestOperators(t *testing.T) {
	reading := func(session, operator string, v float64) gauge.Reading {
		return gauge.Reading{Of: "E1", Session: session, Operator: operator, Placement: "1", Value: v}
	}
	all := []gauge.Reading{reading("s1", "ada", 1), reading("s2", "ada", 3), reading("s3", "ben", 7), reading("s4",
		"ben", 9)}
	g, err := gauge.Estimate(all, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(17), g.Operator.SD, 1e-12)
	assert.Equal(t, []float64{1, 2}, []float64{g.Operator.DoF, float64(g.Operator.Groups)})
	assert.Greater(t, g.Operator.Upper, 100.0, "two operators say little")
	g, err = gauge.Estimate([]gauge.Reading{reading("s1", "ada", 2), reading("s3", "ben", 8)}, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(18), g.Operator.SD, 1e-12)
	assert.Equal(t, "session", g.Operator.With)
	for operator, why := range map[string]string{"ada": "no two operators read the same coupons", "": "the operator " +
		"of a session is not known"} {
		g, err = gauge.Estimate([]gauge.Reading{reading("s1", "ada", 2), reading("s3", operator, 8)}, 0.95)
		require.NoError(t, err)
		assert.Equal(t, why, g.Operator.Why)
	}
}

// The order of the readings is nothing to the result.
func TestOrderIsNothing(t *testing.T) {
	readings := table(t, "gauge.csv", 0, 1, 2, 3)
	a, err := gauge.Estimate(readings, 0.9)
	require.NoError(t, err)
	rand.New(rand.NewPCG(7, 8)).Shuffle(len(readings), func(i, k int) {
		readings[i], readings[k] = readings[k],
			readings[i]
	})
	b, err := gauge.Estimate(readings, 0.9)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{a.Total.SD, a.Placement.Upper}, []float64{b.Total.SD, b.Placement.Upper}, 1e-12)
}
