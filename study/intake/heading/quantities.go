package heading

import (
	"wane/study"
)

// IsNoSpectrum reports whether a data type is none of a spectrum of reflectance or
// transmittance: INFRARED DERIVATIVE SPECTRUM.
func IsNoSpectrum(kind string) bool {
	for _, k := range tokenise(nil, kind) {
		if StartsWithAny(k.text, "derivative", "peak", "interferogram", "raman", "nmr", "mass", "fluorescence", "emission",
			"chromatogram") {
			return true
		}
	}
	return false
}

// IsOrdinate reports whether a unit of ordinates names reflectance or transmittance and nothing
// that could make another quantity of it.
func (l Label) IsOrdinate() bool {
	for _, k := range tokenise(nil, l.Text) {
		if !StartsWithAny(k.text, "reflect", "transmi", "percent") && !IsAny(k.text, "r", "t", "%", "pct", "fraction",
			"total", "specular",
			"relative", "in", "(", ")", "[", "]", "/", ",", "-", "0", "1") {
			return false
		}
	}
	return !IsForeign(l.Quantity) && l.Quantity != "" && !l.TwoUnits
}

// QuantityIn returns the quantity that a title or a data type names in a word, ""
// if it names none or two.
func QuantityIn(text string) study.Quantity {
	var found study.Quantity
	for _, k := range tokenise(nil, text) {
		if !StartsWithAny(k.text, "reflect", "transmi", "absor") {
			continue
		}
		q := quantityOfWord(k.text, false)
		if found != "" && q != found {
			return ""
		}
		found = q
	}
	return found
}
