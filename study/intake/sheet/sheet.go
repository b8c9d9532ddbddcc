package sheet

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
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

// Table is a table whose first row names its columns, in any case, with commas or semicolons
// between the cells, as people write rosters, maps and glass tables by hand or from a
// spreadsheet, or as the program exports them. Lines that begin with # are comments; cells are trimmed, and what
// [study.SheetText] did to them is undone.
type Table struct {
	File    string
	columns []string       // in lower case
	written []string       // the same as in the file
	at      map[string]int // where each column is
	rows    []Row          // of open

	comments  *comments // whole once all rows are read
	readings  []reading
	separator rune
	isPath    []bool // of each column, whether its cells are paths
}

// comments are the lines of a table that begin with #.
type comments struct{ first, n int }

// Notes says which lines were taken for comments: one may be a row whose code begins so.
func (c comments) Notes(file string) []string {
	switch c.n {
	case 0:
		return nil
	case 1:
		return []string{fmt.Sprintf("%s:%d begins with # and was skipped as a comment; if it is a row, put its first cell "+
			"in quotation marks", study.Shown(file), c.first)}
	}
	return []string{fmt.Sprintf("%s:%d and %d more begin with # and were skipped as comments; if one is a row, put its "+
		"first cell in quotation marks",
		study.Shown(file), c.first, c.n-1)}
}

// Row is a row of a table, or a curve of a profile as a row of a map.
type Row struct {
	Line int
	Err  error // the first fault met by the readers below, which return zero after it

	table *Table
	first bool // read by the first reader of the table
	cells []string
	named func(column string) (name string, line int) // of NewRow; nil in a table
}

// NewTable returns a table without rows that is not read from a file: what is elsewhere, in
// a profile, is checked as rows of it. The names of the columns are in lower case.
func NewTable(file string, columns []string) *Table {
	t := &Table{File: file, columns: columns, at: map[string]int{}}
	for i, c := range columns {
		t.at[c] = i
	}
	return t
}

// NewRow returns a row of empty cells, which is in that line. named gives what messages call
// a column, and the line that says it.
func (t *Table) NewRow(line int, named func(column string) (name string, line int)) Row {
	return Row{Line: line, table: t, cells: make([]string, len(t.columns)), named: named}
}

// Set fills a cell. The column must be there.
func (r *Row) Set(column, cell string) { r.cells[r.table.at[column]] = cell }

// open reads the whole table.
func open(file string, data []byte) (*Table, error) {
	r, err := NewReader(file, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	for {
		var row Row
		err := r.Next(&row)
		if errors.Is(err, io.EOF) {
			return r.Sheet, nil
		}
		if err != nil {
			return nil, err
		}
		r.Sheet.rows = append(r.Sheet.rows, row)
	}
}

// Reader goes through a sheet row by row.
type Reader struct {
	Sheet *Table
	csv   *csv.Reader
	text  *plainReader // nil if the text was seen before
	start int64        // of the text in the file, in bytes
	Above int          // lines above the text
}

const byteOrderMark = "\ufeff"

// NewReader reads the header of a sheet. That of a workbook is [Content] of it.
func NewReader(file string, from io.Reader) (*Reader, error) {
	from, err := content(file, from)
	if err != nil {
		return nil, err
	}
	text := NewPlainReader(file, from)
	top, err := text.from.Peek(64 << 10)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, unreadable(file, err)
	}
	r := &Reader{Sheet: &Table{File: file, comments: &text.comments, separator: findSeparator(top)}, text: text,
		start: int64(text.skipped)}
	r.open(text)
	var head Row
	err = r.Next(&head)
	if errors.Is(err, io.EOF) {
		return nil, &study.Refusal{File: file, Fault: "the table is empty",
			Try: "write a header line and the rows below it, separated by commas"}
	}
	if err != nil {
		return nil, err
	}
	r.Sheet.columns, r.Sheet.at = head.cells, map[string]int{}
	for i, c := range head.cells {
		r.Sheet.at[c] = i
		r.Sheet.isPath = append(r.Sheet.isPath, slices.Contains(outsideNames, c) && c != "column")
	}
	return r, nil
}

// From returns a reader of the rows from a place of the file on, which must begin a
// row; so many lines stand above it. The rows share their cells.
func (s *Table) From(file io.ReaderAt, offset int64, above int) *Reader {
	return s.Through(bufio.NewReader(nil), file, offset, above)
}

// Through is from, in the memory of a reader that nobody else uses meanwhile.
func (s *Table) Through(text *bufio.Reader, file io.ReaderAt, offset int64, above int) *Reader {
	text.Reset(io.NewSectionReader(file, offset, math.MaxInt64-offset))
	r := &Reader{Sheet: s, start: offset, Above: above}
	r.open(text)
	r.csv.FieldsPerRecord = len(s.columns)
	r.csv.ReuseRecord = true
	return r
}

func (r *Reader) open(from io.Reader) {
	r.csv = csv.NewReader(from)
	r.csv.Comment, r.csv.Comma = '#', r.Sheet.separator
}

// Offset returns the place in the file where the row read last ends.
func (r *Reader) Offset() int64 { return r.start + r.csv.InputOffset() }

// Next reads a row into to. After the last one it returns [io.EOF]; any other error
// is a [*study.Refusal].
func (r *Reader) Next(to *Row) error {
	cells, err := r.csv.Read()
	if err != nil {
		return r.fault(err)
	}
	line, _ := r.csv.FieldPos(0)
	if r.text != nil {
		r.text.row, r.text.rowLine = 0, line
	}
	*to = Row{Line: r.Above + line, table: r.Sheet, first: r.text != nil, cells: cells}
	for i, c := range cells {
		cell := strings.TrimSpace(c)
		cells[i] = study.FromSheet(cell)
		escaped := to.isNamed(i) && strings.HasPrefix(cell, `"`) && cells[i] != cell
		switch {
		case r.Sheet.columns == nil:
			r.Sheet.written = append(r.Sheet.written, cells[i])
			to.readName(i)
		case r.Sheet.isPath[i] && !escaped:
			to.readPath(i)
		}
		if isSimple(cells[i]) || escaped {
			continue
		}
		if strings.ContainsAny(cells[i], "\n\r\t") {
			return &study.Refusal{File: r.Sheet.File, Line: to.Line, Fault: "a cell has a line end (LF or CR) or a tab",
				Try: "write each cell in one line"}
		}
		to.checkCell(i)
	}
	return to.Err
}

// fault says in our words why a row could not be read.
func (r *Reader) fault(err error) error {
	var p *csv.ParseError
	switch {
	case r.text != nil && r.text.fault != nil:
		return r.text.fault
	case errors.Is(err, io.EOF):
		return io.EOF
	case errors.As(err, &p):
		fault := "a quotation mark is out of place"
		if errors.Is(p.Err, csv.ErrFieldCount) {
			fault = fmt.Sprintf("the row does not have the %d cells of the header", len(r.Sheet.columns))
		}
		if len(r.Sheet.columns) == 1 {
			return &study.Refusal{File: r.Sheet.File, Line: r.Above + 1, Fault: "the first line does not name columns",
				Try: "write the names of the columns into the first line, separated by commas; if the file is an export, " +
					"take it in with wane intake"}
		}
		return &study.Refusal{File: r.Sheet.File, Line: r.Above + p.Line, Fault: fault,
			Try: "write one cell for each column, separated by " + r.Sheet.separators()}
	}
	return unreadable(r.Sheet.File, err)
}

func unreadable(file string, err error) error {
	return &study.Refusal{File: file, Fault: "could not read the table", Try: "check the file", Cause: err}
}

// isSimple reports whether a text holds only printable ASCII.
func isSimple(text string) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] >= 0x7f {
			return false
		}
	}
	return true
}

// outsideNames are columns whose cells name things outside the table, which are
// spelled as they are there.
var outsideNames = []string{"file", "column", "values", "picture", "glass", "return_spectrum"}

// isNamed reports whether a cell names a file or a heading, which may hold anything where
// it is written with escapes.
func (r *Row) isNamed(i int) bool {
	return r.table.columns != nil && slices.Contains(outsideNames[:2], r.table.columns[i])
}

// checkCell refuses a cell whose text would look like another one.
func (r *Row) checkCell(i int) {
	if r.table.columns == nil {
		return // the header, whose names are known
	}
	column := r.table.columns[i]
	if !slices.Contains(outsideNames, column) {
		r.composeCode(i)
	}
	if fault, try := CheckText(r.cells[i], column); fault != "" {
		r.Refuse(column, try, "%s", fault)
	}
}

// NewPlainReader returns a reader of text without a byte order mark.
func NewPlainReader(file string, from io.Reader) *plainReader {
	p := &plainReader{file: file, from: bufio.NewReaderSize(from, 64<<10), line: 1}
	if mark, err := p.from.Peek(len(byteOrderMark)); err == nil && string(mark) == byteOrderMark {
		p.skipped, _ = p.from.Discard(len(byteOrderMark)) // they were peeked at
	}
	return p
}

// plainReader passes text on. It refuses bytes that are not UTF-8, and control
// characters: two codes that differ in them would look alike.
type plainReader struct {
	file         string
	from         *bufio.Reader
	skipped      int    // bytes of a mark in front
	line, column int    // of the last character
	part         []byte // the beginning of a character
	row, rowLine int    // bytes since the last row was read, and its line
	comments     comments
	fault        error
}

// mostRow is how many bytes a row of a table may take, comments before it included.
const mostRow = 1 << 20

func (p *plainReader) Read(to []byte) (int, error) {
	if p.fault != nil {
		return 0, p.fault
	}
	n, err := p.from.Read(to)
	p.check(to[:n], errors.Is(err, io.EOF))
	if p.row += n; p.fault == nil && p.row > mostRow {
		p.fault = &study.Refusal{File: p.file, Line: p.rowLine + 1, Fault: "a row is longer than 1 MiB from here",
			Try: "look for a quotation mark that is not closed; check that this file is a table"}
	}
	if p.fault != nil {
		return 0, p.fault
	}
	return n, err
}

// check goes through the next bytes of the text.
func (p *plainReader) check(text []byte, last bool) {
	for _, b := range text {
		if len(p.part) == 0 && b < utf8.RuneSelf {
			p.next(rune(b), b)
			continue
		}
		p.part = append(p.part, b)
		p.finish(utf8.FullRune(p.part))
	}
	p.finish(last && len(p.part) > 0)
}

// finish takes the bytes that were kept as characters, once they are whole.
func (p *plainReader) finish(whole bool) {
	for whole && len(p.part) > 0 {
		c, size := utf8.DecodeRune(p.part)
		if c == utf8.RuneError && size == 1 {
			c = -1 // no character
		}
		p.next(c, p.part[0])
		p.part = p.part[:copy(p.part, p.part[size:])]
		whole = utf8.FullRune(p.part)
	}
}

// Next counts a character, which begins with the byte.
func (p *plainReader) next(c rune, first byte) {
	p.column++
	switch {
	case c == '\n':
		p.line, p.column = p.line+1, 0
	case c == '#' && p.column == 1: // no cell goes over more than one line
		if p.comments.n++; p.comments.n == 1 {
			p.comments.first = p.line
		}
	case p.fault == nil && c >= 0 && unicode.IsControl(c) && c != '\r' && c != '\t':
		p.fault = &study.Refusal{File: p.file, Line: p.line, Column: p.column,
			Fault: fmt.Sprintf("there is a control character here, %U", c),
			Try:   "delete it, and save the table as UTF-8 text"}
	case p.fault == nil && c < 0:
		p.fault = &study.Refusal{File: p.file, Line: p.line, Column: p.column,
			Fault: fmt.Sprintf("the byte %#02x is not UTF-8 text", first),
			Try:   "save the table as UTF-8 text"}
	}
}

// names checks the header: every required column once, and none that is neither
// required nor optional.
func (s *Table) names(required, optional []string) error {
	try := "the columns are " + strings.Join(required, ",")
	if len(optional) > 0 {
		try += " and, if wanted, " + strings.Join(optional, ",")
	}
	complete := !slices.ContainsFunc(required, func(c string) bool { return !slices.Contains(s.columns, c) })
	if err := s.refuseOtherKind(required); err != nil && !complete {
		return err
	}
	for i, c := range s.columns {
		if !slices.Contains(required, c) && !slices.Contains(optional, c) {
			return &study.Refusal{File: s.File, Line: 1, Fault: fmt.Sprintf("there is no column %q here", s.written[i]),
				Try: try}
		}
		if slices.Contains(s.columns[:i], c) {
			return &study.Refusal{File: s.File, Line: 1, Fault: fmt.Sprintf("the column %s stands twice", c), Try: try}
		}
	}
	for _, c := range required {
		if !slices.Contains(s.columns, c) {
			return &study.Refusal{File: s.File, Line: 1, Fault: fmt.Sprintf("the column %s is missing", c), Try: try}
		}
	}
	return nil
}

// Refuse notes the first fault of the row.
func (r *Row) Refuse(column, try, format string, args ...any) {
	if r.Err == nil {
		name, line := "column "+column, r.Line
		if r.named != nil {
			name, line = r.named(column)
		}
		r.Err = &study.Refusal{File: r.table.File, Line: line, Fault: name + ": " + fmt.Sprintf(format, args...), Try: try}
	}
}

// Text returns a cell, empty if the column is not there.
func (r *Row) Text(column string) string {
	if i, ok := r.table.at[column]; ok {
		return r.cells[i]
	}
	return ""
}

// needed returns a cell that must not be empty.
func (r *Row) needed(column string) string {
	v := r.Text(column)
	if v == "" {
		r.Refuse(column, "fill the cell", "the cell is empty")
	}
	return v
}

// word returns a cell that must be one of words.
func (r *Row) word(column string, words ...string) string {
	v := r.Text(column)
	if !slices.Contains(words, v) {
		known := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "" })
		list := strings.Join(known, ", ")
		try := "write one of " + list
		if len(known) == 1 {
			try = "write " + list
		}
		if len(known) < len(words) {
			try += ", or leave it empty"
		}
		r.Refuse(column, try, "%q is not one of %s", v, list)
	}
	return v
}

var (
	decimalComma   = regexp.MustCompile(`^[+-]?[0-9]+,[0-9]+$`)
	thousandsComma = regexp.MustCompile(`^[+-]?[1-9][0-9]{0,2},[0-9]{3}$`)
)

// number returns a cell as a finite number, null if it is empty. Between semicolons 3,2 is 3.2, with a
// note; 1,234 is refused: it may be 1.234 or 1234.
func (r *Row) number(column string) study.Num {
	v := r.Text(column)
	if v == "" {
		return study.Null()
	}
	if r.table.separator == ';' && decimalComma.MatchString(v) {
		point := strings.Replace(v, ",", ".", 1)
		if thousandsComma.MatchString(v) {
			r.Refuse(column, fmt.Sprintf("write %s or %s", point, strings.Replace(v, ",", "", 1)),
				"%q can be read in two ways", v)
			return study.Null()
		}
		r.note(column, v, point)
		v = point
	}
	x, err := strconv.ParseFloat(v, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		r.Refuse(column, "write a number with a decimal point", "%q is not a number", v)
		return study.Null()
	}
	return study.Num(x)
}

// whole returns a cell as a whole number of at least least.
func (r *Row) whole(column string, least int) int {
	v := r.needed(column)
	n, err := strconv.Atoi(v)
	if err != nil || n < least {
		r.Refuse(column, "write a whole number", "%q is not a whole number of at least %d", v, least)
	}
	return n
}

// date returns a cell as an ISO 8601 date, which may be empty. Another way to write it is
// accepted if it leaves one day only: 23.03.2031.
func (r *Row) date(column string) string {
	v := r.Text(column)
	if v == "" {
		return v
	}
	if _, err := time.Parse(time.DateOnly, v); err != nil {
		return r.readDate(column)
	}
	return v
}

// CheckText says what makes a text of a table or a profile, or one that its patterns
// caught, no text for a study. Of the column or field of that name, those of outside things
// are spelled as they are elsewhere, with format characters and in any normalisation form;
// notes are words; all others are codes.
func CheckText(text, name string) (fault, try string) {
	switch {
	case isSimple(text):
		return "", ""
	case !utf8.ValidString(text):
		return "the name is not UTF-8 text", "rename the file"
	case name == "files" || slices.Contains(outsideNames, name):
		return study.CheckText(strings.Map(func(c rune) rune {
			if unicode.Is(unicode.Cf, c) {
				return -1
			}
			return c
		}, text))
	case name == "note":
		return study.CheckWords(text)
	}
	return study.CheckCode(text)
}
