package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"wane/study"
	"wane/study/intake/text"
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
func (r located) checkCurve(c curve, s study.Spectrum, low, high float64, p plan, t table) *study.Refusal {
	if n := len(s.NM); n > maxPoints {
		return r.Refuse(c.at, "state --range LO-HI, or export in larger steps", "%s has %s, and a spectrum here at most %s",
			c.name(), text.Count(n, "point"), text.Figure(maxPoints))
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
			"%s nm is a near-duplicate of %s nm; two detectors overlap here", text.Wavelength(s.NM[i+1]),
			text.Wavelength(s.NM[i]))
	}
	if countsUp(s.Values, c.unit, leastCounted) {
		return r.Refuse(c.at, "state the column that contains the values with --columns, or correct the file",
			"%s counts the rows: it has no values", c.name())
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
// written. Where such values stand at the ends, the range of those between is offered.
func (r located) refuseValue(c curve, s study.Spectrum, p plan, t table) *study.Refusal {
	_, nm := countWhere(s, func(v float64) bool { return math.Abs(v) > mostMagnitude })
	at, written := r.findCell(rowOf(c, nm, p, t), c.column)
	bound := text.Figure(mostMagnitude)
	if c.unit == "percent" {
		bound = text.Figure(100*mostMagnitude) + " %"
	}
	orElse := "correct the cell, or leave it empty if the point is missing; check the unit of the column"
	fault := fmt.Sprintf("%s cannot be %s: the limit is %s", text.Short(written), inWords(string(c.quantity)), bound)
	return r.refuseOrAskRange(at, p.rangeWithoutNoise(c, s, t), orElse, fault)
}

// refuseOrAskRange refuses a value that is too large, and offers the range without such, if there
// is one.
func (r *asker) refuseOrAskRange(at text.Position, calm, orElse, fault string) *study.Refusal {
	switch {
	case calm == "":
		return r.Refuse(at, orElse, "%s", fault)
	case r.Stated.Range != "":
		return r.Refuse(at, "state --range "+calm+" in place of "+r.Stated.Range+", or "+orElse, "%s", fault)
	}
	choices := []study.Choice{{Name: "range", Value: calm,
		Meaning: "without the ends, where noise exceeds what can be measured"}}
	return r.Question(at, choices, orElse, "%s", fault)
}

// rangeWithoutNoise returns the range of wavelengths, as it is stated, over which no curve from c
// on has a value beyond what reflectance can be, or "" if half of the points are not
// within one. s is curve c; the columns of those before it hold their points no more.
func (p plan) rangeWithoutNoise(c curve, s study.Spectrum, t table) string {
	lo, hi, ok := endsWithoutNoise(s.NM, s.Values)
	for _, o := range p.curves {
		if o.column <= c.column || o.aside != "" || !ok {
			continue
		}
		var nm, values []float64
		for i, v := range t.column(o.column) {
			if x := t.column(o.x)[i]; !math.IsNaN(v) && !math.IsNaN(x) {
				nm, values = append(nm, x), append(values, v)
			}
		}
		if from, to, calm := endsWithoutNoise(nm, values); calm {
			lo, hi = max(lo, from), min(hi, to)
		}
	}
	if !ok || lo >= hi {
		return ""
	}
	return strconv.FormatFloat(lo, 'f', -1, 64) + "-" + strconv.FormatFloat(hi, 'f', -1, 64)
}

// endsWithoutNoise returns the ends of the longest run of values of which none is beyond
// mostFraction, if it holds half of them and what is cut off is noise. They lie between the points in and out, with as
// few decimals as that allows.
func endsWithoutNoise(nm, values []float64) (lo, hi float64, ok bool) {
	best, length := 0, 0
	for from := 0; from < len(values); from++ {
		to := from
		for to < len(values) && math.Abs(values[to]) <= mostFraction {
			to++
		}
		if to-from > length {
			best, length = from, to-from
		}
		from = to
	}
	last := best + length - 1
	if length < 2 || !isNoise(values[:best], len(values)) || !isNoise(values[last+1:], len(values)) {
		return 0, 0, false
	}
	for best > 0 && best < last && math.Abs(values[best]-values[best+1]) > mostJump {
		best++
	}
	for last < len(values)-1 && best < last && math.Abs(values[last]-values[last-1]) > mostJump {
		last--
	}
	if 2*(last-best+1) < len(values) {
		return 0, 0, false
	}
	below, above := 0.0, math.Inf(1)
	if best > 0 {
		below = nm[best-1]
	}
	if last+1 < len(nm) {
		above = nm[last+1]
	}
	return roundedBetween(nm[best], below, math.Floor), roundedBetween(nm[last], above, math.Ceil), true
}

// mostJump is by how much a point at the end of a range may differ from the one beside it,
// as a fraction, next to noise: more is noise too. Common practice, no source.
const mostJump = 0.1

// isNoise reports whether the values of so many that a range would cut off are noise: a
// quarter of them are beyond what reflectance can be. Fewer are spikes, to be corrected,
// unless hardly anything is lost with them.
func isNoise(cut []float64, of int) bool {
	wild := 0
	for _, v := range cut {
		if math.Abs(v) > mostFraction {
			wild++
		}
	}
	return wild > 1 && 4*wild >= len(cut) || 10*len(cut) <= of
}

// roundedBetween rounds a wavelength to as few decimals as leave it off the next point.
func roundedBetween(nm, next float64, round func(float64) float64) float64 {
	for scale := 1.0; scale <= 1e6; scale *= 10 {
		if v := round(nm*scale) / scale; v > 0 && v <= text.MostNM && math.Abs(v-nm) < math.Abs(next-nm) {
			return v
		}
	}
	return nm
}

// pointPlace returns where the point of a curve with this wavelength is.
func (r located) pointPlace(c curve, nm float64, p plan, t table) text.Position {
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
func (r *asker) checkUnit(c curve, s study.Spectrum, low, high float64) *study.Refusal {
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
	refusal := r.Refuse(c.at, "find out what the numbers are, then correct the unit or export the reflectance",
		"%s: unit says %s, values run from %s to %s", c.name(), c.unit, text.Figure(low*scale), text.Figure(high*scale))
	if r.isUnitByPerson(c) {
		refusal.Choices = unitChoices[:1]
		refusal.Try = r.Refuse(text.Nowhere,
			text.StateOne(unitChoices[:1])+" if they are in percent, or export the reflectance", "").Try
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
