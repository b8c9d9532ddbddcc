package report

import (
	"cmp"
	"image/color"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Lengths in points.
const (
	nameSize   = 9
	nameMost   = 60 // width of a name
	nameRoom   = 20 // length of the line from the last value to the name
	frameRoom  = 60 // height of a panel for its axis and labels
	leaderLine = 0.5
)

// couponName is the code of a coupon beside its last value.
type couponName struct {
	text   string
	x, y   float64 // of the last value
	colour color.NRGBA
}

// couponNames draws the codes of coupons in a column at the right edge of the panel. Each is
// at the height of its last value if there is space, with a thin line from that value.
type couponNames []couponName

// addNames adds the names of the coupons to the panel, with space for them at its right
// edge. It returns the least height of the panel that holds them.
func (d *dosePanel) addNames(width vg.Length) vg.Length {
	for _, t := range d.trajectories {
		for k, xys := range t.each {
			last := xys[len(xys)-1]
			name := couponName{nameStyle().shorten(t.codes[k], nameMost), last.X, last.Y, t.colour}
			d.names = append(d.names, name)
		}
	}
	column := d.names.width() + nameRoom
	// The axis becomes longer by the share of the column in the width of the panel.
	share := float64(column / max(width-2*margin-column-labelMost-sampleWidth-frameRoom, column))
	d.x.hi += share * (d.x.hi - d.x.lo)
	return nameStyle().height(len(d.names)) + frameRoom
}

func nameStyle() textStyle { return newTextStyle(nameSize, false, ink()) }

// width returns the width of the widest name in points.
func (n couponNames) width() vg.Length {
	w := vg.Length(0)
	for _, name := range n {
		w = max(w, nameStyle().width(name.text))
	}
	return w
}

// Plot implements plot.Plotter.
func (n couponNames) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	sorted := slices.Clone(n)
	slices.SortStableFunc(sorted, func(a, b couponName) int { return cmp.Compare(b.y, a.y) })
	wanted := make([]vg.Length, len(sorted))
	for i, name := range sorted {
		wanted[i] = y(name.y)
	}
	left := c.Max.X - n.width()
	for i, at := range spreadOut(wanted, nameStyle().height(1), c.Min.Y, c.Max.Y) {
		name := sorted[i]
		line := draw.LineStyle{Color: faint(name.colour, couponOpacity), Width: leaderLine}
		c.StrokeLine2(line, x(name.x), wanted[i], left-smallGap/2, at)
		text := newTextStyle(nameSize, false, name.colour)
		c.SetColor(name.colour)
		c.FillString(text.face, vg.Point{X: left, Y: at - nameSize/3}, name.text)
	}
}

// spreadOut returns places near the wanted ones, which must fall, in their order and at
// least step apart. They are between bottom and top if there is space.
func spreadOut(wanted []vg.Length, step, bottom, top vg.Length) []vg.Length {
	places := slices.Clone(wanted)
	limit := top - step/2
	for i := range places {
		places[i] = min(places[i], limit)
		limit = places[i] - step
	}
	limit = bottom + step/2
	for i := len(places) - 1; i >= 0; i-- {
		places[i] = max(places[i], limit)
		limit = places[i] + step
	}
	return places
}
