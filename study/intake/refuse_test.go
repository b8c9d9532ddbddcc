package intake_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// rows writes made-up rows of wavelength and percent, from 400 nm on.
func rows(n int, value func(i int) string) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "%d,%s\n", 400+i, value(i))
	}
	return b.String()
}

// Each case says what a person reads: place and fault on one line, then what to
// try. The order is that of the survey of exports.
func TestReadRefuses(t *testing.T) {
	const (
		again     = "export the file again from the instrument"
		againOr   = again + ", or correct the row"
		asText    = "save the export as plain text in UTF-8"
		cellTry   = "correct the cell, or leave it empty if the point is missing; check the unit of the column"
		polTry    = "name one polarisation in the heading: s, p, or u for the mean of both"
		wordTry   = "leave the cell empty if the point is missing, or correct the number"
		oneBlock  = "give each block of numbers a file of its own"
		overlap   = "state --overlap first (or average), or give each scan a file of its own"
		noMarks   = "export without thousands marks, with one decimal mark throughout"
		bySide    = "export wavelengths and values side by side in columns"
		whichUnit = "find out what the numbers are, then correct the unit or export the reflectance"
		statement = "find out which is right, then correct the map (or the flag), or export again"
	)
	for _, c := range []struct {
		name   string
		text   string
		stated text.Stated
		fault  string
		try    string
	}{
		// Not text, or nothing in it.
		{"empty", "", allStated, `g.txt: the file is empty`, again},
		{"white space", " \r\n\n\t", allStated, `g.txt: the file is empty`, again},
		{"byte order mark alone", "\ufeff\n", allStated, `g.txt: the file has no rows of numbers`, again},
		{"prose", "This export\nholds no numbers.\n", allStated, `g.txt: the file has no rows of numbers`, again},
		{"control characters", "\x01\x02\x03\x04PK\x05\x06", allStated,
			`g.txt: the file is not text: it is full of control characters`, asText},
		{"control characters around rows", "\x01\x02\x03\x04PK\x05\x06\nnm,%R\n400,4\n401,4\n", allStated,
			`g.txt: the file is not text: it is full of control characters`, asText},
		{"many zero bytes", "\x00\x00\x00\x00ab\x00\x00\x00\x00", allStated,
			`g.txt: the file is not text: nearly every third byte or more is zero`, asText},
		{"UTF-32", "\xff\xfe\x00\x00n\x00\x00\x00m\x00\x00\x00", allStated, `g.txt: the file is UTF-32, which is not read`,
			asText},
		{"UTF-16 cut short", "\xff\xfe4\x000\x000", allStated,
			`g.txt: the file is UTF-16 LE with byte order mark but has an odd number of bytes, so it was cut short`,
			"copy the file again from the instrument"},

		// 1. Bytes and lines.
		{"lost symbol", "Wavelength [?m],%R\n0.4,4.12\n0.5,4.07\n", text.Stated{},
			`g.txt:2:1: wavelength 0.4 has no unit and can only be in micrometres`, "state --wavelength-unit um"},
		{"lost symbol, wavelengths undecided", "Wavelength [?m],%R\n400,4.12\n500,4.07\n", text.Stated{},
			`g.txt:1:1: the unit of wavelength lost its symbol in "Wavelength [?m]" (the numbers run from 400 to 500)`,
			"state --wavelength-unit nm (or um or cm-1)"},
		{"NUL in a row", "nm,%R\n400,4.12\n401,4.\x0007\n402,4.03\n", text.Stated{},
			`g.txt:3:5: a NUL byte in a row of numbers: the file is damaged`, again},

		// 2. Separators and numbers.
		{"comma between digits fits twice", "nm;%R\n512,0, 4,07\n513,0, 4,08\n", text.Stated{},
			`g.txt:2: every comma can separate columns or be a decimal mark: [512 | 0 | 4 | 07] and [512,0 | 4,07] both fit ` +
				`all rows`,
			"state --decimal point (or comma), or export with a semicolon or a tab between the columns, or with decimal points"},
		{"commas alone, whose meaning is open", "nm;%R\n512,0,4,07\n512,5,4,08\n513,0,4,09\n", allStated,
			`g.txt:3:1: 512 follows 512: a comma that separates here may be a decimal mark`,
			"state --decimal comma, or export with a semicolon or a tab between the columns, or with decimal points"},
		{"thousands mark in one row", "nm;%R\n1.204,5;4,07\n1.205,5;4,08\n", text.Stated{},
			`g.txt:2: the rows contain both points and commas, so "1.204,5;4,07" can be read in two ways`,
			"state --thousands point, or " + noMarks},
		{"thousands mark from one row on", "nm\t%R\n999.5\t4.07\n1,000\t4.08\n", text.Stated{},
			`g.txt:3: the rows contain both points and commas, so "1,000\t4.08" can be read in two ways`,
			"state --thousands comma, or " + noMarks},
		{"thousands mark reads as a small wavelength", "nm;%R\n998;4\n999;4.1\n1.000;4.2\n", text.Stated{},
			`g.txt:4:1: 1 nm follows 999 nm; two detectors or two scans overlap here`, overlap},
		{"another separator in one row", "nm;%R\n400;4\n401,4.1\n402;4.2\n403;4.3\n", text.Stated{},
			`g.txt:3: "401,4.1" does not split as the other rows do, at semicolon`, againOr},

		// 3. Header, data block, footer.
		{"no header", "400\t4.12\n401\t4.07\n", text.Stated{},
			`g.txt:1: no line names the columns; the unit of wavelength is not stated (the numbers run from 400 to 401); ` +
				`column 2 does not say that it contains reflectance; column 2 does not say percent or fraction (its values run ` +
				`from 4.07 to 4.12)`,
			"state --wavelength-unit nm (or um or cm-1), --quantity R and --unit percent (or fraction)"},
		{"no header, quantity missing", "400\t4.12\n401\t4.07\n", text.Stated{Unit: "percent", WavelengthUnit: "nm"},
			`g.txt:1: no line names the columns; column 2 does not say that it contains reflectance`, "state --quantity R"},
		{"names for some columns only", "axis,,G08\n400,4.12,5\n401,4.07,6\n", allStated,
			`g.txt:2: no line names the 3 columns: it is not known which of them contain reflectance`,
			"state --columns 2 (or 3 or 2,3), or write a line above the rows that names the columns"},
		{"no header, three columns", "400 0.041 0.002\n401 0.042 0.002\n", allStated,
			`g.txt:1: no line names the 3 columns: it is not known which of them contain reflectance`,
			"state --columns 2 (or 3 or 2,3), or write a line above the rows that names the columns"},
		{"first row stuck to the header", "#nm R350.0\t0.041\n351.0\t0.042\n352.0\t0.043\n", allStated,
			`g.txt:1: this line contains a header and numbers: "#nm R350.0\t0.041"`,
			"start the first row of numbers on a line of its own"},
		{"second header", "nm,%R\n400,4.12\n401,4.07\n402,4\n[nm],[%]\n400,4\n401,4\n", text.Stated{},
			`g.txt:5: "[nm],[%]" stands between rows of numbers; a second header or block is not joined to the first`,
			"state --block 1 (or 2), or " + oneBlock},
		{"second block with more columns", "nm,%R\n400,4.12\n401,4.07\n402,4\nnm,%R,%T\n400,4,3\n401,4,3\n", text.Stated{},
			`g.txt:5: "nm,%R,%T" stands between rows of numbers; a second header or block is not joined to the first`,
			"state --block 1 (or 2), or " + oneBlock},
		{"a short first block", "nm,%R\n400,4.12\nnm,%R\n400,4\n401,4\n", text.Stated{},
			`g.txt:3: "nm,%R" stands between rows of numbers; a second header or block is not joined to the first`, oneBlock},
		{"a point in the log", "nm,%R\n400,4.12\n401,4.07\n402,4\nSaved by: lab 2\n300,5\n", text.Stated{},
			`g.txt:5: "Saved by: lab 2" stands between rows of numbers; a second header or block is not joined to the first`,
			oneBlock},
		{"ragged, too many", "nm,%R\n400,4.12\n401,4.07,5\n402,4\n", text.Stated{},
			`g.txt:3: 3 cells where the other rows have 2`, againOr},
		{"ragged, too few", "nm,G07 %R,G08 %R\n400,4.12,5\n401,4.07\n402,4,6\n", text.Stated{},
			`g.txt:3: 2 cells where the other rows have 3`, againOr},
		{"ragged, the first row", "nm,%R\n400,4.12,5\n401,4.07\n402,4\n", text.Stated{},
			`g.txt:2: 3 cells where the other rows have 2`, againOr},
		{"a lone number between rows", "nm,%R\n400,4.12\n401\n402,4\n403,4\n", text.Stated{},
			`g.txt:3: 1 cell where the other rows have 2`, againOr},
		{"a lone number before the rows", "nm,%R\n400\n401,4.12\n402,4\n", text.Stated{},
			`g.txt:2: 1 cell where the other rows have 2`, againOr},
		{"the last row cut short", "nm,%R\n400,4.12\n401,4.07\n402", text.Stated{},
			`g.txt:4: 1 cell where the other rows have 2`, againOr},
		{"more headings than columns", "nm,%R,G08\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:1: the headings name 3 columns, the rows have 2`, again},
		{"a column without a heading", "nm,%R\n400,4.12,7\n401,4.07,8\n", text.Stated{},
			`g.txt:1:4: column 3 has no heading: a reflectance, an uncertainty or a reference`,
			"state --columns 2 (or 3 or 2,3), or name the column in the heading"},

		// 4. Layout.
		{"one number per line", "%R\n4.12\n4.07\n4.03\n", allStated,
			`g.txt:2: 3 lines have one number each: wavelengths or values alone are not a spectrum`, bySide},
		{"rows of one cell", "\" 0\n,0\n\"\"\n", allStated, `g.txt:1: the rows have one cell each`, bySide},
		// found by the fuzzer
		{"long form", "coupon,angle,nm,%R\nG07,8deg,400,4.1\nG07,8deg,401,4.2\n", allStated,
			`g.txt:2: the rows begin with a name: each may be one point of one of several curves`,
			"state --group-by 1,2, or export each curve in columns of its own"},
		{"a row of numbers after one spectrum per row", "X units: nm\nY units: %R\nid,400,405\nG07,3,4\nG08,3,4\n402,4\n",
			text.Stated{},
			`g.txt:6: "402,4" looks like one more row of data, but it stands outside the table`, oneBlock},
		{"long form, a row apart", "nm,%R,coupon\n400,4,G07\n401,5,G07\nend\n402,6,G07\n", text.Stated{GroupBy: "3"},
			`g.txt:5: "402,6,G07" looks like one more row of data, but it stands outside the table`, oneBlock},
		{"long form, a word among the values", "coupon,nm,%R\nG07,400,4\nG07,401,5\nG07,402,OVER\n",
			text.Stated{GroupBy: "1"}, `g.txt:4:9: "OVER" is not a number`, wordTry},
		{"long form, a word in the middle", "coupon,nm,%R\nG07,400,4\nG07,401,OVER\nG07,402,5\nG07,403,5\n",
			text.Stated{GroupBy: "1"}, `g.txt:3:9: "OVER" is not a number`, wordTry},
		{"two wavelength columns", "nm,cm-1,%R\n400,25000,4.12\n401,24938,4.07\n", text.Stated{},
			`g.txt:1:4: columns 1 and 2 both contain wavelengths`,
			"state --axis 1 (or 2), or export one wavelength column, or one right before each value column"},
		{"a count of rows before x", "0\t400.1\n1\t400.5\n2\t400.9\n", text.Stated{Unit: "percent", Quantity: "R"},
			`g.txt:1:1: column 1 counts the rows and has no heading`,
			"export the wavelengths as the first column, with a heading"},
		{"front and back face alone", "nm;front R (%);back R (%)\n400;4.12;7.1\n401;4.07;7.2\n", text.Stated{},
			`g.txt:1:4: the front and the back face stand side by side: it is not known which curves are meant`,
			"state --columns 2 (or 3), or give the curve that is meant a file of its own"},
		{"one row", "nm,%R\n400,4.12\n", text.Stated{},
			`g.txt:2: this is the only row of numbers: one point is not a spectrum`, again},

		// 5. Wavelength axis.
		{"unit not stated", "Wavelength,%R\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:1:1: the unit of wavelength is not stated (the numbers run from 400 to 401)`,
			"state --wavelength-unit nm (or um or cm-1)"},
		{"unit not stated, micrometres", "Wavelength,%R\n0.350,4.21\n0.351,4.2\n", text.Stated{},
			`g.txt:2:1: wavelength 0.35 has no unit and can only be in micrometres`, "state --wavelength-unit um"},
		{"unit not stated, micrometres, fraction neither", "Wavelength,R\n0.350,4.21\n", text.Stated{},
			`g.txt:2:1: wavelength 0.35 has no unit and can only be in micrometres; column "R" does not say percent or ` +
				`fraction (its values run from 4.21 to 4.21)`,
			"state --wavelength-unit um and --unit percent (or fraction)"},
		{"nm that can only be micrometres", "nm,%R\n0.4,4.12\n0.5,4.07\n", text.Stated{},
			`g.txt:2:1: unit says nm, wavelengths run from 0.4 to 0.5: below 50 they can only be in micrometres`,
			"state --wavelength-unit um if the export does not say nm, or correct the export"},
		{"micrometres that cannot be", "um,%R\n400,4.12\n500,4.07\n", text.Stated{},
			`g.txt:2:1: unit says um, wavelengths then run from 400000 to 500000 nm`, "correct the unit of wavelength"},
		{"one wavelength beyond any spectrum", "nm,%R\n400,4.12\n401,4.07\n1e300,4\n", text.Stated{},
			`g.txt:4:1: 1e300 is no wavelength of a spectrum here: the limit is 100,000 nm`,
			"correct the row, or check the unit of wavelength"},
		{"one wavelength beyond any spectrum, micrometres descending", "um,%R\n100.1,4.12\n0.401,4.07\n0.4,4\n",
			text.Stated{},
			`g.txt:2:1: 100.1 is no wavelength of a spectrum here: the limit is 100,000 nm`,
			"correct the row, or check the unit of wavelength"},
		{"a negative wavelength", "nm,%R\n-1,4.12\n500,4.07\n", text.Stated{},
			`g.txt:2:1: wavelengths run from -1 to 500 nm: all must be above zero`, again},
		{"unit that is not read", "Wavelength (\u00c5),%R\n4000,4.12\n4010,4.07\n", text.Stated{},
			`g.txt:1:1: wavelengths in å are not read`, "export wavelengths in nm"},
		{"heading and statement differ", "nm,%R\n400,4.12\n401,4.07\n", text.Stated{WavelengthUnit: "um"},
			`g.txt:1:1: the heading says nm, --wavelength-unit says um`, statement},
		{"header and heading differ", "X units: um\nnm,%R\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:2:1: the header says um, the heading says nm`, statement},
		{"goes back", "nm,%R\n1009.8,4.12\n1010.2,4.07\n968.4,4\n", text.Stated{},
			`g.txt:4:1: 968.4 nm follows 1010.2 nm; two detectors or two scans overlap here`, overlap},
		{"goes back, unit unknown", "Wavelength,%R\n1009.8,4.12\n1010.2,4.07\n968.4,4\n", text.Stated{},
			`g.txt:4:1: 968.4 follows 1010.2; two detectors or two scans overlap here`, overlap},
		{"repeats", "nm,%R\n400,4.12\n401,4.07\n\n401,4\n", text.Stated{}, `g.txt:5:1: 401 nm stands here and in line 3 too`,
			overlap},
		{"near-duplicate", "nm,%R\n400,4.12\n401,4.07\n401.005,4\n402,4\n", text.Stated{},
			`g.txt:4:9: 401.005 nm is a near-duplicate of 401 nm; two detectors overlap here`,
			"state --overlap first (or average)"},
		{"near-duplicate, descending", "nm,%R\n402,4.12\n401.005,4.07\n401,4\n400,4\n", text.Stated{},
			`g.txt:3:9: 401.005 nm is a near-duplicate of 401 nm; two detectors overlap here`,
			"state --overlap first (or average)"},
		{"the header contradicts itself on nm", "X units: nm\nWavelength unit: um\nWavelength,%R\n400,4.12\n401,4.07\n",
			text.Stated{},
			`g.txt:2: the header says nm, the header says um`, statement},
		{"the header contradicts itself on percent", "Unit: %\nScale: fraction\nnm,R\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:2: the header says percent, the header says fraction`, statement},
		{"wavelengths where values are due", "400nm\t401nm\n401nm\t402nm\n", allStated,
			`g.txt:1: column 2 contains wavelengths where values are due`, again},
		{"a first column from 0 on that counts no rows", "0 4.12\n0.5 4.07\n1 4\n", text.Stated{Unit: "percent",
			Quantity: "R"},
			`g.txt:1:1: no line names the columns; wavelength 0 has no unit and can only be in micrometres`,
			"state --wavelength-unit um"},
		{"a row without a wavelength", "nm,%R\n400,4.12\n,4.07\n402,4\n", text.Stated{},
			`g.txt:3:1: this row has no wavelength`, againOr},
		{"a value without a wavelength", "nm,G07 %R,nm,G08 %R\n400,4.12,500,4\n401,4.07,,5\n", text.Stated{},
			`g.txt:3:11: this value has no wavelength`, againOr},
		{"another unit in one cell", "400nm\t4.12\n401um\t4.07\n402nm\t4\n", allStated,
			`g.txt:2:1: "401um" is not written like the first number of its column`, again},
		{"declared count", "Points: 501\nnm,%R\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:1: header says 501 points, 2 found`, "state --declared ignore, or " + again + ", or correct the header"},

		// 6. Value axis.
		{"quantity named, scale not", "nm,Reflectance\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:1:4: column "Reflectance" does not say percent or fraction (its values run from 4.07 to 4.12)`,
			"state --unit percent (or fraction)"},
		{"neither named", "nm,G07,G08\n400,4.12,5\n401,4.07,6\n", text.Stated{},
			`g.txt:1:4: column "G07" does not say that it contains reflectance; column "G07" does not say percent or fraction ` +
				`(its values run from 4.07 to 4.12)`,
			"state --quantity R and --unit percent (or fraction)"},
		{"absorbance", "made up\nnm,A\n400,0.041\n401,0.042\n", allStated,
			`g.txt:2:4: column "A" is absorbance; this needs reflectance`, "export the reflectance"},
		{"absorbance in words", "nm,log(1/R)\n400,0.041\n401,0.042\n", allStated,
			`g.txt:1:4: column "log(1/R)" is absorbance; this needs reflectance`, "export the reflectance"},
		{"counts", "nm,G07 [counts]\n400,0.041\n401,0.042\n", allStated,
			`g.txt:1:4: column "G07 [counts]" contains counts, not compared to a reference; this needs reflectance`,
			"export the reflectance, measured against a reference"},
		{"irradiance", "nm,Irradiance\n400,0.041\n401,0.042\n", allStated,
			`g.txt:1:4: column "Irradiance" contains irradiance, not compared to a reference; this needs reflectance`,
			"export the reflectance, measured against a reference"},
		{"raw", "nm,raw\n400,0.041\n401,0.042\n", allStated,
			`g.txt:1:4: column "raw" contains raw values, not compared to a reference; this needs reflectance`,
			"export the reflectance, measured against a reference"},
		{"counts in the header", "Y units: counts\nnm,G07\n400,0.041\n401,0.042\n", allStated,
			`g.txt:1: line 1 says "Y units: counts", and --quantity says reflectance`,
			"state --declared 1, or export the reflectance, measured against a reference"},
		{"no reference", "made up, no reference taken\nnm,R\n400,0.041\n401,0.042\n", allStated,
			`g.txt:1: line 1 says "made up, no reference taken", and the heading says reflectance`,
			"state --declared 1, or export the reflectance, measured against a reference"},
		{"label and mode differ", "Mode: Transmittance\nnm,%R\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:1: the heading says reflectance, the header says transmittance`, "state --declared 1, or " + statement},
		{"transmittance stated as reflectance", "nm,%T\n400,94.12\n401,94.07\n", text.Stated{Quantity: "R"},
			`g.txt:1:4: the heading says transmittance, --quantity says reflectance`, statement},
		{"percent and fraction in one heading", "nm,%R (0-1)\n400,4.12\n401,4.07\n", text.Stated{},
			`g.txt:1:4: heading "%R (0-1)" names percent and fraction`, "correct the heading"},
		{"unit and statement differ", "nm,%R\n400,4.12\n401,4.07\n", text.Stated{Unit: "fraction"},
			`g.txt:1:4: the heading says percent, --unit says fraction`, statement},
		{"unit and cells differ", "nm,R (0-1)\n400,4.12%\n401,4.07%\n", text.Stated{},
			`g.txt:1:4: the heading says fraction, the column of values says percent`, statement},
		{"percent and numbers at odds", "Unit: %\nnm,R\n400,1950\n401,8123\n402,8400\n", text.Stated{},
			`g.txt:2:4: column "R": unit says percent, values run from 1,950 to 8,400`, whichUnit},
		{"fraction and numbers at odds", "nm,R (0-1)\n400,4.12\n401,4.07\n402,0.9\n", text.Stated{},
			`g.txt:1:4: column "R (0-1)": unit says fraction, values run from 0.9 to 4.12`, whichUnit},
		{"zeros as filler", "nm,%R\n" + rows(12, func(i int) string { return []string{"1", "0.0000"}[min(i, 1)] }),
			text.Stated{},
			`g.txt:3:5: column "%R": 11 zeros in a row from 401 to 411 nm look like filler`,
			"state --filler keep (or missing), or leave the cells empty where nothing was measured, or export a narrower range"},
		{"20 points equal to 4 digits", "nm,%R\n" + rows(22, func(i int) string {
			return []string{"9", "99.991",
				"99.994"}[min(i, 1+i%2)]
		}), text.Stated{},
			`g.txt:3:5: column "%R": 21 points in a row from 401 to 421 nm are equal to 4 digits`,
			"state --filler keep (or missing), or measure again without saturation, or export a narrower range or more digits"},
		{"a word", "nm,%R\n400,4.12\n401, OVER\n402,4\n", text.Stated{}, `g.txt:3:6: "OVER" is not a number`, wordTry},
		{"a word in the first row", "nm,%R\n400,OVER\n401,4\n402,4\n", text.Stated{}, `g.txt:2:5: "OVER" is not a number`,
			wordTry},
		{"a word in the last row", "nm,%R\n400,4\n401,4\n402,OVER\n", text.Stated{}, `g.txt:4:5: "OVER" is not a number`,
			wordTry},
		{"a word after a wide character", "nm,%R\n400,4\n401,4\n402,4 \u00b0x\n", text.Stated{},
			`g.txt:4:5: "4 °x" is not a number`, wordTry},
		{"infinity", "nm,%R\n400,4\n401,1e999\n402,4\n", text.Stated{}, `g.txt:3:5: "1e999" is not a number`, wordTry},
		{"two dashes", "nm,%R\n400,4\n401,--\n402,4\n", text.Stated{}, `g.txt:3:5: "--" is not a number`, wordTry},
		{"a value beyond any reflectance", "nm,%R\n400,4\n401, 1e300\n402,4\n", text.Stated{},
			`g.txt:3:6: 1e300 cannot be reflectance: the limit is 1,000 %`, cellTry},
		{"a value just beyond the limit, descending", "nm,G07 %R,G08 %R\n402,4,5\n401,4,1000.1\n400,4,5\n", text.Stated{},
			`g.txt:3:7: 1000.1 cannot be reflectance: the limit is 1,000 %`, cellTry},
		{"a negative value beyond any transmittance", "nm;T (0-1)\n400,5;0,9\n401,5;-10,01\n402,5;0,9\n", text.Stated{},
			`g.txt:3:7: -10,01 cannot be transmittance: the limit is 10`, cellTry},
		{"a value beyond any reflectance behind a missing point", "nm,%R\n400,\n401,4\n402,5000%\n", text.Stated{},
			`g.txt:4:5: "5000%" is not written like the first number of its column`, again},
		{"no values", "nm,%R\n400,\n401,NaN\n", text.Stated{}, `g.txt:2: the rows have wavelengths but no values`, again},

		// 7. Angle.
		{"angle of 90", "nm,R 90 deg (%)\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "R 90 deg (%)" gives an angle of 90 degrees, outside 0 to below 90`,
			"correct the heading: an angle of incidence is counted from the normal"},
		{"an angle too large for a number", "nm,R " + strings.Repeat("9", 400) + " deg (%)\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "R 99999999999999999999999999999999999999..." gives an angle of ` + strings.Repeat("9",
				40) + `... degrees, outside 0 to below 90`,
			"correct the heading: an angle of incidence is counted from the normal"},
		{"negative angle", "nm,%R (-8\u00b0)\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "%R (-8°)" gives an angle of -8 degrees, outside 0 to below 90`,
			"correct the heading: an angle of incidence is counted from the normal"},
		{"two angles", "nm,%R 8 deg 45 deg\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "%R 8 deg 45 deg" gives two angles`, "give each column one angle of incidence"},

		// Polarisation.
		{"two polarisations in one heading", "nm,%R s-pol p-pol\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "%R s-pol p-pol" names two polarisations`, polTry},
		{"a ratio", "nm,Rs/Rp (%)\n400,4\n401,4\n", text.Stated{}, `g.txt:1:4: heading "Rs/Rp (%)" names two polarisations`,
			polTry},
		{"a mean", "nm,R(s+p) (%)\n400,4\n401,4\n", text.Stated{}, `g.txt:1:4: heading "R(s+p) (%)" names two polarisations`,
			polTry},
		{"a word for either", "nm,%R s/p-pol\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "%R s/p-pol" names two polarisations`, polTry},
		{"a word against a letter", "nm,unpolarised R_s (%)\n400,4\n401,4\n", text.Stated{},
			`g.txt:1:4: heading "unpolarised R_s (%)" names two polarisations`, polTry},
		{"two rows of heading at odds", "Polarisation,s,p\nnm,R_s (%),R_s (%)\n400,4,5\n401,4,5\n", text.Stated{},
			`g.txt:2:12: heading "p R_s (%)" names two polarisations`, polTry},
		{"polarisation of heading and header differ", "made up\nPolarisation: p\nnm,%R,s-pol %R\n400,4,5\n401,4,5\n",
			text.Stated{},
			`g.txt:2: the heading says s-polarised, the header says p-polarised`, statement},
		{"unpolarised against s", "Pol.: u\nnm,Rs (%)\n400,4\n401,4\n", text.Stated{},
			`g.txt:1: the heading says s-polarised, the header says unpolarised`, statement},
		{"the header contradicts itself on polarisation", "Polarisation: s\nPol = TM\nnm,%R\n400,4\n401,4\n", text.Stated{},
			`g.txt:2: the header says s-polarised, the header says p-polarised`, statement},

		// Uncertainties.
		{"an uncertainty alone", "nm,u\n400,4\n401,4\n", allStated,
			`g.txt:1:4: column "u" is an uncertainty, and no other column remains`,
			"give the curve that is meant a file of its own"},
		{"an angle with its tolerance", "nm,%R (8 \u00b1 1 deg)\n400,4\n401,4\n", allStated,
			`g.txt:1:4: column "%R (8 ± 1 deg)" is an uncertainty, and no other column remains`,
			"give the curve that is meant a file of its own"},

		// What a person states.
		{"unknown unit", "nm,%R\n400,4\n401,4\n", text.Stated{Unit: "%"}, `g.txt: --unit is stated as "%"`,
			"state --unit fraction or percent"},
		{"unknown wavelength unit", "nm,%R\n400,4\n401,4\n", text.Stated{WavelengthUnit: "mm"},
			`g.txt: --wavelength-unit is stated as "mm"`, "state --wavelength-unit nm, um or cm-1"},
		{"unknown quantity", "nm,%R\n400,4\n401,4\n", text.Stated{Quantity: "A"}, `g.txt: --quantity is stated as "A"`,
			"state --quantity R or T"},
	} {
		t.Run(c.name, func(t *testing.T) {
			export, err := intake.Read("g.txt", []byte(c.text), c.stated)
			var refusal *study.Refusal
			require.True(t, errors.As(err, &refusal), "got %v", err)
			assert.Nil(t, export)
			assert.Equal(t, c.fault, err.Error())
			assert.Equal(t, c.try, refusal.Try)
		})
	}
}

func TestReadRefusesTooMuch(t *testing.T) {
	t.Run("more numbers than memory is set aside for", func(t *testing.T) {
		row := "1" + strings.Repeat(",1", 999) + "\n"
		_, err := intake.Read("g.txt", []byte(strings.Repeat(row, 3_001)), allStated)
		require.EqualError(t, err,
			"g.txt:1: 3,001 rows of 1,000 cells are more than one export may contain: 3,000,000 numbers in 10,000 columns")
	})
	t.Run("more columns than any export", func(t *testing.T) {
		_, err := intake.Read("g.txt", []byte(strings.Repeat("1 ", 1<<20)), allStated)
		require.EqualError(t, err,
			"g.txt:1: 1 row of 1,048,576 cells are more than one export may contain: 3,000,000 numbers in 10,000 columns")
	})
	t.Run("more points than any spectrum", func(t *testing.T) {
		var b strings.Builder
		b.WriteString("nm,%R\n")
		for i := range 100_001 {
			fmt.Fprintf(&b, "%d.%02d,4\n", 300+i/100, i%100)
		}
		stated := text.Stated{Filler: "keep"}
		_, err := intake.Read("g.txt", []byte(b.String()), stated)
		require.EqualError(t, err, `g.txt:1:4: column "%R" has 100,001 points, and a spectrum here at most 100,000`)
		stated.Range = "300-400"
		export, err := intake.Read("g.txt", []byte(b.String()), stated)
		require.NoError(t, err)
		require.Len(t, export.Spectra[0].NM, 10_001)
	})
	t.Run("UTF-16 is held twice", func(t *testing.T) {
		_, err := intake.Read("g.txt", []byte("\xff\xfe"+strings.Repeat("4\x00", 16<<20+1)), allStated)
		require.EqualError(t, err, "g.txt: the file is UTF-16 LE with byte order mark and has more than 32 MiB")
	})
	t.Run("longer lines than any header", func(t *testing.T) {
		_, err := intake.Read("g.txt", []byte(strings.Repeat("made up ", 1<<20)+"no\nnm,%R\n400,4.12\n401,4\n"), allStated)
		require.EqualError(t, err, "g.txt:1: more than 8 MiB from here on are not rows of numbers")
	})
	t.Run("more text than any header", func(t *testing.T) {
		text := strings.Repeat("made up\n", 20_001) + "nm,%R\n400,4.12\n401,4\n"
		_, err := intake.Read("g.txt", []byte(text), allStated)
		require.EqualError(t, err, "g.txt:20001: more than 20,000 lines are not numbers")
	})
	t.Run("a line without end is no row", func(t *testing.T) {
		_, err := intake.Read("g.txt", []byte(strings.Repeat("long ", 1<<20)), allStated)
		require.EqualError(t, err, "g.txt: the file has no rows of numbers")
	})
}

// A list of many columns is cut in a message, and whole in the answer; neighbours are
// written as a range.
func TestLongListsAreCut(t *testing.T) {
	heading, row := "nm", ""
	for i := range 20 {
		heading += fmt.Sprintf(",S%d %%R,blank %d %%R", i, i)
		row += fmt.Sprintf(",4.%d,5", i)
	}
	_, err := intake.Read("g.csv", []byte(heading+"\n400"+row+"\n401"+row+"\n"), text.Stated{})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, "state --columns 2,4,6,8,10,12,14,16,18,20,... to 40 (or 2-41)", refusal.Try)
	require.Len(t, refusal.Choices, 2)
	assert.Equal(t, 20, len(strings.Split(refusal.Choices[0].Value, ",")))

	names := strings.Repeat("7,", 40)
	raw := []byte(strings.Repeat("id,", 40) + "nm,%R\nG07," + names[2:] + "400,4.1\nG07," + names[2:] +
		"401,4.2\nG08," + names[2:] + "400,4.1\nG08," + names[2:] + "401,4.2\n")
	_, err = intake.Read("g.csv", raw, text.Stated{})
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, "state --group-by 1-40, or export each curve in columns of its own", refusal.Try)
	assert.Less(t, len(refusal.Choices[0].Meaning), 400)

	export, err := intake.Read("g.csv", raw, text.Stated{GroupBy: refusal.Choices[0].Value})
	require.NoError(t, err)
	assert.Len(t, export.Spectra, 2)
}

// Columns are stated as numbers and ranges, each once.
func TestColumnsAreStatedInRanges(t *testing.T) {
	raw := []byte("nm,G1 %R,G2 %R,G3 %R,G4 %R,G5 %R\n400,1,2,3,4,5\n401,1,2,3,4,6\n")
	for columns, want := range map[string][]int{"2,4-6": {2, 4, 5, 6}, "3-5": {3, 4, 5}, " 2 - 3 , 6": {2, 3, 6}} {
		export, err := intake.Read("g.csv", raw, text.Stated{Columns: columns})
		require.NoError(t, err, columns)
		var got []int
		for _, s := range export.Spectra {
			got = append(got, s.Column)
		}
		assert.Equal(t, want, got, columns)
	}
	for columns, why := range map[string]string{
		"4-2": `the range "4-2" must rise, state 2-4`, "2-2": `"2-2" is a range of one number, state 2`,
		"0-3": "numbers count from 1",
		"2-":  `"2-" is neither a number nor a range`, "-3": `"-3" is neither a number nor a range`,
		"2-4-6":                `"2-4-6" is neither a number nor a range`,
		"2,,3":                 `"" is neither a number nor a range`,
		"99999999999999999999": `"99999999999999999999" is neither a number nor a range`,
		"2-4,3":                "3 is there twice", "1-999999999999": "these are more than 10,000 numbers",
		"1-9000,9001-18000": "these are more than 10,000 numbers",
	} {
		_, err := intake.Read("g.csv", raw, text.Stated{Columns: columns})
		require.EqualError(t, err, fmt.Sprintf("g.csv: --columns is stated as %q: %s", columns, why))
	}
}
