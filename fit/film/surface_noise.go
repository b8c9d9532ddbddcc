package film

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// Noise returns the standard deviation of one point of a smooth curve, in the unit of r. It
// comes from the distance of each point to the straight line through its two neighbours:
//
//	d_i   = (r_i - w·r_{i-1} - (1-w)·r_{i+1}) / √(1 + w² + (1-w)²)
//	w     = (nm_{i+1} - nm_i) / (nm_{i+1} - nm_{i-1})
//	noise = 1.4826 · median |d - median(d)|
//
// On an even grid d is the second difference over -√6. 1.4826 is the standard deviation of a normal
// distribution over its median absolute deviation.
//
// nm holds the wavelengths in nm, strictly increasing; r the values, as long as nm. Neither slice is
// changed. Noise panics if nm is shorter than r and r has at least 3 points. There is no error: with
// a NaN or an infinite value the result has no meaning.
//
// The result is at least the smallest step between two values over √12, the noise of their rounding
// ([SmallestStep]). For fewer than 3 points it is this value. It is 0 only for a constant or empty
// curve. A curve that bends within three points, such as fringes on a coarse grid, appears noisier
// than it is.
//
// Source: the robust scale by the median absolute deviation, F. R. Hampel, J. Am. Stat. Assoc. 69,
// 383-393 (1974), from memory; the differences: common practice, no source.
func Noise(nm, r []float64) float64 {
	dev := make([]float64, 0, len(r))
	for i := 1; i+1 < len(r); i++ {
		w := (nm[i+1] - nm[i]) / (nm[i+1] - nm[i-1])
		d := r[i] - (w*r[i-1] + (1-w)*r[i+1])
		dev = append(dev, d/math.Sqrt(1+w*w+(1-w)*(1-w)))
	}
	mid := median(dev)
	for i, d := range dev {
		dev[i] = math.Abs(d - mid)
	}
	return atLeastRounding(1.4826*median(dev), r)
}

// atLeastRounding returns the larger of the noise and the smallest step between values over √12. If
// two neighbours differ by less than the noise, it returns the noise without a search for the
// smallest step.
func atLeastRounding(noise float64, r []float64) float64 {
	for i := 1; i < len(r); i++ {
		if d := math.Abs(r[i] - r[i-1]); d > 1e-12*math.Abs(r[i]) && d < noise {
			return noise
		}
	}
	return max(noise, SmallestStep(r)/math.Sqrt(12))
}

// noise returns the noise of each curve, a fraction: NoiseSD if it is stated, else that of replicates,
// else that of the curve itself. A constant curve without either gives an [*InputError].
func (s *Spot) noise() ([]float64, error) {
	sigma := make([]float64, len(s.Curves))
	for i := range s.Curves {
		c := &s.Curves[i]
		if sigma[i] = c.NoiseSD; sigma[i] != 0 {
			continue
		}
		if sigma[i] = s.repeatability(i); sigma[i] == 0 {
			sigma[i] = Noise(c.NM, c.R)
		}
		if sigma[i] == 0 {
			return nil, &InputError{fmt.Sprintf("curve %d", i+1), "all its values are equal, which is not a spectrum",
				"leave the curve out, or export it again"}
		}
		if b := s.Glass.Blank; b != nil && c.Through { // as wide again, where film and glass let as much through
			sigma[i] = math.Hypot(sigma[i], b.NoiseSD)
		}
	}
	return sigma, nil
}

// repeatability returns the standard deviation of one point between curve i and its replicates: the
// curves at the same angle, polarisation and wavelengths of one mounting. The mean difference between two of them
// comes from the scale and not from noise, and is removed. The result is 0 without a replicate.
func (s *Spot) repeatability(i int) float64 {
	var same []*Curve
	for k := range s.Curves {
		c, d := &s.Curves[i], &s.Curves[k]
		if c.AngleDeg == d.AngleDeg && c.Pol == d.Pol && c.Native == d.Native && c.Through == d.Through &&
			c.Mounting == d.Mounting && slices.Equal(c.NM, d.NM) {
			same = append(same, d)
		}
	}
	if len(same) < 2 {
		return 0
	}
	n, m := len(same[0].R), float64(len(same))
	mean := make([]float64, n)
	for _, c := range same {
		floats.AddScaled(mean, 1/m, c.R)
	}
	squares := 0.0
	for _, c := range same {
		off := floats.SubTo(make([]float64, n), c.R, mean)
		squares += stat.Variance(off, nil) / (m - 1)
	}
	return atLeastRounding(math.Sqrt(squares), same[0].R)
}

// median returns the middle of v, whose order it changes; 0 for an empty v.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	k := len(v) / 2
	upper := nth(v, k)
	if len(v)%2 == 1 {
		return upper
	}
	return (slices.Max(v[:k]) + upper) / 2
}

// nth returns the k-th smallest of v, from 0, and moves the smaller ones before it:
// C. A. R. Hoare's selection, the middle of three as pivot.
func nth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		a, b, c := v[lo], v[(lo+hi)/2], v[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}

// SmallestStep returns the smallest difference between two unequal values, in the unit
// of r. It is 0 if all are equal or there are none. Differences of up to 1e-12 of the
// largest absolute value count as rounding. r may have any order and is not changed; it
// must hold no NaN.
func SmallestStep(r []float64) float64 {
	if len(r) == 0 {
		return 0
	}
	sorted := append([]float64(nil), r...)
	sort.Float64s(sorted)
	eps := 1e-12 * max(math.Abs(sorted[0]), math.Abs(sorted[len(sorted)-1]))
	step := 0.0
	for i := 1; i < len(sorted); i++ {
		if d := sorted[i] - sorted[i-1]; d > eps && (step == 0 || d < step) {
			step = d
		}
	}
	return step
}
