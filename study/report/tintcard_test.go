package report_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics/colour"
	"wane/study/report"
)

// A ribbon has the colours that it is given, and a card says what it is of; what cannot be drawn is an error.
func TestTintCard(t *testing.T) {
	steps := []report.TintStep{{NM: 0, Screen: colour.RGB{R: 1}}, {NM: 10, Screen: colour.RGB{G: 1}, Lab: colour.Lab{L: 50, A: 10, B: -20}},
		{NM: 20, Screen: colour.RGB{B: 1}, Lab: colour.Lab{L: 50, A: 20, B: 20}}}
	card := report.TintCard{Title: "Made up", Angles: []report.TintAngle{{AngleDeg: 8, Track: steps,
		Rows: []report.TintRow{{Name: "<K>, pull 0", Ribbon: steps, NowNM: 12, Luminance: 0.42}}}}}
	var svg bytes.Buffer
	require.NoError(t, card.Write(&svg, "svg"))
	for _, want := range []string{"#00FF00", "#0000FF", "0.42 %", "&lt;K&gt;, pull 0", "n = 1 film."} {
		assert.Contains(t, strings.ToUpper(svg.String()), strings.ToUpper(want))
	}
	var again bytes.Buffer
	require.NoError(t, card.Write(&again, "svg"))
	assert.Equal(t, svg.String(), again.String())

	// texts along the ways do not lie on each other: 60 nm and 80 nm of one way are at one place
	card.Angles[0].Track = []report.TintStep{{NM: 60, Lab: colour.Lab{A: 1}}, {NM: 80, Lab: colour.Lab{A: 1.1}}, {NM: 100, Lab: colour.Lab{A: 9}}}
	svg.Reset()
	require.NoError(t, card.Write(&svg, "svg"))
	assert.Contains(t, svg.String(), "\n 60\n 100\n")

	require.Error(t, (&report.TintCard{}).Write(&svg, "svg"))
	require.Error(t, (&report.TintCard{Angles: []report.TintAngle{{}}}).Write(&svg, "svg"))
	card.Angles[0].Rows[0].Ribbon = steps[:1]
	require.ErrorContains(t, card.Write(&svg, "svg"), "1 steps")
}
