package intake

import (
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// Which way spectra stand: in rows below their wavelengths, or in columns beside them.

// rowsBelow finds the first line that holds wavelengths across, with the rows right below it
// that have as many cells and no word behind their names. Without such rows it is none.
func (r *reader) rowsBelow(d dialect) (n named) {
	var room []cellKind
	for l := range lines(r.src.text, 1) {
		if n.rows == 0 {
			a, ok := readAcrossHead(d, l.text, nil, true)
			if !ok {
				continue
			}
			n = named{block: block{line: l.number, start: l.start, last: l.number, rows: 1}, dialect: d, across: true, beside: a.beside != "", names: a.names, cells: a.names + len(a.values)}
			continue
		}
		room = d.kindsOfCells(room[:0], l.text)
		if n.fits(room) && !slices.Contains(room[n.names:n.cells], word) && filled(room) > n.names {
			n.rows++
			n.last, n.end = l.number, l.start+len(l.text)
			continue
		}
		if n.rows > 1 {
			break
		}
		n = named{}
	}
	if n.rows < 2 {
		return named{}
	}
	return n
}

// numberedRows finds rows of numbers whose first cells may be names all the same, below
// a line of numbers in order: id,400,405. sure says that its first word is one of names.
func (r *reader) numberedRows() (n named, sure, ok bool) {
	b := r.block
	if b.rows == 0 || b.line == 1 || r.want.block > 0 || r.want.axis > 0 {
		return n, false, false
	}
	start, end := lineBefore(r.src.text[:b.start])
	d, err := r.findDialect()
	if err != nil {
		return n, false, false
	}
	n = named{block: b, dialect: d}
	a, ok := readAcrossHead(d, r.src.text[start:end], r.linesFrom(n), false)
	if !ok {
		return n, false, false
	}
	n.across, n.names, n.cells = true, a.names, a.names+len(a.values)
	above := r.lineAbove(n)
	n.line, n.start = above.number, above.start
	n.rows++
	return n, hasIDWord(r.src.text[start:end]), true
}

// cornerIsOther reports whether the heading of the names is a word that no column of
// wavelengths has, beside one for wavelengths: Time-WL.
func (r *reader) cornerIsOther(n named) bool {
	row, _ := n.dialect.trim(r.linesFrom(n)[0].text)
	l := cornerLabel(r.src.line(row[:n.dialect.next(row, 0, 0).end]))
	return l.isX() && l.other != ""
}

// cornerLabel reads the heading of names.
func cornerLabel(text string) label { return parseLabel(strings.Trim(text, "\" #")) }

// askLayout asks whether rows of numbers below a line of numbers in order are spectra,
// or its numbers the names of columns.
func (r *reader) askLayout(n named) error {
	return r.askLayoutOf(n.line, r.src.shown(r.linesFrom(n)[0].text))
}

func (r *reader) askLayoutOf(line int, head string) error {
	choices := []study.Choice{
		{Name: "layout", Value: inRows, Meaning: "each row is one spectrum, and line " + strconv.Itoa(line) + " holds the wavelengths"},
		{Name: "layout", Value: inColumns, Meaning: "each column is one spectrum, and the first column holds the wavelengths"},
	}
	return r.question(place{line: line}, choices, "name the wavelengths in the heading of their column, and each spectrum by a word",
		"%s holds numbers in order: they may be wavelengths, or the names of columns", quoted(head))
}

// askNumbers asks the same of lines above the rows that are not right above them, or are
// split otherwise, or hold numbers with a word beside each: Row;X400;X500.
func (r *reader) askNumbers(before []outsideLine, width int) error {
	if r.stated.Layout != "" || r.want.axis > 0 {
		return nil
	}
	for i := len(before) - 1; i >= max(0, len(before)-headingReach); i-- {
		if !mayBeWavelengths(splitHeading(before[i].text, r.dialect, width), r.dialect) {
			continue
		}
		for _, below := range before[i+1:] { // under which names of samples, or angles, stand
			if h, ok := headingFrom(below, r.dialect, width); ok && h.namesColumns() {
				return nil
			}
		}
		return r.askLayoutOf(before[i].number, before[i].text)
	}
	return nil
}

// namesColumns reports whether the first column is headed by a unit of wavelength and
// another one by a quantity or a unit of values.
func (h heading) namesColumns() bool {
	return h.labels[0].axis != "" && slices.ContainsFunc(h.labels[1:], func(l label) bool { return l.axis == "" && (l.quantity != "" || l.unit != "") })
}

// mayBeWavelengths reports whether the headings behind the first are numbers in order, two
// at least. The same words may stand beside each, if the first is not one of wavelengths;
// then the numbers must be wavelengths in nm.
func mayBeWavelengths(cells []headCell, d dialect) bool {
	var values []float64
	words := ""
	for _, c := range cells[min(1, len(cells)):] {
		v, beside, ok := d.numberIn(c.text)
		if !ok || values != nil && beside != words {
			return false
		}
		values, words = append(values, v), beside
	}
	if len(values) < 2 || !inOrder(values) || countsRows(values) {
		return false
	}
	low, _ := ends(values)
	return words == "" && low > 0 || low >= leastNM && !parseLabel(cells[0].text).isX()
}

// numberIn returns the one number of a heading and what stands beside it, but for a unit of
// wavelength.
func (d dialect) numberIn(text string) (v float64, beside string, ok bool) {
	if v, kind := d.content([]byte(text), 0); kind == number || kind == nmNumber || kind == umNumber {
		return v, "", true
	}
	at := strings.IndexFunc(text, isDigit)
	if at < 0 {
		return 0, "", false
	}
	v, n := parseNumber([]byte(text[at:]), d.mark, 0)
	beside = text[:at] + " " + text[at+n:]
	return v, beside, !strings.ContainsFunc(beside, isDigit)
}

// besideWord reads the number of a cell that has a word beside it: X400.
func (d dialect) besideWord(row []byte, from, end, shift int) cell {
	for i := from; i < end; i++ {
		if kinds[row[i]] == digit {
			v, _ := parseNumber(row[i:end], d.mark, shift)
			return cell{v, number, end}
		}
	}
	return cell{0, word, end}
}
