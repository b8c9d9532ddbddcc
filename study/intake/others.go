package intake

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// Lines outside the rows that name another quantity than reflectance, or say that
// nothing was compared to a reference. They may speak of other things than the values,
// so that a person has to say so for each line: --declared.

// otherLine is such a line.
type otherLine struct {
	quantity study.Quantity
	text     string
	at       place
	sure     bool // it says nothing else, as Technique: Absorbance does and prose does not
}

// isUnreferenced reports whether the line names what is measured without a reference.
func (o otherLine) isUnreferenced() bool {
	return isAny(string(o.quantity), string(unreferenced), string(counts), string(irradiance), string(raw))
}

// unreferenced is what a line says where the values were not compared to a reference.
const unreferenced study.Quantity = "values without a reference"

// noteOther keeps a line if it names another quantity.
func (h *header) noteOther(line outsideLine) {
	text := strings.TrimSpace(line.text)
	if len(text) > mostInHeading {
		text = text[:mostInHeading]
	}
	found := otherLine{text: text, at: place{line: line.number}}
	for _, part := range statementsIn(text) {
		if q, sure := otherQuantity(strings.TrimSpace(part)); q != "" && (found.quantity == "" || sure && !found.sure) {
			found.quantity, found.sure = q, sure
		}
	}
	if found.quantity != "" {
		h.others = append(h.others, found)
	}
}

// noteOthersElsewhere keeps such lines behind the rows, and, if one of several blocks is
// read, before the first one and behind the last one, which may speak of all: nothing
// there is sure. It returns the latter lines.
func (r *reader) noteOthersElsewhere(h *header, after []outsideLine) (elsewhere []outsideLine, err error) {
	note := func(lines []outsideLine, ofAll bool) {
		for _, l := range lines {
			if r.overrules(l.number) || ofAll && headsWavelengths(l.text) {
				continue
			}
			known := len(h.others)
			h.noteOther(l)
			for i := range h.others[known:] {
				h.others[known+i].sure = !ofAll && h.others[known+i].sure
			}
		}
	}
	if r.want.block == 0 {
		note(after, false)
		return nil, nil
	}
	all := r.blocks()
	first, last := all[0], all[len(all)-1]
	if r.block.start == last.start {
		note(after, false)
	} else if elsewhere, err = r.outside(last.end, len(r.src.text), last.last); err != nil {
		return nil, err
	}
	if r.block.start != first.start {
		top, err := r.outside(0, first.start, 1)
		if err != nil {
			return nil, err
		}
		elsewhere = append(top, elsewhere...)
	}
	note(elsewhere, true)
	return elsewhere, nil
}

// headsWavelengths reports whether a line is one of headings, of another block.
func headsWavelengths(text string) bool {
	for _, sep := range []byte(",;\t") {
		for _, c := range cutCells(text, sep) {
			if len(c.text) < len(text) && parseLabel(c.text).isX() {
				return true
			}
		}
	}
	return false
}

// otherQuantity returns the quantity other than reflectance that a line names, "" if it
// names none, and whether it says nothing else.
func otherQuantity(text string) (q study.Quantity, sure bool) {
	var room, more [24]token
	t := tokenise(room[:0], text)
	key, value, isPair := keyAndValue(text)
	var behind []token
	if isPair {
		behind = tokenise(more[:0], text[strings.IndexAny(text, signs)+1:])
	}
	if lacksReference(t[:max(0, len(t)-len(behind))], text, value) {
		return unreferenced, true
	}
	if letter := bareSigns.Replace(text); len(letter) < 3 && isAny(strings.Trim(letter, "#*!;,:="), "A", "T") {
		return quantityOfLetter(strings.ToLower(strings.Trim(letter, "#*!;,:="))), true
	}
	if q = quantityAlone(t); q != "" {
		return q, true
	}
	if isPair && !namesThing(key) {
		if q = quantityAlone(behind); q != "" {
			return q, !isRadiometric(behind)
		}
	}
	return quantityInProse(t, text), false
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
			return irradiance
		case startsWithAny(k.text, "kubelka", "derivat", "ableitung"):
			return computed
		case isAny(k.text, "counts", "cts") && !hasNumber: // 30000 counts is a setting
			return counts
		case k.text == "raw" && !hasNumber:
			return raw
		case k.text == "density" && i > 0 && t[i-1].text == "optical":
			return absorbance
		}
	}
	switch {
	case isRadiometric(t):
		return irradiance
	case isFormula(text):
		return computed
	}
	return ""
}

// otherOfWord returns the quantity other than reflectance that a word names wherever it
// stands, in the languages that exports have been seen in and some more, or "". ppfd, ypfd
// and pfd are photon flux densities of plant lighting, whose instruments also write spectra.
func otherOfWord(w string) study.Quantity {
	switch {
	case startsWithAny(w, "absor", "assorb", "extinct", "extinkt", "吸光", "吸收"):
		return absorbance
	case startsWithAny(w, "transm", "trasm", "durchläss", "doorla", "propust", "透射", "透过", "透過"):
		return study.Transmittance
	case strings.Contains(w, "radian") && !isAny(w, "radian", "radians"), isAny(w, "ppfd", "ypfd", "pfd"),
		startsWithAny(w, "irrad", "bestrahl", "strahldicht", "éclair", "辐照", "放射照度", "luminan", "illuminanc"):
		return irradiance
	case startsWithAny(w, "fluoresc", "phosphoresc", "photolum", "luminesc", "emissiv", "emittan", "transflect"):
		return raw
	}
	return ""
}

// quantityAlone returns the quantity other than reflectance that a text names if it says
// nothing else: Absorbance (AU), RAD, counts.
func quantityAlone(t []token) study.Quantity {
	found := study.Quantity("")
	radiometric := isRadiometric(t)
	for _, k := range t {
		q := otherOfWord(k.text)
		switch {
		case q != "":
		case k.kind == symbol, isAny(k.text, "percent", "spectrum", "spectra", "mode", "data", "values", "value",
			"measurement", "signal", "unit", "units", "scan", "technique", "type", "the", "of", "in", "total", "absolute", "spectral",
			"corrected", "sample", "diffuse", "direct", "specular"):
			continue
		// Short names by which instruments call what they write: radiance, irradiance, the
		// signal as it comes, digital numbers.
		case isAny(k.raw, "RAD", "Rad", "IRR", "Irr"):
			q = irradiance
		case startsWithAny(k.text, "intens"), isAny(k.text, "counts", "cts", "scope"), isAny(k.raw, "ADC", "DN"):
			q = counts
		case k.text == "raw":
			q = raw
		case k.text == "abs", isAny(k.raw, "AU", "OD"):
			q = absorbance
		case radiometric && (k.kind == digits || isUnitPart(k.text)):
			q = irradiance
		default:
			return ""
		}
		if found == "" {
			found = q
		}
	}
	return found
}

// bareSigns leaves out what stands around a letter: [%T].
var bareSigns = strings.NewReplacer("[", "", "]", "", "(", "", ")", "", "%", "", " ", "")

// isUnitPart reports whether a word is part of a unit of irradiance and the like.
func isUnitPart(w string) bool {
	return isAny(w, "w", "kw", "mw", "uw", "µw", "μw", "nw", "mol", "mmol", "umol", "µmol", "μmol", "photons", "cd",
		"j", "mj", "wm", "mwm", "µwm", "μwm", "uwm", "m", "cm", "mm", "nm", "um", "µm", "μm", "sr", "s", "lux", "lx",
		"per")
}

// namesThing reports whether a key, in letters alone, is that of a name, a file, a note or
// a part of the instrument, whose value says nothing sure of the values.
func namesThing(key string) bool {
	return startsWithAny(key, "sample", "name", "file", "path", "folder", "title", "comment", "remark", "note",
		"operator", "user", "author", "instrument", "descr", "project", "material", "accessor", "detector", "lamp", "source",
		"grating", "filter", "dark", "software", "serial", "model", "coupon", "spot", "id", "lot", "batch", "light",
		"probe", "muster", "bemerk", "kommentar")
}

// withoutReference are words of lines that say that nothing was compared to a reference.
var withoutReference = []string{
	"no reference", "no white", "without reference", "without a reference", "without white", "without a white",
	"unreferenced", "not referenced", "not compared", "ohne referenz", "keine referenz", "nicht referenziert",
	"ohne weiß", "sans référence", "pas de référence", "sin referencia", "senza riferimento", "zonder referentie",
}

// lacksReference reports whether a line says that nothing was compared to a reference: not
// compared to a white reference; Reference curve present: No; without reference. That
// a correction is off is told apart by [isUncorrected].
func lacksReference(key []token, text, value string) bool {
	low := strings.ToLower(text)
	for _, word := range withoutReference {
		if at := strings.Index(low, word); at >= 0 && !isNumbering(low[at+len(word):]) {
			return true
		}
	}
	if !isReferencePresence(key) {
		return false
	}
	low = strings.ToLower(value)
	if low == "0" { // of a plain key it may be a number
		return slices.ContainsFunc(key, func(k token) bool {
			return startsWithAny(k.text, "has", "present", "taken", "used", "measured", "stored", "available", "recorded")
		})
	}
	return isAny(low, "no", "none", "false", "n", "off", "nein", "keine", "non", "aucune", "ninguna", "nessuno",
		"nee", "geen") ||
		startsWithAny(low, "not taken", "not measured", "not present", "not recorded", "not available", "not used",
			"not stored", "not set", "missing", "absent")
}

// isReferencePresence reports whether a key asks whether there is a reference, and nothing
// else of it: White reference taken.
func isReferencePresence(key []token) bool {
	names := false
	for _, k := range key {
		switch {
		case strings.Contains(k.text, "referenc"), strings.Contains(k.text, "referenz"), startsWithAny(k.text, "référenc"):
			names = true
		case k.kind == symbol, startsWithAny(k.text, "spectr", "spektr", "espectr"):
		case isAny(k.text, "white", "standard", "scan", "curve", "kurve", "courbe", "curva", "measurement", "is", "was", "has", "been",
			"present", "taken", "used", "measured", "stored", "set", "available", "valid", "recorded", "vorhanden", "gemessen", "présente", "presente"):
		default:
			return false
		}
	}
	return names
}

// isNumbering reports whether what follows makes a number of the words before it: no
// reference number.
func isNumbering(rest string) bool {
	return startsWithAny(strings.TrimLeft(rest, " "), "number", "no.", "nr", "id", "code")
}

// conflicts returns the lines that contradict what is known of the quantity of a curve, or,
// if nothing is, all lines that a person should see before saying it.
func (p *plan) conflicts(c curve) []otherLine {
	byFile := c.quantityBy.by != "" && c.quantityBy.by != "--quantity"
	ofHeading := c.label.quantity == study.Reflectance && len(p.curves) > 1
	var found []otherLine
	for _, o := range p.stated.others {
		switch {
		case o.quantity == c.quantity, byFile && !o.sure:
		case c.label.chosen && speaksOfOthers(o.text, c.id()):
		case c.label.chosen && ofHeading && isAny(string(o.quantity), string(irradiance), string(counts), string(raw)):
			// the other columns
		default:
			found = append(found, o)
		}
	}
	return found
}

// columnNumbers finds column 2, cols. 2-3, Spalten 2 und 3.
var columnNumbers = regexp.MustCompile(`(?i)\b(?:col(?:umn|onne|umna|onna)?s?|kolom(?:men)?|spalten?)\b\.?\s*#?\s*` +
	`(\d+)(?:\s*(?:-|–|to|and|und|bis|et|y|,|&)\s*(\d+))?`)

// speaksOfOthers reports whether a line names columns by their numbers and not this one.
func speaksOfOthers(text string, column int) bool {
	all := columnNumbers.FindAllStringSubmatch(text, -1)
	for _, m := range all {
		low, err := strconv.Atoi(m[1])
		high := low
		if err == nil && m[2] != "" {
			high, err = strconv.Atoi(m[2])
		}
		if err != nil || low <= column && column <= high {
			return false
		}
	}
	return len(all) > 0
}

// checkOthers asks about lines that contradict the quantity of a curve, whoever states it.
func (r *reader) checkOthers(p *plan, _ table) error {
	for _, c := range p.curves {
		if c.aside != "" || c.quantity == "" {
			continue
		}
		if others := p.conflicts(c); others != nil {
			q := inWords(string(c.quantity))
			orElse := "export the " + q
			if slices.ContainsFunc(others, otherLine.isUnreferenced) {
				orElse += ", measured against a reference"
			}
			return r.question(others[0].at, r.overrule(others), orElse,
				"%s, and %s says %s", quotedLines(others), c.quantityBy.by, q)
		}
	}
	return nil
}

// overrule offers to overrule lines beside those that are overruled already.
func (r *reader) overrule(others []otherLine) []study.Choice {
	var numbers []int
	for _, o := range others {
		numbers = append(numbers, o.at.line)
	}
	return []study.Choice{{Name: "declared", Value: listOf(slices.Compact(numbers)),
		Meaning: "what stands there is wrong, or is not said of the values"}}
}

// overrules reports whether a person says that a line says nothing right of the values.
func (r *reader) overrules(line int) bool { return slices.Contains(r.want.declared, line) }

// notesOnOverruled tells of the lines that a person overrules, among those given, and of
// numbers that are those of none.
func (r *reader) notesOnOverruled(outside []outsideLine) []string {
	var notes []string
	for _, n := range r.want.declared {
		i := slices.IndexFunc(outside, func(l outsideLine) bool { return l.number == n })
		if i < 0 {
			notes = append(notes, fmt.Sprintf("--declared names line %d, which is none of the lines around the rows", n))
			continue
		}
		says := quoted(strings.TrimSpace(outside[i].text))
		notes = append(notes, fmt.Sprintf("line %d, %s, is overruled, as stated", n, says))
	}
	return notes
}

const (
	mostQuoted = 3   // lines of a kind in a message
	mostOfLine = 100 // characters of each
)

// quotedLines writes what lines say: line 3 says "Technique,Transmission".
func quotedLines(others []otherLine) string {
	var says []string
	for i, o := range others {
		if i == mostQuoted {
			says = append(says, count(len(others)-i, "more line")+" such as these")
			break
		}
		says = append(says, fmt.Sprintf("line %d says %s", o.at.line, strconv.Quote(cutAt(o.text, mostOfLine))))
	}
	return listed(says)
}
