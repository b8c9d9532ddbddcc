package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// Comments and records of a JCAMP-DX file that name another quantity are asked about as the
// lines of other headers are, and --declared overrules them by their lines.
func TestJCAMPLinesOfOtherQuantitiesAreAsked(t *testing.T) {
	const inPairs = "XYDATA= (XY..XY)"
	const pairs = "400 1\n401 2\n403 3"
	silent := text.Stated{Quantity: "R", Unit: "fraction"}
	for _, c := range []struct {
		name, text, line, fault string
		stated                  text.Stated
	}{
		{"a record of the instrument", jcamp(tenPoints, "$MODE= Transmission"), "17",
			`line 17 says "##$MODE= Transmission", and ##YUNITS= says reflectance`, text.Stated{}},
		{"no reference", jcamp(tenPoints, "$REFERENCE TAKEN= no"), "17",
			`line 17 says "##$REFERENCE TAKEN= no", and ##YUNITS= says reflectance`, text.Stated{}},
		{"a comment, where nothing names the quantity", jcamp(tenPoints, "YUNITS=", "= seen\n$$ as absorbance"), "17",
			`line 17 says "$$ as absorbance", and --quantity says reflectance`, silent},
		{"the units", jcamp(tenPoints, "YUNITS= TRANSMITTANCE"), "7",
			`##YUNITS= says transmittance, --quantity says reflectance`, silent},
		{"the title", jcamp(tenPoints, "TITLE= transmission of G07", "YUNITS="), "1",
			`the heading says transmittance, --quantity says reflectance`, silent},
		{"the type", jcamp(tenPoints, "DATA TYPE= TRANSMISSION SPECTRUM"), "3",
			`##YUNITS= says reflectance, ##DATA TYPE= says transmittance`, text.Stated{}},
	} {
		_, err := intake.Read("g.jdx", []byte(c.text), c.stated)
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, c.name)
		assert.Contains(t, refusal.Fault, c.fault, c.name)
		require.NotEmpty(t, refusal.Choices, c.name)
		assert.Equal(t, study.Choice{Name: "declared", Value: c.line, Meaning: refusal.Choices[0].Meaning},
			refusal.Choices[0], c.name)
		settled := c.stated
		settled.Declared = c.line
		export, err := intake.Read("g.jdx", []byte(c.text), settled)
		require.NoError(t, err, c.name)
		assert.Equal(t, study.Reflectance, export.Spectra[0].Quantity, c.name)
		assert.Contains(t, export.Notes[0], "line "+c.line+", ", c.name)
		assert.Contains(t, export.Notes[0], "is overruled, as stated", c.name)
	}
	// A unit that is overruled is none: not even the standard then says fraction.
	_, err := intake.Read("g.jdx", []byte(jcamp(tenPoints, "YUNITS= COUNTS")), text.Stated{Quantity: "R", Declared: "7"})
	require.ErrorContains(t, err, "does not say percent or fraction")
	// A check is overruled by its line, too, but not one without which the table means nothing.
	for _, c := range []struct{ text, line, fault string }{
		{jcamp(tenPoints, "MAXY= 0.06"), "16", "##MAXY= says 0.06"},
		{jcamp(pairs, inPairs, "NPOINTS= 3", "LASTX= 403", "DELTAX= 1", "MINY= 0.01"), "13", "##DELTAX= says 1"},
	} {
		_, err := intake.Read("g.jdx", []byte(c.text), text.Stated{})
		require.ErrorContains(t, err, c.fault)
		_, err = intake.Read("g.jdx", []byte(c.text), text.Stated{Declared: c.line})
		require.NoError(t, err, c.fault)
	}
	_, err = intake.Read("g.jdx", []byte(jcamp(tenPoints, "DELTAX= 2")), text.Stated{Declared: "13"})
	require.ErrorContains(t, err, "##DELTAX= says 2")
	export, err := intake.Read("g.jdx", []byte(jcamp(tenPoints)), text.Stated{Declared: "18"})
	require.NoError(t, err)
	assert.Contains(t, export.Notes, "--declared names line 18, which is not one of the lines around the rows")
}
