package heading

import (
	"slices"
	"strings"

	"wane/study/intake/text"
)

// IsBareNumber reports whether a text is a number, with a decimal point or comma or none.
func IsBareNumber(s string) bool {
	for _, mark := range []byte(".,") {
		if _, n := text.ParseNumber([]byte(s), mark, 0); n > 0 && n == len(s) {
			return true
		}
	}
	return false
}

// IsUnitWord reports whether a text is a unit of values that are no reflectance, or a sign
// for none, as is written beside units in a row of them: [Counts], a.u., -. Short ones are those
// of signals: cts (counts), adc and dn (steps of a converter, digital numbers), au and a.u.
// (arbitrary units), w.e. (willkürliche Einheiten, the same in German).
func IsUnitWord(text string) bool {
	text = strings.ToLower(bareUnit(text))
	return IsAny(text, "", "-", "–", "—", "1", "#", "counts", "count", "cts", "adc", "dn", "a.u.", "au", "a. u.",
		"arb. units", "arb. u.", "w.e.", "abs", "a", "v", "mv", "s", "ms") ||
		isRadiometric(tokenise(nil, text))
}

// ShortUnit returns a text without brackets if it may be a unit of absorbance or of volts (A,
// Abs, V, mV), and "" otherwise.
func ShortUnit(text string) string {
	if unit := bareUnit(text); IsAny(unit, "A", "Abs", "V", "mV") {
		return unit
	}
	return ""
}

func bareUnit(text string) string { return strings.Trim(text, "[](){}<> ") }

// IsCode reports whether a text is made of only single letters, numbers and signs, as
// names of samples are: A, U1, R 8.
func IsCode(text string) bool {
	for _, k := range tokenise(nil, text) {
		if k.kind == letters && (len(k.text) > 1 || k.text == "°") || k.text == "%" || k.text == "°" {
			return false
		}
	}
	return text != ""
}

// OnlyAngle returns the angle of a text that holds a number and deg at most, or "".
func OnlyAngle(text string) string {
	t := tokenise(nil, text)
	if len(t) == 2 && IsAny(t[1].text, "deg", "degree", "degrees", "°", "º", "˚") {
		t = t[:1]
	}
	if len(t) != 1 || t[0].kind != digits {
		return ""
	}
	return t[0].text
}

// BesideAngle reports whether words beside a number make it an angle: 60 deg.
func BesideAngle(words string) bool {
	return slices.ContainsFunc(tokenise(nil, words), func(k token) bool {
		return IsAny(k.text, "deg", "degree", "degrees", "grad", "°", "º", "˚")
	})
}

// MayStandBesideWavelength reports whether the words beside a number leave it a wavelength:
// of quantity, unit or wavelength, or those that programs put before a number that heads a
// column, as in X400. Others, as in G400, are of a sample.
func MayStandBesideWavelength(words string) bool {
	for _, k := range tokenise(nil, words) {
		if k.kind != letters || IsAny(k.text, "x", "v", "w", "l", "wl", "wvl", "b", "band", "channel", "ch", "at", "in",
			"refl", "value") {
			continue
		}
		if l := Parse(k.text); !l.IsX() && l.Quantity == "" && l.Unit == "" {
			return false
		}
	}
	return true
}
