package intake

import (
	"bytes"
	"math"

	"wane/study"
	"wane/study/intake/text"
)

// These and maxColumns bound the memory that one file can ask for: 3 million numbers
// are 24 MB, and curves with missing points take as much again. No spectrum has more
// points than maxPoints: from 200 to 1200 nm it is one in 0.01 nm. Common practice, no
// source.
const (
	maxNumbers = 3_000_000
	maxPoints  = 100_000
)

// checkSize refuses rows of one cell and a block that would take too much
// memory.
func (r section) checkSize(width int) error {
	b := r.block
	if width < 2 {
		return r.Refuse(text.Position{Line: b.line}, "export wavelengths and values side by side in columns",
			"the rows have one cell each")
	}
	if width <= text.MaxColumns && b.rows <= maxNumbers/width {
		return nil
	}
	return r.Refuse(text.Position{Line: b.line}, "export fewer spectra into one file",
		"%s of %s are more than one export may contain: %s numbers in %s columns",
		text.Count(b.rows, "row"), text.Count(width, "cell"), text.Figure(maxNumbers), text.Figure(text.MaxColumns))
}

// table holds the numbers of the block, column after column. A missing point is
// NaN.
type table struct {
	rows, width int
	cells       []float64 // the cell of row i and column j is cells[j*rows+i]
}

func (t table) column(j int) []float64 {
	return t.cells[j*t.rows : (j+1)*t.rows : (j+1)*t.rows]
}

func (t table) isEmpty(j int) bool {
	for _, v := range t.column(j) {
		if !math.IsNaN(v) {
			return false
		}
	}
	return true
}

// findWidth returns the count of cells of a row: the count that two of the first
// three rows share, or else that of the first.
func (r grid) findWidth() int {
	var seen []int
	for l := range r.rows() {
		if seen = append(seen, r.dialect.examine(l.Text).cells); len(seen) == 3 {
			break
		}
	}
	if len(seen) == 3 && seen[1] == seen[2] {
		return seen[1]
	}
	return seen[0]
}

// kindsOf returns, per column, how its first number is written, bare or with a
// unit behind it, and missing if the column holds none.
func (r grid) kindsOf(width int) []cellKind {
	d := r.dialect
	kinds := make([]cellKind, width)
	for j := range kinds {
		kinds[j] = missing
	}
	open := width
	for l := range r.rows() {
		row, _ := d.trim(l.Text)
		for i, j := 0, 0; i <= len(row) && j < width; j++ {
			c := d.next(row, i, 0)
			if kinds[j] == missing && c.kind > missing {
				kinds[j] = c.kind
				open--
			}
			i = c.end + 1
		}
		if open == 0 {
			break
		}
	}
	return kinds
}

// layout says how to read the columns of the rows.
type layout struct {
	width  int
	shifts []int      // the power of ten that brings each column to nm or to a fraction
	kinds  []cellKind // how the numbers of each column are written
}

// readRows reads every row of the block. A row that does not split as the
// others do, a word or a missing wavelength refuses the file: none is skipped.
func (r grid) readRows(l layout) (table, error) {
	t := table{r.block.rows, l.width, make([]float64, r.block.rows*l.width)}
	short := shortRow{cells: l.width}
	i := 0
	for ln := range r.rows() {
		n, err := r.readRow(&t, i, ln, &l)
		if err != nil {
			return table{}, err
		}
		if n < short.cells {
			short = shortRow{n, ln.Number}
		}
		i++
	}
	for j := short.cells; j < l.width; j++ {
		if !t.isEmpty(j) {
			return table{}, r.refuseRagged(short.line, short.cells, l.width)
		}
	}
	return t, nil
}

// shortRow is the row with the fewest cells.
type shortRow struct{ cells, line int }

// readRow reads one row into row i of the table and returns its count of cells.
func (r grid) readRow(t *table, i int, ln text.Line, l *layout) (int, error) {
	d := r.dialect
	row, from := d.trim(ln.Text)
	n, at := d.plainCells(t, i, row, l)
	for ; at <= len(row); n++ {
		if n == l.width {
			if len(bytes.Trim(row[at:], " \t\",;")) > 0 {
				return n, r.refuseRagged(ln.Number, d.examine(ln.Text).cells, l.width)
			}
			break
		}
		c := d.next(row, at, l.shifts[n])
		switch {
		case c.kind == missing:
			t.cells[n*t.rows+i] = math.NaN()
		case c.kind == l.kinds[n]:
			t.cells[n*t.rows+i] = c.value
		default:
			return n, r.refuseCellOfColumns(ln.Number, ln.Text, from+at, from+c.end, c.kind)
		}
		at = c.end + 1
	}
	for j := n; j < l.width; j++ {
		t.cells[j*t.rows+i] = math.NaN()
	}
	return n, nil
}

// exactDigits is how many digits always make an integer that a float64 holds.
const exactDigits = 15

// plainCells reads the cells at the start of a row that are written as most are:
// digits, a mark among them or none, and the separator or the end right behind. Of
// these it stores what next reads. It returns their count and where it stopped.
func (d dialect) plainCells(t *table, i int, row []byte, l *layout) (n, at int) {
	if d.mark == d.sep {
		return 0, 0
	}
	for at <= len(row) && n < l.width && l.kinds[n] == number {
		mantissa, end := text.ReadDigits(row, at, 0)
		digits, power := end-at, l.shifts[n]
		if digits > 0 && end < len(row) && row[end] == d.mark {
			first := end + 1
			if mantissa, end = text.ReadDigits(row, first, mantissa); end == first {
				break
			}
			digits += end - first
			power -= end - first
		}
		if digits == 0 || digits > exactDigits || end < len(row) && row[end] != d.sep {
			break
		}
		v, ok := text.Scaled(mantissa, power)
		if !ok {
			break
		}
		t.cells[n*t.rows+i] = v
		n, at = n+1, end+1
	}
	return n, at
}

func (r *asker) refuseRagged(line, cells, width int) error {
	return r.Refuse(text.Position{Line: line}, text.ExportAgain+", or correct the row",
		"%s where the other rows have %d", text.Count(cells, "cell"), width)
}

// refuseCell refuses the cell b[start:end] of a line.
func (r grid) refuseCell(number int, b []byte, start, end int, kind cellKind) *study.Refusal {
	at := text.Position{Line: number, Column: r.src.Character(b, start)}
	content := bytes.TrimSpace(b[start:end])
	if bytes.IndexByte(content, 0) >= 0 {
		return r.Refuse(at, text.ExportAgain, "a NUL byte in a row of numbers: the file is damaged")
	}
	shown := text.Quoted(r.src.Shown(content))
	if kind != word {
		return r.Refuse(at, text.ExportAgain, "%s is not written like the first number of its column", shown)
	}
	return r.Refuse(at, emptyCell, "%s is not a number", shown)
}

const emptyCell = "leave the cell empty if the point is missing, or correct the number"

// refuseCellOfColumns refuses such a cell of rows whose columns are those of the table. Spaces
// in it are offered as marks between thousands, if all rows can be read so.
func (r grid) refuseCellOfColumns(number int, b []byte, start, end int, kind cellKind) *study.Refusal {
	refusal := r.refuseCell(number, b, start, end, kind)
	d, content := r.dialect, bytes.TrimSpace(b[start:end])
	if kind != word || bytes.IndexByte(content, 0) >= 0 || d.thousands != 0 || d.sep == ' ' || grouped(content, ' ') == 0 {
		return refusal
	}
	d.thousands = ' '
	if rows, _ := r.countFittingRows(d); rows < r.block.rows {
		return refusal
	}
	choices := []study.Choice{{Name: "thousands", Value: "space", Meaning: "spaces stand between groups of three digits"}}
	return r.Question(text.Position{Line: refusal.Line, Column: refusal.Column}, choices, emptyCell, "%s", refusal.Fault)
}

// cellPlace returns where cell j of row i is.
func (r located) cellPlace(i, j int) text.Position {
	at, _ := r.findCell(i, j)
	return at
}

// findCell returns where cell j of row i is and what is written there.
func (r located) findCell(i, j int) (at text.Position, s string) {
	d := r.dialect
	if r.origin != nil {
		i = r.origin[i]
	}
	if r.locate != nil {
		i, j = r.locate(i, j)
	}
	for l := range r.rows() {
		if i--; i >= 0 {
			continue
		}
		row, from := d.trim(l.Text)
		start := 0
		for k := 0; k < j && start <= len(row); k++ {
			start = d.next(row, start, 0).end + 1
		}
		start = min(start, len(row))
		cell := row[start:d.next(row, start, 0).end]
		return text.Position{Line: l.Number, Column: r.src.Character(l.Text, from+start)}, r.src.Shown(bytes.TrimSpace(cell))
	}
	return text.Position{Line: r.block.line}, ""
}
