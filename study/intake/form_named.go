package intake

import (
	"bytes"
	"slices"
	"strings"

	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// named is a run of lines that hold names and numbers.
type named struct {
	block
	dialect dialect
	cells   int   // of each line
	across  bool  // the first line holds the wavelengths
	names   int   // cells before the first wavelength
	tail    int   // cells of text behind the last wavelength: a note
	words   int   // rows that hold a word, of those found below wavelengths
	groups  []int // cells that tell the curves of a long form apart

	beside string // what is beside each wavelength: X400
	units  string // what is below each wavelength: nm, %R
}

// fits reports whether a line has as many cells as the rows, but for empty ones at its end
// and notes.
func (n named) fits(kinds []cellKind) bool {
	if len(kinds) < n.cells {
		return false
	}
	notes := kinds[n.cells:min(len(kinds), n.cells+n.tail)]
	return allMissing(kinds[n.cells+len(notes):]) && !slices.ContainsFunc(notes, isFigure)
}

// gridOf returns the grid of a run of rows with names.
func (r section) gridOf(n named) grid {
	g := grid{section: r, dialect: n.dialect, hasNames: true}
	g.block = n.block
	return g
}

// namedDialects are the readings that rows with names are tried by.
func (r decoded) namedDialects() []dialect {
	var all []dialect
	for _, sep := range []byte("\t;, ") {
		if bytes.IndexByte(r.src.Text, sep) < 0 {
			continue
		}
		for _, mark := range []byte(".,") {
			d := dialect{sep: sep, mark: mark, stated: r.Stated.Decimal != ""}
			if t := markOf(r.Stated.Thousands); t != sep && t != mark {
				d.thousands = t
			}
			if r.Stated.Decimal == "" || r.Stated.Decimal == markInWords(mark) {
				all = append(all, d)
			}
		}
	}
	return all
}

// markOf returns the mark that a word names, or 0.
func markOf(word string) byte {
	switch word {
	case "point":
		return '.'
	case "comma":
		return ','
	case "space":
		return ' '
	}
	return 0
}

// findNamed finds the longest run of lines that begin with a name and end with
// two numbers at least, and whether its first line holds wavelengths. Of several
// readings one must be the longest.
func (r section) findNamed() (named, error) {
	var best, second named
	for _, d := range r.namedDialects() {
		n := r.longestRun(d, isNamedRow)
		if n.rows > best.rows {
			best, second = n, best
		} else if n.rows > second.rows {
			second = n
		}
	}
	best = r.findWavelengthsAbove(best)
	if best.rows > fewRows && second.rows == best.rows && best.dialect.sep == second.dialect.sep &&
		best.cells != second.cells {
		return best, r.gridOf(best).askMark([]hypothesis{{dialect: best.dialect}, {dialect: second.dialect}})
	}
	return best, nil
}

// isNamedRow reports whether a line holds a name, first or behind the number of the row,
// and a number or a missing point in each of the last two of at least three cells; or a
// number, names and a number. Empty cells at its end are none.
func isNamedRow(cells []cellKind) bool {
	n := filled(cells)
	if n > 2 && cells[0] > missing && cells[n-1] > missing && !slices.ContainsFunc(cells[1:n-1], isNoWord) {
		return true
	}
	if n == len(cells)-1 {
		n++ // the last point may be missing
	}
	if n < 3 || !slices.Contains(cells[:n-2], word) || cells[n-1] == word || cells[n-2] == word {
		return false
	}
	return cells[n-1] > missing || cells[n-2] > missing
}

// filled counts the cells of a row up to the last that is not empty.
func filled(cells []cellKind) int {
	n := len(cells)
	for n > 0 && cells[n-1] == missing {
		n--
	}
	return n
}

// longestRun returns the longest run of lines of as many cells that are rows by
// the condition. Empty cells at the end of some of them are none.
func (r decoded) longestRun(d dialect, isRow func([]cellKind) bool) named {
	var best, run named
	var room []cellKind
	least := 0 // cells that a row of the run fills
	for l := range text.Lines(r.src.Text, 1) {
		if marksIn(l.Text)&markDigit == 0 {
			run = named{} // most lines of prose
			continue
		}
		room = d.kindsOfCells(room[:0], l.Text)
		if !isRow(room) {
			run = named{}
			continue
		}
		least = max(least, filled(room))
		if run.rows == 0 || least > min(run.cells, len(room)) {
			run = named{block: block{line: l.Number, start: l.Start}, dialect: d, cells: len(room)}
			least = filled(room)
		}
		run.cells = min(run.cells, len(room))
		run.rows++
		run.last, run.end = l.Number, l.Start+len(l.Text)
		if run.rows > best.rows {
			best = run
		}
	}
	return best
}

// kindsOfCells appends the kind of each cell of a line.
func (d dialect) kindsOfCells(kinds []cellKind, line []byte) []cellKind {
	row, _ := d.trim(line)
	for i := 0; i <= len(row) && len(kinds) <= text.MaxColumns; {
		c := d.next(row, i, 0)
		kinds = append(kinds, c.kind)
		i = c.end + 1
	}
	return kinds
}

// textCell is a cell with its text.
type textCell struct {
	cell
	text string // trimmed, without quotes
	at   int    // where it starts in the line
}

// textCells splits a line into its first cells, so many at most.
func (r decoded) textCells(d dialect, line []byte, most int) []textCell {
	row, from := d.trim(line)
	var all []textCell
	for i := 0; i <= len(row) && len(all) < most; {
		c := d.next(row, i, 0)
		text := strings.TrimSpace(r.src.Line(row[i:c.end]))
		if len(text) > 1 && text[0] == '"' && text[len(text)-1] == '"' {
			text = strings.ReplaceAll(text[1:len(text)-1], `""`, `"`)
		}
		all = append(all, textCell{c, text, from + i})
		i = c.end + 1
	}
	return all
}

// around returns the lines around a run of rows with names. None of them may look
// like one of the rows, nor like rows of numbers.
func (r grid) around(n named, isRow func([]cellKind) bool) (s surroundings, err error) {
	if s.before, err = r.outside(0, n.start, 1); err != nil {
		return s, err
	}
	if s.after, err = r.outside(n.end, len(r.src.Text), n.last); err != nil {
		return s, err
	}
	before, after := s.before, s.after
	if len(before) > 0 && !n.across { // no row is above its wavelengths
		if err := r.checkBeside(n, before[len(before)-1]); err != nil {
			return s, err
		}
	}
	if len(after) > 0 {
		if err := r.checkBeside(n, after[0]); err != nil {
			return s, err
		}
	}
	for i, l := range slices.Concat(before, after) {
		kinds := n.dialect.kindsOfCells(nil, l.Line.Text)
		isPoint := l.isRow() && (i >= len(before) || l.shape.cells == n.cells || i > 0 && before[i-1].isRow())
		if isPoint || n.fits(kinds) && isRow(kinds[:n.cells]) {
			return s, r.Refuse(text.Position{Line: l.Number}, oneBlock,
				"%s looks like one more row of data, but it stands outside the table", text.Quoted(l.text))
		}
	}
	return s, nil
}

// checkBeside refuses a line right beside rows with names that is one of them with
// a word among its values.
func (r grid) checkBeside(n named, l outsideLine) error {
	if !n.fits(n.dialect.kindsOfCells(nil, l.Line.Text)) {
		return nil
	}
	row, from := n.dialect.trim(l.Line.Text)
	fault := cell{kind: missing}
	start, numbers := 0, 0
	for i, j := 0, 0; i <= len(row); j++ {
		c := n.dialect.next(row, i, 0)
		switch {
		case j < n.names || slices.Contains(n.groups, j):
		case c.kind > missing:
			numbers++
		case c.kind == word && fault.kind != word:
			fault, start = c, i
		}
		i = c.end + 1
	}
	if fault.kind != word || numbers == 0 {
		return nil
	}
	return r.refuseCellOfColumns(l.Number, l.Line.Text, from+start, from+fault.end, word)
}

// nameWord writes the cell of a name. A bare number below angle (deg) or the
// like is the angle.
func nameWord(head heading.Label, c textCell) string {
	key := string(heading.KeyOf(head.Text))
	isAngle := (strings.Contains(key, "angle") || strings.Contains(key, "aoi")) && (strings.Contains(key, "deg") ||
		strings.Contains(head.Text, "°"))
	if isAngle && !head.Viewing && c.kind == number {
		return c.text + " deg"
	}
	return c.text
}
