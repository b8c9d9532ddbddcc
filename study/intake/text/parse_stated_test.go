package text_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/text"
)

// What a study keeps of statements comes back as it was stated.
func TestStatementsComeBack(t *testing.T) {
	for _, want := range []text.Stated{
		{},
		{Unit: "percent"},
		{Unit: "percent", Columns: "2,4", GroupBy: "1, 2", RelativeTo: "mirror 1, the old one", Range: "400-1100"},
		{WavelengthUnit: "um", Quantity: "R", Decimal: "comma", Thousands: "point", Block: "2", Axis: "1", Overlap: "first",
			Declared: "ignore", Filler: "keep"},
	} {
		var said []string
		for _, a := range want.Answers() {
			if *a.To != "" {
				said = append(said, a.Name+" "+*a.To)
			}
		}
		got, err := text.ParseStated(strings.Join(said, ", "))
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	_, err := text.ParseStated("colour blue")
	assert.ErrorContains(t, err, "colour")
}
