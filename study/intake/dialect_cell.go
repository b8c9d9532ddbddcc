package intake

import (
	"bytes"

	"wane/study/intake/text"
)

// cellKind says what a cell of a row holds.
type cellKind uint8

const (
	word cellKind = iota // anything that is not one of the others
	missing
	number
	percentNumber // a number with % behind it
	nmNumber
	umNumber
)

// cell is one cell of a row.
type cell struct {
	value float64
	kind  cellKind
	end   int // where the cell ends: at a separator or at the end of the line
}

// trim takes the padding off a row, so that spaces at its end make no cell, and
// says how many bytes it took at the start.
func (d dialect) trim(line []byte) (row []byte, from int) {
	for from < len(line) && isPadding(line[from], d.sep) {
		from++
	}
	return trimCell(line[from:], d.sep), from
}

// next reads the cell that starts at line[i]; its number is multiplied by ten
// to the power shift. The next cell, if there is one, starts at end+1.
func (d dialect) next(line []byte, i, shift int) cell {
	for i < len(line) && isPadding(line[i], d.sep) {
		i++
	}
	v, n := text.ParseNumber(line[i:], d.mark, shift)
	if n > 0 && d.mark != d.sep {
		end := i + n
		for end < len(line) && line[end] != d.sep && isPadding(line[end], d.sep) {
			end++
		}
		if end == len(line) || line[end] == d.sep {
			return cell{v, number, end}
		}
	}
	return d.unusual(line, i, shift)
}

// unusual reads a cell that is not a bare number followed by a separator.
func (d dialect) unusual(line []byte, i, shift int) cell {
	if d.joined != 0 {
		return d.joinedCell(line, i, shift)
	}
	if i < len(line) && line[i] == '"' {
		if inner, end, ok := d.quotedCell(line, i); ok {
			v, kind := d.content(inner, shift)
			return cell{v, kind, end}
		}
	}
	// A number may hold the separator as its decimal comma.
	_, n := d.parse(line[i:], shift)
	end := len(line)
	if j := bytes.IndexByte(line[i+n:], d.sep); j >= 0 {
		end = i + n + j
	}
	v, kind := d.content(line[i:end], shift)
	if d.mark == d.sep && end+1 < len(line) && line[end+1] != ' ' && line[end+1] != '"' {
		kind = word // this comma may as well be a decimal mark
	}
	return cell{v, kind, end}
}

// quotedCell reads a cell in double quotes, as RFC 4180 section 2 rules 5 to 7
// have it. ok is false if no quote closes it before a separator or the end of
// the line: then the quote is text.
func (d dialect) quotedCell(line []byte, i int) (inner []byte, end int, ok bool) {
	for j := i + 1; j < len(line); j++ {
		if line[j] != '"' {
			continue
		}
		if j+1 < len(line) && line[j+1] == '"' {
			j++
			continue
		}
		end = j + 1
		for end < len(line) && line[end] != d.sep && isPadding(line[end], d.sep) {
			end++
		}
		return line[i+1 : j], end, end == len(line) || line[end] == d.sep
	}
	return nil, 0, false
}

// content reads what is in a cell: a number, a number with a unit behind
// it, or one of the three ways to write a missing point.
func (d dialect) content(b []byte, shift int) (float64, cellKind) {
	b = trimCell(b, d.sep)
	if len(b) == 0 || isMissingWord(b) || string(b) == "---" {
		return 0, missing
	}
	v, n := d.parse(b, shift)
	if n == 0 {
		return 0, word
	}
	if n == len(b) {
		return v, number
	}
	switch gluedUnit(trimCell(b[n:], d.sep)) {
	case "percent":
		return v, percentNumber
	case "nm":
		return v, nmNumber
	case "um":
		return v, umNumber
	}
	return 0, word
}

// lineShape is what a line shows when it is split by a dialect.
type lineShape struct {
	cells     int
	x         cellKind // what the first cell holds
	values    int      // how many of the others hold a number
	firstWord int      // where the first cell that holds a word starts, or -1
}

// numbers reports whether the first cell holds a number and no other a word.
func (l lineShape) numbers() bool { return l.x > missing && l.firstWord < 0 }

// examine splits a line without keeping its numbers.
func (d dialect) examine(line []byte) lineShape {
	l := lineShape{firstWord: -1}
	row, from := d.trim(line)
	for i := 0; i <= len(row); l.cells++ {
		c := d.next(row, i, 0)
		if c.kind == word && l.firstWord < 0 {
			l.firstWord = from + i
		}
		if l.cells == 0 {
			l.x = c.kind
		} else if c.kind > missing {
			l.values++
		}
		i = c.end + 1
	}
	return l
}
