package report_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

func levels() *report.Levels {
	f := &report.Levels{Title: "Coupon E1: structure of the film", Of: "spot", DoseUnit: "kWh/m2",
		Series:  []string{"1", "2"},
		Caption: []string{"Made up."}}
	for _, q := range []string{"Thickness / nm", "Porosity"} {
		p := report.LevelPanel{Quantity: q}
		for s := range 2 {
			for k := range 4 {
				p.Points = append(p.Points, report.Level{Series: s, Dose: 100 * float64(k),
					Value: 120 - 10*float64(k) - float64(s), U: 0.5})
			}
		}
		f.Panels = append(f.Panels, p)
	}
	return f
}

// The bars reach two standard uncertainties to both sides, the values are as far apart as their difference, and the
// axes have their units.
func TestLevelsAreDrawnWhereTheyAre(t *testing.T) {
	f := levels()
	f.Panels = f.Panels[:1]
	f.Panels[0].Points[0].U = 2
	d := parse(t, f)
	line := d.longest(t, solid(report.Palette()[0]), "stroke-width:1.5")
	require.Len(t, line, 4)
	perNM := (line[0][1] - line[3][1]) / 30
	assert.InDelta(t, perNM, (d.label(t, "120")-d.label(t, "90"))/30, 1e-3*perNM, "as on the axis")
	bars := d.longest(t, solid(report.Palette()[0]), "stroke-width:1.1")
	// The first path of bars has a stem of two points for each value.
	stems := d.all(solid(report.Palette()[0]), "stroke-width:1.1")[0].points
	require.Len(t, stems, 8)
	assert.NotEmpty(t, bars)
	assert.InDelta(t, 8*perNM, stems[1][1]-stems[0][1], 0.01, "± 4 nm")
	assert.InDelta(t, 2*perNM, stems[3][1]-stems[2][1], 0.01, "± 1 nm")
	d.text(t, "Dose / (kWh/m²)")
	d.text(t, "n = 2 spots, 4 doses.")
}

// A control has no dose: its values are drawn against the pull.
func TestLevelsAgainstThePull(t *testing.T) {
	f := levels()
	f.DoseUnit = " "
	d := parse(t, f)
	d.text(t, "Pull")
	d.text(t, "n = 2 spots, 4 pulls.")
}

func TestLevelsWithoutUncertainty(t *testing.T) {
	f := levels()
	f.Panels[0].Points[2].U = math.NaN()
	f.Panels[1].Points[1].Value = math.Inf(1)
	d := parse(t, f)
	d.text(t, "Values without a stated uncertainty, which have no bar: 1.")
	d.text(t, "Points with a value that cannot be drawn (not finite, or too large): 1.")
	f.Panels[0].Points[1].U = 1e4
	parse(t, f).text(t, "Bars cut at the edge of their panel, with an arrow head there: 1.")
}

func TestLevelsThatCannotBeDrawn(t *testing.T) {
	write := func(f *report.Levels) error { return f.Write(&bytes.Buffer{}, "svg") }
	assert.ErrorContains(t, write(&report.Levels{}), "no level")
	f := levels()
	f.Of = ""
	assert.ErrorContains(t, write(f), "what a series is of")
	f = levels()
	f.Panels[1].Points[0].Series = 2
	assert.ErrorContains(t, write(f), "series 2 of 2")
}
