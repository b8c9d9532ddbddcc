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
	return i > 0 && LettersOf(text[:i]) != ""
}

// IsFormula reports whether a text makes something else of a reflectance: 1-R, 100-%R,
// 1/R, log(1/R).
func IsFormula(text string) bool { return formula.MatchString(strings.ToLower(text)) }

var formula = regexp.MustCompile(`\b(1|100)\s*%?\s*[-−–/]\s*%?(r|t|refl\w*|transm\w*)\b`)

// IsAngleKey reports whether a key, in letters alone, is that of the angle of incidence,
// and not of viewing, a rotation, a detector or a polariser.
func IsAngleKey(key string) bool {
	for _, unit := range []string{"degrees", "deg"} {
		key = strings.TrimSuffix(key, unit)
	}
	return IsAny(key, "angle", "aoi", "incidence", "angleofincidence", "incidenceangle", "incidentangle", "anglein",
		"angleaoi", "aoiangle", "incidenceaoi", "angleofincidenceaoi")
}

// AngleIn returns the one angle from 0 to below 90 degrees that a value holds, as a
// number, or "". What stands behind a comma may be another angle, unless it is one digit
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

// IsFactorKey reports whether a key is that of a factor or a shift of the values.
func IsFactorKey(key string) bool {
	return IsAny(key, "ordinatescale", "yscale", "scalefactor", "yscalefactor", "ordinatefactor", "factor",
		"multipliedby", "multiplier", "yfactor", "valuefactor", "scaledby", "offsetapplied", "yoffset", "ordinateoffset")
}

// Signs may stand between a key and its value.
const Signs = ":=,;\t"

// KeyAndValue splits key: value, key=value, key,value, key;value and
// key<TAB>value. The key is returned in lower case with its letters only.
func KeyAndValue(text string) (key, value string, ok bool) {
	i := strings.IndexAny(text, Signs)
	if i < 0 {
		return "", "", false
	}
	key = LettersOf(text[:i])
	return key, strings.Trim(text[i+1:], " \t,;:=\""), key != ""
}

// LettersOf returns the letters of a text in lower case.
func LettersOf(text string) string {
	return strings.Map(func(c rune) rune {
		if !unicode.IsLetter(c) {
			return -1
		}
		return unicode.ToLower(c)
	}, text)
}
