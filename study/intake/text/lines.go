package text

import (
	"bytes"
	"iter"
)

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

// IndexFrom returns where c is in text at or after pos, len(text) if
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
