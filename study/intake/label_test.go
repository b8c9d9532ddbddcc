package intake_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// What is where wavelengths are due and is none is refused, whatever a person states.
// The cases are common practice, no source.
func TestReadRefusesOtherAxes(t *testing.T) {
	const export = "export wavelengths in nm"
	const inColumn = "export wavelengths in nm, in a column with that heading"
	for _, c := range []struct{ heading, fault, try string }{
		// A power or a multiple of a unit.
		{"Wavenumber (1/um)", `wavelengths in the unit of "Wavenumber (1/um)" are not read`, export},
		{"1/µm", `wavelengths in the unit of "1/µm" are not read`, export},
		{"1/nm", `wavelengths in the unit of "1/nm" are not read`, export},
		{"nm-1", `wavelengths in the unit of "nm-1" are not read`, export},
		{"µm⁻¹", `wavelengths in the unit of "µm⁻¹" are not read`, export},
		{"1000/nm", `wavelengths in the unit of "1000/nm" are not read`, export},
		{"nm/2", `wavelengths in the unit of "nm/2" are not read`, export},
		{"nm^2", `wavelengths in the unit of "nm^2" are not read`, export},
		{"Wavelength [nm] x10", `wavelengths in the unit of "Wavelength [nm] x10" are not read`, export},
		{"Wavelength (0.1 nm)", `wavelengths in the unit of "Wavelength (0.1 nm)" are not read`, export},
		{"wavenumber (nm)", `wavelengths in the unit of "wavenumber (nm)" are not read`, export},
		// Another unit.
		{"eV", `energies in eV are not read`, export},
		{"Photon energy (eV)", `energies in eV are not read`, export},
		{"E / meV", `energies in meV are not read`, export},
		{"THz", `frequencies in THz are not read`, export},
		{"Frequency [GHz]", `frequencies in GHz are not read`, export},
		{"cm", `wavelengths in cm are not read`, export},
		{"kaysers", `wavelengths in kaysers are not read`, export},
		{"Wavelength A", `wavelengths in å are not read`, export},
		// Another quantity.
		{"Energy", `column 1 is headed "Energy": these are not wavelengths`, inColumn},
		{"Frequency", `column 1 is headed "Frequency": these are not wavelengths`, inColumn},
		{"angle", `column 1 is headed "angle": these are not wavelengths`, inColumn},
		{"2theta", `column 1 is headed "2theta": these are not wavelengths`, inColumn},
		{"Thickness (nm)", `column 1 is headed "Thickness (nm)": these are not wavelengths`, inColumn},
		{"position (um)", `column 1 is headed "position (um)": these are not wavelengths`, inColumn},
		{"Raman shift (cm-1)", `column 1 is headed "Raman shift (cm-1)": these are not wavelengths`, inColumn},
		{"nm shift", `column 1 is headed "nm shift": these are not wavelengths`, inColumn},
		{"Offset nm", `column 1 is headed "Offset nm": these are not wavelengths`, inColumn},
		{"(x 10 nm)", `column 1 is headed "(x 10 nm)": these are not wavelengths`, inColumn},
		{"1000/cm", `column 1 is headed "1000/cm": these are not wavelengths`, inColumn},
		{"10*wavelength (nm)", `column 1 is headed "10*wavelength (nm)": these are not wavelengths`, inColumn},
		{"1e7/λ (nm)", `column 1 is headed "1e7/λ (nm)": these are not wavelengths`, inColumn},
		{"log wavelength (nm)", `column 1 is headed "log wavelength (nm)": these are not wavelengths`, inColumn},
		{"Δλ (nm)", `column 1 is headed "Δλ (nm)": these are not wavelengths`, inColumn},
		{"Wavelength error (nm), step", `column 1 is headed "Wavelength error (nm), step": these are not wavelengths`,
			inColumn},
	} {
		t.Run(c.heading, func(t *testing.T) {
			for _, stated := range []text.Stated{{}, {Axis: "1"}} {
				_, err := intake.Read("g.txt", []byte(c.heading+";%R\n400;4.12\n401;4.07\n"), stated)
				require.EqualError(t, err, "g.txt:1:1: "+c.fault)
				var refusal *study.Refusal
				require.ErrorAs(t, err, &refusal)
				assert.Equal(t, c.try, refusal.Try)
				assert.Empty(t, refusal.Choices, "no answer makes wavelengths of it")
			}
		})
	}
	for _, c := range []struct{ name, text, fault string }{
		{"one spectrum per row, named by angles", "angle,400,420,440\n8,4.12,4.2,4\n30,4.1,4.3,4\n",
			`g.txt:1: "angle,400,420,440" contains numbers in order: they may be wavelengths, or the names of columns (rows: ` +
				`each line is one sample; columns: each column is one sample)`},
		{"energies beside a name", "Energy,G07\n2.1,4.12\n2.2,4.2\n",
			`g.txt:1:1: column 1 is headed "Energy": these are not wavelengths`},
		{"a unit in the header", "X units: eV\nWavelength,%R\n2.1,4.12\n2.2,4.2\n", `g.txt:2:1: energies in eV are not read`},
		{"thickness above its unit", "Thickness,8 deg,45 deg\n[nm],[%R],[%R]\n400,4,5\n401,4,5\n",
			`g.txt:2:1: column 1 is headed "Thickness [nm]": these are not wavelengths`},
		{"pairs", "scan nm,G07 %R,scan nm,G08 %R\n400,4,400,5\n401,4,401,5\n",
			`g.txt:1:1: column 1 is headed "scan nm", which may not be a wavelength`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := intake.Read("g.txt", []byte(c.text), allStated)
			if c.name == "a unit in the header" {
				_, err = intake.Read("g.txt", []byte(c.text), text.Stated{})
			}
			require.EqualError(t, err, c.fault)
		})
	}
}

// A word without a meaning beside the unit is asked about, and a person settles it.
func TestReadAsksAboutWordsBesideTheUnit(t *testing.T) {
	raw := []byte("scan nm;%R\n400;4.12\n401;4.07\n402;4.03\n")
	_, err := intake.Read("g.txt", raw, text.Stated{})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.EqualError(t, err, `g.txt:1:1: column 1 is headed "scan nm", which may not be a wavelength`)
	assert.Equal(t, []study.Choice{{Name: "axis", Value: "1", Meaning: "it contains the wavelengths all the same"}},
		refusal.Choices)
	export, err := intake.Read("g.txt", raw, text.Stated{Axis: "1"})
	require.NoError(t, err)
	requireCurves(t, g07, curvesOf(export))
}

func TestReadOrdinaryHeadings(t *testing.T) {
	for _, x := range []string{"nm", "Wavelength (nm)", "WL nm", "X [nm]", "x / nm", "Wavelength / nm", "λ/nm",
		"wavelength_nm", "Wavelength.nm", "nm.", "Spectral axis [nm]",
		"lambda (nm)", "Wellenlänge (nm)", "Longueur d'onde (nm)", "Lunghezza d'onda (nm)", "nm (vac)", "Wavelength (nm) 1",
		"wavelengths in air, nm"} {
		export, err := intake.Read("g.txt", []byte(x+";%R\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{})
		require.NoError(t, err, x)
		requireCurves(t, g07, curvesOf(export))
	}
	for _, y := range []string{"%R", "R (%)", "Reflectance [%]", "G07 8deg %R", "Rs8deg %", "R / %", "R/% G07",
		"G07-R (%)", "G07 - R (%)", "%R-1", "R%", "'%R'", "R (%) 60 deg",
		"%R 30 min", "lower spot %R", "x1 %R", "dark blank %R", "%R exp", "8 deg [%R]", "%R normal incidence", "R_x8deg %",
		"E %R", "%R (p)", "% R G07"} {
		export, err := intake.Read("g.txt", []byte("nm;"+y+"\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{Quantity: "R"})
		require.NoError(t, err, y)
		assert.Equal(t, g07[0].values, export.Spectra[0].Values, y)
	}
	t.Run("a key and its number name no wavelengths", func(t *testing.T) {
		for _, line := range []string{"Slit (nm);2", "Energy;50", "Thickness (nm);118"} {
			export, err := intake.Read("g.txt", []byte(line+"\n400;4.12\n401;4.07\n402;4.03\n"), allStated)
			require.NoError(t, err, line)
			assert.Empty(t, export.Spectra[0].Heading)
		}
	})
}

// What is made from a reflectance, or is in another unit, is no curve.
func TestReadRefusesWhatIsComputed(t *testing.T) {
	const computed = "computed, scaled or in a unit that is not read"
	for _, heading := range []string{
		"1-R (%)", "100-%R", "1/R (%)", "10*R (%)", "10 x R (%)", "R x10 (%)", "R (%) x10", "R (%) × 100", "R' (%)",
		"% Reflectance x 0.5", "%R/100", "%R haze", "haze %R",
		"E (%R)", "%R gain", "reflectance (arb. units) %", "reflectivity (a.u.)", "dR (%)", "ΔR (%)", "∆R (%)", "%R Δ",
		"F(R) %", "f(%R)", "ln R %", "lg(R) %", "sqrt(R) %", "√R %",
		"R+T (%)", "R-T %", "T-R %", "1-R-T (%)", "R/T (%)", "R/R0 %", "R^2 %", "R² %", "R (‰)", "R (ppm)", "R (dB)",
		"R - 0.5 (%)", "%R fit", "%R residual", "%R model", "%R diff",
		"%R lower", "max %R", "%R change", "%R (p-s)", "%R s/p", "R (%) normalized to 550 nm", "Reflectance offset +2 %",
		"R ratio (%)",
	} {
		t.Run(heading, func(t *testing.T) {
			s := "nm;" + heading + "\n400;4.12\n401;4.07\n"
			for _, stated := range []text.Stated{{}, {Columns: "2"}, allStated} {
				_, err := intake.Read("g.txt", []byte(s), stated)
				var refusal *study.Refusal
				require.ErrorAs(t, err, &refusal)
				assert.Equal(t, `g.txt:1:4: column "`+heading+`" is `+computed+`; this needs the reflectance itself`, err.Error())
				if stated.Columns == "" {
					assert.Equal(t, "export the reflectance itself", refusal.Try)
					continue
				}
				// The column is named, so that the line of its heading can be named too.
				assert.Equal(t, "state --declared 1, or export the reflectance itself", refusal.Try)
				export, err := intake.Read("g.txt", []byte(s), text.Stated{Columns: "2", Declared: "1", Quantity: "R",
					Unit: "percent", RelativeTo: "absolute"})
				require.NoError(t, err)
				assert.Contains(t, export.Notes, `line 1, "nm;`+heading+`", is overruled, as stated`)
			}
			export, err := intake.Read("g.txt", []byte("nm;%R;"+heading+"\n400;4.12;5\n401;4.07;6\n"), text.Stated{})
			require.NoError(t, err)
			require.Len(t, export.Spectra, 1)
			assert.Equal(t, []study.SkippedColumn{{Column: 3, Heading: heading, Why: computed}}, export.Skipped)
		})
	}
	for _, heading := range []string{"dark reflectance (%)", "dark %R", "%R zero", "background R (%)"} {
		_, err := intake.Read("g.txt", []byte("nm;"+heading+"\n400;4.12\n401;4.07\n"), text.Stated{})
		assert.EqualError(t, err, `g.txt:1:4: column "`+heading+`" is a reading of the dark, and no other column remains`)
	}
	_, err := intake.Read("g.txt", []byte("nm;%R;sd\n400;4.12;1\n401;4.07;1\n402;4.03;2\n"), text.Stated{Columns: "3"})
	require.ErrorContains(t, err, "does not say")
	_, err = intake.Read("g.txt", []byte("nm;%R;dark %R\n400;4.12;1\n401;4.07;1\n402;4.03;2\n"), text.Stated{Columns: "3"})
	assert.EqualError(t, err, `g.txt:1:7: column "dark %R" is a reading of the dark`)
	_, err = intake.Read("g.txt", []byte("Mode: 1-R\nnm;%R\n400;4.12\n401;4.07\n"), text.Stated{})
	assert.EqualError(t, err, `g.txt:1: the header says "Mode: 1-R": this needs reflectance`)
}

// The letter u is an uncertainty only beside something that it may be the uncertainty of.
func TestReadLoneU(t *testing.T) {
	for _, c := range []struct {
		name, heading string
		columns       []int // that are taken
	}{
		{"one", "nm,R u", []int{2}},
		{"a name, u and an angle", "nm,s1 u 8", []int{2}},
		{"all of several", "nm,A1 u 8,A1 u 30", []int{2, 3}},
		{"one of two", "nm,A1,A1 u", []int{2}},
		{"beside an uncertainty by another word", "nm,A1 u 8,A1 u std", nil},
		{"beside an uncertainty in brackets", "nm,A1 R u,u(R)", nil},
		{"alone", "nm,u", nil}, {"of a name", "nm,u G07", nil}, {"in brackets", "nm,u(R)", nil}, {"a word and a letter",
			"nm,R u std", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := c.heading + "\n400,4.12,5\n401,4.07,6\n"
			if len(c.heading) > 0 && countOf(c.heading, ',') == 1 {
				text = c.heading + "\n400,4.12\n401,4.07\n"
			}
			export, err := intake.Read("g.txt", []byte(text), allStated)
			if c.columns == nil {
				require.ErrorContains(t, err, "is an uncertainty, and no other column remains")
				return
			}
			require.NoError(t, err)
			var taken []int
			for _, s := range export.Spectra {
				taken = append(taken, s.Column)
				assert.Empty(t, s.Polarisation, "u may be a name")
			}
			assert.Equal(t, c.columns, taken)
		})
	}
}

func countOf(text string, c rune) (n int) {
	for _, d := range text {
		if d == c {
			n++
		}
	}
	return n
}

// An R with the number of an angle or an index behind it names reflectance, if the heading
// gives the unit too. A greater number is one of a sample, and so is any beside other codes.
func TestNumberedRNamesReflectance(t *testing.T) {
	for head, names := range map[string]bool{
		"R8 [%]": true, "R1 [%];R2 [%]": true, "R8 (%);R60 (%)": true, "R8 p [%];R8 s [%]": true, "R1 [%];u(R1) [%]": true,
		"R412 [%]": false, "R90 [%]": false, "R8.5 [%]": false, "r8 [%]": false, "R8 x [%]": false,
		"R1 [%];S1 [%]": false, "R1 [%];T1 [%]": false,
	} {
		n := strings.Count(head, ";") + 1
		raw := "nm;" + head
		for _, row := range []string{"\n400;4", "\n401;5", "\n402;7"} {
			raw += row + strings.Repeat(";4.5", n-1)
		}
		export, err := intake.Read("g.txt", []byte(raw+"\n"), text.Stated{})
		if !names {
			require.ErrorContains(t, err, "does not say that it contains reflectance", head)
			continue
		}
		require.NoError(t, err, head)
		assert.Equal(t, study.Reflectance, export.Spectra[0].Quantity, head)
		assert.True(t, math.IsNaN(export.Spectra[0].AngleDeg), "the number may be an index: %s", head)
	}
	_, err := intake.Read("g.txt", []byte("nm;R8\n400;4\n401;5\n402;7\n"), text.Stated{})
	require.ErrorContains(t, err, "does not say that it contains reflectance", "without a unit")
}

// Short units below the names of columns are none of reflectance, in brackets or without.
func TestShortUnitsBelowNamesAreAsked(t *testing.T) {
	answers := text.Stated{Quantity: "R", Unit: "percent"}
	const rows = "\n400;4;5\n401;5;6\n402;7;7\n"
	for _, head := range []string{"Wavelength;G1;G2\nnm;A;V", "Wavelength;G1;G2\nnm;mV;A", "Wavelength;G1;G1\nnm;A;V"} {
		_, err := intake.Read("g.txt", []byte(head+rows), answers)
		require.Error(t, err, head)
		answers := text.Stated{Quantity: "R", Unit: "percent", Columns: "2,3", Declared: "2"}
		export, err := intake.Read("g.txt", []byte(head+rows), answers)
		require.NoError(t, err, head)
		assert.Len(t, export.Spectra, 2, head)
	}
	export, err := intake.Read("g.txt", []byte("Wavelength;G1;G2\nnm;[counts];%"+rows), text.Stated{Quantity: "R"})
	require.NoError(t, err, "the percent below G2 is a unit")
	assert.Equal(t, "percent", export.Unit)
}
