package sheet_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/sheet"
	"wane/study/intake/text/texttest"
)

// tables are a made-up table of each kind that people write, a row each, and how it is
// read.
var tables = map[string]struct {
	text string
	read func(data string) error
}{
	"coupons": {"coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n" +
		"A,exposed,s,c,l,soda-lime,3,matched,e\n", roster},
	"exposures": {"exposure,protocol,site,dose_unit,start\ne,rack,roof,days,2031-01-01\n", roster},
	"pulls":     {"exposure,pull,dose,date\ne,0,0,2031-01-01\n", roster},
	"instruments": {"instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join,note\nb,17,two beams,1.5,4,350,0.001,n\n",
		roster},
	"events": {"instrument,date,event,note\nb,2031-06-02,lamp,n\n", roster},
	"references": {"reference,serial,certificate,issued,expires,u_scale,values,note\n" +
		"M,44,C,2031-01-10,2031-12-31,0.004,m.csv,n\n", roster},
	"standards": {"standard,serial,certificate,issued,expires,quantity,wavelength_nm,angle_deg,polarisation,value,u," +
		"note\n" +
		"T,9,C,2031-01-10,2031-12-31,R,550,8,u,0.04,0.001,n\n", roster},
	"sessions": {"session,instrument,date,operator,reference,humidity_percent,temperature_c,condition,note\n" +
		"m,b,2031-05-12,ada,M,41,22,cleaned,n\n", roster},
	"checks": {"session,standard,angle_deg,polarisation,value\nm,T,8,u,0.04\n", roster},
	"map": {"file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,condition,operator,geometry\n" +
		"a.csv,#2,A,0,1,8,u,R,percent,m,cleaned,ada,specular\n",
		func(data string) error { _, err := sheet.ReadMap("t.csv", []byte(data)); return err }},
	"measured": {measuredHeader + "A,0,1,haze,1,0.1,percent,haze meter,2031-03-02,ada,a.png,n\n",
		func(data string) error { _, _, err := sheet.ReadMeasured("t.csv", []byte(data)); return err }},
}

func roster(data string) error { return new(sheet.Roster).Add("t.csv", []byte(data)) }

// No cell of a table takes a character that hides something, but the names of files and
// headings, which are spelled as they are there.
func TestTablesRefuseWhatHides(t *testing.T) {
	outside := []string{"file", "column", "values", "picture", "glass"}
	for name, table := range tables {
		require.NoError(t, table.read(table.text), name)
		header, row, _ := strings.Cut(strings.TrimSpace(table.text), "\n")
		columns, cells := strings.Split(header, ","), strings.Split(row, ",")
		for i, column := range columns {
			for _, c := range []string{"\u200b", "\u202e", "\ufeff", "\u00ad", "\u2028x", "\u0085x"} {
				changed := slices.Clone(cells)
				changed[i] += c
				err := table.read(header + "\n" + strings.Join(changed, ",") + "\n")
				if slices.Contains(outside, column) && c != "\u2028x" && c != "\u0085x" {
					assert.NoError(t, err, "%s: %s %+q", name, column, c)
					continue
				}
				require.Error(t, err, "%s: %s %+q", name, column, c)
				texttest.Refused(t, err, "t.csv:2", "")
			}
			for _, c := range []string{"\x1b[2J", "\x00", "\x7f", "\"\n\"", "\"x\ty\""} {
				changed := slices.Clone(cells)
				changed[i] += c
				assert.Error(t, table.read(header+"\n"+strings.Join(changed, ",")+"\n"), "%s: %s %+q", name, column, c)
			}
		}
	}
}

// A cell with the apostrophe that the program writes before what a spreadsheet would take
// for a formula is read as the text itself; other apostrophes stay.
func TestTablesTakeTheApostropheOff(t *testing.T) {
	var r sheet.Roster
	require.NoError(t, r.Add("t.csv", []byte("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"+
		"'=A1,exposed,'@s,'-c,''q,soda-lime,'+3,matched,''+e\n'#7,exposed,'s',o'k,',soda-lime,,matched,e\n")))
	one, two := r.Coupons[0].Row, r.Coupons[1].Row
	assert.Equal(t, []string{"=A1", "@s", "-c", "'q", "'+e"},
		[]string{one.Coupon, one.Supplier, one.Coating, one.Lot, one.Exposure})
	assert.EqualValues(t, 3, one.GlassMM)
	assert.Equal(t, []string{"#7", "'s'", "o'k", "'"}, []string{two.Coupon, two.Supplier, two.Coating, two.Lot})
}
