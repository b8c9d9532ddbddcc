package shape

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// LeastTheilSen is the number of points from which the interval of TheilSen exists: of four points all orders alike has
// the probability 2/4! = 0.083, so that no interval by order covers 95 %.
const LeastTheilSen = 5

// The flags of slopes by ranks.
const (
	FlagFewPoints       = "few-points"        // of fewer points, which has no interval
	FlagMedianOfCoupons = "median-of-coupons" // the median of the slopes of coupons, which has no interval
)

// Ranks returns the slope by ranks: of a coupon that of its points, with the baseline; of a group the median of those of
// its coupons. That of a group has no interval: the ranks of its mean path say nothing of how coupons scatter, and the
// coupons say nothing of what they share. That of a coupon has none where its errors are not known, or what its sessions
// are off: ranks take the errors of points to be independent.
func (p *Path) Ranks() *Estimate {
	e := nothingOf("rate", RateUnit(p.Unit, p.XUnit))
	e.Flags = p.allFlags()
	slopes := make([]float64, 0, len(p.coupons))
	var lo, hi float64
	for _, steps := range p.coupons {
		x, y := []float64{0}, []float64{0}
		for _, s := range steps {
			x, y = append(x, s.x), append(y, s.y.Value)
		}
		var slope float64
		slope, lo, hi = TheilSen(x, y)
		slopes = append(slopes, slope)
	}
	slices.Sort(slopes)
	n := len(slopes)
	e.Value, e.Method = (slopes[(n-1)/2]+slopes[n/2])/2, "theil-sen"
	switch {
	case p.by != ByCoupon:
		e.Method = "theil-sen, median of coupons"
		if !p.alone {
			e.Flags = append(e.Flags, FlagMedianOfCoupons)
		}
	case p.unsure() != nil:
		e.Why = p.unsure()
	case !p.Known:
	case len(p.X) < LeastTheilSen-1:
		e.Flags = append(e.Flags, FlagFewPoints)
	case math.IsNaN(lo):
		e.Flags = append(e.Flags, FlagConstant)
	default:
		e.Lower, e.Upper = lo, hi
	}
	return &e
}

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
