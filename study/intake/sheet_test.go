package intake_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text/texttest"
)

const glassHead = "wavelength_nm,n,k\n"

func TestReadGlass(t *testing.T) {
	g, err := intake.ReadGlass("g.csv", []byte("\ufeff# made up\r\nn,wavelength_nm,k\r\n 1.53 ,300,1e-7\r\n1.51,1000,0\r\n"))
	require.NoError(t, err)
	assert.Equal(t, &study.Glass{Name: "g.csv", NM: []float64{300, 1000}, N: []float64{1.53, 1.51}, K: []float64{1e-7, 0}}, g)
}

// A line that begins with # is a comment, and told: it may have been a row. In quotation
// marks, or after a space, it is a code.
func TestCommentsAreTold(t *testing.T) {
	const head = "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"
	const cells = ",exposed,s,c,l,soda-lime,3,matched,e\n"
	for _, c := range []struct {
		text  string
		codes []string
		notes []string
	}{
		{head + "R1" + cells + "\"#3\"" + cells + " #4" + cells, []string{"R1", "#3", "#4"}, nil},
		{head + "R1" + cells + "#2" + cells, []string{"R1"},
			[]string{"t.csv:3 begins with # and was left out as a comment; if it is a row, put its first cell in quotation marks"}},
		{"\ufeff#made up\r\n" + head + "R1" + cells + "#2" + cells + "#" + cells, []string{"R1"},
			[]string{"t.csv:1 and 2 more begin with # and were left out as comments; if one is a row, put its first cell in quotation marks"}},
	} {
		var r intake.Roster
		require.NoError(t, r.Add("t.csv", []byte(c.text)))
		var codes []string
		for _, l := range r.Coupons {
			codes = append(codes, l.Row.Coupon)
		}
		assert.Equal(t, c.codes, codes)
		assert.Equal(t, c.notes, r.Notes)
	}
	_, notes, err := intake.ReadMeasured("m.csv", []byte(measuredHeader+"#A,0,1,haze,1,0.1,percent,haze meter,2031-03-02,ada,,\n"))
	require.NoError(t, err)
	assert.Len(t, notes, 1)
}

// Tables that people write: every refusal has its place and a remedy.
func TestSheetRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, fault string }{
		{"empty", "", "g.csv: the table is empty"},
		{"not UTF-8", glassHead + "300,1.5,\xc9\n", "g.csv:2:9: the byte 0xc9 is no text in UTF-8"},
		{"NUL", glassHead + "300,1.5\x00,0\n", "g.csv:2:8: there is a control character here, U+0000"},
		{"cell over two lines", glassHead + "300,\"1.5\n\",0\n400,\"1\n5\",0\n", "a cell holds a line end (LF or CR) or a tab"},
		{"bare CR", glassHead + "300,1\r5,0\n", "g.csv:2: a cell holds a line end (LF or CR) or a tab"},
		{"ESC", glassHead + "300,1\x1b5,0\n", "g.csv:2:6: there is a control character here, U+001B"},
		{"ragged", glassHead + "300,1.5\n", "g.csv:2: the row has not the 3 cells of the header"},
		{"stray quote", glassHead + "300,1\"5,0\n", "g.csv:2: a quotation mark is out of place"},
		{"column twice", "n,n,k\n", "g.csv:1: the column n stands twice"},
		{"missing column", "wavelength_nm,n\n", "g.csv:1: the column k is missing"},
		{"unknown column", "wavelength_nm,n,k,note\n", `g.csv:1: there is no column "note" here`},
		{"not a number", glassHead + "300,abc,0\n", `g.csv:2: column n: "abc" is not a number`},
		{"NaN", glassHead + "300,NaN,0\n", `g.csv:2: column n: "NaN" is not a number`},
		{"empty cell", glassHead + "300,,0\n", "g.csv:2: column n: the cell is empty"},
		{"falling", glassHead + "400,1.5,0\n300,1.5,0\n", "g.csv:3: column wavelength_nm: 300 does not lie above the row before"},
		{"index of 0", glassHead + "400,0,0\n", "g.csv:2: column n: 0 is not an index"},
		{"index beyond glasses", glassHead + "400,1e200,0\n", "g.csv:2: column n: 1e+200 is not an index"},
		{"negative k", glassHead + "400,1.5,-1\n", "g.csv:2: column k: -1 is"},
		{"one row", glassHead + "400,1.5,0\n", "g.csv: the glass table has 1 rows"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := intake.ReadGlass("g.csv", []byte(c.text))
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}

// Two codes that look alike are never two codes: of the forms in which Unicode can write
// a text, rosters, maps and profiles take the composed one alone, by the tables of
// golang.org/x/text. Names of files, and headings of their columns, stay as they are
// there.
func TestCodesThatLookAlike(t *testing.T) {
	for _, c := range []string{"\u3164", "\u115f", "\u1160", "\uffa0", "\u034f", "\ufe0f", "\U000e0100", "\u00a0", "\u3000", "\u2009", "\u202f"} {
		code := "A" + c + "1"
		texttest.Refused(t, new(intake.Roster).Add("r.csv", []byte("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"+code+",exposed,s,c,l,g,3,matched,e\n")), "r.csv:2", "coupon")
		_, err := intake.ReadLines("r.csv", []byte(mapHead+"a,#2,A,0,"+code+",8,u,,\n"))
		texttest.Refused(t, err, "r.csv:2", "spot")
		_, err = intake.ReadProfile("r.csv", []byte("profile: b\n"+oneCurve+"  session: "+code+"\n"))
		texttest.Refused(t, err, "r.csv", "session")
		_, err = intake.ReadLines("r.csv", []byte(mapHead+"a"+c+"b,%R"+c+"x,A,0,1,8,u,,\n"))
		assert.NoError(t, err, "names of others stay as they are")
	}
	random := rand.New(rand.NewPCG(7, 8))
	letters := []string{"A", "\u00c5", "A\u030a", "\u212b", "e\u0301", "\u00e9", "\u0323\u0307", "\u0307\u0323", "q\u0307\u0323", "\uac00", "\u1100\u1161", "\u0958", "\u00b5", "\u03bc", "\ufb01", "1"}
	seen := map[bool]int{}
	for range 300 {
		code := ""
		for range 1 + random.IntN(3) {
			code += letters[random.IntN(len(letters))]
		}
		composed := norm.NFC.String(code) == code
		seen[composed]++
		for name, read := range map[string]func() error{
			"roster": func() error {
				return new(intake.Roster).Add("r.csv", []byte("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"+code+",exposed,s,c,l,g,3,matched,e\n"))
			},
			"map": func() error {
				_, err := intake.ReadLines("r.csv", []byte(mapHead+"a,#2,A,0,"+code+",8,u,,\n"))
				return err
			},
			"profile": func() error {
				_, err := intake.ReadProfile("r.csv", []byte("profile: b\n"+oneCurve+"  session: "+code+"\n"))
				return err
			},
		} {
			err := read()
			if composed {
				require.NoError(t, err, "%s %+q", name, code)
				continue
			}
			texttest.Refused(t, err, "r.csv", " holds a")
		}
		_, err := intake.ReadLines("m.csv", []byte(mapHead+code+".csv,"+code+",A,0,1,8,u,,\n"))
		require.NoError(t, err)
	}
	assert.Greater(t, seen[true], 30)
	assert.Greater(t, seen[false], 30)
}
