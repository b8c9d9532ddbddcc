package heading

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// token is a run of letters, a number, or a symbol of a heading.
type token struct {
	text     string // lower case
	raw      string // as written
	kind     tokenKind
	glued    bool // nothing, not even a space, is between it and the one before
	low      bool // an underscore is there
	used     bool // a meaning was found for it
	quantity bool // it names reflectance, transmittance or another quantity
}

// MostInHeading is how many bytes a heading may have whose words are read: far above
// any. Common practice, no source.
const MostInHeading = 4096

type tokenKind uint8

const (
	letters tokenKind = iota
	digits            // with at most one point or comma inside
	symbol
)

// tokenise splits a heading and appends its tokens to those given. Spaces and
// underscores part tokens and are dropped. Rs and Rp are an R with an index, a
// subscript or not. A text
// too long for a heading has none.
func tokenise(tokens []token, text string) []token {
	if len(text) > MostInHeading {
		return tokens
	}
	glued, low := false, false
	for text != "" {
		c, size := utf8.DecodeRuneInString(text)
		if unicode.IsSpace(c) || c == '_' {
			low = c == '_' && (glued || low)
			glued = false
			text = text[size:]
			continue
		}
		kind := symbol
		switch {
		case unicode.IsLetter(c) && c != 'º': // U+00BA, written for a degree sign
			kind = letters
			size = lengthOf(text, func(c rune) bool { return unicode.IsLetter(c) && c != 'º' })
			if IsAny(text[:size], "Rs", "Rp", "Rₛ", "Rₚ") {
				size = 1
			}
		case isDigit(c):
			kind = digits
			size = lengthOfNumber(text)
		}
		raw := text[:size]
		tokens = append(tokens, token{text: strings.ToLower(raw), raw: raw, kind: kind, glued: glued, low: low})
		glued, low = true, false
		text = text[size:]
	}
	return tokens
}

func isDigit(c rune) bool { return '0' <= c && c <= '9' }

// lengthOf counts the bytes at the start of text that belong.
func lengthOf(text string, belongs func(rune) bool) int {
	if i := strings.IndexFunc(text, func(c rune) bool { return !belongs(c) }); i >= 0 {
		return i
	}
	return len(text)
}

func lengthOfNumber(text string) int {
	whole := lengthOf(text, isDigit)
	rest := text[whole:]
	if len(rest) < 2 || rest[0] != '.' && rest[0] != ',' {
		return whole
	}
	fraction := lengthOf(rest[1:], isDigit)
	if fraction == 0 {
		return whole
	}
	return whole + 1 + fraction
}

// phrase reports whether the tokens from i on read as the words given, and
// marks them used if they do.
func phrase(tokens []token, i int, words ...string) bool {
	if len(tokens)-i < len(words) {
		return false
	}
	for k, w := range words {
		if tokens[i+k].text != w || tokens[i+k].used {
			return false
		}
	}
	for k := range words {
		tokens[i+k].used = true
	}
	return true
}

// isRadiometric reports whether tokens hold a unit of irradiance, radiance or photon flux:
// W/m2, µW cm-2 nm-1, µmol/(m² s).
func isRadiometric(t []token) bool {
	for i, k := range t {
		switch {
		case IsAny(k.text, "lux", "lx", "ppfd", "ypfd", "pfd"):
			return true
		case IsAny(k.text, "wm", "mwm", "µwm", "μwm", "uwm", "umolm", "µmolm", "μmolm"):
			if isSquared(t, i) {
				return true
			}
		case IsAny(k.text, "w", "kw", "mw", "uw", "µw", "μw", "nw", "mol", "mmol", "umol", "µmol", "μmol", "photons", "cd",
			"j", "mj"):
			for j := i + 1; j < len(t) && j <= i+3; j++ {
				if IsAny(t[j].text, "m", "cm", "mm") && isSquared(t, j) {
					return true
				}
			}
		}
	}
	return false
}

// isSquared reports whether a sign or a 2 behind the unit at i squares it: m2, m^2, m-2, m².
func isSquared(t []token, i int) bool {
	for j := i + 1; j < len(t) && j <= i+3; j++ {
		switch {
		case IsAny(t[j].text, "2", "²"):
			return true
		case !IsAny(t[j].text, "^", "-", "−", "⁻"):
			return false
		}
	}
	return false
}

// StartsWithAny reports whether the word starts with one of the stems.
func StartsWithAny[S ~string](word S, stems ...string) bool {
	for _, s := range stems {
		if strings.HasPrefix(string(word), s) {
			return true
		}
	}
	return false
}

// IsAny reports whether the word is one of those given.
func IsAny[S ~string](word S, words ...S) bool {
	for _, w := range words {
		if word == w {
			return true
		}
	}
	return false
}
