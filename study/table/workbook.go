package table

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"wane/study"
)

// mostSheetRows is how many rows a sheet of a workbook can have. Source: ECMA-376, from memory.
const mostSheetRows = 1_048_576

// Workbook is a workbook (.xlsx) that is being written, with a sheet for each table. Texts are text cells, which no
// program takes for formulas. Numbers are rounded to 15 digits, which is what programs for workbooks keep; all digits
// are in the other formats. The same tables give the same bytes.
type Workbook struct {
	book   *excelize.File
	sheets int
}

// NewWorkbook begins a workbook without sheets.
func NewWorkbook() *Workbook {
	book := excelize.NewFile()
	book.SetZipWriter(func(w io.Writer) excelize.ZipWriter { return &sortedZip{w: w, parts: map[string]*bytes.Buffer{}} })
	return &Workbook{book: book}
}

// sortedZip is a zip file whose parts come in the order of their names: the library hands them over in any order.
type sortedZip struct {
	w     io.Writer
	parts map[string]*bytes.Buffer
}

// Create begins a part.
func (z *sortedZip) Create(name string) (io.Writer, error) {
	z.parts[name] = &bytes.Buffer{}
	return z.parts[name], nil
}

// AddFS is not needed for workbooks.
func (z *sortedZip) AddFS(fs.FS) error { return errors.ErrUnsupported }

// Close writes the parts.
func (z *sortedZip) Close() error {
	out := zip.NewWriter(z.w)
	for _, name := range slices.Sorted(maps.Keys(z.parts)) {
		part, err := out.Create(name)
		if err == nil {
			_, err = part.Write(z.parts[name].Bytes())
		}
		if err != nil {
			return err
		}
	}
	return out.Close()
}

// Sheet begins the next sheet, whose writer is closed before another one begins. Its table has no lists of points.
func (b *Workbook) Sheet(name string, columns []study.Field) (Writer, error) {
	var err error
	if b.sheets == 0 { // a new workbook has one sheet
		err = b.book.SetSheetName(b.book.GetSheetName(0), name)
	} else {
		_, err = b.book.NewSheet(name)
	}
	if err != nil {
		return nil, fmt.Errorf("table: could not begin the sheet %s: %w", name, err)
	}
	b.sheets++
	out, err := b.book.NewStreamWriter(name)
	if err != nil {
		return nil, fmt.Errorf("table: could not begin the sheet %s: %w", name, err)
	}
	w := &sheetWriter{name: name, columns: columns, out: out, row: make([]any, len(columns))}
	for i, c := range columns {
		w.row[i] = c.Name
	}
	err = out.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
	if err == nil {
		err = w.write()
	}
	return w, err
}

// Write writes the workbook, after which nothing more is done with it.
func (b *Workbook) Write(w io.Writer) error {
	err := b.book.Write(w)
	if closed := b.book.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return fmt.Errorf("table: could not write the workbook: %w", err)
	}
	return nil
}

// sheetWriter writes the rows of a sheet.
type sheetWriter struct {
	name    string
	columns []study.Field
	out     *excelize.StreamWriter
	row     []any
	rows    int
}

func (w *sheetWriter) Write(cells []any) error {
	checkWidth(w.columns, cells)
	for i, cell := range cells {
		switch v := cell.(type) {
		case []string:
			w.row[i] = strings.Join(v, " ")
		case float64:
			w.row[i] = rounded(v)
		case nil, string, int64:
			w.row[i] = v
		default:
			panic(fmt.Sprintf("table: a cell of a workbook cannot be a %T", cell))
		}
	}
	return w.write()
}

// rounded rounds to 15 significant digits; a zero has no sign.
func rounded(v float64) float64 {
	near, err := strconv.ParseFloat(strconv.FormatFloat(v+0, 'g', 15, 64), 64)
	if err != nil {
		return v // beyond the largest number, if it is rounded up
	}
	return near
}

func (w *sheetWriter) write() error {
	if w.rows == mostSheetRows {
		return &study.Refusal{Fault: fmt.Sprintf("the table %s has more rows than the %d of a sheet", w.name, mostSheetRows),
			Try: "write it in other formats: wane export DIR"}
	}
	w.rows++
	at, err := excelize.CoordinatesToCellName(1, w.rows)
	if err == nil {
		err = w.out.SetRow(at, w.row)
	}
	if err != nil {
		return fmt.Errorf("table: could not write row %d of the sheet %s: %w", w.rows, w.name, err)
	}
	return nil
}

func (w *sheetWriter) Close() error { return w.out.Flush() }
