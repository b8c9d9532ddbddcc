package population

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// unlike is the chance below which residuals so much larger are not those of one variance. Common practice, no source.
const unlike = 0.001

// scatter is how the values of some coupons lie about straight lines, one for each coupon.
type scatter struct {
	squares, spare float64
	key            [3]string
}

func (s *scatter) mean() float64 { return s.squares / s.spare }

// addResiduals gives a group whose values lie much farther from straight lines than those of others, as where its path
// bends, a variance of the residual of its own: with one for all, the misfit of one coating would go into the rates of the
// others. Groups are taken from the least mean square upwards, and each is held against all before it by an F test.
func (d *design) addResiduals(histories []history) {
	if len(d.model.Terms) == 0 || d.levelTerm != 0 && d.rateTerm != 0 {
		return // a variance of the residual is of whole coupons
	}
	all := d.scatters(histories)
	own := map[[3]string]int{}
	var pooled scatter
	for _, s := range all {
		if pooled.spare == 0 || s.spare == 0 || s.mean() <= pooled.mean() ||
			(distuv.F{D1: s.spare, D2: pooled.spare}).Survival(s.mean()/pooled.mean()) > unlike {
			pooled.squares, pooled.spare = pooled.squares+s.squares, pooled.spare+s.spare
			continue
		}
		own[s.key] = len(own) + 1
	}
	if len(own) == 0 {
		return
	}
	d.model.Residuals = make([]int, len(d.values))
	for i := range d.values {
		if v := &d.values[i]; v.group >= 0 && d.model.Terms[0].Of[i] >= 0 {
			key, _ := d.rateKey(v.group)
			d.model.Residuals[i] = own[key]
		}
	}
	d.residualKinds = make([]kind, len(own)+1)
	for g := range d.groups {
		key, k := d.rateKey(g)
		if at := own[key]; at > 0 {
			d.residualKinds[at] = k
		}
	}
	for _, k := range d.model.Residuals {
		d.residualKinds[k].n++
	}
}

// scatters returns the scatter of each group, and of the controls together, the least first. What one cannot tell of is left
// out.
func (d *design) scatters(histories []history) (all []scatter) {
	at, first := map[[3]string]int{}, 0
	for i := range histories {
		h := &histories[i]
		values := d.values[first : first+h.values]
		first += h.values
		key := [3]string{}
		if h.group >= 0 {
			key, _ = d.rateKey(h.group)
		}
		squares, spare := aboutLine(values)
		if spare <= 0 {
			continue
		}
		k, known := at[key]
		if !known {
			k = len(all)
			at[key], all = k, append(all, scatter{key: key})
		}
		all[k].squares, all[k].spare = all[k].squares+squares, all[k].spare+spare
	}
	slices.SortStableFunc(all, func(a, b scatter) int { return cmp.Compare(a.mean(), b.mean()) })
	return all
}

// aboutLine returns the sum of squares of values about their straight line, or where all are at one dose about their mean,
// and what is left of their number.
func aboutLine(values []value) (squares, spare float64) {
	n := float64(len(values))
	var t, y float64
	for i := range values {
		t, y = t+values[i].t/n, y+values[i].y/n
	}
	var tt, ty, yy float64
	for i := range values {
		dt, dy := values[i].t-t, values[i].y-y
		tt, ty, yy = tt+dt*dt, ty+dt*dy, yy+dy*dy
	}
	if tt == 0 {
		return yy, n - 1
	}
	return math.Max(0, yy-ty*ty/tt), n - 2
}
