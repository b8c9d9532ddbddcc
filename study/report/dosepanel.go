package report

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"
)

const (
	meanMark      = 3.2 // radius, points
	couponWidth   = 0.6 // of the line of a coupon, points
	couponOpacity = 0.35
	manyOpacity   = 3   // with many coupons, the opacity of one times the root of their number
	doseMost      = 300 // width of the label of doses, points
)

// dosePanel is a panel of changes against doses of one unit.
type dosePanel struct {
	unit         string
	trajectories []trajectory
	offset       float64 // largest distance of a group from its dose
	x, y         span
	least        float64     // length of the axis of changes, at least
	limit        float64     // a change at which a line is drawn; 0: none
	names        couponNames // nil: the coupons are not named
}

// newDosePanel returns the panel of those series with the unit. names holds all names of
// the figure, in the order of their styles.
func newDosePanel(unit string, names []string, c *Changes) dosePanel {
	var series []*Series
	for i := range c.Series {
		if c.Series[i].unit() == unit {
			series = append(series, &c.Series[i])
		}
	}
	d := dosePanel{unit: unit, least: c.leastRange(), limit: c.Limit}
	room := newRoom(series)
	for i, s := range series {
		offset := func(dose float64) float64 { return (float64(i) - float64(len(series)-1)/2) * room.step(dose) }
		t := newTrajectory(styleOf(slices.Index(names, s.label())), s, offset)
		for _, p := range s.Points {
			if usable(p.Dose) {
				d.offset = math.Max(d.offset, math.Abs(offset(p.Dose)))
			}
		}
		d.trajectories = append(d.trajectories, t)
	}
	d.x, d.y = d.ranges(room.doses)
	return d
}

// ranges returns the range of doses, extended for the groups beside them, and that of
// changes. The latter always holds zero; bars extend it by at most half its length
// at each end.
func (d *dosePanel) ranges(doses span) (x, y span) {
	x, y = doses, span{0, 0}
	bars := emptySpan()
	for _, t := range d.trajectories {
		for _, line := range append(slices.Clip(t.each), t.mean, t.fitted) {
			for _, xy := range line {
				x, y = x.with(xy.X), y.with(xy.Y)
			}
		}
		for _, b := range t.bars {
			bars = bars.with(b.lo).with(b.hi)
		}
	}
	if d.limit != 0 {
		y = y.with(d.limit)
	}
	y = y.reaching(bars, y.padded(0.5, d.least))
	return x.padded(0.03, 0), y.padded(0.05, d.least)
}

// cut returns the number of bars that are cut at the edge of the panel.
func (d *dosePanel) cut() int {
	n := 0
	for _, t := range d.trajectories {
		for _, b := range t.bars {
			if b.lo < d.y.lo || b.hi > d.y.hi {
				n++
			}
		}
	}
	return n
}

// key states the distance of groups from their dose; empty if there is none.
func (d *dosePanel) key() string {
	if d.offset == 0 {
		return ""
	}
	return fmt.Sprintf("Groups are drawn side by side, up to %s %s from their dose.", ceil2(d.offset), d.unit)
}

// doseLabel returns the label of the axis of doses.
func (d *dosePanel) doseLabel() string {
	unit := d.unit
	if strings.Contains(unit, "/") {
		unit = "(" + unit + ")"
	}
	return bodyStyle().shorten("Dose / "+unit, doseMost)
}

// plot draws the coupons below the means with their bars.
func (d *dosePanel) plot(quantity string) *plot.Plot {
	p := newPanel(quantity, 8)
	p.X.Label.Text = d.doseLabel()
	p.X.Tick.Marker = ticks(9, true)
	p.Add(zeroLine(d.x))
	if d.limit != 0 {
		p.Add(limitLine(d.x, d.limit))
	}
	d.addCoupons(p)
	for _, t := range d.trajectories {
		p.Add(stems{t.bars, t.colour})
		line := t.mean
		if len(t.fitted) > 0 {
			line = t.fitted
		}
		if len(line) > 0 {
			p.Add(&plotter.Line{XYs: line, LineStyle: t.line()})
		}
	}
	for _, t := range d.trajectories {
		p.Add(scatter{t.mean, ground()})
	}
	for _, t := range d.trajectories {
		p.Add(ends{t.bars, t.colour}, scatter{t.mean, t.glyph(meanMark)})
	}
	p.Add(d.names)
	setRange(p, d.x, d.y)
	return p
}

// ground returns the white disc below the mark of a mean. It keeps the shape of the mark
// visible on lines and bars.
func ground() draw.GlyphStyle {
	return draw.GlyphStyle{Color: color.White, Radius: meanMark + 1, Shape: draw.CircleGlyph{}}
}

// addCoupons draws the coupons. The more there are, the fainter they are.
func (d *dosePanel) addCoupons(p *plot.Plot) {
	coupons := 0
	for _, t := range d.trajectories {
		coupons += len(t.each)
	}
	opacity := math.Min(couponOpacity, manyOpacity/math.Sqrt(float64(coupons)))
	for _, t := range d.trajectories {
		colour := faint(t.colour, opacity)
		for _, coupon := range t.each {
			line := draw.LineStyle{Color: colour, Width: couponWidth, Dashes: t.dashes}
			p.Add(&plotter.Line{XYs: coupon, LineStyle: line})
		}
		p.Add(dots{slices.Concat(t.each...), colour})
	}
}
