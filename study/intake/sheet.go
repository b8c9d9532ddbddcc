package intake

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"wane/study"
)

// Line is a row of a roster or a map with the place it was read from.
type Line[T any] struct {
	File   string
	Number int // counting from 1
	Row    T
}

// Refuse returns a refusal at the line.
func (l Line[T]) Refuse(try, format string, args ...any) error {
	return &study.Refusal{File: l.File, Line: l.Number, Fault: fmt.Sprintf(format, args...), Try: try}
}

// sheet is a comma-separated table whose first row names its columns, as people
// write rosters, maps and glass tables by hand or from a spreadsheet. Lines that
// begin with # are comments; cells are trimmed.
type sheet struct {
	file    string
	columns []string
	rows    []sheetRow
}

type sheetRow struct {
	sheet *sheet
	line  int
	cells []string
	// err is the first fault met by the readers below; they return zero after it.
	err error
}

// openSheet reads the whole table.
func openSheet(file string, data []byte) (*sheet, error) {
	if err := plainText(file, data); err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	r.Comment = '#'
	s := &sheet{file: file}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, s.csvRefusal(err)
		}
		line, _ := r.FieldPos(0)
		for i := range cells {
			if cells[i] = strings.TrimSpace(cells[i]); strings.ContainsAny(cells[i], "\n\r\t") {
				return nil, &study.Refusal{File: file, Line: line, Fault: "a cell goes over more than one line, or holds a tab", Try: "write each cell in one line"}
			}
		}
		if s.columns == nil {
			s.columns = cells
			continue
		}
		s.rows = append(s.rows, sheetRow{sheet: s, line: line, cells: cells})
	}
	if s.columns == nil {
		return nil, &study.Refusal{File: file, Fault: "the table is empty", Try: "write a header line and the rows below it, separated by commas"}
	}
	return s, nil
}

// plainText refuses bytes that are not UTF-8, and control characters: two codes
// that differ in them would look alike.
func plainText(file string, data []byte) error {
	line, column := 1, 0
	for at := 0; at < len(data); {
		c, size := utf8.DecodeRune(data[at:])
		column++
		if c == utf8.RuneError && size == 1 || unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' {
			return &study.Refusal{File: file, Line: line, Column: column, Fault: fmt.Sprintf("the byte %#02x is no text in UTF-8", data[at]),
				Try: "save the table as UTF-8 text"}
		}
		if c == '\n' {
			line, column = line+1, 0
		}
		at += size
	}
	return nil
}

func (s *sheet) csvRefusal(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		fault := "a quotation mark is out of place"
		if errors.Is(p.Err, csv.ErrFieldCount) {
			fault = fmt.Sprintf("the row has not the %d cells of the header", len(s.columns))
		}
		return &study.Refusal{File: s.file, Line: p.Line, Fault: fault, Try: "write one cell for each column, separated by commas"}
	}
	return &study.Refusal{File: s.file, Fault: "could not read the table", Try: "check the file", Cause: err}
}

// names checks the header: every required column once, and none that is neither
// required nor optional.
func (s *sheet) names(required, optional []string) error {
	try := "the columns are " + strings.Join(required, ",")
	if len(optional) > 0 {
		try += " and, if wanted, " + strings.Join(optional, ",")
	}
	for i, c := range s.columns {
		if !slices.Contains(required, c) && !slices.Contains(optional, c) {
			return &study.Refusal{File: s.file, Line: 1, Fault: fmt.Sprintf("there is no column %q here", c), Try: try}
		}
		if slices.Contains(s.columns[:i], c) {
			return &study.Refusal{File: s.file, Line: 1, Fault: fmt.Sprintf("the column %s stands twice", c), Try: try}
		}
	}
	for _, c := range required {
		if !slices.Contains(s.columns, c) {
			return &study.Refusal{File: s.file, Line: 1, Fault: fmt.Sprintf("the column %s is missing", c), Try: try}
		}
	}
	return nil
}

// refuse notes the first fault of the row.
func (r *sheetRow) refuse(column, try, format string, args ...any) {
	if r.err == nil {
		fault := fmt.Sprintf("column %s: ", column) + fmt.Sprintf(format, args...)
		r.err = &study.Refusal{File: r.sheet.file, Line: r.line, Fault: fault, Try: try}
	}
}

// text returns a cell, empty if the column is not there.
func (r *sheetRow) text(column string) string {
	if i := slices.Index(r.sheet.columns, column); i >= 0 {
		return r.cells[i]
	}
	return ""
}

// needed returns a cell that must not be empty.
func (r *sheetRow) needed(column string) string {
	v := r.text(column)
	if v == "" {
		r.refuse(column, "fill the cell", "the cell is empty")
	}
	return v
}

// word returns a cell that must be one of words.
func (r *sheetRow) word(column string, words ...string) string {
	v := r.text(column)
	if !slices.Contains(words, v) {
		known := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "" })
		r.refuse(column, "write one of "+strings.Join(known, ", "), "%q is not one of %s", v, strings.Join(known, ", "))
	}
	return v
}

// number returns a cell as a finite number, null if it is empty.
func (r *sheetRow) number(column string) study.Num {
	v := r.text(column)
	if v == "" {
		return study.Null()
	}
	x, err := strconv.ParseFloat(v, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		r.refuse(column, "write a number with a decimal point", "%q is not a number", v)
		return study.Null()
	}
	return study.Num(x)
}

// whole returns a cell as a whole number of at least least.
func (r *sheetRow) whole(column string, least int) int {
	v := r.needed(column)
	n, err := strconv.Atoi(v)
	if err != nil || n < least {
		r.refuse(column, "write a whole number", "%q is not a whole number of at least %d", v, least)
	}
	return n
}

// date returns a cell as an ISO 8601 date, which may be empty.
func (r *sheetRow) date(column string) string {
	v := r.text(column)
	if v == "" {
		return v
	}
	if _, err := time.Parse(time.DateOnly, v); err != nil {
		r.refuse(column, "write it as 2026-03-31", "%q is not a date of the form year-month-day", v)
	}
	return v
}
