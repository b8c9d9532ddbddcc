package report_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// madeDifferences is a made-up comparison of three pairs, of which one has no interval.
func madeDifferences() *report.Differences {
	return &report.Differences{Title: "Differences by coating", Quantity: "Difference / pp", Unit: "pp", Margin: 0.1,
		Verdicts: []string{"different", "not distinguished", "cannot be told"}, Rows: []report.DifferenceRow{
			{A: "coating-A", B: "coating-B", Difference: -0.3, Lo: -0.4, Hi: -0.2, Verdict: "different"},
			{A: "coating-A", B: "coating-C", Difference: 0.02, Lo: -0.1, Hi: 0.14, Verdict: "not distinguished"},
			{A: "coating-B", B: "coating-C", Difference: 0.1, Lo: math.NaN(), Hi: math.NaN(), Verdict: "cannot be told"},
		}, Caption: []string{"Made-up data."}}
}

func drawn(t *testing.T, d *report.Differences, format string) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, d.Write(&out, format))
	return strings.ReplaceAll(out.String(), "\n", " ")
}

// The figure names pairs, verdicts and the margin, and is the same each time.
func TestDifferences(t *testing.T) {
	svg := drawn(t, madeDifferences(), "svg")
	assert.Equal(t, svg, drawn(t, madeDifferences(), "svg"))
	for _, text := range []string{"coating-A − coating-B", "not distinguished", "cannot be told", "margin of ±0.1 pp", "1 pair"} {
		assert.True(t, strings.Contains(svg, text), text)
	}
	assert.False(t, strings.Contains(svg, "Intervals cut"))
	assert.True(t, strings.HasPrefix(drawn(t, madeDifferences(), "png"), "\x89PNG"))
}

// Long names have two lines; an interval that would flatten the others is cut, and counted.
func TestDifferencesLongAndWide(t *testing.T) {
	d := madeDifferences()
	d.Rows[0].A = "a coating with a name of many words"
	d.Rows[1].Lo, d.Rows[1].Hi = -50, 50
	svg := drawn(t, d, "svg")
	assert.True(t, strings.Contains(svg, "Intervals cut at the edge of the panel, with an arrow head there: 1."))
	assert.False(t, strings.Contains(svg, "a coating with a name of many words − coating-B"), "it does not fit")
	assert.True(t, strings.Contains(svg, "coating-B"), "in a line of its own")
}

// What is no figure is an error.
func TestDifferencesRefused(t *testing.T) {
	for name, spoil := range map[string]func(d *report.Differences){
		"no difference to draw": func(d *report.Differences) { d.Rows = nil },
		"not in the list":       func(d *report.Differences) { d.Rows[0].Verdict = "new" },
		"outside its interval":  func(d *report.Differences) { d.Rows[0].Difference = 1 },
	} {
		d := madeDifferences()
		spoil(d)
		assert.ErrorContains(t, d.Write(&bytes.Buffer{}, "svg"), name)
	}
	assert.Error(t, madeDifferences().Write(&bytes.Buffer{}, "bmp"))
}
