package intake

import (
	"math"
	"slices"

	"wane/study"
)

// Source of these four: the survey of exports this package was written from.
const (
	flatPoints   = 20  // so many points equal to four digits are no spectrum
	zeroPoints   = 10  // so many zeros in a row are filler
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
	if refusal := r.checkUnit(c, s, low, high); refusal != nil {
		return refusal
	}
	if low < -mostMagnitude || high > mostMagnitude {
		return r.refuseValue(c, s, p, t)
	}
	if i := nearDuplicate(s.NM); i >= 0 {
		return r.refuse(r.pointPlace(c, s.NM[i+1], p, t), "keep one detector's points where two overlap",
			"%s nm is a near-duplicate of %s nm; two detectors overlap here", wavelength(s.NM[i+1]), wavelength(s.NM[i]))
	}
	if i, n := runOf(s.Values, zeroPoints, func(a, b float64) bool { return a == 0 && b == 0 }); n > 0 {
		return r.refuse(r.pointPlace(c, s.NM[i], p, t), "leave the cells empty where nothing was measured, or export a narrower range",
			"%s: %d zeros in a row from %s to %s nm look like filler", c.name(), n, wavelength(s.NM[i]), wavelength(s.NM[i+n-1]))
	}
	if i, n := runOf(s.Values, flatPoints, equalTo4Digits); n > 0 {
		return r.refuse(r.pointPlace(c, s.NM[i], p, t), "measure again without saturation, or export a narrower range or more digits",
			"%s: %d points in a row from %s to %s nm are equal to 4 digits", c.name(), n, wavelength(s.NM[i]), wavelength(s.NM[i+n-1]))
	}
	return nil
}

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
	return r.refuse(c.at, "find out what the numbers are, then correct the unit or export the reflectance",
		"%s: unit says %s, values run from %s to %s", c.name(), c.unit, figure(low*scale), figure(high*scale))
}

// nearDuplicate returns the first point whose step to the next is far smaller
// than the steps on both sides, or -1.
func nearDuplicate(nm []float64) int {
	for i := 1; i+2 < len(nm); i++ {
		most := nearShare * min(nm[i]-nm[i-1], nm[i+2]-nm[i+1])
		if nm[i+1]-nm[i] < most {
			return i
		}
	}
	return -1
}

// runOf returns the start and the whole length of the first run of at least n
// values, each equal to the one before, or 0, 0. It looks at the end of each
// possible run first, so that most values are never compared.
func runOf(values []float64, n int, equal func(a, b float64) bool) (start, length int) {
	for start+n <= len(values) {
		i := start + n - 1
		for i > start && equal(values[i-1], values[i]) {
			i--
		}
		if i > start {
			start = i
			continue
		}
		end := start + n
		for end < len(values) && equal(values[end-1], values[end]) {
			end++
		}
		return start, end - start
	}
	return 0, 0
}

// equalTo4Digits reports whether two numbers round to the same four significant
// digits.
func equalTo4Digits(a, b float64) bool {
	if a == b {
		return true
	}
	if math.Abs(a-b) > 1e-3*math.Abs(a) {
		return false // a unit of the fourth digit is at most this
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(a)))-3)
	return math.Round(a/unit) == math.Round(b/unit)
}
