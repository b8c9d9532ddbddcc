package placing_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/text/texttest"
)

// Two codes that look alike are never two codes: of the forms in which Unicode can write
// a text, rosters and maps keep the composed one, with a note where another was written,
// and profiles take that one alone, by the tables of golang.org/x/text. Names of files, and
// headings of their columns, stay as they are there.
func TestSimilarCodes(t *testing.T) {
	for _, c := range []string{"\u3164", "\u115f", "\u1160", "\uffa0", "\u034f", "\ufe0f", "\U000e0100", "\u00a0",
		"\u3000", "\u2009", "\u202f"} {
		code := "A" + c + "1"
		texttest.Refused(t, new(sheet.Roster).Add("r.csv",
			[]byte("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"+code+",exposed,s,c,l,g,3,matched,e\n")),
			"r.csv:2", "coupon")
		_, err := placing.ReadLines("r.csv", []byte(mapHead+"a,#2,A,0,"+code+",8,u,,\n"))
		texttest.Refused(t, err, "r.csv:2", "spot")
		_, err = placing.ReadProfile("r.csv", []byte("profile: b\n"+oneCurve+"  session: "+code+"\n"))
		texttest.Refused(t, err, "r.csv", "session")
		_, err = placing.ReadLines("r.csv", []byte(mapHead+"a"+c+"b,%R"+c+"x,A,0,1,8,u,,\n"))
		assert.NoError(t, err, "names of others stay as they are")
	}
	random := rand.New(rand.NewPCG(7, 8))
	letters := []string{"A", "\u00c5", "A\u030a", "\u212b", "e\u0301", "\u00e9", "\u0323\u0307", "\u0307\u0323",
		"q\u0307\u0323", "\uac00", "\u1100\u1161", "\u0958", "\u00b5", "\u03bc", "\ufb01", "1"}
	seen := map[bool]int{}
	for range 300 {
		code := ""
		for range 1 + random.IntN(3) {
			code += letters[random.IntN(len(letters))]
		}
		composed := norm.NFC.String(code) == code
		seen[composed]++
		var roster sheet.Roster
		require.NoError(t, roster.Add("r.csv",
			[]byte("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"+code+",exposed,s,c,l,g,3,matched,e\n")))
		assert.Equal(t, norm.NFC.String(code), roster.Coupons[0].Row.Coupon)
		assert.Equal(t, composed, roster.Notes == nil, "%+q", code)
		lines, err := placing.ReadLines("r.csv", []byte(mapHead+"a,#2,A,0,"+code+",8,u,,\n"))
		require.NoError(t, err)
		assert.Equal(t, norm.NFC.String(code), lines[0].Row.Spot)
		_, err = placing.ReadProfile("r.csv", []byte("profile: b\n"+oneCurve+"  session: "+code+"\n"))
		if composed {
			require.NoError(t, err, "%+q", code)
		} else {
			texttest.Refused(t, err, "r.csv", " contains a")
		}
		_, err = placing.ReadLines("m.csv", []byte(mapHead+code+".csv,"+code+",A,0,1,8,u,,\n"))
		require.NoError(t, err)
	}
	assert.Greater(t, seen[true], 30)
	assert.Greater(t, seen[false], 30)
}
