package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// A row with a fault at either end of the block is no footer and no header.
func TestReadLosesNoRowAtTheEnds(t *testing.T) {
	const rows = "1060,4.12\n1080,4.07\n1100,4.03\n"
	for _, c := range []struct{ name, text, fault string }{
		{"letters for zeros", "nm,%R\n" + rows + "112O,4.1\n",
			`g.csv:5: "112O,4.1" stands behind the rows and looks like one of them`},
		{"a letter for a one", "nm,%R\n" + rows + "1l20,4.1\n",
			`g.csv:5: "1l20,4.1" stands behind the rows and looks like one of them`},
		{"a letter before", "nm,%R\n" + rows + "x1120,4.1\n",
			`g.csv:5: "x1120,4.1" stands behind the rows and looks like one of them`},
		{"commented out", "nm,%R\n" + rows + "#1120,4.1\n",
			`g.csv:5: "#1120,4.1" stands behind the rows and looks like one of them`},
		{"commented out with a space", "nm,%R\n" + rows + "# 1120,4.1\n",
			`g.csv:5: "# 1120,4.1" stands behind the rows and looks like one of them`},
		{"behind a line of text", "nm,%R\n" + rows + "end\n#1120,4.1\n",
			`g.csv:6: "#1120,4.1" stands behind the rows and looks like one of them`},
		{"a word for the value", "nm,%R\n" + rows + "1120,OVER\n", `g.csv:5:6: "OVER" is not a number`},
		{"a word for one of two values", "nm,G07 %R,G08 %R\n1060,4,5\n1080,4,5\nx1100,4,OVER\n",
			`g.csv:4: "x1100,4,OVER" stands behind the rows and looks like one of them`},
		{"running down", "nm,%R\n1100,4.12\n1080,4.07\n1O60,4.03\n",
			`g.csv:4: "1O60,4.03" stands behind the rows and looks like one of them`},
		{"spaces", "nm  %R\n1060  4.12\n1080  4.07\nx1100  4.03\n",
			`g.csv:4: "x1100  4.03" stands behind the rows and looks like one of them`},
		{"before the rows, no headings", "made up\n1O40,4.1\n" + rows,
			`g.csv:2: "1O40,4.1" stands before the rows and looks like one of them`},
	} {
		_, err := intake.Read("g.csv", []byte(c.text), text.Stated{})
		require.EqualError(t, err, c.fault, c.name)
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, c.name)
		assert.Empty(t, refusal.Choices, c.name)
		assert.Contains(t, refusal.Try, "correct", c.name)
	}
}

// Settings and results beside the rows are text, and the first line of it is told.
func TestReadKeepsSettingsBesideTheRows(t *testing.T) {
	for _, line := range []string{"Mean,4.07", "Integration,40", "D65,4.1", "R550,4.1", "Page 2,3", "Saved 2026,no",
		"Channel 1,40", "#2,40"} {
		export, err := intake.Read("g.csv", []byte("nm,%R\n1060,4.12\n1080,4.07\n1100,4.03\n"+line+"\nend\n"), text.Stated{})
		require.NoError(t, err, line)
		assert.Equal(t, []string{`2 lines after the rows kept as text: "` + line + `"`}, export.Notes)
		assert.Equal(t, []string{line, "end"}, export.Footer)
	}
}
