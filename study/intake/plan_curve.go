package intake

import (
	"errors"
	"fmt"
	"math"

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
	return c, r.agreeOnCurve(&c, stated, glued(kind))
}

// incidence returns the angle that the heading states, or the header, in degrees, or NaN.
func (r *asker) incidence(l heading.Label, at text.Position, stated said) (float64, error) {
	angle, err := r.angleOf(l, at)
	if err != nil || stated.value == "" {
		return angle, err
	}
	now := readAngle(stated.value)
	if !math.IsNaN(angle) && angle != now {
		return 0, r.Refuse(stated.at, "find out which is right, then correct the map (or the flag), or export again",
			"the heading says %s degrees, the header says %s degrees", text.Figure(angle), text.Figure(now))
	}
	return now, nil
}

// agreeOnCurve brings together what the heading, the header, the cells and a person
// say of the unit and the quantity of a curve.
func (r grid) agreeOnCurve(c *curve, stated header, cells string) error {
	switch {
	case c.label.TwoUnits:
		return r.Refuse(c.at, "correct the heading", "heading %s names percent and fraction", text.Quoted(c.label.Text))
	case c.label.TwoPolarisations:
		return r.Refuse(c.at, "name one polarisation in the heading: s, p, or u for the mean of both",
			"heading %s names two polarisations", text.Quoted(c.label.Text))
	case cells == "nm" || cells == "um":
		return r.Refuse(c.at, text.ExportAgain, "column %d contains wavelengths where values are due", c.column+1)
	}
	var err error
	units := []said{{c.label.Unit, "the heading", c.at}, {cells, "the column of values", c.at}, stated.unit,
		{r.Stated.Unit, "--unit", text.Nowhere}}
	if c.unit, err = r.agree(units...); err != nil {
		return err
	}
	quantities := []said{{string(c.label.Quantity), "the heading", c.at}, stated.quantity,
		{r.Stated.Quantity, "--quantity", text.Nowhere}}
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
