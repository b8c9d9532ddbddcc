package intake_test

import (
	"crypto/sha256"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// All exports in these tests are made up: coupons G07 and G08, numbers to suit.
// The dialects are those that the survey of 60 text exports describes, and each
// case is named for the row of the survey that it stands for.

// allStated is what a person states about a file that states nothing.
var allStated = text.Stated{Unit: "percent", WavelengthUnit: "nm", Quantity: "R"}

// curve is the part of a spectrum that a case expects.
type curve struct {
	column  int
	heading string
	angle   float64
	nm      []float64
	values  []float64
}

var unstated = math.NaN() // an angle that nobody states

func curvesOf(e *intake.Export) []curve {
	var curves []curve
	for _, s := range e.Spectra {
		curves = append(curves, curve{s.Column, s.Heading, s.AngleDeg, s.NM, s.Values})
	}
	return curves
}

// requireCurves compares exactly: percent and micrometres are converted in
// decimal, so a written 4.12 % must be the float64 0.0412.
func requireCurves(t *testing.T, want, got []curve) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, w := range want {
		g := got[i]
		assert.Equal(t, w.column, g.column)
		assert.Equal(t, w.heading, g.heading)
		assert.Equal(t, w.nm, g.nm)
		assert.Equal(t, w.values, g.values)
		if math.IsNaN(w.angle) {
			assert.True(t, math.IsNaN(g.angle), "angle %v", g.angle)
		} else {
			assert.Equal(t, w.angle, g.angle)
		}
	}
}

func TestReadAccepts(t *testing.T) {
	plain := func(heading string) []curve {
		return []curve{{2, heading, unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}}}
	}
	half := []curve{{2, "%R", unstated, []float64{512, 512.5, 513}, []float64{0.0412, 0.0407, 0.0403}}}
	for _, c := range []struct {
		name   string
		text   string
		stated text.Stated
		want   []curve
	}{
		// 1. Bytes and lines.
		{"CRLF", "nm,%R\r\n400,4.12\r\n401,4.07\r\n402,4.03\r\n", text.Stated{}, plain("%R")},
		{"lone CR", "nm,%R\r400,4.12\r401,4.07\r402,4.03\r", text.Stated{}, plain("%R")},
		{"mixed line ends", "Sample: G07\rnm,%R\n400,4.12\r\n401,4.07\r402,4.03", text.Stated{}, plain("%R")},
		{"byte order mark before the names", "\ufeffnm,%R\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{}, plain("%R")},
		{"UTF-16 LE with mark", utf16("nm,%R\n400,4.12\n401,4.07\n402,4.03\n", false, true), text.Stated{}, plain("%R")},
		{"UTF-16 BE with mark", utf16("nm,%R\n400,4.12\n401,4.07\n402,4.03\n", true, true), text.Stated{}, plain("%R")},
		{"UTF-16 LE without mark", utf16("nm,%R\n400,4.12\n401,4.07\n402,4.03\n", false, false), text.Stated{}, plain("%R")},
		{"UTF-16 BE without mark", utf16("nm,%R\n400,4.12\n401,4.07\n402,4.03\n", true, false), text.Stated{}, plain("%R")},
		{"Latin-1 words", "Tipo: Reflexi\xf3n\nnm;Reflexi\xf3n 8\xb0 (%)\n400;4.12\n401;4.07\n402;4.03\n", text.Stated{},
			[]curve{{2, "Reflexión 8° (%)", 8, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}}}},
		{"NUL padding in a header line", "Serial: 0042\x00\x00\x00\nnm,%R\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{},
			plain("%R")},
		{"no newline at the end, blank lines anywhere", "\n\nnm,%R\n\n400,4.12\n\n  \n401,4.07\n402,4.03", text.Stated{},
			plain("%R")},
		{"a quote that nothing closes", "\" run 4 of 9\nnm,%R\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{}, plain("%R")},

		// 2. Separators and numbers.
		{"tab", "nm\t%R\n400\t4.12\n401\t4.07\n402\t4.03\n", text.Stated{}, plain("%R")},
		{"runs of spaces", "nm   %R\n400    4.12\n401   4.07 \n  402 4.03\n", text.Stated{}, plain("%R")},
		{"semicolon with decimal point", "nm;%R\n512.0;4.12\n512.5;4.07\n513.0;4.03\n", text.Stated{}, half},
		{"semicolon with decimal comma", "nm;%R\n512,0;4,12\n512,5;4,07\n513,0;4,03\n", text.Stated{}, half},
		{"tab with decimal comma", "nm\t%R\n512,0\t4,12\n512,5\t4,07\n513,0\t4,03\n", text.Stated{}, half},
		{"spaces with decimal comma", "nm %R\n512,0 4,12\n512,5 4,07\n513,0 4,03\n", text.Stated{}, half},
		{"comma and space with decimal comma, one reading alone fits", "nm;%R\n512,0, 4,12\n512,5, 4,07\n513,0, 4,03\n",
			text.Stated{}, half},
		{"comma and space with whole numbers", "nm, %R\n400, 4\n401, 5\n402, 6\n", text.Stated{},
			[]curve{{2, "%R", unstated, []float64{400, 401, 402}, []float64{0.04, 0.05, 0.06}}}},
		{"header and data disagree on the mark", "Range: 512,0 to 513,0\nnm\t%R\n512.0\t4.12\n512.5\t4.07\n513.0\t4.03\n",
			text.Stated{}, half},
		{"padded numbers, plus, exponents", "nm;%R\n 4.00E2 ; +4.12E-000\n401.0 ; 407E-002\n40.2E1;4.03\n", text.Stated{},
			plain("%R")},
		{"a point first and a point last", "nm;R (0-1)\n400.;.0412\n401.;.0407\n402.;.0403\n", text.Stated{},
			plain("R (0-1)")},

		// RFC 4180, section 2, rules 5 to 7: quoted fields, separators inside
		// them, doubled quotes.
		{"quoted numbers", "\"nm\",\"%R\"\n\"400\",\"4.12\"\n\"401\",\"4.07\"\n402,\"4.03\"\n", text.Stated{}, plain("%R")},
		{"quoted decimal commas between commas",
			"\"nm\",\"%R\"\n\"512,0\",\"4,12\"\n\"512,5\",\"4,07\"\n\"513,0\",\"4,03\"\n", text.Stated{}, half},
		{"a separator and doubled quotes in a heading", "nm,\"G07, \"\"new\"\", %R\"\n400,4.12\n401,4.07\n402,4.03\n",
			text.Stated{}, plain(`G07, "new", %R`)},

		// 3. Header, data block, footer.
		{"no header, all stated", "400 4.12\n401 4.07\n402 4.03\n", allStated, plain("")},
		{"metadata of every kind",
			"# made up\nSample: G07\nIntegration,40\nAverages= 3\nGain\t2\n[Section]\n{ lamp } on\nsome prose " +
				"12\n0042\nnm,%R\n400,4.12\n401,4.07\n402,4.03\n",
			text.Stated{}, plain("%R")},
		{"key,number right above the rows",
			"Wavelength unit: nm\nY unit: %R\nIntegration,40\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{}, plain("")},
		{"key with a digit right above the rows", "X units: nm\nY units: %R\nChannel 1,40\n400,4.12\n401,4.07\n402,4.03\n",
			text.Stated{}, plain("")},
		{"start marker between heading and rows", "nm,%R\n-- spectrum starts --\n400,4.12\n401,4.07\n402,4.03\n",
			text.Stated{}, plain("%R")},
		{"two rows of heading: names, units", "Wave;Refl\n[nm];[%]\n400;4.12\n401;4.07\n402;4.03\n", text.Stated{},
			plain("Refl [%]")},
		{"two rows of heading: angles, quantity and unit in brackets",
			"nm;8 deg;30 deg\n[nm];[%R];[%R]\n400;4.12;5\n401;4.07;6\n402;4.03;7\n", text.Stated{}, []curve{
				{2, "8 deg [%R]", 8, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{3, "30 deg [%R]", 30, []float64{400, 401, 402}, []float64{0.05, 0.06, 0.07}},
			}},
		{"two rows of heading: samples, columns", ",G07,G08\nnm,%R,%R\n400,4.12,5\n401,4.07,6\n402,4.03,7\n", text.Stated{},
			[]curve{
				{2, "G07 %R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{3, "G08 %R", unstated, []float64{400, 401, 402}, []float64{0.05, 0.06, 0.07}}}},
		{"two rows of heading: angles, units",
			"Spectral axis,8 deg,45 deg\n[nm],[%R],[%R]\n400,4.12,5\n401,4.07,6\n402,4.03,7\n", text.Stated{}, []curve{
				{2, "8 deg [%R]", 8, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{3, "45 deg [%R]", 45, []float64{400, 401, 402}, []float64{0.05, 0.06, 0.07}}}},
		{"comment mark on the column row", "# wavelength (nm) R (0-1)\n400 0.0412\n401 0.0407\n402 0.0403\n", text.Stated{},
			plain("R (0-1)")},
		{"comment mark on the column row, rows with tabs", "#nm\tR (0-1)\n400\t0.0412\n401\t0.0407\n402\t0.0403\n",
			text.Stated{}, plain("R (0-1)")},
		{"log after the rows",
			"nm,%R\n400,4.12\n401,4.07\n402,4.03\n\nSaved by: lab 2\nIntegration,40\nL* 12.5\n-- spectrum ends --\n\x1a",
			text.Stated{}, plain("%R")},
		{"trailing empty cells on every line", "nm,%R,\n400,4.12,\n401,4.07,\n402,4.03,\n", text.Stated{}, plain("%R")},
		{"trailing empty cells in the header only", "nm,%R,,,\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{}, plain("%R")},
		{"trailing empty cells on some lines", "nm,%R\n400,4.12,\n401,4.07\n402,4.03,,\n", text.Stated{}, plain("%R")},

		// 4. Layout.
		{"several samples side by side", "nm,G07,G08\n400,4.12,5\n401,4.07,6\n402,4.03,7\n", allStated, []curve{
			{2, "G07", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
			{3, "G08", unstated, []float64{400, 401, 402}, []float64{0.05, 0.06, 0.07}}}},
		{"paired x and y, one ends early",
			"G07,,G08,\nnm,%R,nm,%R\n400,4.12,500,5\n401,4.07,501,6\n402,4.03,502,7\n,,503,8\n", text.Stated{}, []curve{
				{2, "G07 %R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{4, "G08 %R", unstated, []float64{500, 501, 502, 503}, []float64{0.05, 0.06, 0.07, 0.08}}}},
		{"paired x and y, the second ends early", "nm,G07 %R,nm,G08 %R\n400,4.12,900,5\n401,4.07,899,6\n402,4.03,,\n",
			text.Stated{}, []curve{
				{2, "G07 %R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{4, "G08 %R", unstated, []float64{899, 900}, []float64{0.06, 0.05}}}},
		{"paired x and y, the second empty", "nm,G07 %R,nm,G08 %R\n400,4.12,,\n401,4.07,,\n402,4.03,,\n", text.Stated{},
			plain("G07 %R")},
		{"paired columns below a line that names no pairs",
			"made,up,in,full\nnm,%R,nm,%R\n400,4.12,500,5\n401,4.07,501,6\n402,4.03,502,7\n", text.Stated{}, []curve{
				{2, "%R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{4, "%R", unstated, []float64{500, 501, 502}, []float64{0.05, 0.06, 0.07}}}},
		{"a line above complete headings is not joined",
			"made,up,text\nnm,G07 %R,G08 %R\n400,4.12,5\n401,4.07,6\n402,4.03,7\n", text.Stated{}, []curve{
				{2, "G07 %R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{3, "G08 %R", unstated, []float64{400, 401, 402}, []float64{0.05, 0.06, 0.07}}}},
		{"a key and a value give no angle", "Tilt 45 deg,%R\n400,4.12\n401,4.07\n402,4.03\n", allStated, plain("%R")},
		{"a key and values are no headings", "Wavelength,350,900\n400,4.12\n401,4.07\n402,4.03\n", allStated, plain("")},
		{"prose right above the rows", "made up in one sitting\n400 4.12\n401 4.07\n402 4.03\n", allStated, plain("")},
		{"a name row without a word for wavelengths", "axis,G07 R,G08 R\n400,4.12,5\n401,4.07,6\n402,4.03,7\n", allStated,
			[]curve{
				{2, "G07 R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}},
				{3, "G08 R", unstated, []float64{400, 401, 402}, []float64{0.05, 0.06, 0.07}}}},
		{"index column before a named x", "index,nm,%R\n0,400,4.12\n1,401,4.07\n2,402,4.03\n", text.Stated{}, []curve{
			{3, "%R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}}}},

		// 5. Wavelength axis.
		{"micrometres in the heading", "wavelength (um),R (%)\n0.400,4.12\n0.401,4.07\n0.402,4.03\n", text.Stated{},
			plain("R (%)")},
		{"micro sign U+00B5", "\u00b5m,%R\n0.400,4.12\n0.401,4.07\n0.402,4.03\n", text.Stated{}, plain("%R")},
		{"micro sign U+03BC", "\u03bcm,%R\n0.400,4.12\n0.401,4.07\n0.402,4.03\n", text.Stated{}, plain("%R")},
		{"micro sign in Latin-1", "\xb5m,%R\n0.400,4.12\n0.401,4.07\n0.402,4.03\n", text.Stated{}, plain("%R")},
		{"micrometres stated", "Wavelength,%R\n0.400,4.12\n0.401,4.07\n0.402,4.03\n", text.Stated{WavelengthUnit: "um"},
			plain("%R")},
		{"unit in the header", "X Units: nm\nWavelength,%R\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{}, plain("%R")},
		{"descending", "nm,%R\n402,4.03\n401,4.07\n400,4.12\n", text.Stated{}, plain("%R")},
		{"uneven grid", "nm,%R\n400.11,4.12\n400.53,4.07\n400.94,4.03\n", text.Stated{},
			[]curve{{2, "%R", unstated, []float64{400.11, 400.53, 400.94}, []float64{0.0412, 0.0407, 0.0403}}}},
		{"unit glued to the cells", "400nm\t4.12%\n401nm\t4.07%\n402nm\t4.03%\n", text.Stated{Quantity: "R"}, plain("")},
		{"micrometres glued to the cells", "0.400 um\t4.12 %\n0.401 um\t4.07 %\n0.402 um\t4.03 %\n",
			text.Stated{Quantity: "R"}, plain("")},
		// 1e7/25000 = 400 and 1e7/20000 = 500 exactly.
		{"wavenumbers", "cm-1,%R\n25000,4.12\n20000,4.07\n", text.Stated{},
			[]curve{{2, "%R", unstated, []float64{400, 500}, []float64{0.0412, 0.0407}}}},
		{"declared count", "Points: 3\nnm,%R\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{}, plain("%R")},

		// 6. Value axis.
		{"fraction in words", "nm,Reflectance (fraction)\n400,0.0412\n401,0.0407\n402,0.0403\n", text.Stated{},
			plain("Reflectance (fraction)")},
		{"percent in the header", "Unit: %\nWavelength (nm),Reflectance\n400,4.12\n401,4.07\n402,4.03\n", text.Stated{},
			plain("Reflectance")},
		{"scale stated", "nm,Reflectance\n400,0.0412\n401,0.0407\n402,0.0403\n", text.Stated{Unit: "fraction"},
			plain("Reflectance")},
		{"statements that agree", "nm,%R\n400,4.12\n401,4.07\n402,4.03\n", allStated, plain("%R")},
		{"negative values and slight excess", "nm,%R\n400,-0.02\n401,4.07\n402,100.5\n", text.Stated{},
			[]curve{{2, "%R", unstated, []float64{400, 401, 402}, []float64{-0.0002, 0.0407, 1.005}}}},
		{"missing points", "nm,G07 %R,G08 %R\n400,,5\n401,NaN,6\n402,4.03,---\n403,nan,8\n", text.Stated{}, []curve{
			{2, "G07 %R", unstated, []float64{402}, []float64{0.0403}},
			{3, "G08 %R", unstated, []float64{400, 401, 403}, []float64{0.05, 0.06, 0.08}}}},
		{"nine zeros in a row", "nm,%R\n400,0\n401,0\n402,0\n403,0\n404,0\n405,0\n406,0\n407,0\n408,0\n409,1\n",
			text.Stated{},
			[]curve{{2, "%R", unstated, []float64{400, 401, 402, 403, 404, 405, 406, 407, 408, 409}, []float64{0, 0, 0, 0, 0, 0,
				0, 0, 0, 0.01}}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			export, err := intake.Read("g07.txt", []byte(c.text), c.stated)
			require.NoError(t, err)
			requireCurves(t, c.want, curvesOf(export))
			for _, s := range export.Spectra {
				assert.Equal(t, study.Reflectance, s.Quantity)
				assert.Equal(t, "g07.txt", s.File)
				assert.Empty(t, s.Polarisation)
			}
			assert.Equal(t, sha256.Sum256([]byte(c.text)), export.SHA256)
		})
	}
}

// utf16 encodes ASCII text.
func utf16(text string, bigEndian, mark bool) string {
	var b strings.Builder
	put := func(high, low byte) {
		if bigEndian {
			b.WriteByte(high)
			b.WriteByte(low)
		} else {
			b.WriteByte(low)
			b.WriteByte(high)
		}
	}
	if mark {
		put(0xfe, 0xff)
	}
	for i := range len(text) {
		put(0, text[i])
	}
	return b.String()
}

func TestReadAngles(t *testing.T) {
	for _, c := range []struct {
		heading string
		angle   float64
	}{
		{"8 deg", 8}, {"8deg", 8}, {"8°", 8}, {"8 °", 8}, {"8 degrees", 8}, {"8 degree", 8}, {"8º", 8},
		{"R 8deg", 8}, {"8° %R", 8}, {"R 45 degrees (%)", 45}, {"R_8deg", 8}, {"R8deg", 8}, {"R (57.5°)", 57.5},
		{"57,5 deg", 57.5}, {"R-8deg", 8}, {"Rs8deg", 8}, {"R_p8deg", 8}, {"R(s)8deg", 8}, {"R_x8deg", unstated}, {"0 deg",
			0}, {"89.9 Deg", 89.9}, {"G07 8deg", 8}, {"8deg, 8°", 8},
		{"R 45 deg s-polarised", 45}, {"8", unstated}, {"G07", unstated}, {"R", unstated}, {"25 °C", unstated}, {"25°C",
			unstated},
		{"G07deg", unstated}, {"viewed at 45°", unstated}, {"R polariser 45 deg", unstated}, {"8 degas", unstated},
		{"8deg aged %R", 8}, {"8° scan 2 %R", 8}, {"60 deg after damp heat (%R)", 60}, {"60° perp. %R", 60}, {"north 8deg",
			8},
		{"57_5 deg", unstated}, {"R57_5deg", unstated}, {"8-30 deg", unstated}, {"1/2 deg", unstated}, {"G07_8deg", 8},
		{"G07-8 deg", 8},
		// One number of two is not sure to be meant.
		{"%R 4 5 deg", unstated}, {"%R 30/60 deg", unstated}, {"%R 5..8 deg", unstated}, {"%R 57 1/2 deg", unstated},
		{"%R 57-5 deg", unstated}, {"%R 57 5deg", unstated},
		{"%R 3·5 deg", unstated}, {"%R 1.5.8 deg", unstated}, {"%R 8:30 deg", unstated}, {"%R 57°30'", unstated},
		{"%R <8 deg", unstated}, {"%R 8 deg 4 5 deg", unstated},
		{"sample 7 8 deg %R", 8}, {"pull 3, 8 deg %R", 8}, {"%R 8 deg (2)", 8},
		// Another angle.
		{"%R 25 deg C", unstated}, {"%R 25 degrees C", unstated}, {"%R 25 ° C", unstated}, {"%R 30 deg from surface",
			unstated}, {"%R 60 deg to glass", unstated},
		{"%R elevation 82 deg", unstated}, {"%R detector 8 deg", unstated}, {"%R 2theta 16 deg", unstated},
		{"%R gonio 16 deg", unstated}, {"%R cone 8 deg", unstated},
		{"%R tilt 30 deg", unstated}, {"%R stage 30 deg", unstated}, {"%R 8 deg acceptance", unstated},
		{"%R slit 2 deg, 8 deg", unstated}, {"%R full angle 3 deg", unstated},
		{"%R theta 8deg exit 8deg", unstated}, {"%R 82 deg grazing", unstated}, {"%R lat 48 deg", unstated}, {"%R 45° roof",
			unstated}, {"%R 12 degrees of freedom", unstated},
		{"%R 45 deg pol.", unstated}, {"%R s 45deg pol", unstated}, {"%R 0°pol", unstated}, {"%R pol 90 deg", unstated},
		// Of incidence in so many words, or beside a name.
		{"AOI 8 deg %R", 8}, {"%R 8 deg incidence", 8}, {"%R at 8 deg from normal", 8}, {"%R angle of incidence 8 deg", 8},
		{"coated glass 8 deg %R", 8}, {"sample A 8 deg %R", 8},
		{"%R s-pol 60 deg", 60}, {"unpolarised 60 deg %R", 60}, {"%R 60 deg un-polarised", 60}, {"%R 8 deg spot 2", 8},
		{"Alpha 8 deg %R", 8},
	} {
		t.Run(c.heading, func(t *testing.T) {
			text := "nm;" + c.heading + "\n400;4.12\n401;4.07\n"
			export, err := intake.Read("g07.txt", []byte(text), allStated)
			require.NoError(t, err)
			requireCurves(t, []curve{{2, c.heading, c.angle, []float64{400, 401}, []float64{0.0412, 0.0407}}}, curvesOf(export))
		})
	}
}

// A heading says what a column holds only in words that leave no doubt.
func TestReadQuantities(t *testing.T) {
	for _, c := range []struct {
		heading string
		want    study.Quantity // empty: the file is refused until somebody says
	}{
		{"R", "R"}, {"%R", "R"}, {"Rs", "R"}, {"G07 Rp", "R"}, {"R_s", "R"}, {"R(TM)", "R"}, {"R TE", "R"}, {"n %R", "R"},
		{"R%", "R"}, {"R (%)", "R"}, {"Reflectance", "R"}, {"reflectivity", "R"},
		{"refl.", "R"}, {"G07 R", "R"}, {"R 8deg", "R"}, {"réflectance", "R"}, {"R total", "R"}, {"R s-pol", "R"}, {"total",
			""}, {"Reflexionsgrad", "R"},
		{"T", "T"}, {"%T", "T"}, {"T_s", "T"}, {"Transmittance", "T"}, {"G07 T", "T"},
		{"G07", ""}, {"sample", ""}, {"plate T", ""}, {"coating R", ""}, {"coating Rs", ""}, {"RS", ""}, {"Rs8", ""}, {"R8",
			""}, {"T7", ""}, {"y", ""},
	} {
		t.Run(c.heading, func(t *testing.T) {
			s := "nm;" + c.heading + "\n400;4.12\n401;4.07\n"
			unit := text.Stated{Unit: "percent"}
			export, err := intake.Read("g07.txt", []byte(s), unit)
			if c.want == "" {
				require.ErrorContains(t, err, "does not say that it contains reflectance")
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.want, export.Spectra[0].Quantity)
		})
	}
}

func TestReadReportsWhatItFound(t *testing.T) {
	s := "\ufeffInstrument: made up\n\nWellenl\u00e4nge [nm];G07 8\u00b0 [%R];dark;White tile %R\n" +
		"402,5;-4,03;1;98\n401,5;;1;98\n400,5;104,12;1;98\nSaved by: lab 2\n"
	export, err := intake.Read("g07.txt", []byte(s), text.Stated{Columns: "2"})
	require.NoError(t, err)

	assert.Equal(t, "g07.txt", export.Name)
	assert.Equal(t, "UTF-8 with byte order mark", export.Encoding)
	assert.Equal(t, "semicolon", export.Separator)
	assert.Equal(t, "comma", export.Decimal)
	assert.Equal(t, "nm", export.WavelengthUnit)
	assert.Equal(t, "percent", export.Unit)
	assert.Equal(t, 3, export.HeaderLines)
	assert.Equal(t, 3, export.Rows)
	assert.Equal(t, []string{"Instrument: made up", "Wellenlänge [nm];G07 8° [%R];dark;White tile %R"}, export.Header)
	assert.Equal(t, []string{"Saved by: lab 2"}, export.Footer)
	assert.Equal(t, []string{
		"the wavelengths in column 1 ran down and were sorted with their values",
		"column 3 (dark) is skipped: a baseline or reference by its name",
		"column 4 (White tile %R) is skipped: a baseline or reference by its name",
		`1 line after the rows kept as text: "Saved by: lab 2"`,
		`column "G07 8° [%R]": 1 missing point`,
		`column "G07 8° [%R]": 1 negative value kept, the first at 402.5 nm`,
		`column "G07 8° [%R]": 1 value above 100 % kept, the first at 400.5 nm`,
	}, export.Notes)

	require.Len(t, export.Skipped, 2)
	assert.Equal(t, study.SkippedColumn{Column: 3, Heading: "dark", Why: "a baseline or reference by its name"},
		export.Skipped[0])
	assert.Equal(t, "White tile %R", export.Skipped[1].Heading)
	require.NotNil(t, export.Skipped[1].Spectrum, "a person may name it all the same")
	assert.Equal(t, []float64{0.98, 0.98, 0.98}, export.Skipped[1].Spectrum.Values)
}

// Columns that are no reflectance stay out, and the others are read.
func TestReadLeaves(t *testing.T) {
	for _, c := range []struct {
		name, heading, why, columns string
	}{
		{"counts", "counts", "counts", ""},
		{"raw", "raw", "raw values", ""},
		{"irradiance", "Irradiance", "irradiance", ""},
		{"absorbance", "G07 A", "absorbance", ""},
		{"uncertainty", "u(R)", "an uncertainty", ""},
		{"u alone", "u", "an uncertainty", ""},
		{"U alone", "U", "an uncertainty", ""},
		{"u with a unit", "u (%)", "an uncertainty", ""},
		{"u of a polarised curve", "s-pol u", "an uncertainty", ""},
		{"plus-minus sign", "\u00b1", "an uncertainty", ""},
		{"plus-minus sign in Latin-1", "\xb1 (%)", "an uncertainty", ""},
		{"plus and minus", "+-", "an uncertainty", ""},
		{"plus, stroke, minus", "R +/- (%)", "an uncertainty", ""},
		{"a reference's uncertainty", "std white", "an uncertainty", ""},
		{"standard deviation", "std", "an uncertainty", ""},
		{"blank", "blank %R", "a baseline or reference by its name", "2"},
		{"zero line", "Zero line", "a baseline or reference by its name", ""},
		{"reference", "Reference", "a baseline or reference by its name", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := "nm;R (%);" + c.heading + "\n400;4.12;7.1\n401;4.07;7.2\n"
			export, err := intake.Read("g07.txt", []byte(s), text.Stated{Columns: c.columns})
			require.NoError(t, err)
			require.Len(t, export.Spectra, 1)
			require.Len(t, export.Skipped, 1)
			assert.Equal(t, 3, export.Skipped[0].Column)
			assert.Equal(t, c.why, export.Skipped[0].Why)
		})
	}
	t.Run("a reference that is no spectrum", func(t *testing.T) {
		s := "nm;R (%);white R (%)\n"
		for i := range 25 {
			s += fmt.Sprintf("%d;%d.5;99.99\n", 400+i, i)
		}
		export, err := intake.Read("g07.txt", []byte(s), text.Stated{Columns: "2"})
		require.NoError(t, err)
		const fault = `column "white R (%)": 25 points in a row from 400 to 424 nm are equal to 4 digits`
		require.Len(t, export.Skipped, 1)
		left := export.Skipped[0]
		assert.Equal(t, fault, left.Fault.Fault, "said to whoever names the column all the same")
		left.Fault = nil
		assert.Equal(t, study.SkippedColumn{Column: 3, Heading: "white R (%)",
			Why: "a baseline or reference by its name: " + fault}, left)
	})
	t.Run("front and back face", func(t *testing.T) {
		s := "nm;R;front R (%);back R (%)\n400;4.12;7.1;8\n401;4.07;7.2;9\n"
		export, err := intake.Read("g07.txt", []byte(s), text.Stated{Unit: "percent", InMap: true})
		require.NoError(t, err)
		require.Len(t, export.Spectra, 1)
		require.Len(t, export.Skipped, 2)
		assert.Equal(t, "the front face, beside the other", export.Skipped[0].Why)
	})
	t.Run("a lone curve is taken whatever its name", func(t *testing.T) {
		export, err := intake.Read("b01.txt", []byte("nm;blank B01 %R\n400;4.12\n401;4.07\n"), text.Stated{})
		require.NoError(t, err)
		assert.Len(t, export.Spectra, 1)
		assert.Empty(t, export.Skipped)
	})
}

func TestReadMixedUnits(t *testing.T) {
	export, err := intake.Read("g07.txt", []byte("nm,%R,R (0-1)\n400,4.12,0.05\n401,4.07,0.06\n"), text.Stated{})
	require.NoError(t, err)
	assert.Equal(t, "mixed", export.Unit)
	assert.Equal(t, []float64{0.0412, 0.0407}, export.Spectra[0].Values)
	assert.Equal(t, []float64{0.05, 0.06}, export.Spectra[1].Values)
}

func TestReadSharesWavelengths(t *testing.T) {
	export, err := intake.Read("made-up.csv", texttest.Export(30, 3), text.Stated{})
	require.NoError(t, err)
	assert.Same(t, &export.Spectra[0].NM[0], &export.Spectra[2].NM[0])
}
