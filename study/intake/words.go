package intake

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
	glued    bool // nothing, not even a space, stands between it and the one before
	low      bool // an underscore stands there
	used     bool // a meaning was found for it
	quantity bool // it names reflectance, transmittance or another quantity
}

// mostInHeading is how many bytes a heading may have whose words are read: far above
// any. Common practice, no source.
const mostInHeading = 4096

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
	if len(text) > mostInHeading {
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
			if isAny(text[:size], "Rs", "Rp", "Rₛ", "Rₚ") {
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

// startsWithAny reports whether the word starts with one of the stems.
func startsWithAny(word string, stems ...string) bool {
	for _, s := range stems {
		if strings.HasPrefix(word, s) {
			return true
		}
	}
	return false
}

// isAny reports whether the word is one of those given.
func isAny(word string, words ...string) bool {
	for _, w := range words {
		if word == w {
			return true
		}
	}
	return false
}
