// Package intake reads the text exports of instruments.
//
// [Read] takes the bytes of one file and returns its spectra, or a
// [*study.Refusal] that says what is wrong, where, and what to try. It takes
// delimited text: columns of numbers below any kind of header, separated by
// commas, tabs, semicolons or spaces, with a decimal point or comma.
//
// Nothing is guessed: a unit or a quantity comes from the words of the file or
// from [text.Stated], never from the size of the numbers; if the two contradict each
// other the file is refused. Nothing is lost in silence: each row of the block
// of numbers is read, or the file is refused with the line that could not be.
// What was taken and is worth telling is in [Export.Notes].
//
// Wavelengths are in nm as written: the difference between air and vacuum is
// not corrected. Values are fractions. Percent and micrometres are converted
// in decimal, so 4.12 % is the float64 nearest to 0.0412.
package intake

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/intake/jcamp"
	"wane/study/intake/text"
)

// ReaderVersion belongs into every digest of what was read. Raise it whenever the
// same bytes and statements could be read otherwise than before: to other numbers,
// units, quantities, angles, polarisations or columns, or refused where they were
// taken.
const ReaderVersion = 4

// Export is what one file holds.
type Export struct {
	Name   string
	SHA256 [32]byte // of the bytes given

	// What was found, in words. Encoding names the text encoding; Separator is
	// comma, tab, semicolon or spaces; Decimal is point or comma.
	Encoding, Separator, Decimal string
	WavelengthUnit               string // as in the file or stated: nm, um or cm-1
	Unit                         string // fraction, percent, or mixed

	// Header and Footer are the lines before and after the rows that are not
	// blank, in UTF-8. HeaderLines counts all lines before the first row.
	HeaderLines    int
	Header, Footer []string
	Rows           int

	// FirstLine and LastLine are those of the numbers, from 1: of all that were read,
	// with what stands between them. [Export.LinesOf] tells of one curve.
	FirstLine, LastLine int
	lines               map[int]text.Span      // of columns whose numbers stand in fewer lines
	faults              map[int]*study.Refusal // of columns left that cannot be used

	ByRow bool // each curve was a row of the file, or a group of rows

	// Date is the line of the header that gives the day of the measurement, as
	// written, and Day the same as 2026-03-31 if it leaves no doubt: 03/04/26 does.
	Date, Day  string
	RelativeTo string // as stated

	// Spectra are the curves, in the order of their columns, with wavelengths in
	// nm, strictly increasing, and values as fractions. AngleDeg is NaN if the
	// heading gives none. Polarisation is s, p or u if the heading or the header
	// states it in words that leave no doubt, and else empty. Quantity is
	// study.Transmittance where the file says so. Spectra that miss no point share
	// one NM slice, which must not be changed.
	Spectra []study.Spectrum
	Left    []Left // columns not taken, each told in Notes as well
	Notes   []string
}

// LinesOf returns the first and the last line that the numbers of a column stand in,
// by the number that its spectrum has. A curve that was a row has that row, one of a
// long form the lines from its first row to its last, which those of others may stand
// between, and one of a JCAMP-DX file the rows of its block. Wavelengths that curves
// share may stand elsewhere.
func (x *Export) LinesOf(column int) (first, last int) {
	if s, ok := x.lines[column]; ok {
		return s.First, s.Last
	}
	return x.FirstLine, x.LastLine
}

// reader is one file on its way.
type reader struct {
	located
	lines  map[int]text.Span
	faults map[int]*study.Refusal

	found plan // what was understood of the columns, for [Explain]
}

func newReader(name string, stated text.Stated) *reader {
	r := &reader{}
	r.asker = &asker{Asker: text.Asker{File: name, Stated: stated}}
	return r
}

// Read parses one export held in data, which it neither changes nor keeps. name
// is used in messages. Every error is a [*study.Refusal]. It needs at most 200
// MB for a file of 100 MB.
func Read(name string, data []byte, stated text.Stated) (*Export, error) {
	return newReader(name, stated).read(data)
}

func (r *reader) read(data []byte) (*Export, error) {
	var err error
	if r.want, err = r.Understand(); err != nil {
		return nil, err
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, r.Refuse(text.Nowhere, text.ExportAgain, "the file is empty")
	}
	if r.src, err = r.Decode(data); err != nil {
		return nil, err
	}
	if jcamp.Is(r.src.Text) {
		return r.readJCAMP(data)
	}
	if err := r.chooseBlock(); err != nil {
		return nil, err
	}
	export, err := r.readForm()
	if err != nil {
		return nil, err
	}
	export.SHA256 = sha256.Sum256(data)
	return export, nil
}

// readBlock reads the rows of the block with what stands around them.
func (r *reader) readBlock() (*Export, error) {
	var err error
	if r.dialect, err = r.findDialect(); err != nil {
		return nil, err
	}
	width := r.findWidth()
	if err := r.checkSize(width); err != nil {
		return nil, err
	}
	before, after, err := r.surroundings(width)
	if err != nil {
		return nil, err
	}
	p, err := r.plan(before, width)
	if err != nil {
		return nil, err
	}
	t, err := r.readRows(p.layout())
	if err != nil {
		return nil, err
	}
	return r.build(p, t, before, after)
}

// surroundings returns the lines around the block, none of which is data.
func (r located) surroundings(width int) (before, after []outsideLine, err error) {
	if before, err = r.outside(r.window.start, r.block.start, r.window.line); err != nil {
		return nil, nil, err
	}
	if after, err = r.outside(r.block.end, r.window.end, r.block.last); err != nil {
		return nil, nil, err
	}
	if len(before) > 0 {
		if err := r.checkStuck(before[len(before)-1], width); err != nil {
			return nil, nil, err
		}
	}
	if err := r.checkBefore(before, width); err != nil {
		return nil, nil, err
	}
	return before, after, r.checkAfter(after, width)
}

// plan decides what the columns hold.
func (r grid) plan(before []outsideLine, width int) (plan, error) {
	if err := r.askNumbers(before, width); err != nil {
		return plan{}, err
	}
	h, rest, err := r.findHeading(before, width)
	if err != nil {
		return plan{}, err
	}
	if h.line > 0 {
		h.labels[0] = ofCorner(h.labels[0])
	}
	h.doubtLetters()
	stated, err := r.readHeader(rest)
	if err != nil {
		return plan{}, err
	}
	return r.planColumns(h, stated, r.kindsOf(width))
}

// build makes an export of the table.
func (r *reader) build(p plan, t table, before, after []outsideLine) (*Export, error) {
	defer func() { r.found = p }()
	if err := r.checkScans(&p, t); err != nil {
		return nil, err
	}
	t = r.joinScans(&p, t)
	elsewhere, err := r.noteOthersElsewhere(&p.stated, after)
	if err != nil {
		return nil, err
	}
	p.notes = append(p.notes, r.notesOnOverruled(slices.Concat(before, after, elsewhere))...)
	for _, step := range []func(*plan, table) error{r.readAxes, r.sift, r.ask, r.checkOthers, r.checkDeclared, r.finishAxes} {
		if err := step(&p, t); err != nil {
			return nil, err
		}
	}
	spectra, left, notes, err := r.spectra(p, t)
	if err != nil {
		return nil, err
	}
	if t.rows == 1 {
		return nil, r.Refuse(text.Position{Line: r.block.line}, text.ExportAgain, "this is the only row of numbers: one point is no spectrum")
	}
	return &Export{
		Name: r.File, Encoding: r.src.Encoding, Separator: r.dialect.separatorInWords(), Decimal: r.dialect.markInWords(),
		WavelengthUnit: p.axis, Unit: p.unit(),
		HeaderLines: r.block.line - 1, Header: textOf(before), Footer: textOf(after), Rows: r.block.rows, ByRow: p.byRow,
		FirstLine: r.block.line, LastLine: r.block.last, lines: r.lines, faults: r.faults,
		Date: p.stated.date.text, Day: p.stated.date.day, RelativeTo: r.Stated.RelativeTo,
		Spectra: spectra, Left: left, Notes: append(r.fileNotes(p, left, after), notes...),
	}, nil
}

func textOf(lines []outsideLine) []string {
	var texts []string
	for _, l := range lines {
		texts = append(texts, l.text)
	}
	return texts
}

// fileNotes says what was taken silently from the file as a whole.
func (r decoded) fileNotes(p plan, left []Left, after []outsideLine) []string {
	notes := p.notes
	if r.src.Latin1 {
		notes = append(notes, "the text is not UTF-8 and was read as Latin-1")
	}
	for _, l := range left {
		notes = append(notes, fmt.Sprintf("column %d (%s) is left out: %s", l.Column, l.Heading, l.Why))
	}
	notes = append(notes, p.stated.date.notes()...)
	if h := p.stated; h.reference != "" && h.relative == text.Nowhere && r.Stated.RelativeTo == "" {
		notes = append(notes, text.Quoted(h.reference)+" does not say whether the reflectance of the reference is accounted for; the values were taken as absolute")
	}
	if to := r.Stated.RelativeTo; to != "" && to != "absolute" {
		notes = append(notes, "the values stay relative to "+text.Quoted(to)+", as stated")
	}
	if len(after) > 0 {
		notes = append(notes, fmt.Sprintf("%s after the rows kept as text: %s", text.Count(len(after), "line"), text.Quoted(after[0].text)))
	}
	return notes
}
