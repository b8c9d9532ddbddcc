package population_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// example is the made-up balanced study of three coatings, six coupons and five pulls of which R has fitted the slopes
// (fit/mixed/testdata/unequal_variances_example.R).
func example(t *testing.T) *series.Data {
	file, err := os.Open("../../fit/mixed/testdata/unequal_variances_example.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	d := &series.Data{Quantity: series.Quantity{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1}, Route: study.RouteNone}
	for _, row := range rows[1:] {
		if n := len(d.Coupons); n == 0 || d.Coupons[n-1].Coupon != row[1] {
			d.Coupons = append(d.Coupons, series.Coupon{Coupon: row[1], Role: study.Exposed, Coating: row[0], Exposure: "rig", DoseUnit: "cycles"})
		}
		dose, err := strconv.ParseFloat(row[3], 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(row[4], 64)
		require.NoError(t, err)
		c := &d.Coupons[len(d.Coupons)-1]
		c.Points = append(c.Points, series.Point{Pull: len(c.Points), Dose: dose, Session: row[2], Spots: 1,
			Level: series.Value{Value: y}})
	}
	return d
}

// The differences of the rates against lmerTest 3.1.3 with a variance of levels and of rates for each coating
// (testdata/levels_by_coating.txt), R 4.2.2, and the first one against Welch's t of the rates of the coupons and against
// lmerTest with one variance of levels (fit/mixed/testdata/unequal_variances_example.R): t 0.8060 and 0.8064, df 5.088.
func TestBalancedAgreesWithWelch(t *testing.T) {
	p, err := population.Fit(t.Context(), example(t), population.Options{})
	require.NoError(t, err)
	require.Len(t, p.Groups, 3)
	for _, c := range []struct {
		a, b              int
		estimate, se, dof float64
	}{{1, 0, 0.08663402774, 0.10745026504, 5.088173777}, {2, 0, 0.06446147906, 0.10702181100, 5.007887422},
		{2, 1, -0.02217254868, 0.01047200613, 5.877819336}} {
		e := p.Difference(c.a, c.b)
		require.Empty(t, e.Why)
		assert.InEpsilon(t, c.estimate, e.Value, 1e-7)
		assert.InEpsilon(t, c.se, e.SE, 2e-5)
		assert.InEpsilon(t, c.dof, e.DoF, 1e-4)
	}
	e := p.Difference(1, 0)
	assert.InDelta(t, 0.8060316256, e.Value/e.SE, 5e-3, "Welch")
	assert.InDelta(t, 5.088277843, e.DoF, 1e-3, "Welch")
	assert.InDelta(t, 0.8063746183, e.Value/e.SE, 5e-3)
	assert.InDelta(t, 5.088129659, e.DoF, 1e-3)
	for g := range p.Groups {
		assert.Equal(t, population.SessionIsDose, p.Groups[g].Rate.Why, "all coupons of a pull were read in one session")
	}
}
