package report

import (
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"
)

// Text is a text of a figure, where it is drawn.
type Text struct {
	Text   string
	X, Y   float64 // points, from the lower left corner of the page
	Face   font.Face
	Turned bool
}

// TextsOf draws a figure and returns its texts in the order in which they are drawn.
func TextsOf(f interface{ sheet(vg.Length) *sheet }) []Text { return textsOf(f, pageWidth) }

// NarrowTextsOf is TextsOf for a narrow figure.
func NarrowTextsOf(f interface{ sheet(vg.Length) *sheet }) []Text { return textsOf(f, narrowWidth) }

func textsOf(f interface{ sheet(vg.Length) *sheet }, width vg.Length) []Text {
	s := f.sheet(width)
	s.makeRoomForLegend()
	var page recorder.Canvas
	s.paint(draw.NewCanvas(&page, width, s.height()))
	var out []Text
	origins, turned := []vg.Point{{}}, []bool{false}
	for _, action := range page.Actions {
		top := len(origins) - 1
		switch a := action.(type) {
		case *recorder.Push:
			origins, turned = append(origins, origins[top]), append(turned, turned[top])
		case *recorder.Pop:
			origins, turned = origins[:top], turned[:top]
		case *recorder.Translate:
			origins[top] = origins[top].Add(a.Point)
		case *recorder.Rotate:
			turned[top] = turned[top] || a.Angle != 0
		case *recorder.FillString:
			at := origins[top].Add(a.Point)
			face := newTextStyle(a.Font.Size, false, ink()).face
			if a.Font.Weight != 0 {
				face = newTextStyle(a.Font.Size, true, ink()).face
			}
			out = append(out, Text{a.String, at.X.Points(), at.Y.Points(), face, turned[top]})
		}
	}
	return out
}

// Decimated and Simplified show how lines become short to the tests.
var (
	Decimated  = decimated
	Simplified = simplified
)

// Palette shows the colours of curves to the tests.
var (
	Palette     = palette
	DarkPalette = darkPalette
	DarkGround  = darkGround
)

// StyleOf shows the style of a curve to the tests: colour, dashes, mark.
func StyleOf(i int) (colour, dashes, mark any) {
	s := styleOf(i)
	return s.colour, s.dashes, s.mark
}

// TickLabels shows the labels between lo and hi to the tests.
func TickLabels(lo, hi float64, most int) []string {
	var out []string
	for _, t := range ticks(most, true).Ticks(lo, hi) {
		out = append(out, t.Label)
	}
	return out
}
