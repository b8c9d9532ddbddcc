package report

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/study"
)

// Sessions is the figure of what was read of standards, session by session: a control chart for each check standard, or
// the readings of a light trap, and below them whether each session is trusted. Sessions are numbered from 1, in their
// order. It is designed for one to eight standards and up to two hundred sessions.
type Sessions struct {
	Title     string
	Standards []StandardChart
	Trusted   []bool      // of each session
	Caption   []string    // lines below the panels, broken where they are too long
	Stamp     study.Stamp // the line at the foot
}

// StandardChart is what was read of one standard at one angle and polarisation.
type StandardChart struct {
	Label    string
	Readings []ChartReading // in the order of the sessions
}

// ChartReading is what was read in a session. The values are fractions; of a session without limits, and where nothing
// was read before by which to judge it, Lower and Upper are NaN.
type ChartReading struct {
	Session             int // from 1
	Value, Lower, Upper float64
	Against             bool // it speaks against the session
}

// Heights of the panels in points, axes and their labels included.
const (
	chartHeight   = 150
	verdictHeight = 76
)

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// Limits that are much wider than the range of the readings are cut at the edge of their panel. Values that are not
// finite, or of 10 000 (as a fraction) and more, are not drawn; a line below the caption counts these points.
//
// It is an error if there is no session, if a reading is of a session that is not there, if its limits do not go from
// below to above, if the format is another one, or if w fails.
func (f *Sessions) Write(w io.Writer, format string) error {
	if len(f.Trusted) == 0 {
		return errors.New("report: there is no session to draw")
	}
	for i := range f.Standards {
		for _, r := range f.Standards[i].Readings {
			if r.Session < 1 || r.Session > len(f.Trusted) {
				return fmt.Errorf("report: a reading of %q is of session %d of %d", f.Standards[i].Label, r.Session,
					len(f.Trusted))
			}
			if r.Lower > r.Upper {
				return fmt.Errorf("report: the limits of %q in session %d are %g to %g", f.Standards[i].Label, r.Session,
					r.Lower, r.Upper)
			}
		}
	}
	return write(w, format, f.sheet)
}

// The styles of readings in the chart.
func inControlStyle() style { return style{palette()[0], nil, draw.CircleGlyph{}} }
func againstStyle() style   { return style{palette()[4], nil, draw.CrossGlyph{}} }

func (f *Sessions) sheet(width vg.Length) *sheet {
	key := legend{head: []string{"Reading"}, markRadius: meanMark, entries: []entry{
		{style: inControlStyle(), label: bodyStyle().wrap("in control", labelMost)},
		{style: againstStyle(), label: bodyStyle().wrap("speaks against its session", labelMost)},
	}}
	leftOut := 0
	charts := make([]chart, len(f.Standards))
	for i := range f.Standards {
		charts[i] = newChart(&f.Standards[i])
		leftOut += charts[i].leftOut
	}
	s := newSheet(width, f.Title, key, f.Caption, leftOutNote(leftOut))
	s.sign(counted(len(f.Trusted), "session"), f.Stamp)
	x := span{0.5, float64(len(f.Trusted)) + 0.5}
	words := "Shaded: the limits by which a reading was judged.\n"
	for i := range charts {
		s.add(charts[i].plot(x), chartHeight, words+f.Standards[i].Label)
		words = ""
	}
	s.add(f.verdicts(x), verdictHeight, "Verdict on each session")
	return s
}

// chart is the readings of a standard as they are drawn, in percent.
type chart struct {
	good, against plotter.XYs
	all           plotter.XYs
	limits        []bar
	leftOut       int
}

func newChart(of *StandardChart) (c chart) {
	for _, r := range of.Readings {
		x, y := float64(r.Session), percent*r.Value
		if !usable(y) {
			c.leftOut++
			continue
		}
		c.all = append(c.all, plotter.XY{X: x, Y: y})
		if r.Against {
			c.against = append(c.against, plotter.XY{X: x, Y: y})
		} else {
			c.good = append(c.good, plotter.XY{X: x, Y: y})
		}
		switch lo, hi := percent*r.Lower, percent*r.Upper; {
		case usable(lo) && usable(hi):
			c.limits = append(c.limits, bar{x, lo, hi})
		case !math.IsNaN(lo) || !math.IsNaN(hi):
			c.leftOut++
		}
	}
	return c
}

// plot draws the readings over their limits.
func (c *chart) plot(x span) *plot.Plot {
	p := newPanel("Reading / %", 4)
	p.Y.Label.TextStyle.Font, p.Y.Tick.Label.Font = sans(smallSize), sans(smallSize)
	y, limits := emptySpan(), emptySpan()
	for _, xy := range c.all {
		y = y.with(xy.Y)
	}
	for _, b := range c.limits {
		limits = limits.with(b.lo).with(b.hi)
	}
	y = y.orIfEmpty(span{0, 1})
	y = y.reaching(limits, y.padded(5, 0.02)).padded(0.08, 0.002)
	shade := faint(color.NRGBA{A: 0xFF}, noiseShade)
	for _, b := range c.limits {
		lo, hi := math.Max(b.lo, y.lo), math.Min(b.hi, y.hi)
		if lo < hi {
			p.Add(area(plotter.XYs{{X: b.x - 0.5, Y: lo}, {X: b.x + 0.5, Y: lo}, {X: b.x + 0.5, Y: hi}, {X: b.x - 0.5, Y: hi}},
				shade))
		}
	}
	if len(c.all) > 1 {
		p.Add(&plotter.Line{XYs: c.all, LineStyle: draw.LineStyle{Color: quiet(), Width: couponWidth}})
	}
	p.Add(marked(c.good, inControlStyle()), marked(c.against, againstStyle()))
	setRange(p, x, y)
	p.X.Tick.Marker = wholeTicks(1, false)
	return p
}

func marked(xys plotter.XYs, s style) scatter { return scatter{xys, s.glyph(meanMark)} }

// verdicts draws which sessions are trusted, above the axis of sessions.
func (f *Sessions) verdicts(x span) *plot.Plot {
	p := newPanel("", 2)
	p.Y.Tick.Label.Font = sans(smallSize)
	var good, against plotter.XYs
	for i, trusted := range f.Trusted {
		if trusted {
			good = append(good, plotter.XY{X: float64(i + 1), Y: 1})
		} else {
			against = append(against, plotter.XY{X: float64(i + 1), Y: 0})
		}
	}
	p.Add(marked(good, inControlStyle()), marked(against, againstStyle()))
	setRange(p, x, span{-0.6, 1.6})
	p.X.Label.Text = "Session, in the order of their dates"
	p.X.Tick.Marker = wholeTicks(1, true)
	p.Y.Tick.Marker = plot.ConstantTicks{{Value: 0, Label: "not trusted"}, {Value: 1, Label: "trusted"}}
	return p
}

// wholeTicks are at whole numbers, from one on.
func wholeTicks(from float64, labelled bool) plot.Ticker {
	return plot.TickerFunc(func(lo, hi float64) (out []plot.Tick) {
		step := math.Max(1, roundStep((hi-lo)/12))
		for k := math.Max(from, math.Ceil(lo/step)); k*step <= hi; k++ {
			tick := plot.Tick{Value: k * step}
			if labelled {
				tick.Label = strconv.FormatFloat(k*step, 'f', 0, 64)
			}
			out = append(out, tick)
		}
		return out
	})
}
