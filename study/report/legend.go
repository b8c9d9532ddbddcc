package report

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Lengths in points.
const (
	sampleWidth = 40 // of the line in the legend
	labelMost   = 106
)

// notStated is the label of a line without a name.
const notStated = "not stated"

// legend explains the lines of a figure.
type legend struct {
	head       []string
	entries    []entry
	markRadius vg.Length
	ground     draw.GlyphStyle // below marks; the zero value is none
}

// entry explains one line of a figure: a sample of the line, the label beside it, and a
// note below, which may be nil.
type entry struct {
	style
	label, note []string
}

// width returns the width of the legend in points.
func (l *legend) width() vg.Length {
	w := vg.Length(0)
	for _, line := range l.head {
		w = max(w, keyStyle().width(line))
	}
	for _, e := range l.entries {
		for _, line := range e.label {
			w = max(w, sampleWidth+smallGap+bodyStyle().width(line))
		}
		for _, line := range e.note {
			w = max(w, sampleWidth+smallGap+keyStyle().width(line))
		}
	}
	return w
}

// height returns the height of the legend in points.
func (l *legend) height() vg.Length {
	h := keyStyle().height(len(l.head)) + smallGap
	for _, e := range l.entries {
		h += bodyStyle().height(len(e.label)) + e.noteHeight()
	}
	return h
}

// noteHeight returns the height of the note in points.
func (e *entry) noteHeight() vg.Length {
	if len(e.note) == 0 {
		return 0
	}
	return keyStyle().height(len(e.note)) + smallGap
}

// paint draws the legend with its upper left corner at left and top.
func (l *legend) paint(c draw.Canvas, left, top vg.Length) {
	top = keyStyle().write(c, left, top, l.head) - smallGap
	for _, e := range l.entries {
		y := top - 0.65*textSize
		c.StrokeLine2(e.line(), left, y, left+sampleWidth, y)
		middle := vg.Point{X: left + sampleWidth/2, Y: y}
		c.DrawGlyph(l.ground, middle)
		c.DrawGlyph(e.glyph(l.markRadius), middle)
		top = bodyStyle().write(c, left+sampleWidth+smallGap, top, e.label)
		keyStyle().write(c, left+sampleWidth+smallGap, top, e.note)
		top -= e.noteHeight()
	}
}
