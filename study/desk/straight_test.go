package desk

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// A coating that loses light slowly at first and fast later is bent, one on a straight line is not, and one of which
// nothing was read is neither.
func TestBentGroups(t *testing.T) {
	d := &series.Data{Quantity: series.Quantity{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1},
		Route: study.RouteControls}
	for coating, y := range map[string][]float64{"bent": {-.02, -.11, -.47}, "straight": {-.1, -.2, -.4}, "none": nil} {
		for i, more := range []float64{-.002, 0, .003} {
			c := series.Coupon{Coupon: fmt.Sprint(coating, i), Role: study.Exposed, Coating: coating, Lot: "1", Exposure: "roof",
				DoseUnit: "days", Points: []series.Point{{Baseline: true}}}
			for k := range y {
				c.Points = append(c.Points, series.Point{Pull: k + 1, Dose: []float64{90, 180, 365}[k], Days: 1 + float64(k),
					Change: series.Value{Value: y[k] + more*float64(k), Errors: series.Errors{Known: true, Own: 1e-4}}})
			}
			d.Coupons = append(d.Coupons, c)
		}
	}
	for _, by := range []population.By{population.ByCoating, population.ByLot} {
		bent, err := bentGroups(d, population.Options{By: by})
		require.NoError(t, err)
		assert.Equal(t, map[[2]string]bool{{"bent", "roof"}: true}, bent)
	}
}
