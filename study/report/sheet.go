package report

import (
	"fmt"
	"image/color"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Lengths in points.
const (
	pageWidth = 640
	margin    = 18
	gap       = 10
	smallGap  = 4
)

// sheet is a figure as it is drawn, with its texts broken into lines: a title, panels
// below one another with a legend beside them, and a caption.
type sheet struct {
	title   []string
	panels  []panel
	legend  legend
	caption [][]string
}

// panel is a plot below its key, which says what is drawn in it.
type panel struct {
	key    []string
	plot   *plot.Plot
	height vg.Length // axis and its labels included
}

// newSheet returns a sheet without panels, with the notes below the caption.
func newSheet(title string, key legend, caption, notes []string) *sheet {
	const width = pageWidth - 2*margin
	s := &sheet{legend: key, title: titleStyle().wrapAny(title, width)}
	for _, texts := range [][]string{caption, notes} {
		for _, text := range texts {
			s.caption = append(s.caption, bodyStyle().wrap(text, width))
		}
	}
	return s
}

// leftOutNote counts the points that are not drawn; nil if all are drawn.
func leftOutNote(points int) []string {
	if points == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Points with a value that cannot be drawn (not finite, or too large): %d.", points)}
}

// add adds a panel below the others.
func (s *sheet) add(p *plot.Plot, height vg.Length, key string) {
	s.panels = append(s.panels, panel{keyStyle().wrapAny(key, s.panelRight()-margin), p, height})
}

// write makes the first panel higher if the legend needs it, and draws the sheet.
func (s *sheet) write(w io.Writer, format string) error {
	s.makeRoomForLegend()
	return encode(w, format, strings.Join(s.title, " "), pageWidth, s.height(), s.paint)
}

func (s *sheet) makeRoomForLegend() {
	if more := s.legend.height() - s.panelsHeight(); more > 0 {
		s.panels[0].height += more
	}
}

func (s *sheet) panelRight() vg.Length { return pageWidth - margin - s.legend.width() - gap }

// panelsHeight returns the height of all panels and their keys.
func (s *sheet) panelsHeight() vg.Length {
	h := vg.Length(-gap)
	for _, p := range s.panels {
		h += p.gapAbove() + keyStyle().height(len(p.key)) + smallGap + p.height
	}
	return h + gap - s.panels[0].gapAbove()
}

// gapAbove returns the distance from the panel above. It is 0 for a panel without a key, which
// belongs to the one above.
func (p *panel) gapAbove() vg.Length {
	if len(p.key) == 0 {
		return 0
	}
	return gap
}

func (s *sheet) height() vg.Length {
	h := 2*margin + s.panelsHeight()
	if len(s.title) > 0 {
		h += titleStyle().height(len(s.title)) + gap
	}
	if len(s.caption) > 0 {
		h += smallGap + s.captionHeight()
	}
	return h
}

func (s *sheet) captionHeight() vg.Length {
	h := vg.Length(0)
	for _, lines := range s.caption {
		h += smallGap + bodyStyle().height(len(lines))
	}
	return h
}

func (s *sheet) paint(c draw.Canvas) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	top := c.Max.Y - margin
	if len(s.title) > 0 {
		top = titleStyle().write(c, margin, top, s.title) - gap
	}
	s.paintPanels(c, top)
	s.legend.paint(c, s.panelRight()+gap, top)
	bottom := margin + s.captionHeight()
	for _, lines := range s.caption {
		bottom = bodyStyle().write(c, margin, bottom-smallGap, lines)
	}
}

func (s *sheet) paintPanels(c draw.Canvas, top vg.Length) {
	places := make([]draw.Canvas, len(s.panels))
	for i, p := range s.panels {
		if i > 0 {
			top -= p.gapAbove()
		}
		top = keyStyle().write(c, margin, top, p.key) - smallGap
		places[i] = draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: margin, Y: top - p.height}, Max: vg.Point{X: s.panelRight(), Y: top},
		}}
		top -= p.height
	}
	align(s.panels, places)
	for i, p := range s.panels {
		p.plot.Draw(places[i])
	}
}

// align gives the data of all panels the same left and right edge. On the left it changes
// the distance between label and axis, on the right the place of the panel.
func align(panels []panel, places []draw.Canvas) {
	left, right := vg.Length(0), vg.Length(pageWidth)
	for i, p := range panels {
		left = max(left, p.plot.DataCanvas(places[i]).Min.X)
	}
	for i, p := range panels {
		p.plot.Y.Label.Padding += left - p.plot.DataCanvas(places[i]).Min.X
		right = min(right, p.plot.DataCanvas(places[i]).Max.X)
	}
	for i, p := range panels {
		places[i].Max.X -= p.plot.DataCanvas(places[i]).Max.X - right
	}
}
