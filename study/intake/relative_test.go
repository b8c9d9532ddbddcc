package intake_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// A header or a heading that says that values are relative asks to what, and offers the
// name that it gives.
func TestReadAsksRelativeTo(t *testing.T) {
	const rows = "400,4.12\n401,4.07\n402,4.03\n"
	for _, c := range []struct{ header, heading, to string }{
		{"Relative to: mirror\n", "%R", "mirror"}, {"Measurement: relative\n", "%R", ""}, {"Reflectance mode: Relative\n",
			"%R", ""},
		{"Y axis: %R relative\n", "%R", ""}, {"Normalised to: mirror\n", "%R", "mirror"}, {"Baseline: M1 mirror\n", "%R",
			"M1 mirror"},
		{"Reference: white tile, not corrected\n", "%R", ""}, {"Reference correction: off\n", "%R", ""},
		{"Reference data applied: no\n", "%R", ""},
		{"Reference: white tile\n", "%R", "white tile"}, {"Ref: mirror M1\n", "%R", "mirror M1"}, {"Calibration: none\n",
			"%R", ""},
		{"Accessory: relative specular reflectance 5 deg\n", "%R", ""},
		{"", "%R rel.", ""}, {"", "%R vs mirror", "mirror"}, {"", "relative %R", ""},
	} {
		s := c.header + "nm," + c.heading + "\n" + rows
		_, err := intake.Read("g.csv", []byte(s), text.Stated{})
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, s)
		require.Len(t, refusal.Choices, 2, s)
		assert.Equal(t, "relative-to absolute", refusal.Choices[0].Name+" "+refusal.Choices[0].Value, s)
		assert.Equal(t, "relative-to "+c.to, refusal.Choices[1].Name+" "+refusal.Choices[1].Value, s)

		export, err := intake.Read("g.csv", []byte(s), text.Stated{RelativeTo: "absolute"})
		require.NoError(t, err, s)
		requireSameBits(t, g07[0].values, export.Spectra[0].Values)
	}
	_, err := intake.Read("g.jdx", []byte(jcamp(tenPoints, "$X= 1\n##REFERENCE= white tile")), text.Stated{})
	assert.EqualError(t, err, "g.jdx:18: the header says that the values are relative to a reference")
}

// What is not said of the values, or says that the reference is accounted for, asks
// nothing. A reference of which nothing is said is reported.
func TestReadTakesAbsolute(t *testing.T) {
	const rows = "nm,%R\n400,4.12\n401,4.07\n402,4.03\n"
	for line, noted := range map[string]bool{
		"Relative humidity: 45 %": false, "Relative uncertainty: 0.5 %": false, "Reference: calibrated mirror M1": false,
		"Reference,M1 certified": false,
		"Baseline: autozero":     false, "Baseline correction: on": false, "Reference correction: on": false,
		"Stray light: not corrected":   false,
		"Reflectance of a white paint": false, "Sample: mirror": false, "White balance: auto": false,
		"Accessory: VN absolute": false,
		"Reference: M1":          true, "Reference,0042": true, "Reference spectrum: background.csv": true,
	} {
		export, err := intake.Read("g.csv", []byte(line+"\n"+rows), text.Stated{})
		require.NoError(t, err, line)
		if noted {
			require.Len(t, export.Notes, 1, line)
			assert.True(t, strings.HasPrefix(export.Notes[0], `"`+line+`" does not say whether`), export.Notes[0])
			continue
		}
		assert.Empty(t, export.Notes, line)
	}
	export, err := intake.Read("g.jdx", []byte(jcamp(tenPoints, "$X= 1\n##REFERENCE= M1")), text.Stated{})
	require.NoError(t, err)
	assert.Contains(t, export.Notes,
		`"##REFERENCE= M1" does not say whether the reflectance of the reference is accounted for; the values were taken `+
			`as absolute`)
}

// Curves in percent that a person states as fractions: the unit is named first.
func TestReadOffersPercentForStatedFractions(t *testing.T) {
	const texts = "nm,R\n400,0.9\n401,1.1\n402,1.2\n"
	_, err := intake.Read("g.csv", []byte(texts), text.Stated{Unit: "fraction"})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t,
		`g.csv:1:4: column "R": 2 of 3 values are above 100 %, the first at 401 nm if they are fractions, as --unit `+
			`says: they are in percent, or relative to something`, err.Error())
	assert.Equal(t, "state --unit percent (or --relative-to absolute or --relative-to NAME), or export values that are "+
		"corrected for the reference", refusal.Try)
	require.Len(t, refusal.Choices, 3)
	assert.Equal(t, "unit percent", refusal.Choices[0].Name+" "+refusal.Choices[0].Value)
	export, err := intake.Read("g.csv", []byte(texts), text.Stated{Unit: "percent"})
	require.NoError(t, err)
	requireSameBits(t, []float64{0.009, 0.011, 0.012}, export.Spectra[0].Values)

	_, err = intake.Read("g.csv", []byte("nm,R (0-1)\n400,0.9\n401,1.1\n402,1.2\n"), text.Stated{})
	assert.EqualError(t, err,
		`g.csv:1:4: column "R (0-1)": 2 of 3 values are above 100 %, the first at 401 nm: they are relative to something`)

	_, err = intake.Read("g.csv", []byte("nm,R\n400,4.1\n401,4.2\n"), text.Stated{Unit: "fraction"})
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, "state --unit percent if they are in percent, or export the reflectance", refusal.Try)
	require.Len(t, refusal.Choices, 1)
}
