package report

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// style is what tells one curve from the others.
type style struct {
	colour color.NRGBA
	dashes []vg.Length
	mark   draw.GlyphDrawer
}

// palette holds the colours of curves, most different first. They were searched by
// computer for the largest smallest difference between any two, for normal
// vision and three kinds of colour blindness, at lightnesses that differ in grey
// and with a contrast to white of at least 3; the tests hold them to that.
func palette() [8]color.NRGBA {
	return [8]color.NRGBA{
		{0x3C, 0x48, 0xB4, 0xFF}, {0xB4, 0x84, 0x78, 0xFF}, {0x6C, 0x78, 0x00, 0xFF}, {0x30, 0x0C, 0x60, 0xFF},
		{0x84, 0x54, 0x6C, 0xFF}, {0x54, 0x84, 0xB4, 0xFF}, {0x48, 0x48, 0x0C, 0xFF}, {0x00, 0x3C, 0x30, 0xFF},
	}
}

// dashes holds the dash patterns, in points: drawn, left out, drawn, left out.
func dashes() [8][]vg.Length {
	return [8][]vg.Length{
		nil, {9, 3}, {2.5, 2}, {10, 2.5, 2.5, 2.5},
		{5, 2}, {10, 2, 2, 2, 2, 2}, {14, 5}, {6, 2, 6, 2, 2, 2},
	}
}

func marks() [8]draw.GlyphDrawer {
	return [8]draw.GlyphDrawer{
		draw.CircleGlyph{}, draw.SquareGlyph{}, draw.PyramidGlyph{}, draw.RingGlyph{},
		draw.BoxGlyph{}, draw.TriangleGlyph{}, draw.CrossGlyph{}, draw.PlusGlyph{},
	}
}

// styleOf returns the style of curve i. After eight curves the colours start
// again with other dashes and marks; 64 curves differ.
func styleOf(i int) style {
	turn := (i + i/8) % 8
	return style{palette()[i%8], dashes()[turn], marks()[turn]}
}

// faint returns the colour with the given opacity, 0 to 1.
func faint(c color.NRGBA, opacity float64) color.NRGBA {
	c.A = uint8(255*opacity + 0.5)
	return c
}

// The colours of everything that is not a curve.
func ink() color.NRGBA   { return color.NRGBA{0x22, 0x22, 0x22, 0xFF} }
func quiet() color.NRGBA { return color.NRGBA{0x55, 0x55, 0x55, 0xFF} }
func rule() color.NRGBA  { return color.NRGBA{0xE4, 0xE4, 0xE4, 0xFF} }
