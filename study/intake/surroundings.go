package intake

import (
	"bytes"
	"math"
	"strings"

	"wane/study/intake/text"
)

// oneBlock is what to try where a file holds several blocks of rows.
const oneBlock = "give each block of numbers a file of its own"

// outsideLine is a line outside the block and what it shows when split as a row.
type outsideLine struct {
	text.Line
	text  string // in UTF-8, without NUL padding
	shape lineShape
}

// surroundings are the lines before and behind the rows that are not blank.
type surroundings struct{ before, after []outsideLine }

// outside collects the lines of a stretch of the text that are not blank.
func (r grid) outside(start, end, number int) ([]outsideLine, error) {
	stretch := r.src.Text[start:end]
	if text.IsBinary(stretch) {
		return nil, r.Refuse(text.Nowhere, text.SaveAsText, "the file is not text: it is full of control characters")
	}
	if len(stretch) > text.MaxTextBytes && len(bytes.Trim(stretch, "\r\n\t ")) > text.MaxTextBytes {
		return nil, r.Refuse(text.Position{Line: number}, text.ExportAgain,
			"more than %d MiB from here on are not rows of numbers", text.MaxTextBytes>>20)
	}
	var found []outsideLine
	for l := range text.Lines(stretch, number) {
		if len(found) == text.MaxTextLines {
			return nil, r.Refuse(text.Position{Line: l.Number}, text.ExportAgain, "more than %s lines are not numbers",
				text.Figure(text.MaxTextLines))
		}
		found = append(found, outsideLine{l, r.src.Line(l.Text), r.dialect.examine(l.Text)})
	}
	return found, nil
}

// checkAfter refuses lines behind the block that look like data: they would be
// points lost without a word. A word and one number may be a setting.
func (r grid) checkAfter(lines []outsideLine, width int) error {
	for i, l := range lines {
		named := width > 2 && l.shape.cells == width && l.shape.values == width-1
		if l.isRow() || i == 0 && (named || l.isBrokenRow(width)) {
			return r.refuseBetween(lines[0], width)
		}
		if r.resemblesRow(l, width, false) {
			return r.refuseResembling(l, "behind")
		}
	}
	return nil
}

// checkBefore refuses lines before the block that look like data. A line of
// numbers with another count of cells may be a setting, if it is the only one and
// no headings stand above it.
func (r grid) checkBefore(lines []outsideLine, width int) error {
	last := len(lines) - 1
	for i := last; i >= 0; i-- {
		l := lines[i]
		headed := i == last && i > 0 && r.headsColumns(lines[i-1], width)
		switch {
		case i == last && (l.isRow() || l.shape.x > missing && l.shape.cells == width),
			headed && (l.isBrokenRow(width) || l.shape.values == width-1):
			return r.refuseBetween(l, width)
		case i < last && l.isRow() && (l.shape.cells == width || i > 0 && lines[i-1].isRow()):
			return r.refuseBetween(lines[i+1], width)
		case i == last && r.resemblesRow(l, width, true):
			return r.refuseResembling(l, "before")
		}
	}
	return nil
}

// isRow reports whether a line reads as a row.
func (l outsideLine) isRow() bool { return l.shape.numbers() && l.shape.cells >= 2 }

// isBrokenRow reports whether a line next to rows is one of them with a fault:
// a word or no wavelength in it, cells too few or too many, another separator.
func (l outsideLine) isBrokenRow(width int) bool {
	if row, _ := mayBeRow(l.Line.Text, marksIn(l.Line.Text)); row || l.shape.numbers() {
		return true
	}
	return l.shape.cells == width && (l.shape.x > missing || l.shape.x == missing && l.shape.values > 0)
}

// refuseBetween refuses a line that is next to rows, or between them, and
// is none.
func (r grid) refuseBetween(l outsideLine, width int) error {
	d := r.dialect
	row, _ := mayBeRow(l.Line.Text, marksIn(l.Line.Text))
	switch {
	case l.shape.numbers():
		return r.refuseRagged(l.Number, l.shape.cells, width)
	case l.shape.cells == width && l.shape.x == missing && l.shape.values > 0:
		return r.Refuse(text.Position{Line: l.Number}, text.ExportAgain+", or correct the row", "this row has no wavelength")
	case l.shape.cells == width && (l.shape.x > missing || l.shape.values == width-1):
		start := l.shape.firstWord
		c := d.next(l.Line.Text, start, 0)
		return r.refuseCellOfColumns(l.Number, l.Line.Text, start, c.end, c.kind)
	case row:
		return r.Refuse(text.Position{Line: l.Number}, text.ExportAgain+", or correct the row",
			"%s does not split as the other rows do, at %s", text.Quoted(l.text), d.separatorInWords())
	}
	const fault = "%s stands between rows of numbers; a second header or block is not joined to the first"
	if choices := blockChoices(r.blocks()); len(choices) > 1 {
		return r.Question(text.Position{Line: l.Number}, choices, oneBlock, fault, text.Quoted(l.text))
	}
	return r.Refuse(text.Position{Line: l.Number}, oneBlock, fault, text.Quoted(l.text))
}

func (r grid) headsColumns(line outsideLine, width int) bool {
	h, ok := headingFrom(line, r.dialect, width)
	return ok && h.namesX()
}

// checkStuck refuses a heading with the first row stuck to it: #nm R350.0<TAB>0.041.
// What is before its last wavelength must head the columns, or the wavelength lead to
// those of the rows, so that a key with a digit in it (Channel 1,40) is none.
func (r grid) checkStuck(line outsideLine, width int) error {
	d := r.dialect
	if line.shape.x > missing || line.shape.cells < width {
		return nil
	}
	row, _ := d.trim(line.Line.Text)
	start := 0
	for range line.shape.cells - width {
		start = d.next(row, start, 0).end + 1
	}
	first := d.next(row, start, 0)
	values := 0
	for at, n := first.end+1, 1; n < width; n++ {
		c := d.next(row, at, 0)
		switch {
		case c.kind == word:
			return nil
		case c.kind > missing:
			values++
		}
		at = c.end + 1
	}
	if values == 0 || !r.isStuck(line, row, start, first.end, width) {
		return nil
	}
	return r.Refuse(text.Position{Line: line.Number}, "start the first row of numbers on a line of its own",
		"this line contains a header and numbers: %s", text.Quoted(line.text))
}

// isStuck reports whether the cell row[start:end] of a line ends in the first wavelength
// of the rows. The heading before it may end in a digit: R8 and 300.0 are R8300.0.
func (r grid) isStuck(line outsideLine, row []byte, start, end, width int) bool {
	d := r.dialect
	cell := trimCell(row[start:end], d.sep)
	if _, kind := d.content(cell, 0); kind > missing { // in a cell of its own
		return line.shape.cells >= 2*width && r.leadsToRows(cell, 5)
	}
	for k := len(cell) - 1; k > 0; k-- {
		if _, kind := d.content(cell[k:], 0); kind <= missing {
			continue
		}
		steps := 5.0
		if whole := byteMarks[cell[k-1]]&(markDigit|markPoint|markComma|markE|markSign) == 0; whole {
			before := outsideLine{text: r.src.Line(row[:start+bytes.Index(row[start:end], cell)+k])}
			if r.headsColumns(before, width) {
				return true
			}
		} else if byteMarks[cell[k-1]]&markDigit != 0 {
			steps = 2
		}
		if r.leadsToRows(cell[k:], steps) {
			return true
		}
	}
	return false
}

// leadsToRows reports whether a number is so many steps before the wavelengths of the
// rows at most.
func (r grid) leadsToRows(text []byte, steps float64) bool {
	x, _ := r.dialect.content(text, 0)
	x0, x1 := r.firstXs()
	n := (x0 - x) / (x1 - x0)
	return 0 < n && n <= steps
}

// firstXs returns what is first in the first two rows, as written.
func (r grid) firstXs() (x0, x1 float64) {
	n := 0
	for l := range r.rows() {
		row, _ := r.dialect.trim(l.Text)
		x0, x1 = x1, r.dialect.next(row, 0, 0).value
		if n++; n == 2 {
			break
		}
	}
	return x0, x1
}

// resemblesRow reports whether a line beside the rows is one of them with a
// fault in it: for the wavelength a number that leads on from the rows, and behind it
// cells that begin with numbers; or as many cells, and a wavelength that is commented out
// or has one or two characters wrong: x1120, 11OO, #1120. A word and a number may be a
// setting.
func (r grid) resemblesRow(l outsideLine, width int, before bool) bool {
	body, _ := cutCommentMark(l.text, r.dialect.sep)
	d := r.dialect
	row, _ := d.trim([]byte(body))
	cells := d.examine(row).cells
	if cells < width || cells > width && !d.beginsAsRow(row, width) {
		return false
	}
	first := d.next(row, 0, 0)
	x, ok := d.parseDamaged(string(row[:first.end]))
	if !ok {
		return false
	}
	near, next := r.firstXs()
	if !before {
		near, next = r.lastXs()
	}
	steps := (x - near) / (near - next)
	return 0 < steps && steps <= 5
}

// beginsAsRow reports whether the first cell of a line is a number and those behind it, as
// many as a row has, begin with numbers.
func (d dialect) beginsAsRow(row []byte, width int) bool {
	for i, j := 0, 0; j < width; j++ {
		c := d.next(row, i, 0)
		if _, n := d.parse(trimCell(row[i:c.end], d.sep), 0); n == 0 || j == 0 && c.kind <= missing {
			return false
		}
		i = c.end + 1
	}
	return true
}

const digits = "0123456789"

// digitLetters are letters that are written for digits.
var digitLetters = strings.NewReplacer("O", "0", "o", "0", "l", "1", "I", "1", "|", "1")

// parseDamaged reads a number with letters for digits, or with one or two characters too many
// at its ends.
func (d dialect) parseDamaged(text string) (float64, bool) {
	if !strings.ContainsAny(text, digits) {
		return 0, false // No
	}
	text = digitLetters.Replace(strings.TrimSpace(text))
	number := strings.TrimFunc(text, func(c rune) bool { return !strings.ContainsRune(digits, c) })
	if number == "" || len(text)-len(number) > 2 {
		return 0, false
	}
	v, n := d.parse([]byte(number), 0)
	return v, n == len(number)
}

func (r *asker) refuseResembling(l outsideLine, side string) error {
	return r.Refuse(text.Position{Line: l.Number}, "correct the line, or delete it if it is not a row",
		"%s stands %s the rows and looks like one of them", text.Quoted(l.text), side)
}

// lastXs returns what is first in the last row and in the one before, as written.
func (r grid) lastXs() (last, before float64) {
	xs := [2]float64{math.NaN(), math.NaN()}
	text := r.src.Text[r.block.start:r.block.end]
	for i := 0; i < len(xs) && len(text) > 0; i++ {
		start, end := lineBefore(text)
		row, _ := r.dialect.trim(text[start:end])
		xs[i], text = r.dialect.next(row, 0, 0).value, text[:start]
	}
	return xs[0], xs[1]
}
