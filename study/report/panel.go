package report

import (
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

const (
	maxMarks    = 40 // measured points of a curve drawn in the upper panel
	markRadius  = 2.4
	lineWidth   = 1.5
	dotSize     = 1.5
	bandOpacity = 0.25
	noiseShade  = 0.16 // opacity of all noise bands together
)

// newPanel returns an empty panel with its axes.
func newPanel(yLabel string, yTicks int) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Tick.Marker, p.Y.Tick.Marker = ticks(9, false), ticks(yTicks, true)
	p.Y.Label.Text = yLabel
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Padding = 0
		a.Color, a.Tick.Color = quiet(), quiet()
		a.Tick.Length = 5
		a.Tick.Label.Font, a.Tick.Label.Color = sans(textSize), ink()
		a.Label.TextStyle.Font, a.Label.TextStyle.Color = sans(textSize), ink()
		a.Label.Padding = 4
	}
	grid := plotter.NewGrid()
	grid.Vertical.Width = 0
	grid.Horizontal = draw.LineStyle{Color: rule(), Width: 0.6}
	p.Add(grid)
	return p
}

// setRange sets the ranges of the axes. Plotters added later may extend them.
func setRange(p *plot.Plot, x, y span) {
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = x.lo, x.hi, y.lo, y.hi
}

// valuesPanel returns the panel of the measured points of a quantity over the fitted lines and
// their bands.
func valuesPanel(quantity string, traces []trace) *plot.Plot {
	p := newPanel(quantity+" / %", 8)
	for i := range traces {
		for _, outline := range traces[i].band {
			p.Add(area(outline, faint(traces[i].colour, bandOpacity)))
		}
	}
	for i := range traces {
		t := &traces[i]
		for _, xys := range t.fitted {
			p.Add(&plotter.Line{XYs: decimated(xys, lineColumns), LineStyle: t.line()})
		}
	}
	for i := range traces {
		t := &traces[i]
		offset := float64(i) / float64(len(traces))
		p.Add(scatter{thinned(t.measured, maxMarks, offset), t.glyph(markRadius)})
	}
	setRange(p, wavelengths(traces), reflectances(traces))
	return p
}

// residualPanel returns the panel of the residuals of curves at one angle over their
// noise bands. The last panel of a figure has the axis of wavelengths.
func residualPanel(traces []trace, x span, last bool) *plot.Plot {
	p := newPanel("", 5)
	p.Y.Label.Text = traces[0].angle + "\npp"
	p.Y.Label.TextStyle.Font = sans(smallSize)
	p.Y.Tick.Label.Font = sans(smallSize)
	if last {
		p.X.Label.Text = "Wavelength / nm"
		p.X.Tick.Marker = ticks(9, true)
	}
	shade := color.NRGBA{A: 0xFF}
	shade = faint(shade, 1-math.Pow(1-noiseShade, 1/float64(len(traces))))
	for i := range traces {
		if t := &traces[i]; t.noise > 0 && len(t.residual) > 0 {
			p.Add(area(box(t.residual, t.noise), shade))
		}
	}
	p.Add(zeroLine(x))
	for i := range traces {
		p.Add(dots{decimated(traces[i].residual, dotColumns), faint(traces[i].colour, 0.75)})
	}
	setRange(p, x, residuals(traces))
	return p
}

// zeroLine returns the line at zero.
func zeroLine(x span) *plotter.Line {
	return &plotter.Line{
		XYs:       plotter.XYs{{X: x.lo, Y: 0}, {X: x.hi, Y: 0}},
		LineStyle: draw.LineStyle{Color: quiet(), Width: 0.8},
	}
}

// limitLine returns the line at a limit.
func limitLine(x span, limit float64) *plotter.Line {
	return &plotter.Line{
		XYs:       plotter.XYs{{X: x.lo, Y: limit}, {X: x.hi, Y: limit}},
		LineStyle: draw.LineStyle{Color: ink(), Width: 1.1, Dashes: []vg.Length{6, 2, 1, 2}},
	}
}

// area returns a filled area without an outline.
func area(outline plotter.XYs, fill color.Color) *plotter.Polygon {
	return &plotter.Polygon{XYs: []plotter.XYs{outline}, Color: fill}
}

// box returns the outline of ±y over the wavelengths of xys.
func box(xys plotter.XYs, y float64) plotter.XYs {
	s := emptySpan()
	for _, xy := range xys {
		s = s.with(xy.X)
	}
	return plotter.XYs{{X: s.lo, Y: -y}, {X: s.hi, Y: -y}, {X: s.hi, Y: y}, {X: s.lo, Y: y}}
}

// line returns the line of the style.
func (s *style) line() draw.LineStyle {
	return draw.LineStyle{Color: s.colour, Width: lineWidth, Dashes: s.dashes}
}

// glyph returns the mark of the style.
func (s *style) glyph(radius vg.Length) draw.GlyphStyle {
	return draw.GlyphStyle{Color: s.colour, Radius: radius, Shape: s.mark}
}

// scatter draws marks. Unlike the plotter of that name it needs no space around the
// panel, so all panels keep the same left edge.
type scatter struct {
	xys   plotter.XYs
	glyph draw.GlyphStyle
}

// Plot implements plot.Plotter.
func (s scatter) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for _, xy := range s.xys {
		c.DrawGlyph(s.glyph, vg.Point{X: x(xy.X), Y: y(xy.Y)})
	}
}

// dots draws many points as one path of short strokes. The file is then small, and
// translucent dots of one curve do not darken one another.
type dots struct {
	xys    plotter.XYs
	colour color.NRGBA
}

// Plot implements plot.Plotter.
func (d dots) Plot(c draw.Canvas, p *plot.Plot) {
	if len(d.xys) == 0 {
		return
	}
	x, y := p.Transforms(&c)
	var path vg.Path
	for _, xy := range d.xys {
		at := vg.Point{X: x(xy.X), Y: y(xy.Y)}
		path.Move(at.Add(vg.Point{X: -dotSize / 2}))
		path.Line(at.Add(vg.Point{X: dotSize / 2}))
	}
	c.SetLineStyle(draw.LineStyle{Color: d.colour, Width: dotSize})
	c.Stroke(path)
}
