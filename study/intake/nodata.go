package intake

import "bytes"

// fewRows is the length up to which a block is compared with other things that
// the file may hold: a short one can be a setting in the header.
const fewRows = 5

// checkBlock refuses a file without a block of rows, saying what it holds
// instead.
func (r *reader) checkBlock() error {
	b := r.block
	if b.rows > fewRows {
		return nil
	}
	if bytes.IndexByte(r.src.text, 0) >= 0 && b.rows == 0 || isBinary(r.src.text) {
		return r.refuse(nowhere, saveAsText, "the file is not text: it is full of control characters")
	}
	if line, rows := r.namedRows(); rows > b.rows {
		return r.refuse(place{line: line}, "export wavelengths and values side by side in columns",
			"the rows begin with a name: one spectrum per row, or one point per row in long form, which is not read")
	}
	if b.rows > 0 {
		return nil
	}
	if line, rows := r.loneNumbers(); rows > 1 {
		return r.refuse(place{line: line}, "export wavelengths and values side by side in columns",
			"%s hold one number each: wavelengths or values alone are no spectrum", count(rows, "line"))
	}
	return r.refuse(nowhere, exportAgain, "the file holds no rows of numbers")
}

// namedRows finds the longest run of lines that hold a name and then at least
// two numbers at the end, and returns its first line and its length.
func (r *reader) namedRows() (line, rows int) {
	for _, sep := range []byte("\t;, ") {
		d := dialect{sep, '.'}
		first, n, width := 0, 0, 0
		for l := range lines(r.src.text, 1) {
			cells, ok := d.namedRow(l.text)
			switch {
			case !ok:
				n = 0
			case n == 0 || cells != width:
				first, n, width = l.number, 1, cells
			default:
				n++
			}
			if n > rows {
				line, rows = first, n
			}
		}
	}
	return line, rows
}

// namedRow reports whether a line holds at least three cells, the first of them
// no number and the last two numbers.
func (d dialect) namedRow(text []byte) (cells int, ok bool) {
	row, _ := d.trim(text)
	numbers, named := 0, false
	for i := 0; i <= len(row); cells++ {
		c := d.next(row, i, 0)
		if cells == 0 {
			named = c.kind == word
		}
		if c.kind > missing {
			numbers++
		} else {
			numbers = 0
		}
		i = c.end + 1
	}
	return cells, named && numbers >= 2
}

// loneNumbers counts the lines that hold one number and returns the first.
func (r *reader) loneNumbers() (line, rows int) {
	for l := range lines(r.src.text, 1) {
		if look := spacesPoint.examine(l.text); look.numbers() && look.cells == 1 {
			if rows == 0 {
				line = l.number
			}
			rows++
		}
	}
	return line, rows
}
