package gauge

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// term is a mean square with its factor in a sum.
type term struct {
	meanSquare
	factor float64
}

// upper returns the value that F with these degrees of freedom exceeds with probability alpha; dof2 may be infinite.
func upper(alpha, dof1, dof2 float64) float64 {
	if math.IsInf(dof2, 1) {
		return distuv.ChiSquared{K: dof1}.Quantile(1-alpha) / dof1
	}
	return distuv.F{D1: dof1, D2: dof2}.Quantile(1 - alpha)
}

// shrink and grow are how far a mean square of that many degrees of freedom may lie above its variance, and below, as
// a share of the mean square: G and H of Burdick and Graybill.
func shrink(alpha, dof float64) float64 { return 1 - 1/upper(alpha, dof, math.Inf(1)) }
func grow(alpha, dof float64) float64   { return 1/upper(1-alpha, dof, math.Inf(1)) - 1 }

// between returns the component m - c·below, with one-sided errors alpha at both ends. Where there is no mean square
// below, the component is m and contains with; where there is no m, it cannot be told: why.
func between(m, below meanSquare, c, alpha float64, with, why string) Component {
	if m.dof == 0 {
		return missing(why)
	}
	out := Component{DoF: m.dof, Groups: m.groups}
	if below.dof == 0 {
		out.With = with
		return out.ranged(m.value, m.value*shrink(alpha, m.dof), m.value*grow(alpha, m.dof))
	}
	x, y := m.value, c*below.value
	g1, h1, g2, h2 := shrink(alpha, m.dof), grow(alpha, m.dof), shrink(alpha, below.dof), grow(alpha, below.dof)
	f := upper(alpha, m.dof, below.dof)
	cross := ((f-1)*(f-1) - g1*g1*f*f - h2*h2) / f
	down := math.Sqrt(max(0, g1*g1*x*x+h2*h2*y*y+cross*x*y))
	f = upper(1-alpha, m.dof, below.dof)
	cross = ((1-f)*(1-f) - h1*h1*f*f - g2*g2) / f
	up := math.Sqrt(max(0, h1*h1*x*x+g2*g2*y*y+cross*x*y))
	if x-y+up <= 0 { // improbably little: the upper end is then that of all of m
		up = y + h1*x
	}
	return out.ranged(x-y, down, up)
}

// ranged fills the standard deviation of a variance and of the ends of its interval, none below 0.
func (c Component) ranged(variance, down, up float64) Component {
	c.SD = math.Sqrt(max(0, variance))
	c.Lower, c.Upper = math.Sqrt(max(0, variance-down)), math.Sqrt(max(0, variance+up))
	return c
}

// gather adds up the factors of equal mean squares, and leaves out those of none.
func gather(terms []term) (out []term) {
next:
	for _, t := range terms {
		for i := range out {
			if out[i].meanSquare == t.meanSquare {
				out[i].factor += t.factor
				continue next
			}
		}
		if t.dof > 0 {
			out = append(out, t)
		}
	}
	return out
}

// total is the component that is a sum of mean squares, none with a factor below 0. Its degrees of freedom are
// Satterthwaite's.
func total(alpha float64, terms []term) Component {
	sum, down, up := 0.0, 0.0, 0.0
	out := Component{}
	for i, t := range gather(terms) {
		v := t.factor * t.value
		sum += v
		down += math.Pow(shrink(alpha, t.dof)*v, 2)
		up += math.Pow(grow(alpha, t.dof)*v, 2)
		if i == 0 {
			out.Groups = t.groups
		}
	}
	out.DoF = satterthwaite(terms)
	return out.ranged(sum, math.Sqrt(down), math.Sqrt(up))
}

// satterthwaite returns the degrees of freedom of a sum of mean squares.
func satterthwaite(terms []term) float64 {
	sum, spread := 0.0, 0.0
	for _, t := range gather(terms) {
		v := t.factor * t.value
		sum += v
		spread += v * v / t.dof
	}
	return sum * sum / spread
}

// Detectable is what a change must be to be seen.
type Detectable struct {
	U     float64 // standard uncertainty of the change by the gauge alone, in the unit of the readings
	Least float64 // the least change that is distinguished from 0 with the power
	DoF   float64 // of U, by Satterthwaite
	Why   string  // why it cannot be told; empty: it can
}

// Detectable returns the least change of the mean of n coupons since their baseline that a two-sided test at 1 - level
// distinguishes from 0 with probability power, by the gauge alone:
//
//	least = (z(1 - (1-level)/2) + z(power))·u        the variances count as known; DoF says how well they are
//	u²    = 2·within·(1/n + 1/controls)              controls read in the sessions of the coupons: the session cancels
//	u²    = 2·within/n + 2·between                   without controls
//
// Each coupon is read once, in one placement, now and at the baseline. How far the coupons themselves differ comes on
// top of it. It panics unless n is positive, controls not negative, and level and power are between 0.5 and 1.
func (g *Gauge) Detectable(n, controls int, level, power float64) Detectable {
	if n < 1 || controls < 0 || !(level > 0.5 && level < 1) || !(power > 0.5 && power < 1) {
		panic("gauge: a design that cannot be")
	}
	nan := math.NaN()
	each := 2 / float64(n)
	if controls > 0 {
		each += 2 / float64(controls)
	}
	var terms []term
	for _, t := range g.within {
		terms = append(terms, term{t.meanSquare, each * t.factor})
	}
	if controls == 0 {
		if g.between == nil {
			return Detectable{nan, nan, nan, "without controls the session counts, and no coupon was read in two sessions"}
		}
		if g.Reproducibility.SD > 0 {
			for _, t := range g.between {
				terms = append(terms, term{t.meanSquare, 2 * t.factor})
			}
		}
	}
	variance := 0.0
	for _, t := range gather(terms) {
		variance += t.factor * t.value
	}
	if len(gather(terms)) == 0 || !(variance > 0) {
		return Detectable{nan, nan, nan, "no coupon was set down twice in one session"}
	}
	d := Detectable{U: math.Sqrt(variance), DoF: satterthwaite(terms)}
	d.Least = (distuv.UnitNormal.Quantile((1+level)/2) + distuv.UnitNormal.Quantile(power)) * d.U
	return d
}
