package heading

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"wane/study/intake/text"
)

// StatementsIn cuts a line that holds several keys with their values: Start: 400 nm,
// Stop: 1200 nm. A part without a key goes with the one before it.
func StatementsIn(text string) []string {
	for _, sep := range []string{";", ",", "\t"} {
		parts := strings.Split(text, sep)
		if len(parts) > 1 && !slices.ContainsFunc(parts, func(p string) bool { return !hasKey(p) }) {
			return parts
		}
	}
	return []string{text}
}

// hasKey reports whether a text has words before a colon or an equals sign.
func hasKey(text string) bool {
	i := strings.IndexAny(text, ":=")
	return i > 0 && KeyOf(text[:i]) != ""
}

// IsFormula reports whether a text makes something else of a reflectance: 1-R, 100-%R,
// 1/R, log(1/R).
func IsFormula(text string) bool { return formula.MatchString(strings.ToLower(text)) }

var formula = regexp.MustCompile(`\b(1|100)\s*%?\s*[-−–/]\s*%?(r|t|refl\w*|transm\w*)\b`)

// Key is what is before the sign in key: value, in lower case with its letters only.
type Key string

// KeyOf returns the letters of a text in lower case.
func KeyOf(text string) Key {
	return Key(strings.Map(func(c rune) rune {
		if !unicode.IsLetter(c) {
			return -1
		}
		return unicode.ToLower(c)
	}, text))
}

// IsAngle reports whether the key is that of the angle of incidence, and not of viewing, a
// rotation, a detector or a polariser.
func (k Key) IsAngle() bool {
	angle := string(k)
	for _, unit := range []string{"degrees", "deg"} {
		angle = strings.TrimSuffix(angle, unit)
	}
	return IsAny(angle, "angle", "aoi", "incidence", "angleofincidence", "incidenceangle", "incidentangle", "anglein",
		"angleaoi", "aoiangle", "incidenceaoi", "angleofincidenceaoi")
}

// IsPolarisation reports whether the key is that of a polarisation.
func (k Key) IsPolarisation() bool {
	return IsAny(k, "pol", "polarisation", "polarization", "polariser", "polarizer", "polarisationstate",
		"polarizationstate", "incidentpolarisation", "incidentpolarization",
		"polarisationsp", "polarizationsp", "lightpolarisation", "lightpolarization")
}

// IsFactor reports whether the key is that of a factor or a shift of the values.
func (k Key) IsFactor() bool {
	return IsAny(k, "ordinatescale", "yscale", "scalefactor", "yscalefactor", "ordinatefactor", "factor",
		"multipliedby", "multiplier", "yfactor", "valuefactor", "scaledby", "offsetapplied", "yoffset", "ordinateoffset")
}

// IsOtherAngle reports whether the key begins with a word of an angle other than that of
// incidence, or of a part of an instrument that has one of its own.
func (k Key) IsOtherAngle() bool {
	return StartsWithAny(k, "elevat", "detect", "gonio", "cone", "tilt", "stage", "accept", "apert", "diverg", "surf",
		"horizon", "azim", "rotat", "orient", "turn", "dreh", "neig",
		"wedge", "prism", "grating", "mono", "view", "observ", "scatter", "half", "step", "polari", "analy", "camera",
		"lamp", "sun",
		"latit", "longit", "inclin", "pitch", "slope", "roof") || k == "lat"
}

// AngleIn returns the one angle from 0 to below 90 degrees that a value holds, as a
// number, or "". What is behind a comma may be another angle, unless it is one digit
// with degrees behind it: 57,5 deg.
func AngleIn(value string) string {
	for _, mark := range []byte(".,") {
		v, n := text.ParseNumber([]byte(value), mark, 0)
		unit := strings.ToLower(strings.Trim(value[n:], " .()[]\""))
		comma := strings.IndexByte(value[:n], ',')
		switch {
		case n == 0 || !IsAny(unit, "", "deg", "degree", "degrees", "°", "º", "˚") || !(v >= 0 && v < 90):
		case comma < 0, unit != "" && comma == n-2:
			return strconv.FormatFloat(v, 'g', -1, 64)
		}
	}
	return ""
}

// Signs may stand between a key and its value.
const Signs = ":=,;\t"

// KeyAndValue splits key: value, key=value, key,value, key;value and
// key<TAB>value.
func KeyAndValue(text string) (key Key, value string, ok bool) {
	i := strings.IndexAny(text, Signs)
	if i < 0 {
		return "", "", false
	}
	key = KeyOf(text[:i])
	return key, strings.Trim(text[i+1:], " \t,;:=\""), key != ""
}
