package report

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// style is the style of one curve, which distinguishes it from the others.
type style struct {
	colour color.NRGBA
	dashes []vg.Length
	mark   draw.GlyphDrawer
}

// palette returns the colours of curves, the most different ones first. A search by computer
// maximised the smallest difference between any two, for normal vision and three kinds of
// colour blindness. Their lightnesses differ in grey, and their contrast to white is at
// least 3. The tests check this.
func palette() [8]color.NRGBA {
	return [8]color.NRGBA{
		{0x3C, 0x48, 0xB4, 0xFF}, {0xB4, 0x84, 0x78, 0xFF}, {0x6C, 0x78, 0x00, 0xFF}, {0x30, 0x0C, 0x60, 0xFF},
		{0x84, 0x54, 0x6C, 0xFF}, {0x54, 0x84, 0xB4, 0xFF}, {0x48, 0x48, 0x0C, 0xFF}, {0x00, 0x3C, 0x30, 0xFF},
	}
}

// darkPalette returns the colours of curves on a dark page, in the order of palette and with the same care: of hues as
// near to theirs as the differences allow.
func darkPalette() [8]color.NRGBA {
	return [8]color.NRGBA{
		{0x9C, 0x8D, 0xAD, 0xFF}, {0xC8, 0x3D, 0x1C, 0xFF}, {0x8A, 0xFF, 0x0B, 0xFF}, {0xEB, 0xBB, 0xE6, 0xFF},
		{0xF3, 0x6E, 0xE1, 0xFF}, {0x00, 0x7E, 0xF6, 0xFF}, {0xB8, 0xB8, 0x40, 0xFF}, {0xC4, 0xFF, 0xEC, 0xFF},
	}
}

// dashes returns the dash patterns, in points: dash, gap, dash, gap.
func dashes() [8][]vg.Length {
	return [8][]vg.Length{
		nil, {9, 3}, {2.5, 2}, {10, 2.5, 2.5, 2.5},
		{5, 2}, {10, 2, 2, 2, 2, 2}, {14, 5}, {6, 2, 6, 2, 2, 2},
	}
}

// marks returns the marks of curves.
func marks() [8]draw.GlyphDrawer {
	return [8]draw.GlyphDrawer{
		draw.CircleGlyph{}, draw.SquareGlyph{}, draw.PyramidGlyph{}, draw.RingGlyph{},
		draw.BoxGlyph{}, draw.TriangleGlyph{}, draw.CrossGlyph{}, draw.PlusGlyph{},
	}
}

// styleOf returns the style of curve i, from 0. After eight curves the colours start again
// with other dashes and marks; 64 styles are different.
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
