package guard

import (
	"math"

	"wane/fit/film"
	"wane/study"
)

// bandDigits is the step to which means of bands are rounded, a fraction. It is far below any noise and
// keeps few digits to store.
const bandDigits = 1e-7

// TraitsOf returns the traits of a curve that guards compare: its noise and its means over bands of 50 nm.
//
//	mean = 1/(50 nm) · ∫ value dλ        over the band, with straight lines between the points
//
// nm holds the wavelengths in nm, strictly increasing; values the values, fractions, as long as nm.
// Neither slice is changed. TraitsOf panics if values is shorter than nm. There is no error: with a NaN or
// an infinite value the traits have no meaning.
//
// Bands holds the means, fractions rounded to 1e-7, in rising order. A band begins at a multiple of 50 nm
// and is in Bands if the curve covers all of it. FirstBandNM is the beginning of the first band, in nm.
// Without such a band, Bands is nil and FirstBandNM is 0. Noise is that of [film.Noise], a fraction, and 0
// for fewer than 3 points.
func TraitsOf(nm, values []float64) study.Traits {
	var t study.Traits
	if len(nm) >= 3 {
		t.Noise = film.Noise(nm, values)
	}
	t.FirstBandNM, t.Bands = bandMeans(nm, values)
	for k, v := range t.Bands {
		t.Bands[k] = math.Round(v/bandDigits) * bandDigits
	}
	return t
}

// bandMeans returns the means over the bands that a curve covers completely, and the beginning of the
// first, in nm. They are nil and 0 if it covers none.
func bandMeans(nm, values []float64) (firstNM int, means []float64) {
	if len(nm) == 0 {
		return 0, nil
	}
	const width = study.BandNM
	first, last := math.Ceil(nm[0]/width), math.Floor(nm[len(nm)-1]/width)
	if !(last > first) {
		return 0, nil
	}
	means = make([]float64, int(last-first))
	next := 0 // position of the first point at or beyond x
	x := first * width
	for nm[next] < x {
		next++
	}
	y := valueAt(nm, values, next, x)
	for k := range means {
		end, sum := (first+float64(k)+1)*width, 0.0
		for ; nm[next] < end; next++ {
			sum += (nm[next] - x) * (y + values[next]) / 2
			x, y = nm[next], values[next]
		}
		at := valueAt(nm, values, next, end)
		sum += (end - x) * (y + at) / 2
		x, y = end, at
		means[k] = sum / width
	}
	return int(first) * width, means
}

// valueAt returns the value at x on the line that ends in the point next, the first at or
// beyond x.
func valueAt(nm, values []float64, next int, x float64) float64 {
	if nm[next] == x {
		return values[next]
	}
	f := (x - nm[next-1]) / (nm[next] - nm[next-1])
	return values[next-1] + f*(values[next]-values[next-1])
}

// band returns the mean over the band that begins at nm, a multiple of 50. ok is false if t
// has no such band.
func band(t *study.Traits, nm int) (mean float64, ok bool) {
	k := (nm - t.FirstBandNM) / study.BandNM
	if nm < t.FirstBandNM || k >= len(t.Bands) {
		return 0, false
	}
	return t.Bands[k], true
}
