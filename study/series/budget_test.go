package series_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/series"
)

// The parts of a mean add up to its variance by the covariance of each pair of values, worked out here value by value.
func TestBudgetAddsUpToTheVarianceOfTheMean(t *testing.T) {
	d := &series.Data{Effects: []study.Effect{{Owner: study.OwnerSession, Of: "s1", Name: "scale"},
		{Owner: study.OwnerSession, Of: "s2", Name: "scale"}, {Owner: study.OwnerPlacement, Of: "A", Name: "factor"},
		{Owner: study.OwnerCoating, Of: "K", Name: "index"}}}
	values := []*series.Errors{
		{Known: true, Shared: []series.Share{{Effect: 0, By: 0.03}, {Effect: 2, By: 0.01}, {Effect: 3, By: 0.005}},
			Own: 1e-4},
		{Known: true, Shared: []series.Share{{Effect: 0, By: 0.02}, {Effect: 3, By: -0.005}}, Own: 4e-4},
		{Known: true, Shared: []series.Share{{Effect: 1, By: 0.04}}, Own: 2e-4},
	}
	variance := 0.0
	for i, a := range values {
		for k, b := range values {
			if i == k {
				variance += a.Variance()
			} else {
				variance += series.Covariance(a, b)
			}
		}
	}
	variance /= 9
	parts := d.Budget(values)
	sum := 0.0
	got := map[study.Owner]float64{}
	for i, p := range parts {
		sum += p.Variance
		got[p.Owner] = p.Variance
		if i > 0 {
			assert.LessOrEqual(t, p.Variance, parts[i-1].Variance)
		}
	}
	assert.InDelta(t, variance, sum, 1e-16)
	// By hand: (0.03 + 0.02)²/9 + 0.04²/9, 0.01²/9, and 7e-4/9; what the coating has cancels.
	require.Len(t, parts, 3)
	assert.InDelta(t, (0.05*0.05+0.04*0.04)/9, got[study.OwnerSession], 1e-16)
	assert.InDelta(t, 1e-4/9, got[study.OwnerPlacement], 1e-16)
	assert.InDelta(t, 7e-4/9, got[""], 1e-16)

	assert.Nil(t, d.Budget(nil))
	assert.Nil(t, d.Budget(append(values, &series.Errors{Own: math.NaN()})))
}

// The budget of a group is that at its last pull that most coupons have, of the coupons that are exposed.
func TestBudgetsOfGroups(t *testing.T) {
	point := func(pull int, change, own float64) series.Point {
		return series.Point{Pull: pull, Change: series.Value{Value: change, Errors: series.Errors{Known: true, Own: own}}}
	}
	base := series.Point{Baseline: true, Change: series.Value{Errors: series.Errors{Known: true}}}
	unknown := series.Point{Pull: 1, Change: series.Value{Value: -9}}
	d := &series.Data{Coupons: []series.Coupon{
		{Coupon: "A1", Role: study.Exposed, Coating: "K", Exposure: "roof", Points: []series.Point{base, point(1, -0.1, 1),
			point(2, -0.3, 4),
			point(3, -0.9, 1)}},
		{Coupon: "A2", Role: study.Exposed, Coating: "K", Exposure: "roof", Points: []series.Point{base, point(1, -0.2, 1),
			point(2, -0.5, 4)}},
		{Coupon: "A3", Role: study.Exposed, Coating: "K", Exposure: "roof", Points: []series.Point{base, unknown, point(2,
			-0.4, 4)}},
		{Coupon: "B1", Role: study.Exposed, Coating: "J", Exposure: "roof", Points: []series.Point{point(1, -0.2, 9)}},
		{Coupon: "C1", Role: study.Control, Coating: "K", Points: []series.Point{point(2, 5, 1)}},
	}}
	all := d.Budgets(func(c *series.Coupon) string { return c.Coating })
	require.Len(t, all, 2)
	assert.Equal(t, "J", all[0].Group)
	assert.Equal(t, 3.0, all[0].U(""))
	assert.Zero(t, all[0].U(study.OwnerSession))
	assert.True(t, math.IsNaN(all[0].Scatter), "one coupon")
	k := all[1]
	assert.Equal(t, []any{"K", "roof", 2, 3}, []any{k.Group, k.Exposure, k.Pull, k.Coupons})
	assert.InDelta(t, 12.0/9, k.Variance(), 1e-12)
	assert.InDelta(t, 0.1/math.Sqrt(3), k.Scatter, 1e-12, "the standard deviation of -0.3, -0.5 and -0.4 is 0.1")
}
