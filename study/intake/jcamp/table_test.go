package jcamp_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/jcamp"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// Numbers are the float64 nearest to ordinate times factor times power of ten: that which the compiler
// reads for the product written out.
func TestFactorsAreExact(t *testing.T) {
	two := func(rows, xFactor, yFactor, first, last string) string {
		return block(steps, rows, "##XFACTOR= 1", "##XFACTOR= "+xFactor, "##YFACTOR= 1", "##YFACTOR= "+yFactor,
			"##FIRSTX= 400", "##FIRSTX= "+first, "##LASTX= 409", "##LASTX= "+last, "##NPOINTS= 10", "##NPOINTS= 2")
	}
	for _, c := range []struct {
		name, text     string
		shiftX, shiftY int
		want           []float64
	}{
		{"as they stand", two("400 412 407", "1", "1", "400", "401"), 0, 0, []float64{400, 401, 412, 407}},
		{"a decimal factor", two("400 412 407", "1", "0.0001", "400", "401"), 0, 0, []float64{400, 401, 0.0412, 0.0407}},
		{"the same with an exponent", two("400D12D07", "1", "1E-04", "400", "401"), 0, 0,
			[]float64{400, 401, 0.0412, 0.0407}},
		{"percent", two("400 4.12 4.07", "1", "1", "400", "401"), 0, -2, []float64{400, 401, 0.0412, 0.0407}},
		{"percent and a factor", two("400 412 407", "1", "0.01", "400", "401"), 0, -2, []float64{400, 401, 0.0412, 0.0407}},
		{"micrometres", two("0.41 1 2", "1", "1", "0.41", "0.42"), 3, 0, []float64{410, 420, 1, 2}},
		{"a factor of abscissae", two("400 1 2", "0.001", "1", "0.4", "0.401"), 3, 0, []float64{400, 401, 1, 2}},
		{"a negative factor", two("400 1 -2", "1", "-0.5", "400", "401"), 0, 0, []float64{400, 401, -0.5, 1}},
		{"a factor of two to the power -20", two("400 900000 1", "1", "9.5367431640625E-07", "400", "401"), 0, 0,
			[]float64{400, 401, 0.858306884765625, 9.5367431640625e-07}},
		{"wavelengths that fall", two("401 1 2", "1", "1", "401", "400"), 0, 0, []float64{401, 400, 1, 2}},
		{"below zero", two("-1 1 2", "1", "1", "-1", "1"), 0, 0, []float64{-1, 1, 1, 2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			table, err := read(c.text, jcamp.Options{ShiftX: c.shiftX, ShiftY: c.shiftY, Most: 10})
			require.NoError(t, err)
			require.Len(t, table.Numbers, len(c.want))
			for i, v := range c.want {
				texttest.RequireSame(t, v, table.Numbers[i], c.text)
			}
		})
	}
}

// Equal steps are divided once: from 400 to 401 in four points the second is the float64 nearest to
// 400 + 1/3, whatever the abscissae of the rows were rounded to.
func TestStepsAreDividedOnce(t *testing.T) {
	changes := []string{"##LASTX= 409", "##LASTX= 401", "##NPOINTS= 10", "##NPOINTS= 4"}
	for _, rows := range []string{"400 1 2 3 4", "400 1\n400.33 2\n400.66 3\n401 4", "400 1\n400.3333333 2 3 4",
		"400 1\n400 2 3 4"} {
		table, err := read(block(steps, rows, changes...), many)
		require.NoError(t, err, rows)
		assert.Equal(t, []float64{400, 400 + 1/3., 400 + 2/3., 401}, table.Numbers[:4], rows)
	}
	for rows, want := range map[string]string{
		// Where one row has two digits, none may be off by more than one of the second.
		"400 1\n400.3 2\n400.67 3 4": "9:1: the row begins at x = 400.3, where FIRSTX, LASTX and NPOINTS make it 400.3333333",
		"400 1\n400.5 2 3 4":         "9:1: the row begins at x = 400.5, where FIRSTX, LASTX and NPOINTS make it 400.3333333",
		"400 1\n401.4 2 3 4":         "9:1: the row begins at x = 401.4, where FIRSTX, LASTX and NPOINTS make it 400.3333333",
		"399 1 2 3 4":                "8:1: the row begins at x = 399, where FIRSTX, LASTX and NPOINTS make it 400",
	} {
		_, err := read(block(steps, rows, changes...), many)
		requireFault(t, want+" | "+tryRow, err)
	}
}

// What the header declares is held against the numbers, each record for itself.
func TestHeaderIsChecked(t *testing.T) {
	const rows = "400 1 2 3 3 2 1 0 -1 -2 -3"
	const find = "find out which is right, then correct the header"
	declare := func(record string) string {
		return block(steps, rows, "##XYDATA", "##"+record+"\n##XYDATA")
	}
	for record, want := range map[string]string{
		"DELTAX= 1": "", "DELTAX= 1.0": "", "DELTAX= 1E0": "", "MINX= 400": "", "MAXX= 409": "", "FIRSTY= 1": "",
		"LASTY= -3": "", "MINY= -3": "", "MAXY= 3": "", "MAXY= 3.4": "", // rounded to a digit of the rows
		"DELTAX= 2":  "7: ##DELTAX= says 2, the first and the last point and their number make it 1 | " + find,
		"DELTAX= -1": "7: ##DELTAX= says -1, the first and the last point and their number make it 1 | " + find,
		"DELTAX= x":  `7: ##DELTAX= "x" is not a number | ` + again + ", or correct the line",
		"MINX= 399":  "7: ##MINX= says 399, the numbers give 400",
		"MAXX= 419":  "7: ##MAXX= says 419, the numbers give 409",
		"FIRSTY= 2":  "7: ##FIRSTY= says 2, the numbers give 1",
		"LASTY= 3":   "7: ##LASTY= says 3, the numbers give -3",
		"MINY= 0":    "7: ##MINY= says 0, the numbers give -3",
		"MAXY= 300":  "7: ##MAXY= says 300, the numbers give 3",
		"MAXY= 3,0":  `7: ##MAXY= "3,0" is not a number | ` + again + ", or correct the line",
	} {
		t.Run(record, func(t *testing.T) {
			_, err := read(declare(record), many)
			if want == "" {
				require.NoError(t, err)
				return
			}
			settled := !strings.Contains(want, "|") // by a person: the numbers are right as they stand
			if settled {
				want += " | " + find + " or export the file again"
			}
			requireFault(t, want, err)
			var e *jcamp.Error
			require.ErrorAs(t, err, &e)
			_, err = read(declare(record), jcamp.Options{Most: 10, IgnoreDeclared: true})
			assert.Equal(t, settled, err == nil, "%v", err)
			assert.Equal(t, settled, len(e.Choices) == 1, "%v", e.Choices)
		})
	}
}

// What a table in steps needs of the header, and what it cannot be.
func TestHeaderIsNeeded(t *testing.T) {
	const rows = "400 1 2 3 3 2 1 0 -1 -2 -3"
	for _, label := range []string{"XFACTOR", "YFACTOR", "FIRSTX", "LASTX", "NPOINTS"} {
		s := strings.Replace(block(steps, rows), "##"+label+"=", "##$"+label+"=", 1)
		_, err := read(s, many)
		requireFault(t, fmt.Sprintf("7: the block of line 1 has no ##%s=, which its table needs | ", label)+again, err)
	}
	for _, c := range []struct{ was, is, want string }{
		{"##XFACTOR= 1", "##XFACTOR= 0", "2: ##XFACTOR= is zero | " + again},
		{"##YFACTOR= 1", "##YFACTOR= 0.00", "3: ##YFACTOR= is zero | " + again},
		{"##YFACTOR= 1", "##YFACTOR=", `3: ##YFACTOR= "" is not a number | ` + again + ", or correct the line"},
		{"##YFACTOR= 1", "##YFACTOR= 1 %", `3: ##YFACTOR= "1 %" is not a number | ` + again + ", or correct the line"},
		{"##YFACTOR= 1", "##YFACTOR= 1E999", `3: ##YFACTOR= "1E999" is not a number | ` + again + ", or correct the line"},
		{"##LASTX= 409", "##LASTX= 400.0", "5: ##FIRSTX= and ##LASTX= are the same | " + again},
		{"##NPOINTS= 10", "##NPOINTS= 9", "6: ##NPOINTS= says 9, 10 found | " + again + ", or correct the header"},
		{"##NPOINTS= 10", "##NPOINTS= 10.5", "6: ##NPOINTS= says 10.5, 10 found | " + again + ", or correct the header"},
		{"##NPOINTS= 10", "##NPOINTS= 1E12", "6: ##NPOINTS= says 1E12, 10 found | " + again + ", or correct the header"},
		{rows, "400 1", "6: ##NPOINTS= says 10, 1 found | " + again + ", or correct the header"},
	} {
		_, err := read(block(steps, rows, c.was, c.is), many)
		requireFault(t, c.want, err)
	}
	_, err := read(block(steps, "400 1", "##NPOINTS= 10", "##NPOINTS= 1"), many)
	requireFault(t, "7: the table contains 1 point: that is not a spectrum | "+again, err)
	_, err = read(block(steps, "", "##NPOINTS= 10", "##NPOINTS= 0"), many)
	requireFault(t, "7: the table contains 0 points: that is not a spectrum | "+again, err)
}

// Of pairs the header needs no factors and no ends; those that stand there count.
func TestHeaderOfPairs(t *testing.T) {
	const rows = "400,1 401.5,-2 410,3"
	table, err := read(block(pairs, rows), many)
	require.NoError(t, err)
	assert.Equal(t, []string{"FIRSTX", "LASTX", "FIRSTY", "MINY", "MAXY"}, table.Unsaid)
	table, err = read(block(pairs, rows, "##NPOINTS",
		"##XFACTOR= 0.5\n##YFACTOR= 0.25\n##FIRSTX= 200\n##MINY= -0.5\n##NPOINTS"), many)
	require.NoError(t, err)
	assert.Equal(t, []float64{200, 200.75, 205, 0.25, -0.5, 0.75}, table.Numbers)
	assert.Equal(t, []string{"LASTX", "FIRSTY", "MAXY"}, table.Unsaid)
	step := block(pairs, rows, "##NPOINTS", "##DELTAX= 4\n##NPOINTS")
	_, err = read(step, many)
	requireFault(t, "4: ##DELTAX= says 4, the first and the last point and their number make it 5 | find out which is "+
		"right, then correct the header", err)
	_, err = read(step, jcamp.Options{Most: 10, IgnoreDeclared: true})
	assert.NoError(t, err, "a person says that the numbers are right")
}

// A header may round what it declares to the digits that it writes, and a factor of more than four
// digits leaves open half a unit of its last one; a file that is further off is refused.
func TestHeaderMayRound(t *testing.T) {
	for _, c := range []struct {
		factor, most string
		taken        bool
	}{
		{"0.0001", "0.0412", true}, {"0.0001", "0.041", true}, {"0.0001", "0.04", true}, {"0.0001", "0.04124", true},
		{"0.0001", "0.05", false}, {"0.0001", "0.042", false}, {"0.0001", "0.0413", false}, {"0.0001", "0", false},
		{"0.0001", "4.12", false},
		{"0.000100004", "0.0412", true}, // 0.04120165 within half a unit of the row
	} {
		s := block(steps, "400 412 1", "##YFACTOR= 1", "##YFACTOR= "+c.factor+"\n##MAXY= "+c.most, "##LASTX= 409",
			"##LASTX= 401", "##NPOINTS= 10", "##NPOINTS= 2")
		_, err := read(s, many)
		assert.Equal(t, c.taken, err == nil, "%s, %s: %v", c.factor, c.most, err)
	}
}

// No file gives more points than are allowed for it, and counts ask for no memory before that shows.
func TestMostPoints(t *testing.T) {
	const try = "correct the count, or export fewer spectra into one file"
	_, err := read(block(steps, "400 1 2 3 3 2 1 0 -1 -2 -3"), jcamp.Options{Most: 9})
	requireFault(t, "8:25: the rows give more than the 9 points that a file of this size may contain | "+try, err)
	_, err = read(block(steps, "400AS99999999999999"), jcamp.Options{Most: 100})
	requireFault(t, "8:5: the rows give more than the 100 points that a file of this size may contain | "+try, err)
	s := block(steps, "400AS99999999999999")
	_, err = read(s, jcamp.Options{Most: math.MaxInt})
	requireFault(t, fmt.Sprintf("8:5: the rows give more than the %s that a file of this size may contain | ",
		text.Count(16*len(s), "point"))+try, err)
}

// Of each point one can ask for its line, and write its ordinate in the unit of the file.
func TestLineOfAPoint(t *testing.T) {
	table, err := read(block(steps, "400AJT%jT $$ five\n\n405AjV\n409c"), jcamp.Options{ShiftY: -2, Most: 10})
	require.NoError(t, err)
	for point, line := range []int{8, 8, 8, 8, 8, 8, 10, 10, 10, 10} {
		assert.Equal(t, line, table.LineOf(point), "point %d", point)
	}
	assert.Equal(t, "-3", table.ShownY(table.Numbers[19]), "in percent, as in the file")
	assert.Equal(t, -0.03, table.Numbers[19])
}
