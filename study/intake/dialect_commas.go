package intake

import (
	"bytes"
	"slices"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// separateClearly is what to try where commas leave open how a row splits.
const separateClearly = "export with a semicolon or a tab between the columns, or with decimal points"

// Rows of only commas: 400,8,00. Which of the commas are decimal marks follows
// from what the pieces between them can be, and from how many columns the headings name.

// mostPieces is how many pieces a row of only commas may have: the bits of a mask.
const mostPieces = 64

// onlyCommas reports whether only commas are in the rows, beside digits.
func (r section) onlyCommas() bool {
	b := r.block
	return b.shape == 0 && b.seen&markComma != 0 && b.seen&markPoint == 0 && r.Stated.Thousands == ""
}

func (r section) anyFits(all []dialect) bool {
	return slices.ContainsFunc(all, func(d dialect) bool {
		rows, _ := r.countFittingRows(d)
		return rows == r.block.rows
	})
}

// joinedCell reads the cell that starts at line[i], in a row of only commas.
func (d dialect) joinedCell(line []byte, i, shift int) cell {
	k := bytes.Count(line[:i], []byte{d.sep})
	end := text.IndexFrom(line, i, d.sep)
	if end < len(line) && k < mostPieces && d.joined>>k&1 == 1 {
		end = text.IndexFrom(line, end+1, d.sep)
	}
	v, kind := d.content(line[i:end], shift)
	return cell{v, kind, end}
}

// pieces says what the pieces of all rows can be.
type pieces struct {
	n      int              // in each row, without empty ones at the end of all
	whole  [mostPieces]bool // it can be a whole number by itself
	before [mostPieces]bool // it can stand before a decimal comma, with the next one behind it
}

// findPieces cuts all rows at their commas. ok is false if not all are cut alike.
func (r section) findPieces() (p pieces, ok bool) {
	for k := range p.whole {
		p.whole[k], p.before[k] = true, true
	}
	n, filled := 0, 0
	for l := range r.rows() {
		row := trimCell(l.Text, 0)
		commas := bytes.Count(row, []byte{','})
		if n == 0 {
			n = commas + 1
		}
		if commas+1 != n || n > mostPieces {
			return p, false
		}
		cut := bytes.Split(row, []byte{','})
		for k, piece := range cut {
			whole := trimCell(piece, 0)
			if len(whole) > 0 {
				filled = max(filled, k+1)
			}
			p.whole[k] = p.whole[k] && isWhole(whole)
			p.before[k] = p.before[k] && k+1 < n && isWhole(whole) && len(whole) > 0 && isDecimal(piece, cut[k+1])
		}
	}
	p.n = filled
	return p, p.n > 1
}

// isWhole reports whether a piece can be a whole number, or nothing: 400, -4, 0 and not
// 05.
func isWhole(piece []byte) bool {
	digits := bytes.TrimLeft(piece, "+-")
	if len(piece)-len(digits) > 1 || len(piece) > 0 && len(digits) == 0 || len(digits) > 1 && digits[0] == '0' {
		return false
	}
	return !slices.ContainsFunc(digits, func(c byte) bool { return byteMarks[c] != markDigit })
}

// isDecimal reports whether two pieces with a comma between them are one number.
func isDecimal(a, b []byte) bool {
	content := slices.Concat(a, []byte{','}, b)
	content = trimCell(content, 0)
	_, n := text.ParseNumber(content, ',', 0)
	return n == len(content)
}

// hasLeadingZeros reports whether a cell of several digits behind the first begins with
// a zero, as decimal places do and whole numbers do not. In rows of two cells it may.
func (r section) hasLeadingZeros() bool {
	for l := range r.rows() {
		if bytes.Count(l.Text, []byte{','}) < 2 {
			return false
		}
		for at := text.IndexFrom(l.Text, 0, ','); at < len(l.Text); at = text.IndexFrom(l.Text, at+1, ',') {
			c := bytes.TrimLeft(l.Text[at+1:min(len(l.Text), at+20)], " \t+-")
			if len(c) > 1 && c[0] == '0' && byteMarks[c[1]] == markDigit {
				return true
			}
		}
	}
	return false
}

// decimalCommaReadings returns the ways to make so many columns of the pieces, with a decimal mark
// in one at least; of three or more perhaps not all. Without headings the values are alike: all whole or all
// with decimal places.
func (r section) decimalCommaReadings(columns int) []dialect {
	p, ok := r.findPieces()
	if !ok {
		return nil
	}
	var masks []uint64
	if columns > 0 {
		var other []uint64
		if p.before[0] {
			p.composeMasks(columns-1, 2, 1, map[[2]int]bool{}, &masks)
		}
		if p.whole[0] {
			p.composeMasks(columns-1, 1, 0, map[[2]int]bool{}, &other)
		}
		masks = append(masks, other...)
	} else {
		for _, first := range []uint64{0, 1} {
			for _, step := range []int{1, 2} {
				if mask, ok := p.uniformMask(first, step); ok {
					masks = append(masks, mask)
				}
			}
		}
	}
	var found []dialect
	for _, mask := range masks {
		d := dialect{sep: ',', mark: ',', stated: true, joined: mask}
		if rows, _ := r.countFittingRows(d); mask != 0 && rows == r.block.rows {
			found = append(found, d)
		}
	}
	return found
}

// composeMasks appends the masks by which the pieces from k on make so many numbers, two at
// most. dead are the places from which it cannot be done.
func (p *pieces) composeMasks(columns, k int, mask uint64, dead map[[2]int]bool, masks *[]uint64) {
	at := [2]int{k, columns}
	switch {
	case len(*masks) == 2:
		return
	case columns == 0 && k == p.n:
		*masks = append(*masks, mask)
		return
	case columns == 0 || p.n-k < columns || p.n-k > 2*columns || dead[at]:
		return
	}
	if p.before[k] {
		p.composeMasks(columns-1, k+2, mask|1<<k, dead, masks)
	}
	if p.whole[k] {
		p.composeMasks(columns-1, k+1, mask, dead, masks)
	}
	dead[at] = len(*masks) == 0
}

// uniformMask returns the mask of wavelengths with decimal places or without, and of values
// that are one piece each, or two.
func (p *pieces) uniformMask(first uint64, step int) (mask uint64, ok bool) {
	if first == 1 && !p.before[0] || first == 0 && !p.whole[0] {
		return 0, false
	}
	mask = first
	k := 1 + int(first)
	for ; k+step <= p.n; k += step {
		if step == 2 {
			mask |= 1 << k
		}
		if step == 2 && !p.before[k] || step == 1 && !p.whole[k] {
			return 0, false
		}
	}
	return mask, k == p.n && k > 1+int(first)
}

// headedColumns returns how many columns the headings above the rows name, 0 if none do.
func (r section) headedColumns() int {
	text := r.src.Text[r.window.start:r.block.start]
	for range headingReach {
		start, end := lineBefore(text)
		if end-start == 0 || end-start > mostHeadings {
			return 0
		}
		for _, sep := range []byte(",;\t") {
			body, _ := cutCommentMark(r.src.Line(text[start:end]), sep)
			cells := cutCells(body, sep)
			for len(cells) > 0 && cells[len(cells)-1].text == "" {
				cells = cells[:len(cells)-1]
			}
			if len(cells) > 1 && slices.ContainsFunc(cells, func(c headCell) bool { return heading.Parse(c.text).IsX() }) {
				return len(cells)
			}
		}
		text = text[:start]
	}
	return 0
}

// joinCommas returns the one reading of rows of only commas in which some are decimal
// marks.
func (r section) joinCommas() (dialect, error) {
	at := text.Position{Line: r.block.line}
	columns := r.headedColumns()
	found := r.decimalCommaReadings(columns)
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return found[0], r.Refuse(at, separateClearly,
			"with decimal commas the first row is %s or %s: both fit all rows",
			r.firstRowAs(found[0]), r.firstRowAs(found[1]))
	case columns > 0:
		return commaPoint, r.Refuse(at, separateClearly,
			"with decimal commas the rows do not make the %d columns that the headings name", columns)
	}
	return commaPoint, r.Refuse(at, separateClearly, "with decimal commas the rows do not split into columns")
}

// onlyDecimalCommas returns the reading of rows of only commas and digits in which some commas are
// decimal marks, if there is one that fits all rows and no second.
func (r grid) onlyDecimalCommas() (dialect, bool) {
	if r.dialect != commaPoint || !r.onlyCommas() {
		return dialect{}, false
	}
	found := r.decimalCommaReadings(r.headedColumns())
	return append(found, dialect{})[0], len(found) == 1
}

// askIfDecimalCommas asks which commas are decimal marks: headings of all columns would
// have settled it.
func (r grid) askIfDecimalCommas() error {
	if r.dialect != commaPoint || !r.onlyCommas() || r.Stated.Decimal != "" ||
		len(r.decimalCommaReadings(r.headedColumns())) == 0 {
		return nil
	}
	return r.askCommas()
}

// askCommas asks which commas are decimal marks. A reading with decimal commas is
// offered if no second one fits.
func (r section) askCommas() error {
	found := r.decimalCommaReadings(r.headedColumns())
	if len(found) == 1 {
		return r.askMark([]hypothesis{{dialect: commaPoint}, {dialect: found[0]}})
	}
	first := r.firstRowAs(commaPoint)
	ways := []string{first}
	for _, d := range found {
		ways = append(ways, r.firstRowAs(d))
	}
	if len(found) == 0 {
		ways = append(ways, "one with decimal commas")
	}
	return r.Question(text.Position{Line: r.block.line}, []study.Choice{{Name: "decimal", Value: "point",
		Meaning: "the first row is " + first}}, separateClearly,
		"every comma can separate columns or be a decimal mark: the first row is %s", text.Joined(ways, "or"))
}
