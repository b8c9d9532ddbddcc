package report

import (
	"errors"
	"fmt"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/fit/film"
	"wane/study"
)

// Pulls is the figure of all that was read of a coupon: the measured and the fitted curves of its pulls, in a panel for
// each spot and angle. It is designed for one to twelve pulls and one to eight panels.
type Pulls struct {
	Title   string
	Pulls   []PullName // in the order of their doses, which is that of their styles
	Panels  []PullPanel
	Caption []string    // lines below the panels, broken where they are too long
	Stamp   study.Stamp // the line at the foot
}

// PullName is a pull in the legend.
type PullName struct {
	Name string
	Dose string // with its unit; may be empty
}

// PullPanel holds the curves of one spot at one angle.
type PullPanel struct {
	Label  string
	Curves []PullCurve
}

// PullCurve is a curve of a pull, by its number in Pulls.Pulls from 0.
type PullCurve struct {
	Pull int
	film.FittedCurve
}

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// Of long curves the lines are drawn by the extremes of each column of what a screen shows: a spike of one point
// stays. Values that are not finite, or of 10 000 (as a fraction) and more, are not drawn; a line below the caption
// counts them.
//
// It is an error if there is no panel, if a curve is empty, of slices that are not of one length, or of no pull, if
// the format is another one, or if w fails.
func (f *Pulls) Write(w io.Writer, format string) error {
	if len(f.Panels) == 0 {
		return errors.New("report: there is no pull to draw")
	}
	for _, p := range f.Panels {
		for i := range p.Curves {
			c := &p.Curves[i]
			if n := len(c.NM); n == 0 || len(c.Measured) != n || len(c.Fitted) != n || len(c.Band) != n {
				return fmt.Errorf("report: curve %d of %q has %d wavelengths, %d measured and %d fitted values and a band of %d",
					i+1, p.Label, n, len(c.Measured), len(c.Fitted), len(c.Band))
			}
			if c.Pull < 0 || c.Pull >= len(f.Pulls) {
				return fmt.Errorf("report: curve %d of %q is of pull %d of %d", i+1, p.Label, c.Pull, len(f.Pulls))
			}
		}
	}
	return write(w, format, f.sheet)
}

const (
	mostPullMarks = 14   // of a curve
	unseen        = 4000 // a panel has this many steps that nobody can distinguish
)

func (f *Pulls) sheet(width vg.Length) *sheet {
	key := legend{head: []string{"Pull"}, markRadius: markRadius}
	for i, p := range f.Pulls {
		e := entry{style: styleOf(i), label: bodyStyle().wrap(p.Name, labelMost)}
		if words(p.Dose) != "" {
			e.note = keyStyle().wrap(p.Dose, labelMost)
		}
		key.entries = append(key.entries, e)
	}
	var all []trace
	traces := make([][]trace, len(f.Panels))
	leftOut := 0
	for i, p := range f.Panels {
		for k := range p.Curves {
			t := newTrace(p.Curves[k].Pull, &p.Curves[k].FittedCurve, "")
			traces[i], leftOut = append(traces[i], t), leftOut+t.leftOut
		}
		all = append(all, traces[i]...)
	}
	s := newSheet(width, f.Title, key, f.Caption, leftOutNote(leftOut))
	s.sign(counted(len(f.Pulls), "pull")+", "+counted(len(all), "curve"), f.Stamp)
	x := wavelengths(all)
	words := "Marks (thinned) and thin lines: measured.  Thick lines: fitted.\n"
	for i, p := range f.Panels {
		last := i == len(f.Panels)-1
		height := vg.Length(max(130, 330-40*len(f.Panels)))
		if last {
			height += axisHeight - 10
		}
		s.add(pullsPanel(traces[i], x, last), height, words+p.Label)
		words = ""
	}
	return s
}

// pullsPanel draws the curves of one panel. The last panel of a figure has the axis of wavelengths.
func pullsPanel(traces []trace, x span, last bool) *plot.Plot {
	quantity := "Reflectance"
	if len(traces) > 0 && traces[0].through {
		quantity = "Transmittance"
	}
	p := newPanel(quantity+" / %", 5)
	if last {
		p.X.Label.Text = "Wavelength / nm"
		p.X.Tick.Marker = ticks(9, true)
	}
	y := reflectances(traces)
	off := (y.hi - y.lo) / unseen
	for i := range traces {
		t := &traces[i]
		if len(t.measured) > 1 {
			p.Add(&plotter.Line{XYs: decimated(t.measured, pullColumns),
				LineStyle: draw.LineStyle{Color: faint(t.colour, 0.6), Width: couponWidth}})
		}
		for _, line := range t.fitted {
			p.Add(&plotter.Line{XYs: simplified(line, off), LineStyle: t.line()})
		}
	}
	for i := range traces {
		t := &traces[i]
		p.Add(scatter{thinned(t.measured, mostPullMarks, float64(i)/float64(len(traces))), t.glyph(markRadius)})
	}
	setRange(p, x, y)
	return p
}
