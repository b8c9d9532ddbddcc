package main

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func tableIn(t *testing.T, width int, columns []tableColumn, rows ...[]string) string {
	t.Helper()
	var out bytes.Buffer
	w := newTable(page{&out, screen{width: width}}, columns...)
	for _, r := range rows {
		require.NoError(t, w.row(r...))
	}
	require.NoError(t, w.end())
	return out.String()
}

var threeColumns = []tableColumn{
	{name: "coupon", rank: 1}, {name: "role", rank: 3}, {name: "dose_unit", head: "unit", rank: 2},
	{name: "why", rank: 1, fold: 10},
}

// Without a width nothing is folded and nothing leaves; then the widest is folded, and then
// columns leave in the order of their ranks and are named as --columns takes them.
func TestTableFits(t *testing.T) {
	row := []string{"A01", "exposed", "days", "a finger mark on the spot"}
	assert.Equal(t, "coupon  role     unit  why\nA01     exposed  days  a finger mark on the spot\n",
		tableIn(t, 0, threeColumns, row))
	assert.Equal(t,
		"coupon  role     unit  why\nA01     exposed  days  a finger mark on\n                       the spot\n",
		tableIn(t, 40, threeColumns, row))
	assert.Equal(t, "coupon  unit  why\nA01     days  a finger\n              mark on the\n              spot\n"+
		"not shown in 25 columns:\nrole; see them in a wider\nterminal or with --format\ncsv\n",
		tableIn(t, 25, threeColumns, row))
	assert.Contains(t, tableIn(t, 20, threeColumns, row), "role,\ndose_unit;")
	for width := range 60 {
		for line := range strings.Lines(tableIn(t, width, threeColumns, row)) {
			if width >= 14 {
				assert.LessOrEqual(t, cellWidth(strings.TrimSuffix(line, "\n")), width, line)
			}
		}
	}
}

// A number is never broken, and a column that cannot be narrower makes the line longer.
func TestTableBreaksNoNumber(t *testing.T) {
	columns := []tableColumn{{name: "noise", rank: 1, fold: 6}, {name: "why", rank: 1, fold: 6}}
	got := tableIn(t, 12, columns, []string{"0.000298153", "unbroken words are broken"})
	assert.Contains(t, got, "0.000298153")
	assert.NotContains(t, got, "unbroken")
}

// A wide character takes two cells and a combining one none. Source: Unicode Standard
// Annex 11, East Asian Width: U+6E29 is wide; U+0301 combines.
func TestTableCountsCells(t *testing.T) {
	const wide, combined = "\u6e29\u6e29", "e\u0301e\u0301"
	assert.Equal(t, 4, cellWidth(wide))
	assert.Equal(t, 2, cellWidth(combined))
	columns := []tableColumn{{name: "c", rank: 1}, {name: "v", rank: 1}}
	got := tableIn(t, 0, columns, []string{wide, "1"}, []string{combined, "2"})
	assert.Equal(t, "c     v\n"+wide+"  1\n"+combined+"    2\n", got)
	assert.True(t, utf8.ValidString(got))
}

// A long table streams in blocks, all of the same columns.
func TestTableStreams(t *testing.T) {
	var rows [][]string
	for range tableBlock {
		rows = append(rows, []string{"A01", "exposed", "days", "-"})
	}
	rows = append(rows, []string{"A01", "exposed", "days", strings.Repeat("x", 30)}, []string{"A01", "e", "d", "-"})
	got := tableIn(t, 20, threeColumns, rows...)
	assert.Equal(t, 2, strings.Count(got, "coupon"))
	assert.NotContains(t, got, "exposed")
	assert.Contains(t, tableIn(t, 30, threeColumns, rows...), "days")
}
