package intake

import (
	"math"

	"wane/study/intake/text"
)

// checkDeclared asks if the numbers are not those that the header declares.
func (r located) checkDeclared(p plan, t table) (plan, error) {
	if r.want.IgnoreDeclared || r.origin != nil {
		return p, nil
	}
	choices := text.DeclaredChoices
	for _, d := range p.stated.declared {
		if d.what == "factor" {
			return p, r.question(d.at, choices, "export values without a factor",
				"the header says %s: it is not known whether it is in the values", text.Quoted(d.text))
		}
		fault, ok := d.compare(p, t)
		if !ok {
			continue
		}
		return p, r.question(d.at, choices, text.ExportAgain+", or correct the header", "%s", fault)
	}
	return p, nil
}

// compare says what the numbers are if they are not as declared.
func (d declaration) compare(p plan, t table) (fault string, differs bool) {
	x := t.column(p.xs[0])
	low, high := text.Ends(x)
	n := present(x)
	// In the unit of the file; the table is in nm.
	low, high = p.asWritten(low), p.asWritten(high)
	if low > high {
		low, high = high, low
	}
	step := (high - low) / float64(max(n-1, 1))
	switch d.what {
	case "points":
		if d.value == float64(n) {
			return "", false
		}
		return "header says " + text.Count(int(d.value), "point") + ", " + text.Figure(float64(n)) + " found", true
	case "start", "stop", "range from", "range to":
		for _, end := range []float64{low, high} {
			if math.Abs(d.value-end) <= max(0.51*step, 1e-6*end) || d.nm &&
				math.Abs(d.value-p.inNM(end)) <= 0.51*math.Abs(p.inNM(end)-p.inNM(end+step)) {
				return "", false
			}
		}
		return "header says " + d.what + " " + text.Wavelength(d.value) +
			", the wavelengths run from " + text.Wavelength(low) + " to " + text.Wavelength(high), true
	case "step":
		if math.Abs(math.Abs(d.value)-step) <= 0.01*step || d.nm && p.axis != "nm" {
			return "", false
		}
		return "header says step " + text.Wavelength(d.value) + ", the mean step is " + text.Figure(step), true
	}
	greatest := math.Inf(-1)
	for _, c := range p.curves {
		if c.unusable {
			continue
		}
		_, most := text.Ends(t.column(c.column))
		if c.unit == "percent" {
			most *= 100
		}
		if math.Abs(d.value-most) <= 1e-3*math.Abs(most) || math.Abs(d.value-100*most) <= 0.1*math.Abs(most) {
			return "", false
		}
		greatest = max(greatest, most)
	}
	return "header says maximum " + text.Figure(d.value) + ", the greatest value is " + text.Figure(greatest),
		!math.IsInf(greatest, -1)
}

// asWritten turns a wavelength in nm into the unit of the file.
func (p plan) asWritten(nm float64) float64 {
	switch p.axis {
	case "um":
		return nm / 1000
	case "cm-1":
		return 1e7 / nm
	}
	return nm
}

// inNM turns a wavelength in the unit of the file into nm.
func (p plan) inNM(x float64) float64 {
	switch p.axis {
	case "um":
		return x * 1000
	case "cm-1":
		return 1e7 / x
	}
	return x
}
