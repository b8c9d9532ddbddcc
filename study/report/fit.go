package report

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/fit/film"
)

// Fit is the figure of one fitted spot: above, the measured and the fitted
// reflectances of its curves; below, what is left between them. It is made for
// one to eight curves; with more the legend makes it higher.
type Fit struct {
	Title        string
	Curves       []film.FittedCurve
	Polarisation []string // one a curve, "" where there is nothing to say; may be nil
	Caption      []string // lines below the panels, broken where they are too long
}

// Lengths in points.
const (
	pageWidth   = 640
	margin      = 18
	gap         = 10
	smallGap    = 4
	upperHeight = 290 // of the reflectance panel, axis included
	lowerHeight = 185 // of the residual panel, axis and its labels included

	sampleWidth = 40 // of the line in the legend
	legendMost  = 150
)

// Write draws the figure in the format "svg" or "png" (144 dots per inch) and
// writes it to w. Equal figures give equal bytes.
//
// Values that are not finite, or of 10 000 (as a fraction) and more, are not
// drawn; a line below the caption says how many points that concerns. A band far
// wider than the curves is cut at the edge of its panel.
//
// It is an error if there is no curve, if a curve is empty, if its slices are not
// of one length, if Polarisation is neither nil nor one a curve, if the format is
// another one, or if w fails.
func (f *Fit) Write(w io.Writer, format string) error {
	if !isFormat(format) {
		return fmt.Errorf("report: a figure is written as svg or png, not as %q", format)
	}
	if err := f.check(); err != nil {
		return err
	}
	s := f.sheet()
	return encode(w, format, pageWidth, s.height(), s.paint)
}

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

// sheet is a figure broken into lines and made ready for drawing.
type sheet struct {
	traces             []trace
	title              []string
	caption            [][]string
	upperKey, lowerKey []string
	legendHead         []string
	legendWidth        vg.Length
}

func (f *Fit) sheet() *sheet {
	s := &sheet{title: f.titleLines(), legendHead: []string{"Angle"}}
	for i := range f.Curves {
		polarisation := ""
		if f.Polarisation != nil {
			polarisation = f.Polarisation[i]
			s.legendHead = []string{"Angle,", "polarisation"}
		}
		s.traces = append(s.traces, newTrace(i, &f.Curves[i], polarisation))
	}
	s.caption = f.captionLines(s.traces)
	s.fitLegend()
	s.writeKeys()
	return s
}

func (f *Fit) titleLines() []string {
	if strings.TrimSpace(plain(f.Title)) == "" {
		return nil
	}
	return titlePen().wrap(f.Title, pageWidth-2*margin)
}

func (f *Fit) captionLines(traces []trace) [][]string {
	width := vg.Length(pageWidth - 2*margin)
	var texts [][]string
	for _, text := range f.Caption {
		texts = append(texts, textPen().wrap(text, width))
	}
	leftOut := 0
	for i := range traces {
		leftOut += traces[i].leftOut
	}
	if leftOut > 0 {
		note := fmt.Sprintf("Points with a value that cannot be drawn (not finite, or too large): %d.", leftOut)
		texts = append(texts, textPen().wrap(note, width))
	}
	return texts
}

// fitLegend sets the width of the legend and shortens labels beyond its limit.
func (s *sheet) fitLegend() {
	for _, line := range s.legendHead {
		s.legendWidth = max(s.legendWidth, keyPen().width(line))
	}
	p := textPen()
	for i := range s.traces {
		t := &s.traces[i]
		t.label = p.shorten(t.label, legendMost-sampleWidth-smallGap)
		s.legendWidth = max(s.legendWidth, sampleWidth+smallGap+p.width(t.label))
	}
}

// writeKeys says above each panel what is drawn in it.
func (s *sheet) writeKeys() {
	points := "measured"
	for i := range s.traces {
		if len(s.traces[i].measured) > mostMarks {
			points = "measured (thinned)"
		}
	}
	width := s.panelRight() - margin
	s.upperKey = keyPen().wrap("Marks: "+points+".  Lines: fitted.  Shaded: 95 % confidence band of the fit.", width)
	s.lowerKey = keyPen().wrap("Dots: measured − fitted, every point.  Grey: ± 2 standard deviations of the noise (k = 2).", width)
}

func (s *sheet) panelRight() vg.Length { return pageWidth - margin - s.legendWidth - gap }

// panelsHeight is the height of both panels and their keys.
func (s *sheet) panelsHeight() vg.Length {
	keys := keyPen().height(len(s.upperKey) + len(s.lowerKey))
	legend := keyPen().height(len(s.legendHead)) + smallGap + textPen().height(len(s.traces))
	return max(upperHeight+lowerHeight+gap+keys+2*smallGap, legend)
}

func (s *sheet) height() vg.Length {
	h := 2*margin + s.panelsHeight()
	if len(s.title) > 0 {
		h += titlePen().height(len(s.title)) + gap
	}
	if len(s.caption) > 0 {
		h += smallGap + s.captionHeight()
	}
	return h
}

func (s *sheet) captionHeight() vg.Length {
	h := vg.Length(0)
	for _, lines := range s.caption {
		h += smallGap + textPen().height(len(lines))
	}
	return h
}

func (s *sheet) paint(c draw.Canvas) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	top := c.Max.Y - margin
	if len(s.title) > 0 {
		top = titlePen().write(c, margin, top, s.title) - gap
	}
	bottom := top - s.panelsHeight()
	s.paintPanels(c, top, bottom)
	s.paintLegend(c, top)
	bottom = margin + s.captionHeight()
	for _, lines := range s.caption {
		bottom = textPen().write(c, margin, bottom-smallGap, lines)
	}
}

func (s *sheet) paintPanels(c draw.Canvas, top, bottom vg.Length) {
	within := func(top, bottom vg.Length) draw.Canvas {
		return draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: margin, Y: bottom}, Max: vg.Point{X: s.panelRight(), Y: top},
		}}
	}
	split := bottom + lowerHeight + smallGap + keyPen().height(len(s.lowerKey)) + gap
	upper, lower := reflectancePanel(s.traces), residualPanel(s.traces)
	upperPlace := within(keyPen().write(c, margin, top, s.upperKey)-smallGap, split)
	lowerPlace := within(keyPen().write(c, margin, split-gap, s.lowerKey)-smallGap, bottom)
	align(upper, lower, &upperPlace, &lowerPlace)
	upper.Draw(upperPlace)
	lower.Draw(lowerPlace)
}

// align gives both panels the same left and right edge of their data: on the left
// by the distance between labels and axis, on the right by the place itself.
func align(upper, lower *plot.Plot, upperPlace, lowerPlace *draw.Canvas) {
	u, l := upper.DataCanvas(*upperPlace), lower.DataCanvas(*lowerPlace)
	left := max(u.Min.X, l.Min.X)
	upper.Y.Label.Padding += left - u.Min.X
	lower.Y.Label.Padding += left - l.Min.X
	u, l = upper.DataCanvas(*upperPlace), lower.DataCanvas(*lowerPlace)
	right := min(u.Max.X, l.Max.X)
	upperPlace.Max.X -= u.Max.X - right
	lowerPlace.Max.X -= l.Max.X - right
}

func (s *sheet) paintLegend(c draw.Canvas, top vg.Length) {
	left := s.panelRight() + gap
	top = keyPen().write(c, left, top, s.legendHead) - smallGap
	p := textPen()
	for i := range s.traces {
		t := &s.traces[i]
		y := top - 0.65*textSize
		c.StrokeLine2(t.line(), left, y, left+sampleWidth, y)
		c.DrawGlyph(t.glyph(), vg.Point{X: left + sampleWidth/2, Y: y})
		top = p.write(c, left+sampleWidth+smallGap, top, []string{t.label})
	}
}
