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

// isPlain reports whether a text holds only printable ASCII.
func isPlain(text string) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] >= 0x7f {
			return false
		}
	}
	return true
}

// CheckText says why a text is not allowed in a study as a code, a name, a note or a reason,
// and what to try. An allowed text is UTF-8 without characters that hide something. Two
// texts that look the same then do not differ in such a character, and each stays in its
// line. fault is empty for an allowed text.
func CheckText(text string) (fault, try string) {
	if isPlain(text) {
		return "", ""
	}
	for i, c := range text {
		switch _, size := utf8.DecodeRuneInString(text[i:]); {
		case c == utf8.RuneError && size == 1:
			return quoted(text) + " is not UTF-8 text", "type it again"
		case Hides(c):
			fault = fmt.Sprintf("%s contains %U, %s", quoted(text), c, kindOf(c))
			return fault, "type it again in one line, without that character"
		}
	}
	return "", ""
}

// CheckWords is [CheckText] for a text that a person writes, such as a reason. It must also be
// in normalisation form C, in which equal characters have equal codes. Source: Unicode
// Standard Annex 15.
func CheckWords(text string) (fault, try string) {
	if fault, try = CheckText(text); fault != "" || norm.NFC.IsNormalString(text) {
		return fault, try
	}
	fault = strconv.QuoteToASCII(text)
	if strings.ContainsFunc(text, unicode.IsMark) {
		fault += " contains an accent as a character of its own"
	} else {
		fault += " contains a character that Unicode writes in another way too"
	}
	return fault, "type it again, or save it in Unicode normalisation form C (NFC)"
}

// CheckCode is [CheckWords] for a code or a name. Two codes must not differ only in
// characters that are not visible, so it also refuses default-ignorable characters and all
// white space except the plain space.
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
			return fmt.Sprintf("%s contains %U, which is not seen", strconv.QuoteToASCII(text), c),
				"type it again, without that character"
		case c != ' ' && unicode.IsSpace(c):
			return fmt.Sprintf("%s contains %U, a space that is not the plain one", strconv.QuoteToASCII(text), c),
				"type it again, with plain spaces"
		}
	}
	return CheckWords(text)
}

// isIgnorable reports whether a character is not drawn although [Hides] is false: it is in
// Default_Ignorable_Code_Point and is no format character. Source: Unicode Character
// Database, DerivedCoreProperties.txt, which defines the property.
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

// maxQuoted is the largest number of characters of a text in a message.
const maxQuoted = 60

// quoted returns a text in quotation marks, cut if it is long, with escapes for characters
// that are not visible.
func quoted(text string) string {
	n := 0
	for i := range text {
		if n == maxQuoted {
			return strconv.Quote(text[:i] + "...")
		}
		n++
	}
	return strconv.Quote(text)
}

// Shown returns a name that others chose, such as that of a file, as messages and tables
// show it: as it is, or in quotation marks with escapes if it holds characters that hide
// something.
func Shown(name string) string {
	if isSafe(name) {
		return name
	}
	return strconv.Quote(name)
}

// OneLine returns a text in which escapes replace the characters that hide something or begin
// another line.
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
			if c == utf8.RuneError { // one byte that is not UTF-8
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

// sheetMarks are the characters with which a cell of a CSV file must not begin. Spreadsheets
// treat such a cell as a formula or drop the character, and our own tables treat a line that
// begins with # as a comment. Source of the first six: OWASP, CSV Injection (from memory).
const sheetMarks = "=+-@\t\r\n#"

// SheetText returns the cell of a CSV file for a text, such that a spreadsheet shows it as
// text. The cell is in quotation marks with escapes, as by [Shown], if the text holds
// characters that hide something. It begins with an apostrophe if the text begins with one
// of = + - @ #. A text that already looks like such a cell is treated in the same way.
// [FromSheet] returns the text exactly.
func SheetText(text string) string {
	switch {
	case !isSafe(text) || isQuotation(text):
		return strconv.Quote(text)
	case isMarked(text) || isEscaped(text):
		return "'" + text
	}
	return text
}

// FromSheet returns the text of a cell that [SheetText] made. Other cells are returned as they
// are.
func FromSheet(cell string) string {
	if isQuotation(cell) {
		text, _ := strconv.Unquote(cell) // isQuotation has checked it
		return text
	}
	if isEscaped(cell) {
		return cell[1:]
	}
	return cell
}

// isQuotation reports whether a cell is the one that [SheetText] makes of a text with
// characters that hide something, or of such a cell.
func isQuotation(cell string) bool {
	if !strings.HasPrefix(cell, `"`) {
		return false
	}
	text, err := strconv.Unquote(cell)
	return err == nil && strconv.Quote(text) == cell && (!isSafe(text) || isQuotation(text))
}

// isMarked reports whether a text begins with one of sheetMarks.
func isMarked(text string) bool { return text != "" && strings.IndexByte(sheetMarks, text[0]) >= 0 }

// isEscaped reports whether a cell begins with the apostrophe of [SheetText].
func isEscaped(cell string) bool {
	return strings.HasPrefix(cell, "'") && (isMarked(cell[1:]) || strings.HasPrefix(cell[1:], "'"))
}
