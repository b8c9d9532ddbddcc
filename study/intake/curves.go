package intake

import (
	"fmt"
	"math"

	"wane/study"
)

// Left is a column that was not taken as a spectrum.
type Left struct {
	Column  int    // counting the first column as 1
	Heading string // as in the file
	Why     string
	// Spectrum is the curve, for a person who names the column all the same, or
	// nil if it cannot be used even then.
	Spectrum *study.Spectrum
}

// sift drops columns without numbers and refuses a file that leaves open which
// column is meant.
func (r *reader) sift(p *plan, t table) error {
	kept := p.curves[:0]
	for _, c := range p.curves {
		switch {
		case !t.isEmpty(c.column):
			kept = append(kept, c)
		case c.label.text != "":
			p.notes = append(p.notes, c.name()+" holds no number and is not read")
		}
	}
	p.curves = kept
	if len(kept) == 0 {
		return r.refuse(place{line: r.block.line}, exportAgain, "the rows hold wavelengths but no values")
	}
	if len(kept) == 1 && !kept[0].unusable {
		kept[0].aside = ""
	}
	for _, c := range kept {
		if c.label.text != "" || len(kept) == 1 {
			continue
		}
		if p.head.line == 0 {
			return r.refuse(place{line: r.block.line}, "write a line above the rows that names the columns",
				"no line names the %d columns: which of them are reflectance is not known", t.width)
		}
		return r.refuse(c.at, "name the column in the heading",
			"column %d has no heading: a reflectance, an uncertainty or a reference", c.column+1)
	}
	return r.refuseUnusable(kept)
}

// refuseUnusable refuses a file without a curve that could be taken.
func (r *reader) refuseUnusable(curves []curve) error {
	var first *curve
	for i, c := range curves {
		if c.aside == "" {
			return nil
		}
		if first == nil || c.unusable && !first.unusable {
			first = &curves[i]
		}
	}
	switch first.label.quantity {
	case absorbance:
		return r.refuse(first.at, "export the reflectance", "%s is absorbance; this needs reflectance", first.name())
	case counts, irradiance, raw:
		return r.refuse(first.at, "export the reflectance, measured against a reference",
			"%s holds %s, not compared to a reference; this needs reflectance", first.name(), first.label.quantity)
	}
	return r.refuse(first.at, "give the curve that is meant a file of its own", "%s is %s, and no other column remains", first.name(), first.aside)
}

// spectra makes the curves of the table into spectra, those set aside into
// columns left.
func (r *reader) spectra(p plan, t table) (taken []study.Spectrum, left []Left, notes []string, err error) {
	taken = make([]study.Spectrum, 0, len(p.curves))
	for _, c := range p.curves {
		l := Left{Column: c.column + 1, Heading: c.label.text, Why: c.aside}
		if c.unusable || c.aside != "" && (c.unit == "" || c.quantity == "") {
			left = append(left, l)
			continue
		}
		nm, values := points(t, c)
		s := study.Spectrum{
			File: r.name, Column: c.column + 1, Heading: c.label.text,
			Quantity: c.quantity, AngleDeg: c.angle, Polarisation: c.polarisation, NM: nm, Values: values,
		}
		low, high := ends(values)
		fault := r.checkCurve(c, s, low, high, p, t)
		switch {
		case c.aside == "" && fault != nil:
			return nil, nil, nil, fault
		case c.aside == "":
			taken = append(taken, s)
			notes = append(notes, notesOn(c, s, low, high, t)...)
			continue
		case fault != nil:
			l.Why += ": " + fault.Fault
		default:
			l.Spectrum = &s
		}
		left = append(left, l)
	}
	return taken, left, notes, nil
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
	n := 0
	for _, v := range y {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// notesOn says what was taken silently from a curve, whose values run from low
// to high.
func notesOn(c curve, s study.Spectrum, low, high float64, t table) []string {
	var notes []string
	rows := present(t.column(c.x))
	if n := rows - len(s.NM); n > 0 {
		notes = append(notes, fmt.Sprintf("%s: %s", c.name(), count(n, "missing point")))
	}
	if n := t.rows - rows; n > 0 {
		notes = append(notes, fmt.Sprintf("%s: %s fewer than the longest pair", c.name(), count(n, "row")))
	}
	if low < 0 {
		n, first := countWhere(s, func(v float64) bool { return v < 0 })
		notes = append(notes, fmt.Sprintf("%s: %s kept, the first at %s nm", c.name(), count(n, "negative value"), wavelength(first)))
	}
	if high > 1 {
		n, first := countWhere(s, func(v float64) bool { return v > 1 })
		notes = append(notes, fmt.Sprintf("%s: %s above 100 %% kept, the first at %s nm", c.name(), count(n, "value"), wavelength(first)))
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
