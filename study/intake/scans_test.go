package intake_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// rowsOf writes wavelengths from lo to hi with a value and more cells behind it.
func rowsOf(lo, hi, step int, more string) string {
	var b strings.Builder
	for nm := lo; nm <= hi; nm += step {
		fmt.Fprintf(&b, "%d,%d.%d%s\n", nm, 4+nm%7, nm%9, more)
	}
	return b.String()
}

// Wavelengths that start again are those of another detector only over a small part of
// them. Nothing that is stated joins them otherwise.
func TestReadDistinguishesScansFromDetectors(t *testing.T) {
	const again = "the wavelengths start again, as in another curve and not as in another detector"
	for _, c := range []struct {
		name, text string
		offered    []string // of the first choices, name and value
		fault      string   // part of it
	}{
		{"the same range again", "nm,%R\n" + rowsOf(400, 1100, 50, "") + rowsOf(400, 1100, 50, ""), nil,
			"400 nm follows 1100 nm: " + again},
		{"a part of the range again", "nm,%R\n" + rowsOf(400, 1100, 50, "") + rowsOf(400, 600, 50, ""), nil,
			"400 nm follows 1100 nm: " + again},
		{"two angles", "nm,%R,angle\n" + rowsOf(400, 1100, 50, ",8") + rowsOf(400, 1100, 50, ",60"), []string{"group-by 3"},
			"400 nm follows 1100 nm: " + again},
		{"two angles, one down", "nm,%R,angle\n" + rowsOf(400, 1100, 50, ",8") + "1100,4,60\n1050,4.1,60\n600,4.2,60\n",
			[]string{"group-by 3"}, "1100 nm follows 1100 nm: " + again},
		{"two names", "nm,%R,coupon,angle\n" + rowsOf(400, 500, 50, ",7,8") + rowsOf(400, 500, 50, ",8,60"),
			[]string{"group-by 3,4"}, again},
		{"a name that does not tell all apart", "nm,%R,coupon\n" + rowsOf(400, 500, 50, ",7") + rowsOf(400, 500, 50,
			",7") + rowsOf(400, 500, 50, ",8"), nil, again},
		{"many scans", "nm,%R\n" + strings.Repeat("400,4\n401,5\n402,6\n", 12), nil, again},
		{"two detectors", "nm,%R\n" + rowsOf(400, 900, 50, "") + rowsOf(850, 1400, 50, ""), []string{"overlap first",
			"overlap average"}, "850 nm follows 900 nm; two detectors"},
		{"far below", "nm,%R\n" + rowsOf(400, 1100, 50, "") + "2,1.0\n", nil,
			"2 nm stands apart from the wavelengths before it"},
		{"no wavelength at all", "nm,%R\n" + rowsOf(400, 1100, 50, "") + "-9999,4\n", nil,
			"-9999 nm stands apart from the wavelengths before it"},
		{"a point within", "nm,%R\n" + rowsOf(400, 1100, 50, "") + "700,4\n", nil,
			"700 nm stands apart from the wavelengths before it"},
		{"the last point again", "nm,%R\n" + rowsOf(400, 1100, 50, "") + "1100,4\n", []string{"overlap first",
			"overlap average"}, "1100 nm stands here and in line 16 too"},
	} {
		for _, stated := range []text.Stated{{}, {Overlap: "first"}, {Overlap: "average"}} {
			export, err := intake.Read("g.csv", []byte(c.text), stated)
			if stated.Overlap != "" && len(c.offered) == 2 {
				require.NoError(t, err, c.name)
				assert.Len(t, export.Spectra, 1)
				continue
			}
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal, c.name)
			assert.Contains(t, refusal.Fault, c.fault, c.name)
			var offered []string
			for _, choice := range refusal.Choices {
				offered = append(offered, choice.Name+" "+choice.Value)
			}
			assert.Equal(t, c.offered, offered, c.name)
		}
	}
}
