package study

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Hides reports whether a character can hide, move or break the text around it: the
// control and format characters and the separators of lines and paragraphs, general
// categories Cc, Cf, Zl and Zp. Source: Unicode Standard Annex 44, table 12.
func Hides(c rune) bool {
	return unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// isPlain reports whether a text holds printable ASCII alone.
func isPlain(text string) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] >= 0x7f {
			return false
		}
	}
	return true
}

// CheckText says why a text may not go into a study as a code, a name, a note or a
// reason, and what to try: such a text is UTF-8 without characters that hide something, so
// that two that look alike differ in nothing of the kind and each stays in its line. fault
// is empty for a text that may.
func CheckText(text string) (fault, try string) {
	if isPlain(text) {
		return "", ""
	}
	for i, c := range text {
		switch _, size := utf8.DecodeRuneInString(text[i:]); {
		case c == utf8.RuneError && size == 1:
			return Quoted(text) + " is not UTF-8 text", "type it again"
		case Hides(c):
			fault = fmt.Sprintf("%s holds %U, %s", Quoted(text), c, kindOf(c))
			return fault, "type it again in one line, without that character"
		}
	}
	return "", ""
}

// CheckWords is [CheckText] for what a person writes, such as a reason: it must also be in
// normalisation form C, so that what looks alike is alike. Source: Unicode Standard Annex 15.
func CheckWords(text string) (fault, try string) {
	if fault, try = CheckText(text); fault != "" || norm.NFC.IsNormalString(text) {
		return fault, try
	}
	fault = strconv.QuoteToASCII(text)
	if strings.ContainsFunc(text, unicode.IsMark) {
		fault += " holds an accent as a character of its own"
	} else {
		fault += " holds a character that Unicode writes in another way too"
	}
	return fault, "type it again, or save it in Unicode normalisation form C (NFC)"
}

// CheckCode is [CheckWords] for a code or a name, which must not differ from another only
// in what is not seen: default-ignorable characters, and white space but the plain space.
func CheckCode(text string) (fault, try string) {
	if isPlain(text) {
		return "", ""
	}
	if fault, try = CheckText(text); fault != "" {
		return fault, try
	}
	for _, c := range text {
		switch {
		case isIgnorable(c):
			return fmt.Sprintf("%s holds %U, which is not seen", strconv.QuoteToASCII(text), c),
				"type it again, without that character"
		case c != ' ' && unicode.IsSpace(c):
			return fmt.Sprintf("%s holds %U, a space that is not the plain one", strconv.QuoteToASCII(text), c),
				"type it again, with plain spaces"
		}
	}
	return CheckWords(text)
}

// isIgnorable reports whether a character that [Hides] lets pass is not drawn: those of
// Default_Ignorable_Code_Point that are no format characters. Source: Unicode Character
// Database, DerivedCoreProperties.txt, which says of what the property is made.
func isIgnorable(c rune) bool {
	return unicode.In(c, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}

// kindOf names the category of a character that hides something.
func kindOf(c rune) string {
	switch {
	case unicode.Is(unicode.Cc, c):
		return "a control character"
	case unicode.Is(unicode.Cf, c):
		return "a format character, which is not seen"
	}
	return "a separator of lines"
}

// mostQuoted is how many characters of a text a message shows.
const mostQuoted = 60

// Quoted returns a text in quotation marks, cut if it is long, with escapes for what
// cannot be seen.
func Quoted(text string) string {
	n := 0
	for i := range text {
		if n == mostQuoted {
			return strconv.Quote(text[:i] + "...")
		}
		n++
	}
	return strconv.Quote(text)
}

// Shown returns a name that others chose, such as that of a file, as messages and tables
// show it: as it is, or in quotation marks with escapes if it holds what would hide
// something.
func Shown(name string) string {
	if isSafe(name) {
		return name
	}
	return strconv.Quote(name)
}

// OneLine returns a text with escapes in the place of what would hide something or begin
// another line, and all else as it is.
func OneLine(text string) string {
	if isSafe(text) {
		return text
	}
	var b strings.Builder
	for len(text) > 0 {
		c, size := utf8.DecodeRuneInString(text)
		piece := text[:size]
		if isSafe(piece) {
			b.WriteString(piece)
		} else {
			escaped := strconv.QuoteRune(c)
			if c == utf8.RuneError { // one byte that is no UTF-8
				escaped = strconv.Quote(piece)
			}
			b.WriteString(escaped[1 : len(escaped)-1])
		}
		text = text[size:]
	}
	return b.String()
}

// isSafe reports whether a text is UTF-8 that hides nothing.
func isSafe(text string) bool {
	return isPlain(text) || utf8.ValidString(text) && !strings.ContainsFunc(text, Hides)
}

// sheetMarks are characters that a cell of a CSV file must not begin with: spreadsheets
// take one that does for a formula or drop the character, and our own tables take a line
// that begins with # for a comment. Source of the first six: OWASP, CSV Injection (from
// memory).
const sheetMarks = "=+-@\t\r\n#"

// SheetText returns a text as a cell of a CSV file that a spreadsheet shows as text: in
// quotation marks with escapes, as [Shown], if it holds what would hide something; with an
// apostrophe before it if it begins with one of = + - @ #; and either way if it would be
// taken for such a cell itself. [FromSheet] undoes it, exactly.
func SheetText(text string) string {
	switch {
	case !isSafe(text) || isQuotation(text):
		return strconv.Quote(text)
	case isMarked(text) || isEscaped(text):
		return "'" + text
	}
	return text
}

// FromSheet returns the text that [SheetText] made a cell of. A cell that it cannot have
// made stays as it is.
func FromSheet(cell string) string {
	if isQuotation(cell) {
		text, _ := strconv.Unquote(cell) // it is one
		return text
	}
	if isEscaped(cell) {
		return cell[1:]
	}
	return cell
}

// isQuotation reports whether a cell is what [SheetText] makes of a text that holds what
// would hide something, or of such a cell.
func isQuotation(cell string) bool {
	if !strings.HasPrefix(cell, `"`) {
		return false
	}
	text, err := strconv.Unquote(cell)
	return err == nil && strconv.Quote(text) == cell && (!isSafe(text) || isQuotation(text))
}

func isMarked(text string) bool { return text != "" && strings.IndexByte(sheetMarks, text[0]) >= 0 }

// isEscaped reports whether a cell begins with the apostrophe of [SheetText].
func isEscaped(cell string) bool {
	return strings.HasPrefix(cell, "'") && (isMarked(cell[1:]) || strings.HasPrefix(cell[1:], "'"))
}
