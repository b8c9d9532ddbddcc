package intake_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// jcamp writes a block of made-up data: these records, in which later ones
// replace earlier ones of the same label and an empty value drops one, around the
// rows.
func jcamp(rows string, records ...string) string {
	all := []string{
		"TITLE= G07", "JCAMP-DX= 4.24", "DATA TYPE= UV/VIS SPECTRUM", "ORIGIN= made up", "OWNER= nobody",
		"XUNITS= NANOMETERS", "YUNITS= REFLECTANCE", "XFACTOR= 1", "YFACTOR= 0.01",
		"FIRSTX= 400", "LASTX= 409", "NPOINTS= 10", "DELTAX= 1", "FIRSTY= 0.01", "MINY= -0.03", "MAXY= 0.03",
		"XYDATA= (X++(Y..Y))",
	}
	for _, record := range records {
		label, value, _ := strings.Cut(record, "=")
		at := len(all)
		if strings.HasPrefix(all[at-1], "XYDATA") {
			at--
		}
		for i, before := range all {
			if l, _, _ := strings.Cut(before, "="); l == label {
				at = i
				all = append(all[:i], all[i+1:]...)
				break
			}
		}
		if value != "" {
			all = append(all[:at], append([]string{record}, all[at:]...)...)
		}
	}
	return "##" + strings.Join(all, "\n##") + "\n" + rows + "\n##END=\n"
}

// The table of forms in McDonald and Wilks (1988), the ordinates 1 2 3 3 2 1 0 -1
// -2 -3, and each form of it there, from memory. The abscissae are ours.
var classic = map[string]string{
	"AFFN":               "400 1 2 3 3 2 1 0 -1 -2 -3",
	"AFFN in columns":    "400   1   2   3   3   2   1   0  -1  -2  -3",
	"AFFN in two rows":   "400 1 2 3 3 2\n405 1 0 -1 -2 -3",
	"AFFN with points":   "400.0 1.0 2.0 3.0 3.0 2.0 1.0 0.0 -1.0 -2.0 -3.0",
	"AFFN, exponents":    "4.00E+02 1E+00 2E+00 30E-01 3E+00 .2E+1 1 0 -1 -2 -3",
	"PAC":                "400+1+2+3+3+2+1+0-1-2-3",
	"PAC with exponents": "400+1E+00+2+3+3+2+10E-01+0-1-2-3",
	"SQZ":                "400ABCCBA@abc",
	"SQZ in two rows":    "400ABCCB\n405A@abc",
	"SQZ with DUP":       "400ABCTBA@abc",
	"DIF":                "400AJJ%jjjjjj",
	"DIF, plain first":   "400 1JJ%jjjjjj",
	"DIF with a check":   "400AJJ%jj\n405Ajjjj\n409c",
	"DIFDUP":             "400AJT%jX",
	"DIFDUP, plain":      "400 1JT%jX",
	"DIFDUP with checks": "400AJT%jT\n405AjV\n409c",
}

func TestClassicFormsAreOne(t *testing.T) {
	for name, rows := range classic {
		export, err := intake.Read(name, []byte(jcamp(rows)), text.Stated{})
		require.NoError(t, err, name)
		form, _, _ := strings.Cut(strings.NewReplacer(",", "", " with DUP", "~DUP").Replace(name), " ")
		assert.Equal(t, "JCAMP-DX ("+strings.ReplaceAll(form, "~", " with ")+")", export.Separator, name)
		require.Len(t, export.Spectra, 1, name)
		s := export.Spectra[0]
		assert.Equal(t, []float64{400, 401, 402, 403, 404, 405, 406, 407, 408, 409}, s.NM, name)
		assert.Equal(t, []float64{0.01, 0.02, 0.03, 0.03, 0.02, 0.01, 0, -0.01, -0.02, -0.03}, s.Values, name)
	}
}

// A letter E is a digit beside other letters: 812E45K is the abscissa 812, the
// ordinate 545 and the difference 2.
func TestLetterEIsADigit(t *testing.T) {
	for _, rows := range []string{"812E45K", "812E45E47", "812E45K\n813E47"} {
		export, err := intake.Read("g.jdx", []byte(jcamp(rows, "FIRSTX= 812", "LASTX= 813", "NPOINTS= 2", "YFACTOR= 0.0001",
			"FIRSTY= 0.0545", "MINY= 0.0545", "MAXY= 0.0547")), text.Stated{})
		require.NoError(t, err, rows)
		assert.Equal(t, []float64{0.0545, 0.0547}, export.Spectra[0].Values, rows)
	}
}

// readFixture reads a made-up file.
func readFixture(t testing.TB, name string) *intake.Export {
	data, err := os.ReadFile(filepath.Join("testdata", "jcamp", name))
	require.NoError(t, err)
	export, err := intake.Read(name, data, text.Stated{})
	require.NoError(t, err)
	return export
}

// Five files written by convert-to-jcamp 7.0.1 (node write.mjs in
// testdata/jcamp/crossread), one a form, hold the numbers that it was given, to
// the last bit.
func TestReadsWhatAnotherProgramWrote(t *testing.T) {
	var want struct{ NM, TenThousandths []float64 }
	data, err := os.ReadFile(filepath.Join("testdata", "jcamp", "crossread", "written.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &want))
	require.Len(t, want.NM, 401)
	fractions := make([]float64, len(want.NM))
	for i, v := range want.TenThousandths {
		fractions[i] = v / 10000
	}
	for name, form := range map[string]string{"fix": "AFFN", "pac": "PAC", "sqz": "SQZ", "dif": "DIF",
		"difdup": "DIFDUP"} {
		export := readFixture(t, "written-"+name+".jdx")
		assert.Equal(t, "JCAMP-DX ("+form+")", export.Separator)
		require.Len(t, export.Spectra, 1)
		requireSameBits(t, want.NM, export.Spectra[0].NM)
		requireSameBits(t, fractions, export.Spectra[0].Values)
	}
}

// Another reader, jcampconverter 9.6.4 (convert(text).flatten, node read.mjs in
// testdata/jcamp/crossread), finds the same numbers in the made-up files. It adds
// DELTAX up point by point and multiplies in binary, so up to 401 roundings part
// the two: 1e-12 of the number, and of 1 where that is zero. It checks nothing and
// converts no unit: that is undone here.
func TestAnotherReaderFindsTheSame(t *testing.T) {
	var found struct {
		Reader string
		Files  map[string][]struct {
			Title string
			X, Y  []float64
		}
	}
	data, err := os.ReadFile(filepath.Join("testdata", "jcamp", "crossread", "read.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &found))
	require.Equal(t, "jcampconverter 9.6.4", found.Reader)
	require.Len(t, found.Files, 11)
	same := func(want, got float64, what string) {
		require.InDelta(t, want, got, 1e-12*max(1, math.Abs(want)), what)
	}
	spectra := 0
	for name, blocks := range found.Files {
		export := readFixture(t, name)
		for _, s := range export.Spectra {
			other := blocks[s.Column-2]
			require.Equal(t, other.Title, s.Heading)
			require.Len(t, other.X, len(s.NM), name)
			for i, nm := range s.NM {
				x, y := nm, s.Values[i]
				switch export.WavelengthUnit {
				case "um":
					x = nm / 1000
				case "cm-1": // they run down, so wavelengths run up
					x = 1e7 / nm
				}
				if export.Unit == "percent" {
					y *= 100
				}
				same(other.X[i], x, fmt.Sprintf("%s, abscissa %d", name, i))
				same(other.Y[i], y, fmt.Sprintf("%s, ordinate %d", name, i))
			}
			spectra++
		}
	}
	assert.Equal(t, 12, spectra)
}

func TestReadJCAMPExport(t *testing.T) {
	export := readFixture(t, "compound.jdx")
	assert.Equal(t, "UTF-8", export.Encoding)
	assert.Equal(t, "JCAMP-DX (DIFDUP, XY..XY)", export.Separator)
	assert.Equal(t, "point", export.Decimal)
	assert.Equal(t, "nm", export.WavelengthUnit)
	assert.Equal(t, "fraction", export.Unit)
	assert.Equal(t, 24, export.HeaderLines) // line 25 is the first of rows
	assert.Equal(t, 41+61+7, export.Rows)   // the absorbance is not read
	assert.Contains(t, export.Header, "##TITLE= made-up G07, all of it")
	assert.Contains(t, export.Header, "##DATE= 26/03/31")
	assert.Contains(t, export.Header, "$$ the curve that is wanted")
	assert.NotContains(t, strings.Join(export.Header, "\n"), "380IKJ")
	assert.Equal(t, []string{"##END=", "##END= $$ of the LINK block"}, export.Footer)

	// The first block is column 2, read or not.
	require.Len(t, export.Spectra, 2)
	front, pairs := export.Spectra[0], export.Spectra[1]
	assert.Equal(t, 3, front.Column)
	assert.Equal(t, "G07 front R 8 deg", front.Heading)
	assert.True(t, math.IsNaN(front.AngleDeg), "a title is a name")
	assert.Equal(t, "R", string(front.Quantity))
	assert.Len(t, front.NM, 61)
	assert.Equal(t, 5, pairs.Column)
	assert.True(t, math.IsNaN(pairs.AngleDeg), "a title is a name")
	assert.Equal(t, []float64{400, 403.5, 407, 411.5, 420, 431, 440.25}, pairs.NM)
	assert.Equal(t, []float64{0.0412, 0.0407, 0.0403, 0.0399, 0.0395, 0.0391, 0.0388}, pairs.Values)

	require.Len(t, export.Skipped, 2)
	dark, absorbance := export.Skipped[0], export.Skipped[1]
	assert.Equal(t, 2, dark.Column)
	assert.Equal(t, "a baseline or reference by its name", dark.Why)
	require.NotNil(t, dark.Spectrum)
	assert.Equal(t, 2, dark.Spectrum.Column)
	assert.Equal(t, "dark scan", dark.Spectrum.Heading)
	assert.Len(t, dark.Spectrum.NM, 41)
	assert.Equal(t, study.SkippedColumn{Column: 4, Heading: "G07 A", Why: "##YUNITS= ABSORBANCE: this needs reflectance"},
		absorbance)
	assert.Equal(t, []string{
		"column 2 (dark scan) is skipped: a baseline or reference by its name",
		"column 4 (G07 A) is skipped: ##YUNITS= ABSORBANCE: this needs reflectance",
		`column "G07 front R 8 deg": ##YUNITS= REFLECTANCE was read as a fraction, which it is by the standard`,
		`column "G07 pairs R 30 deg": ##YUNITS= REFLECTANCE was read as a fraction, which it is by the standard`,
	}, export.Notes)
}

// Units convert in decimal: 0.4 µm is 400 nm and 4 % is 0.04, to the last bit.
func TestReadJCAMPUnits(t *testing.T) {
	for _, c := range []struct {
		file, axis, unit, quantity string
		nm, values                 []float64 // the first two
	}{
		// Row 400 of the file, XFACTOR 0.001, 0.0400 and 0.0424.
		{"micrometres.jdx", "um", "fraction", "R", []float64{400, 405}, []float64{0.04, 0.0424}},
		// 25000 cm-1 is 400 nm. The file runs down, so its first row comes first here.
		{"wavenumbers.jdx", "cm-1", "fraction", "R", []float64{400, 1e7 / 24900.0}, []float64{0.1, 0.106}},
		{"percent.jdx", "nm", "percent", "R", []float64{400, 402}, []float64{0.04, 0.0424}},
		{"transmittance.jdx", "nm", "fraction", "T", []float64{350, 360}, []float64{0.65, 0.688}},
		// The third value is a question mark.
		{"xypoints.jdx", "nm", "fraction", "R", []float64{400, 403.5, 411.5}, []float64{0.0412, 0.0407, 0.0399}},
		{"exponents.jdx", "nm", "fraction", "R", []float64{400, 401, 403, 406}, []float64{0.0412, 0.041, 0.0407, 0.0402}},
	} {
		export := readFixture(t, c.file)
		assert.Equal(t, c.axis, export.WavelengthUnit, c.file)
		assert.Equal(t, c.unit, export.Unit, c.file)
		require.Len(t, export.Spectra, 1, c.file)
		s := export.Spectra[0]
		assert.Equal(t, c.quantity, string(s.Quantity), c.file)
		requireSameBits(t, c.nm, s.NM[:len(c.nm)])
		requireSameBits(t, c.values, s.Values[:len(c.values)])
	}
}

const tenPoints = "400 1 2 3 3 2 1 0 -1 -2 -3"

// What the standard leaves open, and what is seen nevertheless.
func TestReadJCAMPAccepts(t *testing.T) {
	words := jcamp(tenPoints)
	for name, s := range map[string]string{
		"CRLF":                  strings.ReplaceAll(words, "\n", "\r\n"),
		"lone CR":               strings.ReplaceAll(words, "\n", "\r"),
		"no newline at the end": strings.TrimRight(words, "\n"),
		"byte order mark":       "\ufeff" + words,
		"UTF-16":                utf16(words, false, true),
		"labels in small": strings.NewReplacer("##FIRSTX", "##first x", "##XYDATA", "##Xy_Data", "##NPOINTS",
			"##N-Points", "##END", "## e n d", "##YFACTOR", "##y/factor").Replace(words),
		"records padded":     strings.ReplaceAll("\n"+words, "\n##", "\n  ## "),
		"no spaces behind =": strings.ReplaceAll(words, "= ", "="),
		"comments": strings.NewReplacer("400 1", "$$ rows ##END=\n400 1", "\n##FIRSTX= 400",
			"\n##= a comment\n##FIRSTX= 400 $$ nm", "-3\n", "-3 $$ the last\n$$ row\n").Replace(words),
		"a comment at the end":   words + "$$ made up\n\n",
		"private records":        jcamp(tenPoints, "$OPERATOR= nobody\nwho stands in two lines", ".DETECTOR= made up"),
		"a value said twice":     jcamp(tenPoints, "$X= 1\n##YFACTOR= 0.01"),
		"form with spaces":       jcamp(tenPoints, "XYDATA= ( x++( y .. y ) )"),
		"form in small":          jcamp(tenPoints, "XYDATA=(x++(y..y))"),
		"no DELTAX":              jcamp(tenPoints, "DELTAX="),
		"nanometres, other word": jcamp(tenPoints, "XUNITS= WAVELENGTH (NM)"),
		"YUNITS with a share":    jcamp(tenPoints, "YUNITS= REFLECTANCE (0-1)"),
		"all that can be said":   jcamp(tenPoints, "MINX= 400", "MAXX= 409", "LASTY= -0.03"),
		"rounded in the header":  jcamp("400 100 204 300 300 200 100 0 -100 -200 -300", "YFACTOR= 1E-04", "MAXY= 0.0299999"),
		"pairs in a row": jcamp("400,1 401,2; 402,3;403, 3 404 ,2\n405 1 406 0\n407,-1;408,-2;\n409 -3",
			"XYDATA= (XY..XY)"),
		"XYPOINTS": jcamp("400,1 401,2; 402,3;403,3 404,2\n405,1 406,0\n407,-1;408,-2\n4.09E2,-3", "XYDATA=",
			"XYPOINTS= (XY..XY)"),
	} {
		export, err := intake.Read("g.jdx", []byte(s), text.Stated{})
		require.NoError(t, err, name)
		require.Len(t, export.Spectra, 1, name)
		assert.Equal(t, []float64{400, 401, 402, 403, 404, 405, 406, 407, 408, 409}, export.Spectra[0].NM, name)
		if name != "rounded in the header" {
			assert.Equal(t, []float64{0.01, 0.02, 0.03, 0.03, 0.02, 0.01, 0, -0.01, -0.02, -0.03}, export.Spectra[0].Values,
				name)
		}
	}
}
