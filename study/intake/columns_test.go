package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// What a person states of quantity and unit makes no curve of a column that holds
// something else.
func TestReadStatesNothingOfOtherColumns(t *testing.T) {
	stated := text.Stated{Quantity: "R", Unit: "percent"}
	for _, c := range []struct{ name, heading, offered, fault string }{
		{"counts", "nm,sample,%R", "3",
			`g.csv:1:4: column "sample" does not say that it contains reflectance; the headings of other columns do`},
		{"in percent", "nm,Sample %,%R", "3",
			`g.csv:1:4: column "Sample %" does not say that it contains reflectance; the headings of other columns do`},
		{"a name", "nm,%R,G08", "2",
			`g.csv:1:7: column "G08" does not say that it contains reflectance; the headings of other columns do`},
		{"beside transmittance", "nm,%T,G08", "2", ""},
		{"an index of refraction alone", "nm,refractive index", "",
			`g.csv:1:4: column "refractive index" is no reflectance by its name, and no other column remains`},
		{"a temperature alone", "nm,Temp", "",
			`g.csv:1:4: column "Temp" is no reflectance by its name, and no other column remains`},
	} {
		row := ",4.12,3.5\n"
		if c.offered == "" {
			row = ",4.12\n"
		}
		given := stated
		if c.name == "beside transmittance" {
			given = text.Stated{Unit: "percent"}
		}
		_, err := intake.Read("g.csv", []byte(c.heading+"\n400"+row+"401"+row+"402"+row), given)
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, c.name)
		if c.fault != "" {
			assert.Equal(t, c.fault, err.Error(), c.name)
		}
		if c.offered == "" {
			assert.Empty(t, refusal.Choices, c.name)
			continue
		}
		require.Len(t, refusal.Choices, 2, c.name)
		assert.Equal(t, study.Choice{Name: "columns", Value: c.offered,
			Meaning: "the columns whose headings say what they contain; the others are skipped"}, refusal.Choices[0], c.name)
		assert.Equal(t, "2,3", refusal.Choices[1].Value, c.name)
	}
	export, err := intake.Read("g.csv", []byte("nm,CV %,%R,refractive index\n400,1,4.12,1.5\n401,1,4.07,1.5\n"), stated)
	require.NoError(t, err)
	requireCurves(t, []curve{{3, "%R", unstated, []float64{400, 401}, []float64{0.0412, 0.0407}}}, curvesOf(export))
	assert.Equal(t, []string{"column 2 (CV %) is skipped: no reflectance by its name",
		"column 4 (refractive index) is skipped: no reflectance by its name"}, export.Notes)

	export, err = intake.Read("g.csv", []byte("nm,time 0 h,time 100 h\n400,4.12,4.2\n401,4.07,4.1\n"), stated)
	require.NoError(t, err, "a series")
	assert.Len(t, export.Spectra, 2)

	export, err = intake.Read("g.csv", []byte("nm,%R,sample\n400,4.12,300\n401,4.07,301\n"), text.Stated{InMap: true})
	require.NoError(t, err, "a map names its columns")
	require.Len(t, export.Spectra, 1)
	assert.Equal(t, []study.SkippedColumn{{Column: 3, Heading: "sample",
		Why: "its heading does not say that it contains reflectance; the headings of other columns do"}}, export.Skipped)
}
