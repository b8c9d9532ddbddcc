package jcamp

import (
	"math"

	"wane/study/intake/text"
)

// pairRow reads a row of pairs: a comma or spaces stand within a pair, a
// semicolon or spaces between two.
func (d *rowReader) pairRow(l text.Line) error {
	for i := pass(l.Text, 0); i < len(l.Text); {
		x, n := readDecimal(l.Text[i:], true)
		if n == 0 {
			return d.refuse(l, i, "%s is no abscissa", text.Quoted(d.src.Line(l.Text[i:i+1])))
		}
		if err := d.takeAbscissa(l, i, x); err != nil {
			return err
		}
		i += n
		if n = parted(l.Text[i:], ','); n == 0 || i+n == len(l.Text) {
			return d.refuse(l, i, "no ordinate follows the abscissa")
		}
		i += n
		v := math.NaN()
		if l.Text[i] == '?' {
			n = 1
		} else {
			var y decimal
			if y, n = readDecimal(l.Text[i:], true); n == 0 {
				return d.refuse(l, i, "%s is no ordinate", text.Quoted(d.src.Line(l.Text[i:i+1])))
			}
			d.y.note(y)
			v = y.times(d.y.factor)
		}
		if err := d.keep(l, i, v); err != nil {
			return err
		}
		i += n
		if n = parted(l.Text[i:], ';'); n == 0 && i < len(l.Text) {
			return d.refuse(l, i, "neither a space nor a semicolon follows the pair")
		}
		i += n
	}
	return nil
}

// parted returns the length of what parts two numbers: spaces, a mark, or both.
func parted(b []byte, mark byte) int {
	i := pass(b, 0)
	if i < len(b) && b[i] == mark {
		i = pass(b, i+1)
	}
	return i
}

// takeAbscissa stores the abscissa of a pair. They must run one way.
func (d *rowReader) takeAbscissa(l text.Line, i int, x decimal) error {
	d.x.note(x)
	v := x.times(d.x.factor)
	switch {
	case math.IsInf(v, 0):
		return d.refuse(l, i, "the number is too large")
	case d.ys == nil || d.n >= len(d.xs):
		return nil
	}
	if n := d.n; n > 0 && !d.joined && (v == d.xs[n-1] || n > 1 && (v > d.xs[n-1]) != (d.xs[n-1] > d.xs[n-2])) {
		return ask(d.at(l, i), text.OverlapChoices, "give each scan a block of its own",
			"x = %s follows %s: it must run one way", d.x.shown(v), d.x.shown(d.xs[n-1]))
	}
	d.xs[d.n] = v
	return nil
}
