package frame_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/frame"
	"wane/study/series"
)

func TestOfSeries(t *testing.T) {
	d := &series.Data{Effects: []study.Effect{{Owner: study.OwnerSession, Of: "s", Name: "scale"}},
		Coupons: []series.Coupon{{Coupon: "A1", Role: study.Exposed, Coating: "A", DoseUnit: "days", Points: []series.Point{
			{Pull: 0, Dose: 0, Days: 0, Spots: 2, Baseline: true, Level: series.Value{Value: 98},
				Change: series.Value{Value: 0, Errors: series.Errors{Known: true}}},
			{Pull: 1, Dose: 90, Days: 91, Spots: 2, Flags: []string{"structure", "thin"}, Level: series.Value{Value: 97.9},
				Change: series.Value{Value: -0.123456789, Errors: series.Errors{Known: true, Own: 9e-4,
					Shared: []series.Share{{Effect: 0, By: 0.04}}}}},
		}}}}
	f := frame.OfSeries(d)
	require.NoError(t, f.Err)
	assert.Equal(t, 2, f.Nrow())
	assert.Equal(t, "structure thin", f.Col("flags").Elem(1).String())
	assert.Equal(t, -0.123456789, f.Col("change").Elem(1).Float(), "no rounding inside")
	assert.InDelta(t, 0.05, f.Col("u_change").Elem(1).Float(), 1e-15) // 0.03² + 0.04² = 0.05²
	assert.True(t, math.IsNaN(f.Col("u_level").Elem(0).Float()), "its errors are not known")
}
