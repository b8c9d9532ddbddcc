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

// Read parses one export held in data, which it neither changes nor keeps. name
// is used in messages. Every error is a [*study.Refusal]. It needs at most 200
// MB for a file of 100 MB.
//
// These are the stages, each a function of what those before it found:
//
//	newAsker      what a person states, understood
//	decode        bytes -> text
//	chooseBlock   text -> the block of rows that is read
//	findForm      block -> which way the spectra stand, and the dialect that splits the rows
//	surroundings  form -> the lines around the rows
//	headings      lines -> a heading for each column, and what the header states
//	plan          headings -> what each column holds, and who says so
//	table         plan -> the numbers of all rows
//	export        table -> the curves that are meant, checked
//
// A JCAMP-DX file goes from decode to readJCAMP, which ends in the checks of export.
func Read(name string, data []byte, stated text.Stated) (*Export, error) {
	x, _, err := read(name, data, stated)
	return x, err
}

// way is what the stages have found, as far as they came.
type way struct {
	rows grid
	plan plan // of a table that was read
}

func read(name string, data []byte, stated text.Stated) (x *Export, w way, err error) {
	if w.rows.asker, err = newAsker(name, stated); err != nil {
		return nil, w, err
	}
	if w.rows.decoded, err = w.rows.decode(data); err != nil {
		return nil, w, err
	}
	if jcamp.Is(w.rows.src.Text) {
		x, err = w.rows.readJCAMP()
	} else {
		x, w, err = w.rows.readNumbers()
	}
	if err != nil {
		return nil, w, err
	}
	x.SHA256 = sha256.Sum256(data)
	return x, w, nil
}

// readNumbers reads rows of numbers below a header.
func (r decoded) readNumbers() (x *Export, w way, err error) {
	if w.rows.section, err = r.chooseBlock(); err != nil {
		return nil, w, err
	}
	f, g, err := w.rows.findForm()
	w.rows = g
	if err != nil {
		return nil, w, err
	}
	around, err := f.surroundings()
	if err != nil {
		return nil, w, err
	}
	h, err := f.headings(around)
	if err != nil {
		return nil, w, err
	}
	p, err := f.plan(h)
	if err != nil {
		return nil, w, err
	}
	t, err := f.table(h, p.layout())
	if err != nil {
		return nil, w, err
	}
	x, w.plan, err = f.located(h).export(p, t, h.around)
	return x, w, err
}

func newAsker(name string, stated text.Stated) (*asker, error) {
	a := &asker{Asker: text.Asker{File: name, Stated: stated}}
	var err error
	a.want, err = a.Understand()
	return a, err
}

// decode makes text of the bytes of a file.
func (r *asker) decode(data []byte) (decoded, error) {
	d := decoded{asker: r}
	if len(bytes.TrimSpace(data)) == 0 {
		return d, r.Refuse(text.Nowhere, text.ExportAgain, "the file is empty")
	}
	var err error
	d.src, err = r.Decode(data)
	return d, err
}

// columnsForm is wavelengths and values in columns.
type columnsForm struct {
	grid
	width int // cells of a row
}

// inColumns takes wavelengths and values in columns.
func (r section) inColumns() (form, grid, error) {
	g := grid{section: r}
	err := r.checkBlock()
	if err != nil {
		return nil, g, err
	}
	if g.dialect, err = r.findDialect(); err != nil {
		return nil, g, err
	}
	f := columnsForm{g, g.findWidth()}
	return f, g, r.checkSize(f.width)
}

func (r columnsForm) surroundings() (s surroundings, err error) {
	if s.before, err = r.outside(r.window.start, r.block.start, r.window.line); err != nil {
		return s, err
	}
	if s.after, err = r.outside(r.block.end, r.window.end, r.block.last); err != nil {
		return s, err
	}
	if len(s.before) > 0 {
		if err := r.checkStuck(s.before[len(s.before)-1], r.width); err != nil {
			return s, err
		}
	}
	if err := r.checkBefore(s.before, r.width); err != nil {
		return s, err
	}
	return s, r.checkAfter(s.after, r.width)
}

func (r columnsForm) headings(s surroundings) (headings, error) {
	if err := r.askNumbers(s.before, r.width); err != nil {
		return headings{}, err
	}
	h, rest, err := r.findHeading(s.before, r.width)
	if err != nil {
		return headings{}, err
	}
	if h.line > 0 {
		h.labels[0] = ofCorner(h.labels[0])
	}
	h.doubtLetters()
	stated, err := r.readHeader(rest)
	return headings{around: s, labelRow: h, stated: stated, kinds: r.kindsOf(r.width)}, err
}

func (r columnsForm) plan(h headings) (plan, error) {
	return r.planColumns(h.labelRow, h.stated, h.kinds)
}

func (r columnsForm) table(_ headings, l layout) (table, error) { return r.readRows(l) }

func (r columnsForm) located(headings) located { return located{grid: r.grid} }

// export makes an export of a table: it puts the wavelengths in order, decides which columns are
// the curves that are meant, asks what is still open, and checks what was read. The columns of t
// become those of the curves. It also returns the plan as far as it came.
func (r located) export(p plan, t table, around surroundings) (*Export, plan, error) {
	if err := r.checkScans(p, t); err != nil {
		return nil, p, err
	}
	r, p, t = r.joinScans(p, t)
	stated, elsewhere, err := r.noteOthersElsewhere(p.stated, around.after)
	if err != nil {
		return nil, p, err
	}
	p.stated = stated
	p.notes = append(p.notes, r.notesOnOverruled(slices.Concat(around.before, around.after, elsewhere))...)
	for _, step := range []func(plan, table) (plan, error){
		r.readAxes, r.sift, r.ask, r.checkOthers, r.checkDeclared, r.finishAxes,
	} {
		if p, err = step(p, t); err != nil {
			return nil, p, err
		}
	}
	out, err := r.spectra(p, t)
	if err != nil {
		return nil, p, err
	}
	if t.rows == 1 {
		return nil, p, r.Refuse(text.Position{Line: r.block.line}, text.ExportAgain, "this is the only row of numbers: one point is no spectrum")
	}
	return &Export{
		Name: r.File, Encoding: r.src.Encoding, Separator: r.dialect.separatorInWords(), Decimal: r.dialect.markInWords(),
		WavelengthUnit: p.axis, Unit: p.unit(),
		HeaderLines: r.block.line - 1, Header: textOf(around.before), Footer: textOf(around.after), Rows: r.block.rows, ByRow: p.byRow,
		FirstLine: r.block.line, LastLine: r.block.last, lines: p.lines, faults: out.faults,
		Date: p.stated.date.text, Day: p.stated.date.day, RelativeTo: r.Stated.RelativeTo,
		Spectra: out.spectra, Left: out.left, Notes: append(r.fileNotes(p, out.left, around.after), out.notes...),
	}, p, nil
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
