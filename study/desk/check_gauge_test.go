package desk

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/gauge"
)

// A coated coupon and a blank, each set down twelve times with the default scatter of the law: what is found agrees
// with what the uncertainties of the fits contain for placement and noise, and nothing is said of other sessions.
func TestGaugeOfRemountedCoupons(t *testing.T) {
	_, d := remounted(t)
	ctx := context.Background()
	before := dump(t, d)
	g, err := d.Gauge(ctx, GaugeOptions{Coupons: []string{"E1", "B1"}})
	require.NoError(t, err)
	assert.Equal(t, before, dump(t, d), "nothing is changed")
	assert.Equal(t, 24, g.Sets)
	assert.Len(t, g.Units, 2)
	assert.Equal(t, []PlacementOptions{{"B1", "one"}, {"E1", "one"}}, g.Remountings)
	for _, s := range g.Remountings {
		_, err := d.Placement(ctx, s)
		assert.NoError(t, err, "what is listed can be asked for")
	}
	require.Equal(t, "solar_T", g.Quantities[0].Name)
	q := g.Quantities[0]
	assert.Equal(t, []float64{22, 24}, []float64{q.Placement.DoF, float64(q.Placement.Groups)})
	assert.Equal(t, gauge.Repeatability, q.Placement.With)
	assert.NotEmpty(t, q.Reproducibility.Why)
	assert.NotEmpty(t, q.Repeatability.Why)
	assert.Less(t, q.Placement.Lower, float64(q.StatedWithin))
	assert.Greater(t, q.Placement.Upper, float64(q.StatedWithin)/2, "the fits also know of how surfaces change, which "+
		"these do not")
	assert.Positive(t, float64(q.StatedSession))

	// Two placements of another coupon in session two are enough for a number, and too few for one of its own.
	g, err = d.Gauge(ctx, GaugeOptions{Coupons: []string{"C1"}, Sessions: []string{"two"}})
	require.NoError(t, err)
	assert.Equal(t, 1.0, g.Quantities[0].Placement.DoF)
	assert.Empty(t, g.Remountings)

	for _, bad := range []GaugeOptions{{Coupons: []string{"E9"}}, {Coupons: []string{"C1"}, Sessions: []string{"one"}},
		{Coupons: []string{"C1"}, Sessions: []string{"none"}}} {
		_, err := d.Gauge(ctx, bad)
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused, "%v", bad)
		assert.NotEmpty(t, refused.Try)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err = d.Gauge(stopped, GaugeOptions{Coupons: []string{"E1"}})
	assert.ErrorIs(t, err, context.Canceled)
}
