package heading

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// withoutReference are words of lines that say that nothing was compared to a reference.
var withoutReference = []string{
	"no reference", "no white", "without reference", "without a reference", "without white", "without a white",
	"unreferenced", "not referenced", "not compared", "ohne referenz", "keine referenz", "nicht referenziert",
	"ohne weiß", "kein weiß", "keine weiß", "sans référence", "pas de référence", "pas de blanc", "sans blanc",
	"sin referencia", "senza riferimento", "zonder referentie",
}

// lacksReference reports whether a line says that nothing was compared to a reference: not
// compared to a white reference; Reference curve present: No; White reference not taken.
// [isUncorrected] finds that a correction is off.
func lacksReference(key []token, text, value string) bool {
	low := strings.ToLower(text)
	for _, word := range withoutReference {
		at := strings.Index(low, word)
		if at < 0 || isNumbering(low[at+len(word):]) {
			continue
		}
		next, _ := utf8.DecodeRuneInString(low[at+len(word):])
		if !strings.HasSuffix(word, "blanc") || !unicode.IsLetter(next) { // pas de blanchiment
			return true
		}
	}
	if value == "" {
		return deniesReference(tokenise(nil, text))
	}
	if !isReferencePresence(key) {
		return deniesReference(tokenise(nil, text))
	}
	low = strings.ToLower(value)
	if low == "0" { // of a plain key it may be a number
		return slices.ContainsFunc(key, func(k token) bool {
			return StartsWithAny(k.text, "has", "present", "taken", "used", "measured", "stored", "available", "recorded",
				"loaded")
		})
	}
	return saysOff(low) || IsAny(low, "n") ||
		StartsWithAny(low, "not taken", "not measured", "not present", "not recorded", "not available", "not used",
			"not stored", "not set", "not loaded", "nicht gemessen", "nicht vorhanden", "missing", "absent")
}

// deniesReference reports whether a sentence says nothing but that a reference is not
// there: White reference was not taken.
func deniesReference(t []token) bool {
	i := slices.IndexFunc(t, func(k token) bool {
		return IsAny(k.text, "not", "nicht", "non", "no", "niet", "missing",
			"fehlt")
	})
	if i < 1 || !isReferencePresence(t[:i]) {
		return false
	}
	verbs := 0
	for _, k := range t[i+1:] {
		switch {
		case isPresence(k.text):
			verbs++
		case k.kind != symbol:
			return false
		}
	}
	return verbs > 0 || IsAny(t[i].text, "missing", "fehlt")
}

// isReferencePresence reports whether a key asks whether there is a reference, and nothing
// else of it: White reference taken.
func isReferencePresence(key []token) bool {
	names := false
	for _, k := range key {
		switch {
		case strings.Contains(k.text, "referenc"), strings.Contains(k.text, "referenz"), StartsWithAny(k.text, "référenc"),
			IsAny(k.text, "ref", "whiteref", "weißstandard", "weissstandard", "weißreferenz"):
			names = true
		case k.kind == symbol, StartsWithAny(k.text, "spectr", "spektr", "espectr"), isPresence(k.text):
		case IsAny(k.text, "white", "blanc", "weiß", "weiss", "de", "standard", "scan", "curve", "kurve", "courbe", "curva",
			"measurement", "the", "is", "was", "wurde", "has", "been"):
		default:
			return false
		}
	}
	return names
}

// isPresence reports whether a word says that something is there.
func isPresence(w string) bool {
	return IsAny(w, "present", "taken", "used", "measured", "stored", "set", "available", "valid", "recorded", "loaded",
		"acquired", "found", "vorhanden", "gemessen", "aufgenommen", "geladen", "présente", "mesuré", "mesurée", "presente",
		"medida", "misurata", "gemeten")
}

// isNumbering reports whether what follows makes a number of the words before it: no
// reference number.
func isNumbering(rest string) bool {
	return StartsWithAny(strings.TrimLeft(rest, " "), "number", "no.", "nr", "id", "code")
}
