package sheet

import (
	"bytes"
	"fmt"
	"strings"

	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake/text"
)

// A cell that is not written as the tables of this package are, but can be read in one way
// only, is read in that way, with a note. Where two readings are possible it is refused.

// reading is a cell that was read in the one way that is possible. Of cells of one kind the
// first is kept, and their number.
type reading struct {
	what          string // the column, or what the header has
	line          int
	written, read string
	n             int
}

// note keeps that a cell was read in the one way that is possible. Only the first reader of a
// table keeps notes: the others may run at the same time.
func (r *Row) note(what, written, read string) {
	if !r.first {
		return
	}
	t := r.table
	for i := range t.readings {
		if t.readings[i].what == what {
			t.readings[i].n++
			return
		}
	}
	t.readings = append(t.readings, reading{what, r.Line, written, read, 1})
}

// Notes says what was read in a way that a person should know of: lines that were taken for
// comments, and cells that are not written as the tables of this package are. Of each kind it
// names the first. It is whole once all rows are read.
func (t *Table) Notes() []string {
	notes := t.comments.Notes(t.File)
	if t.separator == ';' {
		notes = append(notes, study.Shown(t.File)+": semicolons separate the cells")
	}
	for _, r := range t.readings {
		text := fmt.Sprintf("%s:%d: %s %s is read as %s", study.Shown(t.File), r.line, r.what, study.Shown(r.written),
			study.Shown(r.read))
		if r.n > 1 {
			text += fmt.Sprintf(", and %d more in the same way", r.n-1)
		}
		notes = append(notes, text)
	}
	return notes
}

// findSeparator returns what separates the cells, a comma or a semicolon, by the header line,
// which is the first line of the text that is neither empty nor a comment. Names of columns hold
// neither of the two.
func findSeparator(from []byte) rune {
	for line := range bytes.Lines(from) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		if bytes.IndexByte(line, ';') >= 0 && bytes.IndexByte(line, ',') < 0 {
			return ';'
		}
		break
	}
	return ','
}

// separators names the marks that may separate cells, in messages.
func (t *Table) separators() string {
	if t.separator == ';' {
		return "semicolons"
	}
	return "commas"
}

// readName reads the name of a column in any case.
func (r *Row) readName(i int) {
	if lower := strings.ToLower(r.cells[i]); lower != r.cells[i] {
		r.note("the column", r.cells[i], lower)
		r.cells[i] = lower
	}
}

// readPath reads a path that is written with backslashes, as on Windows. A name that holds a
// backslash can be written with escapes, in quotation marks.
func (r *Row) readPath(i int) {
	if !strings.Contains(r.cells[i], `\`) {
		return
	}
	path := strings.ReplaceAll(r.cells[i], `\`, "/")
	r.note(r.table.columns[i], r.cells[i], path)
	r.cells[i] = path
}

// composeCode writes the letters of a code in their composed form (NFC), the only one that is
// kept, where it says the same in another form.
func (r *Row) composeCode(i int) {
	code := norm.NFC.String(r.cells[i])
	if code == r.cells[i] {
		return
	}
	if fault, _ := CheckText(code, r.table.columns[i]); fault != "" {
		return // refused as it is written
	}
	r.note(r.table.columns[i]+", in decomposed Unicode,", r.cells[i], code)
	r.cells[i] = code
}

// unit returns a cell that must be one of the units; % is percent.
func (r *Row) unit(column string, units ...string) string {
	if r.Text(column) == "%" {
		r.note(column, "%", "percent")
		r.cells[r.table.at[column]] = "percent"
	}
	return r.word(column, units...)
}

// readDate reads a day that is not written as ISO 8601 has it. A day that may be two is
// refused, as is what is no day.
func (r *Row) readDate(column string) string {
	const try = "write the year first, for example 2026-03-31"
	written := r.Text(column)
	day, doubt := "", ""
	if strings.Trim(written, "0123456789./-") == "" {
		day, doubt = text.DayIn(written)
	}
	switch {
	case doubt != "":
		r.Refuse(column, "write the year first, as "+doubt, "%q can be read in two ways: %s", written, doubt)
	case day == "":
		r.Refuse(column, try, "%q is not a date of the form year-month-day", written)
	default:
		r.note(column, written, day)
	}
	return day
}
