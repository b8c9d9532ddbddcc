package study_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
)

// A heading that says 8 degrees and a person who states 60 do not agree; what only one of
// them says holds.
func TestAgreedAngle(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct {
		said, stated, want float64
		ok                 bool
	}{
		{8, 60, 8, false}, {8, 8, 8, true}, {8, none, 8, true}, {none, 60, 60, true}, {0, none, 0, true},
	} {
		got, ok := study.AgreedAngle(c.said, c.stated)
		assert.Equal(t, c.want, got, "%+v", c)
		assert.Equal(t, c.ok, ok, "%+v", c)
	}
	got, ok := study.AgreedAngle(none, none)
	assert.True(t, math.IsNaN(got))
	assert.True(t, ok)
}

// A native beam may be stated where the export says unpolarised, and not the other way round.
func TestAgreedPolarisation(t *testing.T) {
	for _, c := range []struct {
		said, stated, want string
		ok                 bool
	}{
		{"s", "p", "s", false}, {"s", "s", "s", true}, {"s", "", "s", true}, {"", "p", "p", true}, {"", "", "", true},
		{"u", "n", "n", true}, {"n", "u", "n", false}, {"s", "n", "s", false},
	} {
		got, ok := study.AgreedPolarisation(c.said, c.stated)
		assert.Equal(t, c.want, got, "%+v", c)
		assert.Equal(t, c.ok, ok, "%+v", c)
	}
}
