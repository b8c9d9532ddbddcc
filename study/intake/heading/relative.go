package heading

import "strings"

// SaysRelative reports whether a line of the header says that values are
// relative, and to what: in a word, by a baseline or a reference that is taken for
// 100 %, by a mirror or a white reference, or by a correction that was not made. To a
// calibrated reference they are absolute. A reference without more than a name says
// nothing: [NamesReference].
func SaysRelative(text string) (to string, yes bool) {
	low := strings.ToLower(text)
	if !mayBeOfReference(low) {
		return "", false
	}
	key, value, _ := KeyAndValue(text)
	switch {
	case isUncorrected(low, key, value):
		return "", true
	case isCalibrated(low):
		return "", false
	case IsAny(key, "relativeto", "normalisedto", "normalizedto", "ratioedto", "referencedto"):
		return value, true
	}
	if i := strings.Index(low, "relative to "); i >= 0 && len(low) == len(text) {
		return strings.Trim(text[i+len("relative to "):], " .,;\t\""), true
	}
	if saysWordRelative(low) {
		return "", true
	}
	reference := IsAny(key, "ref", "standard") || StartsWithAny(key, "background", "reference", "whitereference",
		"whitestandard") || strings.Contains(string(key), "baseline")
	if reference && namesKind(low) {
		return value, true
	}
	full := strings.Contains(low, "100%") || strings.Contains(low, "100 %")
	return "", full && (strings.Contains(low, "baseline") || strings.Contains(low, "reference") ||
		strings.Contains(low, "background"))
}

// mayBeOfReference reports whether a line has a word that the rest looks at: few have.
func mayBeOfReference(low string) bool {
	for _, stem := range [...]string{"relativ", "normali", "ratio", "ref", "baseline", "background", "standard", "mirror",
		"white", "calibration"} {
		if strings.Contains(low, stem) {
			return true
		}
	}
	return false
}

// isCalibrated reports whether a line says that the reflectance of a reference is
// accounted for or known.
func isCalibrated(low string) bool {
	for _, word := range []string{"calibrat", "corrected", "absolute", "certif", "traceable"} {
		if strings.Contains(low, word) {
			return true
		}
	}
	return false
}

// isUncorrected reports whether a line says that the reflectance of a reference is not
// accounted for: Reference: white tile, not corrected; Reference correction: off.
func isUncorrected(low string, key Key, value string) bool {
	if key == "calibration" && isNo(value) {
		return true
	}
	reference := StartsWithAny(key, "ref", "mirror", "white", "standard", "absolute") ||
		strings.Contains(low, "reference") || strings.Contains(low, "mirror")
	if !reference {
		return false
	}
	for _, word := range []string{"not corrected", "uncorrected", "not calibrated", "uncalibrated", "not absolute",
		"not applied", "not accounted"} {
		if strings.Contains(low, word) {
			return true
		}
	}
	asks := string(key)
	does := strings.Contains(asks, "correct") || strings.Contains(asks, "applied") || strings.Contains(asks, "calibrat")
	return does && isNo(value)
}

// isNo reports whether a value denies.
func isNo(value string) bool {
	return IsAny(strings.ToLower(strings.TrimSpace(value)), "no", "off", "none", "false", "0", "n", "disabled", "not done")
}

// saysWordRelative reports whether a line calls the values relative: not the humidity,
// nor an uncertainty.
func saysWordRelative(low string) bool {
	relative := false
	if !strings.Contains(low, "relativ") {
		return false
	}
	for _, k := range tokenise(nil, low) {
		if StartsWithAny(k.text, "humid", "uncert", "error", "deviat", "toler", "precis", "accura", "stand", "rh", "time",
			"position") || k.text == "not" {
			return false
		}
		relative = relative || IsAny(k.text, "relative", "relativ")
	}
	return relative
}

// namesKind reports whether a line names a mirror or a white reference, whose
// reflectance is below 1. "halon" and "baso" are what laboratories call pressed
// PTFE powder and barium sulfate: headers say so, and nothing else is meant here.
func namesKind(low string) bool {
	for _, k := range tokenise(nil, low) {
		if IsAny(k.text, "mirror", "white", "tile", "plaque", "ptfe", "baso", "halon", "aluminium", "aluminum", "silver",
			"gold", "barium") {
			return true
		}
	}
	return false
}

// NamesReference reports whether a line names a reference and says nothing of its
// reflectance: Reference: M1.
func NamesReference(text string) bool {
	key, value, ok := KeyAndValue(text)
	if !ok || value == "" || isCalibrated(strings.ToLower(text)) {
		return false
	}
	return IsAny(key, "reference", "ref", "referencename", "referencesample", "referenceserial", "referencestandard",
		"standard", "referencespectrum", "referencefile")
}

// IsRelative reports whether a heading says that its values are relative, and to what:
// %R rel., %R vs mirror.
func (l Label) IsRelative() (to string, yes bool) {
	if l.relative {
		to, _ = SaysRelative(l.Text)
		return to, true
	}
	t := tokenise(nil, l.Text)
	for i, k := range t {
		if next := tokenBehind(t, i); k.text == "rel" && next < len(t) && StartsWithAny(t[next].text, "hum") {
			continue
		}
		if IsAny(k.text, "rel", "norm", "ratio") || StartsWithAny(k.text, "normalis", "normaliz") {
			return "", true
		}
	}
	for _, word := range []string{" vs ", " vs. ", " versus ", " against "} {
		if _, to, ok := strings.Cut(l.Text, word); ok {
			return strings.TrimSpace(to), true
		}
	}
	return "", false
}
