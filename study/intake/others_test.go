package intake_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
)

// A line that names another quantity enters the question for the quantity with its words,
// and --quantity alone does not settle it: --declared names the line too.
func TestReadQuotesLinesOfOtherQuantities(t *testing.T) {
	for _, line := range []string{
		"Technique,Transmission", "Technique: Absorbance", "Absorbance", "A", "[A]", "%T", "T (%)", "Absorbance (AU)",
		"Absorption of the film", "# Transmittance",
		"Irradiance (W/m2)", "Spectral irradiance, \u00b5W/cm\u00b2/nm", "[W m-2 nm-1]", "uW/cm^2/nm", "\u00b5mol m-2 s-1",
		"Radiance", "PPFD", "PPFD,512.3", "PPFD\t512.3", "LUX: 3", "RAD", "Type=RAD",
		"Counts", "Intensity (counts)", "Y axis in counts", "Raw spectrum", "Format: Scope", "Extinktion",
		"Messart: Absorption", "Me\u00dfgr\u00f6\u00dfe;Transmissionsgrad",
		"Modo: Transmitancia", "Misura: trasmittanza", "Grandeur : \u00e9clairement \u00e9nerg\u00e9tique",
		"Bestrahlungsst\u00e4rke", "Strahldichte", "\u900f\u5c04\u7387", "\u5438\u5149\u5ea6",
		"Fluorescence", "Kubelka-Munk", "the values are log(1/R)", "Y units: counts", "Y units: W/m2", "Mode: Absorbance",
		"Title: transmittance of the film",
		"{ Technique } Transmission", "Technique  Transmission", "Technique: Transmission; Scans: 3", "hasReference=0",
		"Optical density", "Transflectance", "Spectrum file is raw data",
		"PPFD [umolm-2s-1]\t12.3", "[W m^-2 nm^-1]",
		"not compared to a white reference", "Reference curve present: No", "White reference taken,no", "Reference: none",
		"Reference = not measured", "measured without reference",
		"Referenzspektrum vorhanden: nein", "ohne Referenz", "no reference taken", "Spectrum not referenced",
	} {
		for _, s := range []string{line + "\nmade up\nnm;G07\n400;4.12\n401;4.07\n402;4.03\n",
			"made up\nnm;G07\n400;4.12\n401;4.07\n402;4.03\n" + line + "\n"} {
			number := "1"
			if strings.HasPrefix(s, "made") {
				number = "6"
			}
			quote := `line ` + number + ` says ` // and the line
			_, err := intake.Read("g.txt", []byte(s), text.Stated{})
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal, line)
			assert.Contains(t, refusal.Fault, `column "G07" does not say that it contains reflectance, and `+quote, line)
			assert.Contains(t, refusal.Try,
				"--quantity R with --declared "+number+" (if the values are reflectance, and line "+number+" is wrong, or does "+
					"not speak of the values)")
			assert.Equal(t, "quantity", refusal.Choices[0].Name)

			for _, declared := range []string{"", "2", "ignore"} {
				_, err = intake.Read("g.txt", []byte(s), overruled(declared))
				require.ErrorAs(t, err, &refusal, line)
				assert.Contains(t, err.Error(), quote, line)
				assert.Contains(t, err.Error(), ", and --quantity says reflectance", line)
				want := number // the line that was named says nothing, and is not named again
				if declared == "ignore" {
					want = "ignore," + number
				}
				require.Equal(t, []study.Choice{{Name: "declared", Value: want, Meaning: "line " + number +
					" is wrong, or does not speak of the values"}}, refusal.Choices)
				export, err := intake.Read("g.txt", []byte(s), overruled(want))
				require.NoError(t, err, line)
				assert.Equal(t, g07[0].values, export.Spectra[0].Values)
				assert.Contains(t, strings.Join(export.Notes, "\n"), "line "+number+", ")
			}
		}
	}
}

// Such a line contradicts a heading that names reflectance, if it says nothing else.
func TestReadHoldsOtherQuantitiesAgainstHeadings(t *testing.T) {
	for _, line := range []string{
		"Technique,Transmission", "Technique\tTransmission", "Technique  Transmission",
		"Sample ID: x, Technique: Transmission", "Spectral irradiance [W m^-2 nm^-1]", "White reference taken\tno",
		"Absorbance", "A", "[\u00b5W/cm\u00b2/nm]", "PPFD", "RAD", "Messart: Absorption", "Counts", "Y units: counts",
		"Mode: Transmittance", "Reference curve present: No",
		"not compared to a white reference",
	} {
		raw := []byte(line + "\nnm;%R\n400;4.12\n401;4.07\n402;4.03\n")
		_, err := intake.Read("g.txt", raw, text.Stated{})
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, line)
		require.Len(t, refusal.Choices, 1, line)
		assert.Equal(t, "declared", refusal.Choices[0].Name)
		assert.Equal(t, "1", refusal.Choices[0].Value)
		_, err = intake.Read("g.txt", raw, text.Stated{Quantity: "R"})
		require.Error(t, err, line)
		export, err := intake.Read("g.txt", raw, text.Stated{Declared: "1"})
		require.NoError(t, err, line)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values)
	}
	for _, line := range []string{
		"Sphere for reflectance and transmittance", "Transmission grating", "Lamp irradiance: 1000 W/m2",
		"Signal: 30000 counts", "Max counts,65535", "Sample: absorber plate", "Operator: A",
		"Sample: T", "Title: transmittance and reflectance", "File: /data/absorbance/g07.txt",
		"Comment: absorbance was taken too", "Reference: no. 12", "Reference: Au mirror, calibrated",
		"Log file: none", "Angle in radians: no", "Illuminant: D65", "Exposure: 120 kWh/m2", "Polarisation: PAR", "Mode: %R",
		"Pressure: 1 mbar", "Temperature,23.5", "T: 23 C", "T=23",
		"Dark corrected: no", "Dark: taken", "Correction Type: Absorbance offset", "Absorbance\t0.012", "White: none",
		"Reference file: none", "Light Source,Transmission lamp", "no reference number", "Radius: 3 mm", "A: 4",
		"Coating: Au", "Counts averaged: 10",
	} {
		export, err := intake.Read("g.txt", []byte(line+"\nnm;%R\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{})
		require.NoError(t, err, line)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values, line)
	}
	for _, line := range []string{"Operator: A", "Sample: T", "Exposure: 120 kWh/m2", "Illuminant: D65",
		"Angle in radians: no", "T=23", "Max counts,65535", "Reference: calibrated", "Mode: %R", "made up"} {
		_, err := intake.Read("g.txt", []byte(line+"\nnm;G07\n400;4.12\n401;4.07\n402;4.03\n"), overruled(""))
		require.NoError(t, err, line)
	}
}

// What is said of another block is not said of this one; what is said above or below all
// blocks may be.
func TestOtherQuantitiesOfBlocks(t *testing.T) {
	const rows = "400,4.12\n401,4.07\n402,4.03\n"
	for block, s := range map[string]string{
		"1": "Wavelength (nm),Reflectance (%)\n" + rows + "\nWavelength (nm),Transmittance (%)\n" + rows,
		"2": "[Transmission]\nWavelength (nm),Transmittance (%)\n" + rows + "[Reflection]\nnm,%R\n" + rows,
		"3": "nm,A\n" + rows + "[Absorbance]\nnm,Absorbance\n" + rows + "\nnm,%R\n" + rows,
	} {
		export, err := intake.Read("g.txt", []byte(s), text.Stated{Block: block})
		require.NoError(t, err, s)
		assert.Equal(t, study.Reflectance, export.Spectra[0].Quantity)
	}
	for block, text := range map[string]string{
		"1": "nm,G07\n" + rows + "nm,G08\n" + rows + "Technique,Transmission\n",
		"2": "Technique,Transmission\nnm,G07\n" + rows + "nm,G08\n" + rows,
	} {
		stated := overruled("")
		stated.Block = block
		_, err := intake.Read("g.txt", []byte(text), stated)
		require.ErrorContains(t, err, `says "Technique,Transmission", and --quantity says reflectance`)
		stated.Declared = map[string]string{"1": "9", "2": "1"}[block]
		export, err := intake.Read("g.txt", []byte(text), stated)
		require.NoError(t, err)
		assert.Contains(t, export.Notes, "line "+stated.Declared+`, "Technique,Transmission", is overruled, as stated`)
	}
}

// The line that a person names wrongly is not offered again; the right ones are kept.
func TestDeclaredDropsWrongLines(t *testing.T) {
	raw := []byte("Technique: Absorbance\nmade up\nMode: RAD\nnm;%R\n400;4.12\n401;4.07\n402;4.03\n")
	for declared, want := range map[string]string{
		"": "1,3", "2": "1,3", "1,2": "1,3", "2,3": "3,1", "1-2": "1,3", "4": "1,3", "5": "1,3", "99": "1,3",
		"ignore,2": "ignore,1,3", "2,ignore,3": "ignore,3,1", "3": "3,1",
	} {
		_, err := intake.Read("g.txt", raw, text.Stated{Declared: declared})
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, declared)
		require.Len(t, refusal.Choices, 1, declared)
		assert.Equal(t, want, refusal.Choices[0].Value, declared)
		assert.Contains(t, refusal.Try, "state --declared "+want+", or ", declared)
		_, err = intake.Read("g.txt", raw, text.Stated{Declared: want})
		require.NoError(t, err, declared)
	}
	_, err := intake.Read("g.txt", raw, text.Stated{})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, "lines 1 and 3 are wrong, or do not speak of the values", refusal.Choices[0].Meaning)
	// A heading that names another quantity is overruled by its line too.
	_, err = intake.Read("g.txt", []byte("Mode: RAD\nnm;%T\n400;4.12\n401;4.07\n"), text.Stated{Declared: "2",
		Columns: "2", Quantity: "R"})
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, "2,1", refusal.Choices[0].Value)
}

// Numbers of lines and ignore are stated together; a line that is overruled says nothing
// else either.
func TestDeclaredNamesLines(t *testing.T) {
	raw := []byte("Points: 9\nAngle: 60\nTechnique: Absorbance\nnm;%R\n400;4.12\n401;4.07\n402;4.03\nMode: RAD\n")
	for declared, fault := range map[string]string{
		"": `g.txt:3: line 3 says "Technique: Absorbance" and line 8 says "Mode: RAD", and the heading says ` +
			`reflectance`,
		"ignore": `g.txt:3: line 3 says "Technique: Absorbance" and line 8 says "Mode: RAD", and the heading says ` +
			`reflectance`,
		"3":             `g.txt:8: line 8 says "Mode: RAD", and the heading says reflectance`,
		"3,8":           `g.txt:1: header says 9 points, 3 found`,
		"1,3,8":         "",
		"1-3,8":         "",
		"ignore,3":      `g.txt:8: line 8 says "Mode: RAD", and the heading says reflectance`,
		"8,3,ignore":    "",
		"x":             `g.txt: --declared is stated as "x": "x" is neither a number nor a range`,
		"3,3":           `g.txt: --declared is stated as "3,3": 3 is there twice`,
		"0":             `g.txt: --declared is stated as "0": numbers count from 1`,
		"ignore,ignore": `g.txt: --declared is stated as "ignore,ignore": "ignore" is neither a number nor a range`,
	} {
		export, err := intake.Read("g.txt", raw, text.Stated{Declared: declared})
		if fault != "" {
			require.EqualError(t, err, fault, declared)
			continue
		}
		require.NoError(t, err, declared)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values)
	}
	export, err := intake.Read("g.txt", raw, text.Stated{Declared: "1-3,8"})
	require.NoError(t, err)
	assert.NotEqual(t, 60.0, export.Spectra[0].AngleDeg, "line 2 is overruled too")
	export, err = intake.Read("g.txt", raw, text.Stated{Declared: "1,3,8,11"})
	require.NoError(t, err)
	assert.Equal(t, 60.0, export.Spectra[0].AngleDeg)
	assert.Contains(t, export.Notes, "--declared names line 11, which is not one of the lines around the rows")
}

// --columns wins over what a heading seems to say.
func TestColumnsWinOverHeadings(t *testing.T) {
	stated := text.Stated{Columns: "2", Quantity: "R", Unit: "percent"}
	for _, heading := range []string{"u", "U", "u(R)", "sd", "R std", "A", "T", "N", "no", "point", "Temp", "time", "CV",
		"white", "dark tile %R", "blank", "wave 2", "nm-7", "uncertainty"} {
		for _, more := range []string{"", ";%R"} {
			if more == "" && slices.Contains([]string{"wave 2", "nm-7"}, heading) {
				continue // two columns of wavelengths are no heading
			}
			row := strings.Repeat(";5", len(more)/3)
			text := []byte("nm;" + heading + more + "\n400;4.12" + row + "\n401;4.07" + row + "\n402;4.03" + row + "\n")
			export, err := intake.Read("g.txt", text, stated)
			require.NoError(t, err, heading+more)
			require.Len(t, export.Spectra, 1, heading+more)
			assert.Equal(t, 2, export.Spectra[0].Column)
			assert.Equal(t, g07[0].values, export.Spectra[0].Values)
		}
	}
	for _, heading := range []string{"Absorbance", "%A", "counts", "Irradiance", "E [W/m2]", "raw", "RAD", "PPFD",
		"Rad. (Target)", "g07.rad", "Transflectance",
		"Durchl\u00e4ssigkeit", "\u5438\u5149\u5ea6", "%T"} {
		raw := []byte("nm;" + heading + "\n400;4.12\n401;4.07\n402;4.03\n")
		for _, answer := range []text.Stated{{Quantity: "R", Unit: "percent"}, stated} {
			_, err := intake.Read("g.txt", raw, answer)
			if slices.Contains([]string{"%T", "Durchl\u00e4ssigkeit"}, heading) {
				require.EqualError(t, err, "g.txt:1:4: the heading says transmittance, --quantity says reflectance")
				continue
			}
			require.ErrorContains(t, err, "this needs reflectance", heading)
		}
		_, err := intake.Read("g.txt", raw, stated)
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal)
		assert.Contains(t, refusal.Try, "state --declared 1, or ")
		answer := stated
		answer.Declared = "1"
		export, err := intake.Read("g.txt", raw, answer)
		require.NoError(t, err, heading)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values)
		assert.NotEmpty(t, export.Notes)
	}
	// What is wrong with another column does not matter, nor what the header says of others.
	for _, head := range []string{
		"nm;%R 95 deg;G07 %R", "nm;R (%) (0-1);G07 %R", "nm;R(s+p) %;G07 %R", "Y units: irradiance\nnm;down;%R",
		"Mode: RAD\nnm;down;%R", "Irradiance [W/m2] in column 2\nnm;down;%R",
		"nm;E [W/m2/nm];%R", "nm;Radiance;%R", "[\u00b5W/cm\u00b2/nm]\nnm;up;Reflectance (%)",
	} {
		export, err := intake.Read("g.txt", []byte(head+"\n400;5;4.12\n401;5;4.07\n402;6;4.03\n"), text.Stated{Columns: "3"})
		require.NoError(t, err, head)
		require.Len(t, export.Spectra, 1)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values)
	}
	third := text.Stated{Columns: "3", Quantity: "R", Unit: "percent"}
	for line, isOfOthers := range map[string]bool{
		"Column 2: irradiance": true, "Spalte 2: Bestrahlungsst\u00e4rke": true, "col. 2 = radiance": true,
		"Columns 1-2: irradiance": true, "irradiance (columns 1 and 2)": true,
		"Column 3: irradiance": false, "Columns 2-3: irradiance": false,
		"Column 2: reflectance, column 3: irradiance": false, "Irradiance": false,
	} {
		_, err := intake.Read("g.txt", []byte(line+"\nnm;a;b\n400;5;4.12\n401;5;4.07\n402;6;4.03\n"), third)
		if isOfOthers {
			require.NoError(t, err, line)
			continue
		}
		require.ErrorContains(t, err, "line 1 says ", line)
	}
	_, err := intake.Read("g.txt", []byte("Technique,Transmission\nnm;a;%R\n400;5;4.12\n401;5;4.07\n"),
		text.Stated{Columns: "3"})
	require.ErrorContains(t, err, "line 1 says ", "the columns are of one technique")
	// One of which nothing is known but that nothing was compared has to be overruled.
	_, err = intake.Read("g.txt", []byte("Reference curve present: No\nnm;a;%R\n400;5;4.12\n401;5;4.07\n"),
		text.Stated{Columns: "3"})
	require.ErrorContains(t, err, "line 1 says ")
}

// A letter in the name of a sample says nothing of the column.
func TestLettersInNames(t *testing.T) {
	for _, heading := range []string{"U1 %R", "U-1 %R", "U 1 %R", "1412092U1-3 %R", "G07u %R", "sample U %R", "spot u %R",
		"A %R", "T %R", "%R A", "A1 %R", "N %R", "U12 R (%)"} {
		for _, other := range []string{"", ";G07 %R"} {
			row := strings.Repeat(";5", len(other)/7)
			export, err := intake.Read("g.txt",
				[]byte("nm;"+heading+other+"\n400;4.12"+row+"\n401;4.07"+row+"\n402;4.03"+row+"\n"), text.Stated{})
			require.NoError(t, err, heading+other)
			require.Len(t, export.Spectra, 1+len(row)/2, heading)
			assert.Equal(t, study.Reflectance, export.Spectra[0].Quantity)
			assert.Equal(t, g07[0].values, export.Spectra[0].Values)
		}
	}
	// Alone, or where all are such, what is with %R is a name; beside others it may be
	// either, and is asked about.
	for _, heads := range []string{"U %R", "u %R", "SD-12 %R", "Std 3 %R", "U R (%)", "SD-1 %R;SD-2 %R",
		"T %R;U %R;V %R"} {
		n := strings.Count(heads, ";") + 1
		export, err := intake.Read("g.txt", []byte("nm;"+heads+"\n400"+strings.Repeat(";4", n)+"\n401"+strings.Repeat(";5",
			n)+"\n"), text.Stated{})
		require.NoError(t, err, heads)
		assert.Len(t, export.Spectra, n, heads)
	}
	for _, heads := range []string{"A %R;B %R;U %R", "A %R;B %R;SD-12 %R", "A %R;B %R;Std 3 %R", "%R;G07 %R;u %R",
		"%R;G07 %R;U R (%)", "%R;G07 %R;SD12 %R"} {
		raw := []byte("nm;" + heads + "\n400;4;5;6\n401;5;6;7\n")
		_, err := intake.Read("g.txt", raw, text.Stated{})
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, heads)
		assert.Contains(t, refusal.Fault, " may be an uncertainty, or the curve of a sample", heads)
		require.Len(t, refusal.Choices, 2)
		for i, columns := range []string{"2,3", "2-4"} {
			require.Equal(t, columns, refusal.Choices[i].Value, heads)
			export, err := intake.Read("g.txt", raw, text.Stated{Columns: columns, Quantity: "R", Unit: "percent"})
			require.NoError(t, err, heads)
			assert.Len(t, export.Spectra, 2+i, heads)
		}
	}
	for _, names := range []string{"A;B;C", "S;T;V", "N;E;S;W", "T;U;V", "M;N;O", "A (%);B (%);C (%)", "Z;A;B"} {
		n := strings.Count(names, ";") + 1
		s := "Y units: %R\nnm;" + names + "\n400" + strings.Repeat(";4", n) + "\n401" + strings.Repeat(";5", n) +
			"\n402" + strings.Repeat(";7", n) + "\n"
		export, err := intake.Read("g.txt", []byte(s), text.Stated{})
		require.NoError(t, err, names)
		assert.Len(t, export.Spectra, n, names)

		rows := "X units: nm\nY units: %R\nid;400;401;402\n" + strings.ReplaceAll(strings.ReplaceAll(names, " (%)", ""), ";",
			";4;5;6\n") + ";4;5;6\n"
		export, err = intake.Read("g.txt", []byte(rows), text.Stated{})
		require.NoError(t, err, rows)
		assert.Len(t, export.Spectra, n, rows)
	}
	export, err := intake.Read("g.txt", []byte("X units: nm\nY units: %R\nid;400;401\nG07;4;5\nu;1;2\n"), text.Stated{})
	require.NoError(t, err)
	assert.Len(t, export.Spectra, 1, "the row of an uncertainty")
	for _, c := range []struct{ head, why string }{
		{"nm;%R;u(R)", "an uncertainty"}, {"nm;%R;u", "an uncertainty"}, {"nm;%R;A", "absorbance"}, {"nm;%R;R u",
			"an uncertainty"}, {"nm;%R;u G07", "an uncertainty"}, {"nm;%R;sd", "an uncertainty"}, {"nm;%R;u(R) %",
			"an uncertainty"}, {"nm;%R;sd 8 deg", "an uncertainty"}, {"nm;%R;std %R", "an uncertainty"}, {"nm;%R;U",
			"an uncertainty"}, {"nm;%R;stdev 3", "an uncertainty"},
	} {
		export, err := intake.Read("g.txt", []byte(c.head+"\n400;4.12;1\n401;4.07;1\n402;4.03;2\n"), text.Stated{})
		require.NoError(t, err, c.head)
		require.Len(t, export.Skipped, 1, c.head)
		assert.Equal(t, c.why, export.Skipped[0].Why, c.head)
	}
	export, err = intake.Read("g.txt", []byte("nm;%R;N\n400;4.12;1\n401;4.07;2\n402;4.03;3\n"), text.Stated{})
	require.NoError(t, err)
	assert.Len(t, export.Spectra, 1, "a count of rows")
	_, err = intake.Read("g.txt", []byte("nm;%R;N\n400;4.12;1.5\n401;4.07;1.4\n402;4.03;1.3\n"), text.Stated{})
	require.ErrorContains(t, err, `column "N" does not say that it contains reflectance; the headings of other columns do`)
}

// The name of a sample above the headings says nothing of the quantity.
func TestNamesAboveHeadingsAreNoQuantity(t *testing.T) {
	stated := text.Stated{Quantity: "R"}
	for _, name := range []string{"Sample A", "Sample T", "Sample R", "Sample;A", "Sample U", "Sample N", "Coupon T",
		"Name\tA", "id A", "Sample A1", "Spot 8"} {
		for _, head := range []string{"nm;[%]", "nm;G07 (%)", "nm;R412 [%]"} {
			raw := []byte(name + "\n" + head + "\n400;4.12\n401;4.07\n402;4.03\n")
			_, err := intake.Read("g.txt", raw, text.Stated{})
			require.ErrorContains(t, err, "does not say that it contains reflectance", name+head)
			export, err := intake.Read("g.txt", raw, stated)
			require.NoError(t, err, name+head)
			assert.Equal(t, g07[0].values, export.Spectra[0].Values)
		}
		for _, head := range []string{"nm;%R", "nm;R8 [%]"} {
			export, err := intake.Read("g.txt", []byte(name+"\n"+head+"\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{})
			require.NoError(t, err, name+head)
			assert.Equal(t, study.Reflectance, export.Spectra[0].Quantity)
		}
	}
	for _, name := range []string{"Sample;Absorbance", "Sample;Transmission"} {
		_, err := intake.Read("g.txt", []byte(name+"\nnm;G8 [%]\n400;4.12\n401;4.07\n402;4.03\n"), stated)
		require.ErrorContains(t, err, `line 1 says "`+name+`", and --quantity says reflectance`)
		_, err = intake.Read("g.txt", []byte(name+"\nnm;R8 [%]\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{})
		require.ErrorContains(t, err, `line 1 says "`+name+`", and the heading says reflectance`)
	}
	_, err := intake.Read("g.txt", []byte("Sample;Reflectance\nnm;G8 [%]\n400;4.12\n401;4.07\n"), text.Stated{})
	require.ErrorContains(t, err, "does not say that it contains reflectance")
	// Names of quantities above a row of units are none of samples.
	for _, head := range []string{
		"Wavelength;Dark;Reflectance\n[nm];[counts];[%]", "Wavelength;Dark;R\nnm;counts;%",
		"Pixel;Wavelength;Reflectance\n[];[nm];[%]", "Wavelength;Irradiance;Reflectance\n(nm);(W/m2);(%)",
		"Wavelength;Dark;Reflectance\n[nm];[a.u.];[%]", "x;Dark;Reflectance\nnm;-;%",
		"[nm];[counts];[%]\nWavelength;Dark;Reflectance", "[nm];[counts];[%R]\nWavelength;Dark;G07",
	} {
		export, err := intake.Read("g.txt", []byte(head+"\n400;401;4.12\n401;402;4.07\n402;403;4.03\n"), text.Stated{})
		require.NoError(t, err, head)
		require.Len(t, export.Spectra, 1, head)
		assert.Equal(t, 3, export.Spectra[0].Column, head)
	}
}

// A map that names a column which is left is told why, and what takes it.
func TestPlaceSaysWhyAColumnIsLeft(t *testing.T) {
	raw := []byte("nm;%R;u(R)\n400;4.12;1\n401;4.07;1\n402;4.03;2\n")
	line := sheet.Line[placing.Placing]{File: "map.csv", Number: 2,
		Row: placing.Placing{MapRow: sheet.MapRow{File: "g.csv", Column: "u(R)",
			Place: study.Place{Coupon: "E1", Spot: "1", AngleDeg: 8, Polarisation: "u", Replicate: 1}}}}
	export, err := intake.Read("g.csv", raw, text.Stated{InMap: true})
	require.NoError(t, err)
	_, _, err = placing.Place([]sheet.Line[placing.Placing]{line}, export.Spectra, export.Skipped)
	require.EqualError(t, err, `map.csv:2: column "u(R)" of g.csv is skipped: an uncertainty`)
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, "name another column, or state --columns 3 if this one is the curve", refusal.Try)
	export, err = intake.Read("g.csv", raw, text.Stated{InMap: true, Columns: "3", Quantity: "R", Unit: "percent"})
	require.NoError(t, err)
	placed, _, err := placing.Place([]sheet.Line[placing.Placing]{line}, export.Spectra, export.Skipped)
	require.NoError(t, err)
	assert.Equal(t, 3, placed[0].Spectrum.Column)
}
