package placing_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// openRules opens a map.
func openRules(path string) (*placing.Rules, error) {
	file, err := source.Open(path)
	if err != nil {
		return nil, err
	}
	return placing.OpenMap(file.Name(), file)
}

// openMap opens a map in the folder lab of a folder of its own.
func openMap(t testing.TB, text string) (rules *placing.Rules, folder string) {
	path := onDisk(t, "lab/map.csv", []byte(text))
	rules, err := openRules(path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, rules.Close()) })
	return rules, filepath.Dir(path)
}

// plainRow is a row of a map as encoding/csv has it, with its line.
type plainRow struct {
	line  int
	cells map[string]string
}

// plainRows reads a map by encoding/csv alone: the rows of each file by its path, and the
// paths in the order of first naming.
func plainRows(t testing.TB, folder string, text []byte) (rows map[string][]plainRow, order []string) {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))))
	r.Comment = '#'
	for line := range strings.Lines(strings.TrimPrefix(string(text), "\ufeff")) {
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			if strings.Contains(line, ";") && !strings.Contains(line, ",") {
				r.Comma = ';'
			}
			break
		}
	}
	rows = map[string][]plainRow{}
	var head []string
	for {
		cells, err := r.Read()
		if err == io.EOF {
			return rows, order
		}
		require.NoError(t, err)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if head == nil {
			for _, c := range cells {
				head = append(head, strings.ToLower(c))
			}
			continue
		}
		row := plainRow{cells: map[string]string{}}
		row.line, _ = r.FieldPos(0)
		for i, name := range head {
			switch name {
			case "file":
				cells[i] = strings.ReplaceAll(cells[i], `\`, "/")
			case "column":
			default:
				cells[i] = norm.NFC.String(cells[i])
			}
			row.cells[name] = cells[i]
		}
		if row.cells["unit"] == "%" {
			row.cells["unit"] = "percent"
		}
		path := filepath.Join(folder, row.cells["file"])
		if rows[path] == nil {
			order = append(order, path)
		}
		rows[path] = append(rows[path], row)
	}
}

// number reads a cell that may be empty.
func (r *plainRow) number(t testing.TB, name string) float64 {
	if r.cells[name] == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(r.cells[name], 64)
	require.NoError(t, err)
	return v
}

func (r *plainRow) placing(t testing.TB) placing.Placing {
	whole := func(text string) int {
		n, err := strconv.Atoi(text)
		require.NoError(t, err)
		return n
	}
	c := r.cells
	p := placing.Placing{MapRow: sheet.MapRow{
		File: c["file"], Column: c["column"],
		Place: study.Place{Coupon: c["coupon"], Pull: whole(c["pull"]), Spot: c["spot"], Condition: c["condition"],
			AngleDeg: r.number(t, "angle_deg"), Polarisation: c["polarisation"], Quantity: study.Quantity(c["quantity"]),
			Replicate: 1},
		Stated:  text.Stated{Unit: c["unit"], WavelengthUnit: c["wavelength_unit"], Quantity: c["quantity"]},
		Session: c["session"], Operator: c["operator"], Geometry: c["geometry"],
		OrientationDeg: study.Num(r.number(t, "orientation_deg")),
	}}
	if c["replicate"] != "" {
		p.Replicate = whole(c["replicate"])
	}
	return p
}

// requireRules checks that the rules of a map are the rows that encoding/csv finds.
func requireRules(t testing.TB, rules *placing.Rules, folder string, text []byte) {
	rows, order := plainRows(t, folder, text)
	var files []string
	for path, err := range rules.Files() {
		require.NoError(t, err)
		files = append(files, path)
	}
	require.Equal(t, order, files)
	for path, want := range rows {
		require.True(t, rules.Names(path))
		lines, err := rules.For(path)
		if err != nil {
			requireSaidTwice(t, err, want)
			continue
		}
		require.Len(t, lines, len(want), path)
		for i, l := range lines {
			p := want[i].placing(t)
			require.Equal(t, math.IsNaN(float64(p.OrientationDeg)), math.IsNaN(float64(l.Row.OrientationDeg)))
			if math.IsNaN(float64(p.OrientationDeg)) {
				p.OrientationDeg, l.Row.OrientationDeg = 0, 0
			}
			require.Equal(t, sheet.Line[placing.Placing]{File: rules.Name(), Number: want[i].line, Row: p}, l)
		}
	}
	require.False(t, rules.Names(filepath.Join(folder, "nobody names this")))
	lines, err := rules.For(filepath.Join(folder, "nobody names this"))
	require.NoError(t, err)
	require.Empty(t, lines)
}

// requireSaidTwice checks that rows are refused because two of them say the same.
func requireSaidTwice(t testing.TB, err error, rows []plainRow) {
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	require.Contains(t, refusal.Fault, "the row stands in line")
	at := slices.IndexFunc(rows, func(r plainRow) bool { return r.line == refusal.Line })
	require.Positive(t, at)
	twice := slices.ContainsFunc(rows[:at], func(r plainRow) bool {
		return fmt.Sprint(r.placing(t)) == fmt.Sprint(rows[at].placing(t)) && strings.HasSuffix(refusal.Fault,
			fmt.Sprintf("line %d already", r.line))
	})
	require.True(t, twice, err)
}

// The rows of a map in any order, written in any way that RFC 4180 allows, with comments
// and blank lines among them, are the ones that encoding/csv finds.
func TestMapIsWhatAPlainReaderFinds(t *testing.T) {
	random := rand.New(rand.NewPCG(20, 26))
	pick := func(words ...string) string { return words[random.IntN(len(words))] }
	for range 40 {
		var b strings.Builder
		end := pick("\n", "\r\n")
		b.WriteString(pick("", "\ufeff") + pick("", "# made up"+end, end+end))
		b.WriteString("coupon,file,column,pull,spot,polarisation,angle_deg,unit,quantity,orientation_deg,replicate," +
			"wavelength_unit" + end)
		for i := range 1 + random.IntN(80) {
			file := pick("a.csv", "./a.csv", "b/a.csv", "b/../a.csv", "pull0.zip/roof/a.csv", `"with, comma.csv"`,
				`"with ""quotes"".csv"`, " spaced.csv ", "\u00e9.csv", "e\u0301.csv")
			fmt.Fprintf(&b, "%s,%s,%s,%d,%d,%s,%v,%s,%s,%s,%s,%s%s", pick("A1", "\u00c91", `"A,1"`, `"A ""1"""`), file,
				pick("#2", `"R, 8 deg"`), random.IntN(9), i,
				pick("s", "p", "u", "n"), pick("8", "57.5", "0", "1e1"), pick("", "percent", "fraction"), pick("", "R"),
				pick("", "-30", "0"), pick("", "2"), pick("", "nm", "um", "cm-1"), end)
			b.WriteString(pick("", "", "", end, "# a comment, with \"marks"+end, "#,,,"+end+end))
		}
		rules, folder := openMap(t, b.String())
		requireRules(t, rules, folder, []byte(b.String()))
	}
}

// The cases of RFC 4180, section 2: quoted cells with commas and doubled quotation marks,
// line breaks of both kinds, and none after the last row.
func TestMapQuoted(t *testing.T) {
	rules, folder := openMap(t, mapHead+"\"a, \"\"b\"\".csv\",\"R, 8 "+
		"\"\"deg\"\"\",\"A,1\",0,\"\"\"1\"\"\",8,u,R,\"percent\"\r\n\"c.csv\n\",#2,A1,0,1,8,u,,\r\nd.csv,#2,A1,0,1,8,u,,")
	lines, err := rules.For(filepath.Join(folder, `a, "b".csv`))
	require.NoError(t, err)
	require.Len(t, lines, 1)
	l := lines[0]
	assert.Equal(t, []string{`a, "b".csv`, `R, 8 "deg"`, "A,1", `"1"`, "percent"},
		[]string{l.Row.File, l.Row.Column, l.Row.Coupon, l.Row.Spot, l.Row.Stated.Unit})
	for file, line := range map[string]int{"c.csv": 3, "d.csv": 5} {
		lines, err := rules.For(filepath.Join(folder, file))
		require.NoError(t, err)
		require.Len(t, lines, 1)
		assert.Equal(t, line, lines[0].Number, file)
	}
}

// A path is the same file however it is written.
func TestMapPaths(t *testing.T) {
	rules, folder := openMap(t,
		mapHead+"a.csv,#2,A1,0,1,8,u,R,\n../other/b.csv,#2,A1,0,1,8,u,R,\npull0.zip/roof/c.csv,#2,A1,0,1,8,u,R,\n")
	t.Chdir(filepath.Dir(folder))
	var files []string
	for path, err := range rules.Files() {
		require.NoError(t, err)
		files = append(files, path)
	}
	assert.Equal(t, []string{filepath.Join(folder, "a.csv"), filepath.Join(folder, "../other/b.csv"),
		filepath.Join(folder, "pull0.zip", "roof", "c.csv")}, files)
	relative, err := openRules("lab/map.csv")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, relative.Close()) })
	assert.Equal(t, "lab/map.csv", relative.Name())
	for _, path := range []string{"lab/a.csv", "./lab/../lab/a.csv", filepath.Join(folder, "a.csv"), "other/b.csv",
		"lab/pull0.zip/roof/c.csv"} {
		lines, err := relative.For(path)
		require.NoError(t, err)
		assert.Len(t, lines, 1, path)
		assert.True(t, relative.Names(path), path)
	}
	for path, err := range relative.Files() {
		require.NoError(t, err)
		assert.Equal(t, filepath.Join("lab", "a.csv"), path)
		break
	}
	assert.False(t, relative.Names("a.csv"))
}

func TestOpenMapRefuses(t *testing.T) {
	row := "a.csv,#2,A1,0,1,8,u,R,percent\n"
	for _, c := range []struct{ name, text, fault string }{
		{"empty", "", "the table is empty"},
		{"comments alone", "# nothing\n\n", "the table is empty"},
		{"no rows", mapHead + "# nothing\n", "the map has no rows"},
		{"missing column", "file,column,coupon,pull,spot,angle_deg,polarisation,quantity\n", "1: the column unit is missing"},
		{"unknown column", strings.Replace(mapHead, "unit", "unit,note", 1), `1: there is no column "note" here`},
		{"column twice", strings.Replace(mapHead, "unit", "unit,unit", 1), "1: the column unit stands twice"},
		{"no UTF-8", mapHead + row + "a.csv,#2,\xc9,0,1,8,u,R,\n", "3:10: the byte 0xc9 is not UTF-8 text"},
		{"cut character", mapHead + row + "a.csv,#2,A1,0,1,8,u,R,\xe2\x82", "3:23: the byte 0xe2 is not UTF-8 text"},
		{"control character", mapHead + "\u00e9.csv,#2,A\x01,0,1,8,u,R,\n",
			"2:11: there is a control character here, U+0001"},
		{"column after a mark", "\ufeff\x02", "1:1: there is a control character here, U+0002"},
		{"far down", mapHead + strings.Repeat(row, 5000) + "\xff", "5002:1: the byte 0xff is not UTF-8 text"},
		{"ragged", mapHead + row + "a.csv,#2\n", "3: the row does not have the 9 cells of the header"},
		{"stray quote", mapHead + row + "a.csv,#\"2,A1,0,1,8,u,R,\n", "3: a quotation mark is out of place"},
		{"open quote", mapHead + row + "\"a.csv,#2,A1,0,1,8,u,R,\n", "a quotation mark is out of place"},
		{"over two lines", mapHead + "a.csv,\"R\n8\",A1,0,1,8,u,R,\n", "2: a cell has a line end (LF or CR) or a tab"},
		{"no file", mapHead + ",#2,A1,0,1,8,u,R,\n", "2: column file: the cell is empty"},
		{"file from the root", mapHead + "/a.csv,#2,A1,0,1,8,u,R,\n",
			"2: column file: /a.csv is not relative to the map's folder"},
		{"no column", mapHead + "a.csv,,A1,0,1,8,u,R,\n", "2: column column: the cell is empty"},
		{"no coupon", mapHead + "\n\n# x\na.csv,#2,,0,1,8,u,R,\n", "5: column coupon: the cell is empty"},
		{"pull", mapHead + "a.csv,#2,A1,x,1,8,u,R,\n", `2: column pull: "x" is not a whole number of at least 0`},
		{"no spot", mapHead + "a.csv,#2,A1,0, ,8,u,R,\n", "2: column spot: the cell is empty"},
		{"no angle", mapHead + "a.csv,#2,A1,0,1,,u,R,\n", "2: column angle_deg: the cell is empty"},
		{"angle", mapHead + "a.csv,#2,A1,0,1,90,u,R,\n", "2: column angle_deg: 90 is outside 0 to below 90"},
		{"comma in the angle", mapHead + "a.csv,#2,A1,0,1,\"57,5\",u,R,\n", `2: column angle_deg: "57,5" is not a number`},
		{"polarisation", mapHead + "a.csv,#2,A1,0,1,8,x,R,\n", `2: column polarisation: "x" is not one of s, p, u, n`},
		{"quantity", mapHead + "a.csv,#2,A1,0,1,8,u,A,\n", `2: column quantity: "A" is not one of R, T`},
		{"unit", mapHead + "a.csv,#2,A1,0,1,8,u,R,pct\n", `2: column unit: "pct" is not one of fraction, percent`},
		{"commas and semicolons", strings.Replace(mapHead, ",", ";", 1) + "a.csv;#2,A1,0,1,8,u,R,\n",
			`1: there is no column "file;column" here`},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := onDisk(t, "map.csv", []byte(c.text))
			_, err := openRules(path)
			texttest.Refused(t, err, "map.csv", c.fault)
			_, err = placing.ReadLines("map.csv", []byte(c.text))
			if c.name != "no rows" {
				texttest.Refused(t, err, "map.csv", c.fault)
			}
		})
	}
	folder := t.TempDir()
	_, err := openRules(filepath.Join(folder, "none.csv"))
	texttest.Refused(t, err, "none.csv", "there is no such file")
	_, err = openRules(folder)
	texttest.Refused(t, err, "", "could not read the file")
}

func TestMapSaysARowTwice(t *testing.T) {
	for name, orientation := range map[string]string{"with": "30", "without": ""} {
		t.Run(name, func(t *testing.T) {
			rows := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,orientation_deg\n"
			for _, r := range []string{"a.csv,#2,A1,0,1,8,u,R,,", "b.csv,#2,A1,0,1,8,u,R,,", "# x\na.csv,#2,A1,0,1,8.0,u,R,,"} {
				rows += r + orientation + "\n"
			}
			rules, folder := openMap(t, rows)
			_, err := rules.For(filepath.Join(folder, "a.csv"))
			texttest.Refused(t, err, "map.csv", "5: the row stands in line 2 already")
			lines, err := rules.For(filepath.Join(folder, "b.csv"))
			require.NoError(t, err)
			assert.Len(t, lines, 1)
		})
	}
}

// Several workers may ask at once.
func TestMapIsReadAtOnce(t *testing.T) {
	text := madeUpMap(200, true)
	rules, folder := openMap(t, string(text))
	rows, order := plainRows(t, folder, text)
	var wait sync.WaitGroup
	faults := make([]string, 4)
	for w := range faults {
		wait.Go(func() {
			for i := range order {
				path := order[(i+50*w)%len(order)]
				lines, err := rules.For(path)
				if err != nil || len(lines) != len(rows[path]) || lines[3].Number != rows[path][3].line ||
					lines[3].Row.Coupon != rows[path][3].cells["coupon"] {
					faults[w] = fmt.Sprint(path, lines, err)
				}
			}
		})
	}
	wait.Wait()
	assert.Equal(t, make([]string, 4), faults)
}

// A map that somebody writes to while it is in use is not read on.
func TestMapThatChanges(t *testing.T) {
	path := onDisk(t, "map.csv", madeUpMap(8, false))
	rules, err := openRules(path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, rules.Close()) })
	named := filepath.Join(filepath.Dir(path), "exports/A00000-pull0.csv")
	_, err = rules.For(named)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte("# somebody else's\n"), 0o644))
	_, err = rules.For(named)
	texttest.Refused(t, err, "map.csv", "the map changed while it was in use")
	assert.True(t, rules.Names(named))
	for _, err := range rules.Files() {
		texttest.Refused(t, err, "map.csv", "the map changed while it was in use")
	}
}

// A map with semicolons, names in capitals, backslash paths, % and decomposed codes says what
// the plain map says, also when its rows are read again, and tells what it was read as.
func TestMapIsReadInTheOneWayThatIsPossible(t *testing.T) {
	plain := mapHead + "in/a.csv,#2,\u00c91,0,1,8,u,R,percent\nin/b.csv,#2,\u00c91,0,2,8,u,R,percent\n" +
		"in/a.csv,#3,\u00c91,0,1,60,u,R,percent\n"
	lenient := strings.NewReplacer(",", ";", "in/", `in\`, "percent", "%", "\u00c9", "E\u0301", "coupon",
		"Coupon").Replace(plain)
	rules, folder := openMap(t, lenient)
	want, other := openMap(t, plain)
	for _, name := range []string{"in/a.csv", "in/b.csv"} {
		lines, err := rules.For(filepath.Join(folder, name))
		require.NoError(t, err)
		same, err := want.For(filepath.Join(other, name))
		require.NoError(t, err)
		require.Len(t, lines, len(same))
		for i := range lines {
			assert.Equal(t, fmt.Sprint(same[i].Row), fmt.Sprint(lines[i].Row))
		}
	}
	var files []string
	for f, err := range rules.Files() {
		require.NoError(t, err)
		files = append(files, filepath.ToSlash(f[len(folder)+1:]))
	}
	assert.Equal(t, []string{"in/a.csv", "in/b.csv"}, files)
	var notes []string
	for _, n := range rules.Notes() {
		notes = append(notes, strings.TrimPrefix(n, rules.Name()+":"))
	}
	assert.Equal(t, []string{" semicolons separate the cells", "1: the column Coupon is read as coupon",
		`2: file in\a.csv is read as in/a.csv, and 2 more in the same way`,
		"2: coupon, in decomposed Unicode, E\u03011 is read as \u00c91, and 2 more in the same way",
		"2: unit % is read as percent, and 2 more in the same way"}, notes)
	assert.Empty(t, want.Notes())
}
