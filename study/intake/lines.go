package intake

import (
	"bytes"
	"iter"
)

// marks is a set of kinds of bytes.
type marks uint16

const (
	digit marks = 1 << iota
	sign
	point
	comma
	semicolon
	tab
	space
	quote
	letterE // of an exponent
	nul
	other
)

// kinds gives the kind of every byte.
var kinds = func() (k [256]marks) {
	for i := range k {
		k[i] = other
	}
	for c := '0'; c <= '9'; c++ {
		k[c] = digit
	}
	for c, kind := range map[byte]marks{
		'+': sign, '-': sign, '.': point, ',': comma, ';': semicolon, '\t': tab, ' ': space,
		'"': quote, 'e': letterE, 'E': letterE, 0: nul,
	} {
		k[c] = kind
	}
	return k
}()

// line is one line of the text that is not blank.
type line struct {
	number int    // from 1
	start  int    // of its bytes in the text
	text   []byte // without the line ending
}

// lineSpan is the first and the last of lines.
type lineSpan struct{ first, last int }

// lines yields the lines of text that are not blank. The first line of text has
// the number given. CRLF, LF and a lone CR each end a line.
func lines(text []byte, number int) iter.Seq[line] {
	return func(yield func(line) bool) {
		feed, back := -1, -1 // the next LF and the next CR at or after pos
		for pos := 0; pos < len(text); number++ {
			if feed < pos {
				feed = indexFrom(text, pos, '\n')
			}
			if back < pos {
				back = indexFrom(text, pos, '\r')
			}
			end, after := feed, feed+1
			if back < feed {
				end = back
				if end+1 < feed || feed == len(text) {
					after = end + 1 // a lone CR
				}
			}
			if content := text[pos:end]; !isBlank(content) && !yield(line{number, pos, content}) {
				return
			}
			pos = after
		}
	}
}

// indexFrom returns where c stands in text at or after pos, len(text) if
// nowhere.
func indexFrom(text []byte, pos int, c byte) int {
	if i := bytes.IndexByte(text[pos:], c); i >= 0 {
		return pos + i
	}
	return len(text)
}

// isBlank reports whether a line holds nothing but white space.
func isBlank(text []byte) bool {
	for _, c := range text {
		if c != ' ' && c != '\t' {
			return false
		}
	}
	return true
}

// kindsIn returns the kinds of the bytes of a line.
func kindsIn(text []byte) marks {
	k := &kinds
	var seen, also marks // two, so that one need not wait for the other
	for ; len(text) >= 8; text = text[8:] {
		b := (*[8]byte)(text)
		seen |= k[b[0]] | k[b[1]] | k[b[2]] | k[b[3]]
		also |= k[b[4]] | k[b[5]] | k[b[6]] | k[b[7]]
	}
	for _, c := range text {
		seen |= k[c]
	}
	return seen | also
}

// padding reports whether c pads a cell in lines separated by sep.
func padding(c, sep byte) bool { return c == ' ' || c == '\t' && sep != '\t' }

// trimCell takes the padding off both ends of b.
func trimCell(b []byte, sep byte) []byte {
	for len(b) > 0 && padding(b[0], sep) {
		b = b[1:]
	}
	for len(b) > 0 && padding(b[len(b)-1], sep) {
		b = b[:len(b)-1]
	}
	return b
}

// isNumbers reports whether a line could be a row: it starts with a number (or,
// in a row that only goes on, with a separator) and holds nothing but numbers,
// separators, missing values and units glued to numbers. Whether it is one is
// decided later, with the separator known.
func isNumbers(line []byte, seen marks) (row, startsRow bool) {
	if seen&digit == 0 {
		return false, false
	}
	body := trimCell(line, 0)
	first := kinds[body[0]]
	startsRow = first&(digit|sign|point|quote) != 0 && !bytes.HasPrefix(body, []byte(`""`))
	if !startsRow && first&(tab|comma|semicolon|quote) == 0 && line[0] != '\t' {
		return false, false
	}
	if seen&other != 0 && !onlyNumberWords(body) {
		return false, false
	}
	if seen&(tab|comma|semicolon) == 0 && bytes.IndexByte(body, ' ') < 0 {
		return false, false
	}
	return true, startsRow && line[0] != '\t'
}

// onlyNumberWords reports whether every word of a line can stand in a row.
func onlyNumberWords(line []byte) bool {
	const wordy = other | letterE
	for i := 0; i < len(line); {
		if kinds[line[i]]&wordy == 0 {
			i++
			continue
		}
		start := i
		for i < len(line) && kinds[line[i]]&wordy != 0 {
			i++
		}
		word := line[start:i]
		if !isExponentLetter(word) && !isMissingWord(word) && (gluedUnit(word) == "" || !hasNumberBefore(line[:start])) {
			return false
		}
	}
	return true
}

// hasNumberBefore reports whether a text ends in a number: a unit follows one, and else is
// a heading.
func hasNumberBefore(text []byte) bool {
	text = bytes.TrimRight(text, " ")
	return len(text) > 0 && kinds[text[len(text)-1]]&(digit|point) != 0
}

func isExponentLetter(word []byte) bool { return len(word) == 1 && kinds[word[0]] == letterE }

// isMissingWord reports whether a word stands for a missing point. Three dashes
// do too, but are no word here.
func isMissingWord(word []byte) bool {
	return len(word) == 3 && word[0]|0x20 == 'n' && word[1]|0x20 == 'a' && word[2]|0x20 == 'n'
}

// gluedUnit names the unit written behind a number, or returns "". The bytes
// may be UTF-8 or Latin-1.
func gluedUnit(word []byte) string {
	switch string(word) {
	case "nm":
		return "nm"
	case "um", "\u00b5m", "\u03bcm", "\xb5m":
		return "um"
	case "%":
		return "percent"
	}
	return ""
}
