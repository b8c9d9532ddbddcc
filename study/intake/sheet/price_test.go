package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

func TestReadPrices(t *testing.T) {
	all, err := ReadPrices("prices.csv", []byte("Coating;price_per_kWp;cleanings_per_year;loss_per_cleaning_pp\n# "+
		"made up\nK-1;12,5;2;0,03\nK-2;0;;\n"))
	require.NoError(t, err)
	assert.Equal(t, []Price{{Line: 3, Coating: "K-1", Price: 12.5, Cleanings: 2, CleaningLoss: 0.03},
		{Line: 4, Coating: "K-2"}}, all)
	for text, want := range map[string]string{
		"coating,price\nK,1\n":                              `there is no column "price" here`,
		"coating\nK\n":                                      "the column price_per_kwp is missing",
		"coating,price_per_kwp\n":                           "the table has no rows",
		"coating,price_per_kwp\n,1\n":                       "column coating: the cell is empty",
		"coating,price_per_kwp\nK,\n":                       "column price_per_kwp: the cell is empty",
		"coating,price_per_kwp\nK,dear\n":                   `column price_per_kwp: "dear" is not a number`,
		"coating,price_per_kwp\nK,-1\n":                     "column price_per_kwp: -1 is outside 0 to 1e+06",
		"coating,price_per_kwp\nK,1\nK,2\n":                 `column coating: "K" stands in line 2 already`,
		"coating,price_per_kwp,cleanings_per_year\nK,1,400": "column cleanings_per_year: 400 is outside 0 to 366",
	} {
		_, err := ReadPrices("prices.csv", []byte(text))
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused, text)
		assert.Equal(t, want, refused.Fault, text)
		assert.NotEmpty(t, refused.Try)
	}
}
