package table_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/table"
)

var columns = []study.Field{
	{Name: "coupon", Kind: study.KindText, About: "its code"},
	{Name: "pull", Kind: study.KindWhole},
	{Name: "angle_deg", Kind: study.KindReal, Unit: "degrees"},
	{Name: "flags", Kind: study.KindWords},
	{Name: "nm", Kind: study.KindPoints},
	{Name: "value", Kind: study.KindPoints},
}

var rows = [][]any{
	{"=A1", int64(0), 8.0, []string{"held", "humid"}, []float64{400, 410.5}, []float64{0.1, 1.0 / 3}},
	{"Ä <1>\n", int64(1), math.Copysign(0, -1), []string{}, []float64{400}, []float64{5e-324}},
	{nil, nil, nil, nil, nil, nil},
}

func written(t *testing.T, format string, rows [][]any) []byte {
	t.Helper()
	var out bytes.Buffer
	w := table.New(&out, format, columns)
	for _, r := range rows {
		require.NoError(t, w.Write(r))
	}
	require.NoError(t, w.Close())
	return out.Bytes()
}

func TestCSV(t *testing.T) {
	const header = "coupon,pull,angle_deg,flags,nm,value\n"
	assert.Equal(t, header, string(written(t, "csv", nil)))
	assert.Equal(t, header+"'=A1,0,8,held humid,400,0.1\n'=A1,0,8,held humid,410.5,0.3333333333333333\n"+
		`"""Ä <1>\n""",1,0,,400,5e-324`+"\n", string(written(t, "csv", rows)), "a row without points has no line")
}

func TestJSON(t *testing.T) {
	assert.Equal(t, "[]\n", string(written(t, "json", nil)))
	assert.Equal(t, `[
 {"coupon":"=A1","pull":0,"angle_deg":8,"flags":["held","humid"],"nm":[400,410.5],"value":[0.1,0.3333333333333333]},
 {"coupon":"Ä \u003c1\u003e\n","pull":1,"angle_deg":0,"flags":[],"nm":[400],"value":[5e-324]},
 {"coupon":null,"pull":null,"angle_deg":null,"flags":null,"nm":null,"value":null}
]
`, string(written(t, "json", rows)))
}

// Read by the same library, but as rows of a type: what DuckDB reads of a whole export is compared by .ci/parquet.
func TestParquet(t *testing.T) {
	data := written(t, "parquet", rows)
	assert.Equal(t, data, written(t, "parquet", rows), "the same bytes each time")
	type row struct {
		Coupon *string   `parquet:"coupon,optional"`
		Pull   *int64    `parquet:"pull,optional"`
		Angle  *float64  `parquet:"angle_deg,optional"`
		Flags  []string  `parquet:"flags,list"`
		NM     []float64 `parquet:"nm,list"`
		Value  []float64 `parquet:"value,list"`
	}
	got, err := parquet.Read[row](bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	require.Len(t, got, len(rows))
	assert.Equal(t, "=A1", *got[0].Coupon, "not a spreadsheet")
	assert.Equal(t, int64(1), *got[1].Pull)
	assert.Equal(t, []string{"held", "humid"}, got[0].Flags)
	assert.Equal(t, []float64{0.1, 1.0 / 3}, got[0].Value)
	assert.Equal(t, []float64{5e-324}, got[1].Value)
	assert.Empty(t, got[1].Flags)
	assert.Nil(t, got[2].Coupon)
	assert.Nil(t, got[2].Pull)
	assert.Nil(t, got[2].Angle)
	assert.Empty(t, append(got[2].NM, got[2].Value...))
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	about, found := f.Lookup("column coupon")
	assert.True(t, found)
	assert.Equal(t, "its code", about)
}

// A row group is written when it has so many values: memory does not grow with the rows.
func TestParquetRowGroups(t *testing.T) {
	var out bytes.Buffer
	w := table.New(&out, "parquet", columns)
	many := make([]float64, 1<<20)
	for range 5 {
		require.NoError(t, w.Write([]any{"A", int64(1), 8.0, nil, many, many}))
	}
	require.NoError(t, w.Close())
	f, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
	require.NoError(t, err)
	assert.Equal(t, int64(5), f.NumRows())
	assert.Len(t, f.RowGroups(), 3)
}
