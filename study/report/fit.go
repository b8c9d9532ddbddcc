package report

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"gonum.org/v1/plot/vg"

	"wane/fit/film"
	"wane/study"
)

// Fit is the figure of one fitted spot. Above are the measured and the fitted values of its
// curves, reflectances and transmittances apart; below is a strip of residuals for each angle. It is
// designed for one to eight curves; with more it is higher.
type Fit struct {
	Title        string
	Curves       []film.FittedCurve
	Polarisation []string    // one for each curve, "" for none; may be nil
	Caption      []string    // lines below the panels, broken where they are too long
	Stamp        study.Stamp // the line at the foot
}

// Heights of the panels in points, axes and their labels included.
const (
	reflectanceHeight = 290
	stripHeight       = 68 // of the residuals at one angle, without the axis of wavelengths
	axisHeight        = 38 // of the axis of wavelengths
)

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// Values that are not finite, or of 10 000 (as a fraction) and more, are not
// drawn; a line below the caption counts these points. A band far wider than the curves
// is cut at the edge of its panel.
//
// It is an error if there is no curve, if a curve is empty, if its slices are not
// of one length, if Polarisation is neither nil nor as long as Curves, if the format is
// another one, or if w fails.
func (f *Fit) Write(w io.Writer, format string) error {
	if err := f.check(); err != nil {
		return err
	}
	return write(w, format, f.sheet)
}

// check returns the error of Write for the content of the figure.
func (f *Fit) check() error {
	if len(f.Curves) == 0 {
		return errors.New("report: there is no curve to draw")
	}
	if f.Polarisation != nil && len(f.Polarisation) != len(f.Curves) {
		return fmt.Errorf("report: %d polarisations for %d curves", len(f.Polarisation), len(f.Curves))
	}
	for i := range f.Curves {
		c := &f.Curves[i]
		n := len(c.NM)
		if n == 0 {
			return fmt.Errorf("report: curve %d has no points", i+1)
		}
		if len(c.Measured) != n || len(c.Fitted) != n || len(c.Band) != n {
			return fmt.Errorf("report: curve %d has %d wavelengths, %d measured and %d fitted values and a band of %d",
				i+1, n, len(c.Measured), len(c.Fitted), len(c.Band))
		}
	}
	return nil
}

// sheet returns the figure as a sheet.
func (f *Fit) sheet(width vg.Length) *sheet {
	key := legend{head: []string{"Angle"}, markRadius: markRadius}
	if f.Polarisation != nil {
		key.head = []string{"Angle,", "polarisation"}
	}
	var traces []trace
	points, leftOut := "measured", 0
	for i := range f.Curves {
		polarisation := ""
		if f.Polarisation != nil {
			polarisation = f.Polarisation[i]
		}
		t := newTrace(i, &f.Curves[i], polarisation)
		traces = append(traces, t)
		key.entries = append(key.entries,
			entry{style: t.style, label: []string{bodyStyle().shorten(t.label, labelMost)}})
		leftOut += t.leftOut
		if len(t.measured) > maxMarks {
			points = "measured (thinned)"
		}
	}
	s := newSheet(width, f.Title, key, f.Caption, leftOutNote(leftOut))
	s.sign(f.count(), f.Stamp)
	words := "Marks: " + points + ".  Lines: fitted.  Shaded: 95 % confidence band of the fit."
	for _, q := range []struct {
		name    string
		through bool
	}{{"Reflectance", false}, {"Transmittance", true}} {
		of := slices.DeleteFunc(slices.Clone(traces), func(t trace) bool { return t.through != q.through })
		if len(of) == 0 {
			continue
		}
		s.add(valuesPanel(q.name, of), reflectanceHeight, words)
		words = ""
	}
	f.addResiduals(s, traces)
	return s
}

// count says how many curves and points were measured.
func (f *Fit) count() string {
	points := 0
	for i := range f.Curves {
		points += len(f.Curves[i].NM)
	}
	return counted(len(f.Curves), "curve") + ", " + counted(points, "point")
}

// addResiduals adds a strip of residuals for each angle, in the order of the curves.
func (f *Fit) addResiduals(s *sheet, traces []trace) {
	strips := stripsOf(traces)
	key := "Dots: measured − fitted, every point"
	if slices.ContainsFunc(traces, func(t trace) bool { return len(decimated(t.residual, dotColumns)) < len(t.residual) }) {
		key = "Dots: measured − fitted, the extremes where points are dense"
	}
	if len(strips) > 1 {
		key += ", in a strip for each angle with a scale of its own"
	}
	key += ".  Grey: ± 2 standard deviations of the noise (k = 2)."
	x := wavelengths(traces)
	for i, strip := range strips {
		if i == len(strips)-1 {
			s.add(residualPanel(strip, x, true), stripHeight+axisHeight, key)
		} else {
			s.add(residualPanel(strip, x, false), stripHeight, key)
		}
		key = ""
	}
}

// stripsOf groups the curves by angle, in the order of the curves. Curves of equal colour
// do not share a strip.
func stripsOf(traces []trace) [][]trace {
	var strips [][]trace
	for i := range traces {
		k := slices.IndexFunc(strips, func(strip []trace) bool {
			sameColour := func(t trace) bool { return t.colour == traces[i].colour }
			return strip[0].angle == traces[i].angle && !slices.ContainsFunc(strip, sameColour)
		})
		if k < 0 {
			strips = append(strips, nil)
			k = len(strips) - 1
		}
		strips[k] = append(strips[k], traces[i])
	}
	return strips
}
