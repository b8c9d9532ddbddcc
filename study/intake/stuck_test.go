package intake_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// A first row of numbers on the line of the headings is never dropped, however its
// wavelength is written.
func TestReadRefusesRowsStuckToHeadings(t *testing.T) {
	for _, text := range []string{
		"#nm R (0-1)3.0000e+02\t4.1e-2\n3.0100e+02\t4.2e-2\n3.0200e+02\t4.3e-2\n",
		"nm;R (0-1)3,0000e+02;4,1e-2\n3,0100e+02;4,2e-2\n3,0200e+02;4,3e-2\n",
		"Wellenl\u00e4nge [nm];Reflexion [%]3,00E+02;4,1\n3,01E+02;4,2\n3,02E+02;4,3\n",
		"Wellenl\u00e4nge [nm]\tReflexion [%]3,00E+02\t4,1E-2\t\n3,01E+02\t4,2E0\t\n3,02E+02\t4,3\t\n",
		"nm R(0-1)3.0E2 0.041\n301 0.042\n302 0.043\n",
		"nm,%R300,4.1\n301,4.2\n302,4.3\n",
		"nm,%R-300,4.1\n301,4.2\n302,4.3\n",
		"nm,%R300nm,4.1\n301nm,4.2\n302nm,4.3\n",
		"nm,%R 3.00000000000000000e+02,4.1\n301,4.2\n302,4.3\n",
		"nm,S1 %R,S2 %R300,4.1,\n301,4.2,5\n302,4.3,5\n",
		"nm,S1 %R,S2 %R3e+02,4.1,4.2\n3.01e+02,4.2,4.2\n3.02e+02,4.3,4.2\n",
		"\"nm\",\"%R\"300,4.1\n301,4.2\n302,4.3\n",
		"nm,R8300,4.1\n301,4.2\n302,4.3\n",          // R8 and 300
		"nm,%R S1300,4.1\n301,4.2\n302,4.3\n",       // S1 and 300
		"nm,%R300,4.1\n400,4.2\n401,4.3\n402,4.4\n", // with a gap behind it
		"nm,%R902,4.1\n900,4.2\n898,4.3\n",
		"cm-1;%R2,5e4;4,1\n2,49e4;4,2\n2,48e4;4,3\n",
		"um\t%R0.300\t4.1\n0.301\t4.2\n0.302\t4.3\n",
		"nm,%R,300,4.1\n301,4.2\n302,4.3\n",
		"nm %R 300 4.1\n301 4.2\n302 4.3\n",
	} {
		_, err := intake.Read("g.txt", []byte(text), allStated)
		first, _, _ := strings.Cut(text, "\n")
		require.ErrorContains(t, err, "g.txt:1: this line contains a header and numbers: ", first)
	}
	for _, text := range []string{
		"nm,%R\n301,4.2\n302,4.3\n303,4.4,made up\n", "nm\t%R\n301\t4.2\n302\t4.3\n303\t4.4Saved\tby\tlab\n",
		"nm,%R\n301,4.2\n302,4.3\n303,4.4;end,0\n",
	} {
		_, err := intake.Read("g.txt", []byte(text), allStated)
		require.ErrorContains(t, err, "g.txt:4: ", text)
	}
	_, err := intake.Read("g.txt", []byte("nm,%R\n300,4.1,made up\n301,4.2\n302,4.3\n"), allStated)
	require.ErrorContains(t, err, "g.txt:2: ")
}

// What only resembles such a row is a heading or a setting.
func TestReadTakesHeadingsThatAreNumbers(t *testing.T) {
	stated := text.Stated{Quantity: "R", Unit: "percent", WavelengthUnit: "nm"}
	for _, c := range []struct{ head, heading string }{
		{"nm,412", "412"}, {"Wavelength (nm),399", "399"}, {"Wavelength (nm),3.5e2", "3.5e2"}, {`"nm","412"`, "412"},
		{"nm,2031-3", "2031-3"}, {"nm,%R 399", "%R 399"},
		{"412\nnm,%R", "%R"}, {"Sample 399,5\nnm,%R", "%R"}, {"Sample: 412\nnm,412", "412"}, {",412\nnm,%R", "412 %R"},
	} {
		export, err := intake.Read("g.txt", []byte(c.head+"\n400,4.12\n401,4.07\n402,4.03\n"), stated)
		require.NoError(t, err, c.head)
		requireCurves(t, named(c.heading, unstated, g07), curvesOf(export))
	}
	stated.Layout = "columns" // two numbers are in order
	for _, head := range []string{"nm,412,37", ",412,37", `"","412","37"`, "nm,1,2", "nm;8;30",
		"Wavelength;412,5;37,5\n(nm);(%R);(%R)"} {
		sep := ","
		if strings.Contains(head, ";") {
			sep = ";"
		}
		rows := strings.ReplaceAll("\n400,4,5\n401,4,5\n402,4,5\n", ",", sep)
		export, err := intake.Read("g.txt", []byte(head+rows), stated)
		require.NoError(t, err, head)
		assert.Len(t, export.Spectra, 2, head)
	}
	export, err := intake.Read("g.txt", []byte("No,nm,%R\n1,400,4.12\n2,401,4.07\n3,402,4.03\n"), stated)
	require.NoError(t, err, "a count of rows headed No")
	assert.Len(t, export.Spectra, 1)
	for _, line := range []string{"5,3,smoothing", "303 points,2"} {
		export, err := intake.Read("g.txt", []byte("nm,%R\n301,4.2\n302,4.3\n"+line+"\n"), stated)
		require.NoError(t, err, line)
		assert.Equal(t, []string{line}, export.Footer)
	}
}

// Numbers in order above the values are wavelengths or names: a person says which, under
// any word in the corner.
func TestReadAsksWhatNumbersAboveTheValuesAre(t *testing.T) {
	stated := text.Stated{Quantity: "R", Unit: "percent", WavelengthUnit: "nm"}
	rows := "412,4.1,4.2,4.3\n413,5.1,5.2,5.3\n548,6.1,6.2,6.3\n"
	for _, c := range []struct{ head, sep string }{
		{"Row,400,500,600", ","}, {"nm,400,500,600", ","}, {"Wavelength (nm),400,500,600", ","}, {",400,500,600", ","},
		{`"","400","500","600"`, ","},
		{"Time-WL;400;500;600", ";"}, {"Messung\t400\t500\t600", "\t"}, {"x 400 500 600", " "}, {"Scan;400 nm;500 nm;600 nm",
			";"}, {"Row,4e2,5e2,6.0e2", ","},
		{"angle,400,500,600", ","}, {"Row;400,5;500,5;600,5", ";"}, {"made up\nUnit: %\nRow,400,500,600", ","},
		{"wave,400,500,600,", ","},
	} {
		text := strings.ReplaceAll(rows, ",", c.sep)
		if strings.Contains(c.head, ";500,5") {
			text = strings.ReplaceAll(text, ".", ",")
		}
		_, err := intake.Read("g.txt", []byte(c.head+"\n"+text), stated)
		require.ErrorContains(t, err, "contains numbers in order: they may be wavelengths, or the names of columns", c.head)
		across := stated
		across.Layout = "rows"
		export, err := intake.Read("g.txt", []byte(c.head+"\n"+text), across)
		require.NoError(t, err, c.head)
		require.Len(t, export.Spectra, 3, c.head)
		assert.Contains(t, export.Spectra[2].Heading, "548")
		assert.Equal(t, []float64{0.061, 0.062, 0.063}, export.Spectra[2].Values)
		assert.InDeltaSlice(t, []float64{400, 500, 600}, export.Spectra[2].NM, 0.5)
		down := stated
		down.Layout = "columns"
		export, err = intake.Read("g.txt", []byte(c.head+"\n"+text), down)
		if strings.HasPrefix(c.head, "angle") || strings.HasPrefix(c.head, "Time") {
			require.ErrorContains(t, err, "these are not wavelengths")
			continue
		}
		require.NoError(t, err, c.head)
		require.Len(t, export.Spectra, 3, c.head)
		assert.Equal(t, []float64{412, 413, 548}, export.Spectra[2].NM)
	}
	// Where the line is not right above the rows, or is split otherwise, or a word stands
	// beside each number, the question is the same.
	for _, head := range []string{
		"Row,400,500,600\nno,%,%,%\n", "nm,400,500,600\n-- spectrum starts --\n", "Row,400,500,600\n-- spectrum starts --\n",
		"Row;400;500;600\n", "Row 400 500 600\n", "Row\t400\t500\t600\n", "Row,X400,X500,X600\n",
		"Row,400 %R,500 %R,600 %R\n", "Row,R_400,R_500,R_600\n",
		"nm,400 %R,500 %R,600 %R\n", "Wavelength (nm),%R 400 nm,%R 500 nm,%R 600 nm\n",
		"Longueur d'onde (nm),X400,X500,X600\n", "Sample,X400,X500,X600\n", "wl,R 400,R 500,R 600,\n",
		"Row,400,500,600\n,%R,%R,%R\n",
	} {
		s := "Y units: %R\nX units: nm\n" + head + rows
		_, err := intake.Read("g.txt", []byte(s), text.Stated{})
		require.ErrorContains(t, err, "g.txt:3: ", head)
		require.ErrorContains(t, err, "contains numbers in order: they may be wavelengths, or the names of columns", head)
		export, err := intake.Read("g.txt", []byte(s), text.Stated{Layout: "columns"})
		require.NoError(t, err, head)
		assert.Len(t, export.Spectra, 3, head)
	}
	for _, head := range []string{"nm,G400,G500,G600", "nm,50 deg,60 deg,70 deg", "nm,30 %R,40 %R,45 %R",
		"nm,600 %R,400 %R,500 %R", "nm,G07,G08,G09", "nm,1,2,3", "nm,R8,R30,R60", "x,8 deg,30 deg,60 deg", "nm,412,37,548",
		"nm,412,413,G08",
		"Row,400,500,600\n(nm),(%),(%),(%)"} {
		export, err := intake.Read("g.txt", []byte(head+"\n"+rows), stated)
		require.NoError(t, err, head)
		assert.Len(t, export.Spectra, 3, head)
	}
	// Headings may have another decimal mark than the rows.
	for _, head := range []string{"nm;400,0;500,5;600,2", "Wavelength (nm);X400,5;X500,5;X600,5"} {
		_, err := intake.Read("g.txt", []byte(head+"\n412;4.1;4.2;4.3\n413;5.1;5.2;5.3\n"), stated)
		require.ErrorContains(t, err, "numbers in order", head)
	}
	// Rows that begin with a word are no columns, so that is not offered.
	for _, row := range []string{"G07", "12:00:01"} {
		_, err := intake.Read("g.txt", []byte("Time-WL,400,500,600\n"+row+",4,5,6\n"+row+"b,4,5,7\n"), stated)
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal)
		assert.Equal(t, "state --layout rows", refusal.Try)
	}
	// Samples whose numbers do not rise are no overlap of two detectors.
	_, err := intake.Read("g.txt", []byte("Row,400,500,600\n548,4,4,4\n412,4,4,4\n501,4,4,4\n"), stated)
	require.ErrorContains(t, err, "numbers in order")
	_, err = intake.Read("g.txt", []byte("um,0.40 %R,0.50 %R\n0.412,4,5\n0.413,4,5\n"), text.Stated{})
	require.ErrorContains(t, err, "numbers in order")
}

// Below a word such as id, the first cells may be wavelengths too: numbers in order that
// are none, and words, are names.
func TestReadAsksWhichWayTwoAxesStand(t *testing.T) {
	stated := text.Stated{Quantity: "R", Unit: "percent", WavelengthUnit: "nm"}
	for _, corner := range []string{"sample", "id", "code", "label", "coupon", "idx", "name", "Spot", "specimen", "probe",
		"muster", "Sample/nm", "nm/Sample", "Coupon (nm)"} {
		text := []byte(corner + ",412,413,414\n400,4.1,4.2,4.3\n410,5.1,5.2,5.3\n")
		_, err := intake.Read("g.csv", text, stated)
		require.ErrorContains(t, err, "g.csv:1: ", corner)
		require.ErrorContains(t, err, "numbers in order", corner)
		for layout, nm := range map[string][]float64{"rows": {412, 413, 414}, "columns": {400, 410}} {
			answered := stated
			answered.Layout, answered.Axis = layout, ""
			if layout == "columns" && strings.ContainsAny(corner, "/(") {
				answered.Axis = "1"
			}
			export, err := intake.Read("g.csv", text, answered)
			require.NoError(t, err, corner+" "+layout)
			assert.Equal(t, nm, export.Spectra[0].NM, corner+" "+layout)
			assert.Equal(t, 0.041, export.Spectra[0].Values[0])
			assert.Equal(t, map[string]float64{"rows": 0.042, "columns": 0.051}[layout], export.Spectra[0].Values[1])
		}
	}
	for _, rows := range []string{"G07,4.1,4.2,4.3\nG08,5.1,5.2,5.3\n", "7,4.1,4.2,4.3\n8,5.1,5.2,5.3\n",
		"548,4.1,4.2,4.3\n412,5.1,5.2,5.3\n548,5.1,5.2,5.3\n", "412,4.1,4.2,4.3\n"} {
		export, err := intake.Read("g.csv", []byte("id,412,413,414\n"+rows), stated)
		require.NoError(t, err, rows)
		assert.Equal(t, []float64{412, 413, 414}, export.Spectra[0].NM, rows)
		assert.Equal(t, []float64{0.041, 0.042, 0.043}, export.Spectra[0].Values, rows)
	}
}

// The first row of data never becomes the wavelengths because its values are in order.
func TestReadTakesNoRowOfDataForWavelengths(t *testing.T) {
	const rows = "G01,51.1,52.2,53.3\nG02,3.2,3.3,3.4\n"
	for _, s := range []string{"id,X400,X410,X420\n" + rows, ",%R 400,%R 410,%R 420\n" + rows,
		"id,400 nm,410 nm,420 nm\n,%R,%R,%R\n" + rows, "Sample;X400;X410;X420\n;nm;nm;nm\n" + strings.ReplaceAll(rows, ",",
			";")} {
		export, err := intake.Read("g.csv", []byte("X unit: nm\nQuantity: %R\n"+s), text.Stated{})
		require.NoError(t, err, s)
		require.Len(t, export.Spectra, 2, s)
		assert.Equal(t, []float64{400, 410, 420}, export.Spectra[0].NM, s)
		assert.Equal(t, []float64{0.511, 0.522, 0.533}, export.Spectra[0].Values, s)
	}
	// A line of prose with as many words heads no columns.
	export, err := intake.Read("g.csv",
		[]byte("Quantity: %R\nReflexion in %, Wellenl\u00e4nge in nm\nx 380.0 375.0 370.0 365.0 360.0\n412%R 2 2 2 2 "+
			"3\n413%R 2 3 2 2 2\n"), text.Stated{WavelengthUnit: "nm"})
	require.NoError(t, err)
	assert.Equal(t, []float64{360, 365, 370, 375, 380}, export.Spectra[0].NM)
	for head, fault := range map[string]string{"id,G400,G410,G420\n": "numbers in order",
		"id,S7,S8,S9\n": "begin with a name", "Sample,A,B,C\n": "begin with a name",
		"id,front,back,mean\n": "begin with a name"} {
		_, err := intake.Read("g.csv", []byte("X unit: nm\nQuantity: %R\n"+head+rows), text.Stated{})
		require.ErrorContains(t, err, fault, head)
	}
	// What is beside the wavelengths says what the rows hold.
	export, err = intake.Read("g.csv", []byte("id,%R 400 nm,%R 410 nm,%R 420 nm\n"+rows), text.Stated{})
	require.NoError(t, err)
	assert.Equal(t, []float64{400, 410, 420}, export.Spectra[1].NM)
	assert.Equal(t, []float64{0.032, 0.033, 0.034}, export.Spectra[1].Values)
	_, err = intake.Read("g.csv", []byte("id,%T 400 nm,%T 410 nm,%T 420 nm\n"+rows), text.Stated{Quantity: "R"})
	require.ErrorContains(t, err, "the heading says transmittance")
	_, err = intake.Read("g.csv", []byte("Wellenlänge (µm),400,410,420\n,nm,nm,nm\n"+rows), text.Stated{Quantity: "R",
		Unit: "percent"})
	require.ErrorContains(t, err, "g.csv:1: the wavelengths are said to be in um and in nm")
}
