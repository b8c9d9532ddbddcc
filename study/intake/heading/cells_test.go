package heading_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/intake/heading"
)

// requireEach holds a function of a text to what it says of each of them.
func requireEach[T any](t *testing.T, of func(string) T, want map[string]T) {
	t.Helper()
	for text, v := range want {
		assert.Equal(t, v, of(text), "%q", text)
	}
}

// Cells of rows above the headings: bare numbers, units, codes and angles.
func TestCellsAboveHeadings(t *testing.T) {
	requireEach(t, heading.IsBareNumber, map[string]bool{
		"8": true, "57.5": true, "57,5": true, "-1": true, "1e3": true, ".5": true,
		"8 deg": false, "": false, "G07": false, "1.2.3": false, "8 ": false, "--": false, ",5": false,
	})
	requireEach(t, heading.IsUnitWord, map[string]bool{
		"": true, "-": true, "[Counts]": true, "cts": true, "a.u.": true, "(arb. units)": true, "A": true, "mV": true,
		"W/m2": true,
		"1":    true, "dn": true, "w.e.": true, "µW/cm²/nm": true, "s": true,
		"nm": false, "%": false, "G07": false, "R": false, "2": false, "counts of G07": false, "B": false,
	})
	requireEach(t, heading.ShortUnit, map[string]string{
		"A": "A", "[A]": "A", "(mV)": "mV", " V ": "V", "Abs": "Abs", "{V}": "V",
		"a": "", "ABS": "", "mA": "", "": "", "%": "", "AB": "", "A1": "",
	})
	requireEach(t, heading.IsCode, map[string]bool{
		"A": true, "U1": true, "R 8": true, "7": true, "A-3/2": true, "-": true,
		"": false, "G07 front": false, "Rs": true, "ab": false, "%": false, "8°": false, "8 deg": false, "A %": false,
	})
	requireEach(t, heading.OnlyAngle, map[string]string{
		"8": "8", "8 deg": "8", "57.5°": "57.5", "57,5 degrees": "57,5", "8º": "8",
		"R 8": "", "8 deg R": "", "-8": "", "8 C": "", "": "", "deg": "", "8 60": "",
	})
	requireEach(t, heading.Bracketed, map[string]bool{
		"[%R]": true, "(nm)": true, "[]": false, "[%R)": false, "R [%]": false, "": false, "[": false, "()": false,
	})
}

// Words beside a number that heads a column: those of angles, those of wavelengths, and others.
func TestWordsBesideANumber(t *testing.T) {
	requireEach(t, heading.BesideAngle, map[string]bool{
		"deg": true, "degrees": true, "grad": true, "°": true, " deg R": true, "˚": true,
		"nm": false, "": false, "degraded": false, "G": false, "gradient": false,
	})
	requireEach(t, heading.MayStandBesideWavelength, map[string]bool{
		"nm": true, "": true, "X": true, "wl": true, "wavelength nm": true, "R": true, "%": true, "channel": true,
		"at nm": true,
		"value": true, "b": true,
		"G": false, "sample": false, "pull": false, "temp": false, "X G": false,
	})
}

// The data type and the ordinate of a spectrum in other formats.
func TestDataTypes(t *testing.T) {
	requireEach(t, heading.IsNoSpectrum, map[string]bool{
		"INFRARED DERIVATIVE SPECTRUM": true, "INFRARED PEAK TABLE": true, "INFRARED INTERFEROGRAM": true,
		"RAMAN SPECTRUM": true,
		"NMR FID":        true, "FLUORESCENCE SPECTRUM": true, "MASS SPECTRUM": true, "CHROMATOGRAM": true, "EMISSION": true,
		"UV/VIS SPECTRUM": false, "INFRARED SPECTRUM": false, "REFLECTANCE": false, "": false, "SPEAKER": false,
	})
	requireEach(t, heading.QuantityIn, map[string]study.Quantity{
		"REFLECTANCE": "R", "G07 reflectance, front": "R", "Transmission of G07": "T", "ABSORBANCE": heading.Absorbance,
		"reflectance and reflectivity":  "R",
		"reflectance and transmittance": "", "G07": "", "": "", "%R": "", "R": "",
	})
	requireEach(t, func(s string) bool { return heading.Parse(s).IsOrdinate() }, map[string]bool{
		"REFLECTANCE": true, "TRANSMITTANCE": true, "PERCENT REFLECTANCE": true, "%R": true, "R (%)": true,
		"REFLECTANCE (0-1)": true,
		"TOTAL REFLECTANCE": true, "RELATIVE REFLECTANCE": true, "Specular reflectance, fraction": true,
		"ABSORBANCE": false, "KUBELKA-MUNK": false, "LOG(1/R)": false, "ARBITRARY UNITS": false, "COUNTS": false, "": false,
		"REFLECTANCE OF G07": false, "1-R": false, "PERCENT": false, "REFLECTANCE (%, fraction)": false,
	})
}

// Headings that name samples or other things than spectra.
func TestNamesAndOtherThings(t *testing.T) {
	named := func(text string) bool { return heading.Parse(text).NamesOther() }
	requireEach(t, named, map[string]bool{
		"Temp (C)": true, "Temperature": true, "Time": true, "Humidity": true, "Refractive index": true, "Pressure": true,
		"time 100 h": false, "Temp 25": false, "%R at temp": false, "G07": false, "": false, "template": false,
	})
	requireEach(t, func(s string) bool { return heading.Parse(s).IsOtherCode() }, map[string]bool{
		"S1 [%]": true, "T1": true, "A07": true, "s1": true,
		"R1 [%]": false, "R8": false, "S": false, "SA1": false, "S 1": false, "nm1": false, "": false, "%R S1": false,
	})
	requireEach(t, func(s string) rune { return heading.Parse(s).LoneLetter() }, map[string]rune{
		"A": 'A', "B %R": 'B', "u (%)": 'u', "[A]": 'A', "λ": 'λ', "%R": 0, "R": 'R',
		"A B": 0, "AB": 0, "A1": 0, "": 0, "%": 0, "A front": 0,
	})
}

// What a label states of a curve, for rows that are joined: quantity, angle, polarisation.
func TestStates(t *testing.T) {
	assert.Zero(t, heading.Parse("G07").States())
	assert.Equal(t, heading.StatesAngle, heading.Parse("8 deg").States())
	assert.Equal(t, heading.StatesPolarisation, heading.Parse("s-pol").States())
	assert.Equal(t, heading.StatesAngle|heading.StatesPolarisation, heading.Parse("8 deg s-pol").States())
	all := heading.Parse("8 deg s-pol %R").States()
	assert.Equal(t, heading.StatesAngle|heading.StatesPolarisation, all&(heading.StatesAngle|heading.StatesPolarisation))
	assert.Equal(t, heading.Parse("%R").States(), all&^(heading.StatesAngle|heading.StatesPolarisation))
}

// A joined label keeps what a row of its own said of the column.
func TestKeepOfRows(t *testing.T) {
	own := heading.Parse("%R")
	own.ByRow = heading.StatesAngle | heading.StatesPolarisation
	own.Angles, own.Polarisation = []string{"60"}, "s"
	joined := heading.Parse("G07 %R")
	joined.Keep(own)
	assert.Equal(t, "R, percent, at 60, s-polarised", inShort(joined))
	assert.Equal(t, own.ByRow, joined.ByRow)
	joined = heading.Parse("G07 p-pol %R")
	joined.Keep(own)
	assert.Equal(t, "R, percent, at 60, two polarisations", inShort(joined), "they contradict one another")
	joined = heading.Parse("G07 %R 8 deg")
	joined.Keep(heading.Parse("60 deg s-pol"))
	assert.Equal(t, "R, percent, at 8", inShort(joined), "what no row of its own says is not kept")
}

// Two polarisations leave it open, and of two quantities the one further from a reflectance counts.
func TestAddsUp(t *testing.T) {
	var l heading.Label
	l.AddPolarisation("")
	assert.Empty(t, inShort(l))
	l.AddPolarisation("s")
	l.AddPolarisation("s")
	assert.Equal(t, "s-polarised", inShort(l))
	l.AddPolarisation("p")
	l.AddPolarisation("p")
	assert.Equal(t, "two polarisations", inShort(l))
	order := []study.Quantity{study.Reflectance, study.Transmittance, heading.Raw, heading.Absorbance, heading.Irradiance,
		heading.Counts, heading.Computed}
	for i, near := range order {
		for _, far := range order[i:] {
			for _, order := range [][2]study.Quantity{{near, far}, {far, near}} {
				var l heading.Label
				l.SetQuantity(order[0])
				l.SetQuantity(order[1])
				assert.Equal(t, far, l.Quantity, "%s, %s", order[0], order[1])
			}
		}
	}
}

// What is said of wavelengths does not count for a column that is known to hold values.
func TestOfValues(t *testing.T) {
	l := heading.Parse("nm-7 %R 8 deg")
	assert.True(t, l.IsX())
	assert.Equal(t, "R, percent, at 8", inShort(l.OfValues()))
	assert.False(t, l.OfValues().IsX())
	lost := heading.Parse("Wavelength [?m]")
	assert.True(t, lost.IsX())
	assert.Equal(t, "Wavelength [?m]", lost.LostText())
	assert.Empty(t, lost.OfValues().LostText())
	assert.Empty(t, heading.Parse("Wavelength [um]").LostText())
	for _, text := range []string{"%R", "", "8 deg", "G07", "sd"} {
		assert.False(t, heading.Parse(text).IsX(), text)
	}
}
