package main

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"wane/study"
)

// rowWriter streams rows of results as JSON (an array of flat objects, the keys in
// the order of the columns, absent values null) or as CSV (the same columns,
// absent values empty). Nothing is written before the first row or the end.
type rowWriter struct {
	out     *bufio.Writer
	csv     *csv.Writer // nil for JSON
	columns []study.Column
	buf     []byte
	record  []string
	n       int
}

func newRowWriter(w io.Writer, format string, columns []study.Column) *rowWriter {
	out := &rowWriter{out: bufio.NewWriterSize(w, 1<<16), columns: columns}
	if format == "csv" {
		out.csv = csv.NewWriter(out.out)
		out.record = make([]string, len(out.columns))
	}
	return out
}

func (w *rowWriter) write(r *study.Result) error {
	defer func() { w.n++ }()
	if w.csv != nil {
		return w.writeCSV(r)
	}
	opening := ",\n "
	if w.n == 0 {
		opening = "[\n "
	}
	w.buf = w.appendObject(append(w.buf[:0], opening...), r)
	_, err := w.out.Write(w.buf)
	return err
}

// end completes the output; without rows JSON is an empty array and CSV the header.
func (w *rowWriter) end() error {
	if w.csv != nil {
		if w.n == 0 {
			if err := w.header(); err != nil {
				return err
			}
		}
		w.csv.Flush()
		if err := w.csv.Error(); err != nil {
			return err
		}
		return w.out.Flush()
	}
	end := "\n]\n"
	if w.n == 0 {
		end = "[]\n"
	}
	if _, err := w.out.WriteString(end); err != nil {
		return err
	}
	return w.out.Flush()
}

func (w *rowWriter) header() error {
	for i, c := range w.columns {
		w.record[i] = c.Name
	}
	return w.csv.Write(w.record)
}

func (w *rowWriter) writeCSV(r *study.Result) error {
	if w.n == 0 {
		if err := w.header(); err != nil {
			return err
		}
	}
	for i, c := range w.columns {
		switch {
		case c.Text != nil:
			w.record[i] = study.SheetText(c.Text(r))
		case c.Num != nil:
			w.buf = appendNum(w.buf[:0], c.Num(r), "")
			w.record[i] = string(w.buf)
		default:
			w.record[i] = study.SheetText(strings.Join(c.Words(r), " "))
		}
	}
	return w.csv.Write(w.record)
}

func (w *rowWriter) appendObject(buf []byte, r *study.Result) []byte {
	for i, c := range w.columns {
		buf = append(buf, "{,"[min(i, 1)])
		buf = append(buf, '"')
		buf = append(buf, c.Name...)
		buf = append(buf, `":`...)
		switch {
		case c.Text != nil:
			buf = appendText(buf, c.Text(r))
		case c.Num != nil:
			buf = appendNum(buf, c.Num(r), "null")
		default:
			buf = append(buf, '[')
			for k, word := range c.Words(r) {
				if k > 0 {
					buf = append(buf, ',')
				}
				buf = appendString(buf, word)
			}
			buf = append(buf, ']')
		}
	}
	return append(buf, '}')
}

func appendText(buf []byte, s string) []byte {
	if s == "" {
		return append(buf, "null"...)
	}
	return appendString(buf, s)
}

// appendString writes a JSON string.
func appendString(buf []byte, s string) []byte {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c >= 0x7f || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			quoted, err := json.Marshal(s)
			if err != nil {
				panic("a string that JSON cannot contain") // json.Marshal takes every string
			}
			return append(buf, quoted...)
		}
	}
	buf = append(buf, '"')
	buf = append(buf, s...)
	return append(buf, '"')
}

// appendNum writes the shortest form that reads back as the same float64, never
// NaN or Inf.
func appendNum(buf []byte, n study.Num, null string) []byte {
	if !n.Valid() {
		return append(buf, null...)
	}
	return strconv.AppendFloat(buf, float64(n)+0, 'g', -1, 64) // a zero without a sign
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
