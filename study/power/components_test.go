package power_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/power"
	"wane/study/series"
)

// coupons are exposed coupons of a coating and a lot, with these changes. Each has an own variance of 0.0004, and an error of 0.03
// that all of the coating have in common.
func coupons(coating, lot string, effect int, changes ...float64) (all []series.Coupon) {
	for i, change := range changes {
		v := series.Value{Value: change, Errors: series.Errors{Known: true, Own: 0.0004,
			Shared: []series.Share{{Effect: effect, By: 0.03}}}}
		all = append(all, series.Coupon{Coupon: fmt.Sprint(coating, lot, i), Role: study.Exposed, Coating: coating, Lot: lot,
			Exposure: "roof", Points: []series.Point{{Pull: 1, Change: v}}})
	}
	return all
}

// By hand: two lots of three. Within: 0.1, 0.2, 0.3 and 0.2, 0.3, 0.4 have sums of squares of 0.02 each, so s² = 0.04/4 = 0.01, of which
// errors make 0.0004; what all share makes no scatter. The means 0.2 and 0.3 have a sum of squares of 3·2·0.05² = 0.015 with one
// degree of freedom, so Lot² = (0.015 - 0.01)/3. The interval by qchisq(c(.025, .975), 4) = 0.484419, 11.143287 (R 4.2.2).
func TestComponents(t *testing.T) {
	data := &series.Data{Coupons: append(append(coupons("A", "1", 0, 0.1, 0.2, 0.3), coupons("A", "2", 0, 0.2, 0.3, 0.4)...),
		coupons("B", "1", 1, 0.5)...)}
	all := power.ComponentsAt(data, "roof", 1)
	require.Len(t, all, 2)
	a, b := &all[0], &all[1]
	assert.InDelta(t, 0.02, a.U, 1e-12)
	assert.InDelta(t, math.Sqrt(0.0096), a.Coupon, 1e-12)
	assert.InDelta(t, math.Sqrt(0.005/3), a.Lot, 1e-12)
	assert.InDelta(t, math.Sqrt(0.04/11.143287-0.0004), a.Low, 1e-6)
	assert.InDelta(t, math.Sqrt(0.04/0.484419-0.0004), a.High, 1e-6)
	assert.InDelta(t, 0.25, a.Mean, 1e-12)
	assert.InDelta(t, 0.03, a.CommonU(), 1e-12)
	// one coupon says nothing of its coating
	assert.True(t, math.IsNaN(b.Coupon) && math.IsNaN(b.U) && math.IsNaN(b.Low))
	// of two coatings with errors of their own, both of them 0.03
	data.Coupons = append(data.Coupons, coupons("B", "1", 1, 0.6)...)
	all = power.ComponentsAt(data, "roof", 1)
	assert.InDelta(t, math.Hypot(0.03, 0.03), power.Shared(&all[0], &all[1]), 1e-12)
	assert.Empty(t, power.ComponentsAt(data, "chamber", 1))
}
