package report

import (
	"fmt"
	"image/color"
	"io"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/study"
)

// Lengths in points.
const (
	pageWidth   = 640
	narrowWidth = 276 // 368 px of a browser, of which a phone has 360 or more
	margin      = 18
	gap         = 10
	smallGap    = 4
)

// sheet is a figure as it is drawn, with its texts broken into lines: a title, panels
// below one another with a legend beside them, or below them where the sheet is narrow, a
// caption, and a quiet line at the foot.
type sheet struct {
	width   vg.Length
	title   []string
	panels  []panel
	legend  legend
	caption [][]string
	foot    []string
	made    time.Time // of the stamp
}

// panel is a plot below its key, which says what is drawn in it.
type panel struct {
	key    []string
	plot   *plot.Plot
	height vg.Length // axis and its labels included
}

// newSheet returns a sheet of a width without panels, with the notes below the caption.
func newSheet(width vg.Length, title string, key legend, caption, notes []string) *sheet {
	s := &sheet{legend: key, width: width}
	width -= 2 * s.margin()
	s.title = titleStyle().wrapAny(title, width)
	for _, texts := range [][]string{caption, notes} {
		for _, text := range texts {
			s.caption = append(s.caption, bodyStyle().wrap(text, width))
		}
	}
	return s
}

// sign writes how much is drawn, and the stamp, at the foot of the sheet.
func (s *sheet) sign(count string, stamp study.Stamp) {
	s.made = stamp.Made
	line := "n = " + count
	if words := stamp.String(); words != "" {
		line += ". " + words
	}
	s.foot = footStyle().wrap(line+".", s.width-2*s.margin())
}

// counted is a number of things: 1 coupon, 12 coupons.
func counted(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return fmt.Sprintf("%d %s", n, thing)
}

// leftOutNote counts the points that are not drawn; nil if all are drawn.
func leftOutNote(points int) []string {
	if points == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Points with a value that cannot be drawn (not finite, or too large): %d.", points)}
}

// add adds a panel below the others. Each line of its key begins anew.
func (s *sheet) add(p *plot.Plot, height vg.Length, key string) {
	width := s.panelRight() - s.margin()
	if s.narrow() {
		if t, is := p.X.Tick.Marker.(roundTicks); is {
			p.X.Tick.Marker = roundTicks{max(3, t.most/2), t.labelled}
		}
		p.X.Label.Text = strings.Join(bodyStyle().wrapAny(p.X.Label.Text, width-labelRoom), "\n")
		height += p.X.Label.TextStyle.Font.Size * vg.Length(strings.Count(p.X.Label.Text, "\n")) * leading
	}
	var lines []string
	for _, line := range strings.Split(key, "\n") {
		lines = append(lines, keyStyle().wrapAny(line, width)...)
	}
	s.panels = append(s.panels, panel{lines, p, height})
}

// labelRoom is the width of the labels of an axis beside a narrow panel, in points.
const labelRoom = 60

// narrow reports whether the legend is below the panels.
func (s *sheet) narrow() bool { return s.width < pageWidth }

func (s *sheet) margin() vg.Length {
	if s.narrow() {
		return gap
	}
	return margin
}

// write makes a sheet as wide as the format needs, and draws it.
func write(w io.Writer, format string, build func(width vg.Length) *sheet) error {
	width := vg.Length(pageWidth)
	if format == FormatNarrow || format == FormatImageNarrow {
		width = narrowWidth
	}
	s := build(width)
	s.makeRoomForLegend()
	return s.encode(w, format)
}

// makeRoomForLegend makes the first panel higher if the legend beside it needs it.
func (s *sheet) makeRoomForLegend() {
	if s.narrow() {
		return
	}
	if more := s.legend.height() - s.panelsHeight(); more > 0 {
		s.panels[0].height += more
	}
}

func (s *sheet) panelRight() vg.Length {
	if s.narrow() {
		return s.width - s.margin()
	}
	return s.width - s.margin() - s.legend.width() - gap
}

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
	h := 2*s.margin() + s.panelsHeight() + footStyle().height(len(s.foot)) + smallGap
	if s.narrow() {
		h += s.legend.height() + gap
	}
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
	left, top := s.margin(), c.Max.Y-s.margin()
	if len(s.title) > 0 {
		top = titleStyle().write(c, left, top, s.title) - gap
	}
	s.paintPanels(c, top)
	if s.narrow() {
		s.legend.paint(c, left, top-s.panelsHeight()-gap)
	} else {
		s.legend.paint(c, s.panelRight()+gap, top)
	}
	foot := s.margin() + footStyle().height(len(s.foot))
	bottom := foot + smallGap + s.captionHeight()
	for _, lines := range s.caption {
		bottom = bodyStyle().write(c, left, bottom-smallGap, lines)
	}
	footStyle().write(c, left, foot, s.foot)
}

func (s *sheet) paintPanels(c draw.Canvas, top vg.Length) {
	places := make([]draw.Canvas, len(s.panels))
	for i, p := range s.panels {
		if i > 0 {
			top -= p.gapAbove()
		}
		top = keyStyle().write(c, s.margin(), top, p.key) - smallGap
		places[i] = draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: s.margin(), Y: top - p.height}, Max: vg.Point{X: s.panelRight(), Y: top},
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
