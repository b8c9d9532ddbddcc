// Package figures reads the tables of published figures that the packages of
// wane embed: CSV with '#' comment lines, one header line and rows of numbers.
package figures

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

// MustColumns returns the columns of text in their order, all equally long.
//
// It is for text compiled into the program, so it panics if text is not such a
// table: no header, rows of unequal length, or a cell that is not a number.
func MustColumns(text string) [][]float64 {
	columns, err := parse(text)
	if err != nil {
		panic(err)
	}
	return columns
}

func parse(text string) ([][]float64, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("figures: could not read table: %w", err)
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("figures: table has no header line")
	}
	columns := make([][]float64, len(rows[0]))
	for _, row := range rows[1:] {
		for j, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				return nil, fmt.Errorf("figures: could not read column %s: %w", rows[0][j], err)
			}
			columns[j] = append(columns[j], v)
		}
	}
	return columns, nil
}
