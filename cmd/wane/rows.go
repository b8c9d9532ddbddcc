package main

import (
	"bufio"
	"io"

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
