package heading

import (
	"slices"
	"strconv"

	"wane/study"
)

// What a column can hold besides study.Reflectance and study.Transmittance.
const (
	Absorbance study.Quantity = "absorbance"
	Counts     study.Quantity = "counts"
	Irradiance study.Quantity = "irradiance"
	Raw        study.Quantity = "raw values"
	Computed   study.Quantity = "computed, scaled or in a unit that is not read"
	dark       study.Quantity = "a reading of the dark"
)

// role is the part a column plays.
type role uint8

const (
	AsValue       role = iota
	AsIndex            // counts the rows
	AsUncertainty      // of the column before it
	AsAside            // baseline, blank, white, dark, reference
)

// Label is what the words of a heading or of a line of the header say.
type Label struct {
	Text     string
	Wave     bool           // it names a wavelength or wavenumber
	Axis     string         // unit of the wavelength: nm, um, cm-1, or one that is not read
	Other    string         // a word that no column of wavelengths has: thickness, shift
	Beside   []string       // words and numbers beside a unit of wavelength that have no meaning
	Lost     bool           // the symbol of the unit was lost
	Quantity study.Quantity // or ""
	Unit     string         // fraction, percent or ""
	TwoUnits bool           // both are named
	Angles   []string       // as written, with the sign
	Viewing  bool           // an angle here is not one of incidence
	relative bool           // the values are relative to something
	Face     string         // front, back or ""
	Role     role
	Chosen   bool // a person names the column
	LoneU    bool // a lone letter u is beside something, which may be an uncertainty or unpolarised light
	CodeU    bool // a letter u, or sd and the like with a number, may be an uncertainty or a name: u1, U %R, SD-12
	OfLetter bool // a lone letter, which may be a name, gives the quantity or the role: A, T, N
	Numbered bool // an R with a number behind it gives the quantity: R8 [%]
	OnlyUnit bool // nothing but units

	Polarisation     string // s, p, u or ""
	TwoPolarisations bool   // two are named
	ByLetter         bool   // a lone letter states the polarisation
	NameLetter       bool   // a single letter has no meaning and may be a name
	ByRow            int    // what a row of its own states: TellsAngle, TellsPolarisation
}

// IsX reports whether the label is that of a wavelength column.
func (l Label) IsX() bool { return l.Wave || l.Axis != "" || l.Lost }

// OfValues returns the label without what its words say of wavelengths, for a column that
// is known to hold values: a name of a sample such as nm-7 says nothing of the kind.
func (l Label) OfValues() Label {
	l.Wave, l.Axis, l.Lost, l.Other, l.Beside = false, "", false, "", nil
	return l
}

// LostText returns the text of a label whose unit lost its symbol, else "".
func (l Label) LostText() string {
	if l.Lost {
		return l.Text
	}
	return ""
}

// What a heading can state of a curve, for sets.
const (
	statesQuantity = 1 << iota
	StatesAngle
	StatesPolarisation
)

// States returns which of these the label states.
func (l Label) States() int {
	set := 0
	if l.Quantity != "" {
		set |= statesQuantity
	}
	if len(l.Angles) > 0 {
		set |= StatesAngle
	}
	if l.Polarisation != "" {
		set |= StatesPolarisation
	}
	return set
}

// Parse reads a heading.
func Parse(text string) Label {
	l := Label{Text: text}
	var room [12]token
	t := tokenise(room[:0], text)
	angles := l.findAngles(t)
	l.findAxis(t)
	l.findScale(t)
	l.OnlyUnit = (l.Axis != "" || l.Lost || l.Unit != "") && len(l.Angles) == 0 && !anyUnused(t)
	l.findPercentLetter(t)
	l.OnlyUnit = l.OnlyUnit || l.Unit != "" && len(l.Angles) == 0 && Bracketed(text)
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
// reflectance, if nothing is beside it but the unit of values: R8 [%]. Without the unit,
// and with a greater number, it is the code of a sample as well.
func (l *Label) findNumberedR(t []token) {
	if l.Quantity != "" || l.Unit == "" || len(t) < 2 || t[0].raw != "R" || t[1].kind != digits || !t[1].glued {
		return
	}
	n, err := strconv.Atoi(t[1].text)
	if err != nil || n > mostBehindR || anyUnused(t[2:]) {
		return
	}
	l.Quantity, t[0].used, t[0].quantity = study.Reflectance, true, true
	l.Numbered = true
}

// Bracketed reports whether the whole heading is in brackets, as units under
// names do: [%R].
func Bracketed(text string) bool {
	return len(text) > 2 && (text[0] == '[' && text[len(text)-1] == ']' || text[0] == '(' && text[len(text)-1] == ')')
}

// anyUnused reports whether a word or number has no meaning yet.
func anyUnused(t []token) bool {
	for _, k := range t {
		if !k.used && k.kind != symbol {
			return true
		}
	}
	return false
}

// findScale looks for percent and fraction.
func (l *Label) findScale(t []token) {
	percent, fraction := false, false
	for i := range t {
		switch {
		case t[i].text == "%" && !behindNumber(t, i), IsAny(t[i].text, "percent", "pct"):
			percent, t[i].used = true, true
		case StartsWithAny(t[i].text, "fraction"), t[i].text == "frac":
			fraction, t[i].used = true, true
		case phrase(t, i, "0", "-", "1"), phrase(t, i, "0", "–", "1"), phrase(t, i, "0", "−", "1"),
			phrase(t, i, "0", ".", ".", "1"), phrase(t, i, "0", "to", "1"):
			fraction = true
		}
	}
	l.TwoUnits = percent && fraction
	switch {
	case percent:
		l.Unit = "percent"
	case fraction:
		l.Unit = "fraction"
	}
}

// behindNumber reports whether the percent sign at i belongs to a number (10 %
// porosity) and not to a quantity that follows it (8 %R).
func behindNumber(t []token, i int) bool {
	if i == 0 || t[i-1].kind != digits || t[i-1].used {
		return false
	}
	return i+1 >= len(t) || !t[i+1].glued || !isQuantityLetter(t[i+1].text) &&
		!StartsWithAny(t[i+1].text, "refl", "transm")
}

func isQuantityLetter(word string) bool { return IsAny(word, "r", "t", "a") }

func quantityOfLetter(word string) study.Quantity {
	switch word {
	case "r":
		return study.Reflectance
	case "t":
		return study.Transmittance
	}
	return Absorbance
}

// findPercentLetter reads %R, %T and %A, which leave no doubt.
func (l *Label) findPercentLetter(t []token) {
	for i := 1; i < len(t); i++ {
		if t[i-1].text == "%" && isQuantityLetter(t[i].text) && !partOfCode(t, i) {
			l.Quantity, t[i].used, t[i].quantity = quantityOfLetter(t[i].text), true, true
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
func (l *Label) findWords(t []token) {
	sole := soleWord(t)
	mayCount := sole && l.Quantity == "" && len(l.Angles) == 0
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
			l.Wave = true
		case besidePolarised(t, i):
		case isNegation(w) && deniesPolarised(t, i):
		case quantity != "":
			l.SetQuantity(quantity)
			t[i].quantity = true
		case w == "u" && isCodeOfU(t, i):
			t[i].used = false
			l.CodeU = l.CodeU || t[i].raw == "u" && !endsCode(t, i) && !announced(t, i)
		case role == AsUncertainty && isNumberedCode(t, i):
			t[i].used, l.CodeU = false, true
		case role != AsValue && l.Role != AsUncertainty:
			l.Role, l.OfLetter = role, sole && len(w) == 1
			l.LoneU = w == "u" && isLoneU(t, i)
		case role == AsUncertainty && w != "u":
			l.LoneU = false
		case StartsWithAny(w, "view", "azim", "rotat", "orient", "polariser", "polarizer", "phi", "elevat", "detect",
			"gonio", "cone", "tilt", "stage", "accept", "scatter",
			"grazing", "twist", "phase", "exit", "emerg", "latitud", "inclin"), IsAny(w, "slit", "full", "half"):
			l.Viewing = true
		case StartsWithAny(w, "relativ"):
			l.relative = true
		case w == "front":
			l.Face = "front"
		case IsAny(w, "back", "rear"):
			l.Face = "back"
		case changesNothing(t[i]) && !sole:
		default:
			t[i].used = false
		}
	}
}

// findRadiometric looks for units of irradiance and the like. A nm among them is none of
// wavelength.
func (l *Label) findRadiometric(t []token) {
	if !isRadiometric(t) {
		return
	}
	l.SetQuantity(Irradiance)
	if !l.Wave {
		l.Axis, l.OnlyUnit = "", false
	}
}

// isOfAngle reports whether the rad at i is the unit of an angle: angle (rad), 0.5 rad.
func isOfAngle(t []token, i int) bool {
	return i > 0 && t[i-1].kind == digits || slices.ContainsFunc(t, func(k token) bool {
		return Key(k.text).IsAngle() || Key(k.text).IsOtherAngle() || IsAny(k.text, "theta", "θ", "phi", "φ", "winkel",
			"einfallswinkel")
	})
}

// namesWave reports whether a word is one for a wavelength.
func namesWave(w string) bool {
	return StartsWithAny(w, "wave", "wellenl", "lambda", "longueur", "longitud", "lunghezz", "golfl", "våglängd",
		"bølgel", "vlnov", "hullámh", "aallonp") ||
		IsAny(w, "λ", "wl", "波长", "波長")
}

// changesNothing reports whether a word beside R leaves it what it is.
func changesNothing(k token) bool {
	return IsAny(k.text, "total", "specular", "mean", "measured", "s", "p") || IsAny(k.raw, "TE", "TM") ||
		ofPolarisation(k.text) || len(k.text) > 2 && polarisationOf(k.text) != ""
}

// quantityOfWord returns the quantity that a word names, or "". Beside words of the trade there
// are short names that stand as headings of what is no reflectance, and must not be taken for
// one: cts and adc (counts of a detector and its converter), scope (the signal as it comes in),
// rad (radiance, radiant flux), od (optical density).
func quantityOfWord(w string, sole bool) study.Quantity {
	switch {
	case StartsWithAny(w, "count", "intens"), IsAny(w, "cts", "adc", "scope"):
		return Counts
	case w == "rad":
		return Irradiance
	case IsAny(w, "log", "od"), w == "abs" && sole:
		return Absorbance
	case w == "raw":
		return Raw
	case StartsWithAny(w, "refl", "réfl"):
		return study.Reflectance
	}
	return otherOfWord(w)
}

// roleOfWord returns the part that a column with this word plays. It may count
// the rows if it has no other word.
func roleOfWord(w string, mayCount bool) role {
	switch {
	case StartsWithAny(w, "err", "uncert", "stdev", "stddev", "sigma"), IsAny(w, "std", "sd", "sem", "unc", "σ", "u"):
		return AsUncertainty
	case StartsWithAny(w, "baseline", "blank", "white", "dark", "reference", "background"), IsAny(w, "zero", "ref"):
		return AsAside
	case mayCount && IsAny(w, "index", "idx", "no", "nr", "point", "pixel", "row", "n"):
		return AsIndex
	}
	return AsValue
}

// findSign looks for ±, +- and +/-, which head an uncertainty.
func (l *Label) findSign(t []token) {
	for i, k := range t {
		plusMinus := k.text == "+" && (isMinusBehind(t, i+1) || i+1 < len(t) && t[i+1].glued && t[i+1].text == "/" &&
			isMinusBehind(t, i+2))
		if k.text == "±" || plusMinus {
			l.Role, l.LoneU = AsUncertainty, false
		}
	}
}

func isMinusBehind(t []token, i int) bool {
	return i < len(t) && t[i].glued && IsAny(t[i].text, "-", "−")
}

// SetQuantity notes a quantity unless one that is further from a reflectance is
// there already.
func (l *Label) SetQuantity(q study.Quantity) {
	for _, known := range [...]study.Quantity{Computed, dark, Counts, Irradiance, Absorbance, Raw, study.Transmittance,
		study.Reflectance} {
		if l.Quantity == known {
			return
		}
		if q == known {
			l.Quantity = q
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

// findLetter reads a lone R, T or A as a quantity. What is beside it may
// only be a code with a digit in it (G07 R): in "plate T" the letter may well be
// a name.
func (l *Label) findLetter(t []token) {
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
	if found >= 0 && l.Quantity == "" { // in A %R it is a name
		l.Quantity = quantityOfLetter(t[found].text)
		t[found].used, t[found].quantity = true, true
		l.OfLetter = l.OfLetter || l.Quantity != study.Reflectance
	}
}

// Keep keeps what the rows joined before state of the column.
func (l *Label) Keep(own Label) {
	l.ByRow |= own.ByRow
	if own.ByRow&StatesPolarisation != 0 {
		l.AddPolarisation(own.Polarisation)
	}
	if own.ByRow&StatesAngle != 0 {
		l.Angles = own.Angles
	}
}

// NamesOther reports whether a heading names a thing that is no spectrum and no sample:
// Temp (C). With a number, as in time 100 h, it may be one of a series of samples.
func (l Label) NamesOther() bool {
	if l.Quantity != "" {
		return false
	}
	found := false
	for _, k := range tokenise(nil, l.Text) {
		if k.kind == digits {
			return false
		}
		found = found || IsAny(k.text, "temp", "temperature", "time", "timestamp", "humidity", "refractive", "thickness",
			"pressure", "voltage", "cv")
	}
	return found
}
