package intake

import (
	"fmt"
	"strings"

	"wane/study"
)

// curve is a value column and what is known of it before its numbers are read.
type curve struct {
	column, x    int // from 0
	label        label
	at           place
	unit         string // fraction, percent or "" if nobody says
	quantity     study.Quantity
	angle        float64 // degrees, NaN if nobody says
	polarisation string  // s, p, u or "" if nobody says
	aside        string  // why it is not taken by default, or ""
	unusable     bool    // it cannot be taken at all
}

// plan says which columns are wavelengths and which are curves.
type plan struct {
	axis   string // unit of the wavelengths: nm, um, cm-1 or "" if nobody says
	lost   string // the heading whose unit lost its symbol, or ""
	xs     []int
	paired bool
	down   map[int]bool // wavelength columns that run down in the file
	curves []curve
	head   heading
	kinds  []cellKind // how the numbers of each column are written
	notes  []string
}

// planColumns decides the part that each column plays from its heading, the
// statements of the header, the units behind the numbers and what a person
// stated. Statements that contradict one another are refused.
func (r *reader) planColumns(h heading, stated header, kinds []cellKind) (plan, error) {
	p := plan{head: h, paired: h.isPaired(), kinds: kinds, down: map[int]bool{}, curves: make([]curve, 0, len(kinds))}
	for j, l := range h.labels {
		if l.isX() {
			p.xs = append(p.xs, j)
		}
		if l.lost {
			p.lost = l.text
		}
	}
	if len(p.xs) == 0 {
		p.xs = []int{0}
	}
	if len(p.xs) > 1 && !p.paired {
		return p, r.refuse(h.at[p.xs[1]], "export one wavelength column, or one right before each value column",
			"columns %d and %d both hold wavelengths", p.xs[0]+1, p.xs[1]+1)
	}
	var err error
	if p.axis, err = r.axisUnit(h, p.xs, stated, kinds); err != nil {
		return p, err
	}
	x := -1
	for j := range h.labels {
		switch {
		case x+1 < len(p.xs) && p.xs[x+1] == j:
			x++
		case h.labels[j].role == asIndex:
			p.notes = append(p.notes, fmt.Sprintf("column %d (%s) counts the rows and is not read", j+1, h.labels[j].text))
		default:
			c, err := r.planCurve(h, j, stated, kinds[j])
			if err != nil {
				return p, err
			}
			c.x = p.xs[max(x, 0)]
			p.curves = append(p.curves, c)
		}
	}
	setFacesAside(p.curves)
	return p, nil
}

// axisUnit returns the unit of the wavelengths, "" if nobody states it.
func (r *reader) axisUnit(h heading, xs []int, stated header, kinds []cellKind) (string, error) {
	all := []said{stated.axis}
	for _, j := range xs {
		all = append(all, said{h.labels[j].axis, "the heading", h.at[j]}, said{glued(kinds[j]), "the column of wavelengths", h.at[j]})
	}
	all = append(all, said{r.stated.WavelengthUnit, "--wavelength-unit", nowhere})
	unit, err := r.agree(all...)
	if err == nil && !isAny(unit, "", "nm", "um", "cm-1") {
		err = r.refuse(h.at[xs[0]], "export wavelengths in nm", "wavelengths in %s are not read", unit)
	}
	return unit, err
}

// glued returns the unit that a kind of cell carries, or "".
func glued(kind cellKind) string {
	switch kind {
	case percentNumber:
		return "percent"
	case nmNumber:
		return "nm"
	case umNumber:
		return "um"
	}
	return ""
}

// planCurve decides what value column j holds.
func (r *reader) planCurve(h heading, j int, stated header, kind cellKind) (curve, error) {
	l := h.labels[j]
	c := curve{column: j, label: l, at: h.at[j]}
	var err error
	if c.angle, err = r.angleOf(l, c.at); err != nil {
		return c, err
	}
	switch {
	case l.role == asUncertainty:
		c.aside, c.unusable = "an uncertainty", true
		return c, nil
	case isForeign(l.quantity):
		c.aside, c.unusable = string(l.quantity), true
		return c, nil
	case l.role == asAside:
		c.aside = "a baseline or reference by its name"
	}
	return c, r.settle(&c, stated, glued(kind))
}

// settle brings together what the heading, the header, the cells and a person
// say of the unit and the quantity of a curve.
func (r *reader) settle(c *curve, stated header, cells string) error {
	q := study.Quantity(stated.quantity.value)
	switch {
	case c.label.quantity == "" && isForeign(q):
		return r.refuse(stated.quantity.at, "export the reflectance", "the header says %s; this needs reflectance", q)
	case c.label.twoUnits:
		return r.refuse(c.at, "correct the heading", "heading %s names percent and fraction", quoted(c.label.text))
	case c.label.twoPolarisations:
		return r.refuse(c.at, "name one polarisation in the heading: s, p, or u for the mean of both",
			"heading %s names two polarisations", quoted(c.label.text))
	case cells == "nm" || cells == "um":
		return r.refuse(c.at, exportAgain, "column %d holds wavelengths where values are due", c.column+1)
	}
	var err error
	c.unit, err = r.agree(said{c.label.unit, "the heading", c.at}, said{cells, "the column of values", c.at},
		stated.unit, said{r.stated.Unit, "--unit", nowhere})
	if err != nil {
		return err
	}
	quantity, err := r.agree(said{string(c.label.quantity), "the heading", c.at}, stated.quantity,
		said{r.stated.Quantity, "--quantity", nowhere})
	if err != nil {
		return err
	}
	c.quantity = study.Quantity(quantity)
	c.polarisation, err = r.agree(said{c.label.polarisation, "the heading", c.at}, stated.polarisation)
	return err
}

// isForeign reports whether a quantity cannot be used at all.
func isForeign(q study.Quantity) bool {
	return q != "" && q != study.Reflectance && q != study.Transmittance
}

// setFacesAside sets front and back aside if both are there: only a person
// knows which is meant.
func setFacesAside(curves []curve) {
	seen := map[string]bool{}
	for _, c := range curves {
		seen[c.label.face] = true
	}
	if !seen["front"] || !seen["back"] {
		return
	}
	for i := range curves {
		if curves[i].label.face != "" && curves[i].aside == "" {
			curves[i].aside = "the " + curves[i].label.face + " face, beside the other"
		}
	}
}

// missing lists what nobody states about the curves that would be taken, with
// the flags that would.
func (p plan) missing() (faults, flags []string, at place) {
	at = nowhere
	note := func(where place, fault, flag string) {
		if len(faults) == 0 {
			at = where
		}
		faults, flags = append(faults, fault), append(flags, flag)
	}
	if p.axis == "" {
		fault := "the unit of wavelength is not stated"
		if p.lost != "" {
			fault = "the unit of wavelength lost its symbol in " + quoted(p.lost)
		}
		note(p.head.at[p.xs[0]], fault, "--wavelength-unit nm (or um)")
	}
	for _, c := range p.curves {
		if c.aside == "" && c.quantity == "" {
			note(c.at, c.name()+" does not say that it holds reflectance", "--quantity R")
			break
		}
	}
	for _, c := range p.curves {
		if c.aside == "" && c.unit == "" {
			note(c.at, c.name()+" does not say percent or fraction", "--unit percent (or fraction)")
			break
		}
	}
	return faults, flags, at
}

// name names a curve in a message.
func (c curve) name() string {
	if c.label.text == "" {
		return fmt.Sprintf("column %d", c.column+1)
	}
	return "column " + quoted(c.label.text)
}

// ask refuses a file about which something is not stated.
func (r *reader) ask(p *plan, t table) error {
	faults, flags, at := p.missing()
	if len(faults) == 0 {
		return nil
	}
	x := p.xs[0]
	low, _ := ends(t.column(x))
	switch {
	case p.axis != "":
	case p.head.line == 0 && countsRows(t.column(x)):
		at = r.cellPlace(0, x)
		return r.refuse(at, "export the wavelengths as the first column, with a heading", "column %d counts the rows and has no heading", x+1)
	case low < leastNM:
		at = r.cellPlace(0, x)
		faults[0] = fmt.Sprintf("wavelength %s has no unit and can only be in micrometres", wavelength(low))
		flags[0] = "--wavelength-unit um"
	}
	if p.head.line == 0 {
		faults = append([]string{"no line names the columns"}, faults...)
	}
	return r.refuse(at, "state "+listed(flags), "%s", strings.Join(faults, "; "))
}

// countsRows reports whether a column holds 0, 1, 2 and so on, or 1, 2, 3.
func countsRows(x []float64) bool {
	if len(x) < 3 || x[0] != 0 && x[0] != 1 {
		return false
	}
	for i, v := range x {
		if v != x[0]+float64(i) {
			return false
		}
	}
	return true
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
