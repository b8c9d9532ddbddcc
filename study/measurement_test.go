package study_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
)

// The law of propagation for independent inputs (JCGM 100:2008, 5.1.2), with right
// triangles: 3, 4, 5 and 5, 12, 13.
func TestMinus(t *testing.T) {
	null := study.Null()
	for _, c := range []struct {
		name       string
		a, b, want study.Measure
	}{
		{"both known", study.Measure{Value: 118, U: 3}, study.Measure{Value: 120.5, U: 4}, study.Measure{Value: -2.5, U: 5}},
		{"the other way round", study.Measure{Value: 120.5, U: 12}, study.Measure{Value: 118, U: 5},
			study.Measure{Value: 2.5, U: 13}},
		{"an uncertainty not known", study.Measure{Value: 118, U: null}, study.Measure{Value: 120, U: 4},
			study.Measure{Value: -2, U: null}},
		{"the other one not known", study.Measure{Value: 118, U: 4}, study.Measure{Value: 120, U: null},
			study.Measure{Value: -2, U: null}},
		{"no value", study.NoMeasure(), study.Measure{Value: 120, U: 4}, study.NoMeasure()},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := c.a.Minus(c.b)
			for _, n := range []struct{ want, got study.Num }{{c.want.Value, got.Value}, {c.want.U, got.U}} {
				assert.Equal(t, n.want.Valid(), n.got.Valid())
				if n.want.Valid() {
					assert.InDelta(t, float64(n.want), float64(n.got), 1e-14) // rounding
				}
			}
		})
	}
}

// The units that tables of measurements are documented to be in.
func TestUnitsOfMeasurands(t *testing.T) {
	for quantity, unit := range map[string]string{"haze": "percent", "gloss": "GU", "contact_angle": "degrees",
		"mass": "g", "thickness": "nm", "charm": ""} {
		m := study.Measurement{Quantity: quantity}
		assert.Equal(t, unit, m.Unit(), quantity)
	}
	assert.Len(t, study.Measurands(), 5)
}
