// Package power says, before a coupon goes out, what a study can find: the chance that it calls two coatings different, or
// equal within a margin, that a rule accepts a product, the least difference that it would see, and how many coupons it
// needs.
//
// All follows from how changes scatter ([Spread]): true changes between coupons of one lot and between lots, and what one
// change of one coupon is uncertain by. [Group] is a coating with its coupons; [NewComparison] compares two of them, as the
// comparison of a study does at a dose or in rate, by Welch's t; [Rule.Chances] is what a rule says of a product. Changes,
// margins, limits and spreads have one unit, such as pp.
//
// The chances are exact for normal scatter: Welch's statistic is integrated over both sample variances, its degrees of
// freedom with them. The tests hold them to R's noncentral t. Where the true changes are skewed, rehearse the study.
package power

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// Spread is how the changes of the coupons of one coating scatter, as standard deviations.
type Spread struct {
	Coupon float64 // of true changes, between the coupons of one lot
	Lot    float64 // of true changes, between lots
	U      float64 // of the error of one corrected change of one coupon, as far as it is not that of others too
}

// LeastLots is how many lots of each coating make the lot the unit of a comparison. With fewer its verdict is one on these
// lots, and their spread is no error of it.
const LeastLots = 3

// Group is one coating with the coupons that are exposed.
type Group struct {
	Spread
	Coupons int // in all
	Lots    int // that they come from, as evenly as can be
	Pulls   int // after pull 0, at even steps of the dose; one line is laid through all of them. 0 and 1: only the last one counts
}

// PullsFactor returns by how much pulls make the variance of errors of the change over the whole exposure smaller than the
// last pull alone does, where a straight line is laid through pull 0 and pulls more at even steps:
//
//	1 / (2 Σ (t - mean t)²),  t = 0, 1/pulls, ..., 1
//
// One and two pulls give 1.
func PullsFactor(pulls int) float64 {
	if pulls <= 1 {
		return 1
	}
	p := float64(pulls)
	return 6 * p / ((p + 1) * (p + 2)) // Σ (t - mean t)² of p+1 even steps is (p+1)(p+2)/(12 p)
}

// byLots reports whether the units are lots.
func (g *Group) byLots(o *Group) bool { return g.Lots >= LeastLots && o.Lots >= LeastLots }

// mean returns the variance of the mean of a group and its degrees of freedom.
func (g *Group) mean(byLots bool) (variance, dof float64) {
	n, l := float64(g.Coupons), float64(g.Lots)
	within := (g.Coupon*g.Coupon + g.U*g.U*PullsFactor(g.Pulls)) / n
	if byLots {
		return g.Lot*g.Lot/l + within, l - 1
	}
	return within, n - 1
}

// check says what of a group cannot be.
func (g *Group) check(byLots bool) error {
	for _, s := range []float64{g.Coupon, g.Lot, g.U} {
		if !(s >= 0) || math.IsInf(s, 1) {
			return &Error{fmt.Sprintf("a spread of %g", s), "give standard deviations of 0 or more"}
		}
	}
	if g.Lots < 1 || g.Coupons < 2 || g.Coupons < g.Lots {
		return &Error{fmt.Sprintf("designs with coupons: %d, lots: %d", g.Coupons, g.Lots),
			"plan at least two coupons a coating, and one of each lot: one coupon says nothing of its coating"}
	}
	if v, _ := g.mean(byLots); v == 0 {
		return &Error{"coupons that do not scatter at all", "state at least by how much one change is uncertain"}
	}
	return nil
}

// Error says why there is no chance to be computed.
type Error struct{ Fault, Try string }

// Error returns the fault.
func (e *Error) Error() string { return "power: " + e.Fault }

// Test is how a comparison judges.
type Test struct {
	Level  float64 // of its intervals, together over all pairs; 0: 0.95
	Pairs  int     // that are compared; by Bonferroni's bound, which is on the safe side. 0: 1
	Shared float64 // standard uncertainty of the difference that more coupons do not make smaller, such as of sessions
}

// alpha returns the chance of an error, of both sides together, of one pair.
func (t *Test) alpha() float64 {
	level := t.Level
	if level == 0 {
		level = 0.95
	}
	return (1 - level) / float64(max(1, t.Pairs))
}

// Comparison is that of two groups. It is not for concurrent use.
type Comparison struct {
	SE, DoF float64 // of the difference: true standard error; Welch and Satterthwaite's degrees of freedom at the true variances
	ByLots  bool    // the unit is the lot, and the verdict one on the coatings; else on these lots

	va, na, vb, nb, shared float64 // variances of both means by scatter, with their degrees of freedom, and what is known beside
	two, one               *quantiles
	halves                 []half // of the interval of the difference
}

// half is a half-width with its weight in the chance.
type half struct{ weight, width float64 }

// NewComparison returns the comparison of two groups. Groups that cannot be compared give an [*Error].
func NewComparison(a, b Group, t Test) (*Comparison, error) {
	c := &Comparison{ByLots: a.byLots(&b)}
	for _, g := range []*Group{&a, &b} {
		if err := g.check(c.ByLots); err != nil {
			return nil, err
		}
	}
	alpha := t.alpha()
	if !(alpha > 0 && alpha < 1) || !(t.Shared >= 0) {
		return nil, &Error{fmt.Sprintf("a level of %g with a shared uncertainty of %g", t.Level, t.Shared),
			"give a level between 0 and 1, such as 0.95, and an uncertainty of 0 or more"}
	}
	c.va, c.na = a.mean(c.ByLots)
	c.vb, c.nb = b.mean(c.ByLots)
	c.shared = t.Shared * t.Shared
	c.SE, c.DoF = math.Sqrt(c.va+c.vb+c.shared), welch(c.va, c.na, c.vb, c.nb, c.shared)
	least := min(c.na, c.nb)
	c.two, c.one = newQuantiles(1-alpha/2, least), newQuantiles(1-alpha, least)
	return c, nil
}

// width returns the half-width of an interval whose sample deviations are x and y times their expectations:
//
//	t(level; ν) √(s_a² + s_b² + shared²),  ν = (s_a² + s_b² + shared²)² / (s_a⁴/ν_a + s_b⁴/ν_b)
//
// (B. L. Welch, Biometrika 34 (1947) 28, and F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110; from memory).
func (c *Comparison) width(q *quantiles, x, y float64) float64 {
	sa, sb := c.va*x*x, c.vb*y*y
	if sa+sb+c.shared == 0 {
		return 0
	}
	return q.at(welch(sa, c.na, sb, c.nb, c.shared)) * math.Sqrt(sa+sb+c.shared)
}

// welch returns the degrees of freedom of a difference of two means, with what is known of its variance beside.
func welch(va, na, vb, nb, known float64) float64 {
	v := va + vb + known
	return v * v / (va*va/na + vb*vb/nb)
}

// points is the number of nodes over each sample deviation.
const points = 48

// chi returns nodes and weights of the integral, up to most, over a chi variable of nu degrees of freedom over √nu.
func chi(nu, most float64) (x, w []float64) {
	reach := 10 / math.Sqrt(2*nu) // in which all but 1e-14 lies
	low, high := max(0, 1-reach), min(most, 1+reach)
	if high <= low {
		return nil, nil
	}
	x, w = make([]float64, points), make([]float64, points)
	quad.Legendre{}.FixedLocations(x, w, low, high)
	square := distuv.ChiSquared{K: nu}
	for i := range x {
		w[i] *= math.Exp(square.LogProb(nu*x[i]*x[i])) * 2 * nu * x[i]
	}
	return x, w
}

// Different returns the chance that the interval of the difference lies on one side of 0, where the true one is d.
func (c *Comparison) Different(d float64) float64 {
	if c.halves == nil {
		x, wx := chi(c.na, math.Inf(1))
		y, wy := chi(c.nb, math.Inf(1))
		for i := range x {
			for j := range y {
				c.halves = append(c.halves, half{wx[i] * wy[j], c.width(c.two, x[i], y[j])})
			}
		}
	}
	sum := 0.0
	for _, h := range c.halves {
		sum += h.weight * (phi((d-h.width)/c.SE) + phi((-d-h.width)/c.SE))
	}
	return sum
}

// Equal returns the chance that two one-sided tests call the difference smaller than margin on both sides, where the true
// one is d (D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657; from memory). They do not where the half-width
// exceeds the margin, so that the integral ends there.
func (c *Comparison) Equal(d, margin float64) (sum float64) {
	x, wx := chi(c.na, c.upTo(margin, func(x float64) float64 { return c.width(c.one, x, 0) }))
	for i := range x {
		y, wy := chi(c.nb, c.upTo(margin, func(y float64) float64 { return c.width(c.one, x[i], y) }))
		for j := range y {
			room := margin - c.width(c.one, x[i], y[j])
			sum += wx[i] * wy[j] * (phi((room-d)/c.SE) - phi((-room-d)/c.SE))
		}
	}
	return sum
}

// upTo returns the sample deviation at which a half-width reaches a margin.
func (c *Comparison) upTo(margin float64, width func(float64) float64) float64 {
	low, high := 0.0, 1.0
	if width(low) >= margin {
		return 0
	}
	for width(high) < margin {
		if low, high = high, 2*high; high > 100 {
			return high
		}
	}
	for range 40 {
		if middle := (low + high) / 2; width(middle) < margin {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// Least returns the least true difference that is seen with a chance, above that of a false call and below 1.
func (c *Comparison) Least(chance float64) float64 {
	low, high := 0.0, c.SE
	for c.Different(high) < chance {
		low, high = high, 2*high
	}
	for range 60 {
		if middle := (low + high) / 2; c.Different(middle) < chance {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// LeastMargin returns the least margin within which equal coatings are shown to be equal with a chance between 0 and 1.
func (c *Comparison) LeastMargin(chance float64) float64 {
	low, high := 0.0, c.SE
	for c.Equal(0, high) < chance {
		low, high = high, 2*high
	}
	for range 60 {
		if middle := (low + high) / 2; c.Equal(0, middle) < chance {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// phi is the standard normal distribution.
func phi(z float64) float64 { return distuv.UnitNormal.CDF(z) }
