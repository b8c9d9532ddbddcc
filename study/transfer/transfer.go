// Package transfer says how a chamber stands for the field: how many times faster coatings age in one exposure than in
// another, and whether both put the coatings into the same order.
//
// Start with [Ratio] for each coating, and [Kendall] for the order of them all. A factor between exposures holds for
// the coatings, the dose and the way of ageing that it was measured with: a chamber that does something else to a
// film than the field does has no factor that could be carried over, whatever its interval.
package transfer

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Rate is the mean rate of a coating in one exposure. DoF are the degrees of freedom of its standard error; +Inf: it
// is known.
type Rate struct{ Value, SE, DoF float64 }

// Why a factor has no interval, or is none.
const (
	NotDistinguished = "slow" // the rate below the line is not distinguished from 0: any factor may be
	NoRate           = "no-rate"
)

// Factor is a ratio of rates.
type Factor struct {
	Value, Lower, Upper, DoF float64 // NaN where there is none
	Why                      string  // why there is no interval; empty: there is one
}

// none is a factor without an interval.
func none(why string) Factor {
	nan := math.NaN()
	return Factor{nan, nan, nan, nan, why}
}

// Ratio returns a over b with its interval at level, by Fieller's theorem: all q for which a - q·b is not
// distinguished from 0,
//
//	|a - q·b| <= t·√V(q)      V(q) = u_a² - 2 q r u_a u_b + q² u_b²
//
// with r the correlation of the errors of a and b. t is Student's, with the degrees of freedom of V at q = a/b by
// Satterthwaite's formula. Where b is not distinguished from 0 by itself the interval has no end, and Why says so. An
// interval that holds 0 says that a is not distinguished from 0. Rates, errors or degrees of freedom that are not
// numbers give NoRate. It panics if level is not between 0 and 1, or r not between -1 and 1.
//
// Source: E. C. Fieller, Journal of the Royal Statistical Society B 16 (1954) 175, from memory.
func Ratio(a, b Rate, r, level float64) Factor {
	if !(level > 0 && level < 1) || !(r >= -1 && r <= 1) {
		panic("transfer: a level between 0 and 1, and a correlation")
	}
	for _, v := range []float64{a.Value, b.Value, a.SE, b.SE} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return none(NoRate)
		}
	}
	if !(a.DoF > 0 && b.DoF > 0) || a.SE < 0 || b.SE < 0 {
		return none(NoRate)
	}
	if b.Value == 0 {
		return none(NotDistinguished)
	}
	q := a.Value / b.Value
	va, vb, c := a.SE*a.SE, b.SE*b.SE, r*a.SE*b.SE
	v := va - 2*q*c + q*q*vb
	out := Factor{Value: q, Lower: q, Upper: q, DoF: math.Inf(1)}
	if v <= 0 {
		return out // nothing is uncertain
	}
	out.DoF = v * v / (va*va/a.DoF + math.Pow(q, 4)*vb*vb/b.DoF)
	t2 := math.Pow(student(1-(1-level)/2, out.DoF), 2)
	// (b² - t² vb) q² - 2 (a b - t² c) q + (a² - t² va) = 0
	square := b.Value*b.Value - t2*vb
	if square <= 0 {
		return Factor{q, math.NaN(), math.NaN(), out.DoF, NotDistinguished}
	}
	half := a.Value*b.Value - t2*c
	root := math.Sqrt(max(0, half*half-square*(a.Value*a.Value-t2*va)))
	out.Lower, out.Upper = (half-root)/square, (half+root)/square
	return out
}

// student returns the quantile of t; dof may be infinite.
func student(p, dof float64) float64 {
	if math.IsInf(dof, 1) || dof > 1e9 {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}

// Common returns the geometric mean of factors with the t interval of their logarithms at level: what another coating
// of this kind may be expected to have lies wider still. The unit is the coating. Factors that have no interval, and
// those that are not above 0, do not count. n is how many do; below two there is no interval, and NoRate.
func Common(factors []Factor, level float64) (f Factor, n int) {
	var logs []float64
	for _, f := range factors {
		if f.Why == "" && f.Value > 0 {
			logs = append(logs, math.Log(f.Value))
		}
	}
	if n = len(logs); n < 2 {
		return none(NoRate), n
	}
	mean, sd := stat.MeanStdDev(logs, nil)
	dof := float64(n - 1)
	half := student(1-(1-level)/2, dof) * sd / math.Sqrt(float64(n))
	return Factor{Value: math.Exp(mean), Lower: math.Exp(mean - half), Upper: math.Exp(mean + half), DoF: dof}, n
}

// Agreement is how far two orders agree.
type Agreement struct {
	Tau   float64 // from -1, opposite orders, to 1, the same order; NaN: there is none
	P     float64 // two-sided chance of an order that far from none, if one order says nothing of the other; NaN: none
	Least float64 // the least P that so many can have
	N     int
}

// mostTied is the largest number of values with ties whose permutations are walked.
const mostTied = 8

// Kendall returns how far the orders of two lists of equal length agree, by Kendall's tau (tau-b where values are
// equal). P is exact: without ties from the numbers of permutations with so many inversions, with ties from all
// permutations, of up to 8 values; of more tied ones there is no P. Values that are not finite, fewer than two values
// and lists of equal values give NaN. It panics if the lengths differ.
//
// Source: M. G. Kendall, Biometrika 30 (1938) 81, from memory.
func Kendall(x, y []float64) Agreement {
	if len(x) != len(y) {
		panic("transfer: two lists of unequal length")
	}
	n := len(x)
	out := Agreement{Tau: math.NaN(), P: math.NaN(), Least: math.NaN(), N: n}
	if n < 2 || floats.HasNaN(x) || floats.HasNaN(y) {
		return out
	}
	score, tx, ty := kendallScore(x, y)
	pairs := n * (n - 1) / 2
	if tx == pairs || ty == pairs {
		return out
	}
	out.Tau = float64(score) / math.Sqrt(float64(pairs-tx)*float64(pairs-ty))
	if tx == 0 && ty == 0 {
		inversions := shares(n)
		least, far := 2*inversions[0], (pairs-abs(score))/2
		for k := 0; k <= far; k++ {
			out.P = nanSum(out.P, 2*inversions[k])
		}
		out.P, out.Least = min(1, out.P), min(1, least)
		return out
	}
	if n <= mostTied {
		out.P, out.Least = walked(x, y, abs(score))
	}
	return out
}

func abs(k int) int { return max(k, -k) }

func nanSum(sum, v float64) float64 {
	if math.IsNaN(sum) {
		return v
	}
	return sum + v
}

// kendallScore returns concordant less discordant pairs, and how many pairs are tied in x and in y.
func kendallScore(x, y []float64) (score, tx, ty int) {
	for i := range x {
		for k := range i {
			dx, dy := sign(x[i]-x[k]), sign(y[i]-y[k])
			score += dx * dy
			if dx == 0 {
				tx++
			}
			if dy == 0 {
				ty++
			}
		}
	}
	return score, tx, ty
}

func sign(d float64) int {
	switch {
	case d > 0:
		return 1
	case d < 0:
		return -1
	}
	return 0
}

// shares returns the share of the permutations of n things that have k inversions, for k from 0 to n(n-1)/2.
func shares(n int) []float64 {
	out := []float64{1}
	for m := 2; m <= n; m++ {
		next := make([]float64, len(out)+m-1)
		for k, s := range out {
			for j := range m {
				next[k+j] += s / float64(m)
			}
		}
		out = next
	}
	return out
}

// walked returns the share of all permutations of y with a score as far from 0, and that of the farthest.
func walked(x, y []float64, score int) (p, least float64) {
	y = append([]float64(nil), y...)
	all, far, most, ofMost := 0, 0, 0, 0
	var walk func(k int)
	walk = func(k int) {
		if k == len(y) {
			s, _, _ := kendallScore(x, y)
			if s = abs(s); s >= score {
				far++
			}
			if s > most {
				most, ofMost = s, 0
			}
			if s == most {
				ofMost++
			}
			all++
			return
		}
		for i := k; i < len(y); i++ {
			y[k], y[i] = y[i], y[k]
			walk(k + 1)
			y[k], y[i] = y[i], y[k]
		}
	}
	walk(0)
	return float64(far) / float64(all), float64(ofMost) / float64(all)
}
