package report_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// predicted is a made-up figure: curve k is level at k + 1 percent.
func predicted(curves int, band bool) *report.Predicted {
	f := &report.Predicted{Quantity: "reflectance", Caption: []string{"Made up."}}
	for k := range curves {
		of := levelCurve(61, 0.01*float64(k+1))
		c := report.PredictedCurve{NM: of.NM, Values: of.Fitted, AngleDeg: 8 * float64(k), Polarisation: "u"}
		if band {
			c.Band = of.Band
		}
		f.Curves = append(f.Curves, c)
	}
	return f
}

// The lines are as far apart as their values on the axis, in percent.
func TestPredictedIsDrawnWhereItIs(t *testing.T) {
	d := parse(t, predicted(4, true))
	perPercent := (d.label(t, "4") - d.label(t, "1")) / 3
	first := d.longest(t, solid(report.Palette()[0]), "stroke-width:1.5")
	last := d.longest(t, solid(report.Palette()[3]), "stroke-width:1.5")
	require.Len(t, first, 61)
	assert.InDelta(t, 3*perPercent, last[30][1]-first[30][1], 0.01*perPercent*3)
	d.text(t, "24°, u")
	d.text(t, "n = 4 predicted curves.")
}

func TestPredictedRefusesWhatCannotBeDrawn(t *testing.T) {
	assert.Error(t, (&report.Predicted{}).Write(&bytes.Buffer{}, "svg"))
	f := predicted(1, true)
	f.Curves[0].Band = f.Curves[0].Band[:3]
	assert.Error(t, f.Write(&bytes.Buffer{}, "svg"))
	assert.NoError(t, predicted(1, false).Write(&bytes.Buffer{}, "pdf"))
}
