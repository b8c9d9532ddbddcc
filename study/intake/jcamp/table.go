package jcamp

import (
	"math"
	"slices"
	"strings"

	"wane/study/intake/text"
)

// The forms of tables that are read.
const (
	inSteps = "(X++(Y..Y))"
	inPairs = "(XY..XY)"
)

// form returns the value of a table's record without spaces.
func (c Record) form() string {
	return strings.ToUpper(strings.NewReplacer(" ", "", "\t", "").Replace(c.Value))
}

// InPairs reports whether the rows of the block's table hold pairs.
func (b *Block) InPairs() bool { return b.Tables[0].form() == inPairs }

// Unread says why the table of a block cannot be read, nil if it can.
func (b *Block) Unread() error {
	if c := b.Records["NTUPLES"]; c.Line > 0 {
		return refuse(c.At(), "export one spectrum a block, as ##XYDATA= or ##XYPOINTS=", "##NTUPLES= is not read")
	}
	if len(b.Tables) == 0 {
		return refuse(b.Title.At(), text.ExportAgain, "the block has no table: no ##XYDATA= and no ##XYPOINTS=")
	}
	t := b.Tables[0]
	switch {
	case len(b.Tables) > 1:
		return refuse(b.Tables[1].At(), "give each table a block of its own", "a second table in the block of line %d",
			b.Title.Line)
	case !slices.Contains([]string{"XYDATA", "XYPOINTS", "PEAKTABLE"}, t.Label), t.form() != inSteps &&
		t.form() != inPairs:
		return refuse(t.At(), "export the spectrum as ##XYDATA= (X++(Y..Y)) or ##XYPOINTS= (XY..XY)",
			"a table of the form ##%s= %s is not read", t.Label, text.Short(t.Value))
	}
	return nil
}

// Options is what the numbers of a table are read with.
type Options struct {
	ShiftX, ShiftY int  // powers of ten that abscissae and ordinates are multiplied by
	Most           int  // how many points there may be
	Joined         bool // scans will be joined: abscissae of pairs may turn
	IgnoreDeclared bool // what the header says of ends, extremes and the step of pairs does not count
}

// Table is a table that was read.
type Table struct {
	Points  int
	Numbers []float64 // the abscissae, and behind them as many ordinates, NaN where one is missing
	Form    string    // AFFN, PAC, SQZ, DIF, DIFDUP, SQZ with DUP or XY..XY
	Unsaid  []string  // labels that are customary and not there, so that nothing was checked by them
	rows    *rowReader
}

// LineOf returns the line that a point is in.
func (t *Table) LineOf(point int) int { return t.rows.lineOf(point) }

// ShownY writes an ordinate in the unit of the file.
func (t *Table) ShownY(v float64) string { return t.rows.y.shown(v) }

// Read reads the numbers of a block that is not unread, and checks them against its header.
// Every error is a [*Error].
func (f *File) Read(b *Block, o Options) (*Table, error) {
	d := &rowReader{src: f.src, t: b.Tables[0], pairs: b.InPairs(), joined: o.Joined,
		most: min(o.Most, mostPerByte*len(f.src.Text))}
	xFactor, err := b.factor("XFACTOR", d.pairs)
	if err != nil {
		return nil, err
	}
	yFactor, err := b.factor("YFACTOR", d.pairs)
	if err != nil {
		return nil, err
	}
	d.x, d.y = newScale(xFactor, o.ShiftX), newScale(yFactor, o.ShiftY)
	if err := d.count(); err != nil {
		return nil, err
	}
	if err := b.checkPoints(d.n); err != nil {
		return nil, err
	}
	t := &Table{Points: d.n, Numbers: make([]float64, 2*d.n), rows: d}
	xs, ys := t.Numbers[:d.n:d.n], t.Numbers[d.n:]
	toFile := math.Pow10(-o.ShiftX)
	unit := d.x.unit * toFile
	if !d.pairs {
		first, last, err := b.ends()
		if err != nil {
			return nil, err
		}
		spread(xs, first.shifted(o.ShiftX), last.shifted(o.ShiftX))
		unit = math.Pow10(min(first.unit, last.unit))
	}
	if err := d.store(xs, ys); err != nil {
		return nil, err
	}
	if err := b.checkStep(o.IgnoreDeclared, d.pairs, xs[0]*toFile, xs[d.n-1]*toFile, unit, d.n); err != nil {
		return nil, err
	}
	t.Unsaid, err = b.checkValues(o.IgnoreDeclared, d, xs, ys)
	t.Form = d.form()
	return t, err
}
