package heading

import (
	"slices"
	"unicode/utf8"

	"wane/study"
)

// polarisationOf returns the polarisation that a word can stand for: s, p, u
// or "". TE, the electric field across the plane of incidence, is s, and TM is
// p. Source: M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), 1.6.1, from
// memory. Perpendicular (senkrecht) and parallel are meant of the same plane.
func polarisationOf(w string) string {
	switch w {
	case "s", "te", "perp", "perpendicular", "senkrecht", "ₛ":
		return "s"
	case "p", "tm", "par", "parallel", "ₚ":
		return "p"
	case "u", "unpol", "depol", "depolarised", "depolarized":
		return "u"
	}
	if StartsWithAny(w, "unpolaris", "unpolariz", "nonpolaris", "nonpolariz") {
		return "u"
	}
	return ""
}

// ofPolarisation reports whether a word says that the letter beside it is a
// polarisation.
func ofPolarisation(w string) bool {
	return w == "pol" || StartsWithAny(w, "polaris", "polariz")
}

// PolarisationIn reads a text that holds nothing but words of polarisation (s,
// TM, p-pol., unpolarised) and reports whether it does. The polarisation is ""
// if none is named, or two.
func PolarisationIn(text string) (found string, only bool) {
	two := false
	t := tokenise(nil, text)
	for i, k := range t {
		p := polarisationOf(k.text)
		switch {
		case isDifference(t, i):
			return "", true
		case signOf(k.text) != "":
			p = signOf(k.text)
			two = two || found != "" && found != p
			found = p
		case isNegation(k.text) && deniesPolarised(t, i):
			two = two || found != "" && found != "u"
			found = "u"
		case k.kind == symbol:
			continue
		case p == "" && !ofPolarisation(k.text):
			return "", false
		case p != "":
			two = two || found != "" && found != p
			found = p
		}
		only = true
	}
	if two {
		found = ""
	}
	return found, only
}

// signOf returns the polarisation that a sign stands for, or "".
func signOf(sign string) string {
	switch sign {
	case "⊥":
		return "s"
	case "∥", "‖":
		return "p"
	}
	return ""
}

// isNegation reports whether a word denies the one behind it.
func isNegation(w string) bool { return IsAny(w, "un", "non", "not", "nicht") }

// deniesPolarised reports whether the word behind token i is polarised: un-polarised.
func deniesPolarised(t []token, i int) bool {
	j := tokenBehind(t, i)
	return j < len(t) && StartsWithAny(t[j].text, "polarised", "polarized", "polarisiert") &&
		(i == 0 || !IsAny(wordBefore(t, i), "un", "non", "not", "nicht", "partly", "partially"))
}

// isDifference reports whether the token at i is an s or p from which the other one is
// taken away, or that is divided by it: p-s, s/p.
func isDifference(t []token, i int) bool {
	return i+2 < len(t) && IsAny(t[i].text, "s", "p") && IsAny(t[i+1].text, "-", "−", "–", "/") &&
		IsAny(t[i+2].text, "s", "p") && t[i+2].text != t[i].text &&
		!partOfCode(t, i+2) && !endsCode(t, i)
}

// isDirection reports whether a word says how light swings, if nothing beside it
// makes another thing of it: parallel beam, perpendicular incidence.
func isDirection(w string) bool {
	return IsAny(w, "perp", "perpendicular", "senkrecht", "par", "parallel")
}

// findPolarisation looks for what states a polarisation and cannot be a name.
func (l *Label) findPolarisation(t []token) {
	for i := range t {
		if p := statedAt(t, i); p != "" {
			l.AddPolarisation(p)
			l.AddPolarisation(pairedWith(t, i))
		}
	}
	for i := range t {
		switch {
		case isDifference(t, i) && l.Quantity != "" && l.Polarisation == "" && !l.TwoPolarisations:
			l.SetQuantity(Computed)
		case signOf(t[i].text) != "":
			l.AddPolarisation(signOf(t[i].text))
		case isNegation(t[i].text) && deniesPolarised(t, i):
			l.AddPolarisation("u")
		}
		if isLone(t, i) {
			l.ByLetter = l.Polarisation == ""
			l.AddPolarisation(t[i].text)
		}
		l.NameLetter = l.NameLetter || isNameLetter(t, i)
	}
}

// AddPolarisation notes a polarisation, "" for none. Two leave it open.
func (l *Label) AddPolarisation(p string) {
	switch {
	case p == "" || l.TwoPolarisations:
	case l.Polarisation == "" || l.Polarisation == p:
		l.Polarisation = p
	default:
		l.Polarisation, l.TwoPolarisations = "", true
	}
}

// statedAt returns the polarisation that the token at i states, "" if none or if
// it is the only token.
func statedAt(t []token, i int) string {
	p := polarisationOf(t[i].text)
	switch {
	case p == "" || partOfCode(t, i) || endsCode(t, i):
		return ""
	case isDirection(t[i].text):
		if besidePolarised(t, i) || isPlainBeside(t, i) && (isIndex(t, i) || leadsToQuantity(t, i, -1) ||
			leadsToQuantity(t, i, 1)) {
			return p
		}
		return ""
	case len(t[i].text) > 2:
		if i > 0 && IsAny(t[i-1].text, "not", "partly", "partially") {
			return ""
		}
		return p
	case besidePolarised(t, i):
		return p
	case p == "u": // an uncertainty
		return ""
	case isIndex(t, i) || IsAny(t[i].raw, "TE", "TM") && !besideName(t, i):
		return p
	}
	return ""
}

// besidePolarised reports whether a word beside the letters at i makes them a
// polarisation: s-pol, p polarised, pol. u. In spot s pol the letter is a name.
func besidePolarised(t []token, i int) bool {
	if polarisationOf(t[i].text) == "" || len(t[i].text) > 2 && !isDirection(t[i].text) {
		return false
	}
	if j := tokenBehind(t, i); j < len(t) && ofPolarisation(t[j].text) && t[i+1].text != "," {
		hyphened := t[i+1].glued && t[i+1].text == "-"
		return hyphened || !announced(t, i)
	}
	j := tokenBefore(t, i)
	if j < 0 || !ofPolarisation(t[j].text) || t[i-1].text == "," {
		return false
	}
	k := tokenBefore(t, j)
	return k < 0 || len(t[k].text) > 2 || polarisationOf(t[k].text) == "" || announced(t, k)
}

// isIndex reports whether the letters at i stand below or behind an R or T
// as an index: Rs, R_s, R(s), R_{s}.
func isIndex(t []token, i int) bool {
	j := i - 1
	if j > 0 && IsAny(t[j].text, "(", "[", "{") && t[i].glued && (t[j].glued || t[j].low) {
		if i+1 < len(t) && isName(t[i+1]) {
			return false // R(p side)
		}
		j--
	} else if !t[i].low && !t[i].glued {
		return false
	}
	return polarisationOf(t[i].text) != "" && j >= 0 && IsAny(t[j].text, "r", "t") && !announced(t, j)
}

// isLone reports whether the token at i is a lone s or p that is a polarisation:
// beside a quantity, over angles and units at most, and with no name beside it.
// At the start of a heading (p 8 deg %R) it may be a name.
func isLone(t []token, i int) bool {
	if !IsAny(t[i].raw, "s", "p") || partOfCode(t, i) || endsCode(t, i) || tokenBefore(t, i) < 0 || announced(t, i) {
		return false
	}
	return isPlainBeside(t, i) && (leadsToQuantity(t, i, -1) || leadsToQuantity(t, i, 1))
}

// isPlainBeside reports whether nothing beside the token at i makes a name of it.
func isPlainBeside(t []token, i int) bool {
	for _, j := range []int{tokenBefore(t, i), tokenBehind(t, i)} {
		if j >= 0 && j < len(t) && !isPlain(t[j]) {
			return false
		}
	}
	return true
}

// isPlain reports whether a word does not make a name of a letter beside it: it
// has a meaning, and not that of a blank or of another letter of polarisation.
func isPlain(k token) bool {
	return !isName(k) && roleOfWord(k.text, false) == AsValue && (len(k.text) > 1 || polarisationOf(k.text) == "")
}

// leadsToQuantity reports whether a quantity is the first thing on
// one side of the token at i, but for angles, units and words of no weight.
func leadsToQuantity(t []token, i, step int) bool {
	for j := i + step; j >= 0 && j < len(t); j += step {
		if t[j].quantity || isName(t[j]) {
			return t[j].quantity
		}
	}
	return false
}

// pairedWith returns the polarisation that a sign joins to the one at i: R(s+p),
// s/p-pol.
func pairedWith(t []token, i int) string {
	for _, step := range []int{-1, 1} {
		j := i + 2*step
		if j < 0 || j >= len(t) || !IsAny(t[i+step].text, "+", "/", "&", ",", "and", "or") {
			continue
		}
		if IsAny(t[j].text, "s", "p") && !partOfCode(t, j) && !endsCode(t, j) && !announced(t, j) {
			return t[j].text
		}
	}
	return ""
}

// announced reports whether the word before the token at i makes a name of it:
// spot s, sample TE.
func announced(t []token, i int) bool {
	return announces(wordBefore(t, i))
}

// announces reports whether a word makes a name of what follows it.
func announces(w string) bool {
	return IsAny(w, "spot", "sample", "coupon", "plate", "piece", "specimen", "probe", "muster", "point",
		"position", "pos", "site", "place", "area", "zone", "side", "row", "batch", "lot", "series", "run", "film", "coating",
		"panel", "pane", "tile", "slide", "wafer", "disc", "disk", "name", "id", "no", "nr")
}

// besideName reports whether a word that may be a name is beside the token
// at i. Codes before it are none that it belongs to: G07 TE.
func besideName(t []token, i int) bool {
	if announced(t, i) {
		return true
	}
	for _, j := range []int{tokenBefore(t, i), tokenBehind(t, i)} {
		if j >= 0 && j < len(t) && t[j].kind == letters && isName(t[j]) && !partOfCode(t, j) &&
			!IsAny(t[j].text, "mode", "r", "t") {
			return true
		}
	}
	return false
}

// isName reports whether a token has no meaning, and may be a name or part of
// one.
func isName(k token) bool { return !k.used && k.kind != symbol }

// isNameLetter reports whether the token at i is a single letter that has no
// meaning and can have none here.
func isNameLetter(t []token, i int) bool {
	return t[i].kind == letters && isName(t[i]) && utf8.RuneCountInString(t[i].text) == 1 &&
		polarisationOf(t[i].text) == "" && !partOfCode(t, i) && !endsCode(t, i)
}

// endsCode reports whether a number is glued before the letters at i (G07s, 60s).
func endsCode(t []token, i int) bool {
	return i > 0 && t[i].glued && t[i-1].kind == digits && !t[i-1].used
}

// tokenBefore returns the last token before i that is no symbol, or -1.
func tokenBefore(t []token, i int) int {
	i--
	for i >= 0 && t[i].kind == symbol {
		i--
	}
	return i
}

// tokenBehind returns the first token behind i that is no symbol, or len(t).
func tokenBehind(t []token, i int) int {
	i++
	for i < len(t) && t[i].kind == symbol {
		i++
	}
	return i
}

// isLoneU reports whether the token at i is a letter u behind something else than a
// unit, so that it may stand for unpolarised light: R u, s1 u 8. In u(R) and u G07 it
// is an uncertainty.
func isLoneU(t []token, i int) bool {
	if partOfCode(t, i) || i+1 < len(t) && t[i+1].glued && t[i+1].text == "(" || i > 0 && t[i-1].text == "." {
		return false
	}
	return tokenBefore(t, i) >= 0
}

// isCodeOfU reports whether the letter u at i belongs to a name with a number, or follows
// a word such as sample: U1, 2031U-4, U 1, spot U.
func isCodeOfU(t []token, i int) bool {
	behind := tokenBehind(t, i)
	numbered := behind < len(t) && t[behind].kind == digits && !t[behind].used && (behind == i+1 || behind == i+2 &&
		t[i+1].text == "-") &&
		(t[i].raw == "U" || t[i+1].glued) // u 8 may be unpolarised light, at 8 degrees
	return numbered || endsCode(t, i) || announced(t, i)
}

// isNumberedCode reports whether a short word for an uncertainty at i has a number behind it,
// as the names of samples have: SD-12, Std 3.
func isNumberedCode(t []token, i int) bool {
	if !IsAny(t[i].text, "sd", "std", "sem", "unc") {
		return false
	}
	j := tokenBehind(t, i)
	return j < len(t) && t[j].kind == digits && !t[j].used && (j == i+1 || j == i+2 && t[i+1].text == "-")
}

// doubtU takes a letter u that begins a heading of reflectance for what may be a name, as A
// in A %R is: U %R. In u(R), and behind
// the quantity, it is an uncertainty.
func (l *Label) doubtU(t []token) {
	if l.Role == AsUncertainty && len(t) > 1 && t[0].text == "u" && t[1].text != "(" && l.Quantity == study.Reflectance &&
		!slices.ContainsFunc(t[1:], func(k token) bool { return roleOfWord(k.text, false) == AsUncertainty }) {
		l.Role, l.LoneU, l.OfLetter, l.CodeU = AsValue, false, false, true
	}
}

// IsOtherCode reports whether a heading is a letter with a number behind it, and a unit of
// values at most, that says nothing of the quantity: S1 [%].
func (l Label) IsOtherCode() bool {
	t := tokenise(nil, l.Text)
	return l.Quantity == "" && !l.IsX() && len(t) > 1 && len(t[0].raw) == 1 && t[0].kind == letters && t[0].raw != "R" &&
		t[1].kind == digits && t[1].glued
}

// LoneLetter returns the letter that is all a heading holds beside units and %R, or 0.
func (l Label) LoneLetter() rune {
	found := rune(0)
	var room [12]token
	t := tokenise(room[:0], l.Text)
	for i, k := range t {
		switch {
		case k.kind == symbol || IsAny(k.text, "percent", "fraction") || k.text == "r" && isOfPercent(t, i):
		case k.kind != letters || found != 0 || utf8.RuneCountInString(k.raw) != 1:
			return 0
		default:
			found, _ = utf8.DecodeRuneInString(k.raw)
		}
	}
	return found
}
