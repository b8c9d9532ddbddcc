package shape

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// LeastTheilSen is the number of points from which the interval of TheilSen exists: of four points all orders alike has
// the probability 2/4! = 0.083, so that no interval by order covers 95 %.
const LeastTheilSen = 5

// FlagFewPoints marks a slope by ranks of fewer points, which has no interval.
const FlagFewPoints = "few-points"

// TheilSen returns the median of the slopes between all pairs of points with different x, and its interval by the ranks
// of the slopes, which needs five points or more; else its ends are NaN, as all is without two different x. It takes
// the errors of the points to be independent.
//
// Source: P. K. Sen, Journal of the American Statistical Association 63 (1968) 1379, equations 2.6 and 3.1 and section
// 4 (from memory), with ties counted in both, as SciPy's theilslopes does.
func TheilSen(x, y []float64) (slope, lo, hi float64) {
	nan := math.NaN()
	var slopes []float64
	for i := range x {
		for j := range i {
			if d := x[i] - x[j]; d != 0 {
				slopes = append(slopes, (y[i]-y[j])/d)
			}
		}
	}
	if len(slopes) == 0 {
		return nan, nan, nan
	}
	slices.Sort(slopes)
	m := len(slopes)
	slope = (slopes[(m-1)/2] + slopes[m/2]) / 2
	if len(x) < LeastTheilSen {
		return slope, nan, nan
	}
	n := float64(len(x))
	sigma := math.Sqrt((n*(n-1)*(2*n+5) - ties(x) - ties(y)) / 18)
	z := distuv.UnitNormal.Quantile((1 + Level) / 2)
	upper := min(int(math.RoundToEven((float64(m)+z*sigma)/2)), m-1)
	lower := max(int(math.RoundToEven((float64(m)-z*sigma)/2))-1, 0)
	if slopes[lower] == slopes[upper] {
		return slope, nan, nan
	}
	return slope, slopes[lower], slopes[upper]
}

// ties returns the sum of k(k-1)(2k+5) over the values that occur k times.
func ties(values []float64) (sum float64) {
	count := map[float64]float64{}
	for _, v := range values {
		count[v]++
	}
	for _, k := range count {
		sum += k * (k - 1) * (2*k + 5)
	}
	return sum
}
