package report

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/study"
)

// Differences is the figure of differences between groups: a row for each pair with its difference and interval, and
// the line of no difference. Rows of one verdict have one style. The margin of equivalence is a band around zero.
type Differences struct {
	Title    string
	Quantity string // label of the axis, with its unit
	Unit     string // of the differences; may be empty
	Margin   float64
	Rows     []DifferenceRow // from the top down
	Verdicts []string        // all that rows may have, in the order of their styles
	Caption  []string        // lines below the panel, broken where they are too long
	Stamp    study.Stamp     // the line at the foot
}

// DifferenceRow is a pair of groups.
type DifferenceRow struct {
	A, B       string  // the difference is of A less B
	Difference float64 // NaN: there is none
	Lo, Hi     float64 // its interval; both NaN: there is none
	Verdict    string  // one of Differences.Verdicts
}

// Lengths in points.
const (
	rowHeight  = 22
	tallRow    = 38  // of two lines
	labelWidth = 190 // of a line
	axisRoom   = 52
)

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes. An interval that is much longer than the range of the differences is cut at the edge of the panel and ends in
// an arrow head there; a line below the caption counts these.
//
// It is an error if there is no row, if a verdict is none of Verdicts, if a difference is not within its interval, if
// the format is another one, or if w fails.
func (d *Differences) Write(w io.Writer, format string) error {
	if len(d.Rows) == 0 {
		return errors.New("report: there is no difference to draw")
	}
	for _, r := range d.Rows {
		if !slices.Contains(d.Verdicts, r.Verdict) {
			return fmt.Errorf("report: %s less %s has the verdict %q, which is not in the list", r.A, r.B, r.Verdict)
		}
		if r.Lo > r.Difference || r.Difference > r.Hi {
			return fmt.Errorf("report: the difference of %s less %s is %g, outside its interval", r.A, r.B, r.Difference)
		}
	}
	return write(w, format, d.sheet)
}

func (d *Differences) sheet(width vg.Length) *sheet {
	p := d.panel(min(labelWidth, width/3))
	var notes []string
	if p.cut > 0 {
		notes = append(notes, fmt.Sprintf("Intervals cut at the edge of the panel, with an arrow head there: %d.", p.cut))
	}
	s := newSheet(width, d.Title, d.legend(), d.Caption, append(notes, leftOutNote(p.leftOut)...))
	key := "Marks: difference of the means.  Bars: its interval, of all pairs together."
	if d.Margin > 0 {
		key += fmt.Sprintf("  Band: the margin of ±%.4g %s.", d.Margin, d.Unit)
	}
	row := rowHeight
	if p.tall {
		row = tallRow
	}
	s.add(p.Plot, vg.Length(row*len(d.Rows)+axisRoom), key)
	s.sign(counted(len(d.Rows), "pair"), d.Stamp)
	return s
}

// legend explains the verdicts that rows have.
func (d *Differences) legend() legend {
	key := legend{head: []string{"Verdict"}, markRadius: meanMark, ground: ground()}
	for i, verdict := range d.Verdicts {
		n := 0
		for _, r := range d.Rows {
			if r.Verdict == verdict {
				n++
			}
		}
		if n > 0 {
			pairs := "pairs"
			if n == 1 {
				pairs = "pair"
			}
			key.entries = append(key.entries, entry{verdictStyle(i), bodyStyle().wrap(verdict, labelMost),
				[]string{fmt.Sprintf("%d %s", n, pairs)}})
		}
	}
	return key
}

// verdictStyle is the style of a verdict: its bars have no dashes.
func verdictStyle(i int) style {
	s := styleOf(i)
	s.dashes = nil
	return s
}

// differencePanel is the panel with what it could not draw.
type differencePanel struct {
	*plot.Plot
	cut, leftOut int
	tall         bool // labels have two lines
}

// panel draws the rows, the first one at the top.
func (d *Differences) panel(labelWidth vg.Length) differencePanel {
	p := differencePanel{Plot: newPanel("", 8)}
	x := d.span()
	y := span{0.5, float64(len(d.Rows)) + 0.5}
	if d.Margin > 0 {
		band := plotter.XYs{{X: max(-d.Margin, x.lo), Y: y.lo}, {X: min(d.Margin, x.hi), Y: y.lo},
			{X: min(d.Margin, x.hi), Y: y.hi}, {X: max(-d.Margin, x.lo), Y: y.hi}}
		p.Add(area(band, rule()))
	}
	p.Add(&plotter.Line{XYs: plotter.XYs{{X: 0, Y: y.lo}, {X: 0, Y: y.hi}},
		LineStyle: draw.LineStyle{Color: quiet(), Width: 0.8}})
	labels := d.labels(labelWidth)
	p.tall = strings.Contains(labels[0].Label, "\n")
	for i, r := range d.Rows {
		at := float64(len(d.Rows) - i)
		st := verdictStyle(slices.Index(d.Verdicts, r.Verdict))
		if !usable(r.Difference) {
			if !math.IsNaN(r.Difference) {
				p.leftOut++
			}
			continue
		}
		mark := plotter.XYs{{X: r.Difference, Y: at}}
		if usable(r.Lo) && usable(r.Hi) {
			b := lyingBar{at, r.Lo, r.Hi, draw.LineStyle{Color: st.colour, Width: lineWidth}, false}
			p.Add(b, scatter{mark, ground()})
			b.ends = true
			p.Add(b)
			if r.Lo < x.lo || r.Hi > x.hi {
				p.cut++
			}
		}
		p.Add(scatter{mark, st.glyph(meanMark)})
	}
	p.Y.Tick.Marker = labels
	p.Y.Tick.Length = 0
	p.X.Label.Text = d.Quantity
	p.X.Tick.Marker = ticks(7, true)
	setRange(p.Plot, x, y)
	return p
}

// labels are those of the rows, at their heights: all in one line, if each of them fits, else all in two.
func (d *Differences) labels(width vg.Length) (labels plot.ConstantTicks) {
	between := " \u2212 "
	for _, r := range d.Rows {
		if bodyStyle().width(words(r.A)+between+words(r.B)) > width {
			between = " \u2212\n"
			break
		}
	}
	for i, r := range d.Rows {
		label := words(r.A) + between + words(r.B)
		if between[len(between)-1] == '\n' {
			label = bodyStyle().shorten(words(r.A), width) + between + bodyStyle().shorten(words(r.B), width)
		}
		labels = append(labels, plot.Tick{Value: float64(len(d.Rows) - i), Label: label})
	}
	return labels
}

// span returns the range of the differences, which holds zero; the margin and the intervals extend it, those by at most
// its length at each end.
func (d *Differences) span() span {
	x, bars := span{0, 0}, emptySpan()
	if d.Margin > 0 {
		x = span{-d.Margin, d.Margin}
	}
	shortest := math.Inf(1)
	for _, r := range d.Rows {
		if usable(r.Difference) {
			x = x.with(r.Difference)
		}
		if usable(r.Lo) && usable(r.Hi) {
			bars = bars.with(r.Lo).with(r.Hi)
			shortest = min(shortest, r.Hi-r.Lo)
		}
	}
	least := 1e-9
	if usable(shortest) {
		least = max(least, shortest) // one interval at least is drawn whole, or nearly
	}
	if bars.lo <= bars.hi {
		x = x.reaching(bars, x.padded(1, 3*least))
	}
	return x.padded(0.05, least)
}

// lyingBar is the interval of a row: its line, or its ends.
type lyingBar struct {
	y, lo, hi float64
	line      draw.LineStyle
	ends      bool
}

// Plot implements plot.Plotter.
func (b lyingBar) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	from, to, at := x(b.lo), x(b.hi), y(b.y)
	low, high := vg.Length(0), vg.Length(0)
	if from < c.Min.X {
		from, low = c.Min.X, barEnd
	}
	if to > c.Max.X {
		to, high = c.Max.X, -barEnd
	}
	var path vg.Path
	c.SetLineStyle(b.line)
	if !b.ends {
		path.Move(vg.Point{X: from, Y: at})
		path.Line(vg.Point{X: to, Y: at})
		c.Stroke(path)
		return
	}
	for _, end := range []struct{ x, back vg.Length }{{from, low}, {to, high}} {
		path.Move(vg.Point{X: end.x + end.back, Y: at - barEnd})
		path.Line(vg.Point{X: end.x, Y: at})
		path.Line(vg.Point{X: end.x + end.back, Y: at + barEnd})
	}
	c.Stroke(path)
}
