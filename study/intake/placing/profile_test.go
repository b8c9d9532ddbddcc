package placing_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
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

func profileFile(t testing.TB, name string) *placing.Profile {
	data, err := os.ReadFile(filepath.Join("testdata", "profiles", name))
	require.NoError(t, err)
	p, err := placing.ReadProfile(name, data)
	require.NoError(t, err)
	assert.Equal(t, string(data), p.Text)
	return p
}

// exportOf reads a made-up export of 3 rows with these columns.
func exportOf(t testing.TB, name string, headings ...string) *intake.Export {
	s := "nm," + strings.Join(headings, ",") + "\n"
	for nm := range 3 {
		s += fmt.Sprint(500 + nm)
		for i := range headings {
			s += fmt.Sprintf(",%.2f", 4+float64(i)+0.1*float64(nm*nm))
		}
		s += "\n"
	}
	x, err := intake.Read(name, []byte(s), text.Stated{Unit: "percent", Quantity: "R", InMap: true})
	require.NoError(t, err)
	return x
}

// placedOf places the curves of an export by a profile.
func placedOf(t testing.TB, p *placing.Profile, x *intake.Export) ([]placing.Placed, []string, error) {
	lines, err := p.Rules().For(x.Name)
	require.NoError(t, err)
	return placing.Place(lines, x.Spectra, x.Skipped)
}

func TestProfilePlaces(t *testing.T) {
	p := profileFile(t, "bench-1.yaml")
	assert.Equal(t, "bench-1", p.Name)
	assert.Equal(t, text.Stated{Unit: "percent", Range: "400-1100"}, p.Stated())
	assert.True(t, p.Places())
	rules := p.Rules()
	assert.Equal(t, "bench-1.yaml", rules.Name())
	for range rules.Files() {
		t.Error("a profile names no files")
	}
	require.NoError(t, rules.Close())
	for path, matches := range map[string]bool{"A-1-pull0-2.csv": true, "lab/A1-pull0-2.csv": true,
		"lab.zip/A1-pull0-2.csv": true,
		"A1-pull0.csv":           false, "A1-pull-1.csv": false, "-pull0-1.csv": false, "A1-pull0-2.csv/x": false,
		"A1-pull0-2.CSV": false, "": false} {
		assert.Equal(t, matches, p.Matches(path), path)
		assert.Equal(t, matches, rules.Names(path), path)
	}
	lines, err := rules.For("lab/A-1-pull07-x y.csv")
	require.NoError(t, err)
	require.Len(t, lines, 1)
	assert.Equal(t, "bench-1.yaml", lines[0].File)
	assert.Equal(t, 8, lines[0].Number)
	assert.Equal(t, "{angle} deg", lines[0].Row.Column)
	assert.Equal(t, text.Stated{Quantity: "R"}, lines[0].Row.Stated)

	x := exportOf(t, "lab/A-1-pull07-x y.csv", "8 deg", "note", "57.5 deg", "%R 30 deg")
	placed, _, err := placing.Place(lines[:1], x.Spectra, x.Skipped)
	require.ErrorContains(t, err, `bench-1.yaml:12: angle of lab/A-1-pull07-x y.csv: "%R 30" is not a number`)
	assert.Empty(t, placed)
	x = exportOf(t, "lab/A-1-pull07-x y.csv", "8 deg", "note", "57.5 deg")
	placed, left, err := placing.Place(lines, x.Spectra, x.Skipped)
	require.NoError(t, err)
	assert.Equal(t, []string{`#3 "note"`}, left)
	require.Len(t, placed, 2)
	for i, want := range []struct {
		column int
		angle  float64
	}{{2, 8}, {4, 57.5}} {
		row := placed[i].Row
		assert.Equal(t, study.Place{Coupon: "A-1", Pull: 7, Spot: "x y", AngleDeg: want.angle, Polarisation: "u",
			Quantity: "R", Replicate: 1}, row.Place)
		assert.Equal(t, placed[i].Spectrum.Heading, row.Column)
		assert.Equal(t, want.column, placed[i].Spectrum.Column)
		assert.True(t, math.IsNaN(float64(row.OrientationDeg)))
		assert.Equal(t, 8, placed[i].Number)
	}
}

func TestProfileSaysAllThatAMapSays(t *testing.T) {
	p := profileFile(t, "all-fields.yaml")
	assert.Equal(t, text.Stated{}, p.Stated())
	placed, left, err := placedOf(t, p, exportOf(t, "x/roof/may/B2_anything.csv", "R 57.5 deg", "R s 8 deg"))
	require.NoError(t, err)
	assert.Empty(t, left)
	require.Len(t, placed, 2)
	assert.Equal(t, placing.Placing{MapRow: sheet.MapRow{File: "x/roof/may/B2_anything.csv", Column: "#2",
		Place: study.Place{Coupon: "B2", Pull: 3, Spot: "B2-may", AngleDeg: 57.5, Polarisation: "n", Quantity: "R",
			Replicate: 2, Condition: "as_found"},
		Stated:  text.Stated{Unit: "fraction", WavelengthUnit: "cm-1", Quantity: "R"},
		Session: "2031-05-12", Operator: "ada", Geometry: "specular", OrientationDeg: -30}}, placed[0].Row)
	assert.Equal(t, "007", placed[1].Row.Coupon)
	assert.False(t, p.Matches("may/B2_anything.csv"), "the folder is part of the pattern")

	only := profileFile(t, "answers.yaml")
	assert.Equal(t, text.Stated{Decimal: "comma", RelativeTo: `tile "W1"`}, only.Stated())
	assert.False(t, only.Places())
	assert.True(t, only.Matches("any file"))
	assert.False(t, only.Rules().Names("any file"))
	lines, err := only.Rules().For("any file")
	require.NoError(t, err)
	assert.Empty(t, lines)

	many := profileFile(t, "by-heading.yaml")
	placed, left, err = placedOf(t, many, exportOf(t, "y.csv", "A1 p0 R 8deg y", "B1 p12 R 57.5deg x", "unnamed"))
	require.NoError(t, err)
	assert.Equal(t, []string{`#4 "unnamed"`}, left)
	require.Len(t, placed, 2)
	assert.Equal(t, study.Place{Coupon: "XB1", Pull: 12, Spot: "centre", AngleDeg: 57.5, Polarisation: "u", Quantity: "R",
		Replicate: 1}, placed[1].Row.Place)
}

// Names of files and headings seldom have a decimal point.
func TestProfileReadsAngles(t *testing.T) {
	p, err := placing.ReadProfile("b.yaml", []byte("profile: b\nfiles: '{c}-{a}deg.csv'\n"+
		"curves: [{column: '#2', coupon: '{c}', pull: 0, spot: 1, angle: '{a}', polarisation: u, orientation: '{a}',\n"+
		"  mounting: 2}]\n"))
	require.NoError(t, err)
	for text, want := range map[string]float64{"57.5": 57.5, "57,5": 57.5, "57_5": 57.5, "8": 8, "08": 8, "0": 0,
		"8.25": 8.25} {
		placed, _, err := placedOf(t, p, exportOf(t, "A1-"+text+"deg.csv", "R"))
		require.NoError(t, err)
		require.Len(t, placed, 1)
		assert.Equal(t, want, placed[0].Row.AngleDeg)
		assert.Equal(t, study.Num(want), placed[0].Row.OrientationDeg)
		assert.Equal(t, 2, placed[0].Row.Mounting)
	}
	for _, text := range []string{"5_7_5", "5,7.5", "x", "90", "NaN", "8 ° "} {
		_, err := p.Rules().For("A1-" + text + "deg.csv")
		texttest.Refused(t, err, "b.yaml", " of A1-"+text+"deg.csv: ")
	}
}

const oneCurve = `curves:
- column: "#2"
  coupon: A1
  pull: 0
  spot: 1
  angle: 8
  polarisation: u
`

func TestReadProfileRefuses(t *testing.T) {
	with := func(was, is string) string { return "profile: b\n" + strings.Replace(oneCurve, was, is, 1) }
	for _, c := range []struct{ name, text, fault string }{
		{"empty", "", "b.yaml: the profile is empty"},
		{"comments alone", "# nothing\n", "b.yaml: the profile is empty"},
		{"no mapping", "- a\n", "b.yaml:1: a profile is not a list of names with values"},
		{"a word", "hello\n", "b.yaml:1: a profile is not a list of names with values"},
		{"nothing", "~\n", "b.yaml:1: a profile is not a list of names with values"},
		{"no YAML", "profile: b\nstated: {unit\n", "this is not YAML: "},
		{"tab", "profile: b\nstated:\n\tunit: percent\n",
			"b.yaml:3: this is not YAML: found character that cannot start any token"},
		{"bare star", "profile: b\nfiles: *.csv\n", "b.yaml:2: this is not YAML: "},
		{"two documents", "profile: b\n---\nprofile: c\n", "b.yaml:2: a second document begins here"},
		{"no second document", "profile: b\n---\n[\n", "this is not YAML"},
		{"huge", "profile: b\n" + strings.Repeat("# made up\n", 1<<17), "b.yaml: the profile has more than 1024 KiB"},
		{"deep", "profile: " + strings.Repeat("[", 1<<19), "this is not YAML: exceeded max depth"},
		{"deep by indentation", "profile: b\nstated:\n- " + strings.Repeat("- ", 1<<18),
			"this is not YAML: exceeded max depth"},
		{"not UTF-8", "profile: b\n# \xff\n", "b.yaml:2:3: the byte 0xff is not UTF-8 text"},
		{"UTF-16", "\xff\xfep\x00", "b.yaml:1:1: the byte 0xff is not UTF-8 text"},
		{"no name", "stated:\n  unit: percent\n", "b.yaml:1: profile is missing"},
		{"empty name", "\nprofile: ''\n", "b.yaml:2: profile is empty"},
		{"name over two lines", "profile: \"a\\nb\"\n", "b.yaml:1: profile: \"a\\nb\" contains U+000A, a control character"},
		{"control character", "profile: \"a\\u0007b\"\n", "b.yaml:1: profile: \"a\\ab\" contains U+0007, a control character"},
		{"line separator", "profile: \"a\\u2028b\"\n", "b.yaml:1: profile: \"a\\u2028b\" contains U+2028, a separator of lines"},
		{"decomposed name", "profile: e\u0301\n", `b.yaml:1: profile: "e\u0301" contains an accent as a character of its own`},
		{"name of a list", "profile: [b]\n", "b.yaml:1: profile is no text or number"},
		{"truth", "profile: true\n", "b.yaml:1: profile: true is a word of YAML"},
		{"null", "profile: null\n", "b.yaml:1: profile: null is a word of YAML"},
		{"unknown key", "profile: b\nfile: x\n", `b.yaml:2: a profile has no "file"`},
		{"key twice", "profile: b\nstated:\nstated:\n", "b.yaml:3: stated stands in line 2 already"},
		{"key of a list", "profile: b\n[stated]: x\n", `b.yaml:2: a profile has no ""`},
		{"merge", "profile: b\n<<: {files: x}\n", `b.yaml:2: a profile has no "<<"`},
		{"anchor", "profile: &b b\n", "b.yaml:1: anchors and aliases have no meaning here"},
		{"alias", "profile: b\nstated: {unit: &u percent, quantity: *u}\n",
			"b.yaml:2: anchors and aliases have no meaning here"},
		{"alias bomb", "profile: b\na: &a [x,x,x,x]\nb: &b [*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b]\nd: [*c,*c,*c,*c]\n",
			`b.yaml:2: a profile has no "a"`},
		{"tag", "profile: !!str 5\n", `b.yaml:1: tags such as "!!str" have no meaning here`},
		{"tag of a list", "profile: b\ncurves: !x [a]\n", `b.yaml:2: tags such as "!x" have no meaning here`},

		{"no answers", "profile: b\nstated: percent\n", "b.yaml:2: stated is not a list of names with values"},
		{"unknown answer", "profile: b\nstated:\n  units: percent\n", `b.yaml:3: stated has no "units"`},
		{"answer twice", "profile: b\nstated:\n  unit: percent\n  unit: fraction\n",
			"b.yaml:4: unit stands in line 3 already"},
		{"empty answer", "profile: b\nstated:\n  unit:\n", "b.yaml:3: unit is empty"},
		{"answer of another word", "profile: b\nstated:\n  unit: \"%\"\n", `b.yaml:3: unit is stated as "%"`},
		{"range", "profile: b\nstated:\n  unit: percent\n  range: 1100-400\n", `b.yaml:4: range is stated as "1100-400"`},
		{"marks alike", "profile: b\nstated: {decimal: comma, thousands: comma}\n",
			`b.yaml:2: thousands is stated as "comma"`},

		{"empty pattern", "profile: b\nfiles:\n", "b.yaml:2: files is empty"},
		{"gaps side by side", "profile: b\nfiles: \"{a}{b}.csv\"\n",
			`b.yaml:2: files: nothing stands between two gaps of the pattern "{a}{b}.csv"`},
		{"star beside a gap", "profile: b\nfiles: \"*{b}.csv\"\n", "b.yaml:2: files: nothing stands between two gaps"},
		{"caught twice", "profile: b\nfiles: \"{a}-{a}.csv\"\n",
			`b.yaml:2: files: {a} stands twice in the pattern "{a}-{a}.csv"`},
		{"caught in two parts", "profile: b\nfiles: \"{a}/{a}.csv\"\n",
			`b.yaml:2: files: {a} stands twice in the pattern "{a}/{a}.csv"`},
		{"open brace", "profile: b\nfiles: \"{a.csv\"\n", `b.yaml:2: files: a { has no } in "{a.csv"`},
		{"closing brace", "profile: b\nfiles: \"a}.csv\"\n", `b.yaml:2: files: a } has no { in "a}.csv"`},
		{"name of a gap", "profile: b\nfiles: \"{A 1}.csv\"\n",
			`b.yaml:2: files: {A 1} is not a name of lower-case letters in "{A 1}.csv"`},
		{"from the root", "profile: b\nfiles: /a.csv\n",
			`b.yaml:2: files: a part of the path is empty in the pattern "/a.csv"`},

		{"curves of nothing", "profile: b\ncurves:\n", "b.yaml:2: curves has no list of curves"},
		{"no curves", "profile: b\ncurves: []\n", "b.yaml:2: curves has no list of curves"},
		{"one curve", "profile: b\ncurves: {column: x}\n", "b.yaml:2: curves has no list of curves"},
		{"a curve in a word", "profile: b\ncurves: [x]\n", "b.yaml:2: a curve is not a list of names with values"},
		{"no column", with("column: \"#2\"\n  ", ""), "b.yaml:3: column is missing"},
		{"bare number", with(`"#2"`, "#2"), "b.yaml:3: column is empty"},
		{"column 0", with("#2", "#0"), `b.yaml:3: "#0" names no column`},
		{"column pattern", with("#2", "{a}*"), "b.yaml:3: column: nothing stands between two gaps"},
		{"coupon missing", with("  coupon: A1\n", ""), "b.yaml:3: coupon is missing"},
		{"coupon empty", with("coupon: A1", `coupon: ""   # fill in`), "b.yaml:4: coupon is empty"},
		{"coupon of spaces", with("coupon: A1", `coupon: "  "`), "b.yaml:4: coupon is empty"},
		{"coupon bare brace", with("coupon: A1", `coupon: {coupon}`), "b.yaml:4: coupon is no text or number"},
		{"decomposed coupon", with("coupon: A1", "coupon: E\u0301"),
			`b.yaml:4: coupon: "E\u0301" contains an accent as a character of its own`},
		{"not caught", with("coupon: A1", `coupon: "{kupon}"`), "b.yaml:4: coupon: no pattern catches {kupon}"},
		{"open brace in a field", with("coupon: A1", `coupon: "{x"`), "b.yaml:4: coupon: a { has no }"},
		{"pull", with("pull: 0", "pull: -1"), `b.yaml:5: pull: "-1" is not a whole number of at least 0`},
		{"angle", with("angle: 8", "angle: 90"), "b.yaml:7: angle: 90 is outside 0 to below 90"},
		{"angle in words", with("angle: 8", "angle: steep"), `b.yaml:7: angle: "steep" is not a number`},
		{"two marks", with("angle: 8", "angle: 1,000.5"), `b.yaml:7: angle: "1,000.5" is not a number`},
		{"polarisation", with("polarisation: u", "polarisation: x"), `b.yaml:8: polarisation: "x" is not one of s, p, u, n`},
		{"absorbance", with("polarisation: u", "polarisation: u\n  quantity: A"),
			`b.yaml:9: quantity: "A" is not one of R, T`},
		{"unit", with("polarisation: u", "polarisation: u\n  unit: counts"),
			`b.yaml:9: unit: "counts" is not one of fraction, percent`},
		{"replicate", with("polarisation: u", "polarisation: u\n  replicate: 0"),
			`b.yaml:9: replicate: "0" is not a whole number of at least 1`},
		{"condition", with("polarisation: u", "polarisation: u\n  condition: wet"),
			`b.yaml:9: condition: "wet" is not one of`},
		{"field of a map", with("angle: 8", "angle_deg: 8"), `b.yaml:7: a curve has no "angle_deg"`},
		{"field twice", with("angle: 8", "angle: 8\n  angle: 8"), "b.yaml:8: angle stands in line 7 already"},
		{"caught unit", "profile: b\nfiles: \"{u}.csv\"\n" + oneCurve + "  unit: \"{u}\"\n",
			"b.yaml:10: unit: what a pattern catches cannot state it"},
		{"caught by both", "profile: b\nfiles: \"{a}.csv\"\n" + strings.Replace(oneCurve, "#2", "{a} deg", 1),
			"b.yaml:4: {a} is caught by files and by column"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := placing.ReadProfile("b.yaml", []byte(c.text))
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
	_, err := placing.ReadProfile("b.yaml", []byte("profile: b\n"+oneCurve))
	require.NoError(t, err, "what the cases are made from")
}

// What a profile cannot tell of a file or a column is refused, never guessed.
func TestProfileRefusesToGuess(t *testing.T) {
	profile := func(files, column, rest string) string {
		return "profile: b\nfiles: \"" + files + "\"\ncurves:\n- {column: \"" + column + "\", spot: 1, polarisation: u, " +
			rest + "}\n"
	}
	for _, c := range []struct{ name, profile, path, headings, fault string }{
		{"two splits of a name", profile("{c}-{p}.csv", "#2", "coupon: '{c}', pull: '{p}', angle: 8"), "A-1-0.csv", "8 deg",
			`b.yaml:2: files: "A-1-0.csv" fits the pattern "{c}-{p}.csv" in more than one way: {c} is "A" or "A-1"`},
		{"pull in words", profile("{c}-{p}.csv", "#2", "coupon: '{c}', pull: '{p}', angle: 8"), "A1-x.csv", "8 deg",
			`b.yaml:4: pull of A1-x.csv: "x" is not a whole number of at least 0`},
		{"decomposed name", profile("{c}-{p}.csv", "#2", "coupon: '{c}', pull: '{p}', angle: 8"), "E\u0301-0.csv", "8 deg",
			`b.yaml:4: coupon of ` + "E\u0301" + `-0.csv: "E\u0301" contains an accent as a character of its own`},
		{"name in no text", profile("{c}-{p}.csv", "#2", "coupon: '{c}', pull: '{p}', angle: 8"), "\xff-0.csv", "8 deg",
			`the name is not UTF-8 text`},
		{"name with a line end", profile("{c}-{p}.csv", "#2", "coupon: '{c}', pull: '{p}', angle: 8"), "A\nB-0.csv", "8 deg",
			`b.yaml:4: coupon of "A\nB-0.csv": "A\nB" contains U+000A, a control character`},
		{"name of spaces", profile("{c}-{p}.csv", "#2", "coupon: '{c}', pull: '{p}', angle: 8"), " -0.csv", "8 deg",
			`b.yaml:4: coupon of  -0.csv: the cell is empty`},
		{"two splits of a heading", profile("{c}.csv", "{a} {b} deg", "coupon: '{c}', pull: 0, angle: '{b}'"), "A1.csv",
			"left top 8 deg",
			`b.yaml:4: column of A1.csv: "left top 8 deg" fits the pattern "{a} {b} deg" in more than one way: {a} is ` +
				`"left" or "left top"`},
		{"no heading fits", profile("{c}.csv", "{a} Grad", "coupon: '{c}', pull: 0, angle: '{a}'"), "A1.csv", "8 deg,30 deg",
			`b.yaml:4: no column of A1.csv fits the pattern "{a} Grad"`},
		{"angle outside", profile("{c}.csv", "tilt {a}", "coupon: '{c}', pull: 0, angle: '{a}'"), "A1.csv", "tilt 95",
			`b.yaml:4: angle of A1.csv: 95 is outside 0 to below 90`},
		{"one place for two", profile("{c}.csv", "* deg", "coupon: '{c}', pull: 0, angle: 8"), "A1.csv", "x deg,y deg",
			`b.yaml:4: columns #2 and #3 of A1.csv would go to the same place`},
		{"angle against the heading", profile("{c}.csv", "*deg", "coupon: '{c}', pull: 0, angle: 9"), "A1.csv", "8 deg",
			`b.yaml:4: column "8 deg" of A1.csv is headed "8 deg", but the profile says 9 degrees`},
		{"two lines for a column", profile("{c}.csv", "#2", "coupon: '{c}', pull: 0, angle: 8") +
			"- {column: '{a} deg', coupon: A2, pull: 0, spot: 1, angle: '{a}', polarisation: u}\n", "A1.csv", "8 deg",
			`b.yaml:5: column #2 of A1.csv has a line in this profile already`},
		{"no such column", profile("{c}.csv", "#4", "coupon: '{c}', pull: 0, angle: 8"), "A1.csv", "8 deg",
			`b.yaml:4: A1.csv has no column "#4"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := placing.ReadProfile("b.yaml", []byte(c.profile))
			require.NoError(t, err)
			require.True(t, p.Matches(c.path))
			lines, err := p.Rules().For(c.path)
			if err == nil {
				x := exportOf(t, c.path, strings.Split(c.headings, ",")...)
				_, _, err = placing.Place(lines, x.Spectra, x.Skipped)
			}
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}

// A map and the profile that says the same place the same curves alike.
func TestMapAndProfilePlaceAlike(t *testing.T) {
	profile := profileFile(t, "bench-1.yaml")
	random := rand.New(rand.NewPCG(3, 4))
	for range 30 {
		coupon, pull, spot := fmt.Sprintf("A-%d", random.IntN(100)), random.IntN(5), fmt.Sprintf("s%d", random.IntN(3))
		name := fmt.Sprintf("%s-pull%d-%s.csv", coupon, pull, spot)
		var headings []string
		text := mapHead
		for i, at := range random.Perm(17)[:1+random.IntN(5)] {
			headings = append(headings, fmt.Sprintf("%v deg", 2.5*float64(at)))
			text += fmt.Sprintf("%s,#%d,%s,%d,%s,%v,u,R,\n", name, i+2, coupon, pull, spot, 2.5*float64(at))
		}
		rules, folder := openMap(t, text)
		x := exportOf(t, filepath.Join(folder, name), append(headings, "left")...)
		lines, err := rules.For(x.Name)
		require.NoError(t, err)
		byMap, leftByMap, err := placing.Place(lines, x.Spectra, x.Skipped)
		require.NoError(t, err)
		byProfile, left, err := placedOf(t, profile, x)
		require.NoError(t, err)
		require.Len(t, byProfile, len(headings))
		require.Len(t, byMap, len(headings))
		assert.Equal(t, leftByMap, left)
		for i := range byMap {
			assert.Same(t, byMap[i].Spectrum, byProfile[i].Spectrum)
			assert.Equal(t, byMap[i].Row.Place, byProfile[i].Row.Place)
			assert.Equal(t, byMap[i].Row.Session, byProfile[i].Row.Session)
		}
	}
}

func TestWithAnswersReadsBack(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 300 {
		var s text.Stated
		for _, a := range s.Answers() {
			values := append(a.Words, map[string][]string{"block": {"2"}, "axis": {"1"}, "columns": {"2,4", "3"},
				"group-by": {"1,2"}, "declared": {"ignore", "3,7", "ignore,3"}, "range": {"400-1100", "0.5-9"},
				"relative-to": {"absolute", "tile W1", `"quoted" \ 'text'`, "# no comment", "null", "yes", "- a", "{x}: *y",
					"\u00e9 \u65e5", "1e3", "~"}, "sheet": {"Scan 1", "\u00dcbersicht (2)", "# 3"}}[a.Name]...)
			if random.IntN(2) == 0 {
				*a.To = values[random.IntN(len(values))]
			}
		}
		if s.Check() != nil {
			continue
		}
		name := []string{"bench-1", "true", "#1", "a: b", "\u00c4"}[random.IntN(5)]
		files := []string{"", "*.csv", "pull*/{coupon}-{spot}.csv"}[random.IntN(3)]
		text := placing.WithAnswers(name, files, s)
		p, err := placing.ReadProfile("b.yaml", []byte(text))
		require.NoError(t, err, text)
		assert.Equal(t, name, p.Name)
		assert.Equal(t, s, p.Stated())
		assert.False(t, p.Places())
		assert.Equal(t, files == "", p.Matches("a.txt"))
		assert.True(t, p.Matches("pull0/A-1.csv"))
		assert.Equal(t, text, placing.WithAnswers(p.Name, files, p.Stated()))
	}
}
