package intake

import (
	"fmt"
	"math"
	"slices"

	"wane/study"
)

const (
	// Below 50, a wavelength in the range that instruments cover can only be in
	// micrometres. Source: the survey of exports this package was written from.
	leastNM = 50
	// Beyond 100 µm no spectrometer of the kind works. Common practice, no source.
	mostNM = 100_000
)

// readAxis checks a wavelength column, which the numbers of the table then hold
// in nm, in the order of the file: every row has a wavelength, and they run
// strictly up or down. It reports whether they run down. With gaps, rows may
// lack a wavelength: those of a pair that has no value there.
func (r *reader) readAxis(t table, j int, unit string, gaps bool) (down bool, err error) {
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
			return false, r.refuse(r.cellPlace(i, j), exportAgain+", or correct the row", "this row has no wavelength")
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
func (r *reader) refuseStep(t table, j, i, last int, unit string) error {
	x := t.column(j)
	nm := " nm"
	if unit == "" {
		nm = ""
	}
	at, text := r.findCell(i, j)
	if r.dialect == commaPoint && r.block.seen&point == 0 && t.width >= 4 {
		const fault = "%s follows %s: a comma that separates here may be a decimal mark"
		if pairs, ok := r.pairs(); ok {
			choices := []study.Choice{{Name: "decimal", Value: "comma", Meaning: "the first row is " + r.firstRowAs(pairs)}}
			return r.question(at, choices, separateClearly, fault, wavelength(x[i]), wavelength(x[last]))
		}
		return r.refuse(at, separateClearly, fault, wavelength(x[i]), wavelength(x[last]))
	}
	if choices := r.thousandsChoice(text); choices != nil {
		return r.question(at, choices, "correct the row", "%s follows %s: the %s in it may mark thousands", short(text), wavelength(x[last]), r.dialect.markInWords())
	}
	if choices := r.groupChoice(t, j, i, last); choices != nil {
		return r.question(at, choices, "export each curve in columns of its own",
			"%s%s follows %s%s where another column changes: each row may be one point of one of several curves", wavelength(x[i]), nm, wavelength(x[last]), nm)
	}
	if low, high := ends(x); low == high {
		return r.refuse(at, "state the column of the wavelengths with --axis, or export the file again", "every row has the wavelength %s", wavelength(low))
	}
	const orElse = "give each scan a file of its own"
	if x[i] == x[last] {
		return r.askOverlap(at, orElse, "%s%s stands here and in line %d too", wavelength(x[i]), nm, r.cellPlace(last, j).line)
	}
	return r.askOverlap(at, orElse, "%s%s follows %s%s; two detectors or two scans overlap here",
		wavelength(x[i]), nm, wavelength(x[last]), nm)
}

// askOverlap asks about wavelengths of two detectors.
func (r *reader) askOverlap(at place, orElse, fault string, args ...any) *study.Refusal {
	return r.question(at, overlapChoices, orElse, fault, args...)
}

// thousandsChoice offers to read the mark in a number as one between thousands,
// if every row can be read so.
func (r *reader) thousandsChoice(text string) []study.Choice {
	d := r.dialect
	if d.thousands != 0 || r.stated.Decimal != "" || text == "" || text[0] == '0' || grouped([]byte(text), d.mark) != len(text) {
		return nil
	}
	other := dialect{sep: d.sep, mark: '.' + ',' - d.mark, thousands: d.mark, stated: d.stated}
	if other.sep == other.thousands || other.sep == other.mark || r.locate != nil {
		return nil
	}
	if rows, _ := r.rowsThatFit(other); rows < r.block.rows {
		return nil
	}
	return []study.Choice{{Name: "thousands", Value: d.markInWords(), Meaning: "the first row is " + r.firstRowAs(other)}}
}

// checkRange refuses wavelengths that cannot be in the unit given.
func (r *reader) checkRange(t table, j int, unit string) error {
	x := t.column(j)
	low, high := ends(x)
	if leastNM <= low && low <= high && high <= mostNM {
		return nil
	}
	at := r.cellPlace(0, j)
	if low <= 0 || math.IsInf(high, 0) {
		return r.refuse(at, exportAgain, "wavelengths run from %s to %s nm: all must be above zero", wavelength(low), wavelength(high))
	}
	if unit == "nm" && low < leastNM {
		_, text := r.findCell(0, j)
		if choices := r.thousandsChoice(text); choices != nil {
			return r.question(at, choices, "correct the unit", "unit says nm, and %s is no wavelength in nm unless the %s in it marks thousands", short(text), r.dialect.markInWords())
		}
		return r.refuse(at, "state --wavelength-unit um if the export does not say nm, or correct the export",
			"unit says nm, wavelengths run from %s to %s: below %d they can only be in micrometres", wavelength(low), wavelength(high), leastNM)
	}
	if leastNM <= low && low <= mostNM && mostNM < high {
		i := slices.IndexFunc(x, func(v float64) bool { return v > mostNM })
		at, text := r.findCell(i, j)
		if text == "" {
			text = wavelength(x[i])
		}
		return r.refuse(at, "correct the row, or check the unit of wavelength",
			"%s is no wavelength of a spectrum here: the limit is %s nm", short(text), figure(mostNM))
	}
	return r.refuse(at, "correct the unit of wavelength",
		"unit says %s, wavelengths then run from %s to %s nm", unit, wavelength(low), wavelength(high))
}

// ends returns the least and the greatest number that is not NaN.
func ends(x []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
	}
	return low, high
}

// readAxes checks the order of every wavelength column. An empty pair of columns
// is none.
func (r *reader) readAxes(p *plan, t table) error {
	p.xs = slices.DeleteFunc(p.xs, func(j int) bool { return p.paired && t.isEmpty(j) })
	for _, j := range p.xs {
		down, err := r.readAxis(t, j, p.axis, p.paired)
		if err != nil {
			return err
		}
		p.down[j] = down
	}
	for _, c := range p.curves {
		if !p.paired {
			break
		}
		for i, v := range t.column(c.column) {
			if !math.IsNaN(v) && math.IsNaN(t.column(c.x)[i]) {
				return r.refuse(r.cellPlace(i, c.column), exportAgain+", or correct the row", "this value has no wavelength")
			}
		}
	}
	return nil
}

// finishAxes checks the range of every wavelength column and sorts those that
// run down, with their curves.
func (r *reader) finishAxes(p *plan, t table) error {
	for _, j := range p.xs {
		if err := r.checkRange(t, j, p.axis); err != nil {
			return err
		}
		low, high := ends(t.column(j))
		switch p.axis {
		case "um":
			p.notes = append(p.notes, fmt.Sprintf("wavelengths from %s to %s um became %s to %s nm",
				wavelength(low/1000), wavelength(high/1000), wavelength(low), wavelength(high)))
		case "cm-1":
			p.notes = append(p.notes, fmt.Sprintf("wavenumbers from %s to %s cm-1 became wavelengths from %s to %s nm",
				wavelength(1e7/high), wavelength(1e7/low), wavelength(low), wavelength(high)))
		}
		if p.down[j] {
			slices.Reverse(t.column(j))
			p.notes = append(p.notes, fmt.Sprintf("the wavelengths in column %d ran down and were sorted with their values", j+1))
		}
	}
	for _, c := range p.curves {
		if p.down[c.x] {
			slices.Reverse(t.column(c.column))
		}
	}
	return nil
}
