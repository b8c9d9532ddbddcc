package film

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// Noise estimates the standard deviation of one point of a smooth curve, in the
// unit of r, from how far each point is off the line through its neighbours:
//
//	1.4826 · MAD( y_i - (w·y_{i-1} + (1-w)·y_{i+1}) ) / sqrt(1 + w² + (1-w)²)
//
// which on an even grid is 1.4826·MAD of the second differences over √6 (J. W.
// Tukey's running differences; 1.4826 makes the median absolute deviation that
// of a Gaussian). nm must increase strictly. A curve written with few digits is
// no less noisy than its rounding: the estimate is at least the smallest step
// between values over √12. Noise returns 0 only for a constant curve.
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

// atLeastRounding returns the larger of the noise and the smallest step between
// values over √12. Where neighbours already show a step that is smaller than the
// noise, the smallest need not be looked for.
func atLeastRounding(noise float64, r []float64) float64 {
	for i := 1; i < len(r); i++ {
		if d := math.Abs(r[i] - r[i-1]); d > 1e-12*math.Abs(r[i]) && d < noise {
			return noise
		}
	}
	return max(noise, SmallestStep(r)/math.Sqrt(12))
}

// noise returns the noise of each curve: as declared, else from replicates, else from
// the curve itself.
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
			return nil, &InputError{fmt.Sprintf("curve %d", i+1), "all its values are equal, which is not a spectrum", "leave the curve out, or export it again"}
		}
	}
	return sigma, nil
}

// repeatability returns the standard deviation of one point between the curves that
// repeat curve i (same angle, polarisation and wavelengths), pooled over the
// wavelengths, each curve taken about its own mean difference from the others, which
// scale and not noise makes. 0 if curve i has no replicate.
func (s *Spot) repeatability(i int) float64 {
	var same []*Curve
	for k := range s.Curves {
		c, d := &s.Curves[i], &s.Curves[k]
		if c.AngleDeg == d.AngleDeg && c.Pol == d.Pol && c.Native == d.Native && slices.Equal(c.NM, d.NM) {
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

// SmallestStep returns the smallest difference between two unequal values, in their
// unit, 0 if all are equal or there are none. Differences at the level of binary
// rounding do not count.
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
