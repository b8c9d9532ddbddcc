package intake

import (
	"math"
	"slices"

	"wane/study"
)

// Source of these two: the survey of exports this package was written from.
const (
	mostFraction = 1.5 // a median above this is no fraction
	mostPercent  = 200 // a median above this is no percent
)

// nearShare is the share of both neighbouring steps below which a step is that
// of two detectors and not of one scan. Common practice, no source.
const nearShare = 0.01

// mostMagnitude is the magnitude, as a fraction, above which a single value is no
// reading of reflectance or transmittance. Common practice, no source; noise has
// been seen to reach 4.9 (the survey of exports this package was written from).
const mostMagnitude = 10

// checkCurve refuses a curve that reads well and cannot be a spectrum, or not
// in the unit that it is said to have. Its values run from low to high.
func (r *reader) checkCurve(c curve, s study.Spectrum, low, high float64, p plan, t table) *study.Refusal {
	if n := len(s.NM); n > maxPoints {
		return r.refuse(c.at, "state --range LO-HI, or export in larger steps", "%s has %s, and a spectrum here at most %s", c.name(), count(n, "point"), figure(maxPoints))
	}
	if refusal := r.checkUnit(c, s, low, high); refusal != nil {
		return refusal
	}
	if refusal := r.checkRelative(c, s, high, p); refusal != nil {
		return refusal
	}
	if low < -mostMagnitude || high > mostMagnitude {
		return r.refuseValue(c, s, p, t)
	}
	if i := nearDuplicate(s.NM); i >= 0 {
		return r.askOverlap(r.pointPlace(c, s.NM[i+1], p, t), "",
			"%s nm is a near-duplicate of %s nm; two detectors overlap here", wavelength(s.NM[i+1]), wavelength(s.NM[i]))
	}
	if countsUp(s.Values, c.unit, leastCounted) {
		return r.refuse(c.at, "state the column that holds the values with --columns, or correct the file", "%s counts the rows: it holds no values", c.name())
	}
	return r.checkRuns(c, s, p, t)
}

// countsUp reports whether values, as written, are 0, 1, 2 and so on, or 1, 2, 3.
func countsUp(values []float64, unit string, least int) bool {
	if len(values) < least {
		return false
	}
	scale := 1.0
	if unit == "percent" {
		scale = 100
	}
	first := math.Round(values[0] * scale)
	for i, v := range values {
		if math.Abs(v*scale-first-float64(i)) > 1e-9 {
			return false
		}
	}
	return first == 0 || first == 1
}

// leastCounted is how many rows a column must count to be known for it.
const leastCounted = 5

// refuseValue refuses the first value of a curve that is too large, as it is
// written.
func (r *reader) refuseValue(c curve, s study.Spectrum, p plan, t table) *study.Refusal {
	_, nm := countWhere(s, func(v float64) bool { return math.Abs(v) > mostMagnitude })
	at, text := r.findCell(rowOf(c, nm, p, t), c.column)
	bound := figure(mostMagnitude)
	if c.unit == "percent" {
		bound = figure(100*mostMagnitude) + " %"
	}
	return r.refuse(at, "correct the cell, or leave it empty if the point is missing; check the unit of the column",
		"%s is no %s: the limit is %s", short(text), inWords(string(c.quantity)), bound)
}

// pointPlace returns where the point of a curve with this wavelength stands.
func (r *reader) pointPlace(c curve, nm float64, p plan, t table) place {
	return r.cellPlace(rowOf(c, nm, p, t), c.column)
}

// rowOf returns the row, in the order of the file, of the point of a curve with
// this wavelength.
func rowOf(c curve, nm float64, p plan, t table) int {
	i := slices.Index(t.column(c.x), nm)
	if p.down[c.x] {
		i = t.rows - 1 - i
	}
	return i
}

// checkUnit refuses a unit that the numbers, which run from low to high, rule
// out. Below the bounds nothing is concluded from them.
func (r *reader) checkUnit(c curve, s study.Spectrum, low, high float64) *study.Refusal {
	most, scale := mostFraction, 1.0
	if c.unit == "percent" {
		most, scale = mostPercent, 100
	}
	if high*scale <= most {
		return nil
	}
	above, _ := countWhere(s, func(v float64) bool { return v*scale > most })
	if 2*above <= len(s.Values) {
		return nil
	}
	refusal := r.refuse(c.at, "find out what the numbers are, then correct the unit or export the reflectance",
		"%s: unit says %s, values run from %s to %s", c.name(), c.unit, figure(low*scale), figure(high*scale))
	if r.isUnitByPerson(c) {
		refusal.Choices = unitChoices[:1]
		refusal.Try = r.refuse(nowhere, stateOne(unitChoices[:1])+" if they are in percent, or export the reflectance", "").Try
	}
	return refusal
}

// nearDuplicate returns the first point whose step to the next is far smaller
// than the steps on both sides, or -1.
func nearDuplicate(nm []float64) int {
	for i := 1; i+2 < len(nm); i++ {
		if isNear(nm[i-1], nm[i], nm[i+1], nm[i+2]) {
			return i
		}
	}
	return -1
}

// isNear reports whether b and c, with a before and d behind them, are
// near-duplicates.
func isNear(a, b, c, d float64) bool { return c-b < nearShare*(b-a) && c-b < nearShare*(d-c) }
