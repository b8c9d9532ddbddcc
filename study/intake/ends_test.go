package intake_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
)

// A first or last row far from all others, such as a year among settings, is asked about;
// the gap between two ranges that were measured is not.
func TestReadAsksAboutARowApart(t *testing.T) {
	var rows strings.Builder
	for nm := 400; nm <= 500; nm += 5 {
		fmt.Fprintf(&rows, "%d,4.%02d\n", nm, nm%97)
	}
	const head = "nm,%R\n"
	for name, c := range map[string]struct {
		text, at string
		ranges   []string
	}{
		"last":  {head + rows.String() + "2024,5\n", "23:1: 2024 nm", []string{"400-500", "400-2024"}},
		"first": {head + "141,1\n" + rows.String(), "2:1: 141 nm", []string{"400-500", "141-500"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := intake.Read("g.csv", []byte(c.text), intake.Stated{})
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal)
			assert.EqualError(t, err, "g.csv:"+c.at+" stands far from the other wavelengths, which run from 400-500")
			for i, want := range c.ranges {
				require.Equal(t, want, refusal.Choices[i].Value)
				export, err := intake.Read("g.csv", []byte(c.text), intake.Stated{Range: want})
				require.NoError(t, err)
				assert.Len(t, export.Spectra[0].NM, 21+i)
			}
		})
	}
	export, err := intake.Read("g.csv", []byte(head+rows.String()+"555,4.1\n560,4.2\n565,4.1\n"), intake.Stated{})
	require.NoError(t, err)
	assert.Len(t, export.Spectra[0].NM, 24)
}
