package intake

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

// record is a labelled record: its label in capitals without padding, and the
// value in its first line without the comment.
type record struct {
	label, value string
	line         int // 0 if the block has none
}

func (c record) at() text.Position { return text.Position{Line: c.line} }

// jcampBlock is a block of the file.
type jcampBlock struct {
	title   record
	records map[string]record // those of jcampLabels
	twice   record            // the first of these that stands again with another value
	tables  []jcampRows
	inner   int         // blocks right inside it
	lines   []jcampLine // those that are no rows, from the one behind its title on
}

// jcampLine is a line of a block as it was written.
type jcampLine struct {
	number   int
	text     string
	isRecord bool // of a label that is read
}

// jcampError says what is wrong with a file, where, and what to try.
type jcampError struct {
	at         text.Position
	fault, try string
	choices    []study.Choice // that settle it too, each of them
}

func (e *jcampError) Error() string { return fmt.Sprintf("line %d: %s", e.at.Line, e.fault) }

func refuseJCAMP(at text.Position, try, fault string, args ...any) error {
	return &jcampError{at: at, fault: fmt.Sprintf(fault, args...), try: try}
}

func askJCAMP(at text.Position, choices []study.Choice, orElse, fault string, args ...any) error {
	return &jcampError{at, fmt.Sprintf(fault, args...), orElse, choices}
}

// jcampRows is a table of a block: its record, the bytes from the end of that line
// to the end of its last row, and the lines of the rows.
type jcampRows struct {
	record
	start, end int
	lines      text.Span
}

// jcampFile is the file, cut into blocks.
type jcampFile struct {
	src            text.Decoded
	blocks         []*jcampBlock // as they begin
	header, footer []string      // the lines that are no rows: up to the last table, behind it
	rowsAt         int           // number of the first line of rows, or 0
	lines          []jcampLine   // all that are no rows
}

// jcampLabels are the labels that are read. A block has one value for each.
var jcampLabels = []string{
	"TITLE", "DATATYPE", "BLOCKS", "NTUPLES", "XUNITS", "YUNITS", "XFACTOR", "YFACTOR", "NPOINTS",
	"DATE", "LONGDATE", "FIRSTX", "LASTX", "DELTAX", "MINX", "MAXX", "FIRSTY", "LASTY", "MINY", "MAXY", "POLARISATION", "ANGLE",
}

// mostInRecord bounds the values of these labels: far above any.
const mostInRecord = 4096

// jcampTables are the labels of tables: what follows in further lines is rows.
var jcampTables = []string{"XYDATA", "XYPOINTS", "PEAKTABLE", "PEAKASSIGNMENTS", "DATATABLE", "RADATA"}

func (b *jcampBlock) isLink() bool {
	return b.records["BLOCKS"].line > 0 || strings.EqualFold(b.records["DATATYPE"].value, "LINK")
}

// parseJCAMP cuts a text into blocks and checks that each ends, and that LINK blocks hold
// as many as they say. name gives POLARISATION or ANGLE for a label of an instrument that is
// one of these, and other labels back as they are. Every error is a [*jcampError].
func parseJCAMP(src text.Decoded, name func(label string) string) (*jcampFile, error) {
	if text.IsBinary(src.Text) {
		return nil, refuseJCAMP(text.Nowhere, text.SaveAsText, "the file is not text: it is full of control characters")
	}
	f := &jcampFile{src: src}
	var open []*jcampBlock
	var table *jcampRows
	kept, size := 0, 0
	for l := range text.Lines(src.Text, 1) {
		start := bytes.TrimLeft(l.Text, " \t")
		labelled := bytes.HasPrefix(start, []byte("##"))
		if table != nil && !labelled {
			table.end = l.Start + len(l.Text)
			if table.lines.Last = l.Number; table.lines.First == 0 {
				table.lines.First = l.Number
			}
			continue
		}
		if table != nil {
			f.header, f.footer = append(f.header, f.footer...), nil
		}
		table = nil
		if kept++; kept > text.MaxTextLines {
			return nil, refuseJCAMP(text.Position{Line: l.Number}, text.ExportAgain, "more than %s lines are no numbers", text.Figure(text.MaxTextLines))
		}
		if size += len(l.Text); size > text.MaxTextBytes {
			return nil, refuseJCAMP(text.Position{Line: l.Number}, text.ExportAgain, "more than %d MiB are no numbers", text.MaxTextBytes>>20)
		}
		s := src.Line(l.Text)
		f.footer = append(f.footer, s)
		switch {
		case !labelled && len(open) == 0 && !bytes.HasPrefix(start, []byte("$$")):
			return nil, refuseJCAMP(text.Position{Line: l.Number}, "delete what stands outside the blocks, or export the file again",
				"%s stands outside any block, behind its ##END=", text.Quoted(strings.TrimSpace(s)))
		case !labelled:
			f.keep(open, jcampLine{number: l.Number, text: s})
			continue
		}
		c, err := jcampRecord(strings.TrimLeft(s, " \t")[2:], l.Number, name)
		if err != nil {
			return nil, err
		}
		f.keep(open, jcampLine{l.Number, s, slices.Contains(jcampLabels, c.label) || slices.Contains(jcampTables, c.label)})
		if open, err = nest(f, open, c); err != nil {
			return nil, err
		}
		if slices.Contains(jcampTables, c.label) {
			b := open[len(open)-1]
			end := l.Start + len(l.Text)
			b.tables = append(b.tables, jcampRows{c, end, end, text.Span{}})
			table = &b.tables[len(b.tables)-1]
			if f.rowsAt == 0 {
				f.rowsAt = l.Number + 1
			}
		}
	}
	if n := len(open); n > 0 {
		return nil, refuseJCAMP(open[n-1].title.at(), "copy the file again from the instrument", "the block that begins here has no ##END=: the file was cut short")
	}
	return f, nil
}

// keep keeps a line of the block that is open, or of none.
func (f *jcampFile) keep(open []*jcampBlock, l jcampLine) {
	f.lines = append(f.lines, l)
	if n := len(open); n > 0 {
		open[n-1].lines = append(open[n-1].lines, l)
	}
}

// jcampRecord reads a line behind its ##. The record with no label, ##=, is a
// comment.
func jcampRecord(s string, number int, name func(label string) string) (record, error) {
	label, value, ok := strings.Cut(s, "=")
	if !ok {
		return record{}, refuseJCAMP(text.Position{Line: number}, text.ExportAgain+", or correct the line", "##%s has no =: it is no labelled record", text.Short(s))
	}
	value, _, _ = strings.Cut(value, "$$")
	c := record{value: strings.TrimSpace(value), line: number}
	if len(label) <= 64 { // no label that is read is longer
		c.label = bareLabel(label)
	}
	if len(c.value) > mostInRecord && slices.Contains(jcampLabels, c.label) {
		return record{}, refuseJCAMP(c.at(), "shorten the line", "##%s= holds more than %s bytes", c.label, text.Figure(mostInRecord))
	}
	c.label = name(c.label)
	return c, nil
}

// isJCAMP reports whether the first record is a TITLE, however its label is written;
// comments may stand before it.
func isJCAMP(content []byte) bool {
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
func nest(f *jcampFile, open []*jcampBlock, c record) ([]*jcampBlock, error) {
	last := len(open) - 1
	switch {
	case c.label == "TITLE":
		if last >= 0 && !open[last].isLink() {
			return nil, refuseJCAMP(c.at(), text.ExportAgain, "a block begins here, but the one of line %d has no ##END= before it", open[last].title.line)
		}
		if last >= 0 {
			open[last].inner++
		}
		b := &jcampBlock{title: c, records: map[string]record{}}
		f.blocks = append(f.blocks, b)
		return append(open, b), nil
	case last < 0:
		return nil, refuseJCAMP(c.at(), text.ExportAgain, "##%s= stands outside any block: blocks begin with ##TITLE= and end with ##END=", text.Short(c.label))
	case c.label == "END":
		return open[:last], open[last].checkBlocks()
	case !slices.Contains(jcampLabels, c.label):
		return open, nil
	}
	b := open[last]
	switch before, twice := b.records[c.label]; {
	case !twice:
		b.records[c.label] = c
	case before.value != c.value && b.twice.line == 0:
		b.twice = c
	}
	return open, nil
}

// checkBlocks checks what ##BLOCKS= of a LINK block says: how many blocks stand
// right inside it.
func (b *jcampBlock) checkBlocks() error {
	c := b.records["BLOCKS"]
	switch {
	case !b.isLink():
		return nil
	case c.line == 0:
		return refuseJCAMP(b.title.at(), text.ExportAgain, "the LINK block has no ##BLOCKS=, so it cannot be told whether it is whole")
	case len(b.tables) > 0:
		return refuseJCAMP(b.tables[0].at(), text.ExportAgain, "a table stands right inside the LINK block of line %d", b.title.line)
	}
	if d, n := readDecimal([]byte(c.value), false); n == 0 || n < len(c.value) || d.float() != float64(b.inner) {
		return refuseJCAMP(c.at(), text.ExportAgain, "##BLOCKS= says %s, the LINK block holds %s", text.Quoted(c.value), text.Count(b.inner, "block"))
	}
	return nil
}
