package intake

import (
	"errors"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// plan says which columns are wavelengths and which are curves.
type plan struct {
	axis   string // unit of the wavelengths: nm, um, cm-1 or "" if nobody says
	axisBy said   // who says so
	lost   string // the heading whose unit lost its symbol, or ""
	xs     []int
	paired bool
	down   map[int]bool // wavelength columns that run down in the file
	curves []curve
	head   labelRow
	stated header     // what the header says
	byRow  bool       // each curve was a row, or a group of rows
	kinds  []cellKind // how the numbers of each column are written
	notes  []string
	lines  map[int]text.Span // of columns whose numbers stand in fewer lines than all
}

// planColumns decides the part that each column plays from its heading, the
// statements of the header, the units behind the numbers and what a person
// stated. Statements that contradict one another are refused.
func (r grid) planColumns(h labelRow, stated header, kinds []cellKind) (plan, error) {
	h = r.doubtLabels(h)
	p := plan{
		head: h, stated: stated, paired: h.isPaired(), kinds: kinds,
		curves: make([]curve, 0, len(kinds)),
	}
	for j, l := range h.labels {
		if l.IsX() {
			p.xs = append(p.xs, j)
		}
	}
	p, spare, err := r.chooseAxis(p)
	if err != nil {
		return p, err
	}
	p.lost = h.labels[p.xs[0]].LostText()
	if p.axis, p.axisBy, err = r.axisUnit(h, p.xs, stated, kinds); err != nil {
		return p, err
	}
	x := -1
	for j := range h.labels {
		switch {
		case x+1 < len(p.xs) && p.xs[x+1] == j:
			x++
		case slices.Contains(spare, j):
			p.notes = append(p.notes, fmt.Sprintf("column %d (%s) contains wavelengths too and is not read", j+1, h.labels[j].Text))
		case h.labels[j].Role == heading.AsIndex && !h.labels[j].OfLetter:
			p.notes = append(p.notes, fmt.Sprintf("column %d (%s) counts the rows and is not read", j+1, h.labels[j].Text))
		default:
			c, err := r.planCurve(h, j, stated, kinds[j])
			var fault *study.Refusal
			switch {
			case errors.As(err, &fault) && r.want.Columns != nil && !h.labels[j].Chosen: // what is wrong with it does not matter
				c.aside, c.unusable = notAsked+": "+fault.Fault, true
			case err != nil:
				return p, err
			}
			c.x = p.xs[max(x, 0)]
			p.curves = append(p.curves, c)
		}
	}
	return p, nil
}

// doubtLabels returns the headings without what their neighbours, a person who names columns or
// a person who overrules their line speak against.
func (r *asker) doubtLabels(h labelRow) labelRow {
	h.labels = slices.Clone(h.labels)
	h.doubtNames()
	h.doubtNumbered()
	h.doubtUncertainties()
	r.markStatedColumns(h)
	for j := range h.labels {
		if l := &h.labels[j]; r.overrules(h.at[j].Line) && l.Quantity != study.Reflectance {
			l.Quantity = ""
		}
	}
	return h
}

// markStatedColumns marks the columns that --columns names, and takes back what their headings
// seem to say against it: that they hold wavelengths where others do too, that they are an
// uncertainty or count the rows, and what a lone letter says.
func (r *asker) markStatedColumns(h labelRow) {
	if r.want.Columns == nil {
		return
	}
	xs := len(slices.DeleteFunc(slices.Clone(h.labels), func(l heading.Label) bool { return !l.IsX() }))
	curves := 0
	for j := range h.labels {
		l, number := &h.labels[j], j+1
		if h.pairs { // of a long form, whose curves are counted
			number = curves + 2
		}
		if !l.IsX() {
			curves++
		}
		if !slices.Contains(r.want.Columns, number) || h.pairs && l.IsX() {
			continue
		}
		if l.IsX() && xs > 1 && !h.isPaired() {
			*l = l.OfValues()
			xs--
		}
		l.Chosen, l.LoneU = true, false
		if l.Role == heading.AsUncertainty || l.Role == heading.AsIndex {
			l.Role = heading.AsValue
		}
		if l.OfLetter && (l.Quantity == heading.Absorbance || l.Quantity == study.Transmittance &&
			r.Stated.Quantity == string(study.Reflectance)) {
			l.Quantity = ""
		}
	}
}

// layout says how to read the rows.
func (p plan) layout() layout {
	l := layout{width: len(p.kinds), kinds: p.kinds, shifts: make([]int, len(p.kinds))}
	if p.axis == "um" {
		for _, j := range p.xs {
			l.shifts[j] = 3
		}
	}
	for _, c := range p.curves {
		if c.unit == "percent" {
			l.shifts[c.column] = -2
		}
	}
	return l
}

// unit returns the unit that the curves taken share, or mixed.
func (p plan) unit() string {
	unit := ""
	for _, c := range p.curves {
		switch {
		case c.aside != "" || c.unit == unit:
		case unit == "":
			unit = c.unit
		default:
			return "mixed"
		}
	}
	return unit
}
