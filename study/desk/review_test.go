package desk

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// A selection that no reading can match is wrong usage, also where it is used.
func TestSelectionIsChecked(t *testing.T) {
	for _, angle := range []float64{0, 8, 89.9, math.NaN()} {
		assert.NoError(t, (&Selection{AngleDeg: study.Num(angle), Polarisation: "n"}).Check(), "%g", angle)
	}
	d := newFolder(t).start()
	for fault, of := range map[string]Selection{
		"--angle must be from 0 to below 90 degrees, not 90":      {AngleDeg: 90},
		"--angle must be from 0 to below 90 degrees, not -1":      {AngleDeg: -1},
		"--angle must be from 0 to below 90 degrees, not +Inf":    {AngleDeg: study.Num(math.Inf(1))},
		`--polarisation must be one of s, p, u, n, not "S"`:       {AngleDeg: study.Null(), Polarisation: "S"},
		`--polarisation must be one of s, p, u, n, not "s and p"`: {AngleDeg: 8, Polarisation: "s and p"},
	} {
		var usage *UsageError
		_, err := d.Judgements(t.Context(), of)
		require.ErrorAs(t, err, &usage, fault)
		assert.Equal(t, fault, usage.Fault)
		_, err = d.Review(t.Context(), of, study.Aside, "made up")
		require.ErrorAs(t, err, &usage, fault)
	}
}

func TestEverHeldCountsReadingsNotHolds(t *testing.T) {
	r := Reviewed{Changed: []Judged{{}, {Holds: make([]study.Hold, 2)}, {Holds: make([]study.Hold, 1)}}}
	assert.Equal(t, 2, r.EverHeld())
}
