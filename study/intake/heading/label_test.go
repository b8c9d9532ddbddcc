package heading_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/heading"
)

// inShort writes what a label says, part by part, in the order below; a heading that says nothing
// gives "".
func inShort(l heading.Label) string {
	var parts []string
	add := func(is bool, format string, args ...any) {
		if is {
			parts = append(parts, fmt.Sprintf(format, args...))
		}
	}
	add(l.Wave, "wavelength")
	add(l.Axis != "", "in %s", l.Axis)
	add(l.Lost, "symbol lost")
	add(l.Other != "", "other %s", l.Other)
	add(len(l.Beside) > 0, "beside %s", strings.Join(l.Beside, " "))
	add(l.Quantity != "", "%s", l.Quantity)
	add(l.OfLetter, "by letter")
	add(l.Numbered, "numbered")
	add(l.Unit != "", "%s", l.Unit)
	add(l.TwoUnits, "two units")
	add(len(l.Angles) > 0, "at %s", strings.Join(l.Angles, " "))
	add(l.Viewing, "not of incidence")
	add(l.Polarisation != "", "%s-polarised", l.Polarisation)
	add(l.TwoPolarisations, "two polarisations")
	add(l.Face != "", "%s", l.Face)
	add(l.Role == heading.AsIndex, "index")
	add(l.Role == heading.AsUncertainty, "uncertainty")
	add(l.Role == heading.AsAside, "aside")
	add(l.LoneU, "lone u")
	add(l.CodeU, "code u")
	return strings.Join(parts, ", ")
}

// saysOf is a heading and what it says in short.
type saysOf struct{ text, want string }

func requireSays(t *testing.T, cases []saysOf) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.text, func(t *testing.T) {
			l := heading.Parse(c.text)
			assert.Equal(t, c.want, inShort(l))
			assert.Equal(t, c.text, l.Text)
		})
	}
}

// Columns of wavelengths are named by the quantity, its unit or both. The words are common practice,
// no source; nm, µm and cm⁻¹ are units and prefixes of the SI brochure, 9th ed. (2019), tables 7
// and 8, from memory.
func TestWavelengths(t *testing.T) {
	requireSays(t, []saysOf{
		{"Wavelength", "wavelength"}, {"WAVELENGTHS", "wavelength"}, {"Wavelength (nm)", "wavelength, in nm"},
		{"wavelength_nm", "wavelength, in nm"}, {"Wavelength / nm", "wavelength, in nm"}, {"nm", "in nm"}, {"[nm]", "in nm"},
		{"nanometers", "in nm"}, {"Nanometre", "in nm"}, {"λ", "wavelength"}, {"λ/nm", "wavelength, in nm"},
		{"lambda [um]", "wavelength, in um"}, {"Wavelength (µm)", "wavelength, in um"}, // U+00B5
		{"Wavelength (μm)", "wavelength, in um"}, // U+03BC
		{"microns", "in um"}, {"micrometre", "in um"}, {"WL", "wavelength"}, {"wl nm", "wavelength, in nm"},
		{"Wavenumber (cm-1)", "wavelength, in cm-1"}, {"wavenumber cm^-1", "wavelength, in cm-1"},
		{"cm⁻¹", "in cm-1"}, {"1/cm", "in cm-1"}, {"cm−1", "in cm-1"},
		{"Wellenlänge [nm]", "wavelength, in nm"}, {"Longueur d'onde (nm)", "wavelength, in nm"},
		{"Longitud de onda (nm)", "wavelength, in nm"}, {"Lunghezza d'onda (nm)", "wavelength, in nm"},
		{"Golflengte (nm)", "wavelength, in nm"}, {"Våglängd (nm)", "wavelength, in nm"}, {"波长 (nm)", "wavelength, in nm"},
		{"Hullámhossz (nm)", "wavelength, in nm"}, {"Aallonpituus (nm)", "wavelength, in nm"},
		// The symbol of the unit was lost in another encoding.
		{"Wavelength (?m)", "wavelength, symbol lost"}, {"[\ufffdm]", "symbol lost"},
		// A word or a number beside the unit, which has no meaning.
		{"scan nm", "in nm, beside scan"}, {"nm G07", "in nm, beside g07"}, {"x (nm)", "in nm"}, {"Abscissa [nm]", "in nm"},
		{"nm in air", "in nm"}, {"Spectral axis (nm)", "in nm"},
		// A number with a unit is part of a name.
		{"118 nm", "other multiple"}, {"film 118 nm", ""}, {"118 nm %R", "R, percent"},
	})
}

// What a wavelength is not: a power, a multiple, another unit or another quantity.
func TestForeignAxes(t *testing.T) {
	requireSays(t, []saysOf{
		// A power or a multiple of a unit that is read.
		{"1/nm", `in "1/nm"`}, {"nm-1", `in "nm-1"`}, {"nm^2", `in "nm^2"`}, {"1000/nm", `in "1000/nm"`},
		{"nm x10", `in "nm x10"`}, {"nm/2", `in "nm/2"`}, {"per nm", `in "per nm", beside per`},
		{"Wavelength (0.1 nm)", `wavelength, in "Wavelength (0.1 nm)"`}, {"µm⁻¹", `in "µm⁻¹"`},
		{"Wavenumber (nm)", `wavelength, in "Wavenumber (nm)"`}, {"frequency nm", `in "frequency nm", other frequency, ` +
			`beside frequency`},
		{"10*wavelength (nm)", `wavelength, in nm, other multiple`}, {"1/λ", "wavelength, other multiple"},
		{"10 um", "other multiple"}, {"1000/cm", "other multiple"},
		// Another unit.
		{"eV", "in ev"}, {"Photon energy (eV)", "in ev, other energy, beside photon energy"},
		{"E (meV)", "in mev, beside e"}, {"THz", "in thz"},
		{"Frequency (GHz)", "in ghz, other frequency, beside frequency"}, {"Å", "in å"},
		{"Wavelength (Å)", "wavelength, in å"},
		{"Wavelength (A)", "wavelength, in a, absorbance, by letter"}, {"angstroms", "in angstroms"}, {"mm", "in mm"},
		{"Wavelength (m)", "wavelength, in m"}, {"Wavelength (pm)", "wavelength, in pm"}, {"kaysers", "in kaysers"},
		// Near misses: these are words beside something else.
		{"G07 eV", ""}, {"m", ""},
		// Another quantity in the same unit.
		{"Thickness (nm)", "in nm, other thickness, beside thickness"}, {"Raman shift (cm-1)",
			"in cm-1, other shift, beside raman shift"},
		{"Position (um)", "in um, other position, beside position"}, {"Bandwidth nm", "in nm, other bandwidth, " +
			"beside bandwidth"},
		{"Δλ (nm)", "in nm, other δλ, beside δλ"}, {"log wavelength", "wavelength, other log, absorbance"},
		{"Step (nm)", "in nm, other step, beside step"}, {"Time", "other time"}, {"Temp", "other temp"},
		{"Angle", "other angle"}, {"2theta", "other theta, not of incidence"}, {"Winkel", "other winkel"},
		{"sd (nm)", "in nm, other uncertainty, uncertainty"},
	})
	for unit, want := range map[string]string{
		"ev": "energies in eV", "mev": "energies in meV", "hz": "frequencies in Hz", "ghz": "frequencies in GHz",
		"thz": "frequencies in THz", "å": "wavelengths in å", "a": "wavelengths in å", "mm": "wavelengths in mm",
		"kayser": "wavelengths in kayser", `"1/nm"`: `wavelengths in the unit of "1/nm"`,
	} {
		assert.Equal(t, want, heading.UnreadAxis(unit), unit)
	}
}

// Quantities and units of values. R, T and A for reflectance, transmittance and absorbance are those
// of the trade; common practice, no source.
func TestQuantities(t *testing.T) {
	requireSays(t, []saysOf{
		{"Reflectance", "R"}, {"REFLECTANCE", "R"}, {"reflectivity", "R"}, {"Reflexion", "R"}, {"réflectance", "R"},
		{"R", "R"}, {"%R", "R, percent"}, {"R%", "R, percent"}, {"R (%)", "R, percent"}, {"R [%]", "R, percent"},
		{"% R", "R, percent"}, {"R / %", "R, percent"}, {"[%R]", "R, percent"}, {"R pct", "R, percent"},
		{"Percent reflectance", "R, percent"}, {"R (0-1)", "R, fraction"}, {"R (fraction)", "R, fraction"},
		{"Reflectance 0..1", "R, fraction"}, {"R frac", "R, fraction"}, {"R 0 to 1", "R, fraction"},
		{"R (%, fraction)", "R, percent, two units"}, {"%", "percent"}, {"percent", "percent"}, {"fraction", "fraction"},
		{"specular reflectance", "R"}, {"total R", "R"}, {"mean %R", "R, percent"}, {"measured R", "R"},
		{"G07 R", "R"}, {"G07-R (%)", "R, percent"}, {"front %R", "R, percent, front"}, {"R back (%)", "R, percent, back"},
		{"rear reflectance", "R, back"},
		{"T", "T, by letter"}, {"%T", "T, percent"}, {"Transmittance", "T"}, {"Transmission (%)", "T, percent"},
		{"durchlässigkeit", "T"},
		{"A", "absorbance, by letter"}, {"Absorbance", "absorbance"}, {"Abs", "absorbance"}, {"%A", "absorbance, percent"},
		{"OD", "absorbance"}, {"Extinktion", "absorbance"}, {"Absorption", "absorbance"},
		{"Counts", "counts"}, {"Intensity", "counts"}, {"cts", "counts"}, {"ADC", "counts"}, {"scope", "counts"},
		{"raw", "raw values"}, {"raw counts", "counts"}, {"Irradiance", "irradiance"}, {"µW/cm²/nm", "irradiance"},
		{"W/m2", "irradiance"}, {"mol m-2 s-1", "irradiance"}, {"Spectral radiance", "irradiance"}, {"lux", "irradiance"},
		{"fluorescence", "raw values"}, {"rad", "irradiance"}, {"angle (rad)", "other angle"}, {"0.5 rad", ""},
		{"kW/m^2", "irradiance"}, {"W cm⁻²", "irradiance"}, {"W", ""}, {"m2", ""}, {"cd/m²", "irradiance"},
		// An R with a number glued to it: an angle or an index, with the unit of values.
		{"R8 [%]", "R, numbered, percent"}, {"R60 (%)", "R, numbered, percent"}, {"R89 [%]", "R, numbered, percent"},
		{"R89 %", ""},
		{"R90 [%]", "percent"}, {"R8", ""}, {"r8 [%]", "percent"}, {"R8 x [%]", "percent"}, {"S1 [%]", "percent"},
		// The quantity that is further from a reflectance counts.
		{"Reflectance counts", "counts"}, {"absorbance of reflectance", "absorbance"}, {"T and R", ""},
		// Near misses: a letter that may be a name, a number that has a percent sign of its own.
		{"plate T", ""}, {"sample A", ""}, {"RH", ""}, {"10 % porosity", ""}, {"G07", ""}, {"rate", ""}, {"arc", ""},
		{"Tile", ""}, {"retracted", ""}, {"abs of G07", ""},
		{"10 % R", "R"}, // a porosity or the like, beside R
		{"10 %R", "R, percent"},
	})
}

// Angles of incidence are numbers with a unit of angle; common practice, no source.
func TestAngles(t *testing.T) {
	requireSays(t, []saysOf{
		{"8 deg", "at 8"}, {"8°", "at 8"}, {"8 degrees %R", "R, percent, at 8"}, {"R 57.5 deg", "R, at 57.5"},
		{"R 57,5°", "R, at 57,5"}, {"G07 8deg %R", "R, percent, at 8"}, {"G07_60deg_R", "R, at 60"}, {"R8deg", "R, at 8"},
		{"R (8°, s)", "R, at 8, s-polarised"}, {"8º %R", "R, percent, at 8"}, // the ordinal sign, U+00BA
		{"8˚ %R", "R, percent, at 8"}, {"-8 deg %R", "R, percent, at -8"}, {"R-8deg", "R, at 8"},
		{"8 deg 60 deg %R", "R, percent, at 8 60"}, {"AOI 8 deg", "other aoi, at 8"}, {"8 deg from normal %R",
			"R, percent, at 8"},
		{"8 deg to the normal", "at 8, not of incidence"},
		// Two numbers, of which none is sure to be meant by itself.
		{"8/60 deg %R", "R, percent, not of incidence"}, {"57_5 deg %R", "R, percent, not of incidence"},
		{"8-30 deg %R", "R, percent, not of incidence"}, {"<8 deg %R", "R, percent, not of incidence"},
		{"8±1 deg", "not of incidence, uncertainty"}, {"57°30' %R", "R, percent, not of incidence"}, {"4 5 deg %R",
			"R, percent, not of incidence"},
		// A number of a sample is no second one.
		{"sample 7 8 deg %R", "R, percent, at 8"}, {"G07 8 deg", "at 8"}, {"pull 2 60 deg %R", "R, percent, at 60"},
		// Another angle than that of incidence.
		{"45 deg polariser %R", "R, percent, not of incidence"}, {"detector 8 deg", "at 8, not of incidence"},
		{"viewed at 45 deg", "at 45, not of incidence"}, {"8 deg acceptance %R", "R, percent, at 8, not of incidence"},
		{"tilt 5 deg", "at 5, not of incidence"}, {"elevation 82 deg", "at 82, not of incidence"},
		{"azimuth 90 deg", "at 90, not of incidence"}, {"grazing 82 deg", "at 82, not of incidence"},
		{"half cone 5 deg", "at 5, not of incidence"},
		// Near misses: temperatures, and numbers without a unit.
		{"25 deg C", ""}, {"25°C %R", "R, percent"}, {"25 °F", ""}, {"R 8", "R"}, {"8", ""}, {"G07deg", ""}, {"deg", ""},
		{"degrees", ""}, {"degraded 8 %R", "R, percent"},
	})
}

// Polarisations. TE is s and TM is p: M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), 1.6.1,
// from memory. The other words are common practice, no source.
func TestPolarisations(t *testing.T) {
	requireSays(t, []saysOf{
		{"R_s", "R, s-polarised"}, {"R_p (%)", "R, percent, p-polarised"}, {"Rs", "R, s-polarised"},
		{"Rp 60 deg", "R, at 60, p-polarised"}, {"R(s)", "R, s-polarised"}, {"%R s-pol", "R, percent, s-polarised"},
		{"p polarised R", "R, p-polarised"}, {"R polarization p", "R, p-polarised"}, {"R TE", "R, s-polarised"},
		{"TM %R", "R, percent, p-polarised"}, {"R⊥", "R, s-polarised"}, {"R ∥", "R, p-polarised"},
		{"unpolarised R", "R, u-polarised"}, {"R un-polarized", "R, u-polarised"}, {"R not polarised", "R, u-polarised"},
		{"unpol. %R", "R, percent, u-polarised"}, {"R senkrecht", "R, s-polarised"}, {"R parallel", "R, p-polarised"},
		{"60 deg s %R", "R, percent, at 60, s-polarised"}, {"R s", "R, s-polarised"}, {"Rₛ", "R, s-polarised"},
		{"R(s+p)", "R, two polarisations"}, {"s-pol p-pol R", "R, two polarisations"},
		{"R polarised", "R"}, {"R s-p", "computed, scaled or in a unit that is not read"},
		// Near misses: letters of names, times and parts of instruments.
		{"spot s %R", "R, percent"}, {"sample p %R", "R, percent"}, {"p-type %R", "R, percent"}, {"G07s R", "R"},
		{"R 10 s", "R"},
		{"TE coating %R", "R, percent"}, {"te %R", "R, percent"}, {"parallel beam %R", "R, percent"},
		{"%R partly polarised", "R, percent"},
		{"polished %R", "R, percent"}, {"R 8 deg S", "R, at 8"}, {"s", ""}, {"p 8 deg R", "R, at 8"},
	})
	s, u := heading.Parse("R s"), heading.Parse("R s-pol")
	assert.True(t, s.ByLetter, "a lone letter may be a name after all")
	assert.False(t, u.ByLetter)
	assert.True(t, heading.Parse("8 deg n %R").NameLetter)
	assert.False(t, heading.Parse("8 deg s %R").NameLetter)
}

// Columns that are no curves: uncertainties, baselines and numbers of rows.
func TestRoles(t *testing.T) {
	const by = "uncertainty"
	requireSays(t, []saysOf{
		{"sd", by}, {"SD", by}, {"std", by}, {"sem", by}, {"σ", by}, {"stdev", by}, {"StdDev", by}, {"error", by},
		{"Uncertainty (%)", "percent, " + by}, {"unc", by}, {"±", by}, {"+/-", by}, {"+-", by}, {"sigma R", "R, " + by},
		{"R sd", "R, " + by}, {"u(R)", "R, " + by}, {"u", "by letter, " + by}, {"R u", "R, " + by + ", lone u"},
		{"± %R", "R, percent, " + by},
		{"baseline", "aside"}, {"Blank %R", "R, percent, aside"}, {"white R", "R, aside"}, {"dark", "aside"},
		{"reference", "aside"}, {"ref", "aside"}, {"background", "aside"}, {"zero", "aside"}, {"sd of the blank", by},
		{"no", "index"}, {"Index", "index"}, {"idx", "index"}, {"Point", "index"}, {"pixel", "index"}, {"row", "index"},
		{"n", "by letter, index"}, {"Nr.", "index"},
		// Near misses: names of samples, and words that stand beside others.
		{"SD-12", "code u"}, {"Std 3", "code u"}, {"U1", ""}, {"u1", "code u"}, {"sample u", ""}, {"point 3", ""},
		{"no. 7", ""}, {"index of G07", ""}, {"unconditioned", ""}, {"stderr", ""}, {"sided", ""},
		{"U %R", "R, percent, code u"},
		{"G07 u 8 deg", "at 8, uncertainty, lone u"},
		{"dark blank R", "R, aside"}, // a sample of the session, by its words an aside
	})
}

// What is made from a reflectance and is none.
func TestComputed(t *testing.T) {
	for _, text := range []string{
		"1-R", "1 - R (%)", "100-%R", "100 - R", "1/R", "R/R0", "R/T", "R-T", "T-R", "R+T", "R^2", "R²", "R'", "√R", "10*R",
		"R x10",
		"R × 100", "R*0.5", "%R/100", "F(R)", "f(%R)", "ln R", "log R", "lg(R)", "ln(R)", "sqrt(R)", "exp(R)", "dR", "ΔR",
		"∆R", "lnR", "logR",
		"R fit", "fitted %R", "R model", "R residual", "simulated R", "calculated R", "R target", "R diff", "difference R",
		"R min", "max R", "upper R", "R ratio", "normalised R", "R scaled", "R haze", "gloss R", "R gain", "R loss",
		"R (a.u.)", "R (arb. units)", "R (‰)", "R (ppm)", "R (dB)", "R offset", "squared R", "R times 2", "1-reflectance",
		"R derivative", "R slope", "noise R", "reciprocal R", "R inverse", "Kubelka-Munk R", "R variance",
	} {
		l := heading.Parse(text)
		assert.Contains(t, []study.Quantity{heading.Computed, heading.Absorbance}, l.Quantity, text)
		assert.True(t, heading.IsForeign(l.Quantity), text)
	}
	for _, text := range []string{ // a stroke that joins a name or an angle, and words that change nothing
		"R", "G07-R", "G07 - R", "R-8deg", "R-G07", "G07/R", "R (p)", "'R'", "%R 30 min", "min 5 %R", "lower edge %R",
		"upper glass %R",
		"x1 R", "%R_x8deg", "E %R", "%R exp", "%R normal incidence", "8 deg [R]", "R 1", "R-1",
	} {
		l := heading.Parse(text)
		assert.Equal(t, study.Reflectance, l.Quantity, text)
		assert.False(t, heading.IsForeign(l.Quantity), text)
	}
	for _, text := range []string{"dark R", "dark %R", "%R zero", "background reflectance"} {
		q := heading.Parse(text).Quantity
		assert.Equal(t, study.Quantity("a reading of the dark"), q, text)
		assert.True(t, heading.IsForeign(q), text)
	}
	assert.False(t, heading.IsForeign(""))
	assert.False(t, heading.IsForeign(study.Transmittance))
	assert.True(t, heading.IsForeign(heading.Unreferenced))
}

// Units below names say nothing else.
func TestOnlyUnits(t *testing.T) {
	for text, want := range map[string]bool{
		"nm": true, "[nm]": true, "%": true, "(%)": true, "[%R]": true, "(fraction)": true, "um": true, "[?m]": true,
		"1/cm": true,
		"0-1":  true, "%R": false, "R": false, "Wavelength (nm)": false, "G07 %": false, "8 deg [%]": false, "": false,
		"[8 deg %]": false, "W/m2/nm": false,
	} {
		assert.Equal(t, want, heading.Parse(text).OnlyUnit, text)
	}
}

// A heading means the same wherever and however often it is read, with spaces around it, and in
// American spelling. One that is longer than any says nothing.
func TestParseIsPure(t *testing.T) {
	words := []string{"R", "%R", "R_s", "8 deg", "60°", "nm", "Wavelength", "(", ")", "[%]", "s-pol", "polarised",
		"unpolarised", "sd", "u",
		"G07", "spot", "s", "1-", "/", "x10", "blank", "T", "A", "ref", "µm", "±", "front", "-", "deg", "°", "2", "57,5",
		"⊥", "?", "m",
		"\xff", "\x00", "fraction", "0-1", "Counts", "W/m2", "eV", "λ", "pol.", "TE", "no", ",", ";", "_"}
	random := rand.New(rand.NewPCG(9, 10))
	for range 20_000 {
		var parts []string
		for range 1 + random.IntN(7) {
			parts = append(parts, words[random.IntN(len(words))])
		}
		text := strings.Join(parts, []string{" ", "", "_"}[random.IntN(3)])
		l := heading.Parse(text)
		require.Equal(t, l, heading.Parse(text), "%q", text)
		padded := heading.Parse("  " + text + " ")
		padded.Text = text
		padded.OnlyUnit = l.OnlyUnit         // brackets count where they stand first and last
		if !strings.HasPrefix(l.Axis, `"`) { // which quotes the heading
			require.Equal(t, inShort(l), inShort(padded), "%q", text)
		}
		american := heading.Parse(strings.ReplaceAll(text, "polarised", "polarized"))
		if !strings.HasPrefix(l.Axis, `"`) && l.Beside == nil { // which holds the word
			require.Equal(t, inShort(l), inShort(american), "%q", text)
		}
	}
	long := "%R 8 deg " + strings.Repeat("x", heading.MostInHeading)
	assert.Empty(t, inShort(heading.Parse(long)))
}
