package film

import (
	"math"
	"sort"
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
	return max(1.4826*median(dev), smallestStep(r)/math.Sqrt(12))
}

// median sorts v and returns its middle, 0 for an empty v.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	sort.Float64s(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

// smallestStep returns the smallest difference between two unequal values, 0 if
// all are equal. Differences at the level of binary rounding do not count.
func smallestStep(r []float64) float64 {
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
