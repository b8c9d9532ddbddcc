package report

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Lengths in points.
const (
	barWidth = 1.1
	barEnd   = 4.5 // half the width of its ends
)

// stems draws the vertical lines of bars, as far as they are in the panel.
type stems struct {
	bars   []bar
	colour color.NRGBA
}

// ends draws the ends of bars: flat, or an arrow head at the edge of the panel if the bar
// is cut there. They are drawn after the stems, above the white discs of marks, so that a
// bar shorter than its mark is visible too.
type ends stems

// Plot implements plot.Plotter.
func (s stems) Plot(c draw.Canvas, p *plot.Plot) {
	var path vg.Path
	for _, b := range s.bars {
		low, high := b.within(c, p)
		path.Move(low.tip)
		path.Line(high.tip)
	}
	strokeBars(c, path, s.colour)
}

// Plot implements plot.Plotter.
func (e ends) Plot(c draw.Canvas, p *plot.Plot) {
	var path vg.Path
	for _, b := range e.bars {
		low, high := b.within(c, p)
		for _, end := range []barTip{low, high} {
			path.Move(end.tip.Add(vg.Point{X: -barEnd, Y: end.back}))
			path.Line(end.tip)
			path.Line(end.tip.Add(vg.Point{X: barEnd, Y: end.back}))
		}
	}
	strokeBars(c, path, e.colour)
}

// strokeBars draws the lines of bars.
func strokeBars(c draw.Canvas, path vg.Path, colour color.NRGBA) {
	if len(path) == 0 {
		return
	}
	c.SetLineStyle(draw.LineStyle{Color: colour, Width: barWidth})
	c.Stroke(path)
}

// barTip is an end of a bar. back is the vertical distance of the sides of its arrow head
// from the tip, 0 for a flat end.
type barTip struct {
	tip  vg.Point
	back vg.Length
}

// within returns the ends of a bar in a panel.
func (b bar) within(c draw.Canvas, p *plot.Plot) (low, high barTip) {
	x, y := p.Transforms(&c)
	low.tip, high.tip = vg.Point{X: x(b.x), Y: y(b.lo)}, vg.Point{X: x(b.x), Y: y(b.hi)}
	if low.tip.Y < c.Min.Y {
		low = barTip{vg.Point{X: low.tip.X, Y: c.Min.Y}, barEnd}
	}
	if high.tip.Y > c.Max.Y {
		high = barTip{vg.Point{X: high.tip.X, Y: c.Max.Y}, -barEnd}
	}
	return low, high
}
