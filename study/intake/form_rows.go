package intake

import (
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// One spectrum per row: a first row of wavelengths, below it rows with names.

// findWavelengthsAbove decides whether the first line of a run, or the one above it, holds
// wavelengths across: numbers in order behind the names, and no row of its own.
func (r decoded) findWavelengthsAbove(n named) named {
	if n.rows == 0 {
		return n
	}
	lines := r.linesFrom(n)
	above := r.lineAbove(n)
	for i, head := range []text.Line{above, lines[0]} {
		rest := lines[i:]
		if head.Text == nil || len(rest) == 0 {
			continue
		}
		if i == 1 && above.Text != nil && headsRows(n.dialect, above.Text, lines[0].Text) {
			continue
		}
		if a, ok := parseWavelengthRow(n.dialect, head.Text, rest, false); ok && (a.isSure() ||
			r.Stated.Layout == text.InRows) {
			n.across, n.names, n.cells = true, a.names, a.names+len(a.values)
			if i == 0 {
				n.line, n.start = head.Number, head.Start
				n.rows++
			}
			return n
		}
	}
	return n
}

// linesFrom returns the first lines of a run, three at most.
func (r decoded) linesFrom(n named) []text.Line {
	var all []text.Line
	for l := range text.Lines(r.src.Text[n.start:n.end], n.line) {
		l.Start += n.start
		if all = append(all, l); len(all) == 3 {
			break
		}
	}
	return all
}

// lineAbove returns the line above a run that is not blank.
func (r decoded) lineAbove(n named) (above text.Line) {
	for l := range text.Lines(r.src.Text[:n.start], 1) {
		above = l
	}
	return above
}

// wavelengthRow is a line of wavelengths behind the headings of names.
type wavelengthRow struct {
	first  string // the heading of the first names
	names  int
	values []float64
	beside string // what is beside each number: X400, X500
	tail   int    // headings behind the numbers: a note
}

// parseWavelengthRow reads a line that holds numbers in order behind its names, two at
// least, of which no row below lacks a cell. Empty cells at the end of lines are none.
// Numbers such as 1, 2, 3 are names of samples. With words, the same may stand beside each,
// and others behind the last.
func parseWavelengthRow(d dialect, head []byte, below []text.Line, withWords bool) (a wavelengthRow, ok bool) {
	row, _ := d.trim(head)
	n, end := 0, 0 // cells, and those up to the last that is not empty
	for i := 0; i <= len(row); n++ {
		c := d.next(row, i, 0)
		if withWords && n > 0 && c.kind == word && c.end-i <= heading.MostInHeading {
			v, beside, one := d.numberIn(string(trimCell(row[i:c.end], d.sep)))
			if one && a.tail == 0 {
				if beside != a.beside {
					a.values, a.beside = nil, beside // those before were names
				}
				c.value, c.kind = v, number
			}
		}
		switch {
		case withWords && len(a.values) > 0 && c.kind == word && c.end-i <= heading.MostInHeading && end+a.tail == n:
			a.tail++
		case a.tail > 0 && c.kind > missing:
			return a, false
		case c.kind > missing && n > 0:
			if len(a.values) > 0 && end < n {
				return a, false
			}
			a.values = append(a.values, c.value)
			end = n + 1
		case len(a.values) > 0 && c.kind == missing: // at the end
		case len(a.values) > 0, c.end-i > heading.MostInHeading:
			return a, false
		case n == 0:
			a.first = string(row[i:c.end])
		}
		i = c.end + 1
		if n > text.MaxColumns {
			return a, false
		}
	}
	a.names = end - len(a.values)
	if len(a.values) < 2 || !inOrder(a.values) || a.values[0] <= 0 || countsRows(a.values) {
		return a, false
	}
	if low, _ := text.Ends(a.values); a.beside != "" && (low < leastNM || heading.BesideAngle(a.beside)) {
		return a, false
	}
	for _, l := range below {
		kinds := d.kindsOfCells(nil, l.Text)
		other, _ := d.trim(l.Text)
		if len(kinds) < end || slices.Contains(kinds[a.names:end], word) || !allMissing(kinds[end:]) ||
			string(other[:d.next(other, 0, 0).end]) == a.first {
			return a, false
		}
	}
	return a, true
}

func allMissing(kinds []cellKind) bool {
	return !slices.ContainsFunc(kinds, func(k cellKind) bool { return k != missing })
}

// isSure reports whether the numbers are wavelengths above rows that begin with a word:
// two are enough below a word such as id; else there must be three of like size.
func (a wavelengthRow) isSure() bool {
	if l := cornerLabel(a.first); isIDWord(l.Text) || l.IsX() || strings.TrimSpace(a.first) == "" {
		return true
	}
	low, high := text.Ends(a.values)
	return len(a.values) >= 3 && low > 0 && high/low < 20
}

// isIDWord reports whether a heading is that of names.
func isIDWord(text string) bool {
	return heading.StartsWithAny(heading.KeyOf(text), "id", "sample", "name", "coupon", "spot", "specimen", "label",
		"code", "probe", "muster")
}

// inOrder reports whether numbers run strictly up or down.
func inOrder(x []float64) bool {
	for i := 1; i < len(x); i++ {
		if !((x[i]-x[i-1])*(x[1]-x[0]) > 0) {
			return false
		}
	}
	return true
}

// lineBefore returns where the last line of text that is not blank starts and
// ends.
func lineBefore(text []byte) (start, end int) {
	end = len(text)
	for end > 0 && (text[end-1] == '\n' || text[end-1] == '\r' || text[end-1] == ' ' || text[end-1] == '\t') {
		end--
	}
	start = end
	for start > 0 && text[start-1] != '\n' && text[start-1] != '\r' {
		start--
	}
	return start, end
}

// hasIDWord reports whether a line begins with a heading of names.
func hasIDWord(content []byte) bool {
	const room = 20
	i := slices.IndexFunc(content,
		func(c byte) bool { return byteMarks[c]&(markComma|markSemicolon|markTab|markSpace) != 0 })
	if i < 0 || i > room {
		return false
	}
	return isIDWord(string(content[:i]))
}

// rowsForm is one spectrum per row, below a line of wavelengths.
type rowsForm struct {
	grid
	run named
}

// inRows takes one spectrum per row.
func (r section) inRows(n named) (form, grid, error) {
	g := r.gridOf(n)
	if n.rows < 2 {
		return nil, g, r.Refuse(text.Position{Line: n.line}, text.ExportAgain, "no row stands below the wavelengths")
	}
	if err := g.checkRowsAcross(n); err != nil {
		return nil, g, err
	}
	points := n.cells - n.names
	if n.rows > text.MaxColumns || n.cells > text.MaxColumns || points > maxNumbers/n.rows {
		return nil, g, r.Refuse(text.Position{Line: n.line}, "export fewer spectra into one file",
			"%s of %s are more than one export may contain: %s numbers in %s spectra",
			text.Count(n.rows, "row"), text.Count(points, "wavelength"), text.Figure(maxNumbers), text.Figure(text.MaxColumns))
	}
	return rowsForm{g, n}, g, nil
}

func (r rowsForm) surroundings() (surroundings, error) {
	return r.around(r.run, func(kinds []cellKind) bool {
		return !slices.Contains(kinds[r.run.names:], word) && slices.Max(kinds[r.run.names:]) > missing
	})
}

func (r rowsForm) headings(s surroundings) (headings, error) {
	stated, err := r.readHeader(s.before)
	if err != nil {
		return headings{}, err
	}
	h, kinds, err := r.labelRows(r.run)
	if r.run.skip > 0 {
		s.before = append(slices.Clone(s.before), r.lineNumber(r.run.skip))
	}
	return headings{around: s, labelRow: h, stated: stated, kinds: kinds}, err
}

func (r rowsForm) plan(h headings) (plan, error) {
	p, err := r.planColumns(h.labelRow, h.stated, h.kinds)
	if err != nil {
		return p, err
	}
	p.byRow = true
	if n := r.run; n.tail > 0 {
		behind := text.Count(n.tail, "column") + " behind the last wavelength, headed " + text.Quoted(r.headsBehind(n))
		p.notes = append(p.notes, behind+", kept as text")
	}
	p.lines = make(map[int]text.Span, len(p.curves))
	for _, c := range p.curves {
		p.lines[c.id()] = text.Span{First: c.at.Line, Last: c.at.Line}
	}
	return p, nil
}

func (r rowsForm) table(_ headings, l layout) (table, error) { return r.readRowsAcross(r.run, l) }

func (r rowsForm) located(headings) located {
	names := r.run.names
	return located{grid: r.grid, locate: func(i, j int) (row, cell int) { return j, names + i }}
}

// checkRowsAcross refuses a row that has another count of cells than the line of wavelengths,
// but for empty ones at its end.
func (r section) checkRowsAcross(n named) error {
	var room []cellKind
	for l := range r.rows() {
		room = n.dialect.kindsOfCells(room[:0], l.Text)
		if !n.fits(room) {
			return r.refuseRagged(l.Number, len(room), n.cells)
		}
	}
	return nil
}

// labelRows makes headings of the names: one column for the wavelengths and one
// for each row.
func (r grid) labelRows(n named) (labelRow, []cellKind, error) {
	h := labelRow{line: n.line}
	var kinds []cellKind
	var heads []heading.Label
	var names [][]textCell
	var room []cellKind
	for l := range r.rows() {
		cells := r.textCells(r.dialect, l.Text, n.names)
		room = n.dialect.kindsOfCells(room[:0], l.Text)
		kind := missing
		if i := slices.IndexFunc(room[n.names:n.cells], func(k cellKind) bool { return k > missing }); i >= 0 {
			kind = room[n.names+i]
		}
		if heads == nil && n.beside != "" {
			kind = number
		}
		kinds = append(kinds, kind)
		h.at = append(h.at, text.Position{Line: l.Number})
		if heads == nil {
			x := heading.Label{Wave: true}
			for _, c := range cells {
				head := cornerLabel(c.text)
				heads = append(heads, head)
				switch {
				case !head.IsX():
				case head.Other != "" && !heading.StartsWithAny(head.Other, "energ", "frequ"):
					// It names the rows, as does its unit.
				default:
					x = head
					x.Beside = nil // wavelengths stand beside it, as their order shows
				}
			}
			h.labels = append(h.labels, x)
			continue
		}
		names = append(names, cells)
	}
	h.labels = append(h.labels, labelsOf(heads, names, "")...)
	return h, kinds, r.addSharedUnits(&h, n)
}

// addSharedUnits gives the headings what is beside or below each wavelength: %R 400 nm.
func (r *asker) addSharedUnits(h *labelRow, n named) error {
	for _, s := range []string{n.beside, n.units} {
		all := heading.Parse(strings.TrimSpace(s))
		if x := &h.labels[0]; all.Axis != "" && x.Axis == "" {
			x.Axis = all.Axis
		} else if all.Axis != "" && x.Axis != all.Axis {
			return r.Refuse(text.Position{Line: n.line}, "correct the unit that is wrong",
				"the wavelengths are said to be in %s and in %s", x.Axis, all.Axis)
		}
		for i := range h.labels[1:] {
			l := &h.labels[i+1]
			if all.Quantity != "" && (l.Quantity == "" || l.OfLetter) {
				l.Quantity, l.OfLetter = all.Quantity, all.OfLetter
			}
			if l.Unit == "" {
				l.Unit = all.Unit
			}
		}
	}
	return nil
}

// headsBehind returns the headings behind the last wavelength.
func (r grid) headsBehind(n named) string {
	var words []string
	for _, c := range r.textCells(r.dialect, r.linesFrom(n)[0].Text, n.cells+n.tail)[n.cells:] {
		words = append(words, c.text)
	}
	return strings.Join(words, ", ")
}

// lineNumber returns a line among the rows.
func (r grid) lineNumber(number int) outsideLine {
	for l := range text.Lines(r.src.Text[r.block.start:r.block.end], r.block.line) {
		if l.Number == number {
			return outsideLine{l, r.src.Line(l.Text), r.dialect.examine(l.Text)}
		}
	}
	return outsideLine{}
}

// readRowsAcross reads the rows into columns.
func (r grid) readRowsAcross(n named, l layout) (table, error) {
	t := table{n.cells - n.names, n.rows, make([]float64, (n.cells-n.names)*n.rows)}
	d := r.dialect
	j := 0
	for ln := range r.rows() {
		row, from := d.trim(ln.Text)
		y := t.column(j)
		at := 0
		for k := 0; k < n.cells; k++ {
			c := d.next(row, at, l.shifts[j])
			if j == 0 && n.beside != "" && k >= n.names {
				c = d.numberInWord(row, at, c.end, l.shifts[j])
			}
			switch i := k - n.names; {
			case i < 0:
			case c.kind == missing:
				y[i] = math.NaN()
			case c.kind == l.kinds[j]:
				y[i] = c.value
			default:
				return table{}, r.refuseCell(ln.Number, ln.Text, from+at, from+c.end, c.kind)
			}
			at = c.end + 1
		}
		j++
	}
	return t, nil
}

// marked returns the quantities that a column of names gives, if every one of its
// cells names one.
func marked(names [][]textCell, j int) []study.Quantity {
	all := make([]study.Quantity, len(names))
	for i, cells := range names {
		if all[i] = heading.Parse(cells[j].text).Quantity; all[i] == "" {
			return nil
		}
	}
	return all
}

// labelsOf makes a label of the names of each curve. tail is behind all.
func labelsOf(heads []heading.Label, names [][]textCell, tail string) []heading.Label {
	labels := make([]heading.Label, len(names))
	for i, cells := range names {
		var words []string
		for j, c := range cells {
			if word := nameWord(heads[j], c); word != "" {
				words = append(words, word)
			}
		}
		labels[i] = heading.Parse(strings.TrimSpace(strings.Join(words, " ") + " " + tail))
		for j, c := range cells {
			if nameWord(heads[j], c) != c.text { // the column is one of angles
				own := heading.Parse(tail)
				labels[i].Angles, labels[i].Viewing = append(own.Angles, c.text), own.Viewing
			}
		}
	}
	if len(names) == 0 {
		return labels
	}
	for j := range names[0] {
		for i, q := range marked(names, j) {
			labels[i].Quantity = q
			if labels[i].Unit == "" {
				labels[i].Unit = heading.Parse(names[i][j].text).Unit
			}
		}
	}
	return labels
}
