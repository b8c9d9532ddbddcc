package jcamp

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/text"
)

// JCAMP-DX is text in labelled records, ##LABEL= value, which blocks hold
// together: each begins with ##TITLE= and ends with ##END=. A LINK block holds
// other blocks. Sources, both from memory: R. S. McDonald, P. A. Wilks, Appl.
// Spectrosc. 42, 151-162 (1988), version 4.24; P. Lampen et al., Pure Appl. Chem. 71,
// 1549-1556 (1999), version 5.01 (IUPAC Recommendations 1999).

// Record is a labelled record: its label in capitals without padding, and the
// value in its first line without the comment.
type Record struct {
	Label, Value string
	Line         int // 0 if the block has none
}

func (c Record) At() text.Position { return text.Position{Line: c.Line} }

// Block is a block of the file.
type Block struct {
	Title   Record
	Records map[string]Record // those of jcampLabels
	Twice   Record            // the first of these that is repeated with another value
	Tables  []Rows
	inner   int    // blocks right inside it
	Lines   []Line // those that are no rows, from the one behind its title on
}

// Line is a line of a block as it was written.
type Line struct {
	Number   int
	Text     string
	IsRecord bool // of a label that is read
}

// Error says what is wrong with a file, where, and what to try.
type Error struct {
	At         text.Position
	Fault, Try string
	Choices    []study.Choice // that settle it too, each of them
}

func (e *Error) Error() string { return fmt.Sprintf("line %d: %s", e.At.Line, e.Fault) }

func refuse(at text.Position, try, fault string, args ...any) error {
	return &Error{At: at, Fault: fmt.Sprintf(fault, args...), Try: try}
}

func ask(at text.Position, choices []study.Choice, orElse, fault string, args ...any) error {
	return &Error{at, fmt.Sprintf(fault, args...), orElse, choices}
}

// Rows is a table of a block: its record, the bytes from the end of that line
// to the end of its last row, and the lines of the rows.
type Rows struct {
	Record
	start, end int
	Lines      text.Span
}

// File is the file, cut into blocks.
type File struct {
	src            text.Decoded
	Blocks         []*Block // as they begin
	Header, Footer []string // the lines that are no rows: up to the last table, behind it
	RowsAt         int      // number of the first line of rows, or 0
	Lines          []Line   // all that are no rows
}

// labels are the labels that are read. A block has one value for each.
var labels = []string{
	"TITLE", "DATATYPE", "BLOCKS", "NTUPLES", "XUNITS", "YUNITS", "XFACTOR", "YFACTOR", "NPOINTS",
	"DATE", "LONGDATE", "FIRSTX", "LASTX", "DELTAX", "MINX", "MAXX", "FIRSTY", "LASTY", "MINY", "MAXY", "POLARISATION",
	"ANGLE",
}

// MostInRecord bounds the values of these labels: far above any.
const MostInRecord = 4096

// tables are the labels of tables: what follows in further lines is rows.
var tables = []string{"XYDATA", "XYPOINTS", "PEAKTABLE", "PEAKASSIGNMENTS", "DATATABLE", "RADATA"}

func (b *Block) IsLink() bool {
	return b.Records["BLOCKS"].Line > 0 || strings.EqualFold(b.Records["DATATYPE"].Value, "LINK")
}

// Parse cuts a text into blocks and checks that each ends, and that LINK blocks hold
// as many as they say. name gives POLARISATION or ANGLE for a label of an instrument that is
// one of these, and other labels back as they are. Every error is a [*Error].
func Parse(src text.Decoded, name func(label string) string) (*File, error) {
	if text.IsBinary(src.Text) {
		return nil, refuse(text.Nowhere, text.SaveAsText, "the file is not text: it is full of control characters")
	}
	f := &File{src: src}
	var open []*Block
	var table *Rows
	kept, size := 0, 0
	for l := range text.Lines(src.Text, 1) {
		start := bytes.TrimLeft(l.Text, " \t")
		labelled := bytes.HasPrefix(start, []byte("##"))
		if table != nil && !labelled {
			table.end = l.Start + len(l.Text)
			if table.Lines.Last = l.Number; table.Lines.First == 0 {
				table.Lines.First = l.Number
			}
			continue
		}
		if table != nil {
			f.Header, f.Footer = append(f.Header, f.Footer...), nil
		}
		table = nil
		if kept++; kept > text.MaxTextLines {
			return nil, refuse(text.Position{Line: l.Number}, text.ExportAgain, "more than %s lines are not numbers",
				text.Figure(text.MaxTextLines))
		}
		if size += len(l.Text); size > text.MaxTextBytes {
			return nil, refuse(text.Position{Line: l.Number}, text.ExportAgain, "more than %d MiB are not numbers",
				text.MaxTextBytes>>20)
		}
		s := src.Line(l.Text)
		f.Footer = append(f.Footer, s)
		switch {
		case !labelled && len(open) == 0 && !bytes.HasPrefix(start, []byte("$$")):
			return nil, refuse(text.Position{Line: l.Number}, "delete what stands outside the blocks, or export the file again",
				"%s stands outside any block, behind its ##END=", text.Quoted(strings.TrimSpace(s)))
		case !labelled:
			f.keep(open, Line{Number: l.Number, Text: s})
			continue
		}
		c, err := readRecord(strings.TrimLeft(s, " \t")[2:], l.Number, name)
		if err != nil {
			return nil, err
		}
		f.keep(open, Line{l.Number, s, slices.Contains(labels, c.Label) || slices.Contains(tables, c.Label)})
		if open, err = nest(f, open, c); err != nil {
			return nil, err
		}
		if slices.Contains(tables, c.Label) {
			b := open[len(open)-1]
			end := l.Start + len(l.Text)
			b.Tables = append(b.Tables, Rows{c, end, end, text.Span{}})
			table = &b.Tables[len(b.Tables)-1]
			if f.RowsAt == 0 {
				f.RowsAt = l.Number + 1
			}
		}
	}
	if n := len(open); n > 0 {
		return nil, refuse(open[n-1].Title.At(), "copy the file again from the instrument",
			"the block that begins here has no ##END=: the file was cut short")
	}
	return f, nil
}

// keep keeps a line of the block that is open, or of none.
func (f *File) keep(open []*Block, l Line) {
	f.Lines = append(f.Lines, l)
	if n := len(open); n > 0 {
		open[n-1].Lines = append(open[n-1].Lines, l)
	}
}

// readRecord reads a line behind its ##. The record with no label, ##=, is a
// comment.
func readRecord(s string, number int, name func(label string) string) (Record, error) {
	label, value, ok := strings.Cut(s, "=")
	if !ok {
		return Record{}, refuse(text.Position{Line: number}, text.ExportAgain+", or correct the line",
			"##%s has no =: it is no labelled record", text.Short(s))
	}
	value, _, _ = strings.Cut(value, "$$")
	c := Record{Value: strings.TrimSpace(value), Line: number}
	if len(label) <= 64 { // no label that is read is longer
		c.Label = bareLabel(label)
	}
	if len(c.Value) > MostInRecord && slices.Contains(labels, c.Label) {
		return Record{}, refuse(c.At(), "shorten the line", "##%s= contains more than %s bytes", c.Label,
			text.Figure(MostInRecord))
	}
	c.Label = name(c.Label)
	return c, nil
}

// Is reports whether the first record is a TITLE, however its label is written;
// comments may stand before it.
func Is(content []byte) bool {
	for l := range text.Lines(content[:min(len(content), 4096)], 1) {
		t := bytes.TrimLeft(l.Text, " \t")
		if len(t) == 0 || bytes.HasPrefix(t, []byte("$$")) {
			continue
		}
		label, _, ok := bytes.Cut(t, []byte("="))
		return ok && bytes.HasPrefix(label, []byte("##")) && bareLabel(string(label[2:])) == "TITLE"
	}
	return false
}

// bareLabel returns a label as the standard compares it: in capitals, without
// spaces, dashes, underscores and slashes.
func bareLabel(label string) string {
	return strings.Map(func(c rune) rune {
		switch c {
		case ' ', '\t', '-', '_', '/':
			return -1
		}
		return c
	}, strings.ToUpper(label))
}

// nest puts a record into the block that is open, opens one or closes it.
func nest(f *File, open []*Block, c Record) ([]*Block, error) {
	last := len(open) - 1
	switch {
	case c.Label == "TITLE":
		if last >= 0 && !open[last].IsLink() {
			return nil, refuse(c.At(), text.ExportAgain, "a block begins here, but the one of line %d has no ##END= before it",
				open[last].Title.Line)
		}
		if last >= 0 {
			open[last].inner++
		}
		b := &Block{Title: c, Records: map[string]Record{}}
		f.Blocks = append(f.Blocks, b)
		return append(open, b), nil
	case last < 0:
		return nil, refuse(c.At(), text.ExportAgain,
			"##%s= stands outside any block: blocks begin with ##TITLE= and end with ##END=", text.Short(c.Label))
	case c.Label == "END":
		return open[:last], open[last].checkBlocks()
	case !slices.Contains(labels, c.Label):
		return open, nil
	}
	b := open[last]
	switch before, twice := b.Records[c.Label]; {
	case !twice:
		b.Records[c.Label] = c
	case before.Value != c.Value && b.Twice.Line == 0:
		b.Twice = c
	}
	return open, nil
}

// checkBlocks checks what ##BLOCKS= of a LINK block says: how many blocks stand
// right inside it.
func (b *Block) checkBlocks() error {
	c := b.Records["BLOCKS"]
	switch {
	case !b.IsLink():
		return nil
	case c.Line == 0:
		return refuse(b.Title.At(), text.ExportAgain,
			"the LINK block has no ##BLOCKS=, so it cannot be checked that it is whole")
	case len(b.Tables) > 0:
		return refuse(b.Tables[0].At(), text.ExportAgain, "a table stands right inside the LINK block of line %d",
			b.Title.Line)
	}
	if d, n := readDecimal([]byte(c.Value), false); n == 0 || n < len(c.Value) || d.float() != float64(b.inner) {
		return refuse(c.At(), text.ExportAgain, "##BLOCKS= says %s, the LINK block contains %s", text.Quoted(c.Value),
			text.Count(b.inner, "block"))
	}
	return nil
}
