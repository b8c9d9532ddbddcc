package population_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/population"
	"wane/study/series"
)

// A coating whose path bends changes neither the difference of the two others nor its interval by much: its misfit is in a
// variance of the residual of its own. With one variance for all the interval was several times as long.
func TestABendOfOneCoatingIsItsOwn(t *testing.T) {
	straight := fitted(t, example(t), population.Options{})
	names := []string{straight.Groups[0].Name, straight.Groups[1].Name, straight.Groups[2].Name}
	bent := example(t)
	for i := range bent.Coupons {
		c := &bent.Coupons[i]
		if c.Coating != names[0] {
			continue
		}
		most := c.Points[len(c.Points)-1].Dose
		for k := range c.Points {
			p := &c.Points[k]
			p.Level.Value -= 4 * math.Pow(p.Dose/most, 4)
		}
	}
	p := fitted(t, bent, population.Options{})
	want, got := straight.Difference(1, 2), p.Difference(1, 2)
	require.Empty(t, got.Why)
	assert.InDelta(t, want.Value, got.Value, 0.1*want.SE)
	assert.InEpsilon(t, want.SE, got.SE, 0.1)
	var of []string
	for _, c := range p.Components {
		if c.Name == population.Residual {
			of = append(of, c.Of)
		}
	}
	assert.Equal(t, []string{"", names[0]}, of)
	alone := fitted(t, keep(bent, func(_ int, c *series.Coupon) bool { return c.Coating != names[0] }), population.Options{})
	assert.InDelta(t, alone.Difference(0, 1).Value, got.Value, 0.1*want.SE)
}
