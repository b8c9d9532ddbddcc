package series

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"wane/study"
)

// Part is what the effects of one owner add to the variance of a mean of values.
type Part struct {
	Owner    study.Owner // empty: what is of each value alone
	Variance float64
}

// Budget returns what each owner adds to the variance of the mean of different values, all of them levels or all
// changes, the largest part first. An effect that values share enters by the mean of their sensitivities, so that it
// counts once, and what has opposite signs cancels:
//
//	variance of the mean = Σ over effects of (Σ a / n)² + Σ own variances / n²
//
// It is nil if there is no value, or if the errors of one are not known.
func (d *Data) Budget(values []*Errors) (parts []Part) {
	n := float64(len(values))
	by := map[int]float64{}
	own := 0.0
	for _, v := range values {
		if !v.Known {
			return nil
		}
		own += v.Own / (n * n)
		for _, s := range v.Shared {
			by[s.Effect] += s.By / n
		}
	}
	if len(values) == 0 {
		return nil
	}
	variances := map[study.Owner]float64{}
	for effect := range d.Effects { // in their order, so that sums are always the same
		variances[d.Effects[effect].Owner] += by[effect] * by[effect]
	}
	variances[""] += own
	for owner, v := range variances {
		if v > 0 {
			parts = append(parts, Part{owner, v})
		}
	}
	slices.SortFunc(parts, func(a, b Part) int {
		return cmp.Or(cmp.Compare(b.Variance, a.Variance), strings.Compare(string(a.Owner), string(b.Owner)))
	})
	return parts
}

// MeanBudget is what adds to the uncertainty of the mean change of a group of exposed coupons in an exposure, at the
// last pull at which most of its coupons have a change. Scatter is the standard error of the mean by the scatter
// between coupons, NaN for one coupon: it holds what the coupons truly differ by, and their own errors.
type MeanBudget struct {
	Group, Exposure string
	Pull, Coupons   int
	Parts           []Part
	Scatter         float64
}

// Variance is that of the mean by all errors.
func (b *MeanBudget) Variance() (sum float64) {
	for _, p := range b.Parts {
		sum += p.Variance
	}
	return sum
}

// U is the standard uncertainty of the mean by the errors of an owner.
func (b *MeanBudget) U(owner study.Owner) float64 {
	for _, p := range b.Parts {
		if p.Owner == owner {
			return math.Sqrt(p.Variance)
		}
	}
	return 0
}

// Budgets returns the budgets of the groups that group names, in the order of group and exposure. Changes of which no
// errors are known do not count.
func (d *Data) Budgets(group func(*Coupon) string) (budgets []MeanBudget) {
	type place struct{ group, exposure string }
	values := map[place]map[int][]*Value{}
	var places []place
	for i := range d.Coupons {
		c := &d.Coupons[i]
		if c.Role != study.Exposed {
			continue
		}
		at := place{group(c), c.Exposure}
		for k := range c.Points {
			point := &c.Points[k]
			if point.Baseline || math.IsNaN(point.Change.Value) || !point.Change.Known {
				continue
			}
			if values[at] == nil {
				values[at], places = map[int][]*Value{}, append(places, at)
			}
			values[at][point.Pull] = append(values[at][point.Pull], &point.Change)
		}
	}
	slices.SortFunc(places, func(a, b place) int {
		return cmp.Or(strings.Compare(a.group, b.group), strings.Compare(a.exposure, b.exposure))
	})
	for _, at := range places {
		b := MeanBudget{Group: at.group, Exposure: at.exposure}
		most := 0
		for _, of := range values[at] {
			most = max(most, len(of))
		}
		for pull, of := range values[at] {
			if 2*len(of) > most {
				b.Pull = max(b.Pull, pull)
			}
		}
		b.fill(d, values[at][b.Pull])
		budgets = append(budgets, b)
	}
	return budgets
}

// fill adds what the values say.
func (b *MeanBudget) fill(d *Data, values []*Value) {
	n, mean, squares := float64(len(values)), 0.0, 0.0
	errors := make([]*Errors, len(values))
	for i, v := range values {
		mean += v.Value / n
		errors[i] = &v.Errors
	}
	for _, v := range values {
		squares += (v.Value - mean) * (v.Value - mean)
	}
	b.Coupons, b.Parts, b.Scatter = len(values), d.Budget(errors), math.NaN()
	if n > 1 {
		b.Scatter = math.Sqrt(squares / (n - 1) / n)
	}
}
