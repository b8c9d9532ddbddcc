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
	if b.rows > 0 {
		return nil
	}
	if line, rows := r.loneNumbers(); rows > 1 {
		return r.refuse(place{line: line}, "export wavelengths and values side by side in columns",
			"%s hold one number each: wavelengths or values alone are no spectrum", count(rows, "line"))
	}
	return r.refuse(nowhere, exportAgain, "the file holds no rows of numbers")
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
