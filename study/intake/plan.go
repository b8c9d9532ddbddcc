package intake

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// curve is a value column and what is known of it before its numbers are read.
type curve struct {
	column, x    int // of the table, from 0
	number       int // by which a person names it, from 1, if it is not column + 1
	label        heading.Label
	at           text.Position
	unit         string // fraction, percent or "" if nobody says
	quantity     study.Quantity
	unitBy       said // who says so
	quantityBy   said
	angle        float64 // degrees, NaN if nobody says
	polarisation string  // s, p, u or "" if nobody says
	aside        string  // why it is not taken by default, or ""
	maybe        bool    // it has no heading and may be anything
	unusable     bool    // it cannot be taken at all
	isBlock      bool    // of a JCAMP-DX file, headed by its title
}

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
	h.doubtNames()
	h.doubtNumbered()
	h.doubtUncertainties()
	r.heedColumns(h)
	for j := range h.labels {
		if l := &h.labels[j]; r.overrules(h.at[j].Line) && l.Quantity != study.Reflectance {
			l.Quantity = ""
		}
	}
	p := plan{head: h, stated: stated, paired: h.isPaired(), kinds: kinds, down: map[int]bool{}, curves: make([]curve, 0, len(kinds))}
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
			p.notes = append(p.notes, fmt.Sprintf("column %d (%s) holds wavelengths too and is not read", j+1, h.labels[j].Text))
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

// heedColumns marks the columns that --columns names, and takes back what their headings
// seem to say against it: that they hold wavelengths where others do too, that they are an
// uncertainty or count the rows, and what a lone letter says.
func (r *asker) heedColumns(h labelRow) {
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
		if l.OfLetter && (l.Quantity == heading.Absorbance || l.Quantity == study.Transmittance && r.Stated.Quantity == string(study.Reflectance)) {
			l.Quantity = ""
		}
	}
}

// chooseAxis decides which column holds the wavelengths, and returns those that
// are headed as such and are not taken.
func (r *asker) chooseAxis(p plan) (chosen plan, spare []int, err error) {
	h, j := p.head, r.want.Axis-1
	switch {
	case j >= len(h.labels):
		return p, nil, r.Refuse(text.Nowhere, "state a column that is there", "--axis is stated as %d, and the rows have %s", j+1, text.Count(len(h.labels), "column"))
	case j >= 0 && len(p.xs) > 0 && !slices.Contains(p.xs, j):
		return p, nil, r.Refuse(h.at[p.xs[0]], "leave --axis out, or correct it", "the heading names column %d for the wavelengths, --axis says %d", p.xs[0]+1, j+1)
	case j >= 0:
		spare = slices.DeleteFunc(slices.Clone(p.xs), func(x int) bool { return x == j })
		p.xs, p.paired = []int{j}, false
	case len(p.xs) == 0:
		p.xs = []int{0}
	case len(p.xs) > 1 && !p.paired:
		var choices []study.Choice
		for _, x := range p.xs {
			choices = append(choices, study.Choice{Name: "axis", Value: strconv.Itoa(x + 1), Meaning: "the column headed " + text.Quoted(h.labels[x].Text)})
		}
		return p, nil, r.Question(h.at[p.xs[1]], choices, "export one wavelength column, or one right before each value column",
			"columns %d and %d both hold wavelengths", p.xs[0]+1, p.xs[1]+1)
	}
	return p, spare, nil
}

// axisUnit returns the unit of the wavelengths, "" if nobody states it.
func (r *asker) axisUnit(h labelRow, xs []int, stated header, kinds []cellKind) (string, said, error) {
	if err := r.checkNames(h, xs); err != nil {
		return "", said{}, err
	}
	all := []said{stated.axis}
	for _, j := range xs {
		all = append(all, said{h.labels[j].Axis, "the heading", h.at[j]}, said{glued(kinds[j]), "the column of wavelengths", h.at[j]})
	}
	all = append(all, said{r.Stated.WavelengthUnit, "--wavelength-unit", text.Nowhere})
	unit, err := r.agree(all...)
	if err == nil && !heading.IsAny(unit, "", "nm", "um", "cm-1") {
		err = r.Refuse(h.at[xs[0]], "export wavelengths in nm", "%s are not read", heading.UnreadAxis(unit))
	}
	return unit, firstOf(all...), err
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
func (r grid) planCurve(h labelRow, j int, stated header, kind cellKind) (curve, error) {
	l := h.labels[j]
	c := curve{column: j, label: l, at: h.at[j]}
	var err error
	if c.angle, err = r.incidence(l, c.at, stated.angle); err != nil {
		return c, err
	}
	switch {
	case l.Role == heading.AsUncertainty:
		c.aside, c.unusable = "an uncertainty", true
		return c, nil
	case heading.IsForeign(l.Quantity):
		c.aside, c.unusable = string(l.Quantity), true
		return c, nil
	case l.NamesOther() && !l.Chosen:
		c.aside, c.unusable = "no reflectance by its name", true
		return c, nil
	case l.Role == heading.AsAside:
		c.aside = "a baseline or reference by its name"
	}
	return c, r.settle(&c, stated, glued(kind))
}

// incidence returns the angle that the heading states, or the header, in degrees, or NaN.
func (r *asker) incidence(l heading.Label, at text.Position, stated said) (float64, error) {
	angle, err := r.angleOf(l, at)
	if err != nil || stated.value == "" {
		return angle, err
	}
	now := readAngle(stated.value)
	if !math.IsNaN(angle) && angle != now {
		return 0, r.Refuse(stated.at, "find out which is right, then correct the statement or the export",
			"the heading says %s degrees, the header says %s degrees", text.Figure(angle), text.Figure(now))
	}
	return now, nil
}

// settle brings together what the heading, the header, the cells and a person
// say of the unit and the quantity of a curve.
func (r grid) settle(c *curve, stated header, cells string) error {
	switch {
	case c.label.TwoUnits:
		return r.Refuse(c.at, "correct the heading", "heading %s names percent and fraction", text.Quoted(c.label.Text))
	case c.label.TwoPolarisations:
		return r.Refuse(c.at, "name one polarisation in the heading: s, p, or u for the mean of both",
			"heading %s names two polarisations", text.Quoted(c.label.Text))
	case cells == "nm" || cells == "um":
		return r.Refuse(c.at, text.ExportAgain, "column %d holds wavelengths where values are due", c.column+1)
	}
	var err error
	units := []said{{c.label.Unit, "the heading", c.at}, {cells, "the column of values", c.at}, stated.unit, {r.Stated.Unit, "--unit", text.Nowhere}}
	if c.unit, err = r.agree(units...); err != nil {
		return err
	}
	quantities := []said{{string(c.label.Quantity), "the heading", c.at}, stated.quantity, {r.Stated.Quantity, "--quantity", text.Nowhere}}
	quantity, err := r.agree(quantities...)
	if err != nil {
		return r.askQuantity(err, c, stated)
	}
	c.quantity = study.Quantity(quantity)
	c.unitBy, c.quantityBy = firstOf(units...), firstOf(quantities...)
	c.polarisation, err = r.agree(said{c.label.Polarisation, "the heading", c.at}, stated.polarisation)
	return err
}

// askQuantity offers to overrule the lines that contradict one another on the quantity of a
// curve: one of the header, the title of a block, and the heading of a column that is asked for.
func (r grid) askQuantity(err error, c *curve, stated header) error {
	var lines []text.Position
	var refusal *study.Refusal
	if at := stated.quantity.at; errors.As(err, &refusal) && at != text.Nowhere && refusal.Line == at.Line {
		lines = append(lines, at)
	}
	if c.isBlock && c.label.Quantity != "" || lines == nil && c.label.Chosen {
		lines = append(lines, c.at)
	}
	return r.askOverrule(err, lines...)
}

// askOverrule offers to overrule one of the lines that made a refusal.
func (r grid) askOverrule(err error, lines ...text.Position) error {
	var refusal *study.Refusal
	if !errors.As(err, &refusal) || len(lines) == 0 {
		return err
	}
	var choices []study.Choice
	for _, at := range lines {
		choices = append(choices, r.overrule([]otherLine{{at: at}})...)
	}
	return r.question(text.Position{Line: refusal.Line, Column: refusal.Column}, choices, refusal.Try, "%s", refusal.Fault)
}

// gap is something that nobody states.
type gap struct {
	at      text.Position
	fault   string
	choices []study.Choice
	try     string // instead of all choices
}

var (
	axisChoices = []study.Choice{{Name: "wavelength-unit", Value: "nm", Meaning: "nanometres"},
		{Name: "wavelength-unit", Value: "um", Meaning: "micrometres"}, {Name: "wavelength-unit", Value: "cm-1", Meaning: "wavenumbers"}}
	quantityChoices = []study.Choice{{Name: "quantity", Value: "R", Meaning: "reflectance"}} // T is refused, so it is not offered
	unitChoices     = []study.Choice{{Name: "unit", Value: "percent", Meaning: "0 to 100"}, {Name: "unit", Value: "fraction", Meaning: "0 to 1"}}
)

// missing lists what nobody states about the curves that would be taken. Questions of unit
// show what the numbers are, as they are written.
func (r grid) missing(p plan, t table) (gaps []gap) {
	if p.axis == "" {
		fault := "the unit of wavelength is not stated"
		if p.lost != "" {
			fault = "the unit of wavelength lost its symbol in " + text.Quoted(p.lost)
		}
		low, high := text.Ends(t.column(p.xs[0]))
		fault += fmt.Sprintf(" (the numbers run from %s to %s)", text.Wavelength(low), text.Wavelength(high))
		gaps = append(gaps, gap{p.head.at[p.xs[0]], fault, axisChoices, ""})
	}
	for _, c := range p.curves {
		if c.aside == "" && c.quantity == "" {
			g := gap{c.at, c.name() + " does not say that it holds reflectance", quantityChoices, ""}
			if others := p.conflicts(c); others != nil {
				lines := r.overrule(others)[0]
				lines.Value = r.alsoDeclared(lines.Value)
				g.fault += ", and " + quotedLines(others)
				g.try = fmt.Sprintf("--quantity R with --declared %s (if the values are reflectance, and %s)", text.ValueOf(lines), lines.Meaning)
			}
			gaps = append(gaps, g)
			break
		}
	}
	for _, c := range p.curves {
		if c.aside == "" && c.unit == "" {
			low, high := text.Ends(t.column(c.column))
			fault := fmt.Sprintf("%s does not say percent or fraction (its values run from %s to %s)", c.name(), text.Figure(low), text.Figure(high))
			gaps = append(gaps, gap{c.at, fault, unitChoices, ""})
			break
		}
	}
	return gaps
}

// id returns the number by which a person names the curve, from 1.
func (c curve) id() int {
	if c.number > 0 {
		return c.number
	}
	return c.column + 1
}

// name names a curve in a message.
func (c curve) name() string {
	if c.label.Text == "" {
		return fmt.Sprintf("column %d", c.id())
	}
	return "column " + text.Quoted(c.label.Text)
}

// ask refuses a file about which something is not stated.
func (r located) ask(p plan, t table) (plan, error) {
	gaps := r.missing(p, t)
	if len(gaps) == 0 {
		return p, nil
	}
	x := p.xs[0]
	if low, _ := text.Ends(t.column(x)); p.axis == "" && low < text.LeastNM {
		at, s := r.findCell(0, x)
		gaps[0] = gap{at, fmt.Sprintf("wavelength %s has no unit and can only be in micrometres", text.Wavelength(low)), axisChoices[1:2], ""}
		if choices := r.thousandsChoice(s); choices != nil {
			gaps[0].fault = fmt.Sprintf("wavelength %s has no unit: it is in micrometres, or the %s in it marks thousands", text.Short(s), r.dialect.markInWords())
			gaps[0].choices = append(slices.Clone(axisChoices[1:2]), choices...)
		}
	}
	var faults, tries []string
	if p.head.line == 0 {
		faults = append(faults, "no line names the columns")
	}
	for _, g := range gaps {
		if g.try == "" {
			g.try = strings.TrimPrefix(text.StateOne(g.choices), "state ")
		}
		faults, tries = append(faults, g.fault), append(tries, g.try)
	}
	refusal := r.Refuse(gaps[0].at, "state "+text.Listed(tries), "%s", strings.Join(faults, "; "))
	refusal.Choices = gaps[0].choices
	return p, refusal
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

// angleOf returns the angle of incidence that a heading states, in degrees, or
// NaN if it states none. The angle of a viewing direction, a rotation or a
// polariser is none.
func (r *asker) angleOf(l heading.Label, at text.Position) (float64, error) {
	if len(l.Angles) == 0 || l.Viewing {
		return math.NaN(), nil
	}
	first := readAngle(l.Angles[0])
	for _, s := range l.Angles {
		angle := readAngle(s)
		if !(angle >= 0 && angle < 90) {
			return 0, r.Refuse(at, "correct the heading: an angle of incidence is counted from the normal",
				"heading %s gives an angle of %s degrees, outside 0 to below 90", text.Quoted(l.Text), text.Short(s))
		}
		if angle != first {
			return 0, r.Refuse(at, "give each column one angle of incidence",
				"heading %s gives two angles", text.Quoted(l.Text))
		}
	}
	return first, nil
}

// readAngle reads an angle as the tokens of a heading hold it: digits with at
// most one point or comma.
func readAngle(s string) float64 {
	negative := s[0] == '-'
	if negative {
		s = s[1:]
	}
	mark := byte('.')
	for i := range len(s) {
		if s[i] == ',' {
			mark = ','
		}
	}
	v, n := text.ParseNumber([]byte(s), mark, 0)
	if n != len(s) {
		return math.NaN()
	}
	if negative {
		return -v
	}
	return v
}
