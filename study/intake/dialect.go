package intake

import "wane/study/intake/text"

// dialect is how a row splits into cells and how a number is written. With commas
// for both, a comma separates only before a space or beside a quote: 512,5, 4,07
// and "512,5","4,07" are two cells. In 512,5,4,07 every comma looks the same, so
// that joined says which of them are decimal marks.
type dialect struct {
	sep, mark byte
	thousands byte   // between groups of three digits, or 0
	stated    bool   // a person says what the decimal mark is
	joined    uint64 // bit k: the comma number k of a row, from 0, is a decimal mark
}

var (
	commaPoint  = dialect{sep: ',', mark: '.'}
	spacesPoint = dialect{sep: ' ', mark: '.'}
)

func (d dialect) separatorInWords() string {
	switch d.sep {
	case '\t':
		return "tab"
	case ';':
		return "semicolon"
	case ',':
		return "comma"
	}
	return "spaces"
}

func (d dialect) markInWords() string { return markInWords(d.mark) }

func markInWords(c byte) string {
	switch c {
	case ',':
		return "comma"
	case ' ':
		return "space"
	}
	return "point"
}

// inWords writes a reading out: semicolon, decimal comma, thousands point.
func (d dialect) inWords() string {
	text := d.separatorInWords() + ", decimal " + d.markInWords()
	if d.thousands != 0 {
		text += ", thousands " + markInWords(d.thousands)
	}
	return text
}

// parse reads a number as [text.ParseNumber] does, with marks between thousands if
// the dialect has them.
func (d dialect) parse(content []byte, shift int) (float64, int) {
	v, n := text.ParseNumber(content, d.mark, shift)
	if d.thousands == 0 || n == len(content) || content[n] != d.thousands {
		return v, n
	}
	end := grouped(content, d.thousands)
	if end == 0 {
		return 0, 0
	}
	var room [64]byte
	plain := room[:0]
	for _, c := range content[:end] {
		if c != d.thousands {
			plain = append(plain, c)
		}
	}
	plain = append(plain, content[end:]...)
	v, n = text.ParseNumber(plain, d.mark, shift)
	return v, n + len(content) - len(plain)
}

// grouped returns where the groups of a number such as 1.204 or -12,345,678 end,
// or 0 if it has none: one to three digits and then three each.
func grouped(text []byte, mark byte) int {
	i := 0
	if i < len(text) && (text[i] == '-' || text[i] == '+') {
		i++
	}
	first := i
	for i < len(text) && text[i]-'0' <= 9 {
		i++
	}
	if i == first || i > first+3 {
		return 0
	}
	groups := 0
	for i < len(text) && text[i] == mark {
		n := 0
		for i+1+n < len(text) && text[i+1+n]-'0' <= 9 {
			n++
		}
		if n != 3 {
			return 0
		}
		i += 4
		groups++
	}
	if groups == 0 {
		return 0
	}
	return i
}
