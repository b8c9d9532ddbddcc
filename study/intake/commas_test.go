package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// Rows of only commas are read with decimal commas in the one way that fits all rows and
// the headings, or not at all.
func TestReadOnlyCommas(t *testing.T) {
	const ambiguous = "every comma can separate columns or be a decimal mark: "
	comma := text.Stated{Decimal: "comma"}
	for _, c := range []struct {
		name, text string
		stated     text.Stated
		offered    []string // values of --decimal
		fault      string
		want       []curve
	}{
		{"whole wavelengths are suspected", "nm,%R\n400,8,00\n420,11,37\n", text.Stated{}, []string{"point", "comma"},
			"g.csv:2: " + ambiguous + "[400 | 8 | 00] and [400 | 8,00] both fit all rows", nil},
		{"whole wavelengths", "nm,%R\n400,8,00\n420,11,37\n", comma, nil, "",
			[]curve{{2, "%R", unstated, []float64{400, 420}, []float64{0.08, 0.1137}}}},
		{"a heading for each piece", "nm,%R,%R,%R\n400,0,8,00\n420,5,11,37\n", text.Stated{}, []string{"point"},
			"g.csv:2: " + ambiguous + "the first row is [400 | 0 | 8 | 00] or one with decimal commas", nil},
		{"a heading for each piece, and decimal commas", "nm,%R,%R,%R\n400,0,8,00\n420,5,11,37\n", comma, nil,
			"g.csv:2: with decimal commas the rows do not make the 4 columns that the headings name", nil},
		{"two headings for three pieces", "nm,%R 8 deg,%R 60 deg\n400,8,00\n420,11,37\n", text.Stated{}, []string{"point"},
			"g.csv:2: " + ambiguous + "the first row is [400 | 8 | 00] or one with decimal commas", nil},
		{"no zero tells", "nm,%R\n400,8,1\n420,11,3\n", text.Stated{}, []string{"point"},
			"g.csv:2: " + ambiguous + "the first row is [400 | 8 | 1], [400,8 | 1] or [400 | 8,1]", nil},
		{"no zero tells, and decimal commas", "nm,%R\n400,8,1\n420,11,3\n", comma, nil,
			"g.csv:2: with decimal commas the first row is [400,8 | 1] or [400 | 8,1]: both fit all rows", nil},
		{"the answer to columns does not settle it", "nm,%R\n400,8,1\n420,11,3\n", text.Stated{Columns: "2"},
			[]string{"point"},
			"g.csv:2: " + ambiguous + "the first row is [400 | 8 | 1], [400,8 | 1] or [400 | 8,1]", nil},
		{"nor does a map", "nm,%R\n400,8,1\n420,11,3\n", text.Stated{InMap: true}, []string{"point"},
			"g.csv:2: " + ambiguous + "the first row is [400 | 8 | 1], [400,8 | 1] or [400 | 8,1]", nil},
		{"two curves", "nm,G07 %R,G08 %R\n400,8,05,9,1\n420,11,37,9,0\n", comma, nil, "",
			[]curve{{2, "G07 %R", unstated, []float64{400, 420}, []float64{0.0805, 0.1137}}, {3, "G08 %R", unstated,
				[]float64{400, 420}, []float64{0.091, 0.09}}}},
		{"some rows have a decimal less", "nm,%R\n400,8,05\n401,9\n", comma, nil,
			"g.csv:2: with decimal commas the rows do not make the 2 columns that the headings name", nil},
		{"a count among them", "nm,sweeps,%R\n400,12,8,05\n401,12,8,17\n402,13,9,20\n", text.Stated{Decimal: "comma",
			Columns: "3"}, nil, "",
			[]curve{{3, "%R", unstated, []float64{400, 401, 402}, []float64{0.0805, 0.0817, 0.092}}}},
		{"no headings", "400,5,8,05\n401,5,11,37\n", text.Stated{Decimal: "comma", Unit: "percent", WavelengthUnit: "nm",
			Quantity: "R"}, nil, "",
			[]curve{{2, "", unstated, []float64{400.5, 401.5}, []float64{0.0805, 0.1137}}}},
		{"whole numbers with a heading each", "nm,G07 %R,G08 %R\n400,8,10\n420,11,37\n", text.Stated{}, nil, "",
			[]curve{{2, "G07 %R", unstated, []float64{400, 420}, []float64{0.08, 0.11}}, {3, "G08 %R", unstated,
				[]float64{400, 420}, []float64{0.1, 0.37}}}},
		{"zeros first in rows of two cells", "nm,%R\n400,05\n420,11\n", text.Stated{}, nil, "",
			[]curve{{2, "%R", unstated, []float64{400, 420}, []float64{0.05, 0.11}}}},
		{"names before", "G07,400,8,00\nG07,420,11,37\n", text.Stated{Decimal: "comma", GroupBy: "1"}, nil,
			"g.csv: no rows contain numbers in the columns besides 1", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			export, err := intake.Read("g.csv", []byte(c.text), c.stated)
			if c.want != nil {
				require.NoError(t, err)
				requireCurves(t, c.want, curvesOf(export))
				return
			}
			require.Error(t, err)
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal)
			if c.fault != "" {
				assert.Equal(t, c.fault, err.Error())
			}
			var offered []string
			for _, choice := range refusal.Choices {
				assert.Equal(t, "decimal", choice.Name)
				offered = append(offered, choice.Value)
			}
			assert.Equal(t, c.offered, offered)
		})
	}
}
