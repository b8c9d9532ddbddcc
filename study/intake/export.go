package intake

import (
	"fmt"
	"math"
	"slices"

	"wane/study"
	"wane/study/intake/text"
)

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
	// with what is between them. [Export.LinesOf] gives those of one curve.
	FirstLine, LastLine int
	lines               map[int]text.Span // of columns whose numbers stand in fewer lines

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
	Skipped []study.SkippedColumn // columns not taken, each reported in Notes as well
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

// inspect settles what a table holds, and refuses or asks in this order:
//
//	checkScans           wavelengths that start again, or stand far from the others
//	joinScans            two detectors become one curve, as stated
//	noteOthersElsewhere  lines around other blocks that name another quantity
//	readAxes             wavelengths in nm, in order
//	selectCurves         which columns are the curves that are meant
//	ask                  units and quantities that nobody states
//	checkOthers          lines that name another quantity
//	checkDeclared        points, ends, steps and factors that the header declares
//	finishAxes           wavelengths in their range, rising
//
// It returns the plan as far as it came. The numbers of t are converted and sorted in place.
func (r located) inspect(p plan, t table, around surroundings) (located, plan, table, error) {
	if err := r.checkScans(p, t); err != nil {
		return r, p, t, err
	}
	at, p, t := r.joinScans(p, t)
	stated, elsewhere, err := at.noteOthersElsewhere(p.stated, around.after)
	if err != nil {
		return at, p, t, err
	}
	p.stated = stated
	p.notes = append(p.notes, at.notesOnOverruled(slices.Concat(around.before, around.after, elsewhere))...)
	for _, step := range []func(plan, table) (plan, error){
		at.readAxes, at.selectCurves, at.ask, at.checkOthers, at.checkDeclared, at.finishAxes,
	} {
		if p, err = step(p, t); err != nil {
			return at, p, t, err
		}
	}
	return at, p, t, nil
}

// export makes an export of a table that was inspected. The columns of t become those of the
// curves.
func (r located) export(p plan, t table, around surroundings) (*Export, error) {
	out, err := r.spectra(p, t)
	if err != nil {
		return nil, err
	}
	if t.rows == 1 {
		return nil, r.Refuse(text.Position{Line: r.block.line}, text.ExportAgain,
			"this is the only row of numbers: one point is not a spectrum")
	}
	return &Export{
		Name: r.File, Encoding: r.src.Encoding,
		Separator: r.dialect.separatorInWords(), Decimal: r.dialect.markInWords(),
		WavelengthUnit: p.axis, Unit: p.unit(),
		HeaderLines: r.block.line - 1, Header: textOf(around.before), Footer: textOf(around.after),
		Rows: r.block.rows, FirstLine: r.block.line, LastLine: r.block.last, lines: p.lines, ByRow: p.byRow,
		Date: p.stated.date.text, Day: p.stated.date.day, RelativeTo: r.Stated.RelativeTo,
		Spectra: out.spectra, Skipped: out.skipped,
		Notes: append(r.fileNotes(p, out.skipped, around.after), out.notes...),
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
func (r decoded) fileNotes(p plan, skipped []study.SkippedColumn, after []outsideLine) []string {
	notes := p.notes
	if r.src.Latin1 {
		notes = append(notes, "the text is not UTF-8 and was read as Latin-1")
	}
	for _, l := range skipped {
		notes = append(notes, fmt.Sprintf("column %d (%s) is skipped: %s", l.Column, l.Heading, l.Why))
	}
	notes = append(notes, p.stated.date.notes()...)
	if h := p.stated; h.reference != "" && h.relative == text.Nowhere && r.Stated.RelativeTo == "" {
		notes = append(notes,
			text.Quoted(h.reference)+" does not say whether the reflectance of the reference is accounted for; the values "+
				"were taken as absolute")
	}
	if to := r.Stated.RelativeTo; to != "" && to != "absolute" {
		notes = append(notes, "the values stay relative to "+text.Quoted(to)+", as stated")
	}
	if len(after) > 0 {
		notes = append(notes, fmt.Sprintf("%s after the rows kept as text: %s", text.Count(len(after), "line"),
			text.Quoted(after[0].text)))
	}
	return notes
}

// Preview says in a line for each curve what was read: its first point, one in
// the middle and the last, as nm and fraction.
func (e *Export) Preview() []string {
	var lines []string
	for _, s := range e.Spectra {
		angle := "angle not stated"
		if !math.IsNaN(s.AngleDeg) {
			angle = text.Figure(s.AngleDeg) + " degrees"
		}
		lines = append(lines, fmt.Sprintf("column %d %s: %s, %s, %s", s.Column, text.Quoted(s.Heading),
			inWords(string(s.Quantity)), angle, text.Points(s.NM, s.Values)))
	}
	if n := len(e.Header) + len(e.Footer); n > 0 {
		lines = append(lines, fmt.Sprintf("%s around the rows kept as text", text.Count(n, "line")))
	}
	return lines
}
