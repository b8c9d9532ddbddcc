package intake

import (
	"bytes"

	"wane/study/intake/text"
)

// fewRows is the length up to which a block is compared with other things that
// the file may hold: a short one can be a setting in the header.
const fewRows = 5

// checkBlock refuses a file without a block of rows, saying what it holds
// instead.
func (r section) checkBlock() error {
	b := r.block
	if b.rows > fewRows {
		return nil
	}
	if bytes.IndexByte(r.src.Text, 0) >= 0 && b.rows == 0 || text.IsBinary(r.src.Text) {
		return r.Refuse(text.Nowhere, text.SaveAsText, "the file is not text: it is full of control characters")
	}
	if b.rows > 0 {
		return nil
	}
	if line, rows := r.loneNumbers(); rows > 1 {
		return r.Refuse(text.Position{Line: line}, "export wavelengths and values side by side in columns",
			"%s have one number each: wavelengths or values alone are not a spectrum", text.Count(rows, "line"))
	}
	return r.Refuse(text.Nowhere, text.ExportAgain, "the file has no rows of numbers")
}

// loneNumbers counts the lines that hold one number and returns the first.
func (r decoded) loneNumbers() (line, rows int) {
	for l := range text.Lines(r.src.Text, 1) {
		if shape := spacesPoint.examine(l.Text); shape.numbers() && shape.cells == 1 {
			if rows == 0 {
				line = l.Number
			}
			rows++
		}
	}
	return line, rows
}
