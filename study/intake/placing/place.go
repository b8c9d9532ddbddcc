package placing

import (
	"fmt"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
)

// Placed is a curve of an export with the line of rules that places it. Its Row is
// literal, with the quantity of the curve.
type Placed struct {
	sheet.Line[Placing]
	Spectrum *study.Spectrum
}

// Place says where the curves of an export belong, of which spectra and skipped are what the
// reader made: each of the lines, which are those of
// [Rules.For], is matched against its columns. A line must fit one column at least, and a
// column may be fitted by one line at most; two curves may not belong in one place. unplaced
// are the curves that no line is for, as #3 "heading". Every error is a
// [*study.Refusal].
//
// A line that names its column by heading or number may also name one that the reader
// skipped, such as that of a blank. A pattern fits curves that were read without another.
func Place(
	lines []sheet.Line[Placing], spectra []study.Spectrum, skipped []study.SkippedColumn,
) (placed []Placed, unplaced []string, err error) {
	by := map[int]bool{}
	places := map[study.Place]int{}
	columns := columnsOf(spectra, skipped)
	for i := range lines {
		l := &lines[i]
		found, err := placeLine(l, columns, len(spectra), skipped)
		if err != nil {
			return nil, nil, err
		}
		for _, p := range found {
			at := p.Spectrum.Column
			if by[at] {
				return nil, nil, l.Refuse("give each column one "+l.Row.line(), "column #%d of %s has a %s in this %s already", at,
					l.Row.File, l.Row.line(), l.Row.source())
			}
			if other, twice := places[p.Row.Place]; twice {
				return nil, nil,
					l.Refuse("give each curve a place of its own: coupon, pull, spot, condition, angle, polarisation and replicate",
						"columns #%d and #%d of %s would go to the same place", other, at, l.Row.File)
			}
			by[at], places[p.Row.Place] = true, at
			placed = append(placed, p)
		}
	}
	for _, s := range columns[:len(spectra)] {
		if !by[s.Column] {
			unplaced = append(unplaced, columnInWords(s))
		}
	}
	return placed, unplaced, nil
}

// source and line are what messages call the rules that a line is of, and the line.
func (p *Placing) source() string {
	if p.rule != nil {
		return "profile"
	}
	return "map"
}

func (p *Placing) line() string {
	if p.rule != nil {
		return "line"
	}
	return "row"
}

// placeLine returns the curves that a line places.
func placeLine(
	l *sheet.Line[Placing], columns []*study.Spectrum, taken int, skipped []study.SkippedColumn,
) ([]Placed, error) {
	rule := l.Row.rule
	if rule != nil && len(rule.header) > 0 {
		panic("placing: the lines have not seen the header of their export: WithHeader")
	}
	if rule == nil || rule.curve.headings == nil {
		s, err := findColumn(l, columns, skipped)
		if err != nil {
			return nil, err
		}
		row := l.Row
		if rule != nil {
			if row, err = rule.placing(row.Column); err != nil {
				return nil, err
			}
		}
		p, err := checkPlacing(l, row, s)
		return []Placed{p}, err
	}
	var all []Placed
	for _, s := range columns[:taken] {
		row, ok, err := rule.matchColumn(s)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		p, err := checkPlacing(l, row, s)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	if all == nil {
		return nil, l.Refuse(columnsAre(columns[:taken]), "no column of %s fits the pattern %q", l.Row.File, l.Row.Column)
	}
	return all, nil
}

// checkPlacing checks what a line says against what the column says itself.
func checkPlacing(l *sheet.Line[Placing], row Placing, s *study.Spectrum) (Placed, error) {
	source, file, column := l.Row.source(), row.File, row.Column
	row.Quantity = s.Quantity
	if _, ok := study.AgreedAngle(s.AngleDeg, row.AngleDeg); !ok {
		if len(heading.Parse(s.Heading).Angles) == 0 {
			return Placed{}, l.Refuse("correct the "+source,
				"the header of %s says %g degrees for column %q, but the %s says %g degrees", file, s.AngleDeg, column, source,
				row.AngleDeg)
		}
		return Placed{}, l.Refuse("correct the "+source, "column %q of %s is headed %q, but the %s says %g degrees", column,
			file, s.Heading, source, row.AngleDeg)
	}
	if _, ok := study.AgreedPolarisation(s.Polarisation, row.Polarisation); !ok {
		return Placed{}, l.Refuse("correct the "+source,
			"column %q of %s is stated to be in polarisation %s, but the %s says %s", column, file, s.Polarisation, source,
			row.Polarisation)
	}
	return Placed{sheet.Line[Placing]{File: l.File, Number: l.Number, Row: row}, s}, nil
}

// columnsOf returns the curves that a person may name: those taken as spectra, and those
// skipped that a person may still want, such as a column headed as a blank's.
func columnsOf(spectra []study.Spectrum, skipped []study.SkippedColumn) []*study.Spectrum {
	var columns []*study.Spectrum
	for i := range spectra {
		columns = append(columns, &spectra[i])
	}
	for _, l := range skipped {
		if l.Spectrum != nil {
			columns = append(columns, l.Spectrum)
		}
	}
	return columns
}

// findColumn returns the spectrum that a line names by #number or by heading. One that was
// skipped for a fault is refused for that.
func findColumn(
	l *sheet.Line[Placing], spectra []*study.Spectrum, skipped []study.SkippedColumn,
) (*study.Spectrum, error) {
	number, err := columnNumber(l.Row.Column)
	if err != nil {
		return nil, l.Refuse(tryNumber, "%v", err)
	}
	var found *study.Spectrum
	for _, s := range spectra {
		if number != 0 && s.Column == number || number == 0 && s.Heading == l.Row.Column {
			if found != nil {
				return nil, l.Refuse("name the column by its number, such as #2", "%s has more than one column headed %q",
					l.Row.File, l.Row.Column)
			}
			found = s
		}
	}
	for _, s := range skipped {
		isMeant := number != 0 && s.Column == number || number == 0 && s.Heading == l.Row.Column
		switch fault := s.Fault; {
		case found != nil || !isMeant:
		case fault != nil:
			return nil, fault
		default:
			return nil, l.Refuse(fmt.Sprintf("name another column, or state --columns %d if this one is the curve", s.Column),
				"column %q of %s is skipped: %s", l.Row.Column, l.Row.File, s.Why)
		}
	}
	if found == nil {
		return nil, l.Refuse(columnsAre(spectra), "%s has no column %q", l.Row.File, l.Row.Column)
	}
	return found, nil
}

const tryNumber = "write #2 for the first column after the wavelengths, or a heading"

// columnNumber returns the number that names a column, 0 if a heading does.
func columnNumber(column string) (int, error) {
	text, ok := strings.CutPrefix(column, "#")
	if !ok {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("%q names no column", column)
	}
	return n, nil
}

func columnsAre(spectra []*study.Spectrum) string {
	var all []string
	for _, s := range spectra {
		all = append(all, columnInWords(s))
	}
	return "its columns are " + strings.Join(all, ", ")
}

func columnInWords(s *study.Spectrum) string { return fmt.Sprintf("#%d %q", s.Column, s.Heading) }

// StatedOf returns what the lines of a file state together, beside what is given for all
// exports. An empty field states nothing; two lines may not contradict one another, since
// a file has one unit. Every error is a [*study.Refusal].
func StatedOf(lines []sheet.Line[Placing], given text.Stated) (text.Stated, error) {
	all := given
	for i := range lines {
		l := &lines[i]
		all.InMap = all.InMap || l.Row.rule == nil
		row := l.Row.Stated
		for _, f := range []struct {
			known       *string
			given, said string
		}{{&all.Unit, given.Unit, row.Unit}, {&all.WavelengthUnit, given.WavelengthUnit, row.WavelengthUnit},
			{&all.Quantity, given.Quantity, row.Quantity}} {
			switch {
			case f.said == "" || *f.known == f.said:
			case f.given != "":
				return given, l.Refuse("state the same in both, or leave one of them out",
					"this %s states %s for %s, and %s is stated for all exports", l.Row.line(), f.said, l.Row.File, f.given)
			case *f.known != "":
				try := "state the same in all rows of a file, or leave the cell empty"
				if l.Row.rule != nil {
					try = "state the same in all curves, or leave it out"
				}
				return given, l.Refuse(try, "this %s states %s for %s, and an earlier one %s", l.Row.line(), f.said, l.Row.File,
					*f.known)
			default:
				*f.known = f.said
			}
		}
	}
	return all, nil
}
