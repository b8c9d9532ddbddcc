package intake

import (
	"fmt"
	"math"
	"slices"

	"wane/study"
	"wane/study/intake/text"
)

// leastNM is the shortest wavelength in nm that is read: in the range that instruments cover, what
// is below it can only be in micrometres. Source: the survey of exports this package was written
// from.
const leastNM = 50

// readAxis checks a wavelength column, which the numbers of the table then hold
// in nm, in the order of the file: every row has a wavelength, and they run
// strictly up or down. It reports whether they run down. With gaps, rows may
// lack a wavelength: those of a pair that has no value there.
func (r located) readAxis(t table, j int, unit string, gaps bool) (down bool, err error) {
	x := t.column(j)
	if unit == "cm-1" {
		for i, v := range x {
			x[i] = 1e7 / v
		}
	}
	last, step := -1, 0.0
	for i, v := range x {
		switch {
		case math.IsNaN(v) && gaps:
			continue
		case math.IsNaN(v):
			return false, r.Refuse(r.cellPlace(i, j), text.ExportAgain+", or correct the row", "this row has no wavelength")
		case last >= 0 && (v == x[last] || (v-x[last])*step < 0):
			return false, r.refuseStep(t, j, i, last, unit)
		case last >= 0:
			step = v - x[last]
		}
		last = i
	}
	return step < 0, nil
}

// refuseStep refuses row i, whose wavelength repeats or goes back.
func (r located) refuseStep(t table, j, i, last int, unit string) error {
	x := t.column(j)
	nm := " nm"
	if unit == "" {
		nm = ""
	}
	at, s := r.findCell(i, j)
	if r.dialect == commaPoint && r.block.seen&markPoint == 0 && t.width >= 4 {
		const fault = "%s follows %s: a comma that separates here may be a decimal mark"
		if pairs, ok := r.onlyDecimalCommas(); ok {
			choices := []study.Choice{{Name: "decimal", Value: "comma", Meaning: "the first row is " + r.firstRowAs(pairs)}}
			return r.Question(at, choices, separateClearly, fault, text.Wavelength(x[i]), text.Wavelength(x[last]))
		}
		return r.Refuse(at, separateClearly, fault, text.Wavelength(x[i]), text.Wavelength(x[last]))
	}
	if choices := r.thousandsChoice(s); choices != nil {
		return r.Question(at, choices, "correct the row", "%s follows %s: the %s in it may mark thousands", text.Short(s),
			text.Wavelength(x[last]), r.dialect.markInWords())
	}
	if choices := r.groupChoice(t, j, i, last); choices != nil {
		return r.Question(at, choices, "export each curve in columns of its own",
			"%s%s follows %s%s, and another column changes there: each row may be one point of one of several curves",
			text.Wavelength(x[i]), nm, text.Wavelength(x[last]), nm)
	}
	if low, high := text.Ends(x); low == high {
		return r.Refuse(at, "state the column of the wavelengths with --axis, or export the file again",
			"every row has the wavelength %s", text.Wavelength(low))
	}
	const orElse = "give each scan a file of its own"
	if x[i] == x[last] {
		return r.askOverlap(at, orElse, "%s%s stands here and in line %d too", text.Wavelength(x[i]), nm,
			r.cellPlace(last, j).Line)
	}
	return r.askOverlap(at, orElse, "%s%s follows %s%s; two detectors or two scans overlap here",
		text.Wavelength(x[i]), nm, text.Wavelength(x[last]), nm)
}

// askOverlap asks about wavelengths of two detectors.
func (r *asker) askOverlap(at text.Position, orElse, fault string, args ...any) *study.Refusal {
	return r.Question(at, text.OverlapChoices, orElse, fault, args...)
}

// thousandsChoice offers to read the mark in a number as one between thousands,
// if every row can be read so.
func (r located) thousandsChoice(text string) []study.Choice {
	d := r.dialect
	if d.thousands != 0 || r.Stated.Decimal != "" || text == "" || text[0] == '0' ||
		grouped([]byte(text), d.mark) != len(text) {
		return nil
	}
	other := dialect{sep: d.sep, mark: '.' + ',' - d.mark, thousands: d.mark, stated: d.stated}
	if other.sep == other.thousands || other.sep == other.mark || r.locate != nil {
		return nil
	}
	if rows, _ := r.countFittingRows(other); rows < r.block.rows {
		return nil
	}
	return []study.Choice{{Name: "thousands", Value: d.markInWords(), Meaning: "the first row is " + r.firstRowAs(other)}}
}

// checkRange refuses wavelengths that cannot be in the unit given.
func (r located) checkRange(t table, j int, unit string) error {
	x := t.column(j)
	low, high := text.Ends(x)
	if leastNM <= low && low <= high && high <= text.MostNM {
		return nil
	}
	at := r.cellPlace(0, j)
	if low <= 0 || math.IsInf(high, 0) {
		return r.Refuse(at, text.ExportAgain, "wavelengths run from %s to %s nm: all must be above zero",
			text.Wavelength(low), text.Wavelength(high))
	}
	if unit == "nm" && low < leastNM {
		_, s := r.findCell(0, j)
		if choices := r.thousandsChoice(s); choices != nil {
			return r.Question(at, choices, "correct the unit",
				"unit says nm, and %s is no wavelength in nm unless the %s in it marks thousands", text.Short(s),
				r.dialect.markInWords())
		}
		return r.Refuse(at, "state --wavelength-unit um if the export does not say nm, or correct the export",
			"unit says nm, wavelengths run from %s to %s: below %d they can only be in micrometres", text.Wavelength(low),
			text.Wavelength(high), leastNM)
	}
	if leastNM <= low && low <= text.MostNM && text.MostNM < high {
		i := slices.IndexFunc(x, func(v float64) bool { return v > text.MostNM })
		at, s := r.findCell(i, j)
		if s == "" {
			s = text.Wavelength(x[i])
		}
		return r.Refuse(at, "correct the row, or check the unit of wavelength",
			"%s is no wavelength of a spectrum here: the limit is %s nm", text.Short(s), text.Figure(text.MostNM))
	}
	return r.Refuse(at, "correct the unit of wavelength",
		"unit says %s, wavelengths then run from %s to %s nm", unit, text.Wavelength(low), text.Wavelength(high))
}

// readAxes checks the order of every wavelength column. An empty pair of columns
// is none.
func (r located) readAxes(p plan, t table) (plan, error) {
	p.xs = slices.DeleteFunc(slices.Clone(p.xs), func(j int) bool { return p.paired && t.isEmpty(j) })
	p.down = map[int]bool{}
	for _, j := range p.xs {
		down, err := r.readAxis(t, j, p.axis, p.paired)
		if err != nil {
			return p, err
		}
		p.down[j] = down
	}
	for _, c := range p.curves {
		if !p.paired {
			break
		}
		for i, v := range t.column(c.column) {
			if !math.IsNaN(v) && math.IsNaN(t.column(c.x)[i]) {
				return p, r.Refuse(r.cellPlace(i, c.column), text.ExportAgain+", or correct the row",
					"this value has no wavelength")
			}
		}
	}
	return p, nil
}

// finishAxes checks the range of every wavelength column and sorts those that
// run down, with their curves.
func (r located) finishAxes(p plan, t table) (plan, error) {
	for _, j := range p.xs {
		if err := r.checkRange(t, j, p.axis); err != nil {
			return p, err
		}
		low, high := text.Ends(t.column(j))
		switch p.axis {
		case "um":
			p.notes = append(p.notes, fmt.Sprintf("wavelengths from %s to %s um became %s to %s nm",
				text.Wavelength(low/1000), text.Wavelength(high/1000), text.Wavelength(low), text.Wavelength(high)))
		case "cm-1":
			p.notes = append(p.notes, fmt.Sprintf("wavenumbers from %s to %s cm-1 became wavelengths from %s to %s nm",
				text.Wavelength(1e7/high), text.Wavelength(1e7/low), text.Wavelength(low), text.Wavelength(high)))
		}
		if p.down[j] {
			slices.Reverse(t.column(j))
			p.notes = append(p.notes, fmt.Sprintf("the wavelengths in column %d ran down and were sorted with their values",
				j+1))
		}
	}
	for _, c := range p.curves {
		if p.down[c.x] {
			slices.Reverse(t.column(c.column))
		}
	}
	return p, nil
}
