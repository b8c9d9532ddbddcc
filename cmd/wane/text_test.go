package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// wane runs a command line and returns what it printed.
func wane(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, said bytes.Buffer
	code = run(context.Background(), args, &out, &said)
	return code, out.String(), said.String()
}

// hiddenStudy is a study of version 5, made by the program of that time: an operator
// "ada\nbob", a coupon "A\u200b1", a supplier and a heading with U+202E, and a review for
// the reason "x\n9999  2026-01-01T00:00:00Z  eve  review  forged\x1b[2J".
func hiddenStudy(t *testing.T) string {
	t.Helper()
	packed, err := os.Open("testdata/hidden.wane.gz")
	require.NoError(t, err)
	defer func() { require.NoError(t, packed.Close()) }()
	r, err := gzip.NewReader(packed)
	require.NoError(t, err)
	data, err := io.ReadAll(r)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "hidden.wane")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	return path
}

// hidesNothing checks that a text for people holds no character that hides something, but
// the ends of its lines.
func hidesNothing(t *testing.T, text string) {
	t.Helper()
	assert.NotContains(t, strings.Map(func(c rune) rune {
		if c != '\n' && study.Hides(c) {
			return '\ufffd'
		}
		return c
	}, text), "\ufffd")
}

// What a study took in before such texts were refused is still shown safely, and a reason
// forges no line of the log. JSON gives it as it is.
func TestOldTextsAreShownSafely(t *testing.T) {
	path := hiddenStudy(t)
	t.Setenv("WANE_OPERATOR", "ada")
	for _, line := range []string{"log", "results", "review", "check", "verify", "trace A\u200b1",
		"trace --export e.csv", "results --by coating", "fit", "results", "log"} {
		code, stdout, stderr := wane(t, append(strings.Split(line, " "), "--study", path)...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
		hidesNothing(t, stdout+stderr)
		for l := range strings.Lines(stdout) {
			assert.False(t, strings.HasPrefix(l, "9999") || strings.HasPrefix(l, "bob"), "%s forges %q", line, l)
		}
	}
	_, stdout, _ := wane(t, "log", "--study", path)
	assert.Contains(t, stdout, `"ada\nbob"`)
	assert.Contains(t, stdout, `"x\n9999  2026-01-01T00:00:00Z  eve  review  forged\x1b[2J"`)
	_, stdout, _ = wane(t, "results", "--study", path)
	assert.Contains(t, stdout, `"A\u200b1"`)
	_, stdout, _ = wane(t, "trace", "A\u200b1", "--study", path)
	assert.Contains(t, stdout, `column 2 "%R \u202ex"`)
	code, stdout, _ := wane(t, "trace", "A\u200b1", "--study", path, "--format", "json")
	require.Equal(t, exitDone, code)
	var rows []map[string]any
	require.NoError(t, json.Unmarshal([]byte(stdout), &rows))
	at := slices.IndexFunc(rows, func(row map[string]any) bool { return row["kind"] == "reading" })
	require.GreaterOrEqual(t, at, 0)
	assert.Equal(t, "%R \u202ex", rows[at]["heading"])
	assert.Equal(t, "x\n9999  2026-01-01T00:00:00Z  eve  review  forged\x1b[2J", rows[at]["review_why"])
	code, _, stderr := wane(t, "trace", "A\u202e\n2", "--study", path)
	assert.Equal(t, exitRefused, code)
	hidesNothing(t, stderr)
	assert.Len(t, strings.Split(strings.TrimSpace(stderr), "\n"), 2)
}

// What a person states for the log is refused before anything is done.
func TestWordsForTheLogHideNothing(t *testing.T) {
	path := hiddenStudy(t)
	t.Setenv("WANE_OPERATOR", "ada")
	_, before, _ := wane(t, "log", "--study", path, "--format", "json")
	for _, why := range []string{"x\n9999  forged", "x\x1b[2J", "x\u202ey", "\u200b", "a\u2028b", "a\ufeffb", "a\xffb",
		"Mu\u0308ller"} {
		code, stdout, stderr := wane(t, "review", "1", "--release", "--why", why, "--study", path)
		assert.Equal(t, exitRefused, code)
		assert.Empty(t, stdout)
		assert.Contains(t, stderr, "wane: the reason: ")
		hidesNothing(t, stderr)
	}
	for _, who := range []string{"ada\n9999  eve", "a\u202eda", "ada\x1b[1m", "ada\u200b", "a\u0308da", "ada\u3164",
		"ada\u00a0b"} {
		t.Setenv("WANE_OPERATOR", who)
		for _, line := range []string{"review 1 --release --why seen --study " + path, "fit --study " + path,
			"new " + path + "2", "demo " + path + ".demo"} {
			code, stdout, stderr := wane(t, strings.Split(line, " ")...)
			assert.Equal(t, exitRefused, code)
			assert.Empty(t, stdout)
			assert.Contains(t, stderr, "wane: the name of the operator: ")
			hidesNothing(t, stderr)
		}
		assert.NoFileExists(t, path+"2")
		assert.NoDirExists(t, path+".demo")
	}
	t.Setenv("WANE_OPERATOR", "ada")
	code, _, stderr := wane(t, "review", "1", "--release", "--why", "a\u200bb", "--coupon", "x", "--study", path)
	assert.Equal(t, exitUsage, code, stderr)
	_, after, _ := wane(t, "log", "--study", path, "--format", "json")
	assert.Equal(t, before, after)
}

// A study gets no name that hides something or looks like another one.
func TestNewStudiesHaveReadableNames(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	require.NoError(t, os.Mkdir("u\u0308", 0o755))
	for _, name := range []string{"a\nb.wane", "a\u202eb.wane", "a\u0308.wane", "\u3164.wane", "a\u00a0b.wane",
		"u\u0308/\x1b.wane"} {
		code, stdout, stderr := wane(t, "new", name)
		assert.Equal(t, exitRefused, code, "%+q", name)
		assert.Empty(t, stdout)
		assert.Contains(t, stderr, ": the name of the study: ")
		assert.Len(t, strings.Split(strings.TrimSpace(stderr), "\n"), 2)
		assert.NoFileExists(t, name)
	}
	for _, name := range []string{"\u00e4 b.wane", "u\u0308/a.wane"} { // folders are as they are
		code, _, stderr := wane(t, "new", name)
		assert.Equal(t, exitDone, code, stderr)
	}
}

// Names of files and headings come from others: they are shown in their line, with escapes
// for what cannot be seen, in refusals, notes, previews, explanations, tables and titles.
func TestNamesOfOthersStayInTheirLine(t *testing.T) {
	data, err := os.ReadFile("../../testdata/exports/g07-fresh.csv")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	const name = "e\x1b[2J\nheld reading 7\u202e.csv"
	const shown = `e\x1b[2J\nheld reading 7\u202e.csv`
	require.NoError(t, os.MkdirAll("in", 0o755))
	require.NoError(t,
		os.WriteFile(filepath.Join("in", name), bytes.Replace(data, []byte("8 deg"), []byte("8 deg\u200b"), 1), 0o600))
	for file, text := range map[string]string{
		"coupons.csv": "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n" +
			"E1,exposed,m,K,1,soda-lime,3.2,matched,roof\n",
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\n",
		"b.yaml": "profile: b\nfiles: \"*.csv\"\ncurves:\n" +
			"- {column: \"#2\", coupon: E1, pull: 0, spot: 1, angle: 8, polarisation: u}\n",
		"map.csv":  "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\nin/x.csv,#2,E1,0,1,8,u,R,percent\n",
		"in/x.csv": "nm,%R\n400,4\n401,4\n", "y.csv": string(data),
	} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	for _, c := range []struct {
		line  []string
		code  int
		shows string
	}{
		{[]string{"new", "s.wane"}, exitDone, ""},
		{[]string{"enrol", "coupons.csv", "exposures.csv", "pulls.csv"}, exitDone, ""},
		{[]string{"intake", "in", "--map", "map.csv", "--preview"}, exitDone, ""},
		{[]string{"intake", "in", "--map", "map.csv"}, exitDone, shown},
		{[]string{"intake", "in/" + name, "--profile", "b.yaml", "--preview"}, exitDone, shown},
		{[]string{"intake", "in/" + name, "--profile", "b.yaml", "--explain"}, exitDone, shown},
		{[]string{"intake", "in/" + name, "--map", "map.csv"}, exitRefused, shown},
		{[]string{"intake", "in/none" + name, "--profile", "b.yaml"}, exitRefused, shown},
		{[]string{"profile", "check", "b.yaml", "in/" + name}, exitDone, shown},
		{[]string{"quick", "in/" + name, "--back", "matched"}, exitDone, shown},
		{[]string{"quick", "in/" + name, "--back", "matched", "--unit", "fraction"}, exitRefused, shown},
		{[]string{"quick", "in/" + name, "--back", "matched", "--explain"}, exitDone, shown},
		{[]string{"quick", "in/" + name, "y.csv", "--each", "--back", "matched", "--intervals", "profile"}, exitDone, shown},
		{[]string{"enrol", "in/" + name}, exitRefused, shown},
		{[]string{"measure", "in/" + name}, exitRefused, shown},
		{[]string{"export", "--spectra", name}, exitRefused, shown},
		{[]string{"trace", "--export", "x.csv"}, exitDone, ""},
		{[]string{"new", "in/" + name}, exitRefused, shown},
		{[]string{"backup", "in/b" + name}, exitDone, shown},
		{[]string{"export", "--originals", "in/d" + name}, exitDone, shown},
		{[]string{"results", "--format", name}, exitUsage, shown},
		{[]string{name}, exitUsage, shown},
		{[]string{"results", "--" + name}, exitUsage, shown},
	} {
		code, stdout, stderr := wane(t, c.line...)
		require.Equal(t, c.code, code, "%q: %s%s", c.line, stdout, stderr)
		hidesNothing(t, stdout+stderr)
		assert.Contains(t, stdout+stderr, c.shows, "%q", c.line)
		for l := range strings.Lines(stdout + stderr) {
			assert.False(t, strings.HasPrefix(l, "held reading 7"), "%q: %q", c.line, l)
		}
	}
}

// CSV shows names of files and headings with escapes for what cannot be seen, and a map
// takes such a cell for the name itself.
func TestNamesInCSVHideNothingAndComeBack(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	const name, heading = "e\x1b[2J\nheld 7\u202e\ufeff.csv", "%R \u200bx\u00ad"
	rows := "nm," + heading + "\n"
	for nm := 400; nm <= 410; nm++ {
		rows += fmt.Sprintf("%d,4.%d\n", nm, nm%7)
	}
	for file, text := range map[string]string{
		name: rows, "exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"coupons.csv": couponHead + "E1,exposed,m,K,1,soda-lime,3.2,matched,roof\n",
		"pulls.csv":   "exposure,pull,dose,date\nroof,0,0,2026-01-01\n",
		"b.yaml": "profile: b\nfiles: \"*.csv\"\ncurves:\n" +
			"- {column: \"#2\", coupon: E1, pull: 0, spot: 1, angle: 8, polarisation: u}\n",
	} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	csvOf := func(args ...string) string {
		code, stdout, stderr := wane(t, args...)
		require.Equal(t, exitDone, code, "%q: %s", args, stderr)
		hidesNothing(t, stdout)
		return stdout
	}
	csvOf("new", "s.wane")
	csvOf("enrol", "coupons.csv", "exposures.csv", "pulls.csv")
	csvOf("intake", name, "--profile", "b.yaml")
	csvOf("fit")
	spectra := cellsOf(t, csvOf("export", "--spectra"))
	assert.Equal(t, strconv.Quote(name), spectra[0]["export"])
	csvOf("log", "--format", "csv")
	csvOf("quick", name, "--back", "matched", "--angle", "8", "--format", "csv", "--each")
	traced := cellsOf(t, csvOf("trace", "E1", "--format", "csv"))
	at := slices.IndexFunc(traced, func(row map[string]string) bool { return row["kind"] == "reading" })
	require.GreaterOrEqual(t, at, 0)
	reading := traced[at]
	assert.Equal(t, strconv.Quote(name), reading["file"])
	assert.Equal(t, strconv.Quote(heading), reading["heading"])

	table := func(cells ...string) (text string) {
		for i, cell := range cells {
			cells[i] = `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
		}
		return strings.Join(cells, ",") + "\n"
	}
	const head = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"
	require.NoError(t, os.WriteFile("map.csv",
		[]byte(head+table(reading["file"], reading["heading"], "E1", "0", "1", "8", "u", "R", "percent")), 0o600))
	assert.Contains(t, csvOf("intake", "--map", "map.csv"), "known already: 1;")
	require.NoError(t, os.WriteFile("map.csv",
		[]byte(head+table(reading["file"], "#2", `"E\u200b1"`, "0", "1", "8", "u", "R", "percent")), 0o600))
	code, _, stderr := wane(t, "intake", "--map", "map.csv")
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, stderr, `map.csv:2: column coupon: "E\u200b1" contains U+200B`,
		"a code is refused however it is written")
}

// What was taken for a comment is said by enrol, measure and intake.
func TestCommentsAreReported(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	const coupon = ",exposed,m,K,1,soda-lime,3.2,matched,roof\n"
	for file, text := range map[string]string{
		"coupons.csv":   couponHead + "R1" + coupon + "#2" + coupon + "\"#3\"" + coupon,
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\n",
		"m.csv": measuredHead +
			"R1,0,1,haze,1,,percent,haze meter,2026-01-02,,,\n#2,0,1,haze,1,,percent,haze meter,2026-01-02,,,\n",
		"map.csv": "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\ne.csv,#2,R1,0,1,8,u,R,percent\n" +
			"#e.csv,#3,\"#3\",0,1,8,u,R,percent\n",
		"e.csv": "nm,%R,%R b\n400,4.1,4.2\n401,4.3,4.5\n",
	} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	for _, c := range []struct{ line, note string }{
		{"new s.wane", ""}, {"enrol coupons.csv exposures.csv pulls.csv", "note coupons.csv:3 begins with # "},
		{"measure m.csv", "note m.csv:3 begins with # "},
		{"intake --map map.csv --preview", "note map.csv:3 begins with # "},
		{"intake --map map.csv", "note map.csv:3 begins with # "},
	} {
		code, stdout, stderr := wane(t, strings.Split(c.line, " ")...)
		require.Equal(t, exitDone, code, "%s: %s", c.line, stderr)
		if c.note == "" {
			continue
		}
		assert.Equal(t, 1, strings.Count(stdout+stderr, c.note), "%s: %s%s", c.line, stdout, stderr)
	}
}

// An intake keeps a profile with the first export that it takes in by it, and not if every
// export is refused.
func TestProfilesThatTookNothingInAreNotKept(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	for file, text := range map[string]string{
		"coupons.csv":   couponHead + "E1,exposed,m,K,1,soda-lime,3.2,matched,roof\n",
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\n",
		"b.yaml": "profile: b\nfiles: \"{c}.csv\"\ncurves:\n" +
			"- {column: \"#2\", coupon: \"{c}\", pull: 0, spot: 1, angle: 8, polarisation: u}\n",
		"X9.csv": "nm,%R\n400,4.1\n401,4.3\n", "E1.csv": "nm,%R\n400,4.2\n401,4.4\n",
	} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	for _, line := range []string{"new s.wane", "enrol coupons.csv exposures.csv pulls.csv"} {
		code, _, stderr := wane(t, strings.Split(line, " ")...)
		require.Equal(t, exitDone, code, stderr)
	}
	_, before, _ := wane(t, "log", "--format", "csv")
	code, _, stderr := wane(t, "intake", "X9.csv", "--profile", "b.yaml")
	require.Equal(t, exitRefused, code, stderr)
	_, after, _ := wane(t, "log", "--format", "csv")
	assert.Equal(t, before, after)
	code, _, _ = wane(t, "profile", "show", "b")
	assert.Equal(t, exitRefused, code, "it is not in the study")

	code, _, stderr = wane(t, "intake", "X9.csv", "E1.csv", "--profile", "b.yaml")
	require.Equal(t, exitRefused, code, stderr)
	_, after, _ = wane(t, "log", "--format", "csv")
	assert.Contains(t, after, "took in 1 export with 1 curve; kept version 1 of profile b")
	_, stdout, _ := wane(t, "trace", "E1", "--format", "csv")
	rows := cellsOf(t, stdout)
	assert.Equal(t, []string{"b", "1"}, []string{rows[0]["profile"], rows[0]["profile_version"]})
}

func TestWordsOfUsage(t *testing.T) {
	code, _, stderr := wane(t, "backup")
	assert.Equal(t, exitUsage, code)
	assert.Contains(t, stderr, "wane: wane backup takes 1 argument, not 0\n")
	_, _, stderr = wane(t, "quick", "x.csv", "--back", "matched", "--figure", "x.bmp")
	assert.Contains(t, stderr, "wane: --figure x.bmp: the name of a figure ends in ")
}

// A spreadsheet shows every text of our CSV files as text, JSON has it as it is, and
// cells of results and measurements make tables that are known already.
func TestTablesOutAndIn(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "=cmd")
	codes := []string{"=1+1", "+41", "-x", "@A", "#7", "'=q", "''", "it's", "plain", "'"}
	writeMarked(t, codes)
	for _, line := range []string{"new s.wane", "enrol coupons.csv exposures.csv pulls.csv", "intake --map map.csv",
		"measure =m.csv", "fit"} {
		code, _, stderr := wane(t, strings.Split(line, " ")...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
	}
	listed := map[string][]map[string]string{}
	for _, line := range []string{"results", "log", "trace --export =e.csv", "results --by coating", "export --spectra",
		"export --measurements"} {
		args := strings.Split(line, " ")
		if args[0] != "export" {
			args = append(args, "--format", "csv")
		}
		code, stdout, stderr := wane(t, args...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
		listed[line] = cellsOf(t, stdout)
		for _, row := range listed[line] {
			for column, cell := range row {
				if cell != "" && strings.ContainsRune("=+-@#", rune(cell[0])) {
					_, err := strconv.ParseFloat(cell, 64)
					assert.NoError(t, err, "%s: %s is no number and begins with a mark: %s", line, column, cell)
				}
			}
		}
	}
	assert.Equal(t, "-0.004", listed["export --spectra"][0]["value"], "a number is never touched")
	assert.Equal(t, "'=cmd", listed["log"][0]["who"])
	assert.Equal(t, "'=e.csv", listed["trace --export =e.csv"][0]["file"])

	var inTables []string
	again, measured := couponHead, measuredHead
	for _, r := range listed["results"] {
		inTables = append(inTables, r["coupon"])
		again += strings.Join([]string{r["coupon"], r["role"], r["supplier"], r["coating"], r["lot"], "soda-lime", "3.2",
			"matched", r["exposure"]}, ",") + "\n"
	}
	for _, m := range listed["export --measurements"] {
		measured += strings.Join([]string{m["coupon"], m["pull"], m["spot"], m["quantity"], m["value"], m["u"], m["unit"],
			m["method"], m["date"], m["operator"], "", `"` + m["note"] + `"`}, ",") + "\n"
	}
	assert.ElementsMatch(t, []string{"'=1+1", "'+41", "'-x", "'@A", "'#7", "''=q", "'''", "it's", "plain", "'"}, inTables)
	require.NoError(t, os.WriteFile("again.csv", []byte(again), 0o600))
	require.NoError(t, os.WriteFile("measured.csv", []byte(measured), 0o600))
	code, stdout, stderr := wane(t, "enrol", "again.csv")
	require.Equal(t, exitDone, code, stderr)
	assert.Contains(t, stdout, "enrolled: nothing new")
	code, stdout, stderr = wane(t, "measure", "measured.csv")
	require.Equal(t, exitDone, code, stderr)
	assert.Contains(t, stdout, "taken in: 0 values with 0 pictures from 0 tables; known already: 10")

	_, stdout, _ = wane(t, "results", "--format", "json")
	var results []map[string]any
	require.NoError(t, json.Unmarshal([]byte(stdout), &results))
	var inJSON []any
	for _, r := range results {
		inJSON = append(inJSON, r["coupon"])
	}
	for _, c := range codes {
		assert.Contains(t, inJSON, c)
	}
}

const (
	couponHead   = "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"
	measuredHead = "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n"
)

// writeMarked writes made-up tables and an export of coupons with these codes, and other
// texts that begin with what a spreadsheet takes for a formula.
func writeMarked(t *testing.T, codes []string) {
	t.Helper()
	coupons, measured, rows := couponHead, measuredHead, "nm"
	places := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,operator\n"
	for i, code := range codes {
		cell := study.SheetText(code)
		coupons += fmt.Sprintf("%s,exposed,%s,'-K,'+1,soda-lime,3.2,matched,'=roof\n", cell,
			study.SheetText(codes[len(codes)-1-i]))
		places += fmt.Sprintf("'=e.csv,#%d,%s,0,'=s,8,u,R,percent,'@m,'=cmd\n", i+2, cell)
		measured += fmt.Sprintf("%s,0,'=s,contact_angle,%d,,degrees,'-gauge,2026-01-02,'=cmd,,\"'=note, of two\"\n", cell, i)
		rows += fmt.Sprintf(",%%R %d", i)
	}
	for nm := 400; nm <= 402; nm++ {
		rows += fmt.Sprintf("\n%d%s", nm, strings.Repeat(",-0.4", len(codes)))
	}
	for file, text := range map[string]string{"coupons.csv": coupons, "map.csv": places, "=e.csv": rows + "\n",
		"=m.csv":        measured,
		"exposures.csv": "exposure,protocol,site,dose_unit,start\n'=roof,'+rack,'@nowhere,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\n'=roof,0,0,2026-01-01\n"} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
}

// cellsOf reads a CSV file with a header.
func cellsOf(t *testing.T, text string) (rows []map[string]string) {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, column := range all[0] {
			row[column] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}
