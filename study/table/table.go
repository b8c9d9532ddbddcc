// Package table writes rows in open formats: CSV, JSON and Parquet. Rows come one after the other and
// are not kept, so that memory does not grow with them.
//
// A table is a list of columns, which say what stands in them; start with [New]. A cell is nil (null),
// or of the type that the kind of its column names. In CSV a list of words is one cell, with spaces
// between them, and a row has a line for each point of its curves; null is an empty cell, texts are safe for
// programs that take a cell for a formula (see [study.SheetText]), and numbers have the digits that
// read back as the same float64. In JSON a table is an array of objects, in Parquet columns of strings,
// 64-bit integers, doubles and lists of them.
package table

import (
	"fmt"
	"io"

	"wane/study"
)

// Formats are those that New knows.
func Formats() []string { return []string{"csv", "json", "parquet"} }

// Writer writes rows. Close completes the output; after an error there is none worth keeping.
type Writer interface {
	// Write writes a row, with a cell for each column. All lists of points of a row have the same
	// length. It keeps neither the slice nor the lists in it.
	Write(cells []any) error
	Close() error
}

// New returns a writer of a table in a format, of which Close does not close w. It panics if it does
// not know the format.
func New(w io.Writer, format string, columns []study.Field) Writer {
	switch format {
	case "csv":
		return newCSV(w, columns)
	case "json":
		return newJSON(w, columns)
	case "parquet":
		return newParquet(w, columns)
	}
	panic(fmt.Sprintf("table: no format %q", format))
}

// pointsOf returns how many points a row has, and false if it has no list of points.
func pointsOf(columns []study.Field, cells []any) (n int, has bool) {
	for i := range columns {
		if columns[i].Kind == study.KindPoints {
			list, _ := cells[i].([]float64)
			if has && len(list) != n {
				panic("table: lists of points of one row differ in length")
			}
			n, has = len(list), true
		}
	}
	return n, has
}

// checkWidth panics if a row has another number of cells than there are columns.
func checkWidth(columns []study.Field, cells []any) {
	if len(cells) != len(columns) {
		panic("table: as many cells as columns")
	}
}

// names returns the names of columns.
func names(columns []study.Field) []string {
	list := make([]string, len(columns))
	for i := range columns {
		list[i] = columns[i].Name
	}
	return list
}
