package intake_test

import (
	"errors"
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

// One made-up file for each feature of text exports, in testdata/dialects; README.md
// has a row for each. An accepted file gives its curves. One that
// asks gives the name of what settles it, and with the answers the curves; what
// is refused says why.
var dialects = []struct {
	file    string
	asks    string // the name of the statement asked for
	refused string // the fault
	answers text.Stated
	want    []curve
	notes   []string // a part of each note
}{
	{file: "1-crlf.csv", want: g07}, {file: "1-line-ends-mixed.csv", want: g07}, {file: "1-utf8-mark.csv", want: g07},
	{file: "1-utf16-mark.csv", want: g07}, {file: "1-utf16-without-mark.csv", want: g07},
	{file: "1-latin1.txt", want: named("R 8° (%)", 8, g07),
		notes: []string{"wavelengths from 0.4 to 0.402 um became 400 to 402 nm", "read as Latin-1"}},
	{file: "1-lost-symbol.txt", asks: "wavelength-unit", answers: text.Stated{WavelengthUnit: "nm"}, want: g07},
	{file: "1-nul-in-header.csv", want: g07},
	{file: "1-nul-in-row.csv", refused: "1-nul-in-row.csv:4:5: a NUL byte in a row of numbers: the file is damaged"},
	{file: "1-blank-lines-no-newline.csv", want: g07}, {file: "1-open-quote.csv", want: g07},

	{file: "2-comma.csv", want: g07}, {file: "2-tab.txt", want: g07}, {file: "2-spaces.txt", want: g07},
	{file: "2-semicolon-point.csv", want: g07},
	{file: "2-ragged.csv", refused: "2-ragged.csv:4: 3 cells where the other rows have 2"},
	{file: "2-tab-decimal-comma.txt", want: g07}, {file: "2-semicolon-decimal-comma.csv", want: g07},
	{file: "2-comma-space-one-reading.txt", want: []curve{{2, "%R", unstated, []float64{512, 512.5, 513}, g07[0].values}}},
	{file: "2-comma-space-two-readings.txt", asks: "decimal", answers: text.Stated{Decimal: "comma"}, want: g07},
	{file: "2-commas-alone.txt", asks: "decimal", answers: text.Stated{Decimal: "comma"}, want: g07},
	{file: "2-commas-whole-wavelengths.csv", asks: "decimal", answers: text.Stated{Decimal: "comma"},
		want: []curve{{2, "%R", unstated, []float64{400, 420, 440}, []float64{0.08, 0.1137, 0.0905}}}},
	{file: "2-commas-headed.csv", asks: "decimal", answers: text.Stated{Decimal: "point", Columns: "3"},
		want:  []curve{{3, "G08 %R", unstated, []float64{400, 420, 440}, []float64{0.08, 0.09, 0.09}}},
		notes: []string{"column 2 (G07 %R) is skipped", "column 4 (G09 %R) is skipped"}},
	{file: "2-header-other-mark.txt", want: g07}, {file: "2-exponents.txt", want: g07},
	{file: "2-thousands-and-decimals.csv", asks: "thousands", answers: text.Stated{Thousands: "point"},
		want: []curve{{2, "%R", unstated, []float64{1204.5, 1205.5, 1206.5}, g07[0].values}}},
	{file: "2-thousands-on-x.csv", asks: "wavelength-unit", answers: text.Stated{Thousands: "point", WavelengthUnit: "nm"},
		want: []curve{{2, "%R", unstated, []float64{1204, 1205, 1206}, []float64{0.04, 0.05, 0.06}}}},
	{file: "2-thousands-from-one-row-on.csv", asks: "thousands", answers: text.Stated{Thousands: "point"},
		want: []curve{{2, "%R", unstated, []float64{999, 1000, 1001}, []float64{0.04, 0.05, 0.06}}}},
	{file: "2-thousands-space.csv", asks: "thousands", answers: text.Stated{Thousands: "space"},
		want: []curve{{2, "%R", unstated, []float64{999, 1000, 1001}, []float64{0.04, 0.05, 0.06}}}},

	{file: "3-no-header.txt", asks: "wavelength-unit", answers: allStated, want: named("", unstated, g07)},
	{file: "3-metadata.csv", want: g07}, {file: "3-start-marker.csv", want: g07},
	{file: "3-names-then-units.csv", want: named("Refl [%]", unstated, g07)},
	{file: "3-samples-then-columns.csv", want: pair},
	{file: "3-counts-among-units.csv", want: []curve{{4, "Reflectance [%]", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 (Dark [counts]) is skipped: counts", "column 3 (Sample [counts]) is skipped: counts"}},
	{file: "3-name-above-code.csv", asks: "quantity", answers: text.Stated{Quantity: "R"}, want: named("A R412 [%]",
		unstated, g07)},
	{file: "3-codes-of-letters.csv", asks: "quantity", answers: text.Stated{Quantity: "R"},
		want: []curve{{2, "R1 [%]", unstated, g07[0].nm, g07[0].values}, {3, "S1 [%]", unstated, g07[0].nm,
			[]float64{0.042, 0.043, 0.041}}}},
	{file: "3-name-above-headings.csv", want: named("A R8 [%]", unstated, g07)},
	{file: "3-units-of-absorbance.csv",
		refused: `3-units-of-absorbance.csv:2:4: column "Reflectance A" is absorbance; this needs reflectance`},
	{file: "3-comment-mark.txt", want: named("R (0-1)", unstated, g07)},
	{file: "3-stuck-row.txt", refused: `3-stuck-row.txt:1: this line contains a header and numbers: "#nm R400.0\t0.0412"`},
	{file: "3-stuck-row-exponent.txt",
		refused: `3-stuck-row-exponent.txt:1: this line contains a header and numbers: "#nm R (0-1)4.0000e+02\t4.12e-02"`},
	{file: "3-last-row-stuck.txt",
		refused: `3-last-row-stuck.txt:4: "402\t4.03\tmade up" stands behind the rows and looks like one of them`},
	{file: "3-number-as-heading.csv", asks: "quantity", answers: text.Stated{Quantity: "R", Unit: "percent"},
		want: named("412", unstated, g07)},
	{file: "3-log-after.csv", want: g07, notes: []string{"4 lines after the rows kept as text"}},
	{file: "3-point-after-log.csv",
		refused: `3-point-after-log.csv:6: "Saved by: lab 2" stands between rows of numbers; a second header or block is ` +
			`not joined to the first`},
	{file: "3-second-block.csv", asks: "block", answers: text.Stated{Block: "2"},
		want: []curve{{2, "[%R]", unstated, []float64{500, 501, 502}, []float64{0.051, 0.052, 0.054}}}},
	{file: "3-empty-cells.csv", want: g07},

	{file: "4-samples-side-by-side.csv", want: pair},
	{file: "4-paired.csv", want: []curve{pair[0], {4, "G08 %R", unstated, []float64{500, 501}, []float64{0.051, 0.052}}},
		notes: []string{"1 row fewer than the longest pair"}},
	{file: "4-one-per-row.csv", want: []curve{{2, "G07", unstated, g07[0].nm, g07[0].values},
		{3, "G08 8deg", 8, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-numbered.csv", want: []curve{{2, "7", unstated, g07[0].nm, g07[0].values},
		{3, "8", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-any-corner.csv", asks: "layout", answers: text.Stated{Layout: "rows", WavelengthUnit: "nm",
		Quantity: "R", Unit: "percent"},
		want: []curve{{2, "412", unstated, g07[0].nm, g07[0].values}, {3, "548", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-numbers-as-headings.csv", asks: "layout", answers: text.Stated{Layout: "columns", Quantity: "R",
		Unit: "percent"},
		want: []curve{{2, "412", unstated, g07[0].nm, g07[0].values}, {3, "548", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-short.csv", want: []curve{{2, "G07", unstated, []float64{400, 405}, []float64{0.041, 0.04}}}},
	{file: "4-one-per-row-word.csv", refused: `4-one-per-row-word.csv:5:9: "OVER" is not a number`},
	{file: "4-one-per-row-comma-at-end.csv", want: []curve{{2, "G07", unstated, g07[0].nm, g07[0].values},
		{3, "G08", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-number-first.csv", want: []curve{{2, "12 G07", unstated, g07[0].nm, g07[0].values},
		{3, "7 G08", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-or-columns.csv", asks: "layout", answers: text.Stated{Layout: "rows", WavelengthUnit: "nm"},
		want: []curve{{2, "0.5", unstated, g07[0].nm, g07[0].values}, {3, "1.0", unstated, g07[0].nm, pair[1].values},
			{4, "1.5", unstated, g07[0].nm, []float64{0.052, 0.051, 0.053}}}},
	{file: "4-one-per-row-words.csv", asks: "layout", answers: text.Stated{Layout: "rows"},
		want: []curve{{2, "1", unstated, g07[0].nm, g07[0].values}, {3, "2", unstated, g07[0].nm, pair[1].values},
			{4, "3", unstated, g07[0].nm, []float64{0.052, 0.051, 0.053}}}},
	{file: "4-one-per-row-notes.csv", asks: "layout", answers: text.Stated{Layout: "rows"},
		want: []curve{{2, "1", unstated, g07[0].nm, g07[0].values}, {3, "2 dirty", unstated, g07[0].nm, pair[1].values},
			{4, "3", unstated, g07[0].nm, []float64{0.052, 0.051, 0.053}}}},
	{file: "4-numbers-beside-words.csv", asks: "layout", answers: text.Stated{Layout: "columns"},
		want: []curve{{2, "412 %R", unstated, g07[0].nm, g07[0].values}, {3, "548 %R", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-or-samples.csv", asks: "layout", answers: text.Stated{Layout: "rows"},
		want: []curve{{2, "412", unstated, g07[0].nm, g07[0].values}, {3, "548", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-numbers-units-below.csv", asks: "layout", answers: text.Stated{Layout: "rows"},
		want: []curve{{2, "412", unstated, g07[0].nm, g07[0].values}, {3, "548", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-words-named.csv",
		want: []curve{{2, "G07", unstated, g07[0].nm, []float64{0.041, 0.0411, 0.0413}}, {3, "G08", unstated, g07[0].nm,
			pair[1].values}}},
	{file: "4-one-per-row-units-below.csv", want: []curve{{2, "G07", unstated, g07[0].nm, g07[0].values},
		{3, "G08", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-notes-behind.csv", want: []curve{{2, "7", unstated, g07[0].nm, g07[0].values},
		{3, "8", unstated, g07[0].nm, pair[1].values}},
		notes: []string{`1 column behind the last wavelength, headed "note", kept as text`}},
	{file: "4-one-per-row-corner-both.csv", want: []curve{{2, "G07", unstated, g07[0].nm, g07[0].values},
		{3, "G08", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-one-per-row-corner.csv", asks: "layout", answers: text.Stated{Layout: "rows", WavelengthUnit: "nm"},
		want: []curve{{2, "first", unstated, g07[0].nm, g07[0].values}, {3, "last", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-columns-named-by-numbers.csv", asks: "layout", answers: text.Stated{Layout: "columns", Axis: "1"},
		want: []curve{{2, "8", unstated, g07[0].nm, []float64{0.0412, 0.041, 0.042}}, {3, "20", unstated, g07[0].nm,
			[]float64{0.0407, 0.042, 0.041}},
			{4, "60", unstated, g07[0].nm, []float64{0.0903, 0.094, 0.093}}}},
	{file: "4-long.csv", asks: "group-by", answers: text.Stated{GroupBy: "1,2"},
		want: []curve{{2, "G07 8deg %R", 8, g07[0].nm, g07[0].values}, {3, "G08 8deg %R", 8, []float64{400, 402},
			[]float64{0.051, 0.054}}},
		notes: []string{"1 row fewer than the longest pair"}},
	{file: "4-long-name-between.csv", asks: "group-by", answers: text.Stated{GroupBy: "2"},
		want: []curve{{2, "G07 %R", unstated, g07[0].nm, g07[0].values}, {3, "G08 %R", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-long-numbers.csv", asks: "group-by", answers: text.Stated{GroupBy: "1,2"},
		want: []curve{{2, "7 8 deg %R", 8, g07[0].nm, g07[0].values}, {3, "8 60 deg %R", 60, []float64{400, 402},
			[]float64{0.051, 0.054}}},
		notes: []string{"1 row fewer than the longest pair"}},
	{file: "4-long-by-runs.csv", asks: "group-by", answers: text.Stated{GroupBy: "3"},
		want: []curve{{2, "8 %R", unstated, g07[0].nm, g07[0].values}, {3, "60 %R", unstated, g07[0].nm,
			[]float64{0.091, 0.092, 0.094}}}},
	{file: "4-long-in-turn.csv", asks: "group-by", answers: text.Stated{GroupBy: "2"},
		want: []curve{{2, "8 %R", unstated, g07[0].nm, g07[0].values}, {3, "60 %R", unstated, g07[0].nm,
			[]float64{0.091, 0.092, 0.094}}}},
	{file: "4-result-beside-counts.csv", want: []curve{{5, "R (%)", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"(dark) is skipped", "(reference) is skipped", "(raw counts) is skipped"}},
	{file: "4-result-beside-counts-unnamed.csv", asks: "columns", answers: text.Stated{Columns: "5", Unit: "percent",
		WavelengthUnit: "nm", Quantity: "R"},
		want:  []curve{{5, "", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 () is skipped: not among the columns asked for", "column 3 ()", "column 4 ()"}},
	{file: "4-index-named.csv", want: []curve{{3, "%R", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"counts the rows and is not read"}},
	{file: "4-index-unnamed.csv", asks: "axis", answers: text.Stated{Axis: "2", Unit: "percent", WavelengthUnit: "nm",
		Quantity: "R"},
		want:  []curve{{3, "", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 1 counts the rows and is not read"}},
	{file: "4-uncertainty-unnamed.txt", asks: "columns", answers: text.Stated{Columns: "2", Unit: "fraction",
		WavelengthUnit: "nm", Quantity: "R"},
		want: named("", unstated, g07), notes: []string{"column 3 () is skipped: not among the columns asked for"}},
	{file: "4-uncertainty-named.txt", want: named("R (0-1)", unstated, g07),
		notes: []string{"column 3 (u(R)) is skipped: an uncertainty"}},
	{file: "4-letter-in-name.csv", want: []curve{{2, "U1 %R", unstated, g07[0].nm, g07[0].values},
		{3, "1412U1-3 %R", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-letter-and-number.csv", asks: "columns", answers: text.Stated{Columns: "2"}, want: []curve{pair[0]},
		notes: []string{"column 3 (u1 %R) is skipped: not among the columns asked for"}},
	{file: "4-letter-among-names.csv", asks: "columns", answers: text.Stated{Columns: "2"}, want: named("A %R", unstated,
		g07),
		notes: []string{"column 3 (B %R) is skipped: not among the columns asked for",
			"column 4 (U %R) is skipped: not among the columns asked for"}},
	{file: "4-letters-as-names.csv", want: []curve{{2, "A", unstated, g07[0].nm, g07[0].values},
		{3, "B", unstated, g07[0].nm, pair[1].values}}},
	{file: "4-faces.csv", asks: "columns", answers: text.Stated{Columns: "3"},
		want:  []curve{{3, "front R (%)", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 (T (%)) is skipped", "column 4 (back R (%)) is skipped"}},
	{file: "4-quantities-by-row.csv", want: named("G07 %R", unstated, g07),
		notes: []string{"column 3 (G07 %T) is skipped: transmittance", "column 4 (G07 A) is skipped: absorbance"}},
	{file: "4-baseline.csv", asks: "columns", answers: text.Stated{Columns: "2,3"}, want: pair,
		notes: []string{"column 4 (White tile %R) is skipped: a baseline or reference by its name"}},
	{file: "4-silent-beside-named.csv", asks: "columns", answers: text.Stated{Columns: "4", Quantity: "R",
		Unit: "percent"},
		want:  []curve{{4, "%R", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 (sample) is skipped: not among the columns asked for", "column 3 (white) is skipped"}},
	{file: "4-other-things.csv", want: []curve{{4, "%R", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 (Temp (C)) is skipped: no reflectance by its name",
			"column 3 (time) is skipped: no reflectance by its name"}},
	{file: "4-two-wavelength-columns.csv", asks: "axis", answers: text.Stated{Axis: "1"},
		want:  []curve{{3, "%R", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 (cm-1) contains wavelengths too and is not read"}},

	{file: "5-unit-not-stated.csv", asks: "wavelength-unit", answers: text.Stated{WavelengthUnit: "nm"}, want: g07},
	{file: "5-micrometres.csv", want: named("R (%)", unstated, g07),
		notes: []string{"wavelengths from 0.4 to 0.402 um became 400 to 402 nm"}},
	// 1e7/25000 and 1e7/20000 exactly.
	{file: "5-wavenumbers.csv", want: []curve{{2, "%R", unstated, []float64{400, 500}, []float64{0.0412, 0.0403}}},
		notes: []string{"wavenumbers from 20000 to 25000 cm-1 became wavelengths from 400 to 500 nm"}},
	{file: "5-only-micrometres.csv", asks: "wavelength-unit", answers: text.Stated{WavelengthUnit: "um"}, want: g07,
		notes: []string{"became 400 to 402 nm"}},
	{file: "5-descending.csv", want: g07, notes: []string{"ran down and were sorted"}},
	{file: "5-uneven.csv", want: []curve{{2, "%R", unstated, []float64{400.11, 400.53, 400.94}, g07[0].values}}},
	{file: "5-goes-back.csv", asks: "overlap", answers: text.Stated{Overlap: "first"},
		want: []curve{{2, "%R", unstated, []float64{980, 990, 1000, 1005, 1010, 1020, 1040}, []float64{0.036, 0.038, 0.04,
			0.042, 0.044, 0.053, 0.056}}},
		notes: []string{"two detectors or scans overlap from 1000 to 1010 nm: 2 points of the later one skipped, as stated"}},
	{file: "5-scan-again.csv",
		refused: "5-scan-again.csv:6:1: 400 nm follows 402 nm: the wavelengths start again, as in another curve and not " +
			"as in another detector"},
	{file: "5-point-apart.csv", refused: "5-point-apart.csv:6:1: 2 nm stands apart from the wavelengths before it"},
	{file: "5-repeats.csv", asks: "overlap", answers: text.Stated{Overlap: "first"}, want: g07,
		notes: []string{"overlap from 401 to 401 nm: 1 point"}},
	{file: "5-near-duplicate.csv", asks: "overlap", answers: text.Stated{Overlap: "first"}, want: g07,
		notes: []string{"overlap from 401.005 to 401.005 nm: 1 point"}},
	{file: "5-glued.txt", asks: "quantity", answers: text.Stated{Quantity: "R"}, want: named("", unstated, g07)},
	{file: "5-glued-changes.txt",
		refused: `5-glued-changes.txt:4:1: "0.402um" is not written like the first number of its column`},
	{file: "5-declared.csv", want: g07},
	{file: "5-declared-count-wrong.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-declared-stop-wrong.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-declared-range-wrong.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-declared-step-wrong.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-declared-maximum-wrong.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-declared-pixels-wrong.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-declared-on-one-line.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "5-detector-change.csv", notes: []string{
		// The step was made 0.8 pp. NumPy 1.24.2, np.polyfit through 10 points on
		// each side: 0.80932; median of abs(np.diff(y, 2)) / 0.6745 / sqrt(6): 0.018158.
		`column "G07 %R": detector change at 820 nm by the header; the step there, +0.809 pp, exceeds the noise of 0.0182 pp`,
		`column "G08 %R": detector change at 820 nm by the header`}},

	{file: "6-fraction.csv", want: named("R (0-1)", unstated, g07)},
	{file: "6-transmittance.csv", want: []curve{{2, "%T", unstated, g07[0].nm, []float64{0.9412, 0.9407, 0.9403}}}},
	{file: "6-transmittance-as-reflectance.csv", asks: "declared", answers: text.Stated{Declared: "1"}, want: g07,
		notes: []string{`line 1, "Mode: Transmittance", is overruled, as stated`}},
	{file: "6-mode-against-heading.csv", asks: "declared", answers: text.Stated{Declared: "1"}, want: g07,
		notes: []string{`line 1, "Mode: %T", is overruled, as stated`}},
	{file: "6-other-quantity.csv", asks: "quantity", answers: overruled("1"), want: named("G07", unstated, g07),
		notes: []string{`line 1, "Technique,Transmission", is overruled`}},
	{file: "6-other-quantity-alone.txt", asks: "quantity", answers: overruled("2"), want: named("G07", unstated, g07),
		notes: []string{`line 2, "A", is overruled`}},
	{file: "6-other-quantity-units.csv", asks: "quantity", answers: overruled("1"), want: named("G07", unstated, g07),
		notes: []string{`line 1, "Absolute irradiance in µW/cm²/nm", is overruled`}},
	{file: "6-other-quantity-after.csv", asks: "quantity", answers: overruled("5,6"), want: named("G07", unstated, g07),
		notes: []string{`line 5, "PPFD,512.3", is overruled`, `line 6, "Mode,RAD", is overruled`,
			"2 lines after the rows kept as text"}},
	{file: "6-other-quantity-against-heading.csv", asks: "declared", answers: text.Stated{Declared: "1"}, want: g07,
		notes: []string{`line 1, "Absorbance", is overruled`}},
	{file: "6-not-compared.csv", asks: "quantity", answers: overruled("1"), want: named("G07", unstated, g07),
		notes: []string{"line 1, "}},
	{file: "6-reference-not-present.csv", asks: "declared", answers: text.Stated{Declared: "1"}, want: g07,
		notes: []string{`line 1, "Reference curve present: No", is overruled`}},
	{file: "6-type-against-quantity.csv", asks: "declared", answers: text.Stated{Declared: "3"},
		want: named("G07", unstated, g07), notes: []string{`line 3, "Type: %T", is overruled`}},
	{file: "6-reference-not-taken.csv", asks: "declared", answers: text.Stated{Declared: "5"},
		want:  named("Reflectance (%)", unstated, g07),
		notes: []string{`line 5, "White reference not taken", is overruled`, "1 line after the rows kept as text"}},
	{file: "6-other-columns.csv", asks: "columns", answers: text.Stated{Columns: "4"},
		want: []curve{{4, "%R", unstated, g07[0].nm, g07[0].values}},
		notes: []string{"column 2 (down) is skipped: not among the columns asked for",
			"column 3 (up) is skipped: not among the columns asked for"}},
	{file: "6-not-itself.csv", refused: `6-not-itself.csv:1: the header says "Data: 1-R": this needs reflectance`},
	{file: "6-factor.csv", asks: "declared", answers: text.Stated{Declared: "ignore"}, want: g07},
	{file: "6-scale-not-named.csv", asks: "unit", answers: text.Stated{Unit: "percent"},
		want: []curve{{2, "Reflectance", unstated, g07[0].nm, []float64{0.00912, 0.00907, 0.00903}}}},
	{file: "6-neither-named.csv", asks: "quantity", answers: text.Stated{Unit: "percent", Quantity: "R"},
		want: named("G07", unstated, g07)},
	{file: "6-absorbance.csv", refused: `6-absorbance.csv:2:4: column "A" is absorbance; this needs reflectance`},
	{file: "6-counts.csv",
		refused: `6-counts.csv:2:4: column "G07 [counts]" contains counts, not compared to a reference; this needs reflectance`},
	{file: "6-label-and-numbers.csv",
		refused: `6-label-and-numbers.csv:2:4: column "R": unit says percent, values run from 1,950 to 8,400`},
	{file: "6-negative-and-above.csv", want: []curve{{2, "%R", unstated, []float64{399, 400, 401, 402, 403},
		[]float64{-0.0002, 0.0412, 0.0407, 0.0403, 1.005}}},
		notes: []string{"1 negative value kept, the first at 399 nm", "1 value above 100 % kept, the first at 403 nm"}},
	{file: "6-relative.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "absolute"},
		want: named("relative reflectance (%)", unstated, g07)},
	{file: "6-relative-header.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "tile W1"}, want: g07,
		notes: []string{`the values stay relative to "tile W1", as stated`}},
	{file: "6-relative-baseline.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "absolute"}, want: g07},
	{file: "6-relative-calibrated.csv", want: g07},
	{file: "6-relative-mirror.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "white tile W1"}, want: g07,
		notes: []string{`relative to "white tile W1"`}},
	{file: "6-relative-uncorrected.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "absolute"}, want: g07},
	{file: "6-relative-heading.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "absolute"},
		want: named("%R vs mirror", unstated, g07)},
	{file: "6-reference-named.csv", want: g07,
		notes: []string{`"Reference: M1" does not say whether the reflectance of the reference is accounted for`}},
	{file: "6-mostly-above.csv", asks: "relative-to", answers: text.Stated{RelativeTo: "absolute"},
		want:  []curve{{2, "%R", unstated, g07[0].nm, []float64{1.0312, 1.0307, 0.9803}}},
		notes: []string{"2 values above 100 % kept"}},
	{file: "6-zeros.csv", asks: "filler", answers: text.Stated{Filler: "missing"}, want: g07,
		notes: []string{"12 zeros in a row from 403 to 414 nm taken for missing, as stated"}},
	{file: "6-flat.csv", asks: "filler", answers: text.Stated{Filler: "missing"}, want: g07,
		notes: []string{"21 points in a row from 403 to 423 nm taken for missing, as stated"}},
	{file: "6-few-digits.csv", asks: "filler", answers: text.Stated{Filler: "missing"}, want: g07,
		notes: []string{"23 points in a row from 403 to 425 nm taken for missing, as stated"}},
	{file: "6-noise-at-ends.csv", asks: "range", answers: text.Stated{Range: "394-562"},
		notes: []string{"6 points outside 394-562 nm skipped, as stated"}},
	{file: "6-missing.csv", want: g07, notes: []string{"3 missing points"}},
	{file: "6-word.csv", refused: `6-word.csv:4:5: "OVER" is not a number`},

	{file: "7-angle-in-heading.csv", want: named("%R 57.5 deg", 57.5, g07)},
	{file: "7-viewing-angle.csv", want: named("%R viewed at 45 deg", unstated, g07)},
	{file: "7-angle-outside.csv",
		refused: `7-angle-outside.csv:2:4: heading "%R 90 deg" gives an angle of 90 degrees, outside 0 to below 90`},
	{file: "7-angle-in-header.csv", want: named("%R", 60, g07)},
	{file: "7-angle-header-against-heading.csv",
		refused: "7-angle-header-against-heading.csv:1: the heading says 8 degrees, the header says 60 degrees"},
	{file: "7-date-open.csv", want: g07, notes: []string{"is kept as text: it may be 2026-04-03 or 2026-03-04"}},
	{file: "7-date-clear.csv", want: g07},

	{file: "9-counts-rows.csv", refused: `9-counts-rows.csv:2:4: column "%R" counts the rows: it has no values`},
	{file: "9-constant-wavelength.csv", refused: `9-constant-wavelength.csv:4:1: every row has the wavelength 400`},
}

// g07 is the curve that most files have, pair the curves of those with two.
var (
	g07  = []curve{{2, "%R", unstated, []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}}}
	pair = []curve{{2, "G07 %R", unstated, g07[0].nm, g07[0].values}, {3, "G08 %R", unstated, g07[0].nm,
		[]float64{0.051, 0.052, 0.054}}}
)

// overruled states that the values are reflectance in percent, whatever lines of the header
// say.
func overruled(lines string) text.Stated {
	return text.Stated{Quantity: "R", Unit: "percent", Declared: lines}
}

// named gives a curve another heading and angle.
func named(heading string, angle float64, of []curve) []curve {
	return []curve{{of[0].column, heading, angle, of[0].nm, of[0].values}}
}

func dialectFile(t testing.TB, name string) []byte {
	data, err := os.ReadFile(filepath.Join("testdata", "dialects", name))
	require.NoError(t, err)
	return data
}

func TestDialects(t *testing.T) {
	for _, c := range dialects {
		t.Run(c.file, func(t *testing.T) {
			data := dialectFile(t, c.file)
			export, err := intake.Read(c.file, data, text.Stated{})
			var refusal *study.Refusal
			switch {
			case c.refused != "":
				require.EqualError(t, err, c.refused)
				require.ErrorAs(t, err, &refusal)
				assert.Empty(t, refusal.Choices)
				assert.NotEmpty(t, refusal.Try)
				return
			case c.asks != "":
				require.ErrorAs(t, err, &refusal)
				require.NotEmpty(t, refusal.Choices)
				assert.Equal(t, c.asks, refusal.Choices[0].Name)
				assert.Contains(t, refusal.Try, "--"+c.asks)
				export, err = intake.Read(c.file, data, c.answers)
			}
			require.NoError(t, err)
			if c.want != nil {
				requireCurves(t, c.want, curvesOf(export))
			}
			require.Len(t, export.Notes, len(c.notes), strings.Join(export.Notes, "\n"))
			for i, part := range c.notes {
				assert.Contains(t, export.Notes[i], part)
			}
		})
	}
}

// Every file of the folder has its test and one row in README.md, which says so where the file is
// refused or asks something. What else a row names are tests of this package or of its inner ones.
func TestDialectsAreComplete(t *testing.T) {
	entries, err := os.ReadDir(filepath.Join("testdata", "dialects"))
	require.NoError(t, err)
	rows, tests := dialectRows(t), testsBelow(t)
	tested := map[string]bool{}
	for _, c := range dialects {
		tested[c.file] = true
		require.Len(t, rows[c.file], 1, "README.md must have one row for %s", c.file)
		if c.asks != "" {
			assert.Contains(t, rows[c.file][0], "`--"+c.asks, c.file)
		}
		if c.refused != "" {
			assert.Contains(t, rows[c.file][0], "refused", c.file)
		}
	}
	assert.Len(t, tested, len(dialects))
	for _, e := range entries {
		assert.True(t, tested[e.Name()], e.Name())
	}
	assert.Len(t, entries, len(dialects))
	for named := range rows {
		assert.True(t, tested[named] || tests[named], "README.md names %s", named)
	}
}

// dialectRows returns, for each file or test that README.md names, what the rows that name it say
// happens.
func dialectRows(t *testing.T) map[string][]string {
	readme, err := os.ReadFile("README.md")
	require.NoError(t, err)
	rows := map[string][]string{}
	for line := range strings.Lines(string(readme)) {
		cells := strings.Split(strings.Trim(line, "| \n"), " | ")
		if len(cells) != 3 || cells[0] == "feature" {
			continue
		}
		for named := range strings.SplitSeq(cells[2], ", ") {
			named = strings.Trim(named, "`")
			rows[named] = append(rows[named], cells[1])
		}
	}
	return rows
}

// testsBelow returns the names of the test files, and of the tests in them, of this folder and of
// those below it.
func testsBelow(t *testing.T) map[string]bool {
	found := map[string]bool{}
	require.NoError(t, filepath.WalkDir(".", func(path string, _ os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		found[filepath.Base(path)] = true
		code, err := os.ReadFile(path)
		for line := range strings.Lines(string(code)) {
			if name, ok := strings.CutPrefix(line, "func Test"); ok {
				name, _, _ = strings.Cut(name, "(")
				found["Test"+name] = true
			}
		}
		return err
	}))
	return found
}

// A person who gives one of the answers offered, again and again, is asked
// nothing twice and ends with curves or with a plain refusal.
func TestAnswersSettleWhatIsAsked(t *testing.T) {
	for _, c := range dialects {
		if c.asks == "" {
			continue
		}
		data := dialectFile(t, c.file)
		answerAll(t, data, text.Stated{}, 0)
	}
}

// answerAll gives each offered answer in turn and asks on.
func answerAll(t *testing.T, data []byte, stated text.Stated, depth int) {
	t.Helper()
	require.Less(t, depth, 8, "asked too often: %+v", stated)
	_, err := intake.Read("g.txt", data, stated)
	var refusal *study.Refusal
	if !errors.As(err, &refusal) {
		require.NoError(t, err)
		return
	}
	for _, choice := range refusal.Choices {
		next := stated
		value := choice.Value
		if value == "" {
			value = "tile W1"
		}
		require.NoError(t, next.Set(choice.Name, value), "%+v", choice)
		require.NotEqual(t, stated, next, "%v is asked again", choice.Name)
		answerAll(t, data, next, depth+1)
	}
}

func TestDatesThatLeaveNoDoubt(t *testing.T) {
	for _, c := range []struct{ line, day string }{
		{"Date: 2026-03-04", "2026-03-04"}, {"Date: 2026/03/04 10:30:12", "2026-03-04"}, {"Date: 23/04/2026", "2026-04-23"},
		{"Date: 04/23/2026", "2026-04-23"}, {"Date: 04.04.2026", "2026-04-04"}, {"Date,31 March 2026", "2026-03-31"},
		{"Date: Mar 31, 2026", "2026-03-31"}, {"Date: Tue Mar 31 10:30:12 2026", "2026-03-31"}, {"Date=31-Mar-2026 11:12",
			"2026-03-31"},
		{"Date: 03/04/2026", ""}, {"Date: 03/04/26", ""}, {"Date: 23 April", ""}, {"Date: 31/31/2026", ""},
		{"Date: 2026-13-01", ""},
		{"Date: 31 Maart 2026", ""}, {"Date: 20260331", ""},
	} {
		export, err := intake.Read("g.txt", []byte(c.line+"\nnm,%R\n400,4.12\n401,4.07\n"), text.Stated{})
		require.NoError(t, err)
		assert.Equal(t, c.line, export.Date)
		assert.Equal(t, c.day, export.Day, c.line)
	}
}
