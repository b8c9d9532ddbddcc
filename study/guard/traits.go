package guard

import (
	"math"

	"wane/fit/film"
	"wane/study"
)

// bandDigits is what the means of bands are rounded to, a fraction: far below any noise,
// and few digits to keep.
const bandDigits = 1e-7

// TraitsOf makes the traits of a curve, whose wavelengths rise. A band's mean is the
// integral of the straight lines between the points, over its width; a band counts as
// covered if the curve begins and ends outside it or on its edges. The noise is that of
// [film.Noise]; 0 if there are too few points for any.
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

// bandMeans returns the means over the bands that a curve covers, none if it covers none.
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
