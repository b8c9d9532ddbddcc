package heading

// findAngles takes NUMBER deg, NUMBER degrees and NUMBER° out of the tokens, and
// returns where the numbers are. If one is not sure to be meant by itself, no angle of
// the heading is one of incidence.
func (l *Label) findAngles(t []token) (at []int) {
	for i := 1; i < len(t); i++ {
		isWord := IsAny(t[i].text, "deg", "degree", "degrees")
		isSign := IsAny(t[i].text, "°", "º", "˚")
		if !isWord && !isSign || t[i-1].kind != digits || isTemperature(t, i+1) {
			continue
		}
		if isNameNumber(t, i-1) && !isIndex(t, i-2) {
			continue // the number belongs to a name
		}
		if isSecondNumber(t, i-1) || isMinutes(t, i+1) || isOfPolariser(t, i-1, i) {
			l.Viewing = true
			continue
		}
		angle := t[i-1].text
		if isMinus(t, i-2) {
			angle = "-" + angle
			t[i-2].used = true
		}
		t[i-1].used, t[i].used = true, true
		l.Angles = append(l.Angles, angle)
		at = append(at, i-1)
	}
	return at
}

// isSecondNumber reports whether a number hangs on another one, so that none of the two
// is sure to be meant by itself: 57_5, 8-30, 1/2, 4 5, 5..8. That of sample 7 is a name.
func isSecondNumber(t []token, i int) bool {
	j, dashed := i-1, false
	for j >= 0 && IsAny(t[j].text, "-", "−", "–", "/", ".", "·", ":", ",", "+", "±", "\"", "'", "’") {
		j, dashed = j-1, true
	}
	switch {
	case i > 0 && IsAny(t[i-1].text, "<", ">", "≤", "≥"):
		return true
	case j < 0 || t[j].kind != digits || t[j].used || isNameNumber(t, j), isNumbered(t, j):
		return false
	case dashed:
		return true
	}
	return !t[i].glued || t[i].low
}

// isMinutes reports whether minutes of arc follow an angle: 57°30'.
func isMinutes(t []token, i int) bool {
	return i < len(t) && t[i].kind == digits && (t[i].glued || i+1 < len(t) && IsAny(t[i+1].text, "'", "’", "′", "min"))
}

// isOfPolariser reports whether the angle from token i to token j is that of a
// polariser: a word of polarisation is beside it and has no s or p of its own.
func isOfPolariser(t []token, i, j int) bool {
	if k := tokenBehind(t, j); k < len(t) && ofPolarisation(t[k].text) && !hasLetter(t, k) {
		return true
	}
	k := tokenBefore(t, i)
	return k >= 0 && ofPolarisation(t[k].text) && !hasLetter(t, k) && !isNegation(wordBefore(t, k))
}

// hasLetter reports whether the word of polarisation at i is beside a letter that
// it makes a polarisation.
func hasLetter(t []token, i int) bool {
	for _, j := range []int{tokenBefore(t, i), tokenBehind(t, i)} {
		if j >= 0 && j < len(t) && besidePolarised(t, j) {
			return true
		}
	}
	return false
}

// wordBefore returns the text of the last token before i that is no symbol, or "".
func wordBefore(t []token, i int) string {
	if j := tokenBefore(t, i); j >= 0 {
		return t[j].text
	}
	return ""
}

// isNameNumber reports whether the number at i is part of a name, as that of G07 is.
func isNameNumber(t []token, i int) bool {
	return i >= 1 && t[i].glued && t[i-1].kind == letters && !IsAny(t[i-1].text, "r", "t", "aoi")
}

// isNumbered reports whether the number at i is that of a sample or a pull: sample 7.
func isNumbered(t []token, i int) bool {
	return announced(t, i) || IsAny(wordBefore(t, i), "pull", "scan", "replicate")
}

// isMinus reports whether the token at i is the sign of the number behind it and
// not a hyphen (R-8deg).
func isMinus(t []token, i int) bool {
	if i < 0 || !IsAny(t[i].text, "-", "−") || !t[i+1].glued {
		return false
	}
	return i == 0 || !t[i].glued || t[i-1].kind == symbol
}

func isTemperature(t []token, i int) bool {
	return i < len(t) && IsAny(t[i].text, "c", "f", "k", "celsius", "fahrenheit", "kelvin")
}

// doubtAngles drops the angles, whose numbers are at, if the word beside one of them
// makes it another angle than that of incidence: 8 deg acceptance, elevation 82 deg.
func (l *Label) doubtAngles(t []token, at []int) {
	for _, i := range at {
		if !leavesAngle(t, tokenBefore(t, i), true) || !leavesAngle(t, tokenBehind(t, i+1), false) {
			l.Viewing = true
		}
	}
	for i := range t {
		if IsAny(t[i].text, "theta", "θ") && i > 0 && t[i-1].text == "2" {
			l.Viewing = true
		}
	}
}

// leavesAngle reports whether the word at i, before or behind an angle, leaves it one
// of incidence.
func leavesAngle(t []token, i int, before bool) bool {
	if i < 0 || i >= len(t) || t[i].used || isQuantityLetter(t[i].text) {
		return true
	}
	w := t[i].text
	switch {
	case t[i].kind == digits:
		return !before || isNameNumber(t, i) || isNumbered(t, i)
	case !before && IsAny(w, "from", "to", "of"):
		return i+1 < len(t) && StartsWithAny(t[i+1].text, "normal", "incid")
	}
	return !Key(w).IsOtherAngle()
}
