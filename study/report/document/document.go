// Package document writes a report: one page of HTML that needs nothing else, and the tables of it as CSV.
//
// Start with a [Document] and write it with [Document.HTML]; [Document.Tables] has the tables for programs. The same
// document always gives the same bytes. The page has its style and its figures in it, no script, and names nothing
// outside it but the files of its tables, which lie beside it. It is light or dark as the reader's system is, and
// prints on whatever paper the browser has. On each printed page stand its number, the [Document.Foot] and the
// [Document.Notice].
//
// A text of others may be any text: it is shown and nothing else. Each part has a heading of level 2 and an anchor,
// each table a caption and the scope of its heads, each figure a text in place of it.
package document

import (
	"fmt"
	"regexp"
	"strings"

	"wane/study/report/paper"
)

// Document is a report.
type Document struct {
	Title  string
	About  []Fact // of the study, below the title
	Notice string // what must not be overlooked: above the parts, and on each printed page; empty: nothing
	Foot   string // at the foot of each printed page
	Parts  []Part
}

// Fact is a name with what it has.
type Fact struct{ Name, Value string }

// Part is a part of a document, with a heading.
type Part struct {
	Name   string // its anchor: small letters, digits and hyphens, once in a document
	Title  string
	Blocks []Block
}

// Block is what a part is made of.
type Block interface {
	kind() string // by which the page chooses how it is written
}

// Text is a paragraph.
type Text string

// Formula is a line of a formula, with its spaces.
type Formula string

// Heading is a heading within a part.
type Heading string

// Notice is a text that must not be overlooked.
type Notice string

// List is a list of texts.
type List []string

// Facts are names with what they have.
type Facts []Fact

// Tone is how a verdict looks beside its word, which alone must say it.
type Tone string

// The tones.
const (
	Good Tone = "good"
	Bad  Tone = "bad"
	Open Tone = "open"
)

// Verdict is what was decided.
type Verdict struct {
	About   string // what was judged, by which rule
	Word    string
	Tone    Tone
	Notices []string // what must not be overlooked of it
	Lines   []string
	Quote   string // the one sentence of it that may be quoted; empty: none may
}

// Table is a table.
type Table struct {
	Name    string // of its file, and its anchor: small letters, digits and hyphens, once in a document
	Caption string
	Columns []Column
	Rows    [][]string // with a cell for each column; the first one is the head of its row
	CSV     []byte     // the same for programs, all columns and all rows; nil: it has no file

	// Hidden says that the page only names the file, as it would be too long there.
	Hidden bool
}

// Column is a column of a table.
type Column struct {
	Head   string
	Number bool // its cells are numbers, which stand at its right end
	Whole  bool // no cell of it is broken into lines
	Code   bool // its cells are checksums and the like, which are broken anywhere
}

// class is how a cell of the column looks.
func (c Column) class() string {
	switch {
	case c.Number:
		return "number"
	case c.Code:
		return "code"
	case c.Whole:
		return "whole"
	}
	return ""
}

// Figure is a drawing.
type Figure struct {
	Name    string // its anchor
	Caption string
	Alt     string // what it shows, for who does not see it
	SVG     []byte // as study/report writes it
	True    bool   // its colours are what it shows: they stay as they are, also on a dark page
}

func (Text) kind() string    { return "text" }
func (Formula) kind() string { return "formula" }
func (Heading) kind() string { return "heading" }
func (Notice) kind() string  { return "notice" }
func (List) kind() string    { return "list" }
func (Facts) kind() string   { return "facts" }
func (Verdict) kind() string { return "verdict" }
func (Table) kind() string   { return "table" }
func (Figure) kind() string  { return "figure" }

var anchor = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)

// check panics on what the program that made the document did wrong: an anchor that is none or is there twice, and a
// row that has not a cell for each column.
func (d *Document) check() {
	seen := map[string]bool{}
	once := func(name string) {
		if !anchor.MatchString(name) || seen[name] {
			panic(fmt.Sprintf("document: %q is no anchor, or is there twice", name))
		}
		seen[name] = true
	}
	for i := range d.Parts {
		once(d.Parts[i].Name)
		for _, b := range d.Parts[i].Blocks {
			switch b := b.(type) {
			case Table:
				once("table-" + b.Name)
				for _, row := range b.Rows {
					if len(row) != len(b.Columns) {
						panic(fmt.Sprintf("document: a row of table %s has %d cells, not %d", b.Name, len(row), len(b.Columns)))
					}
				}
			case Figure:
				once("figure-" + b.Name)
			}
		}
	}
}

// Tables returns the tables that have a file, in the order of the page.
func (d *Document) Tables() (tables []Table) {
	for i := range d.Parts {
		for _, b := range d.Parts[i].Blocks {
			if t, is := b.(Table); is && t.CSV != nil {
				tables = append(tables, t)
			}
		}
	}
	return tables
}

// FileName is the name of the file of the table.
func (t Table) FileName() string { return t.Name + ".csv" }

// plain returns a text in which nothing hides.
func plain(text string) string { return strings.TrimSpace(paper.Plain(text)) }

// plainLines is plain for each line of a formula.
func plainLines(f Formula) string {
	lines := strings.Split(string(f), "\n")
	for i := range lines {
		lines[i] = paper.Plain(lines[i])
	}
	return strings.Join(lines, "\n")
}
