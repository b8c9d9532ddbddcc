package report

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/optics/colour"
	"wane/study"
)

// TintCard is the card of reflected tints: at each angle a ribbon for each film, over its thickness, with a mark where the
// film is now; and the way of the tints in the a*b* plane.
type TintCard struct {
	Title   string
	Angles  []TintAngle // at least one
	Caption []string
	Stamp   study.Stamp
}

// TintAngle is what is seen at one angle.
type TintAngle struct {
	AngleDeg float64
	Rows     []TintRow // from above to below
	Track    []TintStep
}

// TintRow is the ribbon of one film.
type TintRow struct {
	Name      string
	Ribbon    []TintStep
	NowNM     float64
	Luminance float64 // true, of the film as it is now, percent
}

// TintStep is the tint of a film of one thickness.
type TintStep struct {
	NM     float64
	Lab    colour.Lab
	Screen colour.RGB
}

// Sizes in points, and what is labelled along a track, in nm.
const (
	ribbonHeight = 17
	trackHeight  = 260
	trackEvery   = 20
	trackFrom    = 60 // thinner films lie too close to bare glass for figures
	rowName      = 150
)

// Write draws the card in a format, see [Formats], and writes it to w. Equal cards give equal bytes. It is an error if there
// is no angle, an angle has no row, or a ribbon has fewer than two steps, if the format is another one, or if w fails.
func (f *TintCard) Write(w io.Writer, format string) error {
	if len(f.Angles) == 0 {
		return errors.New("report: a card of tints needs an angle")
	}
	for i := range f.Angles {
		if len(f.Angles[i].Rows) == 0 {
			return errors.New("report: a card of tints needs a film")
		}
		for _, r := range f.Angles[i].Rows {
			if len(r.Ribbon) < 2 {
				return fmt.Errorf("report: the ribbon of %q has %d steps", r.Name, len(r.Ribbon))
			}
		}
	}
	return write(w, format, f.sheet)
}

func (f *TintCard) sheet(width vg.Length) *sheet {
	key := legend{head: []string{"Angle"}}
	for i := range f.Angles {
		key.entries = append(key.entries, entry{style: styleOf(i), label: []string{degreesOf(f.Angles[i].AngleDeg)}})
	}
	s := newSheet(width, f.Title, key, f.Caption, nil)
	s.sign(counted(len(f.Angles[0].Rows), "film"), f.Stamp)
	words := " Ribbons: the reflected tint over the thickness. Mark: the film now. Right: its true luminance."
	for i := range f.Angles {
		a := &f.Angles[i]
		p := a.ribbons()
		height := vg.Length(len(a.Rows)*ribbonHeight + 12)
		if i == len(f.Angles)-1 {
			p.X.Label.Text, p.X.Tick.Marker = "Thickness / nm", ticks(9, true)
			height += axisHeight
		}
		s.add(p, height, degreesOf(a.AngleDeg)+"."+words)
		words = ""
	}
	s.add(f.tracks(), trackHeight, fmt.Sprintf("The way of the tint in the a*b* plane. Marks: every %d nm; figures: the thickness "+
		"in nm, from %d, where there is room.", trackEvery, trackFrom))
	return s
}

func degreesOf(angle float64) string { return fmt.Sprintf("%g°", angle) }

// ribbons draws the rows of an angle.
func (a *TintAngle) ribbons() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	var names []plot.Tick
	x := emptySpan()
	ends := plotter.XYLabels{}
	for i := range a.Rows {
		r, y := &a.Rows[i], float64(len(a.Rows)-i)
		names = append(names, plot.Tick{Value: y, Label: keyStyle().shorten(words(r.Name), rowName)})
		p.Add(ribbon{r, y})
		last := r.Ribbon[len(r.Ribbon)-1].NM
		x = x.with(r.Ribbon[0].NM).with(last)
	}
	room := 0.14 * (x.hi - x.lo)
	for i := range a.Rows {
		r := &a.Rows[i]
		ends.XYs = append(ends.XYs, plotter.XY{X: x.hi + 0.1*room, Y: float64(len(a.Rows)-i) - 0.16})
		ends.Labels = append(ends.Labels, fmt.Sprintf("%.2f %%", r.Luminance))
	}
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.Padding = 0
		axis.Color, axis.Tick.Color = quiet(), quiet()
		axis.Tick.Length = 4
		axis.Tick.Label.Font, axis.Tick.Label.Color = sans(smallSize), ink()
		axis.Label.TextStyle.Font, axis.Label.TextStyle.Color = sans(textSize), ink()
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = ticks(9, false), plot.ConstantTicks(names)
	p.Y.Width = 0
	p.Y.Tick.Length = 0
	p.Add(labels(ends))
	setRange(p, span{x.lo, x.hi + room}, span{0.45, float64(len(a.Rows)) + 0.55})
	return p
}

// labels draws texts in the small style.
func labels(of plotter.XYLabels) *plotter.Labels {
	l, err := plotter.NewLabels(of)
	if err != nil {
		panic(err) // there is a text for each place
	}
	for i := range l.TextStyle {
		l.TextStyle[i].Font, l.TextStyle[i].Color = sans(smallSize), ink()
	}
	return l
}

// ribbon draws a row at a height.
type ribbon struct {
	row *TintRow
	y   float64
}

// Plot draws the steps side by side, and the mark of the film over them.
func (r ribbon) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	low, top := y(r.y-0.4), y(r.y+0.4)
	steps := r.row.Ribbon
	for i := 1; i < len(steps); i++ {
		left, right := x(steps[i-1].NM), x(steps[i].NM)
		if i < len(steps)-1 {
			right += 0.4 // no light between two steps
		}
		c.FillPolygon(screen(steps[i].Screen), []vg.Point{{X: left, Y: low}, {X: right, Y: low}, {X: right, Y: top}, {X: left, Y: top}})
	}
	if first, last := steps[0].NM, steps[len(steps)-1].NM; r.row.NowNM >= first && r.row.NowNM <= last {
		at := x(r.row.NowNM)
		for _, line := range []draw.LineStyle{{Color: color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}, Width: 4}, {Color: ink(), Width: 1.6}} {
			c.StrokeLine2(line, at, y(r.y-0.5), at, y(r.y+0.5))
		}
	}
}

// screen is a colour as a canvas takes it.
func screen(c colour.RGB) color.NRGBA {
	level := func(v float64) uint8 { return uint8(math.Round(255 * min(max(v, 0), 1))) }
	return color.NRGBA{level(c.R), level(c.G), level(c.B), 0xFF}
}

// tracks draws the ways of all angles.
func (f *TintCard) tracks() *plot.Plot {
	p := newPanel("b* (blue to yellow)", 7)
	p.X.Label.Text, p.X.Tick.Marker = "a* (green to red)", ticks(9, true)
	x, y := span{-5, 5}, span{-5, 5}
	marks := plotter.XYLabels{}
	for i := range f.Angles {
		var line plotter.XYs
		for _, step := range f.Angles[i].Track {
			at := plotter.XY{X: step.Lab.A, Y: step.Lab.B}
			line = append(line, at)
			x, y = x.with(at.X), y.with(at.Y)
			if math.Mod(step.NM, trackEvery) == 0 && step.NM >= trackFrom {
				marks.XYs = append(marks.XYs, at)
				marks.Labels = append(marks.Labels, fmt.Sprintf(" %g", step.NM))
			}
		}
		st := styleOf(i)
		p.Add(&plotter.Line{XYs: line, LineStyle: st.line()})
		p.Add(scatter{every(f.Angles[i].Track), st.glyph(markRadius)})
	}
	x, y = x.padded(0.08, 1), y.padded(0.08, 1)
	if marks = apart(marks, 0.06*(x.hi-x.lo), 0.05*(y.hi-y.lo)); len(marks.XYs) > 0 {
		p.Add(labels(marks))
	}
	setRange(p, x, y)
	return p
}

// apart leaves out texts that would lie on one before them, which is nearer than a text is wide and high.
func apart(of plotter.XYLabels, wide, high float64) (kept plotter.XYLabels) {
	for i, at := range of.XYs {
		if slices.ContainsFunc(kept.XYs, func(k plotter.XY) bool { return math.Abs(k.X-at.X) < wide && math.Abs(k.Y-at.Y) < high }) {
			continue
		}
		kept.XYs, kept.Labels = append(kept.XYs, at), append(kept.Labels, of.Labels[i])
	}
	return kept
}

// every returns the places that are labelled along a track.
func every(track []TintStep) (at plotter.XYs) {
	for _, step := range track {
		if math.Mod(step.NM, trackEvery) == 0 {
			at = append(at, plotter.XY{X: step.Lab.A, Y: step.Lab.B})
		}
	}
	return at
}
