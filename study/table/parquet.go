package table

import (
	"fmt"
	"io"
	"reflect"

	"github.com/parquet-go/parquet-go"

	"wane/study"
)

// parquetWriter writes rows in groups, each as large as a page of memory for writing may be.
type parquetWriter struct {
	columns []study.Field
	out     *parquet.GenericWriter[any]
	row     parquet.Row
	values  int // in the row group that is being made
}

// mostValues is how many values a row group has at most, but that a row is not cut.
const mostValues = 1 << 22

// cellTypes are the types of the cells of each kind. Lists have the form that readers expect (LIST).
var cellTypes = map[study.Kind]struct {
	of  reflect.Type
	tag string
}{
	study.KindText:   {reflect.TypeFor[string](), "optional,dict,zstd"},
	study.KindWhole:  {reflect.TypeFor[int64](), "optional,zstd"},
	study.KindReal:   {reflect.TypeFor[float64](), "optional,zstd"},
	study.KindWords:  {reflect.TypeFor[[]string](), "list,zstd"},
	study.KindPoints: {reflect.TypeFor[[]float64](), "list,zstd"},
}

func newParquet(w io.Writer, columns []study.Field) *parquetWriter {
	var of []reflect.StructField
	for i, c := range columns {
		t := cellTypes[c.Kind]
		of = append(of, reflect.StructField{
			Name: fmt.Sprintf("C%d", i), Type: t.of,
			Tag: reflect.StructTag(fmt.Sprintf(`parquet:"%s,%s"`, c.Name, t.tag)),
		})
	}
	options := []parquet.WriterOption{parquet.SchemaOf(reflect.New(reflect.StructOf(of)).Interface()),
		parquet.CreatedBy("wane", "", "")} // the library says how this program was built
	for _, c := range columns { // for programs that look there
		text := c.About
		if c.Unit != "" {
			text += " (" + c.Unit + ")"
		}
		options = append(options, parquet.KeyValueMetadata("column "+c.Name, text))
	}
	return &parquetWriter{columns: columns, out: parquet.NewGenericWriter[any](w, options...)}
}

func (w *parquetWriter) Write(cells []any) error {
	checkWidth(w.columns, cells)
	pointsOf(w.columns, cells)
	w.row = w.row[:0]
	for i, cell := range cells {
		w.row = appendValues(w.row, cell, i)
	}
	if _, err := w.out.WriteRows([]parquet.Row{w.row}); err != nil {
		return err
	}
	if w.values += len(w.row); w.values < mostValues {
		return nil
	}
	w.values = 0
	return w.out.Flush()
}

// appendValues appends what stands for a cell in a column: its values with their repetition level (is
// it another one of the list?) and definition level (1: there is a value).
func appendValues(row parquet.Row, cell any, column int) parquet.Row {
	null := parquet.Value{}.Level(0, 0, column)
	switch v := cell.(type) {
	case nil:
		return append(row, null)
	case []string:
		return appendElements(row, v, column, null, func(s string) parquet.Value { return parquet.ByteArrayValue([]byte(s)) })
	case []float64:
		return appendElements(row, v, column, null, parquet.DoubleValue)
	case string:
		return append(row, parquet.ByteArrayValue([]byte(v)).Level(0, 1, column))
	case int64:
		return append(row, parquet.Int64Value(v).Level(0, 1, column))
	case float64:
		return append(row, parquet.DoubleValue(v+0).Level(0, 1, column))
	}
	panic(fmt.Sprintf("table: a cell cannot be a %T", cell))
}

func appendElements[T any](
	row parquet.Row, list []T, column int, null parquet.Value, value func(T) parquet.Value,
) parquet.Row {
	if len(list) == 0 {
		return append(row, null)
	}
	for k, v := range list {
		row = append(row, value(v).Level(min(k, 1), 1, column))
	}
	return row
}

func (w *parquetWriter) Close() error { return w.out.Close() }
