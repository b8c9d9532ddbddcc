package table

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

// AppendNumber appends the shortest form that reads back as the same float64; a zero has no sign.
func AppendNumber(dst []byte, v float64) []byte { return strconv.AppendFloat(dst, v+0, 'g', -1, 64) }

// appendString appends a text as JSON writes it.
func appendString(dst []byte, s string) []byte {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c >= 0x7f || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			quoted, err := json.Marshal(s)
			if err != nil {
				panic("a string that JSON cannot contain") // json.Marshal takes every string
			}
			return append(dst, quoted...)
		}
	}
	return append(append(append(dst, '"'), s...), '"')
}

// csvWriter writes the names of the columns and then a line for each row, or for each of its points.
type csvWriter struct {
	columns []study.Field
	out     *csv.Writer
	record  []string
	room    []byte // of the numbers of a row
	ends    []int  // of each cell in it
	begun   bool
}

func newCSV(w io.Writer, columns []study.Field) *csvWriter {
	return &csvWriter{columns: columns, out: csv.NewWriter(w), record: names(columns)}
}

func (w *csvWriter) begin() error {
	if w.begun {
		return nil
	}
	w.begun = true
	return w.out.Write(w.record)
}

func (w *csvWriter) Write(cells []any) error {
	checkWidth(w.columns, cells)
	if err := w.begin(); err != nil {
		return err
	}
	w.room, w.ends = w.room[:0], w.ends[:0]
	for i, cell := range cells {
		w.record[i] = w.cell(cell)
		w.ends = append(w.ends, len(w.room))
	}
	numbers, begin := string(w.room), 0 // one text for all of them
	for i, end := range w.ends {
		if end > begin {
			w.record[i], begin = numbers[begin:end], end
		}
	}
	n, has := pointsOf(w.columns, cells)
	if !has {
		return w.out.Write(w.record)
	}
	for k := range n {
		for i, cell := range cells {
			if list, ok := cell.([]float64); ok {
				w.room = AppendNumber(w.room[:0], list[k])
				w.record[i] = string(w.room)
			}
		}
		if err := w.out.Write(w.record); err != nil {
			return err
		}
	}
	return nil
}

// cell is a cell that is no list of points. A number goes to the end of w.room.
func (w *csvWriter) cell(cell any) string {
	switch v := cell.(type) {
	case nil, []float64:
		return ""
	case string:
		return study.SheetText(v)
	case []string:
		return study.SheetText(strings.Join(v, " "))
	case int64:
		w.room = strconv.AppendInt(w.room, v, 10)
		return ""
	case float64:
		w.room = AppendNumber(w.room, v)
		return ""
	}
	panic(fmt.Sprintf("table: a cell cannot be a %T", cell))
}

func (w *csvWriter) Close() error {
	if err := w.begin(); err != nil {
		return err
	}
	w.out.Flush()
	return w.out.Error()
}

// jsonWriter writes an array with one object for each row, on a line of its own.
type jsonWriter struct {
	columns []study.Field
	keys    [][]byte // of each column, with what stands before and behind
	out     *bufio.Writer
	room    []byte
	rows    int
}

func newJSON(w io.Writer, columns []study.Field) *jsonWriter {
	out := &jsonWriter{columns: columns, out: bufio.NewWriterSize(w, 1<<16)}
	for i := range columns {
		key := append(appendString([]byte{"{,"[min(i, 1)]}, columns[i].Name), ':')
		out.keys = append(out.keys, key)
	}
	return out
}

func (w *jsonWriter) Write(cells []any) error {
	checkWidth(w.columns, cells)
	opening := ",\n "
	if w.rows == 0 {
		opening = "[\n "
	}
	w.rows++
	w.room = append(w.room[:0], opening...)
	for i, cell := range cells {
		w.room = appendCell(append(w.room, w.keys[i]...), cell)
	}
	_, err := w.out.Write(append(w.room, '}'))
	return err
}

func appendCell(dst []byte, cell any) []byte {
	switch v := cell.(type) {
	case nil:
		return append(dst, "null"...)
	case string:
		return appendString(dst, v)
	case int64:
		return strconv.AppendInt(dst, v, 10)
	case float64:
		return AppendNumber(dst, v)
	case []string:
		return appendList(dst, v, appendString)
	case []float64:
		return appendList(dst, v, AppendNumber)
	}
	panic(fmt.Sprintf("table: a cell cannot be a %T", cell))
}

func appendList[T any](dst []byte, list []T, one func([]byte, T) []byte) []byte {
	dst = append(dst, '[')
	for i := range list {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = one(dst, list[i])
	}
	return append(dst, ']')
}

func (w *jsonWriter) Close() error {
	end := "\n]\n"
	if w.rows == 0 {
		end = "[]\n"
	}
	if _, err := w.out.WriteString(end); err != nil {
		return err
	}
	return w.out.Flush()
}
