package fields_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/protocols/fields"
)

// Numbers are read with their sign and exponent, and refused outside their range, with the line. All faults of a text are
// found in one reading, in the order of the lines.
func TestNumbers(t *testing.T) {
	const text = "a: -2.5e-1\nb: 3\nc: much\nd: 1e999\n"
	var r fields.Reader
	top := r.Open([]byte(text), "plan", "write something")
	require.NotNil(t, top)
	f := r.Fields(top, "a plan", []string{"a", "b", "c", "d"})
	require.NotNil(t, f)
	assert.InDelta(t, -0.25, r.Number("a", f.At("a"), -1, 1, "a number"), 1e-15)
	for _, name := range []string{"d", "c", "b"} {
		assert.True(t, math.IsNaN(r.Number(name, f.At(name), 0, 2, "a number of something")), name)
	}
	var faults fields.Faults
	require.ErrorAs(t, r.Err(), &faults)
	require.Len(t, faults, 3)
	assert.Equal(t, fields.Fault{Line: 2, What: "b must be from 0 to 2, not 3", Try: "write a number of something"}, faults[0])
	assert.Equal(t, 3, faults[1].Line)
	assert.Equal(t, 4, faults[2].Line)
	assert.Contains(t, faults[2].What, `d is not a number: "1e999"`)
}
