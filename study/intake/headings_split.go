package intake

import (
	"strings"
	"unicode"

	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// headCell is one cell of a heading row.
type headCell struct {
	text string // trimmed
	at   int    // where it starts, in bytes of the line
}

// mostHeadings is how many bytes a line of headings may have: 100 a column.
const mostHeadings = 100 * text.MaxColumns

// splitHeading splits a line into the headings of width columns, or returns
// nil. Headings need not be separated as the rows are, so the separator of the
// rows is tried first and others after it; with spaces, a unit or an angle is
// joined to the name before it.
func splitHeading(text string, d dialect, width int) []headCell {
	if len(text) > mostHeadings {
		return nil
	}
	body, from := cutCommentMark(text, d.sep)
	if d.sep != ' ' {
		if cells := fitted(cutCells(body, d.sep), width, true); cells != nil {
			return moved(cells, from)
		}
	}
	if strings.ContainsAny(body, ":=") {
		return nil // a key and a value
	}
	for _, sep := range []byte{'\t', ';', ','} {
		if cells := fitted(cutCells(body, sep), width, false); cells != nil {
			return moved(cells, from)
		}
	}
	for _, cells := range [][]headCell{wideGaps(body), joined(words(body), width)} {
		if cells = fitted(cells, width, false); cells != nil {
			return moved(cells, from)
		}
	}
	return nil
}

// cutCommentMark drops the mark of a comment that a column row may carry, and
// says how many bytes it took. A mark in a cell of its own is a heading.
func cutCommentMark(text string, sep byte) (string, int) {
	for _, mark := range []string{"#", "//", "!", "*", "% ", ";"} {
		rest, ok := strings.CutPrefix(text, mark)
		if ok && mark != string(sep) && rest != "" && (sep == ' ' || rest[0] != sep) {
			return rest, len(mark)
		}
	}
	return text, 0
}

func moved(cells []headCell, by int) []headCell {
	for i := range cells {
		cells[i].at += by
	}
	return cells
}

// fitted returns the cells if they are as many as the columns, but for empty
// ones at the end. If short is true, cells may be missing at the end.
func fitted(cells []headCell, width int, short bool) []headCell {
	for len(cells) > width && cells[len(cells)-1].text == "" {
		cells = cells[:len(cells)-1]
	}
	for short && len(cells) >= 2 && len(cells) < width {
		cells = append(cells, headCell{at: cells[len(cells)-1].at})
	}
	if len(cells) != width {
		return nil
	}
	return cells
}

// cutCells splits at sep. A cell in double quotes may hold the separator (RFC
// 4180, section 2, rules 5 to 7); a quote that nothing closes is text.
func cutCells(text string, sep byte) []headCell {
	var cells []headCell
	for at := 0; ; {
		inner, end := cutCell(text[at:], sep)
		cells = append(cells, headCell{strings.TrimSpace(inner), at + indent(text[at:at+end])})
		at += end + 1
		if at > len(text) {
			return cells
		}
	}
}

// indent counts the bytes of padding before a cell, 0 if the cell is empty.
func indent(cell string) int {
	if strings.TrimSpace(cell) == "" {
		return 0
	}
	return len(cell) - len(strings.TrimLeftFunc(cell, unicode.IsSpace))
}

// cutCell returns the content of the first cell of text and where it ends.
func cutCell(text string, sep byte) (inner string, end int) {
	start := len(text) - len(strings.TrimLeft(text, " "))
	if strings.HasPrefix(text[start:], `"`) {
		d := dialect{sep: sep}
		if quoted, end, ok := d.quotedCell([]byte(text), start); ok {
			return strings.ReplaceAll(string(quoted), `""`, `"`), end
		}
	}
	if end = strings.IndexByte(text, sep); end >= 0 {
		return text[:end], end
	}
	return text, len(text)
}

// words splits at every run of white space.
func words(text string) []headCell { return gaps(text, 1) }

// wideGaps splits at two or more spaces.
func wideGaps(text string) []headCell { return gaps(text, 2) }

// gaps splits at runs of white space of the width given or more.
func gaps(text string, width int) []headCell {
	var cells []headCell
	start, end := -1, 0
	for i, c := range text {
		if unicode.IsSpace(c) {
			continue
		}
		if start >= 0 && i-end >= width {
			cells = append(cells, headCell{text[start:end], start})
			start = -1
		}
		if start < 0 {
			start = i
		}
		end = i + len(string(c))
	}
	if start >= 0 {
		cells = append(cells, headCell{text[start:end], start})
	}
	return cells
}

// mostWords is how many words one heading may have: G07 front R 8 deg ( % ).
const mostWords = 8

// joined joins words that belong together until width are left: first what
// is in brackets, then units, then deg, then words of polarisation, then a
// quantity, an angle and a polarisation to one another.
func joined(cells []headCell, width int) []headCell {
	if len(cells) > mostWords*width {
		return nil // prose
	}
	for _, belongs := range []func(before, word string) bool{
		inBrackets,
		func(_, word string) bool { return heading.Parse(word).OnlyUnit },
		func(before, word string) bool {
			return len(heading.Parse(before).Angles) == 0 && len(heading.Parse(before+" "+word).Angles) > 0
		},
		polarises,
		completes,
	} {
		if len(cells) <= width {
			break
		}
		cells = join(cells, belongs)
	}
	return cells
}

func join(cells []headCell, belongs func(before, word string) bool) []headCell {
	kept := cells[:0:0]
	for i, c := range cells {
		if i > 0 && belongs(kept[len(kept)-1].text, c.text) {
			kept[len(kept)-1].text += " " + c.text
			continue
		}
		kept = append(kept, c)
	}
	return kept
}

func inBrackets(before, word string) bool {
	return strings.ContainsAny(word[:1], "([{") ||
		strings.Count(before, "(") > strings.Count(before, ")") ||
		strings.Count(before, "[") > strings.Count(before, "]")
}

// polarises reports whether a word that states nothing by itself is one of
// polarisation behind something that states more: R s, 8 deg pol.
func polarises(before, word string) bool {
	_, only := heading.PolarisationIn(word)
	b := heading.Parse(word)
	return only && b.States() == 0 && b.Role == heading.AsValue && heading.Parse(before).States() != 0
}

// completes reports whether two words state different things of one column.
func completes(before, word string) bool {
	a, b := heading.Parse(before).States(), heading.Parse(word).States()
	return a != 0 && b != 0 && a&b == 0
}
