package desk

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/series"
	"wane/study/shape"
)

// trendOf is the trend of the solar transmittance, over the dose.
func trendOf(t *testing.T, d *Desk, opt TrendOptions) *Trend {
	t.Helper()
	opt.Quantity, opt.In, opt.Limit, opt.Shape = "solar_T", shape.InDose, math.NaN(), shape.Linear
	tr, err := d.Trend(context.Background(), opt)
	require.NoError(t, err)
	return tr
}

// The rate of a coupon, by generalised least squares through the origin of its corrected changes at 90 and 180 days: by
// the formula for two values, with the covariance of the rows of results. And what is not shown takes part in the mixed
// model all the same, and pulls that do not count do not.
func TestTrendFollowsTheRowsOfResults(t *testing.T) {
	d := seriesStudy(t)
	changes := meansOfRows(results(t, d), func(r *study.Result) (float64, []study.Weighted) {
		return float64(r.CorrectedChange.Value), r.CorrectedTerms
	})
	tr := trendOf(t, d, TrendOptions{By: shape.ByCoupon})
	require.Len(t, tr.Groups, 2)
	for _, g := range tr.Groups {
		one, two := [2]string{g.Name, "1"}, [2]string{g.Name, "2"}
		covariance := func(a, b [2]string) float64 { return study.Covariance(changes.terms[a], changes.terms[b]) }
		// With x = (1, 2)·90, and the inverse of the covariance but for its determinant:
		w1 := covariance(two, two) - 2*covariance(one, two)
		w2 := 2*covariance(one, one) - covariance(one, two)
		rate := (w1*changes.value[one] + w2*changes.value[two]) / (w1 + 2*w2) / 90
		require.Len(t, g.Fits, 1)
		assert.InEpsilon(t, rate, g.Fits[0].Parameters[0].Value, 1e-6, g.Name)
	}
	rows := tr.Rows()
	require.Len(t, rows, 4)
	assert.Equal(t, "pp/day", rows[0].Unit)
	assert.Equal(t, 2, rows[0].Pulls)
	assert.Equal(t, "theil-sen", rows[1].Method)

	all := trendOf(t, d, TrendOptions{By: shape.ByLot})
	require.Len(t, all.Groups, 2)
	some := trendOf(t, d, TrendOptions{By: shape.ByLot, Shown: func(c *series.Coupon) bool { return c.Coupon == "E1" }})
	require.Len(t, some.Groups, 1)
	assert.Equal(t, all.Groups[0].Rate.Value, some.Groups[0].Rate.Value)
	early := trendOf(t, d, TrendOptions{By: shape.ByCoupon, Pulls: study.Spans{{From: 1, To: 1}}})
	assert.Equal(t, []float64{90}, early.Groups[0].Path.X)
	curves, err := all.Curves(shape.ByLot, shape.InDays)
	require.NoError(t, err)
	require.Len(t, curves, 2)
	assert.Equal(t, "K / 1", curves[0].Name)
	require.Len(t, curves[0].Means, 3)
	assert.Equal(t, 180.0, curves[0].Means[2].X)

	_, err = d.Trend(context.Background(), TrendOptions{Quantity: "solar_T", By: shape.ByCoupon, Shape: shape.Linear,
		In: shape.InDose, Limit: math.NaN(), Pulls: study.Spans{{From: 7, To: 7}}})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Contains(t, refusal.Fault, "solar_T of E1: cannot be told from these data, because it was read at its baseline")
}
