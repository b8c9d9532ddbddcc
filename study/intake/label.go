package intake

import (
	"slices"
	"strconv"

	"wane/study"
)

// What a column can hold besides study.Reflectance and study.Transmittance.
const (
	absorbance study.Quantity = "absorbance"
	counts     study.Quantity = "counts"
	irradiance study.Quantity = "irradiance"
	raw        study.Quantity = "raw values"
	computed   study.Quantity = "computed, scaled or in a unit that is not read"
	dark       study.Quantity = "a reading of the dark"
)

// role is the part a column plays.
type role uint8

const (
	asValue       role = iota
	asIndex            // counts the rows
	asUncertainty      // of the column before it
	asAside            // baseline, blank, white, dark, reference
)

// label is what the words of a heading or of a line of the header say.
type label struct {
	text     string
	wave     bool           // it names a wavelength or wavenumber
	axis     string         // unit of the wavelength: nm, um, cm-1, or one that is not read
	other    string         // a word that no column of wavelengths has: thickness, shift
	beside   []string       // words and numbers beside a unit of wavelength that have no meaning
	lost     bool           // the symbol of the unit was lost
	quantity study.Quantity // or ""
	unit     string         // fraction, percent or ""
	twoUnits bool           // both are named
	angles   []string       // as written, with the sign
	viewing  bool           // an angle here is not one of incidence
	relative bool           // the values are relative to something
	face     string         // front, back or ""
	role     role
	chosen   bool // a person names the column
	loneU    bool // a lone letter u stands beside something, which may be an uncertainty or unpolarised light
	codeU    bool // a letter u, or sd and the like with a number, may be an uncertainty or a name: u1, U %R, SD-12
	ofLetter bool // a lone letter, which may be a name, gives the quantity or the role: A, T, N
	numbered bool // an R with a number behind it gives the quantity: R8 [%]
	onlyUnit bool // nothing but units

	polarisation     string // s, p, u or ""
	twoPolarisations bool   // two are named
	byLetter         bool   // a lone letter states the polarisation
	nameLetter       bool   // a single letter is left that may be a name
	byRow            int    // what a row of its own tells: tellsAngle, tellsPolarisation
}

// isX reports whether the label is that of a wavelength column.
func (l label) isX() bool { return l.wave || l.axis != "" || l.lost }

// ofValues returns the label without what its words say of wavelengths, for a column that
// is known to hold values: a name of a sample such as nm-7 says nothing of the kind.
func (l label) ofValues() label {
	l.wave, l.axis, l.lost, l.other, l.beside = false, "", false, "", nil
	return l
}

// lostText returns the text of a label whose unit lost its symbol, else "".
func (l label) lostText() string {
	if l.lost {
		return l.text
	}
	return ""
}

// What a heading can tell of a curve, for sets.
const (
	tellsQuantity = 1 << iota
	tellsAngle
	tellsPolarisation
)

// tells returns which of these the label tells.
func (l label) tells() int {
	set := 0
	if l.quantity != "" {
		set |= tellsQuantity
	}
	if len(l.angles) > 0 {
		set |= tellsAngle
	}
	if l.polarisation != "" {
		set |= tellsPolarisation
	}
	return set
}

// parseLabel reads a heading.
func parseLabel(text string) label {
	l := label{text: text}
	var room [12]token
	t := tokenise(room[:0], text)
	angles := l.findAngles(t)
	l.findAxis(t)
	l.findScale(t)
	l.onlyUnit = (l.axis != "" || l.lost || l.unit != "") && len(l.angles) == 0 && !anyUnused(t)
	l.findPercentLetter(t)
	l.onlyUnit = l.onlyUnit || l.unit != "" && len(l.angles) == 0 && bracketed(text)
	l.findWords(t)
	l.findRadiometric(t)
	l.findSign(t)
	l.findLetter(t)
	l.findNumberedR(t)
	l.doubtU(t)
	l.findPolarisation(t)
	l.doubtAngles(t, angles)
	l.findForeignAxis(t)
	l.findOther(t)
	l.findComputed(t)
	return l
}

// mostBehindR is the greatest number behind an R that is an angle or an index: R8 [%]. Common
// practice, no source.
const mostBehindR = 89

// findNumberedR reads an R with a whole number glued to it, an angle or an index, as
// reflectance, if nothing stands beside it but the unit of values: R8 [%]. Without the unit,
// and with a greater number, it is the code of a sample as well.
func (l *label) findNumberedR(t []token) {
	if l.quantity != "" || l.unit == "" || len(t) < 2 || t[0].raw != "R" || t[1].kind != digits || !t[1].glued {
		return
	}
	n, err := strconv.Atoi(t[1].text)
	if err != nil || n > mostBehindR || anyUnused(t[2:]) {
		return
	}
	l.quantity, t[0].used, t[0].quantity = study.Reflectance, true, true
	l.numbered = true
}

// bracketed reports whether the whole heading stands in brackets, as units under
// names do: [%R].
func bracketed(text string) bool {
	return len(text) > 2 && (text[0] == '[' && text[len(text)-1] == ']' || text[0] == '(' && text[len(text)-1] == ')')
}

// anyUnused reports whether a word or number is left that has no meaning yet.
func anyUnused(t []token) bool {
	for _, k := range t {
		if !k.used && k.kind != symbol {
			return true
		}
	}
	return false
}

// findScale looks for percent and fraction.
func (l *label) findScale(t []token) {
	percent, fraction := false, false
	for i := range t {
		switch {
		case t[i].text == "%" && !behindNumber(t, i), isAny(t[i].text, "percent", "pct"):
			percent, t[i].used = true, true
		case startsWithAny(t[i].text, "fraction"), t[i].text == "frac":
			fraction, t[i].used = true, true
		case phrase(t, i, "0", "-", "1"), phrase(t, i, "0", "–", "1"), phrase(t, i, "0", "−", "1"),
			phrase(t, i, "0", ".", ".", "1"), phrase(t, i, "0", "to", "1"):
			fraction = true
		}
	}
	l.twoUnits = percent && fraction
	switch {
	case percent:
		l.unit = "percent"
	case fraction:
		l.unit = "fraction"
	}
}

// behindNumber reports whether the percent sign at i belongs to a number (10 %
// porosity) and not to a quantity that follows it (8 %R).
func behindNumber(t []token, i int) bool {
	if i == 0 || t[i-1].kind != digits || t[i-1].used {
		return false
	}
	return i+1 >= len(t) || !t[i+1].glued || !isQuantityLetter(t[i+1].text) && !startsWithAny(t[i+1].text, "refl", "transm")
}

func isQuantityLetter(word string) bool { return isAny(word, "r", "t", "a") }

func quantityOfLetter(word string) study.Quantity {
	switch word {
	case "r":
		return study.Reflectance
	case "t":
		return study.Transmittance
	}
	return absorbance
}

// findPercentLetter reads %R, %T and %A, which leave no doubt.
func (l *label) findPercentLetter(t []token) {
	for i := 1; i < len(t); i++ {
		if t[i-1].text == "%" && isQuantityLetter(t[i].text) && !partOfCode(t, i) {
			l.quantity, t[i].used, t[i].quantity = quantityOfLetter(t[i].text), true, true
		}
	}
}

// partOfCode reports whether a number is glued behind the letters at i (R8).
func partOfCode(t []token, i int) bool {
	i++
	for i < len(t) && t[i].glued && t[i].kind == letters {
		i++ // the index of an R
	}
	return i < len(t) && t[i].glued && t[i].kind == digits && !t[i].used
}

// findWords reads the words that name a quantity, a wavelength or a role, and
// those that change nothing.
func (l *label) findWords(t []token) {
	sole := soleWord(t)
	mayCount := sole && l.quantity == "" && len(l.angles) == 0
	for i := range t {
		if t[i].used || t[i].kind != letters {
			continue
		}
		t[i].used = true
		w := t[i].text
		quantity, role := quantityOfWord(w, sole), roleOfWord(w, mayCount)
		if w == "rad" && isOfAngle(t, i) {
			quantity = ""
		}
		switch {
		case namesWave(w):
			l.wave = true
		case besidePolarised(t, i):
		case isNot(w) && deniesPolarised(t, i):
		case quantity != "":
			l.setQuantity(quantity)
			t[i].quantity = true
		case w == "u" && isCodeOfU(t, i):
			t[i].used = false
			l.codeU = l.codeU || t[i].raw == "u" && !endsCode(t, i) && !announced(t, i)
		case role == asUncertainty && isNumberedCode(t, i):
			t[i].used, l.codeU = false, true
		case role != asValue && l.role != asUncertainty:
			l.role, l.ofLetter = role, sole && len(w) == 1
			l.loneU = w == "u" && isLoneU(t, i)
		case role == asUncertainty && w != "u":
			l.loneU = false
		case startsWithAny(w, "view", "azim", "rotat", "orient", "polariser", "polarizer", "phi", "elevat", "detect", "gonio", "cone", "tilt", "stage", "accept", "scatter",
			"grazing", "twist", "phase", "exit", "emerg", "latitud", "inclin"), isAny(w, "slit", "full", "half"):
			l.viewing = true
		case startsWithAny(w, "relativ"):
			l.relative = true
		case w == "front":
			l.face = "front"
		case isAny(w, "back", "rear"):
			l.face = "back"
		case changesNothing(t[i]) && !sole:
		default:
			t[i].used = false
		}
	}
}

// findRadiometric looks for units of irradiance and the like. A nm among them is none of
// wavelength.
func (l *label) findRadiometric(t []token) {
	if !isRadiometric(t) {
		return
	}
	l.setQuantity(irradiance)
	if !l.wave {
		l.axis, l.onlyUnit = "", false
	}
}

// isOfAngle reports whether the rad at i is the unit of an angle: angle (rad), 0.5 rad.
func isOfAngle(t []token, i int) bool {
	return i > 0 && t[i-1].kind == digits || slices.ContainsFunc(t, func(k token) bool {
		return isAngleKey(k.text) || isOtherAngle(k.text) || isAny(k.text, "theta", "θ", "phi", "φ", "winkel", "einfallswinkel")
	})
}

// namesWave reports whether a word is one for a wavelength.
func namesWave(w string) bool {
	return startsWithAny(w, "wave", "wellenl", "lambda", "longueur", "longitud", "lunghezz", "golfl", "våglängd", "bølgel", "vlnov", "hullámh", "aallonp") ||
		isAny(w, "λ", "wl", "波长", "波長")
}

// changesNothing reports whether a word beside R leaves it what it is.
func changesNothing(k token) bool {
	return isAny(k.text, "total", "specular", "mean", "measured", "s", "p") || isAny(k.raw, "TE", "TM") ||
		ofPolarisation(k.text) || len(k.text) > 2 && polarisationOf(k.text) != ""
}

// quantityOfWord returns the quantity that a word names, or "". Beside words of the trade there
// are short names that stand as headings of what is no reflectance, and must not be taken for
// one: cts and adc (counts of a detector and its converter), scope (the signal as it comes in),
// rad (radiance, radiant flux), od (optical density).
func quantityOfWord(w string, sole bool) study.Quantity {
	switch {
	case startsWithAny(w, "count", "intens"), isAny(w, "cts", "adc", "scope"):
		return counts
	case w == "rad":
		return irradiance
	case isAny(w, "log", "od"), w == "abs" && sole:
		return absorbance
	case w == "raw":
		return raw
	case startsWithAny(w, "refl", "réfl"):
		return study.Reflectance
	}
	return otherOfWord(w)
}

// roleOfWord returns the part that a column with this word plays. It may count
// the rows if it has no other word.
func roleOfWord(w string, mayCount bool) role {
	switch {
	case startsWithAny(w, "err", "uncert", "stdev", "stddev", "sigma"), isAny(w, "std", "sd", "sem", "unc", "σ", "u"):
		return asUncertainty
	case startsWithAny(w, "baseline", "blank", "white", "dark", "reference", "background"), isAny(w, "zero", "ref"):
		return asAside
	case mayCount && isAny(w, "index", "idx", "no", "nr", "point", "pixel", "row", "n"):
		return asIndex
	}
	return asValue
}

// findSign looks for ±, +- and +/-, which head an uncertainty.
func (l *label) findSign(t []token) {
	for i, k := range t {
		plusMinus := k.text == "+" && (isMinusBehind(t, i+1) || i+1 < len(t) && t[i+1].glued && t[i+1].text == "/" && isMinusBehind(t, i+2))
		if k.text == "±" || plusMinus {
			l.role, l.loneU = asUncertainty, false
		}
	}
}

func isMinusBehind(t []token, i int) bool {
	return i < len(t) && t[i].glued && isAny(t[i].text, "-", "−")
}

// setQuantity notes a quantity unless one that is further from a reflectance is
// there already.
func (l *label) setQuantity(q study.Quantity) {
	for _, known := range [...]study.Quantity{computed, dark, counts, irradiance, absorbance, raw, study.Transmittance, study.Reflectance} {
		if l.quantity == known {
			return
		}
		if q == known {
			l.quantity = q
			return
		}
	}
}

// soleWord reports whether just one run of letters has no meaning yet, with no
// number beside it.
func soleWord(t []token) bool {
	n := 0
	for _, k := range t {
		if !k.used && k.kind != symbol {
			n++
		}
	}
	return n == 1
}

// findLetter reads a lone R, T or A as a quantity. What stands beside it may
// only be a code with a digit in it (G07 R): in "plate T" the letter may well be
// a name.
func (l *label) findLetter(t []token) {
	found := -1
	for i := range t {
		if t[i].used || t[i].kind != letters {
			continue
		}
		switch {
		case partOfCode(t, i):
		case isQuantityLetter(t[i].text) && found < 0:
			found = i
		default:
			return
		}
	}
	if found >= 0 && l.quantity == "" { // in A %R it is a name
		l.quantity = quantityOfLetter(t[found].text)
		t[found].used, t[found].quantity = true, true
		l.ofLetter = l.ofLetter || l.quantity != study.Reflectance
	}
}

// keep keeps what the rows joined before state of the column.
func (l *label) keep(own label) {
	l.byRow |= own.byRow
	if own.byRow&tellsPolarisation != 0 {
		l.addPolarisation(own.polarisation)
	}
	if own.byRow&tellsAngle != 0 {
		l.angles = own.angles
	}
}

// namesOther reports whether a heading names a thing that is no spectrum and no sample:
// Temp (C). With a number, as in time 100 h, it may be one of a series of samples.
func (l label) namesOther() bool {
	if l.quantity != "" {
		return false
	}
	found := false
	for _, k := range tokenise(nil, l.text) {
		if k.kind == digits {
			return false
		}
		found = found || isAny(k.text, "temp", "temperature", "time", "timestamp", "humidity", "refractive", "thickness", "pressure", "voltage", "cv")
	}
	return found
}
