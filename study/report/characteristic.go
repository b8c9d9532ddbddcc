package report

import (
	"errors"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/study"
)

// Characteristic is the figure of the operating characteristic of a rule of acceptance: the chance that it accepts a
// product, against the share of the product that conforms.
type Characteristic struct {
	Rule              string
	Coupons, Failures int
	Share             float64 // that the rule asks for, drawn as an upright line; NaN: none
	Points            []CharacteristicPoint
	Stamp             study.Stamp // the line at the foot
}

// CharacteristicPoint is the chance at a share; all are from 0 to 1.
type CharacteristicPoint struct {
	Share    float64
	Accepted float64 // at most: all that does not conform lies at the limit
	Certain  float64 // if losses were read without error
}

const characteristicHeight = 300

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes. It is an error
// if there are fewer than two points, or if one is not from 0 to 1.
func (f *Characteristic) Write(w io.Writer, format string) error {
	if len(f.Points) < 2 {
		return errors.New("report: a characteristic has two points or more")
	}
	for _, p := range f.Points {
		for _, x := range []float64{p.Share, p.Accepted, p.Certain} {
			if !(x >= 0 && x <= 1) {
				return fmt.Errorf("report: %g is no share and no chance", x)
			}
		}
	}
	return write(w, format, f.sheet)
}

func (f *Characteristic) sheet(width vg.Length) *sheet {
	most := style{palette()[0], nil, draw.CircleGlyph{}}
	certain := style{palette()[4], []vg.Length{5, 3}, draw.CircleGlyph{}}
	key := legend{head: []string{"Losses are read"}, entries: []entry{
		{style: most, label: bodyStyle().wrap("with error: at most", labelMost)},
		{style: certain, label: bodyStyle().wrap("without error", labelMost)},
	}}
	failures := fmt.Sprintf("%d failures", f.Failures)
	switch f.Failures {
	case 0:
		failures = "no failure"
	case 1:
		failures = "1 failure"
	}
	caption := []string{fmt.Sprintf("The rule takes %d coupons and allows %s. All that does not conform is taken to "+
		"lie at the limit, where a coupon passes in 5 %% of the cases; errors are independent.", f.Coupons, failures)}
	if !math.IsNaN(f.Share) {
		caption = append(caption, "Upright line: the share that the rule asks for. An acceptance left of it is wrong.")
	}
	s := newSheet(width, "Operating characteristic of the rule "+f.Rule, key, caption, nil)
	s.sign(counted(f.Coupons, "coupon"), f.Stamp)
	s.add(f.plot(most, certain), characteristicHeight, "Chance that the rule accepts the product")
	return s
}

func (f *Characteristic) plot(most, certain style) *plot.Plot {
	p := newPanel("chance / %", 6)
	p.X.Tick.Marker = ticks(9, true)
	p.X.Label.Text = "Share of the product that conforms / %"
	var upper, lower plotter.XYs
	for _, c := range f.Points {
		upper = append(upper, plotter.XY{X: percent * c.Share, Y: percent * c.Accepted})
		lower = append(lower, plotter.XY{X: percent * c.Share, Y: percent * c.Certain})
	}
	if !math.IsNaN(f.Share) {
		p.Add(&plotter.Line{XYs: plotter.XYs{{X: percent * f.Share, Y: 0}, {X: percent * f.Share, Y: 100}},
			LineStyle: draw.LineStyle{Color: quiet(), Width: 0.8}})
	}
	p.Add(&plotter.Line{XYs: lower, LineStyle: certain.line()}, &plotter.Line{XYs: upper, LineStyle: most.line()})
	setRange(p, span{0, 100}, span{0, 102})
	return p
}
