package heading_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/intake/heading"
)

// A line of the header is a key, a sign and a value.
func TestKeyAndValue(t *testing.T) {
	for _, c := range []struct {
		text, key, value string
		ok               bool
	}{
		{"Angle: 8", "angle", "8", true}, {"Angle of incidence (deg) = 8", "angleofincidencedeg", "8", true},
		{"ANGLE,8", "angle", "8", true}, {"angle;8;", "angle", "8", true}, {"angle\t8", "angle", "8", true},
		{`"Angle","8"`, "angle", "8", true}, {"Start: 10:30", "start", "10:30", true}, {"Angle 2: 60", "angle", "60", true},
		{"Größe: R", "größe", "R", true}, {"# Unit: %", "unit", "%", true}, {"Unit:", "unit", "", true},
		{"Measured by nobody", "", "", false}, {"", "", "", false}, {": 8", "", "8", false}, {"12: 8", "", "8", false},
	} {
		key, value, ok := heading.KeyAndValue(c.text)
		assert.Equal(t, heading.Key(c.key), key, c.text)
		assert.Equal(t, c.value, value, c.text)
		assert.Equal(t, c.ok, ok, c.text)
	}
	assert.Equal(t, heading.Key("wellenlänge"), heading.KeyOf("Wellenlänge [42]"))
	assert.Empty(t, heading.KeyOf("8 / 60"))
}

// Several keys with their values may stand in one line; a part without a key goes with the one before.
func TestStatementsIn(t *testing.T) {
	for text, want := range map[string][]string{
		"Start: 400 nm, Stop: 1200 nm": {"Start: 400 nm", " Stop: 1200 nm"}, "a=1;b=2": {"a=1", "b=2"},
		"Mode: R\tUnit: %":       {"Mode: R", "Unit: %"},
		"Mode: R, s-pol":         {"Mode: R, s-pol"},
		"Range: 350,0 to 900,0":  {"Range: 350,0 to 900,0"},
		"made up":                {"made up"},
		"":                       {""},
		"Start: 400, 1:2":        {"Start: 400, 1:2"}, // a key has letters
		"Angle: 57,5; Mode: R":   {"Angle: 57,5", " Mode: R"},
		"Name: G07, front, R: 1": {"Name: G07, front, R: 1"},
	} {
		assert.Equal(t, want, heading.StatementsIn(text), text)
	}
}

// Keys of the angle of incidence, of polarisation, of factors and of other angles are four kinds, and
// no key is of two. Common practice, no source.
func TestKinds(t *testing.T) {
	kinds := map[string][]string{
		"angle": {"angle", "aoi", "angledeg", "angledegrees", "angleofincidence", "incidenceangle", "incidentangle",
			"incidence"},
		"polarisation": {"pol", "polarisation", "polarization", "polariser", "polarizer", "polarisationstate",
			"incidentpolarization"},
		"factor": {"factor", "scalefactor", "yscale", "multipliedby", "yoffset", "ordinatescale"},
		"other": {"viewangle", "viewingangle", "detectorangle", "rotation", "rotationangle", "azimuth", "tilt", "tiltangle",
			"elevation", "stageangle", "acceptanceangle", "latitude", "lat", "turntable", "gratingangle", "surfaceangle"},
		"": {"anglein2", "angles", "polarity", "police", "sample", "", "xfactor", "rate", "lattice", "angl", "scale",
			"factors"},
	}
	for kind, keys := range kinds {
		for _, k := range keys {
			key := heading.Key(k)
			assert.Equal(t, kind == "angle", key.IsAngle(), k)
			assert.Equal(t, kind == "polarisation", key.IsPolarisation(), k)
			assert.Equal(t, kind == "factor", key.IsFactor(), k)
			assert.Equal(t, kind == "other" || k == "polariser" || k == "polarizer" || k == "polarisation" ||
				k == "polarization" || k == "polarisationstate" || k == "polarity", key.IsOtherAngle(), k)
		}
	}
}

// The one angle of incidence that a value holds, from 0 to below 90 degrees.
func TestAngleIn(t *testing.T) {
	for value, want := range map[string]string{
		"8": "8", "8 deg": "8", "57.5°": "57.5", "57.50 degrees": "57.5", " [8]": "", "0": "0", "89.9": "89.9",
		"57,5 deg": "57.5", "57,5°": "57.5", "8 [deg]": "8", `8"`: "8", "8º": "8", "8.": "8",
		"57,5": "", "(8 deg)": "", "8,60 deg": "", "8, 60": "", "90": "", "-8": "", "8 rad": "", "8 and 60": "", "off": "",
		"": "", "8 deg C": "",
		"8-60": "", "1E1": "10", "8 / 60 deg": "", "NaN": "",
	} {
		assert.Equal(t, want, heading.AngleIn(value), "%q", value)
	}
}

// A text that holds nothing but words of polarisation; two of them leave it open.
func TestPolarisationIn(t *testing.T) {
	for _, c := range []struct {
		text, want string
		only       bool
	}{
		{"s", "s", true}, {"P", "p", true}, {"TE", "s", true}, {"tm", "p", true}, {"p-pol.", "p", true},
		{"s polarised", "s", true},
		{"unpolarised", "u", true}, {"un-polarized", "u", true}, {"not polarised", "u", true}, {"u", "u", true},
		{"parallel", "p", true}, {"perp.", "s", true}, {"⊥", "s", true}, {"∥", "p", true}, {"(s)", "s", true},
		{"s, TE", "s", true},
		{"polarised", "", true}, {"s/p", "", true}, {"p-s", "", true}, {"s, p", "", true}, {"⊥ p", "", true},
		{"45 deg", "", false}, {"off", "", false}, {"s side", "", false}, {"sp", "", false}, {"R_s", "", false},
		{"", "", false},
		{"--", "", false}, {"0", "", false},
	} {
		got, only := heading.PolarisationIn(c.text)
		assert.Equal(t, c.want, got, c.text)
		assert.Equal(t, c.only, only, c.text)
	}
}

// Lines that name another quantity than reflectance, or say that nothing was compared to a reference,
// and whether they say nothing else. The words are common practice, no source.
func TestOtherQuantity(t *testing.T) {
	const none = heading.Unreferenced
	for _, c := range []struct {
		text string
		want study.Quantity
		sure bool
	}{
		{"Mode: %T", "T", true}, {"Technique,Transmission", "T", true}, {"Unit: A", heading.Absorbance, true},
		{"%T", "T", true},
		{"[%T]", "T", true}, {"Y: T", "T", true}, {"%Trans", "T", true}, {"Mode: Trans", "T", true},
		{"Display mode; Absorbance", heading.Absorbance, true}, {"Absorbance (AU)", heading.Absorbance, true},
		{"Optical density", heading.Absorbance, true}, {"Optische Dichte", heading.Absorbance, true},
		{"log(1/R)", heading.Computed, true}, {"-log R", heading.Computed, true}, {"1-R", heading.Computed, true},
		{"K/S", heading.Computed, true}, {"F(R)", heading.Computed, true}, {"Kubelka-Munk", heading.Computed, true},
		{"First derivative", heading.Computed, true}, {"2nd derivative", heading.Computed, true},
		{"Mode: EQE", heading.Computed, true}, {"Haze (%)", heading.Computed, true}, {"Unit: a.u.", heading.Computed, true},
		{"counts", heading.Counts, true}, {"Intensity", heading.Counts, true}, {"counts/s", heading.Counts, true},
		{"Unit: cps", heading.Counts, true}, {"ADC", heading.Counts, true}, {"scope mode", heading.Counts, true},
		{"W/m2/nm", heading.Irradiance, true}, {"µmol m-2 s-1", heading.Irradiance, true}, {"PPFD", heading.Irradiance, true},
		{"RAD", heading.Irradiance, true}, {"Irradiance", heading.Irradiance, true}, {"photons/s", heading.Irradiance, true},
		{"raw data", heading.Raw, true}, {"Single beam", heading.Raw, true}, {"Unit: mV", heading.Raw, true},
		{"Photometric mode: Energy", heading.Raw, true}, {"Emission spectrum", heading.Raw, true},
		// No reference.
		{"Reference: none", none, true}, {"White reference not taken", none, true},
		{"Reference spectrum loaded: No", none, true},
		{"not compared to a white reference", none, true}, {"No reference", none, true}, {"Kein Weißstandard", none, true},
		{"Pas de blanc", none, true}, {"Reference missing", none, true}, {"has reference: 0", none, true},
		// Prose, and keys of any kind, say it beside other things.
		{"Measured in transmission with lamp 2", "T", false}, {"then converted to absorbance", heading.Absorbance, false},
		{"Remark: transmittance of the same coupon", "T", false}, {"The irradiance was 3 W/m2", heading.Irradiance, false},
		{"Data: 1-R of the spot", heading.Computed, false}, {"Detail: A", heading.Absorbance, false},
		{"the counts of the detector", heading.Counts, false}, {"the raw signal of lamp two", heading.Raw, false},
		{"the optical density of the filter", heading.Absorbance, false}, {"a scan in %T at two", "T", false},
		{"RAD of the lamp", heading.Irradiance, false}, {"its Kubelka-Munk curve", heading.Computed, false},
		{"the lamp gives 3 W/m2 here", heading.Irradiance, false}, {"Signal: V", heading.Raw, true},
		{"Typ: Ext", heading.Absorbance, true}, {"PAR", heading.Irradiance, true},
		{"Quantum efficiency", heading.Computed, true},
		// Near misses.
		{"Mode: %R", "", false}, {"Reflectance", "", false}, {"Plate: A", "", false}, {"Sample: T", "", false},
		{"Revision: A", "", false},
		{"Filter: 50 %T", "", false}, {"Lamp: 3 W", "", false}, {"30000 counts", "", false}, {"Derivative: off", "", false},
		{"no reference number", "", false}, {"Reference number: none", "", false}, {"Reference: M1", "", false},
		{"pas de blanchiment", "", false}, {"Slit: 2 nm", "", false}, {"", "", false}, {"Angle (radians)", "", false},
		{"Operator: A", "", false}, {"White reference taken: yes", "", false}, {"Reference: 0", "", false},
	} {
		q, sure := heading.OtherQuantity(c.text)
		assert.Equal(t, c.want, q, c.text)
		assert.Equal(t, c.sure, sure, c.text)
	}
}

// A value may be a formula of a reflectance.
func TestIsFormula(t *testing.T) {
	for text, want := range map[string]bool{
		"1-R": true, "100-%R": true, "1/R": true, "log(1/R)": true, "1 - Reflectance": true, "100 % - R": true, "1–T": true,
		"R": false, "R-1": false, "10-R": false, "G1-R": false, "1-rate": false, "1R": false, "": false,
	} {
		assert.Equal(t, want, heading.IsFormula(text), text)
	}
}

// Lines that say that the values are relative, and to what.
func TestSaysRelative(t *testing.T) {
	for _, c := range []struct {
		text, to string
		relative bool
	}{
		{"Relative reflectance", "", true}, {"Values relative to mirror M1.", "mirror M1", true},
		{"Relative to: M1", "M1", true},
		{"Normalised to = white tile", "white tile", true}, {"Reference: white tile", "white tile", true},
		{"Background: aluminium mirror", "aluminium mirror", true}, {"Baseline: PTFE", "PTFE", true},
		{"Baseline 100 %", "", true}, {"Reference set to 100%", "", true}, {"Reference correction: off", "", true},
		{"Mirror: not corrected", "", true}, {"Calibration: none", "", true},
		{"Standard: barium sulfate", "barium sulfate", true},
		// To a calibrated reference values are absolute, and other things are relative too.
		{"Reference: calibrated mirror M1", "", false}, {"Relative to a certified mirror", "", false},
		{"Absolute reflectance", "", false}, {"Relative humidity: 45 %", "", false}, {"Relative uncertainty 2 %", "", false},
		{"not relative", "", false}, {"Reference: M1", "", false}, {"Sample: G07", "", false}, {"", "", false},
		{"Reference correction: on", "", false}, {"Relative standard deviation", "", false}, {"White light: on", "", false},
		{"Lamp at 100 %", "", false},
	} {
		to, relative := heading.SaysRelative(c.text)
		assert.Equal(t, c.to, to, c.text)
		assert.Equal(t, c.relative, relative, c.text)
	}
	for text, want := range map[string]bool{
		"Reference: M1": true, "Ref = tile 4": true, "Reference file;m1.csv": true, "Standard: S2": true,
		"Reference serial, 12": true,
		"Reference:":           false, "Reference": false, "Reference: calibrated M1": false, "Sample: M1": false,
		"Preference: M1": false,
	} {
		assert.Equal(t, want, heading.NamesReference(text), text)
	}
}

// A heading says so as well.
func TestHeadingsSayRelative(t *testing.T) {
	for _, c := range []struct {
		text, to string
		relative bool
	}{
		{"%R rel.", "", true}, {"Relative reflectance", "", true}, {"R norm", "", true}, {"normalised %R", "", true},
		{"R ratio", "", true}, {"%R vs mirror M1", "mirror M1", true}, {"R against tile", "tile", true},
		{"R versus white", "white", true},
		{"%R", "", false}, {"rel. hum. %", "", false}, {"related R", "", false}, {"absolute R", "", false}, {"vs", "", false},
	} {
		to, relative := heading.Parse(c.text).IsRelative()
		assert.Equal(t, c.to, to, c.text)
		assert.Equal(t, c.relative, relative, c.text)
	}
}
