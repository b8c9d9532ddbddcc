package workbook_test

import (
	"archive/zip"
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/text/texttest"
	"wane/study/intake/workbook"
)

// made returns a workbook that openpyxl, which is not ours, has written by testdata/make.py.
func made(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return data
}

func TestSheetsAsLines(t *testing.T) {
	for _, c := range []struct{ file, sheet, want string }{
		{"rosters.xlsx", "Coupons", "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n" +
			"007,exposed,Hersteller Ö,\"K, with a comma\",1,soda-lime,3.2,matched,roof\n" +
			"#8 exposed m in \"quotes\" 1 soda-lime  matched roof\n\n# a comment that goes on\nB1,blank,,,,soda-lime,,matched,\n"},
		{"rosters.xlsx", "Exposures", "exposure,protocol,site,dose_unit,start\nroof,rack,Süd µ²,days,2031-01-02\n"},
		{"rosters.xlsx", "Pulls", "exposure,pull,dose,date\nroof,0,0,2031-01-02\nroof,1,0.3,2031-03-10\n" +
			"roof,2,30.5,\n"},
		{"numbers.xlsx", "", "a,b\n1e-07,12345678901\n-0.25,1e+20\n2031-04-10T12:30:00,0\n"},
		{"days-1904.xlsx", "", "exposure,pull,dose,date\nroof,0,0,2031-01-02\n"},
		{"doubtful.xlsx", "yes", "a,b\nx,TRUE\n"},
		{"doubtful.xlsx", "merged", "a,b\nx,over two\n\n"},
	} {
		t.Run(c.file+"#"+c.sheet, func(t *testing.T) {
			lines, err := workbook.Text(c.file, c.sheet, made(t, c.file), workbook.Comma)
			require.NoError(t, err)
			assert.Equal(t, c.want, string(lines))
		})
	}
	lines, err := workbook.Text("scan.xlsx", "", made(t, "scan.xlsx"), workbook.Tab)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(lines),
		"Sample:\tA01\nDate:\t2031-03-10\n\nWavelength (nm)\t8 deg %R\t45 deg %R\n380\t2.1177\t3.5292\n"), string(lines)[:120])
}

// What can be two things is refused with its cell, and with a remedy.
func TestDoubtsAreRefused(t *testing.T) {
	for sheet, fault := range map[string]string{
		"formula": `b.xlsx#formula:2: cell B2 has a formula, "=1+2"`,
		"percent": "b.xlsx#percent:2: cell B2 is shown as percent: it may be 0.0423 or 4.23",
		"error":   "b.xlsx#error:2: cell B2 has the error #N/A",
		"lines":   "b.xlsx#lines:2: cell B2 has a line end or a tab",
		"other":   `b.xlsx#other: the workbook has no sheet "other"`,
		"":        "b.xlsx#: the workbook has 6 sheets",
	} {
		t.Run(sheet, func(t *testing.T) {
			_, err := workbook.Text("b.xlsx#"+sheet, sheet, made(t, "doubtful.xlsx"), workbook.Comma)
			texttest.Refused(t, err, "b.xlsx#"+sheet, fault)
			assert.EqualError(t, err, fault)
		})
	}
}

// packed returns a zip file with one member of so many zeros.
func packed(t *testing.T, name string, size int) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	m, err := w.Create(name)
	require.NoError(t, err)
	_, err = m.Write(make([]byte, size))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return out.Bytes()
}

func TestWhatIsNoWorkbook(t *testing.T) {
	many := func() []byte {
		var out bytes.Buffer
		w := zip.NewWriter(&out)
		for i := range 2001 {
			_, err := w.Create("p" + strings.Repeat("x", i))
			require.NoError(t, err)
		}
		require.NoError(t, w.Close())
		return out.Bytes()
	}
	whole := made(t, "rosters.xlsx")
	for name, c := range map[string]struct {
		data  []byte
		fault string
	}{
		"old":    {[]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest"), "this is a workbook of the older kind (.xls), or one with a password"},
		"cut":    {whole[:len(whole)-100], "this is no workbook (.xlsx), or one that is damaged"},
		"zip":    {packed(t, "a.csv", 3), "this is no workbook (.xlsx), or one that is damaged"},
		"bomb":   {packed(t, "xl/worksheets/sheet1.xml", 60<<20), "a part of the workbook unpacks to more than 200 times its packed size"},
		"parts":  {many(), "the workbook has 2,001 parts, and may have 2000"},
		"nought": {[]byte("PK\x03\x04"), "this is no workbook (.xlsx), or one that is damaged"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.True(t, workbook.Is(c.data))
			_, err := workbook.Text("b.xlsx", "", c.data, workbook.Comma)
			texttest.Refused(t, err, "b.xlsx", c.fault)
		})
	}
	assert.False(t, workbook.Is([]byte("coupon,pull\n")))
}

func TestSplit(t *testing.T) {
	for name, want := range map[string][2]string{
		"r.xlsx#Coupons": {"r.xlsx", "Coupons"}, "a/r.XLSX#two words #2": {"a/r.XLSX", "two words #2"}, "r.xlsx": {"r.xlsx", ""},
		"a#b.csv": {"a#b.csv", ""}, "r.xlsx#": {"r.xlsx", ""},
	} {
		file, sheet := workbook.Split(name)
		assert.Equal(t, want, [2]string{file, sheet})
	}
}

// Whatever bytes a workbook has: it is read, or refused with a place, and nothing else.
func FuzzText(f *testing.F) {
	for _, name := range []string{"rosters.xlsx", "doubtful.xlsx", "scan.xlsx", "days-1904.xlsx"} {
		f.Add(made(f, name))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		lines, err := workbook.Text("b.xlsx", "", data, workbook.Tab)
		if err != nil {
			texttest.Refused(t, err, "b.xlsx", "")
			assert.Nil(t, lines)
		}
	})
}
