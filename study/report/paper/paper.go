// Package paper writes pages to print: one content, as PDF and as HTML.
//
// Start with a [Document] and write it with [Document.PDF] or [Document.HTML]. The same document always gives the same
// bytes. Both are whole by themselves: the PDF has its fonts, and the HTML names nothing outside it.
//
// Lengths are in mm. A text of others may be any text: characters that are not printed become spaces, so that none
// hides, moves or breaks what stands around it. The PDF is set in Liberation Sans, which has Latin, Greek, Cyrillic and
// Hebrew letters; Document.PDF returns the characters that the font does not have, in whose place it draws a box.
//
// Two-dimensional codes are QR codes (ISO/IEC 18004) that hold their text and nothing else, at error correction M,
// with the quiet zone of four modules that the standard asks for (from memory).
package paper

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"wane/study"
)

// Size is a size of paper.
type Size struct {
	Name          string
	Width, Height float64
	labels        Grid
}

// Sizes returns the sizes that there are. Source: ISO 216 for A4; letter is 8.5 by 11 inches (common practice, no
// source). Those of labels are of sheets that are sold everywhere: common practice, no source.
func Sizes() []Size {
	return []Size{
		{"a4", 210, 297, Grid{Columns: 3, Rows: 8, Width: 70, Height: 37, Top: 0.5, GapX: 0}},
		{"letter", 215.9, 279.4, Grid{Columns: 3, Rows: 10, Width: 66.675, Height: 25.4, Top: 12.7, Left: 4.7625, GapX: 3.175}},
	}
}

// Labels returns how labels lie on the paper.
func (s Size) Labels() Grid { return s.labels }

// Grid is how labels lie on a page, rows below one another without a gap.
type Grid struct {
	Columns, Rows   int
	Width, Height   float64 // of a label
	Left, Top, GapX float64 // of the first label; between columns
}

// Document is what is printed.
type Document struct {
	Title  string
	Footer string // at the end of each page, before its number; empty on pages of labels
	Size   Size
	Made   time.Time // for the PDF
	Blocks []Block
}

// Block is a part of a document.
type Block interface {
	pdf(p *pdfWriter) error
	html(h *htmlWriter) error
}

// Heading is a heading of level 1, which a document has once or once for each of its pages, or 2.
type Heading struct {
	Text  string
	Level int
}

// Text is a paragraph.
type Text string

// List is a list of texts, with numbers or dots.
type List struct {
	Items    []string
	Numbered bool
}

// Frame is a list of texts in a frame, for what must not be overlooked.
type Frame struct {
	Heading string
	Items   []string
}

// Fields are boxes to fill in by hand, two in a row. A field with a value is filled in.
type Fields []Field

// Field is one of them.
type Field struct{ Label, Value string }

// Choice are words of which one is ticked, by hand or already.
type Choice struct {
	Label  string
	Words  []string
	Chosen string // or empty
}

// Table is a table. Its head is on each page, and the rows of a group stay together if a page can hold them.
type Table struct {
	Columns []Column
	Groups  [][]Row
}

// Column is a column of a table.
type Column struct {
	Head  string
	Width float64 // share of the width of the page
}

// Row is a row of a table, with a cell for each column.
type Row []Cell

// Cell is a cell of a table.
type Cell struct {
	Text  string
	Bold  bool
	Boxes int  // small boxes to tick
	Key   bool // shown again where the group goes on on another page
	Down  bool // of the first row of a group: its text goes on in the cells below it, which are empty
}

// Banner is a code in large letters with its two-dimensional code beside it, and what is said of it.
type Banner struct {
	Code  string
	Below []string
}

// Labels are labels to stick on, some of a page being used up already.
type Labels struct {
	Skip   int
	Labels []Label
}

// Label is the label of one code.
type Label struct {
	Code  string // as text and as two-dimensional code
	Below []string
}

// NewPage begins a page.
type NewPage struct{}

// Plain returns a text with a space for each character that is not printed.
func Plain(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(text, "\uFFFD"))
}

// plain is Plain with one space between words.
func plain(text string) string { return strings.Join(strings.Fields(Plain(text)), " ") }

// Wrap breaks a text into lines of at most width, between words if that is possible. measure returns the width of a
// text. A text without a word gives one empty line.
func Wrap(text string, width float64, measure func(string) float64) []string {
	lines := []string{""}
	for word := range strings.FieldsSeq(text) {
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = word
		case measure(*last+" "+word) <= width:
			*last += " " + word
		default:
			lines = append(lines, word)
		}
		for measure(lines[len(lines)-1]) > width {
			head, tail := Cut(lines[len(lines)-1], width, measure)
			if tail == "" {
				break
			}
			lines[len(lines)-1] = head
			lines = append(lines, tail)
		}
	}
	return lines
}

// Cut returns the longest start of text that fits into width, at least one letter, and the rest.
func Cut(text string, width float64, measure func(string) float64) (head, tail string) {
	letters := []rune(text)
	n := 1
	for n < len(letters) && measure(string(letters[:n+1])) <= width {
		n++
	}
	return string(letters[:n]), string(letters[n:])
}

// tooLong refuses a code that is too long for a two-dimensional code of a side.
func tooLong(text string, side float64) error {
	return &study.Refusal{
		Fault: fmt.Sprintf("the code %s is too long for a two-dimensional code of %.0f mm, whose points must be at least %g mm",
			study.Shown(text), side, leastModule),
		Try: "use a shorter code, or print no label for it",
	}
}
