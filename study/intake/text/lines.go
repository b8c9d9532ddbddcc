package text

import (
	"bytes"
	"iter"
)

// Marks is a set of kinds of bytes.
type Marks uint16

const (
	Digit Marks = 1 << iota
	Sign
	Point
	Comma
	Semicolon
	Tab
	Space
	Quote
	LetterE // of an exponent
	nul
	other
)

// Kinds gives the kind of every byte.
var Kinds = func() (k [256]Marks) {
	for i := range k {
		k[i] = other
	}
	for c := '0'; c <= '9'; c++ {
		k[c] = Digit
	}
	for c, kind := range map[byte]Marks{
		'+': Sign, '-': Sign, '.': Point, ',': Comma, ';': Semicolon, '\t': Tab, ' ': Space,
		'"': Quote, 'e': LetterE, 'E': LetterE, 0: nul,
	} {
		k[c] = kind
	}
	return k
}()

// Line is one line of the text that is not blank.
type Line struct {
	Number int    // from 1
	Start  int    // of its bytes in the text
	Text   []byte // without the line ending
}

// Span is the first and the last of lines.
type Span struct{ First, Last int }

// Lines yields the lines of text that are not blank. The first line of text has
// the number given. CRLF, LF and a lone CR each end a line.
func Lines(text []byte, number int) iter.Seq[Line] {
	return func(yield func(Line) bool) {
		feed, back := -1, -1 // the next LF and the next CR at or after pos
		for pos := 0; pos < len(text); number++ {
			if feed < pos {
				feed = IndexFrom(text, pos, '\n')
			}
			if back < pos {
				back = IndexFrom(text, pos, '\r')
			}
			end, after := feed, feed+1
			if back < feed {
				end = back
				if end+1 < feed || feed == len(text) {
					after = end + 1 // a lone CR
				}
			}
			if content := text[pos:end]; !isBlank(content) && !yield(Line{number, pos, content}) {
				return
			}
			pos = after
		}
	}
}

// IndexFrom returns where c stands in text at or after pos, len(text) if
// nowhere.
func IndexFrom(text []byte, pos int, c byte) int {
	if i := bytes.IndexByte(text[pos:], c); i >= 0 {
		return pos + i
	}
	return len(text)
}

// These bound what is kept beside the numbers. The longest header seen in 60
// exports had 86 lines, the longest log after the data 846.
const (
	MaxTextLines = 20_000
	MaxTextBytes = 8 << 20
)

// isBlank reports whether a line holds nothing but white space.
func isBlank(text []byte) bool {
	for _, c := range text {
		if c != ' ' && c != '\t' {
			return false
		}
	}
	return true
}

// KindsIn returns the kinds of the bytes of a line.
func KindsIn(text []byte) Marks {
	k := &Kinds
	var seen, also Marks // two, so that one need not wait for the other
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

// Padding reports whether c pads a cell in lines separated by sep.
func Padding(c, sep byte) bool { return c == ' ' || c == '\t' && sep != '\t' }

// TrimCell takes the padding off both ends of b.
func TrimCell(b []byte, sep byte) []byte {
	for len(b) > 0 && Padding(b[0], sep) {
		b = b[1:]
	}
	for len(b) > 0 && Padding(b[len(b)-1], sep) {
		b = b[:len(b)-1]
	}
	return b
}

// IsNumbers reports whether a line could be a row: it starts with a number (or,
// in a row that only goes on, with a separator) and holds nothing but numbers,
// separators, missing values and units glued to numbers. Whether it is one is
// decided later, with the separator known.
func IsNumbers(line []byte, seen Marks) (row, startsRow bool) {
	if seen&Digit == 0 {
		return false, false
	}
	body := TrimCell(line, 0)
	first := Kinds[body[0]]
	startsRow = first&(Digit|Sign|Point|Quote) != 0 && !bytes.HasPrefix(body, []byte(`""`))
	if !startsRow && first&(Tab|Comma|Semicolon|Quote) == 0 && line[0] != '\t' {
		return false, false
	}
	if seen&other != 0 && !onlyNumberWords(body) {
		return false, false
	}
	if seen&(Tab|Comma|Semicolon) == 0 && bytes.IndexByte(body, ' ') < 0 {
		return false, false
	}
	return true, startsRow && line[0] != '\t'
}

// onlyNumberWords reports whether every word of a line can stand in a row.
func onlyNumberWords(line []byte) bool {
	const wordy = other | LetterE
	for i := 0; i < len(line); {
		if Kinds[line[i]]&wordy == 0 {
			i++
			continue
		}
		start := i
		for i < len(line) && Kinds[line[i]]&wordy != 0 {
			i++
		}
		word := line[start:i]
		if !isExponentLetter(word) && !IsMissingWord(word) && (GluedUnit(word) == "" || !hasNumberBefore(line[:start])) {
			return false
		}
	}
	return true
}

// hasNumberBefore reports whether a text ends in a number: a unit follows one, and else is
// a heading.
func hasNumberBefore(text []byte) bool {
	text = bytes.TrimRight(text, " ")
	return len(text) > 0 && Kinds[text[len(text)-1]]&(Digit|Point) != 0
}

func isExponentLetter(word []byte) bool { return len(word) == 1 && Kinds[word[0]] == LetterE }

// IsMissingWord reports whether a word stands for a missing point. Three dashes
// do too, but are no word here.
func IsMissingWord(word []byte) bool {
	return len(word) == 3 && word[0]|0x20 == 'n' && word[1]|0x20 == 'a' && word[2]|0x20 == 'n'
}

// GluedUnit names the unit written behind a number, or returns "". The bytes
// may be UTF-8 or Latin-1.
func GluedUnit(word []byte) string {
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
