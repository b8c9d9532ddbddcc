package placing_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// linesOf returns the rows of a map for bad.csv, a made-up export.
func linesOf(t *testing.T, rows string) []sheet.Line[placing.Placing] {
	lines, err := placing.ReadLines("map.csv",
		[]byte("file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,wavelength_unit,session\n"+rows))
	require.NoError(t, err)
	return lines
}

func TestPlace(t *testing.T) {
	x := exportOf(t, "bad.csv", "R 8 deg", "R s 60 deg", "White tile", "unnamed", "R unpolarised 30 deg")
	require.Len(t, x.Skipped, 1, "a column that a person may still name")
	placed, left, err := placing.Place(linesOf(t,
		"bad.csv,#3,E1,0,1,60,s,,,,\nbad.csv,R 8 deg,E1,0,1,8,u,R,percent,nm,2031-a\nbad.csv,White tile,E2,0,1,8,u,R,,,\n"+
			"bad.csv,#6,E1,0,1,30,n,R,,,\n"), x.Spectra, x.Skipped)
	require.NoError(t, err)
	assert.Equal(t, []string{`#5 "unnamed"`}, left)
	require.Len(t, placed, 4)
	for i, want := range []struct {
		line, column int
		name         string
	}{{2, 3, "#3"}, {3, 2, "R 8 deg"}, {4, 4, "White tile"}, {5, 6, "#6"}} {
		p := placed[i]
		assert.Equal(t, "map.csv", p.File)
		assert.Equal(t, want.line, p.Number)
		assert.Equal(t, want.column, p.Spectrum.Column)
		assert.Equal(t, want.name, p.Row.Column)
		assert.Equal(t, study.Reflectance, p.Row.Quantity)
	}
	assert.Same(t, &x.Spectra[1], placed[0].Spectrum)
	assert.Same(t, x.Skipped[0].Spectrum, placed[2].Spectrum)
	assert.Equal(t, "2031-a", placed[1].Row.Session)
	assert.Equal(t, "n", placed[3].Row.Polarisation, "more cautious than the heading")

	placed, left, err = placing.Place(nil, x.Spectra, x.Skipped)
	require.NoError(t, err)
	assert.Empty(t, placed)
	assert.Len(t, left, 4)
}

func TestPlaceRefuses(t *testing.T) {
	x := exportOf(t, "bad.csv", "R 8 deg", "R s 60 deg", "twin", "twin")
	through, err := intake.Read("bad.csv", []byte("nm,%T\n500,94\n501,95\n"), text.Stated{})
	require.NoError(t, err)
	for _, c := range []struct {
		name, rows string
		x          *intake.Export
		fault      string
	}{
		{"no such number", "bad.csv,#9,E1,0,1,8,u,R,,,\n", x, `map.csv:2: bad.csv has no column "#9"`},
		{"no such heading", "bad.csv,R 9 deg,E1,0,1,8,u,R,,,\n", x, `map.csv:2: bad.csv has no column "R 9 deg"`},
		{"no number", "bad.csv,#x,E1,0,1,8,u,R,,,\n", x, `map.csv:2: "#x" names no column`},
		{"heading twice", "bad.csv,twin,E1,0,1,8,u,R,,,\n", x, `map.csv:2: bad.csv has more than one column headed "twin"`},
		{"column twice", "bad.csv,#2,E1,0,1,8,u,R,,,\nbad.csv,R 8 deg,E1,0,2,8,u,R,,,\n", x,
			"map.csv:3: column #2 of bad.csv has a row in this map already"},
		{"place twice", "bad.csv,#4,E1,0,1,8,u,R,,,\nbad.csv,#5,E1,0,1,8,u,R,,,\n", x,
			"map.csv:3: columns #4 and #5 of bad.csv would go to the same place"},
		{"angle", "bad.csv,#2,E1,0,1,30,u,R,,,\n", x,
			`map.csv:2: column "#2" of bad.csv is headed "R 8 deg", but the map says 30 degrees`},
		{"polarisation", "bad.csv,#3,E1,0,1,60,p,R,,,\n", x,
			`map.csv:2: column "#3" of bad.csv is stated to be in polarisation s, but the map says p`},
		{"native against s", "bad.csv,#3,E1,0,1,60,n,R,,,\n", x,
			`map.csv:2: column "#3" of bad.csv is stated to be in polarisation s, but the map says n`},
	} {
		t.Run(c.name, func(t *testing.T) {
			placed, left, err := placing.Place(linesOf(t, c.rows), c.x.Spectra, c.x.Skipped)
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.EqualError(t, err, c.fault)
			assert.NotEmpty(t, r.Try)
			assert.Empty(t, placed)
			assert.Empty(t, left)
		})
	}
	_, _, err = placing.Place(linesOf(t, "bad.csv,#9,E1,0,1,8,u,R,,,\n"), x.Spectra, x.Skipped)
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	placed, _, err := placing.Place(linesOf(t, "bad.csv,#2,E1,0,1,8,u,,,,\n"), through.Spectra, through.Skipped)
	require.NoError(t, err)
	assert.Equal(t, study.Transmittance, placed[0].Row.Quantity, "as the export says of itself")
	assert.Equal(t, `its columns are #2 "R 8 deg", #3 "R s 60 deg", #4 "twin", #5 "twin"`, r.Try)
}

func TestStatedOf(t *testing.T) {
	given := text.Stated{Unit: "percent", Range: "400-1100"}
	for _, c := range []struct {
		name, rows string
		want       text.Stated
		fault      string
	}{
		{"nothing", "", given, ""},
		{"empty cells", "bad.csv,#2,E1,0,1,8,u,,,,\n", text.Stated{Unit: "percent", Range: "400-1100", InMap: true}, ""},
		{"together", "bad.csv,#2,E1,0,1,8,u,R,,,\nbad.csv,#3,E1,0,1,60,u,,percent,cm-1,\n",
			text.Stated{Unit: "percent", WavelengthUnit: "cm-1", Quantity: "R", Range: "400-1100", InMap: true}, ""},
		{"against one another", "bad.csv,#2,E1,0,1,8,u,R,,nm,\nbad.csv,#3,E1,0,1,60,u,R,,,\nbad.csv,#4,E1,0,1,60,s,R,,um,\n",
			given,
			"map.csv:4: this row states um for bad.csv, and an earlier one nm"},
		{"against what is given", "bad.csv,#2,E1,0,1,8,u,R,fraction,nm,\n", given,
			"map.csv:2: this row states fraction for bad.csv, and percent is stated for all exports"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := placing.StatedOf(linesOf(t, c.rows), given)
			assert.Equal(t, c.want, got)
			if c.fault == "" {
				require.NoError(t, err)
				return
			}
			require.EqualError(t, err, c.fault)
			texttest.Refused(t, err, "map.csv", "this row states")
		})
	}
	p, err := placing.ReadProfile("b.yaml",
		[]byte("profile: b\n"+oneCurve+"  unit: percent\n"+
			"- {column: x, coupon: A, pull: 0, spot: 1, angle: 8, polarisation: s, unit: fraction}\n"))
	require.NoError(t, err)
	lines, err := p.Rules().For("bad.csv")
	require.NoError(t, err)
	_, err = placing.StatedOf(lines, text.Stated{})
	require.EqualError(t, err, "b.yaml:10: this line states fraction for bad.csv, and an earlier one percent")
	got, err := placing.StatedOf(lines[:1], text.Stated{})
	require.NoError(t, err)
	assert.Equal(t, text.Stated{Unit: "percent"}, got)
}

// A column that no row of a map names does not stop its file, whatever is wrong with it.
// One that is named is refused for what is wrong.
func TestPlaceNeedsOnlyWhatIsNamed(t *testing.T) {
	s := "nm,G07 %R,stuck %R,too high %R\n"
	for nm := 400; nm < 436; nm++ {
		s += fmt.Sprintf("%d,%d.%d,7.5,%d\n", nm, 4+nm%3, nm%7, 100*nm)
	}
	x, err := intake.Read("bad.csv", []byte(s), text.Stated{InMap: true})
	require.NoError(t, err)
	require.Len(t, x.Spectra, 1)
	var skipped []study.SkippedColumn
	for _, c := range x.Skipped {
		assert.Equal(t, c.Why, c.Fault.Fault)
		c.Fault = nil
		skipped = append(skipped, c)
	}
	assert.Equal(t, []study.SkippedColumn{
		{Column: 3, Heading: "stuck %R",
			Why: `column "stuck %R": 36 points in a row from 400 to 435 nm are equal to 4 digits`},
		{Column: 4, Heading: "too high %R", Why: `column "too high %R": unit says percent, values run from 40,000 to 43,500`},
	}, skipped)
	placed, _, err := placing.Place(linesOf(t, "bad.csv,#2,E1,0,1,8,u,R,percent,,\n"), x.Spectra, x.Skipped)
	require.NoError(t, err)
	require.Len(t, placed, 1)

	for _, column := range []string{"#3", "stuck %R"} {
		_, _, err = placing.Place(linesOf(t, "bad.csv,"+column+",E1,0,1,8,u,R,percent,,\n"), x.Spectra, x.Skipped)
		assert.EqualError(t, err,
			`bad.csv:2:9: column "stuck %R": 36 points in a row from 400 to 435 nm are equal to 4 digits`)
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal)
		assert.Equal(t, "filler", refusal.Choices[0].Name)
	}
	x, err = intake.Read("bad.csv", []byte(s), text.Stated{InMap: true, Columns: "2"})
	require.NoError(t, err, "or are left out by their numbers")
	assert.Len(t, x.Spectra, 1)
	_, err = intake.Read("bad.csv", []byte(s), text.Stated{})
	assert.ErrorContains(t, err, `column "stuck %R": 36 points`)
}
