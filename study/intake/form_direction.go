package intake

import (
	"iter"
	"math"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// Which way spectra stand: in rows below their wavelengths, or in columns beside them.

// mostBelow finds the most rows below wavelengths, of all readings.
func (r decoded) mostBelow() (most named) {
	for _, d := range r.namedDialects() {
		if n := r.rowsBelow(d); n.rows > most.rows {
			most = n
		}
	}
	return most
}

// rowsBelow finds the first line that holds wavelengths across, with the rows right below it,
// or below a line of units, that have as many cells and no word behind their names but in
// notes at their ends. Without such rows it is none.
func (r decoded) rowsBelow(d dialect) (n named) {
	var room []cellKind
	var above []byte
	for l := range text.Lines(r.src.Text, 1) {
		if n.rows == 0 {
			var a wavelengthRow
			ok := marksIn(l.Text)&markDigit != 0 // most lines of prose have none
			if ok {
				a, ok = parseWavelengthRow(d, l.Text, nil, true)
			}
			if ok && (above == nil || !headsRows(d, above, l.Text)) {
				n = named{block: block{line: l.Number, start: l.Start, last: l.Number, rows: 1}, dialect: d, across: true}
				n.names, n.cells, n.beside, n.tail = a.names, a.names+len(a.values), a.beside, a.tail
			}
			above = l.Text
			continue
		}
		room = d.kindsOfCells(room[:0], l.Text)
		if n.fits(room) && !slices.Contains(room[n.names:n.cells], word) && filled(room[:n.cells]) > n.names {
			n.rows++
			n.last, n.end = l.Number, l.Start+len(l.Text)
			if slices.Contains(room[:n.names], word) || slices.Contains(room[n.cells:], word) {
				n.words++
			}
			continue
		}
		if n.rows > 1 {
			break
		}
		if units := r.unitsBelow(n, l.Text); units != "" && n.skip == 0 {
			n.skip, n.units = l.Number, units
			continue
		}
		n, above = named{}, l.Text
	}
	if n.rows < 2 {
		return named{}
	}
	return n
}

// unitsBelow returns the unit or quantity that a line below wavelengths repeats below each of
// them, with nothing below the names: ,%R,%R. Otherwise it is empty.
func (r decoded) unitsBelow(n named, text []byte) string {
	if len(text) > mostHeadings {
		return ""
	}
	cells := r.textCells(n.dialect, text, n.cells+1)
	if n.dialect.sep == ' ' && len(cells) == n.cells-n.names { // spaces make no empty cells
		cells = slices.Concat(make([]textCell, n.names), cells)
	}
	if len(cells) < n.cells || len(cells) > n.cells && cells[n.cells].text != "" {
		return ""
	}
	unit := cells[n.names].text
	for i, c := range cells[:n.cells] {
		if i < n.names && heading.KeyOf(c.text) != "" || i >= n.names && c.text != unit {
			return ""
		}
	}
	if l := heading.Parse(unit); l.Axis == "" && l.Quantity == "" && l.Unit == "" {
		return ""
	}
	return unit
}

// headsRows reports whether a line has a word of its own above each cell of a row: then
// this is data, though its numbers may be in order.
func headsRows(d dialect, above, row []byte) bool {
	if len(above) > mostHeadings {
		return false
	}
	kinds := d.kindsOfCells(nil, above)
	if n := len(kinds); n < 3 || n != len(d.kindsOfCells(nil, row)) || slices.ContainsFunc(kinds[1:], isNoWord) {
		return false
	}
	if d.sep == ' ' { // as many words may be prose
		first := string(row[:d.next(row, 0, 0).end])
		if l := cornerLabel(first); strings.EqualFold(first, "x") || l.IsX() || isIDWord(first) &&
			!strings.ContainsAny(first, digits) {
			return false
		}
	}
	cells := cutCells(string(above), d.sep)
	return slices.ContainsFunc(cells[1:], func(c headCell) bool { return c.text != cells[1].text })
}

func isNoWord(k cellKind) bool { return k != word }
func isFigure(k cellKind) bool { return k > missing }

// inRowsBelow takes rows below wavelengths, if words show which way they stand.
func (r section) inRowsBelow(n named) (form, grid, error) {
	g := r.gridOf(n)
	head := r.linesFrom(n)[0]
	a, _ := parseWavelengthRow(n.dialect, head.Text, nil, true)
	named := n.words == n.rows-1 && n.tail == 0
	numbered := n.tail > 0 && isIDWord(cornerLabel(a.first).Text) && !startWithWavelengths(n.dialect, g.rowsBehind(head))
	if (named || numbered) && a.isSure() && heading.MayStandBesideWavelength(a.beside) && !r.cornerIsOther(n) {
		return r.inRows(n)
	}
	return nil, g, r.askLayoutOf(n.line, r.src.Shown(head.Text), false)
}

// startWithWavelengths reports whether rows begin with numbers in order, all of which may be
// wavelengths.
func startWithWavelengths(d dialect, rows iter.Seq[text.Line]) bool {
	var x []float64
	whole := true
	for l := range rows {
		row, _ := d.trim(l.Text)
		c := d.next(row, 0, 0)
		if c.kind <= missing {
			return false
		}
		x = append(x, c.value)
		whole = whole && c.value == math.Trunc(c.value)
	}
	low, _ := text.Ends(x)
	return len(x) > 1 && inOrder(x) && (low >= leastNM || !whole && low >= leastNM/1000.)
}

// rowsBehind yields the rows behind a line of them.
func (r section) rowsBehind(head text.Line) iter.Seq[text.Line] {
	return func(yield func(text.Line) bool) {
		for l := range r.rows() {
			if l.Number > head.Number && !yield(l) {
				return
			}
		}
	}
}

// numberedRows finds rows of numbers whose first cells may be names nevertheless, below
// a line of numbers in order: id,400,405. sure says that its first word is one of names and
// that the first cells are no wavelengths.
func (r section) numberedRows() (n named, sure, ok bool) {
	b := r.block
	if b.rows == 0 || b.line == 1 || r.want.Block > 0 || r.want.Axis > 0 {
		return n, false, false
	}
	d, err := r.findDialect()
	if err != nil {
		return n, false, false
	}
	n = named{block: b, dialect: d}
	rows := r.linesFrom(n)
	head := r.lineAbove(n)
	a, ok := parseWavelengthRow(d, head.Text, rows, false)
	if above := r.lineAbove(named{block: block{start: head.Start}}); !ok && above.Text != nil {
		if a, ok = parseWavelengthRow(d, above.Text, rows, false); ok {
			n.names, n.cells = a.names, a.names+len(a.values)
			n.units, n.skip = r.unitsBelow(n, head.Text), head.Number
			head, ok = above, n.units != ""
		}
	}
	if !ok {
		return n, false, false
	}
	n.across, n.names, n.cells = true, a.names, a.names+len(a.values)
	n.line, n.start = head.Number, head.Start
	n.rows++
	return n, hasIDWord(head.Text) && (n.names > 1 || !startWithWavelengths(d, r.rows())), true
}

// cornerIsOther reports whether the heading of the names is a word that no column of
// wavelengths has, beside one for wavelengths: Time-WL.
func (r decoded) cornerIsOther(n named) bool {
	row, _ := n.dialect.trim(r.linesFrom(n)[0].Text)
	l := cornerLabel(r.src.Line(row[:n.dialect.next(row, 0, 0).end]))
	return l.IsX() && l.Other != ""
}

// cornerLabel reads the heading of names.
func cornerLabel(text string) heading.Label {
	return ofCorner(heading.Parse(strings.Trim(text, "\" #")))
}

// ofCorner returns the label of a heading without the name of the other way of the table, if
// that is behind a unit of wavelength: nm/Sample.
func ofCorner(l heading.Label) heading.Label {
	first, other, found := strings.Cut(l.Text, "/")
	if !found || !l.IsX() || !isIDWord(strings.TrimSpace(other)) {
		return l
	}
	if x := heading.Parse(strings.TrimSpace(first)); x.IsX() {
		x.Text = l.Text
		return x
	}
	return l
}

// askLayout asks whether rows below a line of numbers in order are spectra, or, if they may
// be columns, its numbers the names of those.
func (r decoded) askLayout(n named, columns bool) error {
	return r.askLayoutOf(n.line, r.src.Shown(r.linesFrom(n)[0].Text), columns)
}

// askLayoutOf asks which way the spectra stand. Rows that hold words are no columns.
func (r *asker) askLayoutOf(line int, head string, columns bool) error {
	choices := []study.Choice{
		{Name: "layout", Value: text.InRows, Meaning: "each line is one sample, and line " + strconv.Itoa(line) +
			" contains the wavelengths"},
		{Name: "layout", Value: text.InColumns,
			Meaning: "each column is one sample, and the first column contains the wavelengths"},
	}
	orElse, ways := "", "rows: each line is one sample"
	if columns {
		orElse = "name the wavelengths in the heading of their column, and each spectrum by a word"
		ways += "; columns: each column is one sample"
	} else {
		choices = choices[:1]
	}
	return r.Question(text.Position{Line: line}, choices, orElse,
		"%s contains numbers in order: they may be wavelengths, or the names of columns (%s)", text.Quoted(head), ways)
}

// askNumbers asks the same of lines above the rows that are not right above them, or are
// split otherwise, or hold numbers with a word beside each: Row;X400;X500.
func (r grid) askNumbers(before []outsideLine, width int) error {
	if r.Stated.Layout != "" || r.want.Axis > 0 {
		return nil
	}
	for i := len(before) - 1; i >= max(0, len(before)-headingReach); i-- {
		cells := splitHeading(before[i].text, r.dialect, width)
		if len(before[i].text) <= mostHeadings {
			if cut := cutCells(before[i].text, r.dialect.sep); len(cut) == width { // X412,0 X412,5
				cells = cut
			}
		}
		if !mayBeWavelengths(cells, r.dialect) {
			continue
		}
		for _, below := range before[i+1:] { // under which names of samples, or angles, stand
			if h, ok := headingFrom(below, r.dialect, width); ok && h.namesColumns() {
				return nil
			}
		}
		return r.askLayoutOf(before[i].Number, before[i].text, true)
	}
	return nil
}

// namesColumns reports whether the first column is headed by a unit of wavelength and
// another one by a quantity or a unit of values.
func (h labelRow) namesColumns() bool {
	return h.labels[0].Axis != "" && slices.ContainsFunc(h.labels[1:], func(l heading.Label) bool {
		return l.Axis == "" && (l.Quantity != "" || l.Unit != "")
	})
}

// mayBeWavelengths reports whether the headings behind the first are numbers in order, two
// at least. The same words may stand beside each; then the numbers must be wavelengths in nm,
// or in the unit of the first heading.
func mayBeWavelengths(cells []headCell, d dialect) bool {
	var values []float64
	words := ""
	for len(cells) > 0 && cells[len(cells)-1].text == "" { // at the end of lines
		cells = cells[:len(cells)-1]
	}
	other := dialect{sep: d.sep, mark: '.' + ',' - d.mark, stated: d.stated} // headings may be written otherwise
	for _, c := range cells[min(1, len(cells)):] {
		v, beside, ok := d.numberIn(c.text)
		if !ok {
			v, beside, ok = other.numberIn(c.text)
		}
		if !ok || values != nil && beside != words {
			return false
		}
		values, words = append(values, v), beside
	}
	if len(values) < 2 || !inOrder(values) || countsRows(values) {
		return false
	}
	low, _ := text.Ends(values)
	if words == "" {
		return low > 0
	}
	x := cornerLabel(cells[0].text)
	if x.Axis == "um" {
		low *= 1000
	}
	return low >= leastNM && !heading.BesideAngle(words) && (!x.IsX() || heading.MayStandBesideWavelength(words))
}

// numberIn returns the one number of a heading and what is beside it, but for a unit of
// wavelength.
func (d dialect) numberIn(s string) (v float64, beside string, ok bool) {
	if v, kind := d.content([]byte(s), 0); kind == number || kind == nmNumber || kind == umNumber {
		return v, "", true
	}
	at := strings.IndexAny(s, digits)
	if at < 0 {
		return 0, "", false
	}
	v, n := text.ParseNumber([]byte(s[at:]), d.mark, 0)
	beside = s[:at] + " " + s[at+n:]
	return v, beside, !strings.ContainsAny(beside, digits)
}

// numberInWord reads the number of a cell that has a word beside it: X400.
func (d dialect) numberInWord(row []byte, from, end, shift int) cell {
	for i := from; i < end; i++ {
		if byteMarks[row[i]] == markDigit {
			v, _ := text.ParseNumber(row[i:end], d.mark, shift)
			return cell{v, number, end}
		}
	}
	return cell{0, word, end}
}
