package report_test

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

func budget() *report.Budget {
	return &report.Budget{Title: "Made up", Unit: "pp", Owners: []string{"session", "placement", "noise"},
		Means: []report.BudgetMean{{Name: "K7", U: []float64{0.008, 0.004, 0.002}}, {Name: "K8", U: []float64{0.006, 0,
			0.003}}}}
}

// Each owner has a row, the first one the highest, and a mark lies as far to the right as its uncertainty.
func TestBudgetIsDrawnWhereItIs(t *testing.T) {
	d := parse(t, budget())
	assert.Greater(t, d.label(t, "session"), d.label(t, "placement"))
	assert.Greater(t, d.label(t, "placement"), d.label(t, "noise"))
	d.text(t, "Standard uncertainty of the mean by these errors alone / pp")
	// The marks of the first mean are circles in the first colour; that of the legend is the first drawn or the last.
	c := report.Palette()[0]
	circles := d.all(fillOf(c.R, c.G, c.B))
	require.Len(t, circles, 4)
	x := []float64{circles[0].points[0][0], circles[1].points[0][0], circles[2].points[0][0]}
	assert.InDelta(t, (x[0]-x[2])/(0.008-0.002), (x[1]-x[2])/(0.004-0.002), 20, "points per pp")
}

func TestBudgetThatCannotBeDrawn(t *testing.T) {
	f := budget()
	f.Means[0].U[1] = math.NaN()
	f.Means[1].U[1] = -1
	parse(t, f).text(t, "Points with a value that cannot be drawn (not finite, or too large): 2.")
	f.Means[1].U = f.Means[1].U[:1]
	assert.Error(t, f.Write(&bytes.Buffer{}, "svg"), "not a value for each owner")
	assert.Error(t, (&report.Budget{Owners: []string{"a"}}).Write(&bytes.Buffer{}, "svg"))
	assert.Error(t, (&report.Budget{Means: f.Means}).Write(&bytes.Buffer{}, "svg"))
}

func fillOf(r, g, b uint8) string { return fmt.Sprintf("fill:#%02X%02X%02X", r, g, b) }
