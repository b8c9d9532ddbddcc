package table_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/workbook"
	"wane/study/table"
)

// made returns a workbook of an empty table and one with texts and numbers that tempt programs.
func made(t *testing.T) []byte {
	t.Helper()
	book := table.NewWorkbook()
	columns := []study.Field{{Name: "text"}, {Name: "whole", Kind: study.KindWhole}, {Name: "real", Kind: study.KindReal},
		{Name: "words", Kind: study.KindWords}}
	for name, rows := range [][][]any{nil, {{"=1+1", int64(7), 1.0 / 3, []string{"a", "b"}},
		{"µ², <b>&", int64(-1 << 49), math.Copysign(0, -1), nil}, {nil, nil, nil, nil}, {"007", nil, math.MaxFloat64, nil},
		{"2031-01-02", nil, 5e-324, nil}}} {
		w, err := book.Sheet([]string{"first", "second"}[name], columns)
		require.NoError(t, err)
		for _, r := range rows {
			require.NoError(t, w.Write(r))
		}
		require.NoError(t, w.Close())
	}
	var out bytes.Buffer
	require.NoError(t, book.Write(&out))
	return out.Bytes()
}

// The reader of workbooks, which is checked against openpyxl, finds texts as texts and numbers to 15 digits.
func TestWorkbookIsReadBack(t *testing.T) {
	data := made(t)
	sheets, err := workbook.Sheets("b.xlsx", data)
	require.NoError(t, err)
	assert.Equal(t, []string{"first", "second"}, sheets)
	lines, err := workbook.Text("b.xlsx", "first", data, workbook.Tab)
	require.NoError(t, err)
	assert.Equal(t, "text\twhole\treal\twords\n", string(lines))
	lines, err = workbook.Text("b.xlsx", "second", data, workbook.Tab)
	require.NoError(t, err)
	assert.Equal(t, "text\twhole\treal\twords\n=1+1\t7\t0.333333333333333\ta b\nµ², <b>&\t-562949953421312\t0\n\n"+
		"007\t\t1.7976931348623157e+308\n2031-01-02\t\t5e-324\n", string(lines))
	assert.True(t, bytes.Equal(data, made(t)), "the same tables give the same bytes")
}
