package heading

import (
	"regexp"
	"slices"
	"strings"

	"wane/study"
)

// How what a line says is to be taken: a word such as Trans. is a quantity below a key that
// asks for one, and may be anything below another one.
type standing uint8

const (
	belowAnyKey standing = iota
	onItsOwn             // the line has no key
	belowItsKey          // Mode, Unit, Type
)

// OtherQuantity returns the quantity other than reflectance that a line names, "" if it
// names none, and whether it says nothing else.
func OtherQuantity(text string) (q study.Quantity, sure bool) {
	var room, more [24]token
	t := tokenise(room[:0], text)
	key, value, isPair := KeyAndValue(text)
	var behind []token
	if isPair {
		behind = tokenise(more[:0], text[strings.IndexAny(text, Signs)+1:])
	}
	if lacksReference(t[:max(0, len(t)-len(behind))], text, value) {
		return Unreferenced, true
	}
	if q = quantityOfBareText(t, text, onItsOwn); q != "" {
		return q, true
	}
	if isPair && !namesThing(key) {
		how := belowAnyKey
		if isQuantityKey(key) {
			how = belowItsKey
		}
		if q = quantityOfBareText(behind, value, how); q != "" {
			return q, how == belowItsKey || !isRadiometric(behind)
		}
		if q = quantityOfLoneLetter(value); q != "" && !mayBeLettered(key) {
			return q, false
		}
	}
	if isPair && saysOff(value) { // Derivative: off
		return "", false
	}
	return quantityInProse(t, text), false
}

// saysOff reports whether a value says that its key does not hold.
func saysOff(value string) bool {
	return IsAny(strings.ToLower(value), "0", "no", "none", "off", "false", "-", "--", "–", "—", "n/a", "na", "n.a.",
		"nein", "aus", "keine", "non", "aucune", "ninguna", "nessuno", "nee", "geen")
}

// quantityInProse returns the first quantity other than reflectance that a word or a unit
// of a line names.
func quantityInProse(t []token, text string) study.Quantity {
	hasNumber := slices.ContainsFunc(t, func(k token) bool { return k.kind == digits })
	for i, k := range t {
		switch q := otherOfWord(k.text); {
		case q != "":
			return q
		case k.raw == "RAD":
			return Irradiance
		case isOfDerivation(k.text):
			return Computed
		case IsAny(k.text, "counts", "cts") && !hasNumber: // 30000 counts is a setting
			return Counts
		case k.text == "raw" && !hasNumber:
			return Raw
		case isOpticalDensity(t, i):
			return Absorbance
		case IsAny(k.text, "t", "a") && isOfPercent(t, i) && !(i > 1 && t[i-2].kind == digits): // a filter of 50 %T
			return quantityOfLetter(k.text)
		}
	}
	switch {
	case isRadiometric(t):
		return Irradiance
	case IsFormula(text):
		return Computed
	}
	return ""
}

// otherOfWord returns the quantity other than reflectance that a word names wherever it
// stands, in the languages that exports have been seen in and some more, or "". ppfd, ypfd
// and pfd are photon flux densities of plant lighting, whose instruments also write spectra.
func otherOfWord(w string) study.Quantity {
	switch {
	case StartsWithAny(w, "absor", "assorb", "extinct", "extinkt", "поглощ", "吸光", "吸收"):
		return Absorbance
	case StartsWithAny(w, "transm", "trasm", "durchläss", "doorla", "propust", "пропуск", "透射", "透过", "透過"):
		return study.Transmittance
	case strings.Contains(w, "radian") && !IsAny(w, "radian", "radians"), IsAny(w, "ppfd", "ypfd", "pfd"),
		StartsWithAny(w, "irrad", "bestrahl", "strahldicht", "éclair", "辐照", "放射照度", "luminan", "illuminanc"):
		return Irradiance
	case StartsWithAny(w, "photocurrent", "fotostrom", "photostrom", "fluoresc", "phosphoresc", "photolum", "luminesc",
		"emissiv", "emittan", "transflect"):
		return Raw
	}
	return ""
}

// isOfDerivation reports whether a word names what is computed from a spectrum.
func isOfDerivation(w string) bool {
	return StartsWithAny(w, "kubelka", "derivat", "derivad", "dérivée", "ableitung")
}

// isOpticalDensity reports whether the token at i is the second word of optical density.
func isOpticalDensity(t []token, i int) bool {
	words := func(a, b token) bool {
		return StartsWithAny(a.text, "optic", "optisch", "optiq", "óptic", "ottic") &&
			StartsWithAny(b.text, "densit", "dichte", "densid", "dichtheid")
	}
	return i > 0 && (words(t[i-1], t[i]) || words(t[i], t[i-1]))
}

// isOfPercent reports whether a percent sign is right before the token at i.
func isOfPercent(t []token, i int) bool { return i > 0 && t[i-1].text == "%" }

// quantityOfBareText returns the quantity other than reflectance that a text names if it says
// nothing else: Absorbance (AU), RAD, counts, %T mode, log(1/R).
func quantityOfBareText(t []token, text string, how standing) study.Quantity {
	if how != belowAnyKey {
		if q := quantityOfLoneLetter(text); q != "" {
			return q
		}
		if onlyFormula.MatchString(strings.ToLower(text)) {
			return Computed
		}
	}
	found := study.Quantity("")
	radiometric := isRadiometric(t) || isRate(t)
	for i, k := range t {
		q := otherOfWord(k.text)
		switch {
		case q != "":
		case isOfPercent(t, i) && IsAny(k.text, "t", "a"):
			q = quantityOfLetter(k.text)
		case isOfPercent(t, i) && k.text == "trans":
			q = study.Transmittance
		case how != belowAnyKey && shortQuantity(t, i, how) != "":
			q = shortQuantity(t, i, how)
		case isOpticalDensity(t, i):
			q = Absorbance
		case isOfDerivation(k.text):
			q = Computed
		// Short names by which instruments call what they write: radiance, irradiance, the
		// signal as it comes, digital numbers.
		case IsAny(k.raw, "RAD", "Rad", "IRR", "Irr"):
			q = Irradiance
		case StartsWithAny(k.text, "intens"), IsAny(k.text, "counts", "cts", "scope"), IsAny(k.raw, "ADC", "DN"):
			q = Counts
		case k.text == "raw":
			q = Raw
		case k.text == "abs", IsAny(k.raw, "AU", "OD"):
			q = Absorbance
		case radiometric && (k.kind == digits || isUnitPart(k.text)):
			q = Irradiance
		case k.kind == symbol, saysNothing(t, i):
			continue
		default:
			return ""
		}
		if found == "" {
			found = q
		}
	}
	return found
}

// quantityOfLoneLetter returns the quantity of a text that is A or T and signs at most:
// [%T].
func quantityOfLoneLetter(text string) study.Quantity {
	letter := bareSigns.Replace(text)
	if len(letter) > 2 {
		return ""
	}
	letter = strings.Trim(letter, "#*!;,:=")
	if !IsAny(letter, "A", "T") {
		return ""
	}
	return quantityOfLetter(strings.ToLower(letter))
}

// shortQuantity returns the quantity that a word or a unit names on its own or below its
// key, or "": elsewhere it may be part of a name, a setting or another word. eqe and iqe
// are quantum efficiencies, cps is counts a second, par the light that plants use.
func shortQuantity(t []token, i int, how standing) study.Quantity {
	k := t[i]
	switch {
	case k.text == "trans":
		return study.Transmittance
	case k.text == "ext":
		return Absorbance
	case k.raw == "PAR":
		return Irradiance
	case IsAny(k.text, "eqe", "iqe", "haze", "gloss"), k.text == "efficiency" && i > 0 && t[i-1].text == "quantum":
		return Computed
	case k.text == "cps", IsAny(k.text, "s", "sec", "second") && i > 1 && IsAny(t[i-1].text, "/", "per") &&
		t[i-2].text == "counts":
		return Counts
	case IsAny(k.text, "energy", "emission", "excitation"), k.text == "beam" && i > 0 && t[i-1].text == "single":
		return Raw
	case IsAny(k.raw, "V", "mV", "µV", "μV") && (i > 0 || how == belowItsKey), StartsWithAny(k.text, "volt"):
		return Raw
	case how == belowItsKey && IsAny(k.text, "a", "u") && isArbitrary(t):
		return Computed
	}
	return ""
}

// saysNothing reports whether the word at i leaves the quantity beside it what it is.
func saysNothing(t []token, i int) bool {
	behind := tokenBehind(t, i)
	next := ""
	if behind < len(t) {
		next = t[behind].text
	}
	switch w := t[i].text; {
	case t[i].kind == digits:
		return IsAny(next, "st", "nd", "rd", "ableitung")
	case w == "single":
		return next == "beam"
	case w == "quantum":
		return next == "efficiency"
	case StartsWithAny(w, "optic", "optisch", "optiq", "óptic", "ottic", "densit", "densid"):
		return behind < len(t) && isOpticalDensity(t, behind)
	default:
		return IsAny(w, "percent", "spectrum", "spectra", "mode", "data", "values", "value", "measurement", "measured",
			"recorded", "signal", "unit", "units", "scan", "technique", "type", "the", "of", "in", "per", "total",
			"absolute", "spectral", "corrected", "sample", "diffuse", "direct", "specular", "munk", "first", "second",
			"third", "st", "nd", "rd", "erste", "zweite", "première", "seconde", "primera", "prima", "коэффициент")
	}
}

// bareSigns leaves out what is around a letter: [%T].
var bareSigns = strings.NewReplacer("[", "", "]", "", "(", "", ")", "", "%", "", " ", "", "\"", "")

// onlyFormula matches a text that is a formula of a reflectance and nothing else: 1-R,
// 100-%R, -log R, and F(R), K/M and K/S of Kubelka and Munk.
var onlyFormula = regexp.MustCompile(`^[\s\["]*(\(?(1|100)\s*%?\s*[-−–/]\s*%?\s*` + rOrT + `\)?|` +
	`[-−–]?\s*(log|lg|ln)\s*(10)?\s*\(?\s*(1\s*/\s*)?%?\s*` + rOrT + `\s*\)?|` +
	`f\s*\(\s*r\s*\)|k\s*/\s*[ms])[\s\]%"]*$`)

const rOrT = `(r|t|refl\w*|transm\w*)`

// isRate reports whether a text is a unit of power or of photons over something else, with
// no number before it: nW/nm, photons/s, W/sr/m2.
func isRate(t []token) bool {
	for i, k := range t {
		if k.kind == digits {
			return false
		}
		if IsAny(k.text, "w", "kw", "mw", "uw", "µw", "μw", "nw", "photons") && i+2 < len(t) &&
			IsAny(t[i+1].text, "/", "per", "·") && isUnitPart(t[i+2].text) {
			return true
		}
	}
	return false
}

// isUnitPart reports whether a word is part of a unit of irradiance and the like.
func isUnitPart(w string) bool {
	return IsAny(w, "w", "kw", "mw", "uw", "µw", "μw", "nw", "mol", "mmol", "umol", "µmol", "μmol", "photons", "cd",
		"j", "mj", "wm", "mwm", "µwm", "μwm", "uwm", "m", "cm", "mm", "nm", "um", "µm", "μm", "sr", "s", "lux", "lx",
		"per")
}

// isQuantityKey reports whether a key asks for the quantity or the unit
// of the values, in the languages that exports have been seen in and some more: Display
// mode, Einheit, Y axis.
func isQuantityKey(key Key) bool { return quantityKey.MatchString(string(key)) }

var quantityKey = regexp.MustCompile(`^` + besideKey +
	`(mode|modus|modo|type|typ|typen|tipo|art|units?|einheit(en)?|unités?|unidad(es)?|unità|eenheid|quantity|größe|` +
	`grandeur|magnitud|grandezza|grootheid|technique|technik|técnica|tecnica|parameter|paramètre|ordinat\p{L}{0,2}|` +
	`y|signal|format|режим|единиц\p{L}{0,3})` + besideKey + `$`)

const besideKey = `(data|daten|messung|measurement|measured|measuring|mess|meß|mesure|medida|misura|scan|display|` +
	`anzeige|photometric|spectrum|spectral|y|axis|achse|label|values?|werte?|result|acquisition|reading|signal|the|of|` +
	`de|di|der|la)*`

// namesThing reports whether a key is that of a name, a file, a note or
// a part of the instrument, whose value says nothing sure of the values.
func namesThing(key Key) bool {
	return StartsWithAny(key, "sample", "name", "file", "path", "folder", "title", "comment", "remark", "note",
		"operator", "user", "author", "instrument", "descr", "project", "material", "accessor", "detector", "lamp", "source",
		"grating", "filter", "dark", "software", "serial", "model", "coupon", "spot", "id", "lot", "batch", "light",
		"probe", "muster", "bemerk", "kommentar")
}

// mayBeLettered reports whether the value of a key may be a letter that distinguishes
// things: Plate: A.
func mayBeLettered(key Key) bool {
	return len(key) < 2 || announces(string(key)) || StartsWithAny(key, "rev", "version", "channel", "kanal", "group",
		"gruppe",
		"class", "grade", "port", "slot", "code", "shift", "team", "building", "room", "lab", "plate", "position", "series",
		"side", "seite", "coating", "panel", "holder", "cell", "tray", "rack", "box", "piece", "specimen", "tile", "zone",
		"area", "variant", "customer", "polari", "trigger", "gain", "key", "site", "stage", "program", "method", "recipe")
}

// Unreferenced is what a line says where the values were not compared to a reference.
const Unreferenced study.Quantity = "values without a reference"
