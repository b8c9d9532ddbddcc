// Package workbook turns one sheet of a workbook (.xlsx, ECMA-376) into the lines of a text table, so that it is read
// by the same rules as text. Line n is row n of the sheet.
//
// Start with [Is] and [Text]. Cells are texts. A number has the digits that stand in the file, and not those that its
// format shows; one whose format is nothing but zeros, as 000, has these. A cell with the format of a date is that day,
// ISO 8601. What could be two things is refused with its cell: a formula, whose value nobody can check here; a number
// that is shown as percent; an error.
//
// NAME.xlsx#Sheet names a sheet; without # it is the only one of the workbook.
package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"wane/study"
	"wane/study/intake/text"
)

// Bounds of workbooks, far above any roster or export. Common practice, no source.
const (
	mostParts    = 2_000    // files in the zip file that a workbook is
	mostUnpacked = 64 << 20 // bytes of all of them
	mostRatio    = 200      // of a part's bytes to its packed bytes, above smallPart
	smallPart    = 1 << 20
	mostRows     = 200_000
)

// Comma and Tab are what can stand between the cells of a line.
const (
	Comma = ','
	Tab   = '\t'
)

// Is reports whether a file is a zip file, as a workbook is, or a workbook of the older kind or with a password.
func Is(data []byte) bool { return bytes.HasPrefix(data, []byte("PK\x03\x04")) || isOld(data) }

// isOld reports whether a file is a compound file, in which older workbooks and those with a password stand. Source:
// the first eight bytes by [MS-CFB] 2.2, from memory.
func isOld(data []byte) bool {
	return bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"))
}

const ending = ".xlsx"

// Split splits NAME.xlsx#Sheet into the name of the file and of the sheet; of any other name the sheet is empty.
func Split(name string) (file, sheet string) {
	at := strings.LastIndex(strings.ToLower(name), ending+"#")
	if at < 0 {
		return name, ""
	}
	return name[:at+len(ending)], name[at+len(ending)+1:]
}

// Text returns a sheet of the workbook called name as lines whose cells separator parts: quoted as in CSV between
// commas, and with spaces for line ends and tabs within them between tabs. An empty sheet is the only one that the
// workbook has. Every error is a [*study.Refusal].
func Text(name, sheet string, data []byte, separator rune) (lines []byte, err error) {
	r := &reader{file: name}
	defer r.catch(&lines, &err)
	if err := r.check(data); err != nil {
		return nil, err
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true,
		UnzipSizeLimit: mostUnpacked, UnzipXMLSizeLimit: mostUnpacked})
	if err != nil {
		return nil, r.broken(err)
	}
	r.book = book
	lines, err = r.text(sheet, separator)
	if closing := book.Close(); err == nil && closing != nil {
		return nil, r.broken(closing)
	}
	return lines, err
}

// Sheets returns the names of the sheets of the workbook called name. Every error is a [*study.Refusal].
func Sheets(name string, data []byte) (names []string, err error) {
	r := &reader{file: name}
	defer r.catch(nil, &err)
	if err := r.check(data); err != nil {
		return nil, err
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{UnzipSizeLimit: mostUnpacked,
		UnzipXMLSizeLimit: mostUnpacked})
	if err != nil {
		return nil, r.broken(err)
	}
	names = book.GetSheetList()
	if err := book.Close(); err != nil {
		return nil, r.broken(err)
	}
	return names, nil
}

// catch refuses a workbook at which the library panics: it is damaged.
func (r *reader) catch(lines *[]byte, err *error) {
	if fault := recover(); fault != nil {
		*err = r.broken(fmt.Errorf("%v", fault))
		if lines != nil {
			*lines = nil
		}
	}
}

// reader reads a sheet.
type reader struct {
	file    string // its name in messages
	sheet   string
	book    *excelize.File
	epoch   bool           // days are counted from 1904
	formats map[int]format // by the number of the style
}

func (r *reader) refuse(line int, try, fault string, args ...any) error {
	return &study.Refusal{File: r.file, Line: line, Fault: fmt.Sprintf(fault, args...), Try: try}
}

func (r *reader) broken(err error) error {
	return &study.Refusal{File: r.file, Fault: "this is no workbook (.xlsx), or one that is damaged",
		Try: "open it in the program that wrote it and save it again as .xlsx, or save the sheet as CSV", Cause: err}
}

// check refuses what is no workbook, and one that would unpack to more than any table has, before it is unpacked.
func (r *reader) check(data []byte) error {
	if isOld(data) {
		return r.refuse(0, "save it as .xlsx without a password, or save the sheet as CSV",
			"this is a workbook of the older kind (.xls), or one with a password")
	}
	parts, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) { // no part is written anywhere
		return r.broken(err)
	}
	const try = "save the sheet as CSV"
	sum := uint64(0)
	for _, p := range parts.File {
		sum += p.UncompressedSize64
		if p.UncompressedSize64 > smallPart && p.UncompressedSize64/mostRatio > p.CompressedSize64 {
			return r.refuse(0, try, "a part of the workbook unpacks to more than %d times its packed size", mostRatio)
		}
	}
	switch {
	case len(parts.File) > mostParts:
		return r.refuse(0, try, "the workbook has %s, and may have %d", text.Count(len(parts.File), "part"), mostParts)
	case sum > mostUnpacked:
		return r.refuse(0, try, "the workbook has more than %d MiB unpacked", mostUnpacked>>20)
	}
	return nil
}

// choose finds the sheet.
func (r *reader) choose(sheet string) error {
	all := r.book.GetSheetList()
	file, _ := Split(r.file)
	names := func() string {
		var list []string
		for _, s := range all {
			list = append(list, file+"#"+s)
		}
		return strings.Join(list, " or ")
	}
	switch {
	case len(all) == 0:
		return r.refuse(0, "check the file", "the workbook has no sheet")
	case sheet == "" && len(all) > 1:
		return r.refuse(0, "name one: "+names(), "the workbook has %d sheets", len(all))
	case sheet == "":
		r.sheet = all[0]
		return nil
	}
	for _, s := range all {
		if s == sheet {
			r.sheet = s
			return nil
		}
	}
	return r.refuse(0, study.DidYouMean(sheet, all, "name one: "+names()), "the workbook has no sheet %s", text.Quoted(sheet))
}

// text writes the rows of the sheet.
func (r *reader) text(sheet string, separator rune) ([]byte, error) {
	if err := r.choose(sheet); err != nil {
		return nil, err
	}
	props, err := r.book.GetWorkbookProps()
	if err != nil {
		return nil, r.broken(err)
	}
	r.epoch, r.formats = props.Date1904 != nil && *props.Date1904, map[int]format{}
	rows, err := r.book.Rows(r.sheet)
	if err != nil {
		return nil, r.broken(err)
	}
	out, width, line := &lines{separator: separator}, 0, 0
	for rows.Next() {
		line++
		if line > mostRows {
			return nil, errors.Join(r.refuse(line, "cut the sheet into parts", "the sheet has more than %s rows",
				text.Figure(mostRows)), rows.Close())
		}
		cells, err := rows.Columns()
		if err != nil {
			return nil, errors.Join(r.broken(err), rows.Close())
		}
		if err := r.row(line, cells, separator); err != nil {
			return nil, errors.Join(err, rows.Close())
		}
		if width == 0 && len(cells) > 0 && !strings.HasPrefix(cells[0], "#") {
			width = filled(cells)
		}
		out.write(cells, width)
	}
	if err := errors.Join(rows.Error(), rows.Close()); err != nil {
		return nil, r.broken(err)
	}
	return out.b.Bytes(), nil
}

// filled returns how many cells there are up to the last one with a text.
func filled(cells []string) int {
	n := len(cells)
	for n > 0 && cells[n-1] == "" {
		n--
	}
	return n
}

// row makes texts of the cells of a row.
func (r *reader) row(line int, cells []string, separator rune) error {
	for i := range cells {
		name, err := excelize.CoordinatesToCellName(i+1, line)
		if err != nil {
			return r.broken(err)
		}
		if cells[i], err = r.cell(line, name, cells[i]); err != nil {
			return err
		}
		if !strings.ContainsAny(cells[i], "\n\r\t") {
			continue
		}
		if separator == Comma {
			return r.refuse(line, "write each cell in one line", "cell %s has a line end or a tab", name)
		}
		cells[i] = strings.Join(strings.Fields(cells[i]), " ")
	}
	return nil
}

// cell returns the text of a cell whose value in the file is raw.
func (r *reader) cell(line int, name, raw string) (string, error) {
	formula, err := r.book.GetCellFormula(r.sheet, name)
	if err != nil {
		return "", r.broken(err)
	}
	if formula != "" {
		return "", r.refuse(line, "put the value in its place: copy the cell and paste values only",
			"cell %s has a formula, %s", name, text.Quoted("="+formula))
	}
	if raw == "" {
		return "", nil
	}
	kind, err := r.book.GetCellType(r.sheet, name)
	if err != nil {
		return "", r.broken(err)
	}
	switch kind {
	case excelize.CellTypeError:
		return "", r.refuse(line, "correct it, or leave the cell empty", "cell %s has the error %s", name, raw)
	case excelize.CellTypeBool:
		return map[string]string{"1": "TRUE", "0": "FALSE"}[raw], nil
	case excelize.CellTypeDate:
		return day(raw), nil
	case excelize.CellTypeUnset, excelize.CellTypeNumber:
		return r.number(line, name, raw)
	}
	return raw, nil
}

// day is a day as ISO 8601 has it, without the hour if that is midnight.
func day(raw string) string { return strings.TrimSuffix(strings.TrimSuffix(raw, "Z"), "T00:00:00") }

// number returns the text of a number, by the format of its cell.
func (r *reader) number(line int, name, raw string) (string, error) {
	value, err := strconv.ParseFloat(raw, 64)
	if err != nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return "", r.refuse(line, "type it again", "cell %s should be a number, and %s is none", name, text.Quoted(raw))
	}
	style, err := r.book.GetCellStyle(r.sheet, name)
	if err != nil {
		return "", r.broken(err)
	}
	f, err := r.format(style)
	if err != nil {
		return "", err
	}
	switch {
	case f.percent:
		return "", r.refuse(line, "format the cell as a number, and write the value in the unit of its column",
			"cell %s is shown as percent: it may be %s or %s", name, text.Figure(value), text.Figure(100*value))
	case f.date:
		at, err := excelize.ExcelDateToTime(value, r.epoch)
		if err != nil {
			return "", r.refuse(line, "type the day again, such as 2031-05-12", "cell %s is no day: %s", name, raw)
		}
		return day(at.Round(time.Second).Format("2006-01-02T15:04:05")), nil
	case f.zeros > 0 && value >= 0 && value == math.Trunc(value) && value < 1e15:
		return fmt.Sprintf("%0*d", f.zeros, int64(value)), nil
	}
	return written(value), nil
}

// written writes a number with the least digits that lead back to it, as text files have them.
func written(value float64) string {
	if size := math.Abs(value); size != 0 && (size < 1e-6 || size >= 1e15) {
		return strconv.FormatFloat(value, 'e', -1, 64)
	}
	return strconv.FormatFloat(value, 'f', -1, 64)
}

// lines are the lines of a table.
type lines struct {
	b         bytes.Buffer
	separator rune
}

// write writes a row, with as many cells as the first one has.
func (l *lines) write(cells []string, width int) {
	cells = cells[:filled(cells)]
	switch {
	case len(cells) == 0:
		l.b.WriteByte('\n')
		return
	case l.separator == Tab:
		l.b.WriteString(strings.Join(cells, "\t") + "\n")
		return
	case strings.HasPrefix(cells[0], "#"):
		l.b.WriteString(strings.Join(cells, " ") + "\n")
		return
	}
	for len(cells) < width {
		cells = append(cells, "")
	}
	w := csv.NewWriter(&l.b)
	if err := w.Write(cells); err != nil {
		panic(err) // a comma can part cells, and a buffer takes all
	}
	w.Flush()
}
