package report

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"wane/study"
)

// Budget is the figure of what adds to the uncertainty of some means: for each owner of errors a row, in which each
// mean has a mark at the standard uncertainty that the errors of this owner alone would give it. It is designed for one
// to eight means and up to twelve owners.
type Budget struct {
	Title   string
	What    string   // whose uncertainty it is; empty: the mean
	Head    string   // above the names of the means; empty: Mean of
	Count   string   // how much the figure is of; empty: the coupons of the means
	Unit    string   // of the uncertainties
	Owners  []string // the rows, from above
	Means   []BudgetMean
	Caption []string    // lines below the panel, broken where they are too long
	Stamp   study.Stamp // the line at the foot
}

// BudgetMean is a mean with the standard uncertainty by each owner, in the order of the owners.
type BudgetMean struct {
	Name    string
	Coupons int // 0: not known
	U       []float64
}

const budgetRow = 26 // height of a row in points

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// Values that are not finite, negative, or of a million and more are not drawn; a line below the caption counts them.
//
// It is an error if there is no mean or no owner, if a mean has not a value for each owner, if the format is another
// one, or if w fails.
func (f *Budget) Write(w io.Writer, format string) error {
	if len(f.Means) == 0 || len(f.Owners) == 0 {
		return errors.New("report: there is no budget to draw")
	}
	for i := range f.Means {
		if len(f.Means[i].U) != len(f.Owners) {
			return fmt.Errorf("report: %q has %d uncertainties for %d owners", f.Means[i].Name, len(f.Means[i].U), len(f.Owners))
		}
	}
	return write(w, format, f.sheet)
}

func (f *Budget) sheet(width vg.Length) *sheet {
	key := legend{head: []string{cmp.Or(f.Head, "Mean of")}, markRadius: meanMark, ground: ground()}
	p := newPanel("", len(f.Owners))
	rows := len(f.Owners)
	x, leftOut := span{0, 0}, 0
	for i := range f.Means {
		m := &f.Means[i]
		key.entries = append(key.entries, entry{style: styleOf(i), label: bodyStyle().wrap(m.Name, labelMost),
			note: couponsNote(coupons(m.Coupons))})
		var xys plotter.XYs
		for k, u := range m.U {
			if !usable(u) || u < 0 {
				leftOut++
				continue
			}
			// Means are beside one another within the middle half of a row.
			offset := 0.5 * ((float64(i)+0.5)/float64(len(f.Means)) - 0.5)
			xys = append(xys, plotter.XY{X: u, Y: float64(rows-1-k) - offset})
			x = x.with(u)
		}
		p.Add(scatter{xys, key.entries[i].glyph(meanMark)})
	}
	var names []plot.Tick
	for k, owner := range f.Owners {
		label := bodyStyle().shorten(words(owner), ownerMost)
		if width < pageWidth {
			label = strings.Join(bodyStyle().wrapAny(words(owner), width/3), "\n")
		}
		names = append(names, plot.Tick{Value: float64(rows - 1 - k), Label: label})
	}
	p.Y.Tick.Marker = plot.ConstantTicks(names)
	p.X.Tick.Marker = ticks(7, true)
	p.X.Label.Text = "Standard uncertainty of the " + f.what() + " by these errors alone / " + words(f.Unit)
	setRange(p, span{0, x.padded(0.04, 1e-4).hi}, span{-0.6, float64(rows) - 0.4})
	s := newSheet(width, f.Title, key, f.Caption, leftOutNote(leftOut))
	s.sign(f.count(), f.Stamp)
	s.add(p, vg.Length(rows*budgetRow+60), "Each row: the errors of one owner.  Squares of the marks of a "+f.what()+
		" add up to its variance by errors.")
	return s
}

// count says how many coupons are behind the means, if each mean says it.
func (f *Budget) count() string {
	if f.Count != "" {
		return f.Count
	}
	coupons := 0
	for i := range f.Means {
		if f.Means[i].Coupons == 0 {
			return counted(len(f.Means), "mean")
		}
		coupons += f.Means[i].Coupons
	}
	return counted(coupons, "coupon")
}

func (f *Budget) what() string { return cmp.Or(f.What, "mean") }

const ownerMost = 190 // width of the name of an owner, points
