package report

import (
	"image/color"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/study/report/paper"
)

// Sizes of text in points.
const (
	titleSize = 15
	textSize  = 12.5
	smallSize = 11.5
	footSize  = 9.5

	leading = 1.3 // distance of lines over size
)

// sans returns the font of figures.
func sans(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// textStyle is the style of one kind of text.
type textStyle struct {
	face   font.Face
	colour color.NRGBA
}

func newTextStyle(size vg.Length, bold bool, colour color.NRGBA) textStyle {
	f := sans(size)
	if bold {
		f.Weight = xfont.WeightBold
	}
	return textStyle{plot.DefaultTextHandler.Cache().Lookup(f, size), colour}
}

func titleStyle() textStyle { return newTextStyle(titleSize, true, ink()) }
func bodyStyle() textStyle  { return newTextStyle(textSize, false, ink()) }
func footStyle() textStyle  { return newTextStyle(footSize, false, quiet()) }
func keyStyle() textStyle   { return newTextStyle(smallSize, false, quiet()) }

// height returns the height of n lines.
func (s textStyle) height(n int) vg.Length { return vg.Length(n) * leading * s.face.Font.Size }

// width returns the width of one line.
func (s textStyle) width(text string) vg.Length { return s.face.Width(text) }

// write draws lines below one another, with their left ends at x and the first below top.
// It returns the lower end of the last one.
func (s textStyle) write(c draw.Canvas, x, top vg.Length, lines []string) vg.Length {
	c.SetColor(s.colour)
	for i, line := range lines {
		c.FillString(s.face, vg.Point{X: x, Y: top - s.height(i) - s.face.Font.Size}, line)
	}
	return top - s.height(len(lines))
}

// wrap breaks text into lines of at most width, as [paper.Wrap] does.
func (s textStyle) wrap(text string, width vg.Length) []string {
	return paper.Wrap(paper.Plain(text), float64(width), s.measure)
}

func (s textStyle) measure(text string) float64 { return float64(s.width(text)) }

// wrapAny is wrap, but text without a word gives no line.
func (s textStyle) wrapAny(text string, width vg.Length) []string {
	if words(text) == "" {
		return nil
	}
	return s.wrap(text, width)
}

// shorten returns text, with its end replaced by an ellipsis if it is wider than
// width.
func (s textStyle) shorten(text string, width vg.Length) string {
	if s.width(text) <= width {
		return text
	}
	head, _ := paper.Cut(text, float64(width-s.width("…")), s.measure)
	return head + "…"
}

// words returns text with one space between its words and none around them.
func words(text string) string { return strings.Join(strings.Fields(paper.Plain(text)), " ") }
