package jcamp

import (
	"bytes"
	"math"

	"wane/study/intake/text"
)

// Rows of (X++(Y..Y)) begin with an abscissa; ordinates in equal steps follow.
// They are numbers apart (AFFN), numbers that signs part (PAC), or whole numbers
// whose first digit is a letter that gives the sign too: of the ordinate (SQZ), of
// its difference from the one before (DIF), or of a count of how often the item
// before is meant in all (DUP). Rows of (XY..XY) hold pairs. Source: McDonald and
// Wilks (1988), as above, from memory.

// item is the kind of thing that a byte can begin in a row.
type item uint8

const (
	noItem item = iota
	plain       // a number as people write it
	squeezed
	difference
	duplicate
	absent // ?
)

// pseudo gives for each letter of SQZ, DIF and DUP the kind and the digit.
var pseudo = func() (p [256]struct {
	item  item
	digit int64
}) {
	for _, set := range []struct {
		letters string
		item    item
		sign    int64
	}{
		{"@ABCDEFGHI", squeezed, 1}, {"@abcdefghi", squeezed, -1},
		{"%JKLMNOPQR", difference, 1}, {"%jklmnopqr", difference, -1},
		{" STUVWXYZs", duplicate, 1},
	} {
		for i, c := range []byte(set.letters) {
			if c != ' ' {
				p[c].item, p[c].digit = set.item, int64(i)*set.sign
			}
		}
	}
	return p
}()

// mostPerByte bounds the points that a file of a size may give: counts can make any
// number of them. Steady slopes in few digits come to some five. Common practice,
// no source.
const mostPerByte = 16

// rowReader reads the rows of one table, first to count its points and then to
// store them.
type rowReader struct {
	src      text.Decoded
	joined   bool // a person says how scans are joined, so abscissae may turn
	t        Rows
	pairs    bool
	lettered bool  // letters are digits, and E is no exponent
	x, y     scale // of the abscissae, to nm or cm-1, and of the ordinates, to fractions
	most     int   // how many points there may be
	n        int   // points read
	xs, ys   []float64
	forms    [absent + 1]bool // the kinds of items met
	signs    bool             // signs part numbers

	// Of the row being read.
	last  int64 // the ordinate before
	known bool  // there is one
	item  item  // what a count would repeat, noItem if nothing
	step  int64 // the difference before
	due   bool  // the row before ended in a difference, so this one must begin with its last ordinate
}

// scale brings numbers of the file to what is stored.
type scale struct {
	factor decimal
	shift  int     // the part of the factor that is a change of unit, as a power of ten
	unit   float64 // size of the finest last digit written, once scaled
	size   float64 // of the factor
	loose  float64 // what the digits of the factor leave open, as a share
}

func newScale(factor decimal, shift int) scale {
	f := factor.trimmed().shifted(shift)
	return scale{f, shift, math.Inf(1), math.Abs(f.float()), looseness(factor)}
}

func (s *scale) note(d decimal) {
	s.unit = min(s.unit, math.Pow10(d.unit)*s.size)
}

// shown writes a stored number in the unit of the file.
func (s *scale) shown(v float64) string { return text.Wavelength(v / math.Pow10(s.shift)) }

// rows yields the rows of the table without comments and padding at their end.
func (d *rowReader) rows(yield func(text.Line) bool) {
	for l := range text.Lines(d.src.Text[d.t.start:d.t.end], d.t.Line) {
		if i := bytes.Index(l.Text, []byte("$$")); i >= 0 {
			l.Text = l.Text[:i]
		}
		if l.Text = bytes.TrimRight(l.Text, " \t"); len(l.Text) > 0 && !yield(l) {
			return
		}
	}
}

// findForm finds out whether letters are digits. E and e are both: the exponent
// of a number in AFFN has a sign, a digit E has none, so 812E45 is 812 and 545.
func (d *rowReader) findForm() {
	for l := range d.rows {
		for i, c := range l.Text {
			switch {
			case pseudo[c].item == noItem:
			case c|0x20 == 'e' && i > 0 && i+1 < len(l.Text) && endsNumber(l.Text[i-1]) &&
				isSign(l.Text[i+1]):
			default:
				d.lettered = true
				return
			}
		}
	}
}

// count counts the points.
func (d *rowReader) count() error {
	if !d.pairs {
		d.findForm()
	}
	return d.read()
}

// store reads the rows again. It fills ys, as long as the count, and with pairs
// xs; in steps it checks the abscissae of the rows against xs.
func (d *rowReader) store(xs, ys []float64) error {
	d.xs, d.ys = xs, ys
	return d.read()
}

// LineOf returns the line of a point.
func (d *rowReader) lineOf(point int) int {
	d.xs, d.ys, d.n, d.due = nil, nil, 0, false
	for l := range d.rows {
		if err := d.row(l); err != nil || d.n > point {
			return l.Number
		}
	}
	return d.t.Line
}

func (d *rowReader) read() error {
	d.n, d.due = 0, false
	for l := range d.rows {
		if err := d.row(l); err != nil {
			return err
		}
	}
	return nil
}

func (d *rowReader) row(l text.Line) error {
	if d.pairs {
		return d.pairRow(l)
	}
	i := pass(l.Text, 0)
	abscissa, n := readDecimal(l.Text[i:], !d.lettered)
	if n == 0 {
		return d.refuse(l, i, "a row begins with its abscissa")
	}
	if err := d.checkAbscissa(l, i, abscissa); err != nil {
		return err
	}
	d.item, d.known = noItem, false
	before, check := d.n, d.due
	for i = pass(l.Text, i+n); i < len(l.Text); i = pass(l.Text, i+n) {
		var err error
		if n, err = d.ordinate(l, i); err != nil {
			return err
		}
	}
	if d.due || d.n == before && !check {
		return d.refuse(l, 0, "no ordinate follows the abscissa")
	}
	d.due = d.item == difference
	return nil
}

// pass returns where the next byte is that is no space.
func pass(b []byte, i int) int {
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	return i
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' }

func isSign(c byte) bool { return c == '+' || c == '-' }

// endsNumber reports whether a byte may be the last one before an exponent.
func endsNumber(c byte) bool { return c-'0' <= 9 || c == '.' }

// ordinate reads the item at i of a row and returns its length.
func (d *rowReader) ordinate(l text.Line, i int) (int, error) {
	c := l.Text[i]
	kind := pseudo[c].item
	if c == '?' {
		d.forms[absent] = true
		return 1, d.missing(l, i)
	}
	if !d.lettered || kind == noItem {
		return d.plainOrdinate(l, i)
	}
	d.forms[kind] = true
	v, n, ok := readPseudo(l.Text[i:])
	switch {
	case !ok:
		return 0, d.refuse(l, i, "a number has more than 15 digits")
	case kind == duplicate:
		return n, d.repeat(l, i, v)
	case kind == difference && !d.known:
		return 0, d.refuse(l, i, "a difference stands where no ordinate is before it")
	case kind == difference:
		d.step = v
		v += d.last
	}
	return n, d.put(l, i, v, kind)
}

// readPseudo reads a number that begins with a letter for its sign and its first
// digit.
func readPseudo(b []byte) (v int64, n int, ok bool) {
	first := pseudo[b[0]].digit
	v = max(first, -first)
	for n = 1; n < len(b) && b[n]-'0' <= 9; n++ {
		if v >= 1e14 {
			return 0, 0, false
		}
		v = v*10 + int64(b[n]-'0')
	}
	if first < 0 {
		v = -v
	}
	return v, n, true
}

// plainOrdinate reads a number as people write it. Where letters are digits it
// must be whole.
func (d *rowReader) plainOrdinate(l text.Line, i int) (int, error) {
	v, n := readDecimal(l.Text[i:], !d.lettered)
	apart := isSpace(l.Text[i-1])
	signed := isSign(l.Text[i])
	switch {
	case n == 0:
		return 0, d.refuse(l, i, "%s is no ordinate", text.Quoted(d.src.Line(l.Text[i:i+1])))
	case !apart && !signed:
		return 0, d.refuse(l, i, "nothing parts %s from what stands before", text.Quoted(string(l.Text[i:i+n])))
	}
	d.forms[plain] = true
	d.signs = d.signs || !apart
	if !d.lettered {
		d.y.note(v)
		return n, d.keep(l, i, v.times(d.y.factor))
	}
	if v.unit != 0 || v.power != 0 || v.mantissa >= 1e15 {
		return 0, d.refuse(l, i, "%s is no whole number of 15 digits at most, as ordinates are beside letters",
			text.Quoted(string(l.Text[i:i+n])))
	}
	w := int64(v.mantissa)
	if v.negative {
		w = -w
	}
	return n, d.put(l, i, w, plain)
}

// put takes a whole ordinate, or a check.
func (d *rowReader) put(l text.Line, i int, v int64, kind item) error {
	if max(v, -v) >= 1e15 {
		return d.refuse(l, i, "an ordinate has more than 15 digits")
	}
	if d.due && v != d.last {
		return d.refuse(l, i, "the row begins with ordinate %d as a check, but the row before ends with %d", v, d.last)
	}
	d.last, d.known = v, true
	if d.due {
		d.due = false
		return nil
	}
	d.item = kind
	w := whole(v)
	d.y.note(w)
	return d.keep(l, i, w.times(d.y.factor))
}

// missing takes a missing ordinate.
func (d *rowReader) missing(l text.Line, i int) error {
	if d.due {
		return d.refuse(l, i, "the row must begin with ordinate %d, with which the row before ends, as a check", d.last)
	}
	d.item, d.known = absent, false
	return d.keep(l, i, math.NaN())
}

// repeat takes a count of how often the item before is meant in all.
func (d *rowReader) repeat(l text.Line, i int, times int64) error {
	if d.item == noItem {
		return d.refuse(l, i, "a count stands where nothing is before it to repeat")
	}
	if times-1 > int64(d.most-d.n) {
		return d.refuseMany(l, i)
	}
	for range times - 1 {
		var err error
		switch d.item {
		case absent:
			err = d.missing(l, i)
		case difference:
			err = d.put(l, i, d.last+d.step, difference)
		default:
			err = d.put(l, i, d.last, d.item)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// keep takes an ordinate, NaN if it is missing.
func (d *rowReader) keep(l text.Line, i int, v float64) error {
	switch {
	case d.n >= d.most:
		return d.refuseMany(l, i)
	case math.IsInf(v, 0):
		return d.refuse(l, i, "the number is too large")
	case d.ys != nil:
		d.ys[d.n] = v
	}
	d.n++
	return nil
}

// checkAbscissa checks the abscissa of a row in steps: less than one unit of the
// last digit from where it must be. It may be rounded or cut off, and no more.
// The abscissa of a row that begins with a check is that of the check.
func (d *rowReader) checkAbscissa(l text.Line, i int, x decimal) error {
	d.x.note(x)
	if d.ys == nil {
		return nil
	}
	point := d.n
	if d.due {
		point--
	}
	v := x.times(d.x.factor)
	if point < len(d.xs) && math.Abs(v-d.xs[point]) < d.x.unit*almostOne {
		return nil
	}
	want := "nothing there"
	if point < len(d.xs) {
		want = d.x.shown(d.xs[point])
	}
	return d.refuse(l, i, "the row begins at x = %s, where FIRSTX, LASTX and NPOINTS make it %s", d.x.shown(v), want)
}

// almostOne keeps a difference of one whole unit from passing by rounding.
const almostOne = 1 - 1e-6

func (d *rowReader) at(l text.Line, i int) text.Position {
	return text.Position{Line: l.Number, Column: d.src.Character(l.Text, i)}
}

func (d *rowReader) refuse(l text.Line, i int, fault string, args ...any) error {
	return refuse(d.at(l, i), text.ExportAgain+", or correct the row", fault, args...)
}

func (d *rowReader) refuseMany(l text.Line, i int) error {
	return refuse(d.at(l, i), "correct the count, or export fewer spectra into one file",
		"the rows give more than the %s that a file of this size may contain", text.Count(d.most, "point"))
}

// form names the form of the rows.
func (d *rowReader) form() string {
	switch {
	case d.pairs:
		return "XY..XY"
	case d.forms[difference] && d.forms[duplicate]:
		return "DIFDUP"
	case d.forms[difference]:
		return "DIF"
	case d.forms[duplicate]:
		return "SQZ with DUP"
	case d.forms[squeezed]:
		return "SQZ"
	case d.signs:
		return "PAC"
	}
	return "AFFN"
}
