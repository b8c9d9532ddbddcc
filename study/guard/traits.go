package guard

import (
	"math"

	"wane/fit/film"
	"wane/study"
)

// bandDigits is the step to which means of bands are rounded, a fraction: far below any noise, and
// few digits to store.
const bandDigits = 1e-7

// TraitsOf returns what guards compare a curve by: its noise, and its means over bands of 50 nm.
//
//	mean of a band = 1/50 nm · ∫ value dnm over the band, by straight lines between the points
//
// nm holds the wavelengths in nm, strictly increasing; values as many values, fractions. Neither is
// changed. Both must be finite. A band begins at a multiple of 50 nm and
// is given where the curve covers it whole; without such a band Bands is nil and FirstBandNM is
// 0. Means are rounded to 1e-7, far below any noise. Noise is that of [film.Noise], in fractions, and 0 for
// fewer than 3 points. There is no error.
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

// bandMeans returns the means over the bands that a curve covers whole, and where the first begins, in
// nm; nil and 0 if it covers none.
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
	next := 0 // the first point at or beyond x
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

// valueAt returns the value at x on the line that ends in the point next, which is the
// first at or beyond x.
func valueAt(nm, values []float64, next int, x float64) float64 {
	if nm[next] == x {
		return values[next]
	}
	f := (x - nm[next-1]) / (nm[next] - nm[next-1])
	return values[next-1] + f*(values[next]-values[next-1])
}

// band returns the mean over the band that begins at nm, a multiple of 50.
func band(t *study.Traits, nm int) (float64, bool) {
	k := (nm - t.FirstBandNM) / study.BandNM
	if nm < t.FirstBandNM || k >= len(t.Bands) {
		return 0, false
	}
	return t.Bands[k], true
}
