package intake_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// Each case breaks one thing in a file that is taken otherwise, and says what a
// person reads. The records stand in lines 1 to 17, the rows from line 18 on.
func TestReadJCAMPRefuses(t *testing.T) {
	const (
		difdup  = "400AJT%jT\n405AjV\n409c"
		again   = "export the file again from the instrument"
		row     = again + ", or correct the row"
		overlap = "state --overlap first (or average), or give each scan a block of its own"
		find    = "state --declared ignore, or find out which is right, then correct the header or export the file again"
	)
	s := jcamp(tenPoints)
	none := text.Stated{}
	for _, c := range []struct {
		name, text string
		stated     text.Stated
		fault, try string
	}{
		// Blocks.
		{"no END", strings.Replace(s, "##END=\n", "", 1), none,
			`g.jdx:1: the block that begins here has no ##END=: the file was cut short`,
			"copy the file again from the instrument"},
		{"END twice", s + "##END=\n", none,
			`g.jdx:20: ##END= stands outside any block: blocks begin with ##TITLE= and end with ##END=`, again},
		{"text behind END", s + "400 0.04\n", none, `g.jdx:20: "400 0.04" stands outside any block, behind its ##END=`,
			"delete what stands outside the blocks, or export the file again"},
		{"a block in a block", strings.Replace(s, "##XUNITS", "##TITLE= G08\n##XUNITS", 1), none,
			`g.jdx:6: a block begins here, but the one of line 1 has no ##END= before it`, again},
		{"no =", strings.Replace(s, "##FIRSTX=", "##FIRSTX", 1), none,
			`g.jdx:10: ##FIRSTX 400 has no =: it is no labelled record`, again + ", or correct the line"},
		{"no BLOCKS", "##TITLE= all\n##DATA TYPE= LINK\n" + s + "##END=\n", none,
			`g.jdx:1: the LINK block has no ##BLOCKS=, so it cannot be checked that it is whole`, again},
		{"BLOCKS wrong", "##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= 2\n" + s + "##END=\n", none,
			`g.jdx:3: ##BLOCKS= says "2", the LINK block contains 1 block`, again},
		{"no number of BLOCKS", "##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= two\n" + s + "##END=\n", none,
			`g.jdx:3: ##BLOCKS= says "two", the LINK block contains 1 block`, again},
		{"rows in LINK", "##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= 1\n##XYDATA= (X++(Y..Y))\n400 1\n" + s + "##END=\n",
			none, `g.jdx:4: a table stands right inside the LINK block of line 1`, again},
		{"LINK without blocks", "##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= 0\n##END=\n", none,
			`g.jdx: the file has no block of data`, again},
		{"LINK without END", "##TITLE= all\n##DATA TYPE= LINK\n##BLOCKS= 1\n" + s, none,
			`g.jdx:1: the block that begins here has no ##END=: the file was cut short`,
			"copy the file again from the instrument"},
		{"no table", jcamp("", "XYDATA="), none, `g.jdx:1: the block has no table: no ##XYDATA= and no ##XYPOINTS=`, again},
		{"two tables", strings.Replace(s, "##END", "##XYDATA= (X++(Y..Y))\n400 1\n##END", 1), none,
			`g.jdx:19: a second table in the block of line 1`, "give each table a block of its own"},
		{"NTUPLES", jcamp("400 1", "XYDATA=", "NTUPLES= UV SPECTRUM", "DATA TABLE= (X++(Y..Y)), XYDATA"), none,
			`g.jdx:17: ##NTUPLES= is not read`, "export one spectrum a block, as ##XYDATA= or ##XYPOINTS="},
		{"another form", jcamp(tenPoints, "XYDATA= (X++(R..R))"), none,
			`g.jdx:17: a table of the form ##XYDATA= (X++(R..R)) is not read`,
			"export the spectrum as ##XYDATA= (X++(Y..Y)) or ##XYPOINTS= (XY..XY)"},
		{"numbers behind the form", jcamp(tenPoints, "XYDATA= (X++(Y..Y)) 400 1"), none,
			`g.jdx:17: a table of the form ##XYDATA= (X++(Y..Y)) 400 1 is not read`,
			"export the spectrum as ##XYDATA= (X++(Y..Y)) or ##XYPOINTS= (XY..XY)"},
		{"control characters", strings.Replace(s, "nobody", "\x01\x02\x03\x04\x05\x06\x07\x08", 1), none,
			`g.jdx: the file is not text: it is full of control characters`, "save the export as plain text in UTF-8"},
		{"too many lines", strings.Replace(s, "##XUNITS", strings.Repeat("$$\n", 20_000)+"##XUNITS", 1), none,
			`g.jdx:20001: more than 20,000 lines are not numbers`, again},
		{"a long title", jcamp(tenPoints, "TITLE= "+strings.Repeat("G", 5000)), none,
			`g.jdx:1: ##TITLE= contains more than 4,096 bytes`, "shorten the line"},

		// Checks in the header.
		{"NPOINTS", jcamp(tenPoints, "NPOINTS= 11"), none, `g.jdx:12: ##NPOINTS= says 11, 10 found`, again +
			", or correct the header"},
		{"NPOINTS beyond all", jcamp(tenPoints, "NPOINTS= 1000000000000"), none,
			`g.jdx:12: ##NPOINTS= says 1000000000000, 10 found`, again + ", or correct the header"},
		{"a row lost", jcamp("400AJT%jT\n409c"), none,
			`g.jdx:19:4: the row begins with ordinate -3 as a check, but the row before ends with 1`, row},
		{"a row of numbers lost", jcamp("400 1 2 3 3 2"), none, `g.jdx:12: ##NPOINTS= says 10, 5 found`, again +
			", or correct the header"},
		{"FIRSTX", jcamp(tenPoints, "FIRSTX= 399"), none,
			`g.jdx:18:1: the row begins at x = 400, where FIRSTX, LASTX and NPOINTS make it 399`, row},
		{"LASTX", jcamp(tenPoints, "LASTX= 410"), none,
			`g.jdx:13: ##DELTAX= says 1, the first and the last point and their number make it 1.111111111`,
			"find out which is right, then correct the header"},
		{"LASTX, without DELTAX", jcamp(difdup, "LASTX= 410", "DELTAX="), none,
			`g.jdx:19:1: the row begins at x = 409, where FIRSTX, LASTX and NPOINTS make it 410`, row},
		{"LASTX is FIRSTX", jcamp(tenPoints, "LASTX= 400"), none, `g.jdx:11: ##FIRSTX= and ##LASTX= are the same`, again},
		{"DELTAX", jcamp(tenPoints, "DELTAX= 0.999"), none,
			`g.jdx:13: ##DELTAX= says 0.999, the first and the last point and their number make it 1`,
			"find out which is right, then correct the header"},
		{"DELTAX, sign", jcamp(tenPoints, "DELTAX= -1"), none,
			`g.jdx:13: ##DELTAX= says -1, the first and the last point and their number make it 1`,
			"find out which is right, then correct the header"},
		{"FIRSTY", jcamp(tenPoints, "FIRSTY= 0.02"), none, `g.jdx:14: ##FIRSTY= says 0.02, the numbers give 0.01`, find},
		{"MINY", jcamp(tenPoints, "MINY= -0.04"), none, `g.jdx:15: ##MINY= says -0.04, the numbers give -0.03`, find},
		{"MAXY", jcamp(tenPoints, "MAXY= 0.04"), none, `g.jdx:16: ##MAXY= says 0.04, the numbers give 0.03`, find},
		{"MAXY in percent", jcamp(tenPoints, "MAXY= 3"), none, `g.jdx:16: ##MAXY= says 3, the numbers give 0.03`, find},
		{"LASTY", jcamp(tenPoints, "LASTY= 0"), none, `g.jdx:17: ##LASTY= says 0, the numbers give -0.03`, find},
		{"MINX", jcamp(tenPoints, "MINX= 399"), none, `g.jdx:17: ##MINX= says 399, the numbers give 400`, find},
		{"MAXX", jcamp(tenPoints, "MAXX= 410"), none, `g.jdx:17: ##MAXX= says 410, the numbers give 409`, find},
		{"FIRSTX of pairs", jcamp("400 1 402 2 404 3", "XYDATA= (XY..XY)", "NPOINTS= 3", "DELTAX=", "FIRSTX= 401"), none,
			`g.jdx:10: ##FIRSTX= says 401, the numbers give 400`, find},
		{"LASTX of pairs", jcamp("400 1 402 2 404 3", "XYDATA= (XY..XY)", "NPOINTS= 3", "DELTAX=", "LASTX= 405",
			"MINY= 0.01"), none, `g.jdx:11: ##LASTX= says 405, the numbers give 404`, find},
		{"YFACTOR", jcamp(tenPoints, "YFACTOR= 0.001"), none, `g.jdx:14: ##FIRSTY= says 0.01, the numbers give 0.001`, find},
		{"XFACTOR", jcamp(tenPoints, "XFACTOR= 0.1"), none,
			`g.jdx:18:1: the row begins at x = 40, where FIRSTX, LASTX and NPOINTS make it 400`, row},
		{"YFACTOR is zero", jcamp(tenPoints, "YFACTOR= 0"), none, `g.jdx:9: ##YFACTOR= is zero`, again},
		{"YFACTOR is a word", jcamp(tenPoints, "YFACTOR= one"), none, `g.jdx:9: ##YFACTOR= "one" is not a number`, again +
			", or correct the line"},
		{"FIRSTY with a comma", jcamp(tenPoints, "FIRSTY= 0,01"), none, `g.jdx:14: ##FIRSTY= "0,01" is not a number`, again +
			", or correct the line"},
		{"no XFACTOR", jcamp(tenPoints, "XFACTOR="), none,
			`g.jdx:16: the block of line 1 has no ##XFACTOR=, which its table needs`, again},
		{"no YFACTOR", jcamp(tenPoints, "YFACTOR="), none,
			`g.jdx:16: the block of line 1 has no ##YFACTOR=, which its table needs`, again},
		{"no FIRSTX", jcamp(tenPoints, "FIRSTX="), none,
			`g.jdx:16: the block of line 1 has no ##FIRSTX=, which its table needs`, again},
		{"no LASTX", jcamp(tenPoints, "LASTX="), none,
			`g.jdx:16: the block of line 1 has no ##LASTX=, which its table needs`, again},
		{"no NPOINTS", jcamp(tenPoints, "NPOINTS="), none,
			`g.jdx:16: the block of line 1 has no ##NPOINTS=, which its table needs`, again},
		{"a record twice", jcamp(tenPoints, "OWNER= nobody\n##YFACTOR= 0.1"), none,
			`g.jdx:10: ##YFACTOR= has another value in line 6`, again + ", or delete one of the two"},
		{"one point", jcamp("400 1", "NPOINTS= 1"), none, `g.jdx:17: the table contains 1 point: that is not a spectrum`, again},
		{"no point", jcamp("", "NPOINTS= 0"), none, `g.jdx:17: the table contains 0 points: that is not a spectrum`, again},

		// Rows.
		{"the abscissa of a row", jcamp("400 1 2 3 3 2\n406 1 0 -1 -2 -3"), none,
			`g.jdx:19:1: the row begins at x = 406, where FIRSTX, LASTX and NPOINTS make it 405`, row},
		{"the abscissa of a check", jcamp("400AJT%jT\n405AjV\n408c"), none,
			`g.jdx:20:1: the row begins at x = 408, where FIRSTX, LASTX and NPOINTS make it 409`, row},
		{"a point moved to the next row", jcamp("400 1 2 3 3\n405 2 1 0 -1 -2 -3"), none,
			`g.jdx:19:1: the row begins at x = 405, where FIRSTX, LASTX and NPOINTS make it 404`, row},
		{"the check of a row", jcamp("400AJT%jT\n405BjV\n409c"), none,
			`g.jdx:19:4: the row begins with ordinate 2 as a check, but the row before ends with 1`, row},
		{"the check at the end", jcamp("400AJT%jT\n405AjV\n409d"), none,
			`g.jdx:20:4: the row begins with ordinate -4 as a check, but the row before ends with -3`, row},
		{"a question mark for a check", jcamp("400AJT%jT\n405?jV"), none,
			`g.jdx:19:4: the row must begin with ordinate 1, with which the row before ends, as a check`, row},
		{"a difference for a check", jcamp("400AJT%jT\n405jV"), none,
			`g.jdx:19:4: a difference stands where no ordinate is before it`, row},
		{"a difference first", jcamp("400JJ"), none, `g.jdx:18:4: a difference stands where no ordinate is before it`, row},
		{"a difference behind a missing point", jcamp("400A?J"), none,
			`g.jdx:18:6: a difference stands where no ordinate is before it`, row},
		{"a count first", jcamp("400TA"), none, `g.jdx:18:4: a count stands where nothing is before it to repeat`, row},
		{"a count behind a check", jcamp("400AJT%jT\n405ATjV"), none,
			`g.jdx:19:5: a count stands where nothing is before it to repeat`, row},
		{"a count beyond all", jcamp("400AT99999999999"), none,
			`g.jdx:18:5: the rows give more than the 4,896 points that a file of this size may contain`,
			"correct the count, or export fewer spectra into one file"},
		{"a count of 16 digits", jcamp("400AS999999999999999"), none, `g.jdx:18:5: a number has more than 15 digits`, row},
		{"an ordinate too large", jcamp("400A00000000000000R99999999999999"), none,
			`g.jdx:18:19: an ordinate has more than 15 digits`, row},
		{"a point beside letters", jcamp("400 1.5J"), none,
			`g.jdx:18:5: "1.5" is no whole number of 15 digits at most, as ordinates are beside letters`, row},
		{"an exponent without sign", jcamp("400 1.5E2"), none,
			`g.jdx:18:5: "1.5" is no whole number of 15 digits at most, as ordinates are beside letters`, row},
		{"no ordinate", jcamp("400 1 2\n402"), none, `g.jdx:19:1: no ordinate follows the abscissa`, row},
		{"no check", jcamp("400AJT%jT\n405"), none, `g.jdx:19:1: no ordinate follows the abscissa`, row},
		{"no abscissa", jcamp("400 1 2\nABC"), none, `g.jdx:19:1: a row begins with its abscissa`, row},
		{"a question mark for an abscissa", jcamp("? 1 2"), none, `g.jdx:18:1: a row begins with its abscissa`, row},
		// O, V, E and R are a difference, a count, an ordinate and a difference: eight
		// points with 1 and 2, which only the checks tell from data.
		{"a word of digits", jcamp("400 1 2 OVER"), none, `g.jdx:12: ##NPOINTS= says 10, 8 found`, again +
			", or correct the header"},
		{"a word beside points", jcamp("400 1.5 2.5 NaN"), none,
			`g.jdx:18:5: "1.5" is no whole number of 15 digits at most, as ordinates are beside letters`, row},
		{"a word", jcamp("400 1 2 --- high"), none, `g.jdx:18:9: "-" is no ordinate`, row},
		{"decimal commas", jcamp("400 1,5 2,5"), none, `g.jdx:18:6: "," is no ordinate`, row},
		{"a sign alone", jcamp("400 1 - 2"), none, `g.jdx:18:7: "-" is no ordinate`, row},
		{"two points", jcamp("400 1.5.2"), none, `g.jdx:18:8: nothing parts ".2" from what stands before`, row},
		{"a NUL byte", jcamp("400 1\x002"), none, `g.jdx:18:6: "" is no ordinate`, row},
		{"a number too large", jcamp("400 1E+399"), none, `g.jdx:18:5: the number is too large`, row},
		{"a pair cut short", jcamp("400 1 401", "XYDATA= (XY..XY)"), none, `g.jdx:18:10: no ordinate follows the abscissa`,
			row},
		{"pairs with decimal commas", jcamp("400,5 0,04", "XYDATA= (XY..XY)"), none, `g.jdx:12: ##NPOINTS= says 10, 2 found`,
			again + ", or correct the header"},
		{"letters in a pair", jcamp("400 A", "XYDATA= (XY..XY)"), none, `g.jdx:18:5: "A" is no ordinate`, row},
		{"pairs stuck together", jcamp("400 1,401 2", "XYDATA= (XY..XY)"), none,
			`g.jdx:18:6: neither a space nor a semicolon follows the pair`, row},
		{"pairs that go back", jcamp("400 1 402 2\n401 3", "XYDATA= (XY..XY)", "NPOINTS= 3"), none,
			`g.jdx:19:1: x = 401 follows 402: it must run one way`,
			overlap},
		{"a pair twice", jcamp("400 1 402 2 402 3", "XYDATA= (XY..XY)", "NPOINTS= 3"), none,
			`g.jdx:18:13: x = 402 follows 402: it must run one way`,
			overlap},

		// Units and quantities.
		{"absorbance", jcamp(tenPoints, "YUNITS= ABSORBANCE"), none, `g.jdx:7: ##YUNITS= ABSORBANCE: this needs reflectance`,
			wantReflectance},
		{"Kubelka-Munk", jcamp(tenPoints, "YUNITS= KUBELKA-MUNK"), none,
			`g.jdx:7: ##YUNITS= KUBELKA-MUNK: this needs reflectance`, wantReflectance},
		{"its reflectance", jcamp(tenPoints, "YUNITS= KUBELKA-MUNK REFLECTANCE"), none,
			`g.jdx:7: ##YUNITS= KUBELKA-MUNK REFLECTANCE: this needs reflectance`, wantReflectance},
		{"logarithm", jcamp(tenPoints, "YUNITS= LOG(1/R)"), none, `g.jdx:7: ##YUNITS= LOG(1/R): this needs reflectance`,
			wantReflectance},
		{"counts", jcamp(tenPoints, "YUNITS= COUNTS"), none, `g.jdx:7: ##YUNITS= COUNTS: this needs reflectance`,
			wantReflectance},
		{"arbitrary", jcamp(tenPoints, "YUNITS= ARBITRARY UNITS"), text.Stated{Quantity: "R", Unit: "fraction"},
			`g.jdx:7: ##YUNITS= ARBITRARY UNITS: this needs reflectance`, wantReflectance},
		{"relative", jcamp(tenPoints, "YUNITS= RELATIVE REFLECTANCE"), none,
			`g.jdx:7: the header says that the values are relative to a reference`,
			"state --relative-to absolute (or NAME), or export values that are corrected for the reference"},
		{"relative by a record", jcamp(tenPoints, "SAMPLING PROCEDURE= relative to a white tile"), none,
			`g.jdx:17: the header says that the values are relative to a reference`,
			"state --relative-to absolute (or a white tile), or export values that are corrected for the reference"},
		{"absorbance by its title", jcamp(tenPoints, "TITLE= absorbance of G07"), none,
			`g.jdx:1: column "absorbance of G07" is absorbance; this needs reflectance`,
			"export the reflectance over wavelengths"},
		{"absorbance by its type", jcamp(tenPoints, "DATA TYPE= ABSORPTION SPECTRUM", "YUNITS="), none,
			`g.jdx:1: column "G07" is absorbance; this needs reflectance`, "export the reflectance over wavelengths"},
		{"no YUNITS", jcamp(tenPoints, "YUNITS="), none,
			`g.jdx:1: column "G07" does not say that it contains reflectance; column "G07" does not say percent or fraction ` +
				`(its values run from -0.03 to 0.03)`,
			"state --quantity R and --unit percent (or fraction)"},
		{"no XUNITS", jcamp(tenPoints, "XUNITS="), none,
			`g.jdx:1: the unit of wavelength is not stated (the numbers run from 400 to 409)`,
			"state --wavelength-unit nm (or um or cm-1)"},
		{"the sign of XUNITS lost", jcamp(tenPoints, "XUNITS= ?m"), none,
			`g.jdx:1: the unit of wavelength lost its symbol in "?m" (the numbers run from 400 to 409)`,
			"state --wavelength-unit nm (or um or cm-1)"},
		{"hertz", jcamp(tenPoints, "XUNITS= HZ"), none, `g.jdx:6: ##XUNITS= HZ is not a unit of wavelength that wane reads`,
			"export wavelengths in nm"},
		{"percent in the values", jcamp("400 4 5 5 4 4 4 4 4 4 5", "YFACTOR= 1", "FIRSTY= 4", "MINY= 4", "MAXY= 5"), none,
			`g.jdx:7: ##YUNITS= REFLECTANCE is a fraction by the standard, but the values run from 4 to 5`,
			"state --unit percent, or find out what the numbers are"},
		{"percent stated as a fraction", jcamp("400 4 5 5 4 4 4 4 4 4 5", "YFACTOR= 1", "FIRSTY= 4", "MINY= 4", "MAXY= 5"),
			text.Stated{Unit: "fraction"},
			`g.jdx:1: column "G07": unit says fraction, values run from 4 to 5`,
			"state --unit percent if they are in percent, or export the reflectance"},
		{"a fraction stated as percent", jcamp(tenPoints, "YUNITS= %R"), text.Stated{Unit: "fraction"},
			`g.jdx:7: ##YUNITS= says percent, --unit says fraction`, contradiction},
		{"transmittance stated as reflectance", jcamp(tenPoints, "YUNITS= TRANSMITTANCE"), text.Stated{Quantity: "R"},
			`g.jdx:7: ##YUNITS= says transmittance, --quantity says reflectance`, "state --declared 7, or " + contradiction},
		{"nm stated as um", jcamp(tenPoints), text.Stated{WavelengthUnit: "um"},
			`g.jdx:6: ##XUNITS= says nm, --wavelength-unit says um`, contradiction},
		{"cm-1 stated as nm", jcamp(tenPoints, "XUNITS= 1/CM"), text.Stated{WavelengthUnit: "nm"},
			`g.jdx:6: ##XUNITS= says cm-1, --wavelength-unit says nm`, contradiction},
		{"in a map", jcamp(tenPoints), text.Stated{WavelengthUnit: "um", InMap: true},
			`g.jdx:6: ##XUNITS= says nm, the map's wavelength_unit says um`, contradiction},
		{"the title says transmittance", jcamp(tenPoints, "TITLE= transmission of G07"), none,
			`g.jdx:7: the heading says transmittance, ##YUNITS= says reflectance`,
			"state --declared 7 (or 1), or " + contradiction},
		{"the type says transmittance", jcamp(tenPoints, "DATA TYPE= TRANSMISSION SPECTRUM"), none,
			`g.jdx:3: ##YUNITS= says reflectance, ##DATA TYPE= says transmittance`,
			"state --declared 3 (or 7), or " + contradiction},
		{"nm that are um", jcamp(strings.Replace(tenPoints, "400", "4", 1), "FIRSTX= 4", "LASTX= 13"), none,
			`g.jdx:17: unit says nm, wavelengths run from 4 to 13: below 50 they can only be in micrometres`,
			"state --wavelength-unit um if the export does not say nm, or correct the export"},
		{"a spike", jcamp("400 1 2 3 3 1200 1 0 -1 -2 -3", "MAXY= 12"), none,
			`g.jdx:18: 12 cannot be reflectance: the limit is 10`,
			"correct the number, or write ? if the point is missing; check the unit of the block"},
		{"a spike in percent, running down", jcamp("409 1 2 3 3 2\n404 1 0 -1 -200000 -3", "YUNITS= %R", "MINY= -2000",
			"FIRSTX= 409", "LASTX= 400", "DELTAX= -1"), none,
			`g.jdx:19: -2000 cannot be reflectance: the limit is 1,000 %`,
			"correct the number, or write ? if the point is missing; check the unit of the block"},
		{"zeros as filler", jcamp("400 1 0 0 0 0 0 0 0 0 0 0 2", "NPOINTS= 12", "LASTX= 411", "MINY= 0", "MAXY= 0.02"), none,
			`g.jdx:17: column "G07": 10 zeros in a row from 401 to 410 nm look like filler`,
			"state --filler keep (or missing), or leave the cells empty where nothing was measured, or export a narrower " +
				"range"},
		{"saturation", jcamp("400AU3", "NPOINTS= 33", "LASTX= 432", "MINY=", "MAXY="), none,
			`g.jdx:15: column "G07": 33 points in a row from 400 to 432 nm are equal to 4 digits`,
			"state --filler keep (or missing), or measure again without saturation, or export a narrower range or more digits"},
		{"all missing", jcamp("400 ? ?", "NPOINTS= 2", "LASTX= 401"), none,
			`g.jdx:17: column "G07" has no number: all points are missing`, again},
		{"a derivative", jcamp(tenPoints, "DATA TYPE= INFRARED DERIVATIVE SPECTRUM"), none,
			`g.jdx:3: ##DATA TYPE= INFRARED DERIVATIVE SPECTRUM: this needs a spectrum of reflectance`,
			"export the reflectance over wavelengths"},
		{"peaks by the type", jcamp(tenPoints, "DATA TYPE= INFRARED PEAK TABLE"), none,
			`g.jdx:3: ##DATA TYPE= INFRARED PEAK TABLE: this needs a spectrum of reflectance`,
			"export the reflectance over wavelengths"},
		{"an interferogram", jcamp(tenPoints, "DATA TYPE= INFRARED INTERFEROGRAM"), none,
			`g.jdx:3: ##DATA TYPE= INFRARED INTERFEROGRAM: this needs a spectrum of reflectance`,
			"export the reflectance over wavelengths"},
		{"two angles", jcamp(tenPoints, "$X= 1\n##$AOI= 8\n##ANGLE OF INCIDENCE= 60"), none,
			`g.jdx:19: ##ANGLE= has another value in line 18`, again + ", or delete one of the two"},
		{"two polarisations", jcamp(tenPoints, "TITLE= G07 s-pol R", "POLARISATION= p"), none,
			`g.jdx:17: the heading says s-polarised, the header says p-polarised`, contradiction},
		{"both faces", compound(jcamp(tenPoints, "TITLE= G07 front"), jcamp(tenPoints, "TITLE= G07 back")), none,
			`g.jdx:4: the front and the back face stand side by side: it is not known which curves are meant`,
			"state --columns 2 (or 3), or give the curve that is meant a file of its own"},
		{"no such column", jcamp(tenPoints), text.Stated{Columns: "3"}, `g.jdx: column 3 has no values`,
			"state columns that exist: 2"},
		{"a decimal comma stated", jcamp(tenPoints), text.Stated{Decimal: "comma"},
			`g.jdx: the file is JCAMP-DX, in which --decimal means nothing`,
			"leave --decimal out; --columns states which blocks are curves, the first being 2"},
		{"a block stated", jcamp(tenPoints), text.Stated{Block: "2"},
			`g.jdx: the file is JCAMP-DX, in which --block means nothing`,
			"leave --block out; --columns states which blocks are curves, the first being 2"},
		{"DELTAX of pairs", jcamp("400 1 402 2 404 3", "XYDATA= (XY..XY)", "NPOINTS= 3", "LASTX= 404", "MINY= 0.01"), none,
			`g.jdx:13: ##DELTAX= says 1, the first and the last point and their number make it 2`,
			"state --declared ignore, or find out which is right, then correct the header"},
		{"DELTAX, not to be ignored", jcamp(tenPoints, "DELTAX= 2"), text.Stated{Declared: "ignore"},
			`g.jdx:13: ##DELTAX= says 2, the first and the last point and their number make it 1`,
			"find out which is right, then correct the header"},
		{"dark and white", compound(jcamp(tenPoints, "TITLE= dark"), jcamp(tenPoints, "TITLE= white tile")), none,
			`g.jdx:4: column "dark" is a baseline or reference by its name, and no other block remains`,
			"state --columns 2 (or 3), or give the block that is meant a file of its own"},
	} {
		export, err := intake.Read("g.jdx", []byte(c.text), c.stated)
		var refusal *study.Refusal
		if !assert.True(t, errors.As(err, &refusal), "%s: %v", c.name, err) {
			continue
		}
		assert.Nil(t, export, c.name)
		assert.Equal(t, c.fault, refusal.Error(), c.name)
		assert.Equal(t, c.try, refusal.Try, c.name)
	}
}

const (
	wantReflectance = "export the reflectance over wavelengths; ##YUNITS= is then REFLECTANCE or PERCENT REFLECTANCE"
	contradiction   = "find out which is right, then correct the map (or the flag), or export again"
)

// compound writes a LINK block around blocks.
func compound(blocks ...string) string {
	return "##TITLE= all of it\n##DATA TYPE= LINK\n##BLOCKS= " + string(rune('0'+len(blocks))) +
		"\n" + strings.Join(blocks, "") + "##END=\n"
}

// A block that cannot be used, beside one that can, is left with its reason.
func TestReadJCAMPLeaves(t *testing.T) {
	for _, c := range []struct {
		name, block, why string
		named            bool // a person may still name it
	}{
		{"dark", jcamp(tenPoints, "TITLE= dark"), "a baseline or reference by its name", true},
		{"reference", jcamp(tenPoints, "TITLE= Reference 3"), "a baseline or reference by its name", true},
		{"baseline", jcamp(tenPoints, "TITLE= baseline"), "a baseline or reference by its name", true},
		{"white", jcamp(tenPoints, "TITLE= White tile"), "a baseline or reference by its name", true},
		{"blank", jcamp(tenPoints, "TITLE= blank B01"), "a baseline or reference by its name", true},
		{"white in percent", jcamp("400 98 99 99 98", "TITLE= white tile", "YFACTOR= 1", "NPOINTS= 4", "LASTX= 403",
			"FIRSTY= 98", "MINY= 98", "MAXY= 99"),
			"a baseline or reference by its name: ##YUNITS= REFLECTANCE is a fraction by the standard, but the values run " +
				"from 98 to 99", false},
		{"transmittance", jcamp(tenPoints, "TITLE= G07", "YUNITS= TRANSMITTANCE"), "transmittance", true},
		{"uncertainty", jcamp(tenPoints, "TITLE= G07 sd"), "an uncertainty by its name", true},
		{"peaks", jcamp("400 1 402 3", "XYDATA=", "PEAK TABLE= (XY..XY)", "NPOINTS= 2", "LASTX= 402", "DELTAX= 2",
			"MINY= 0.01"), "a table of peaks by its label", true},
		{"absorbance", jcamp("unread", "YUNITS= ABSORBANCE"), "##YUNITS= ABSORBANCE: this needs reflectance", false},
		{"mass", jcamp("unread", "XUNITS= M/Z", "YUNITS= RELATIVE ABUNDANCE"),
			"##YUNITS= RELATIVE ABUNDANCE: this needs reflectance", false},
		{"time", jcamp("unread", "XUNITS= SECONDS"), "##XUNITS= SECONDS is not a unit of wavelength that wane reads", false},
		{"structure", "##TITLE= a structure\n##JCAMP-CS= 3.7\n##ATOMLIST=\n1 C\n##END=\n",
			"the block has no table: no ##XYDATA= and no ##XYPOINTS=", false},
		{"NTUPLES", "##TITLE= pages\n##NTUPLES= MASS SPECTRUM\n##PAGE= T=1\n##NPOINTS= 1\n##DATA TABLE= (XY..XY), " +
			"PEAKS\n1 2\n##PAGE= T=2\n##NPOINTS= 2\n##DATA TABLE= (XY..XY), PEAKS\n1 2 3 4\n##END NTUPLES=\n##END=\n",
			"##NTUPLES= is not read", false},
		{"a LINK block inside", "", "", false},
	} {
		s := compound(c.block, jcamp(tenPoints, "TITLE= G08"))
		if c.block == "" {
			s = compound(compound(jcamp(tenPoints, "TITLE= dark")), jcamp(tenPoints, "TITLE= G08"))
			c.why, c.named = "a baseline or reference by its name", true
		}
		export, err := intake.Read("g.jdx", []byte(s), text.Stated{})
		require.NoError(t, err, c.name)
		require.Len(t, export.Spectra, 1, c.name)
		assert.Equal(t, "G08", export.Spectra[0].Heading, c.name)
		assert.Equal(t, 3, export.Spectra[0].Column, c.name)
		require.Len(t, export.Skipped, 1, c.name)
		assert.Equal(t, 2, export.Skipped[0].Column, c.name)
		assert.Equal(t, c.why, export.Skipped[0].Why, c.name)
		assert.Equal(t, c.named, export.Skipped[0].Spectrum != nil, c.name)
	}
}

// The answers of a person to what a JCAMP-DX file leaves open.
func TestReadJCAMPAnswers(t *testing.T) {
	dark, front := jcamp(tenPoints, "TITLE= dark"), jcamp(tenPoints, "TITLE= G07 front", "DATE= 26/03/31",
		"LONGDATE= 2026/03/31 10:12:00")
	overlap := jcamp("400 1 401 2 402 3 403 4\n402 5 404 7 405 7 406 8", "XYDATA= (XY..XY)", "NPOINTS= 8", "LASTX= 406",
		"DELTAX=", "MINY= 0.01", "MAXY= 0.08")
	filler := jcamp("400 1 0 0 0 0 0 0 0 0 0 0 2", "NPOINTS= 12", "LASTX= 411", "MINY= 0", "MAXY= 0.02")
	spike := jcamp("400 1 2 3 3 1200 1 0 -1 -2 -3", "MAXY= 12")
	for _, c := range []struct {
		name, text string
		stated     text.Stated
		columns    []int
		nm, values []float64 // of the first
	}{
		{"dark asked for", compound(dark, front), text.Stated{Columns: "2"}, []int{2}, []float64{400, 401},
			[]float64{0.01, 0.02}},
		{"one face asked for", compound(front, jcamp(tenPoints, "TITLE= G07 back")), text.Stated{Columns: "3"}, []int{3},
			[]float64{400}, []float64{0.01}},
		{"both asked for", compound(dark, front), text.Stated{Columns: "3,2"}, []int{2, 3}, []float64{400}, []float64{0.01}},
		{"a map may name what is left", compound(dark, jcamp(tenPoints, "TITLE= white")), text.Stated{InMap: true}, nil, nil,
			nil},
		{"first detector", overlap, text.Stated{Overlap: "first"}, []int{2}, []float64{400, 401, 402, 403, 404},
			[]float64{0.01, 0.02, 0.03, 0.04, 0.07}},
		{"average", overlap, text.Stated{Overlap: "average"}, []int{2}, []float64{400, 401, 402, 403, 404},
			[]float64{0.01, 0.02, 0.04, 0.05, 0.07}},
		{"filler is missing", filler, text.Stated{Filler: "missing"}, []int{2}, []float64{400, 411}, []float64{0.01, 0.02}},
		{"filler is kept", filler, text.Stated{Filler: "keep"}, []int{2}, []float64{400, 401}, []float64{0.01, 0}},
		{"a spike outside the range", spike, text.Stated{Range: "405-409"}, []int{2}, []float64{405, 406},
			[]float64{0.01, 0}},
		{"MAXY is wrong", jcamp(tenPoints, "MAXY= 3"), text.Stated{Declared: "ignore"}, []int{2}, []float64{400},
			[]float64{0.01}},
		{"absolute", jcamp(tenPoints, "YUNITS= RELATIVE REFLECTANCE"), text.Stated{RelativeTo: "absolute"}, []int{2},
			[]float64{400}, []float64{0.01}},
		{"wavenumbers", jcamp("20000 1 2", "XUNITS=", "FIRSTX= 20000", "LASTX= 20001", "NPOINTS= 2", "MINY= 0.01",
			"MAXY= 0.02"), text.Stated{WavelengthUnit: "cm-1"},
			[]int{2}, []float64{1e7 / 20001.0, 500}, []float64{0.02, 0.01}},
		{"a point is what there is", jcamp(tenPoints), text.Stated{Decimal: "point"}, []int{2}, []float64{400},
			[]float64{0.01}},
	} {
		export, err := intake.Read("g.jdx", []byte(c.text), c.stated)
		require.NoError(t, err, c.name)
		var columns []int
		for _, s := range export.Spectra {
			columns = append(columns, s.Column)
		}
		require.Equal(t, c.columns, columns, c.name)
		if columns == nil {
			require.Len(t, export.Skipped, 2)
			require.NotNil(t, export.Skipped[1].Spectrum)
			continue
		}
		s := export.Spectra[0]
		require.GreaterOrEqual(t, len(s.NM), len(c.nm), c.name)
		requireSameBits(t, c.nm, s.NM[:len(c.nm)])
		// The mean of two fractions is rounded: two units of the last bit.
		assert.InDeltaSlice(t, c.values, s.Values[:len(c.nm)], 1e-17, c.name)
	}

	export, err := intake.Read("g.jdx", []byte(front), text.Stated{})
	require.NoError(t, err)
	assert.Equal(t, "##LONGDATE= 2026/03/31 10:12:00", export.Date)
	assert.Equal(t, "2026-03-31", export.Day)
}

// What a person states fills what the file leaves open, and notes tell what was
// taken silently.
func TestReadJCAMPNotes(t *testing.T) {
	standard := "##YUNITS= REFLECTANCE was read as a fraction, which it is by the standard"
	for _, c := range []struct {
		name, text string
		stated     text.Stated
		first      float64 // value, stored as a fraction
		notes      []string
	}{
		{"the standard's fraction", jcamp(tenPoints), text.Stated{}, 0.01,
			[]string{standard, `column "G07": 3 negative values kept, the first at 407 nm`}},
		{"fraction stated", jcamp(tenPoints), text.Stated{Unit: "fraction", WavelengthUnit: "nm", Quantity: "R"}, 0.01,
			[]string{`column "G07": 3 negative values kept, the first at 407 nm`}},
		{"percent stated", jcamp(tenPoints), text.Stated{Unit: "percent"}, 0.0001,
			[]string{`column "G07": 3 negative values kept, the first at 407 nm`}},
		{"percent in the title", jcamp(tenPoints, "TITLE= G07 %R"), text.Stated{}, 0.0001,
			[]string{`column "G07 %R": 3 negative values kept, the first at 407 nm`}},
		{"no YUNITS", jcamp("400 1 2 3 3 2 1 0 1 2 3", "YUNITS=", "MINY= 0"), text.Stated{Unit: "percent", Quantity: "R"},
			0.0001, nil},
		{"no XUNITS", jcamp("400 1 2 3 3 2 1 0 1 2 3", "XUNITS=", "MINY= 0"), text.Stated{Unit: "fraction",
			WavelengthUnit: "nm"}, 0.01, nil},
		{"no checks", jcamp("400 1 2 3 3 2 1 0 1 2 3", "FIRSTY=", "MINY=", "MAXY="), text.Stated{}, 0.01,
			[]string{"the header gives no FIRSTY, MINY and MAXY to check the numbers with", standard}},
		{"missing", jcamp("400 ? 2 3 3 2 1 0 1 ? 3", "MINY= 0"), text.Stated{}, 0.02,
			[]string{standard, `column "G07": 2 missing points`}},
		{"the only block is a blank", jcamp("400 1 2 3 3 2 1 0 1 2 3", "TITLE= blank B01", "MINY= 0"), text.Stated{}, 0.01,
			[]string{`column "blank B01" is a baseline or reference by its name, and was used because there is no other`,
				standard}},
		{"running down", jcamp("409 1 2 3 3 2 1 0 1 2 3", "FIRSTX= 409", "LASTX= 400", "DELTAX= -1", "MINY= 0"),
			text.Stated{}, 0.03,
			[]string{"the wavelengths in column 1 ran down and were sorted with their values", standard}},
		{"wavenumbers", jcamp("20000 1 2 3 3 2 1 0 1 2 3", "XUNITS= 1/CM", "FIRSTX= 20000", "LASTX= 20009", "MINY= 0"),
			text.Stated{}, 0.03,
			[]string{"wavenumbers from 20000 to 20009 cm-1 became wavelengths from 499.7751012 to 500 nm",
				"the wavelengths in column 1 ran down and were sorted with their values", standard}},
		{"no title", jcamp("400 1 2 3 3 2 1 0 1 2 300", "TITLE= $$ none", "MINY= 0", "MAXY= 3"), text.Stated{}, 0.01,
			[]string{standard, `column 2: 1 value above 100 % kept, the first at 409 nm`}},
		{"Latin-1", jcamp("400 1 2 3 3 2 1 0 1 2 3", "OWNER= Universit\xe9", "MINY= 0"), text.Stated{}, 0.01,
			[]string{"the text is not UTF-8 and was read as Latin-1", standard}},
	} {
		export, err := intake.Read("g.jdx", []byte(c.text), c.stated)
		require.NoError(t, err, c.name)
		require.Len(t, export.Spectra, 1, c.name)
		assert.Equal(t, c.first, export.Spectra[0].Values[0], c.name)
		assert.Equal(t, c.notes, export.Notes, c.name)
		if c.name == "no title" {
			assert.Empty(t, export.Spectra[0].Heading)
		}
	}
}

// The title is the name of a sample: an angle in it, or a lone letter, says nothing of the
// measurement. A record of its own does.
func TestReadJCAMPAngle(t *testing.T) {
	for _, c := range []struct {
		name, text   string
		angle        float64
		polarisation string
	}{
		{"in the title", jcamp(tenPoints, "TITLE= G07 60 deg p"), unstated, ""},
		{"outside 0 to below 90 in the title", jcamp(tenPoints, "TITLE= G07 95 deg"), unstated, ""},
		{"two in the title", jcamp(tenPoints, "TITLE= G07 8 deg after 60 deg"), unstated, ""},
		{"in a record", jcamp(tenPoints, "TITLE= G07 8 deg", "$X= 1\n##$ANGLE OF INCIDENCE= 60"), 60, ""},
		{"with its unit", jcamp(tenPoints, "$X= 1\n##$AOI= 57.5 deg"), 57.5, ""},
		{"of a polariser", jcamp(tenPoints, "$X= 1\n##$POLARISER ANGLE= 60"), unstated, ""},
		{"a word in the title", jcamp(tenPoints, "TITLE= G07 s-pol R"), unstated, "s"},
	} {
		export, err := intake.Read("g.jdx", []byte(c.text), text.Stated{})
		require.NoError(t, err, c.name)
		assert.InDelta(t, 0, angleDifference(c.angle, export.Spectra[0].AngleDeg), 0, c.name)
		assert.Equal(t, c.polarisation, export.Spectra[0].Polarisation, c.name)
	}
}

// angleDifference is 0 if neither angle is stated.
func angleDifference(a, b float64) float64 {
	if math.IsNaN(a) && math.IsNaN(b) {
		return 0
	}
	return a - b
}
