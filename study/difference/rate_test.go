package difference_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/difference"
	"wane/study/series"
)

// example is the made-up balanced study of three coatings of which R has fitted the slopes
// (fit/mixed/testdata/unequal_variances_example.R), without coupons beyond so many of each coating.
func example(t *testing.T, most int) *series.Data {
	file, err := os.Open("../../fit/mixed/testdata/unequal_variances_example.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	d := &series.Data{Quantity: series.Quantity{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1},
		Route: study.RouteNone}
	of := map[string]map[string]int{}
	for _, row := range rows[1:] {
		if of[row[0]] == nil {
			of[row[0]] = map[string]int{}
		}
		if _, known := of[row[0]][row[1]]; !known {
			if len(of[row[0]]) == most {
				continue
			}
			of[row[0]][row[1]] = len(d.Coupons)
			d.Coupons = append(d.Coupons, series.Coupon{Coupon: row[1], Role: study.Exposed, Coating: row[0], Exposure: "rig",
				DoseUnit: "cycles"})
		}
		dose, err := strconv.ParseFloat(row[3], 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(row[4], 64)
		require.NoError(t, err)
		c := &d.Coupons[of[row[0]][row[1]]]
		c.Points = append(c.Points, series.Point{Pull: len(c.Points), Dose: dose, Session: row[2], Spots: 1,
			Baseline: len(c.Points) == 0, Level: series.Value{Value: y}, Change: series.Value{Value: y}})
	}
	return d
}

// Rates against lmerTest 3.1.3 with variances for each coating (study/population/testdata/levels_by_coating.txt). Its
// slopes are of the second coating less the first, and so on. What is adjusted lies between p and p after Holm's first
// step.
func TestRates(t *testing.T) {
	c, err := difference.InRate(t.Context(), example(t, 6), difference.Options{Margin: 0.3})
	require.NoError(t, err)
	require.Len(t, c.Pairs, 3)
	assert.Equal(t, "pp per cycle", c.Unit)
	for i, want := range []struct{ difference, u, dof float64 }{
		{-0.08663402774, 0.10745026504, 5.088173777}, {-0.06446147906, 0.10702181100, 5.007887422},
		{0.02217254868, 0.01047200613, 5.877819336},
	} {
		p := &c.Pairs[i]
		assert.InEpsilon(t, want.difference, p.Difference, 1e-7)
		assert.InEpsilon(t, want.u, p.U, 2e-5)
		assert.InEpsilon(t, want.dof, p.DoF, 1e-4)
		assert.Greater(t, p.PAdjusted, p.P)
		assert.Less(t, p.PAdjusted, 1-math.Pow(1-p.P, 3), "independent ones would have that")
		assert.InDelta(t, p.Difference, (p.Lower+p.Upper)/2, 1e-9)
		assert.Contains(t, p.Flags, difference.FlagTheseLots)
	}
	assert.InDelta(t, 0.07994, c.Pairs[2].P, 1e-3, "Welch on the slopes of the coupons, by R")
	assert.Equal(t, difference.Equivalent, c.Pairs[2].Verdict)
}

// One coupon of each coating has no scatter.
func TestRatesOfOneCoupon(t *testing.T) {
	c, err := difference.InRate(t.Context(), example(t, 1), difference.Options{})
	require.NoError(t, err)
	require.Len(t, c.Pairs, 3)
	for i := range c.Pairs {
		p := &c.Pairs[i]
		require.NotNil(t, p.Why)
		assert.Contains(t, p.Why.Try, "two coupons or more")
		assert.Equal(t, difference.CannotTell, p.Verdict)
		assert.False(t, math.IsNaN(p.Difference))
		assert.True(t, math.IsNaN(p.U) && math.IsNaN(p.Lower) && math.IsNaN(p.PAdjusted))
	}

	d := example(t, 1) // and one pull each
	for i := range d.Coupons {
		d.Coupons[i].Points = d.Coupons[i].Points[:1]
	}
	_, err = difference.InRate(t.Context(), d, difference.Options{})
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.Contains(t, r.Fault, "a difference in rate cannot be told from these data")
	assert.Contains(t, r.Fault, "at one dose")
	assert.Contains(t, r.Try, "at another pull")
}

// Pairs are marked of which one of the groups has a coupon whose group is bent.
func TestMarkBent(t *testing.T) {
	d := example(t, 6)
	c, err := difference.InRate(t.Context(), d, difference.Options{})
	require.NoError(t, err)
	c.MarkBent(map[string]bool{d.Coupons[0].Coupon: true})
	marked := 0
	for i := range c.Pairs {
		p := &c.Pairs[i]
		of := c.Groups[p.A].Coating == d.Coupons[0].Coating || c.Groups[p.B].Coating == d.Coupons[0].Coating
		assert.Equal(t, of, p.Is(difference.FlagBent))
		if of {
			marked++
		}
	}
	assert.Equal(t, 2, marked)
}
