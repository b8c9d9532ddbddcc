package power

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/study"
	"wane/study/series"
)

// Components are how the changes of the exposed coupons of one coating scatter at a pull, as a study found it.
type Components struct {
	Coating       string
	Spread                // Coupon is NaN where no lot has two coupons, Lot where there is one lot
	Coupons, Lots int     // with a change
	Mean          float64 // change
	DoF           float64 // of Coupon
	Low, High     float64 // 95 % interval of Coupon; NaN without it

	errors []*series.Errors
}

// ComponentsAt returns those of each coating in an exposure at a pull, in the order of their names. The scatter between the coupons
// of a lot is what they truly differ by and what errors make them differ by; the latter follows from the covariance of
// these errors, and is taken off:
//
//	Coupon² = max(0, s² - U²),  U² = mean over lots of Σ V_ii - Σ Σ V_ij / n, over n - lots
//
// Lot follows from the scatter of the means of lots by the analysis of variance. Coupons of which the errors are not known do not
// count.
func ComponentsAt(data *series.Data, exposure string, pull int) (all []Components) {
	groups := map[string]map[string]*lot{}
	for i := range data.Coupons {
		c := &data.Coupons[i]
		at := slices.IndexFunc(c.Points, func(p series.Point) bool { return p.Pull == pull })
		if c.Role != study.Exposed || c.Exposure != exposure || at < 0 {
			continue
		}
		v := &c.Points[at].Change
		if math.IsNaN(v.Value) || !v.Known {
			continue
		}
		if groups[c.Coating] == nil {
			groups[c.Coating] = map[string]*lot{}
		}
		l := groups[c.Coating][c.Lot]
		if l == nil {
			l = &lot{}
			groups[c.Coating][c.Lot] = l
		}
		l.values, l.errors = append(l.values, v.Value), append(l.errors, &v.Errors)
	}
	for coating, lots := range groups {
		all = append(all, componentsOf(coating, lots))
	}
	slices.SortFunc(all, func(a, b Components) int { return cmp.Compare(a.Coating, b.Coating) })
	return all
}

// lot holds the changes of the coupons of a lot.
type lot struct {
	values []float64
	errors []*series.Errors
}

func (l *lot) mean() (m float64) {
	for _, v := range l.values {
		m += v / float64(len(l.values))
	}
	return m
}

// componentsOf analyses the variance of one coating.
func componentsOf(coating string, lots map[string]*lot) Components {
	c := Components{Coating: coating, Lots: len(lots), Low: math.NaN(), High: math.NaN()}
	c.Coupon, c.Lot, c.U = math.NaN(), math.NaN(), math.NaN()
	within, errors, squares := 0.0, 0.0, 0.0
	for _, name := range sortedKeys(lots) {
		l := lots[name]
		n, mean := float64(len(l.values)), l.mean()
		c.Coupons += len(l.values)
		c.Mean += n * mean
		c.errors = append(c.errors, l.errors...)
		squares += n * n
		for _, v := range l.values {
			within += (v - mean) * (v - mean)
		}
		errors += scatterOf(l.errors)
	}
	n := float64(c.Coupons)
	c.Mean /= n
	c.DoF = n - float64(c.Lots)
	if c.DoF == 0 {
		return c
	}
	within, errors = within/c.DoF, errors/c.DoF
	c.U, c.Coupon = math.Sqrt(errors), math.Sqrt(max(0, within-errors))
	chi := distuv.ChiSquared{K: c.DoF}
	c.Low = math.Sqrt(max(0, within*c.DoF/chi.Quantile(0.975)-errors))
	c.High = math.Sqrt(max(0, within*c.DoF/chi.Quantile(0.025)-errors))
	if c.Lots > 1 {
		between := 0.0
		for _, name := range sortedKeys(lots) {
			l := lots[name]
			off := l.mean() - c.Mean
			between += float64(len(l.values)) * off * off / float64(c.Lots-1)
		}
		size := (n - squares/n) / float64(c.Lots-1)
		c.Lot = math.Sqrt(max(0, (between-within)/size))
	}
	return c
}

func sortedKeys(lots map[string]*lot) (keys []string) {
	for k := range lots {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// scatterOf returns the expectation of the sum of squares about their mean that errors make: Σ V_ii - Σ Σ V_ij / n.
func scatterOf(errors []*series.Errors) (sum float64) {
	all := 0.0
	for i, a := range errors {
		own := a.Variance()
		sum, all = sum+own, all+own
		for _, b := range errors[:i] {
			all += 2 * series.Covariance(a, b)
		}
	}
	return sum - all/float64(len(errors))
}

// Shared returns what the difference of the means of two coatings is uncertain by that more coupons do not make smaller: by its
// covariance, less what errors make coupons scatter by.
func Shared(a, b *Components) float64 {
	variance := 0.0
	for _, g := range []*Components{a, b} {
		n := float64(len(g.errors))
		variance += meanCovariance(g.errors, g.errors) - scatterOf(g.errors)/(n*max(1, n-1))
	}
	return math.Sqrt(max(0, variance-2*meanCovariance(a.errors, b.errors)))
}

// CommonU returns what the changes of a coating are all off by together, as a standard uncertainty: the root of the mean covariance
// of two coupons; 0 of one coupon.
func (c *Components) CommonU() float64 {
	n := float64(len(c.errors))
	return math.Sqrt(max(0, meanCovariance(c.errors, c.errors)-scatterOf(c.errors)/(n*max(1, n-1))))
}

// meanCovariance returns the covariance of the means of two groups of errors, which are one group or have none in common.
func meanCovariance(a, b []*series.Errors) (sum float64) {
	for _, x := range a {
		for _, y := range b {
			if x == y {
				sum += x.Variance()
			} else {
				sum += series.Covariance(x, y)
			}
		}
	}
	return sum / float64(len(a)*len(b))
}
