package intake

import "bytes"

// marks is a set of kinds of bytes.
type marks uint16

const (
	markDigit marks = 1 << iota
	markSign
	markPoint
	markComma
	markSemicolon
	markTab
	markSpace
	markQuote
	markE // of an exponent
	markNUL
	markOther
)

// byteMarks gives the kind of every byte.
var byteMarks = func() (k [256]marks) {
	for i := range k {
		k[i] = markOther
	}
	for c := '0'; c <= '9'; c++ {
		k[c] = markDigit
	}
	for c, kind := range map[byte]marks{
		'+': markSign, '-': markSign, '.': markPoint, ',': markComma, ';': markSemicolon, '\t': markTab, ' ': markSpace,
		'"': markQuote, 'e': markE, 'E': markE, 0: markNUL,
	} {
		k[c] = kind
	}
	return k
}()

// marksIn returns the kinds of the bytes of a line.
func marksIn(text []byte) marks {
	k := &byteMarks
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

// isPadding reports whether c pads a cell in lines separated by sep.
func isPadding(c, sep byte) bool { return c == ' ' || c == '\t' && sep != '\t' }

// trimCell takes the padding off both ends of b.
func trimCell(b []byte, sep byte) []byte {
	for len(b) > 0 && isPadding(b[0], sep) {
		b = b[1:]
	}
	for len(b) > 0 && isPadding(b[len(b)-1], sep) {
		b = b[:len(b)-1]
	}
	return b
}

// mayBeRow reports whether a line could be a row: it starts with a number (or,
// in a row that only goes on, with a separator) and holds nothing but numbers,
// separators, missing values and units glued to numbers. Whether it is one is
// decided later, with the separator known.
func mayBeRow(line []byte, seen marks) (row, startsRow bool) {
	if seen&markDigit == 0 {
		return false, false
	}
	body := trimCell(line, 0)
	first := byteMarks[body[0]]
	startsRow = first&(markDigit|markSign|markPoint|markQuote) != 0 && !bytes.HasPrefix(body, []byte(`""`))
	if !startsRow && first&(markTab|markComma|markSemicolon|markQuote) == 0 && line[0] != '\t' {
		return false, false
	}
	if seen&markOther != 0 && !onlyNumberWords(body) {
		return false, false
	}
	if seen&(markTab|markComma|markSemicolon) == 0 && bytes.IndexByte(body, ' ') < 0 {
		return false, false
	}
	return true, startsRow && line[0] != '\t'
}

// onlyNumberWords reports whether every word of a line can stand in a row.
func onlyNumberWords(line []byte) bool {
	const wordy = markOther | markE
	for i := 0; i < len(line); {
		if byteMarks[line[i]]&wordy == 0 {
			i++
			continue
		}
		start := i
		for i < len(line) && byteMarks[line[i]]&wordy != 0 {
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
	return len(text) > 0 && byteMarks[text[len(text)-1]]&(markDigit|markPoint) != 0
}

func isExponentLetter(word []byte) bool { return len(word) == 1 && byteMarks[word[0]] == markE }

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
