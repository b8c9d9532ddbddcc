package intake

import (
	"fmt"
	"math"
	"sort"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// refuseUnusable refuses a file without a curve that could be taken.
func (r *asker) refuseUnusable(curves []curve) error {
	var first *curve
	for i, c := range curves {
		if c.aside == "" || r.Stated.InMap && !c.unusable {
			return nil // a map may name a column that is set aside
		}
		if first == nil || c.unusable && !first.unusable {
			first = &curves[i]
		}
	}
	switch first.label.Quantity {
	case heading.Computed:
		return r.Refuse(first.at, "export the reflectance itself", "%s is %s; this needs the reflectance itself",
			first.name(), heading.Computed)
	case heading.Absorbance:
		return r.Refuse(first.at, "export the reflectance", "%s is absorbance; this needs reflectance", first.name())
	case heading.Counts, heading.Irradiance, heading.Raw:
		return r.Refuse(first.at, "export the reflectance, measured against a reference",
			"%s contains %s, not compared to a reference; this needs reflectance", first.name(), first.label.Quantity)
	}
	if first.label.Chosen {
		return r.Refuse(first.at, "name other columns with --columns", "%s is %s", first.name(), first.aside)
	}
	return r.Refuse(first.at, "give the curve that is meant a file of its own", "%s is %s, and no other column remains",
		first.name(), first.aside)
}

// outcome is what became of the columns of a table.
type outcome struct {
	spectra []study.Spectrum
	skipped []study.SkippedColumn
	notes   []string
}

// spectra makes the curves of the table into spectra, those set aside into
// columns skipped.
func (r located) spectra(p plan, t table) (outcome, error) {
	out := outcome{spectra: make([]study.Spectrum, 0, len(p.curves))}
	for _, c := range p.curves {
		l := study.SkippedColumn{Column: c.id(), Heading: c.label.Text, Why: c.aside}
		if c.unusable || c.aside != "" && (c.unit == "" || c.quantity == "") {
			out.skipped = append(out.skipped, l)
			continue
		}
		nm, values := points(t, c)
		s := study.Spectrum{
			File: r.File, Column: c.id(), Heading: c.label.Text,
			Quantity: c.quantity, AngleDeg: c.angle, Polarisation: c.polarisation, NM: nm, Values: values,
		}
		s, edits, fault := r.cutAndFill(c, s)
		low, high := text.Ends(s.Values)
		if fault == nil {
			fault = r.checkCurve(c, s, low, high, p, t)
		}
		switch {
		case c.aside == "" && fault != nil && c.maybe:
			l.Why = "no heading, and no spectrum: " + fault.Fault
		case c.aside == "" && fault != nil && r.Stated.InMap && len(p.curves) > 1:
			l.Why = fault.Fault // a map need not name it
		case c.aside == "" && fault != nil:
			return outcome{}, fault
		case c.aside == "":
			out.spectra = append(out.spectra, s)
			out.notes = append(out.notes, notesOn(c, s, len(nm), low, high, t)...)
			out.notes = append(out.notes, edits...)
			out.notes = append(out.notes, p.stated.changes.notesOn(c, s)...)
			continue
		case fault != nil:
			l.Why += ": " + fault.Fault
		default:
			l.Spectrum = &s
		}
		l.Fault = fault
		out.skipped = append(out.skipped, l)
	}
	return out, nil
}

// cutAndFill leaves out of a curve what a person says: what lies outside a range, and
// runs of filler.
func (r *asker) cutAndFill(c curve, s study.Spectrum) (study.Spectrum, []string, *study.Refusal) {
	var notes []string
	if lo, hi := r.want.LoNM, r.want.HiNM; hi > 0 {
		from := sort.SearchFloat64s(s.NM, lo)
		to := max(from, sort.Search(len(s.NM), func(i int) bool { return s.NM[i] > hi }))
		if n := len(s.NM) - (to - from); n > 0 {
			notes = append(notes, fmt.Sprintf("%s: %s outside %s nm skipped, as stated", c.name(), text.Count(n, "point"),
				r.Stated.Range))
		}
		s.NM, s.Values = s.NM[from:to:to], s.Values[from:to:to]
	}
	s, filled := r.applyFiller(c, s)
	if len(s.NM) == 0 {
		return s, nil, r.Refuse(c.at, "state another range, or keep the runs of equal values", "%s: no point remains",
			c.name())
	}
	return s, append(notes, filled...), nil
}

// points returns the wavelengths and values of a curve without its missing
// points, and empties its column of the table. Curves that miss none share
// their wavelengths.
func points(t table, c curve) (nm, values []float64) {
	x, y := t.column(c.x), t.column(c.column)
	n := present(y)
	if n == len(y) {
		return x, y
	}
	nm, values = make([]float64, 0, n), y[:0]
	for i, v := range y {
		if !math.IsNaN(v) {
			nm = append(nm, x[i])
			values = append(values, v)
		}
	}
	return nm, values[:n:n]
}

// present counts the numbers that are not NaN.
func present(y []float64) int {
	n := len(y)
	for _, v := range y {
		if math.IsNaN(v) {
			n--
		}
	}
	return n
}

// notesOn says what was taken silently from a curve of so many points in the
// file, whose values run from low to high.
func notesOn(c curve, s study.Spectrum, points int, low, high float64, t table) []string {
	var notes []string
	if points < t.rows {
		rows := present(t.column(c.x))
		if n := rows - points; n > 0 {
			notes = append(notes, fmt.Sprintf("%s: %s", c.name(), text.Count(n, "missing point")))
		}
		if n := t.rows - rows; n > 0 {
			notes = append(notes, fmt.Sprintf("%s: %s fewer than the longest pair", c.name(), text.Count(n, "row")))
		}
	}
	if low < 0 {
		n, first := countWhere(s, func(v float64) bool { return v < 0 })
		notes = append(notes, fmt.Sprintf("%s: %s kept, the first at %s nm", c.name(), text.Count(n, "negative value"),
			text.Wavelength(first)))
	}
	if high > 1 {
		n, first := countWhere(s, func(v float64) bool { return v > 1 })
		notes = append(notes, fmt.Sprintf("%s: %s above 100 %% kept, the first at %s nm", c.name(), text.Count(n, "value"),
			text.Wavelength(first)))
	}
	return notes
}

// countWhere counts the values that meet a condition and returns the first
// wavelength of one.
func countWhere(s study.Spectrum, holds func(float64) bool) (n int, first float64) {
	for i, v := range s.Values {
		if holds(v) {
			if n == 0 {
				first = s.NM[i]
			}
			n++
		}
	}
	return n, first
}
