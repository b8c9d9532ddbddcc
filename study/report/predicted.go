package report

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot/vg"

	"wane/fit/film"
	"wane/study"
)

// Predicted is the figure of predicted curves, without any reading.
type Predicted struct {
	Quantity string           // reflectance or transmittance
	Curves   []PredictedCurve // in the order of their styles
	Caption  []string         // lines below the panel, broken where they are too long
	Stamp    study.Stamp      // the line at the foot
}

// PredictedCurve is one curve.
type PredictedCurve struct {
	NM, Values, Band []float64 // nm, fraction, half-width of the 95 % band; a nil Band draws none
	AngleDeg         float64
	Polarisation     string
}

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// It is an error if there is no quantity or no curve, if its slices are not of one length or empty, if the format is another one, or if
// w fails.
func (f *Predicted) Write(w io.Writer, format string) error {
	if len(f.Curves) == 0 || f.Quantity == "" {
		return errors.New("report: there is no curve to draw")
	}
	for i := range f.Curves {
		c := &f.Curves[i]
		if n := len(c.NM); n == 0 || len(c.Values) != n || c.Band != nil && len(c.Band) != n {
			return fmt.Errorf("report: curve %d has %d wavelengths, %d values and a band of %d", i+1, n, len(c.Values),
				len(c.Band))
		}
	}
	return write(w, format, f.sheet)
}

func (f *Predicted) sheet(width vg.Length) *sheet {
	key := legend{head: []string{"Angle,", "polarisation"}}
	var traces []trace
	leftOut, words := 0, "Lines: predicted."
	for i := range f.Curves {
		c := &f.Curves[i]
		fitted := film.FittedCurve{NM: c.NM, Measured: c.Values, Fitted: c.Values, Band: c.Band, AngleDeg: c.AngleDeg}
		if c.Band == nil {
			fitted.Band = make([]float64, len(c.NM))
		} else {
			words = "Lines: predicted.  Shaded: 95 % band of the fit that the prediction starts from."
		}
		t := newTrace(i, &fitted, c.Polarisation)
		t.measured, t.residual, t.mark = nil, nil, nil
		traces = append(traces, t)
		key.entries = append(key.entries, entry{style: t.style, label: []string{bodyStyle().shorten(t.label, labelMost)}})
		leftOut += t.leftOut
	}
	s := newSheet(width, "Predicted "+f.Quantity, key, f.Caption, leftOutNote(leftOut))
	s.sign(counted(len(f.Curves), "predicted curve"), f.Stamp)
	panel := valuesPanel(strings.ToUpper(f.Quantity[:1])+f.Quantity[1:], traces)
	panel.X.Label.Text = "Wavelength / nm"
	panel.X.Tick.Marker = ticks(9, true)
	s.add(panel, reflectanceHeight+axisHeight, words)
	return s
}
