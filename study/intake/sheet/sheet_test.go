package sheet_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/sheet"
)

const glassHead = "wavelength_nm,n,k\n"

func TestReadGlass(t *testing.T) {
	g, err := sheet.ReadGlass("g.csv",
		[]byte("\ufeff# made up\r\nn,wavelength_nm,k\r\n 1.53 ,300,1e-7\r\n1.51,1000,0\r\n"))
	require.NoError(t, err)
	assert.Equal(t, &study.Glass{Name: "g.csv", NM: []float64{300, 1000}, N: []float64{1.53, 1.51},
		K: []float64{1e-7, 0}}, g)
}

// A line that begins with # is a comment, and is reported: it may have been a row. In quotation
// marks, or after a space, it is a code.
func TestCommentsAreReported(t *testing.T) {
	const head = "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"
	const cells = ",exposed,s,c,l,soda-lime,3,matched,e\n"
	for _, c := range []struct {
		text  string
		codes []string
		notes []string
	}{
		{head + "R1" + cells + "\"#3\"" + cells + " #4" + cells, []string{"R1", "#3", "#4"}, nil},
		{head + "R1" + cells + "#2" + cells, []string{"R1"},
			[]string{"t.csv:3 begins with # and was skipped as a comment; if it is a row, put its first cell in quotation " +
				"marks"}},
		{"\ufeff#made up\r\n" + head + "R1" + cells + "#2" + cells + "#" + cells, []string{"R1"},
			[]string{"t.csv:1 and 2 more begin with # and were skipped as comments; if one is a row, put its first cell in " +
				"quotation marks"}},
	} {
		var r sheet.Roster
		require.NoError(t, r.Add("t.csv", []byte(c.text)))
		var codes []string
		for _, l := range r.Coupons {
			codes = append(codes, l.Row.Coupon)
		}
		assert.Equal(t, c.codes, codes)
		assert.Equal(t, c.notes, r.Notes)
	}
	_, notes, err := sheet.ReadMeasured("m.csv",
		[]byte(measuredHeader+"#A,0,1,haze,1,0.1,percent,haze meter,2031-03-02,ada,,\n"))
	require.NoError(t, err)
	assert.Len(t, notes, 1)
}

// Tables that people write: every refusal has its place and a remedy.
func TestSheetRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, fault string }{
		{"empty", "", "g.csv: the table is empty"},
		{"not UTF-8", glassHead + "300,1.5,\xc9\n", "g.csv:2:9: the byte 0xc9 is not UTF-8 text"},
		{"NUL", glassHead + "300,1.5\x00,0\n", "g.csv:2:8: there is a control character here, U+0000"},
		{"cell over two lines", glassHead + "300,\"1.5\n\",0\n400,\"1\n5\",0\n",
			"a cell has a line end (LF or CR) or a tab"},
		{"bare CR", glassHead + "300,1\r5,0\n", "g.csv:2: a cell has a line end (LF or CR) or a tab"},
		{"ESC", glassHead + "300,1\x1b5,0\n", "g.csv:2:6: there is a control character here, U+001B"},
		{"ragged", glassHead + "300,1.5\n", "g.csv:2: the row does not have the 3 cells of the header"},
		{"stray quote", glassHead + "300,1\"5,0\n", "g.csv:2: a quotation mark is out of place"},
		{"column twice", "n,n,k\n", "g.csv:1: the column n stands twice"},
		{"missing column", "wavelength_nm,n\n", "g.csv:1: the column k is missing"},
		{"unknown column", "wavelength_nm,n,k,note\n", `g.csv:1: there is no column "note" here`},
		{"not a number", glassHead + "300,abc,0\n", `g.csv:2: column n: "abc" is not a number`},
		{"NaN", glassHead + "300,NaN,0\n", `g.csv:2: column n: "NaN" is not a number`},
		{"empty cell", glassHead + "300,,0\n", "g.csv:2: column n: the cell is empty"},
		{"falling", glassHead + "400,1.5,0\n300,1.5,0\n",
			"g.csv:3: column wavelength_nm: 300 is not larger than in the row before"},
		{"index of 0", glassHead + "400,0,0\n", "g.csv:2: column n: 0 is not an index"},
		{"index beyond glasses", glassHead + "400,1e200,0\n", "g.csv:2: column n: 1e+200 is not an index"},
		{"negative k", glassHead + "400,1.5,-1\n", "g.csv:2: column k: -1 is"},
		{"one row", glassHead + "400,1.5,0\n", "g.csv: the glass table has 1 rows"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := sheet.ReadGlass("g.csv", []byte(c.text))
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}
