package jcamp_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/jcamp"
	"wane/study/intake/text"
)

// steps is a block of made-up data in equal steps: the header is in lines 1 to 7, the rows from
// line 8 on.
const steps = `##TITLE= made up
##XFACTOR= 1
##YFACTOR= 1
##FIRSTX= 400
##LASTX= 409
##NPOINTS= 10
##XYDATA= (X++(Y..Y))
ROWS
##END=
`

// pairs is the same in pairs: the rows stand from line 3 on.
const pairs = `##TITLE= made up
##XYPOINTS= (XY..XY)
ROWS
##NPOINTS= 3
##END=
`

// block fills in the rows and makes changes: what is there, and what is there instead, in turn.
func block(frame, rows string, changes ...string) string {
	return strings.NewReplacer(changes...).Replace(strings.Replace(frame, "ROWS", rows, 1))
}

// asIs names labels as they stand.
func asIs(label string) string { return label }

func parse(s string) (*jcamp.File, error) {
	return jcamp.Parse(text.Decoded{Text: []byte(s), Encoding: "UTF-8"}, asIs)
}

// many is more points than any table here has.
var many = jcamp.Options{Most: 1000}

// read reads the first table of a text.
func read(s string, o jcamp.Options) (*jcamp.Table, error) {
	f, err := parse(s)
	if err != nil {
		return nil, err
	}
	if err := f.Blocks[0].Unread(); err != nil {
		return nil, err
	}
	return f.Read(f.Blocks[0], o)
}

// ordinates reads the first table of a text that must be taken.
func ordinates(t *testing.T, s string) []float64 {
	t.Helper()
	table, err := read(s, many)
	require.NoError(t, err, s)
	require.Len(t, table.Numbers, 2*table.Points)
	return table.Numbers[table.Points:]
}

// requireFault holds an error to its place, fault and remedy, written LINE:COLUMN: FAULT | TRY, and
// without a column that is 0.
func requireFault(t *testing.T, want string, err error) {
	t.Helper()
	var e *jcamp.Error
	require.ErrorAs(t, err, &e, want)
	place := fmt.Sprint(e.At.Line)
	if e.At.Column > 0 {
		place += fmt.Sprint(":", e.At.Column)
	}
	require.Equal(t, want, place+": "+e.Fault+" | "+e.Try)
	assert.Equal(t, fmt.Sprintf("line %d: %s", e.At.Line, e.Fault), e.Error())
}

// The worked example of the forms in McDonald and Wilks (1988), from memory: the ordinates 1 2 3 3 2
// 1 0 -1 -2 -3 in each form. The abscissae are ours.
func TestWorkedExampleInEachForm(t *testing.T) {
	xs := []float64{400, 401, 402, 403, 404, 405, 406, 407, 408, 409}
	ys := []float64{1, 2, 3, 3, 2, 1, 0, -1, -2, -3}
	for _, c := range []struct{ form, rows string }{
		{"AFFN", "400 1 2 3 3 2 1 0 -1 -2 -3"},
		{"AFFN", "400 1 2 3 3 2\n405 1 0 -1 -2 -3"},
		{"AFFN", "400.00 1.0 2.0 3.0 3.0 2.0 1.0 0.0 -1.0 -2.0 -3.0"},
		{"AFFN", "4E+2 1E+00 .2E+1 30E-01 3. 2 1 0 -1 -2 -3"},
		{"AFFN", "400\t1\t2\t3\t3\t2\t1\t0\t-1\t-2\t-3"},
		{"PAC", "400+1+2+3+3+2+1+0-1-2-3"},
		{"PAC", "400+1+2+3+3+2\n405+1+0-1-2-3"},
		{"PAC", "400 1+2+3+3+2+1+0-1-2-3"},
		{"SQZ", "400ABCCBA@abc"},
		{"SQZ", "400A B C C B A @ a b c"},
		{"SQZ with DUP", "400ABCTBA@abc"},
		{"DIF", "400AJJ%jjjjjj"},
		{"DIF", "400 1JJ%jjjjjj"},
		{"DIF", "400AJJ%\n403Cjjjjjj\n409c"},
		{"DIFDUP", "400AJT%jX"},
		{"DIFDUP", "400 1JT%jX"},
		{"DIFDUP", "400AJT%jT\n405AjV\n409c"},
	} {
		t.Run(c.form+" "+c.rows, func(t *testing.T) {
			table, err := read(block(steps, c.rows), many)
			require.NoError(t, err)
			assert.Equal(t, c.form, table.Form)
			assert.Equal(t, 10, table.Points)
			assert.Equal(t, append(xs[:10:10], ys...), table.Numbers)
			assert.Equal(t, []string{"FIRSTY", "MINY", "MAXY"}, table.Unsaid)
		})
	}
}

// The pseudo-digits of the three forms by letters. Source: McDonald and Wilks (1988), from memory.
func TestEachLetterIsADigit(t *testing.T) {
	two := []string{"##LASTX= 409", "##LASTX= 401", "##NPOINTS= 10", "##NPOINTS= 2"}
	for i := range 10 {
		digit := float64(i)
		up, down := string("@ABCDEFGHI"[i]), string("@abcdefghi"[i])
		plus, minus := string("%JKLMNOPQR"[i]), string("%jklmnopqr"[i])
		assert.Equal(t, []float64{digit, 7}, ordinates(t, block(steps, "400"+up+"G", two...)), up)
		assert.Equal(t, []float64{0 - digit, 7}, ordinates(t, block(steps, "400"+down+"G", two...)), down)
		assert.Equal(t, []float64{50, 50 + digit}, ordinates(t, block(steps, "400E0"+plus, two...)), plus)
		assert.Equal(t, []float64{50, 50 - digit}, ordinates(t, block(steps, "400E0"+minus, two...)), minus)
		if i == 0 {
			continue // more digits need a first one
		}
		assert.Equal(t, []float64{10*digit + 4, 7}, ordinates(t, block(steps, "400"+up+"4G", two...)), up)
		assert.Equal(t, []float64{-10*digit - 4, 7}, ordinates(t, block(steps, "400"+down+"4G", two...)), down)
		assert.Equal(t, []float64{50, 54 + 10*digit}, ordinates(t, block(steps, "400E0"+plus+"4", two...)), plus)
		assert.Equal(t, []float64{50, 46 - 10*digit}, ordinates(t, block(steps, "400E0"+minus+"4", two...)), minus)
	}
}

// A count says how often the item before is meant in all, itself included: S once, T twice, up to s
// nine times, and S2 twelve times. Source: McDonald and Wilks (1988), from memory.
func TestCountsRepeat(t *testing.T) {
	for n := 1; n <= 12; n++ {
		letter := "S2"
		switch {
		case n < 10:
			letter = string("STUVWXYZs"[n-1])
		case n < 12:
			letter = fmt.Sprintf("S%d", n-10)
		}
		changes := []string{"##NPOINTS= 10", fmt.Sprintf("##NPOINTS= %d", n+1), "##LASTX= 409",
			fmt.Sprintf("##LASTX= %d", 400+n)}
		alike, rising := []float64{}, []float64{3}
		for i := range n {
			alike, rising = append(alike, 3), append(rising, float64(5+2*i))
		}
		assert.Equal(t, append(alike, 4), ordinates(t, block(steps, "400C"+letter+"D", changes...)), letter)
		assert.Equal(t, rising, ordinates(t, block(steps, "400CK"+letter, changes...)), letter)
	}
}

// Of a question mark nothing is known: the point is missing, and no difference can follow it.
func TestMissingOrdinates(t *testing.T) {
	three := []string{"##LASTX= 409", "##LASTX= 402", "##NPOINTS= 10", "##NPOINTS= 3"}
	for _, c := range []struct {
		rows string
		want []float64
	}{
		{"400 1 ? 3", []float64{1, math.NaN(), 3}}, {"400A?C", []float64{1, math.NaN(), 3}},
		{"400A?T", []float64{1, math.NaN(), math.NaN()}}, {"400+1?+3", []float64{1, math.NaN(), 3}},
		{"400 ? 1 2", []float64{math.NaN(), 1, 2}}, {"400??A", []float64{math.NaN(), math.NaN(), 1}},
		{"400A?Cj", nil},
	} {
		if c.want == nil {
			_, err := read(block(steps, c.rows, three...), many)
			requireFault(t, "6: ##NPOINTS= says 3, 4 found | export the file again from the instrument, or correct the header",
				err)
			continue
		}
		got := ordinates(t, block(steps, c.rows, three...))
		require.Len(t, got, 3, c.rows)
		for i, v := range c.want {
			assert.Equal(t, math.IsNaN(v), math.IsNaN(got[i]), "%s, point %d", c.rows, i)
			assert.True(t, math.IsNaN(v) || v == got[i], "%s, point %d is %v", c.rows, i, got[i])
		}
	}
	_, err := read(block(steps, "400A?J", three...), many)
	requireFault(t, "8:6: a difference stands where no ordinate is before it | "+tryRow, err)
}

const (
	again  = "export the file again from the instrument"
	tryRow = again + ", or correct the row"
)

// Each row that can be read in two ways, or in none, is refused where it goes wrong. All differences
// of a row count into the check with which the next one begins.
func TestRowsAreRefusedInPlace(t *testing.T) {
	for _, c := range []struct{ name, rows, want string }{
		{"a check that differs", "400AJT%jT\n405BjV\n409c",
			"9:4: the row begins with ordinate 2 as a check, but the row before ends with 1"},
		{"a difference that is lost", "400AJ%jT\n405AjV\n409c",
			"9:4: the row begins with ordinate 1 as a check, but the row before ends with 0"},
		{"a check that is missing", "400AJT%jT\n405?", "9:4: the row must begin with ordinate 1, with which the row " +
			"before ends, as a check"},
		{"a check alone", "400AJT%jT\n405", "9:1: no ordinate follows the abscissa"},
		{"no abscissa", "ABC", "8:1: a row begins with its abscissa"},
		{"no ordinate", "400", "8:1: no ordinate follows the abscissa"},
		{"a difference first", "400J", "8:4: a difference stands where no ordinate is before it"},
		{"a count first", "400S", "8:4: a count stands where nothing is before it to repeat"},
		{"a count after a check", "400AJ\n401BT", "9:5: a count stands where nothing is before it to repeat"},
		{"a word", "400 #1", `8:5: "#" is no ordinate`},
		{"numbers without a space", "400 1.5.2", "8:8: nothing parts \".2\" from what stands before"},
		{"a point beside letters", "400A1.5B", `8:6: nothing parts ".5" from what stands before`},
		{"a fraction beside letters", "400A 1.5 B",
			`8:6: "1.5" is no whole number of 15 digits at most, as ordinates are beside letters`},
		{"16 digits", "400A234567890123456", "8:4: a number has more than 15 digits"},
		{"a sum of 16 digits", "400I99999999999999J", "8:19: an ordinate has more than 15 digits"},
		{"a number beyond a float64", "400 1E+309", "8:5: the number is too large"},
		{"a character of two bytes", "400 é", `8:5: "\xc3" is no ordinate`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := read(block(steps, c.rows), many)
			requireFault(t, c.want+" | "+tryRow, err)
		})
	}
}

// In numbers without letters an E is an exponent, beside letters a digit: 812E45K is the abscissa 812,
// the ordinate 545 and the difference 2. Source: McDonald and Wilks (1988), from memory.
func TestLetterEIsADigitBesideLetters(t *testing.T) {
	changes := []string{"##FIRSTX= 400", "##FIRSTX= 812", "##LASTX= 409", "##LASTX= 813", "##NPOINTS= 10", "##NPOINTS= 2"}
	for rows, want := range map[string][]float64{
		"812E45K": {545, 547}, "812E45E47": {545, 547}, "812e45E47": {-545, 547}, "812E45K\n813E47": {545, 547},
		"812 4E+1 5E-1": {40, 0.5}, "812+4E+1+5e-1": {40, 0.5}, "8.12E+2 4 5": {4, 5},
	} {
		assert.Equal(t, want, ordinates(t, block(steps, rows, changes...)), rows)
	}
}

// Pairs are parted by a semicolon or spaces, and their two numbers by a comma or spaces.
func TestPairs(t *testing.T) {
	for _, rows := range []string{
		"400,1 401.5,-2 410,3", "400, 1; 401.5, -2; 410, 3", "400 1\n401.5 -2\n410 3\n", "400,1;401.5,-2;\n410,3;",
		"4E+02,1E0 4015e-1,-20E-1 410,3", "400\t1\n401.5\t-2\n410\t3",
	} {
		table, err := read(block(pairs, rows), many)
		require.NoError(t, err, rows)
		assert.Equal(t, "XY..XY", table.Form)
		assert.Equal(t, []float64{400, 401.5, 410, 1, -2, 3}, table.Numbers, rows)
	}
	got := ordinates(t, block(pairs, "410,3 401.5,? 400,1"))
	assert.True(t, got[0] == 3 && math.IsNaN(got[1]) && got[2] == 1, "%v", got)
	for _, c := range []struct{ name, rows, want string }{
		{"no abscissa", "400,1 x,2", `3:7: "x" is no abscissa`},
		{"no ordinate", "400,1 401", "3:10: no ordinate follows the abscissa"},
		{"no number behind the comma", "400,1 401,", "3:10: no ordinate follows the abscissa"},
		{"a word", "400,one", `3:5: "o" is no ordinate`},
		{"glued", "400,1401,2", "3:9: neither a space nor a semicolon follows the pair"},
		{"too large", "1E+309,1 2,2", "3:1: the number is too large"},
		{"an ordinate too large", "1,1E+309 2,2", "3:3: the number is too large"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := read(block(pairs, c.rows), many)
			requireFault(t, c.want+" | "+tryRow, err)
		})
	}
}

// Abscissae of pairs run one way, unless scans will be joined.
func TestPairsRunOneWay(t *testing.T) {
	for rows, want := range map[string]string{
		"400,1 401,2 401,3": "3:13: x = 401 follows 401: it must run one way",
		"400,1 401,2 400,3": "3:13: x = 400 follows 401: it must run one way",
		"401,1 400,2 402,3": "3:13: x = 402 follows 400: it must run one way",
	} {
		_, err := read(block(pairs, rows), many)
		requireFault(t, want+" | give each scan a block of its own", err)
		var e *jcamp.Error
		require.True(t, errors.As(err, &e))
		assert.Equal(t, text.OverlapChoices, e.Choices)
		table, err := read(block(pairs, rows), jcamp.Options{Most: 1000, Joined: true})
		require.NoError(t, err, rows)
		assert.Equal(t, 3, table.Points)
	}
}
