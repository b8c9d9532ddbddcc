package intake

import (
	"bytes"
	"iter"
	"strings"
)

// block is the longest run of lines of one shape: the data.
type block struct {
	line, last int   // numbers of its first and its last line, from 1
	rows       int   // lines that are not blank
	start, end int   // its bytes, from the first row to the end of the last
	shape      marks // tab or semicolon if every row holds one, or 0
	seen       marks // the kinds of all its bytes
}

// shapeOf returns the separator that alone settles the shape of a line.
func shapeOf(seen marks) marks {
	if seen&semicolon != 0 {
		return semicolon
	}
	return seen & tab
}

// findBlock returns the longest run of lines that can be rows and share a
// shape, the first of several. Blank lines do not interrupt it.
func findBlock(text []byte) block {
	var best, run block
	for l := range lines(text, 1) {
		seen := kindsIn(l.text)
		row, starts := isNumbers(l.text, seen)
		if !row || run.rows == 0 || shapeOf(seen) != run.shape {
			if run.rows > best.rows {
				best = run
			}
			run = block{line: l.number, start: l.start, shape: shapeOf(seen)}
		}
		if row && (starts || run.rows > 0) {
			run.rows++
			run.end, run.last = l.start+len(l.text), l.number
			run.seen |= seen
		}
	}
	if run.rows > best.rows {
		best = run
	}
	return best
}

// rows yields the rows of the block.
func (r *reader) rows() iter.Seq[line] {
	return lines(r.src.text[r.block.start:r.block.end], r.block.line)
}

// dialect is how a row splits into cells and how a number is written.
type dialect struct{ sep, mark byte }

// With commas for both, a comma separates only before a space or beside a quote:
// 512,5, 4,07 and "512,5","4,07" are two cells, 512,5,4,07 cannot be told.
var (
	commaPoint  = dialect{',', '.'}
	commaComma  = dialect{',', ','}
	spacesPoint = dialect{' ', '.'}
	spacesComma = dialect{' ', ','}
)

func (d dialect) separatorInWords() string {
	switch d.sep {
	case '\t':
		return "tab"
	case ';':
		return "semicolon"
	case ',':
		return "comma"
	}
	return "spaces"
}

func (d dialect) markInWords() string {
	if d.mark == ',' {
		return "comma"
	}
	return "point"
}

// findDialect decides the dialect from the rows alone.
func (r *reader) findDialect() (dialect, error) {
	b := r.block
	commas, points := b.seen&comma != 0, b.seen&point != 0
	if b.shape != 0 {
		d := dialect{sep: '\t', mark: '.'}
		if b.shape == semicolon {
			d.sep = ';'
		}
		if commas && points {
			return d, r.refuseTwoMarks()
		}
		if commas {
			d.mark = ','
		}
		return d, nil
	}
	switch {
	case !commas:
		return spacesPoint, nil
	case points:
		return commaPoint, nil
	case b.seen&space != 0:
		return r.onlyFit(commaPoint, commaComma, spacesComma)
	case b.seen&quote != 0:
		return r.onlyFit(commaPoint, commaComma)
	}
	return commaPoint, nil
}

// onlyFit returns the one dialect that fits every row. If none does, it is the
// one that gets furthest, and reading with it will name the line that is wrong.
func (r *reader) onlyFit(candidates ...dialect) (dialect, error) {
	var fits []dialect
	best, furthest := candidates[0], -1
	for _, d := range candidates {
		rows, distinct := r.rowsThatFit(d)
		if rows == r.block.rows && distinct {
			fits = append(fits, d)
		}
		if rows > furthest && distinct {
			best, furthest = d, rows
		}
	}
	if len(fits) < 2 {
		return best, nil
	}
	return best, r.refuse(place{line: r.block.line}, separateClearly,
		"every comma can separate columns or be a decimal mark: %s and %s both fit all rows",
		r.firstRowAs(fits[0]), r.firstRowAs(fits[1]))
}

// rowsThatFit counts the rows, from the first, that split into the same number
// of numbers, at least two, with the first of them running strictly up or
// down. A decimal comma that no number uses makes no distinct reading.
func (r *reader) rowsThatFit(d dialect) (rows int, distinct bool) {
	distinct = d.mark == '.'
	width, last, step := 0, 0.0, 0.0
	for l := range r.rows() {
		n, x, commas := 0, 0.0, false
		row, _ := d.trim(l.text)
		for i := 0; i <= len(row); n++ {
			c := d.next(row, i, 0)
			if c.kind == word || n == 0 && c.kind == missing {
				return rows, distinct
			}
			if n == 0 {
				x = c.value
			}
			commas = commas || bytes.IndexByte(row[i:c.end], ',') >= 0
			i = c.end + 1
		}
		ordered := rows == 0 || rows == 1 && x != last || (x-last)*step > 0
		if n < 2 || rows > 0 && n != width || !ordered {
			return rows, distinct
		}
		width, step, last = n, x-last, x
		distinct = distinct || commas
		rows++
	}
	return rows, distinct
}

// firstRowAs shows how a dialect splits the first row.
func (r *reader) firstRowAs(d dialect) string {
	var cells []string
	for l := range r.rows() {
		row, _ := d.trim(l.text)
		for i := 0; i <= len(row); {
			c := d.next(row, i, 0)
			cells = append(cells, string(trimCell(row[i:c.end], d.sep)))
			i = c.end + 1
		}
		break
	}
	return "[" + strings.Join(cells, " | ") + "]"
}

// refuseTwoMarks refuses rows that hold points and commas although something
// else separates them: one of the two then marks thousands, or two programs
// wrote the file.
func (r *reader) refuseTwoMarks() error {
	at, shown := place{line: r.block.line}, ""
	var first marks
	for l := range r.rows() {
		used := kindsIn(l.text) & (comma | point)
		if used == 0 || used == first {
			continue
		}
		if at.line, shown = l.number, r.src.line(l.text); first != 0 || used == comma|point {
			break
		}
		first = used
	}
	return r.refuse(at, "export without thousands marks, with one decimal mark throughout",
		"the rows hold both points and commas, so %s can be read in two ways", quoted(shown))
}
