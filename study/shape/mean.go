package shape

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"wane/study/series"
)

// Mean is the mean change of the units of a group at one pull, over all coupons that have a change there.
type Mean struct {
	Pull                int
	Baseline            int     // the pull of the baseline of its coupons
	X                   float64 // dose or days, the mean over the coupons
	Value, Lower, Upper float64 // the ends of the interval at Level are NaN for one unit, and where they do not scatter
	Lots                bool    // the units are lots, not coupons
	Coupons             []CouponChange
}

// CouponChange is the change of one coupon.
type CouponChange struct {
	Coupon string
	Change float64
}

// Means returns the mean change of the group at its baseline, where it is 0, and at each pull after it, in the order of
// X. Coupons of another baseline have means of their own. A dose that goes back gives a *study.Refusal.
func (g *Group) Means(d *series.Data, by By, in Axis) ([]Mean, error) {
	steps := make([]map[place]step, len(g.Coupons))
	var all []place
	for i, c := range g.Coupons {
		var err error
		if steps[i], err = stepsOf(c, in); err != nil {
			return nil, err
		}
		for at := range steps[i] {
			if !slices.Contains(all, at) {
				all = append(all, at)
			}
		}
	}
	slices.SortFunc(all, func(a, b place) int {
		return cmp.Or(cmp.Compare(a.pull, b.pull), cmp.Compare(a.baseline, b.baseline))
	})
	means := []Mean{{Lower: math.NaN(), Upper: math.NaN()}}
	for i, c := range g.Coupons {
		if len(steps[i]) > 0 {
			means[0].Coupons = append(means[0].Coupons, CouponChange{c.Coupon, 0})
		}
	}
	for _, at := range all {
		p := g.pathAt(d, by, in, steps, []place{at})
		m := Mean{Pull: at.pull, Baseline: at.baseline, X: p.X[0], Value: p.Y[0], Lower: math.NaN(), Upper: math.NaN(),
			Lots: p.Units < p.Coupons}
		if p.Units > 1 {
			if u, df := p.between(mat.NewVecDense(1, []float64{1})); u > 0 {
				half := quantileOf(df) * u
				m.Lower, m.Upper = m.Value-half, m.Value+half
			}
		}
		for i, c := range g.Coupons {
			if s, ok := steps[i][at]; ok {
				m.Coupons = append(m.Coupons, CouponChange{c.Coupon, s.y.Value})
			}
		}
		means = append(means, m)
	}
	slices.SortStableFunc(means, func(a, b Mean) int { return cmp.Compare(a.X, b.X) })
	return means, nil
}
