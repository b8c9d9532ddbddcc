package heading

import (
	"slices"
	"strings"

	"wane/study"
)

// findComputed finds headings of what is made from a reflectance and is none: 1-R, F(R),
// R x10, %R fit. In G07-R and R-8deg the stroke joins a name or an angle.
func (l *Label) findComputed(t []token) {
	quantity := slices.ContainsFunc(t, func(k token) bool { return namesQuantity(k.text) || IsAny(k.text, "r", "t") })
	if quantity && isArbitrary(t) {
		l.Quantity, l.Role, l.LoneU = Computed, AsValue, false
	}
	if IsForeign(l.Quantity) || l.TwoPolarisations {
		return
	}
	found := false
	for i := range t {
		switch {
		case IsAny(t[i].raw, "dR", "dT", "lnR", "lgR", "logR"), IsAny(t[i].text, "δr", "δt", "δreflectance"):
			found = true
		case isReflectance(t, i):
			found = found || isChangedBefore(t, i) || isChangedBehind(t, i)
		}
	}
	if i := slices.IndexFunc(t, func(k token) bool { return isQuantityLetter(k.text) || namesQuantity(k.text) }); i >= 0 {
		for j := range t {
			found = found || isOfComputed(t, j) || j > i && multiplies(t, j)
		}
	}
	if !found && l.Role == AsAside && l.Quantity != "" && isDark(t) {
		l.Quantity = dark
		return
	}
	if found {
		l.Quantity = Computed
	}
}

// isReflectance reports whether the token at i is R or T, or a word for them.
func isReflectance(t []token, i int) bool {
	return IsAny(t[i].text, "r", "t") && !partOfCode(t, i) || namesQuantity(t[i].text)
}

func namesQuantity(w string) bool { return StartsWithAny(w, "refl", "réfl", "transm") }

// isChangedBefore reports whether what is before the R at i makes another thing of it:
// 1-R, T/R, F(R).
func isChangedBefore(t []token, i int) bool {
	j := i - 1
	for j >= 0 && t[j].text == "%" {
		j--
	}
	if j >= 0 && t[j].text == "(" {
		if isFunction(t, j) {
			return true
		}
		j--
	}
	if j < 0 {
		return false
	}
	bare := j > 0 && t[j-1].kind == digits && !t[j-1].used && !isNameNumber(t, j-1)
	switch t[j].text {
	case "√", "∂", "∆", "∇", "∫", "∑", "ln", "lg", "sqrt":
		return true
	case "-", "−", "–", "/":
		return j == 0 || bare || j > 0 && isReflectance(t, j-1)
	case "+", "*", "×", "·", "÷", "^", "x":
		return bare || j > 0 && isReflectance(t, j-1)
	}
	return false
}

// isFunction reports whether a function of what is in the bracket at j is meant: F(R).
func isFunction(t []token, j int) bool {
	if j == 0 || t[j-1].kind != letters || partOfCode(t, j-1) || announced(t, j-1) {
		return false
	}
	w := t[j-1].text
	return len([]rune(w)) == 1 && w != "u" && !isQuantityLetter(w) && (t[j].glued || IsAny(w, "e", "f", "ε")) ||
		IsAny(w, "ln", "lg", "sqrt", "exp", "var")
}

// isChangedBehind reports whether what is behind the R at i and its unit makes another thing
// of it: R/R0, R-T, R^2, R'.
func isChangedBehind(t []token, i int) bool {
	k := i + 1
	for k < len(t) && t[k].kind == letters && polarisationOf(t[k].text) != "" && (t[k].glued || t[k].low) {
		k++ // an index
	}
	if k < len(t) && t[k].glued && IsAny(t[k].text, "'", "’", "′") && t[0].text != t[k].text {
		return true
	}
	for k < len(t) && (IsAny(t[k].text, "(", ")", "[", "]", "{", "}", "%") || isUnitOrAngle(t[k])) {
		k++
	}
	if k >= len(t) {
		return false
	}
	next := k + 1
	for next < len(t) && IsAny(t[next].text, "%", "(", "[") {
		next++
	}
	if next >= len(t) {
		return IsAny(t[k].text, "²", "³")
	}
	number := t[next].kind == digits && !t[next].used
	switch t[k].text {
	case "^", "²", "³", "÷":
		return true
	case "/":
		return next == k+1 && !t[next].used || isReflectance(t, next)
	case "+":
		return number || isReflectance(t, next) || isQuantityLetter(t[next].text)
	case "*", "×", "·":
		return number || isReflectance(t, next)
	case "-", "−", "–":
		decimal := number && (len(t[next].text) > 2 && (t[next].text[1] == '.' || t[next].text[1] == ','))
		return isReflectance(t, next) || decimal && !t[k].glued
	}
	return false
}

// isUnitOrAngle reports whether a token belongs to a scale or an angle that was found.
func isUnitOrAngle(k token) bool {
	return k.used && (k.kind == digits || IsAny(k.text, "percent", "pct", "fraction", "frac", "deg", "degree", "degrees",
		"°", "º", "˚"))
}

// multiplies reports whether the token at i is a sign of multiplication before a number:
// x10, * 0.5.
func multiplies(t []token, i int) bool {
	return IsAny(t[i].text, "x", "×", "*") && !t[i].low && i+1 < len(t) && t[i+1].kind == digits && !t[i+1].used &&
		!(t[i].glued && t[i-1].kind == digits)
}

// isOfComputed reports whether the word at i says that the numbers are no reflectance
// as it was measured, or in another unit.
func isOfComputed(t []token, i int) bool {
	w := t[i].text
	switch {
	case IsAny(w, "lower", "upper", "min", "max", "minimum", "maximum"):
		isTime := i > 0 && t[i-1].kind == digits
		k := tokenBehind(t, i)
		return !isTime && !(k < len(t) && (t[k].kind == digits || announces(t[k].text) ||
			IsAny(t[k].text, "edge", "half", "glass", "end", "part")))
	}
	return strings.HasSuffix(w, "verlust") || StartsWithAny(w, "resid", "deriv", "simul", "calcul", "predict", "theor",
		"normali", "emitt", "emiss", "kubelka", "arbitr", "varianc", "scaled") ||
		IsAny(w, "fit", "fitted", "fits", "model", "modelled", "modeled", "diff", "difference", "differences", "differenz",
			"delta", "δ", "∆", "ratio", "haze", "gloss", "noise",
			"rms", "var", "gradient", "slope", "inverse", "reciprocal", "squared", "minus", "plus", "times", "divided", "gain",
			"change", "loss", "losses", "perte", "pertes", "pérdida", "perdita", "verlies", "offset",
			"target", "arb", "‰", "ppm", "ppb", "db", "mw", "ohm", "kohm", "mohm")
}

// isArbitrary reports whether arbitrary units are named: a.u., arb.
func isArbitrary(t []token) bool {
	for i := range t {
		if t[i].text == "arb" || t[i].raw == "au" || i+2 < len(t) && t[i].text == "a" && t[i+1].text == "." &&
			t[i+2].text == "u" {
			return true
		}
	}
	return false
}

// isDark reports whether a heading says nothing but that the reading is one of the
// dark, the background or the zero line. The dark blank of a session is a sample.
func isDark(t []token) bool {
	named := false
	for _, k := range t {
		named = named || IsAny(k.text, "dark", "background", "zero")
		if isName(k) || k.used && k.kind == letters && !isReflectance([]token{k}, 0) &&
			!IsAny(k.text, "dark", "background", "zero", "line", "percent") {
			return false
		}
	}
	return named
}

// IsForeign reports whether a quantity cannot be used at all.
func IsForeign(q study.Quantity) bool {
	return q != "" && q != study.Reflectance && q != study.Transmittance
}
