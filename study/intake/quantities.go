package intake

import (
	"wane/study"
)

// isNoSpectrum reports whether a data type is none of a spectrum of reflectance or
// transmittance: INFRARED DERIVATIVE SPECTRUM.
func isNoSpectrum(kind string) bool {
	for _, k := range tokenise(nil, kind) {
		if startsWithAny(k.text, "derivative", "peak", "interferogram", "raman", "nmr", "mass", "fluorescence", "emission", "chromatogram") {
			return true
		}
	}
	return false
}

// isOrdinate reports whether YUNITS names reflectance or transmittance and nothing
// that could make another quantity of it.
func isOrdinate(l label) bool {
	for _, k := range tokenise(nil, l.text) {
		if !startsWithAny(k.text, "reflect", "transmi", "percent") && !isAny(k.text, "r", "t", "%", "pct", "fraction", "total", "specular",
			"relative", "in", "(", ")", "[", "]", "/", ",", "-", "0", "1") {
			return false
		}
	}
	return !isForeign(l.quantity) && l.quantity != "" && !l.twoUnits
}

// quantityIn returns the quantity that a title or a data type names in a word, ""
// if it names none or two.
func quantityIn(text string) study.Quantity {
	var found study.Quantity
	for _, k := range tokenise(nil, text) {
		if !startsWithAny(k.text, "reflect", "transmi", "absor") {
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
