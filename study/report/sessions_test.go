package report_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// sessions is a figure of four sessions: the third reading is against its session, and the trap has no limits.
func sessions() *report.Sessions {
	none := math.NaN()
	return &report.Sessions{
		Title: "Standards, made up", Trusted: []bool{true, true, false, true},
		Standards: []report.StandardChart{
			{Label: "check standard TILE at 8°, u", Readings: []report.ChartReading{
				{Session: 1, Value: 0.0420, Lower: 0.0415, Upper: 0.0425}, {Session: 2, Value: 0.0421, Lower: 0.0415,
					Upper: 0.0425},
				{Session: 3, Value: 0.0431, Lower: 0.0415, Upper: 0.0425, Against: true},
				{Session: 4, Value: 0.0419, Lower: 0.0415, Upper: 0.0425}}},
			{Label: "light trap T at 8°, u", Readings: []report.ChartReading{
				{Session: 1, Value: 0.0001, Lower: none, Upper: none}, {Session: 4, Value: 0.0003, Lower: none, Upper: none}}},
		},
	}
}

func TestSessionsAreDrawnWhereTheyAre(t *testing.T) {
	d := parse(t, sessions())
	// The readings of a standard are joined by a line, whose points are as far apart as sessions and values.
	line := d.longest(t, "stroke:#555555", "stroke-width:0.6")
	require.Len(t, line, 4)
	assert.InDelta(t, line[1][0]-line[0][0], line[3][0]-line[2][0], 0.01, "sessions are equally far apart")
	scale := (line[2][1] - line[0][1]) / (4.31 - 4.20)
	assert.InDelta(t, (line[1][1]-line[0][1])/scale, 4.21-4.20, 0.001)
	assert.InDelta(t, (line[3][1]-line[0][1])/scale, 4.19-4.20, 0.001)
	// The limits of each session are shaded from its left to its right.
	var shaded int
	for _, p := range d.all("fill-opacity:0.16") {
		if assert.Len(t, p.points, 4) {
			shaded++
			assert.InDelta(t, line[1][0]-line[0][0], p.points[1][0]-p.points[0][0], 0.01)
			assert.InDelta(t, 4.25-4.15, (p.points[2][1]-p.points[1][1])/scale, 0.001)
		}
	}
	assert.Equal(t, 4, shaded)
	for _, label := range []string{"trusted", "not trusted", "in control", "light trap T at 8°, u"} {
		d.text(t, label)
	}
	assert.Less(t, d.label(t, "not trusted"), d.label(t, "trusted"))
}

func TestSessionsThatCannotBeDrawn(t *testing.T) {
	f := sessions()
	f.Standards[0].Readings[1].Value = math.Inf(1)
	f.Standards[0].Readings[2].Upper = math.NaN() // one limit alone
	d := parse(t, f)
	d.text(t, "Points with a value that cannot be drawn (not finite, or too large): 2.")

	for name, spoil := range map[string]func(*report.Sessions){
		"no session":              func(f *report.Sessions) { f.Trusted = nil },
		"session that is not one": func(f *report.Sessions) { f.Standards[0].Readings[0].Session = 5 },
		"session 0":               func(f *report.Sessions) { f.Standards[0].Readings[0].Session = 0 },
		"limits upside down":      func(f *report.Sessions) { f.Standards[0].Readings[0].Lower = 1 },
	} {
		f := sessions()
		spoil(f)
		assert.Error(t, f.Write(&bytes.Buffer{}, "svg"), name)
	}
	assert.Error(t, sessions().Write(&bytes.Buffer{}, "gif"))
	assert.NoError(t, (&report.Sessions{Trusted: []bool{false}}).Write(&bytes.Buffer{}, "png"), "no standard was read")
}
