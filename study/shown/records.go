package shown

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"wane/study"
)

// Records writes small listings for programs, as JSON or CSV: cells are strings, lists of words, numbers or nil.
type Records struct {
	w       io.Writer
	format  string
	columns []string
	rows    [][]any
}

// NewRecords begins a listing in a format, csv or json. Nothing is written before Close.
func NewRecords(w io.Writer, format string, columns []string) *Records {
	return &Records{w: w, format: format, columns: columns}
}

// Write adds a row, with a cell for each column.
func (r *Records) Write(cells ...any) error {
	if len(cells) != len(r.columns) {
		panic("shown: as many cells as columns")
	}
	r.rows = append(r.rows, cells)
	return nil
}

// Close writes all rows; without rows JSON is an empty array and CSV the header.
func (r *Records) Close() error {
	if r.format == "json" {
		return r.json()
	}
	return r.csv()
}

func (r *Records) json() error {
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

func (r *Records) csv() error {
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
