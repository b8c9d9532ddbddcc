package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Outputs are compared with files in testdata/golden, which go test ./cmd/wane -run Golden -update
// writes: look at what git says has changed there as at code.

// goldenCommands are the command lines whose outputs are kept, by the names of the files.
var goldenCommands = map[string]string{
	"quick":        "quick testdata/exports/g07-patchy.csv --back matched",
	"quick-each":   "quick testdata/exports/g07-fresh.csv testdata/exports/g07-patchy.csv --back matched --each",
	"results":      "results",
	"results-by":   "results --by coating",
	"check":        "check",
	"trace":        "trace A01 --pull 1 --spot 1",
	"trace-export": "trace --export A01-pull0.csv",
}

// goldenFigures are the command lines that draw, by the names of the figures.
var goldenFigures = map[string]string{
	"fit.svg":    "quick testdata/exports/g07-patchy.csv --back matched --range 500-520 --figure fit.svg",
	"change.svg": "results --by coating --figure change.svg",
}

// goldenMasks are what differs from run to run, and what stands for it in the files: the times at
// which the study was made, the program that made it, and the folder of the test.
var goldenMasks = []struct {
	what *regexp.Regexp
	mask string
}{
	{regexp.MustCompile(`\b20\d\d-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z`), "TIME"},
	{regexp.MustCompile(`\bwane [^"\n]*, go1[.\d]+`), "PROGRAM"},
	// The foot of a figure has the day and the hash of the log, and its letters need outlines: those of the font.
	{regexp.MustCompile(`(?s)\nn = .*?</desc>`), "\nFOOT</desc>"},
	{regexp.MustCompile(`(<g [^>]*class="foot".*</g>\n)+`), "FOOT\n"},
	{regexp.MustCompile(`(?s)<defs>.*</defs>`), "LETTERS"},
}

// goldenDigits is the relative difference up to which two numbers of nine digits or more are equal.
// Where the processor fuses multiplication and addition, as arm64 does, fits end at values that are
// otherwise in the last digits: with GOAMD64=v3 by up to 1e-8, to which a factor of ten is added.
// What is printed with fewer digits must be equal.
const goldenDigits = 1e-7

func TestGolden(t *testing.T) {
	goldenStudy(t)
	for name, line := range goldenCommands {
		for _, format := range []string{"json", "csv", "table"} {
			t.Run(name+"."+format, func(t *testing.T) {
				code, stdout, stderr := wane(t, append(strings.Fields(line), "--format", format)...)
				require.Equal(t, exitDone, code, stderr)
				requireGolden(t, name+"."+format, stdout, sameButDigits)
			})
		}
	}
	for name, line := range goldenFigures {
		t.Run(name, func(t *testing.T) {
			requireDone(t, line)
			figure, err := os.ReadFile(name)
			require.NoError(t, err)
			requireGolden(t, name, string(figure), sameFigure)
		})
	}
}

// goldenFolder is where the outputs lie, absolute since a test may work in another folder.
var goldenFolder = func() string {
	folder, err := filepath.Abs("testdata/golden")
	if err != nil {
		panic(err)
	}
	return folder
}()

// goldenStudy makes a small study of a part of what wane demo writes: one exposed coupon of two
// coatings, a control and a blank, up to pull 2. It is the only study in the folder to which the
// test changes.
func goldenStudy(t *testing.T) {
	t.Helper()
	exports, err := filepath.Abs("../../testdata/exports")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	t.Setenv("WANE_STUDY", "golden.wane")
	t.Setenv("COLUMNS", "100") // the width of tables
	require.NoError(t, os.CopyFS("testdata/exports", os.DirFS(exports)))
	require.NoError(t, demoIn("wane-demo"))
	requireKept(t, "wane-demo/coupons.csv", `^(coupon|A01|AK1|B01|G01),`)
	requireKept(t, "wane-demo/map.csv", `^file,|^exports/(A01|AK1|B01|G01)-pull[012]\.csv,`)
	for _, line := range []string{
		"new golden.wane",
		"enrol wane-demo/coupons.csv wane-demo/exposures.csv wane-demo/pulls.csv",
		"enrol wane-demo/instruments.csv wane-demo/standards.csv wane-demo/sessions.csv wane-demo/check-readings.csv",
		"intake --map wane-demo/map.csv",
		"fit",
	} {
		requireDone(t, line)
	}
}

func requireDone(t *testing.T, line string) {
	t.Helper()
	code, _, stderr := wane(t, strings.Fields(line)...)
	require.Equal(t, exitDone, code, "%s: %s", line, stderr)
}

// requireKept leaves the lines of a file that match.
func requireKept(t *testing.T, file, pattern string) {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	var kept strings.Builder
	for line := range strings.Lines(string(data)) {
		if regexp.MustCompile(pattern).MatchString(line) {
			kept.WriteString(line)
		}
	}
	require.NoError(t, os.WriteFile(file, []byte(kept.String()), 0o644))
}

// requireGolden compares an output with the one that is kept, or with -update keeps it, if it is another one.
func requireGolden(t *testing.T, file, got string, same func(want, got string) bool) {
	t.Helper()
	for _, m := range goldenMasks {
		got = m.what.ReplaceAllString(got, m.mask)
	}
	path := filepath.Join(goldenFolder, file)
	want, err := os.ReadFile(path)
	switch {
	case err == nil && same(string(want), got):
	case *update:
		require.NoError(t, os.MkdirAll(goldenFolder, 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	default:
		require.NoError(t, err)
		assert.Equal(t, string(want), got, "go test ./cmd/wane -run Golden -update, if it is meant")
	}
}

var numeral = regexp.MustCompile(`-?\d+(\.\d+)?(e[-+]\d+)?`)

// sameButDigits reports whether two texts are equal, but for the last digits of long numbers.
func sameButDigits(want, got string) bool {
	return numeral.ReplaceAllStringFunc(want, shortOnly) == numeral.ReplaceAllStringFunc(got, shortOnly) &&
		sameNumbers(want, got, func(x float64) float64 { return goldenDigits * math.Abs(x) })
}

// sameNumbers reports whether the numbers in two texts are equal within a tolerance, or as texts.
func sameNumbers(want, got string, tolerance func(float64) float64) bool {
	a, b := numeral.FindAllString(want, -1), numeral.FindAllString(got, -1)
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		x, errX := strconv.ParseFloat(a[i], 64)
		y, errY := strconv.ParseFloat(b[i], 64)
		if a[i] != b[i] && (errX != nil || errY != nil || !(math.Abs(x-y) <= tolerance(x))) {
			return false
		}
	}
	return true
}

// shortOnly keeps a number of up to eight digits; longer ones are compared as numbers.
func shortOnly(number string) string {
	digits, _, _ := strings.Cut(number, "e")
	if len(strings.Trim(strings.ReplaceAll(digits, ".", ""), "-0")) <= 8 {
		return number
	}
	return "#"
}

// goldenPoints is the distance, in points of 1/72 inch, up to which two marks of a figure are in the
// same place: some 0.007 mm, which nobody sees.
const goldenPoints = 0.02

var tag = regexp.MustCompile(`<[^>]*>`)

// sameFigure reports whether two SVG figures have the same elements with the same texts, and their
// coordinates are equal but for goldenPoints.
func sameFigure(want, got string) bool {
	if tag.ReplaceAllString(want, "<>") != tag.ReplaceAllString(got, "<>") {
		return false
	}
	a, b := tag.FindAllString(want, -1), tag.FindAllString(got, -1)
	for i := range a {
		if numeral.ReplaceAllString(a[i], "#") != numeral.ReplaceAllString(b[i], "#") ||
			!sameNumbers(a[i], b[i], func(float64) float64 { return goldenPoints }) {
			return false
		}
	}
	return true
}

func TestSameFigure(t *testing.T) {
	const figure = `<title>0.5 pp</title><path d="M10.5,20L30,40.25" style="stroke:#1e40af"/>`
	for got, same := range map[string]bool{
		figure: true,
		`<title>0.5 pp</title><path d="M10.51,20L30,40.24" style="stroke:#1e40af"/>`:    true,
		`<title>0.5 pp</title><path d="M10.53,20L30,40.25" style="stroke:#1e40af"/>`:    false,
		`<title>0.51 pp</title><path d="M10.5,20L30,40.25" style="stroke:#1e40af"/>`:    false,
		`<title>0.5 pp</title><path d="M10.5,20L30,40.25Z" style="stroke:#1e40af"/>`:    false,
		`<title>0.5 pp</title><path d="M10.5,20L30,40.25" style="stroke:#2e40af"/>`:     false,
		`<title>0.5 pp</title><path d="M10.5,20L30,40.25" style="stroke:#1e40af"/><g/>`: false,
	} {
		assert.Equal(t, same, sameFigure(figure, got), got)
	}
}

func TestSameButDigits(t *testing.T) {
	for _, c := range []struct {
		want, got string
		same      bool
	}{
		{"a 0.123456789012 b", "a 0.123456789013 b", true},
		{"a 0.123456789012 b", "a 0.123466789012 b", false},
		{"a 0.123456789012 b", "a 0.12345679 b", false},
		{"-1.23456789012e-05", "1.23456789012e-05", false},
		{"0.1234", "0.1235", false},
		{"0.1234", "0.1234", true},
	} {
		assert.Equal(t, c.same, sameButDigits(c.want, c.got), "%s | %s", c.want, c.got)
	}
}
