package intake

import (
	"bytes"
	"strings"

	"wane/study"
	"wane/study/intake/text"
)

// hypothesis is a reading of the rows and how far it gets.
type hypothesis struct {
	dialect
	rows     int  // that it fits, from the first
	distinct bool // it makes a difference: its marks occur in numbers
}

// fitsAll reports whether the reading is one of the whole block.
func (h hypothesis) fitsAll(b block) bool { return h.rows == b.rows && h.distinct }

// candidates returns the readings that the bytes of the block and the statements
// of a person leave possible. The header has no say: it may follow another one.
func (r section) candidates() []dialect {
	b := r.block
	seps := []byte{' '}
	switch {
	case b.shape == markSemicolon:
		seps[0] = ';'
	case b.shape == markTab:
		seps[0] = '\t'
	case b.seen&markComma != 0:
		seps = []byte{',', ' '}
	}
	var all []dialect
	for _, sep := range seps {
		for _, mark := range [...]byte{'.', ','} {
			for _, thousands := range [...]byte{0, '.', ',', ' '} {
				if d := (dialect{sep: sep, mark: mark, thousands: thousands, stated: r.Stated.Decimal != ""}); r.isCandidate(d) {
					all = append(all, d)
				}
			}
		}
	}
	return all
}

func (r section) isCandidate(d dialect) bool {
	seen := r.block.seen
	commas, points, spaces := seen&markComma != 0, seen&markPoint != 0, seen&markSpace != 0
	explained := func(c byte) bool { return d.sep == c || d.mark == c || d.thousands == c }
	if t := r.Stated.Thousands; t != "" {
		if markInWords(d.thousands) != t || d.thousands == 0 {
			return false
		}
	} else if d.thousands == ' ' || d.thousands != 0 && !(commas && points) {
		return false
	}
	switch {
	case r.Stated.Decimal != "" && markInWords(d.mark) != r.Stated.Decimal:
		return false
	case d.thousands != 0 && (d.thousands == d.mark || d.thousands == d.sep):
		return false
	case commas && !explained(','), points && !explained('.'), d.sep == ' ' && r.block.shape == 0 && !spaces && commas:
		return false
	case d.mark == ',' && d.sep == ',':
		return spaces || seen&markQuote != 0
	case d.mark == ',':
		return commas || d.stated || r.Stated.Thousands != ""
	}
	return true
}

// findDialect decides the dialect only from the rows, all of them: of several
// readings one must fit every row and no other may. Rows of only commas are decided by the
// headings too, if a person states that some of them are decimal marks.
func (r section) findDialect() (dialect, error) {
	all := r.candidates()
	if r.onlyCommas() && r.Stated.Decimal == "comma" && !r.anyFits(all) {
		return r.joinCommas()
	}
	d, err := r.chooseDialect(all)
	if err == nil && d == commaPoint && r.Stated.Decimal == "" && r.onlyCommas() && r.hasLeadingZeros() &&
		r.anyFits([]dialect{d}) {
		return d, r.askCommas()
	}
	return d, err
}

// chooseDialect chooses among readings.
func (r section) chooseDialect(all []dialect) (dialect, error) {
	if len(all) == 0 {
		return dialect{}, r.Refuse(text.Position{Line: r.block.line}, "leave --decimal and --thousands out, or correct them",
			"no row can be read with the marks stated")
	}
	if len(all) == 1 && (all[0].thousands == 0 || r.Stated.Thousands != "") {
		return all[0], nil
	}
	tried := r.tryReadings(all)
	var fits []hypothesis
	best := tried[0]
	for _, h := range tried {
		if h.fitsAll(r.block) {
			fits = append(fits, h)
		}
		if h.rows > best.rows && h.distinct {
			best = h
		}
	}
	switch {
	case len(fits) > 1:
		return best.dialect, r.askMark(fits)
	case len(fits) == 1 && (fits[0].thousands == 0 || r.Stated.Thousands != ""):
		return fits[0].dialect, nil
	case len(fits) == 1 || best.thousands != 0 && r.Stated.Thousands == "":
		return best.dialect, r.refuseTwoMarks(fits)
	}
	return best.dialect, nil // reading with it will name the line that is wrong
}

// tryReadings follows each reading as far as it fits. The first one is not followed if
// no other gets beyond the first row: it is then the only one.
func (r section) tryReadings(all []dialect) []hypothesis {
	tried := make([]hypothesis, len(all))
	others := 0
	for i := len(all) - 1; i >= 0; i-- {
		if i == 0 && others == 0 && all[0].thousands == 0 {
			tried[0] = hypothesis{all[0], r.block.rows, true}
			break
		}
		rows, distinct := r.countFittingRows(all[i])
		tried[i] = hypothesis{all[i], rows, distinct}
		others += rows
	}
	return tried
}

// askMark refuses rows that several readings fit.
func (r section) askMark(fits []hypothesis) error {
	var choices []study.Choice
	for _, h := range fits {
		c := study.Choice{Name: "decimal", Value: h.markInWords(), Meaning: "the first row is " + r.firstRowAs(h.dialect)}
		if h.thousands != 0 {
			c.Name, c.Value = "thousands", markInWords(h.thousands)
		}
		choices = append(choices, c)
	}
	return r.Question(text.Position{Line: r.block.line}, choices, separateClearly,
		"every comma can separate columns or be a decimal mark: %s and %s both fit all rows",
		r.firstRowAs(fits[0].dialect), r.firstRowAs(fits[1].dialect))
}

// countFittingRows counts the rows, from the first, that split into the same number
// of numbers, at least two, with the first of them running strictly up or
// down. Marks that no number uses make no distinct reading.
func (r section) countFittingRows(d dialect) (rows int, distinct bool) {
	commas, groups := d.mark == '.', d.thousands == 0
	width, last, step := 0, 0.0, 0.0
	for l := range r.rows() {
		n, x := 0, 0.0
		row, _ := d.trim(l.Text)
		for i := 0; i <= len(row); n++ {
			c := d.next(row, i, 0)
			if c.kind == word || n == 0 && c.kind == missing {
				return rows, commas && groups
			}
			if n == 0 {
				x = c.value
			}
			text := row[i:c.end]
			commas = commas || bytes.IndexByte(text, d.mark) >= 0
			groups = groups || bytes.IndexByte(text, d.thousands) >= 0
			i = c.end + 1
		}
		ordered := rows == 0 || rows == 1 && x != last || (x-last)*step > 0
		if n < 2 || rows > 0 && n != width || !ordered {
			return rows, commas && groups
		}
		width, step, last = n, x-last, x
		rows++
	}
	return rows, commas && groups
}

// firstRowAs shows how a dialect splits the first row, of which a dozen cells do.
func (r section) firstRowAs(d dialect) string {
	var cells []string
	for l := range r.rows() {
		row, _ := d.trim(l.Text)
		for i := 0; i <= len(row); {
			c := d.next(row, i, 0)
			if len(cells) == mostShown {
				cells = append(cells, "...")
				break
			}
			cells = append(cells, r.src.Shown(trimCell(row[i:c.end], d.sep)))
			i = c.end + 1
		}
		break
	}
	return "[" + strings.Join(cells, " | ") + "]"
}

// refuseTwoMarks refuses rows that hold points and commas although something
// else separates them: one of the two then marks thousands, or two programs
// wrote the file. A reading with thousands that fits all rows is offered.
func (r section) refuseTwoMarks(fits []hypothesis) error {
	at, shown := text.Position{Line: r.block.line}, ""
	var first marks
	for l := range r.rows() {
		used := marksIn(l.Text) & (markComma | markPoint)
		if used == 0 || used == first {
			continue
		}
		if at.Line, shown = l.Number, r.src.Shown(l.Text); first != 0 || used == markComma|markPoint {
			break
		}
		first = used
	}
	const fault, orElse = "the rows contain both points and commas, so %s can be read in two ways",
		"export without thousands marks, with one decimal mark throughout"
	if len(fits) == 0 {
		return r.Refuse(at, orElse, fault, text.Quoted(shown))
	}
	mark := fits[0].thousands
	return r.Question(at, []study.Choice{{Name: "thousands", Value: markInWords(mark),
		Meaning: "the first row is " + r.firstRowAs(fits[0].dialect)}},
		orElse, fault, text.Quoted(shown))
}
