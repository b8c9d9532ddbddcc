package intake

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
func (c record) form() string {
	return strings.ToUpper(strings.NewReplacer(" ", "", "\t", "").Replace(c.value))
}

// inPairs reports whether the rows of the block's table hold pairs.
func (b *jcampBlock) inPairs() bool { return b.tables[0].form() == inPairs }

// unread says why the table of a block cannot be read, nil if it can.
func (b *jcampBlock) unread() error {
	if c := b.records["NTUPLES"]; c.line > 0 {
		return refuseJCAMP(c.at(), "export one spectrum a block, as ##XYDATA= or ##XYPOINTS=", "##NTUPLES= is not read")
	}
	if len(b.tables) == 0 {
		return refuseJCAMP(b.title.at(), text.ExportAgain, "the block has no table: no ##XYDATA= and no ##XYPOINTS=")
	}
	t := b.tables[0]
	switch {
	case len(b.tables) > 1:
		return refuseJCAMP(b.tables[1].at(), "give each table a block of its own", "a second table in the block of line %d", b.title.line)
	case !slices.Contains([]string{"XYDATA", "XYPOINTS", "PEAKTABLE"}, t.label), t.form() != inSteps && t.form() != inPairs:
		return refuseJCAMP(t.at(), "export the spectrum as ##XYDATA= (X++(Y..Y)) or ##XYPOINTS= (XY..XY)",
			"a table of the form ##%s= %s is not read", t.label, text.Short(t.value))
	}
	return nil
}

// jcampOptions is what the numbers of a table are read with.
type jcampOptions struct {
	shiftX, shiftY int  // powers of ten that abscissae and ordinates are multiplied by
	most           int  // how many points there may be
	joined         bool // scans will be joined: abscissae of pairs may turn
	ignoreDeclared bool // what the header says of ends, extremes and the step of pairs does not count
}

// jcampTable is a table that was read.
type jcampTable struct {
	points  int
	numbers []float64 // the abscissae, and behind them as many ordinates, NaN where one is missing
	form    string    // AFFN, PAC, SQZ, DIF, DIFDUP, SQZ with DUP or XY..XY
	unsaid  []string  // labels that are customary and not there, so that nothing was checked by them
	rows    *jcampReader
}

// lineOf returns the line that a point stands in.
func (t *jcampTable) lineOf(point int) int { return t.rows.lineOf(point) }

// shownY writes an ordinate in the unit of the file.
func (t *jcampTable) shownY(v float64) string { return t.rows.y.shown(v) }

// read reads the numbers of a block that is not unread, and checks them against its header.
// Every error is a [*jcampError].
func (f *jcampFile) read(b *jcampBlock, o jcampOptions) (*jcampTable, error) {
	d := &jcampReader{src: f.src, t: b.tables[0], pairs: b.inPairs(), joined: o.joined, most: min(o.most, mostPerByte*len(f.src.Text))}
	xFactor, err := b.factor("XFACTOR", d.pairs)
	if err != nil {
		return nil, err
	}
	yFactor, err := b.factor("YFACTOR", d.pairs)
	if err != nil {
		return nil, err
	}
	d.x, d.y = newScale(xFactor, o.shiftX), newScale(yFactor, o.shiftY)
	if err := d.count(); err != nil {
		return nil, err
	}
	if err := b.checkPoints(d.n); err != nil {
		return nil, err
	}
	t := &jcampTable{points: d.n, numbers: make([]float64, 2*d.n), rows: d}
	xs, ys := t.numbers[:d.n:d.n], t.numbers[d.n:]
	toFile := math.Pow10(-o.shiftX)
	unit := d.x.unit * toFile
	if !d.pairs {
		first, last, err := b.ends()
		if err != nil {
			return nil, err
		}
		spread(xs, first.shifted(o.shiftX), last.shifted(o.shiftX))
		unit = math.Pow10(min(first.unit, last.unit))
	}
	if err := d.store(xs, ys); err != nil {
		return nil, err
	}
	if err := b.checkStep(o.ignoreDeclared, d.pairs, xs[0]*toFile, xs[d.n-1]*toFile, unit, d.n); err != nil {
		return nil, err
	}
	t.unsaid, err = b.checkValues(o.ignoreDeclared, d, xs, ys)
	t.form = d.form()
	return t, err
}
