package main

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"wane/study"
	"wane/study/table"
)

// rowWriter streams rows of results as JSON (an array of flat objects, the keys in
// the order of the columns, absent values null) or as CSV (the same columns,
// absent values empty). Nothing is written before the first row or the end.
type rowWriter struct {
	out     *bufio.Writer
	table   table.Writer
	columns []study.Column
	cells   []any
}

func newRowWriter(w io.Writer, format string, columns []study.Column) *rowWriter {
	out := bufio.NewWriterSize(w, 1<<16)
	return &rowWriter{out: out, table: table.New(out, format, table.OfResults(columns)), columns: columns,
		cells: make([]any, len(columns))}
}

func (w *rowWriter) write(r *study.Result) error {
	table.ResultCells(w.cells, w.columns, r)
	return w.table.Write(w.cells)
}

// end completes the output; without rows JSON is an empty array and CSV the header.
func (w *rowWriter) end() error {
	if err := w.table.Close(); err != nil {
		return err
	}
	return w.out.Flush()
}

// appendNum writes the shortest form that reads back as the same float64, never
// NaN or Inf.
func appendNum(buf []byte, n study.Num, null string) []byte {
	if !n.Valid() {
		return append(buf, null...)
	}
	return table.AppendNumber(buf, float64(n))
}

// records writes small listings for programs, as JSON or CSV: cells are strings, lists of words, numbers or nil.
type records struct {
	w       io.Writer
	format  string
	columns []string
	rows    [][]any
}

func newRecords(w io.Writer, format string, columns []string) *records {
	return &records{w: w, format: format, columns: columns}
}

func (r *records) write(cells ...any) error {
	if len(cells) != len(r.columns) {
		panic("records: as many cells as columns")
	}
	r.rows = append(r.rows, cells)
	return nil
}

func (r *records) end() error {
	if r.format == "json" {
		return r.json()
	}
	return r.csv()
}

func (r *records) json() error {
	out := bufio.NewWriter(r.w)
	out.WriteString("[")
	for i, row := range r.rows {
		if i > 0 {
			out.WriteString(",")
		}
		out.WriteString("\n {")
		for k, cell := range row {
			text, err := json.Marshal(cell)
			if err != nil {
				return err
			}
			if k > 0 {
				out.WriteString(",")
			}
			fmt.Fprintf(out, "%q:%s", r.columns[k], text)
		}
		out.WriteString("}")
	}
	if len(r.rows) > 0 {
		out.WriteString("\n")
	}
	out.WriteString("]\n")
	return out.Flush()
}

func (r *records) csv() error {
	out := csv.NewWriter(r.w)
	if err := out.Write(r.columns); err != nil {
		return err
	}
	for _, row := range r.rows {
		cells := make([]string, len(row))
		for k, cell := range row {
			switch c := cell.(type) {
			case nil:
			case string:
				cells[k] = study.SheetText(c)
			case []string:
				cells[k] = study.SheetText(strings.Join(c, " "))
			default:
				cells[k] = fmt.Sprint(c)
			}
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
