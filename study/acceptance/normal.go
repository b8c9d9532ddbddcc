package acceptance

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Normal is what methods say that take losses as normally distributed, which they are not: they are skewed and bounded,
// and such bounds fail to the harm of the buyer. They stand beside a verdict and never make it.
type Normal struct {
	N        int     // losses
	Mean, SD float64 // of them, in the unit of the rule

	// Factor is that of a one-sided tolerance interval with the share and the confidence of the rule, and Bound is the
	// mean and Factor standard deviations: ISO 16269-6. NaN where the rule has no share, and for fewer than two losses.
	Factor, Bound float64

	// Quality is (limit - mean)/SD, the statistic of the k method of sampling by variables, which accepts where it is at
	// least Factor; Beyond estimates from it the share beyond the limit. Source: ISO 3951-1 (from memory).
	Quality, Beyond float64

	// Consumer and Producer are the chances that a coupon passes and does not conform, and that it does not pass and
	// conforms, for losses that are spread like these and read with their mean uncertainty. Source: JCGM 106:2012, clause
	// 9.
	Consumer, Producer float64
}

// normalOf returns what normal methods say of the losses of a judgement.
func normalOf(j *Judgement) Normal {
	nan := math.NaN()
	out := Normal{Mean: nan, SD: nan, Factor: nan, Bound: nan, Quality: nan, Beyond: nan, Consumer: nan, Producer: nan}
	var losses []float64
	variance := 0.0
	for i := range j.Coupons {
		if c := &j.Coupons[i]; c.Grade != "" {
			losses = append(losses, c.Loss)
			variance += c.U * c.U
		}
	}
	out.N = len(losses)
	if out.N < 2 {
		return out
	}
	out.Mean, out.SD = stat.MeanStdDev(losses, nil)
	if j.Rule.Drawn() {
		out.Factor = ToleranceFactor(out.N, j.Rule.Share, j.Rule.Confidence)
		out.Bound = out.Mean + out.Factor*out.SD
	}
	if out.SD > 0 {
		out.Quality = (j.Rule.Limit - out.Mean) / out.SD
		out.Beyond = BeyondLimit(out.N, out.Quality)
	}
	variance /= float64(out.N)
	if spread := out.SD*out.SD - variance; spread > 0 {
		out.Consumer, out.Producer = Risks(j.Rule.Limit, math.Sqrt(variance), out.Mean, math.Sqrt(spread))
	}
	return out
}

// ToleranceFactor returns the factor k of a one-sided tolerance interval of a normal distribution with unknown mean and
// standard deviation: mean + k SD is above a share of it with a confidence. It is the quantile of the noncentral t
// distribution with n - 1 degrees of freedom and the noncentrality z √n, over √n. Source: ISO 16269-6. NaN
// for n below 2.
func ToleranceFactor(n int, share, confidence float64) float64 {
	if n < 2 {
		return math.NaN()
	}
	root := math.Sqrt(float64(n))
	shift := distuv.UnitNormal.Quantile(share) * root
	lo, hi := -1.0, 1.0
	for noncentralT(lo, float64(n-1), shift) > confidence {
		lo *= 2
	}
	for noncentralT(hi, float64(n-1), shift) < confidence {
		hi *= 2
	}
	for range 100 {
		if mid := (lo + hi) / 2; noncentralT(mid, float64(n-1), shift) < confidence {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2 / root
}

// noncentralT returns the distribution function at t of (Z + shift)/√(χ²/dof): the mean of Φ(t s - shift) over s =
// √(χ²/dof), by quadrature over the range that holds all but 1e-12 of s.
func noncentralT(t, dof, shift float64) float64 {
	chi := distuv.ChiSquared{K: dof}
	scale := func(p float64) float64 { return math.Sqrt(chi.Quantile(p) / dof) }
	density := func(s float64) float64 { return 2 * dof * s * chi.Prob(dof*s*s) }
	return quad.Fixed(func(s float64) float64 { return distuv.UnitNormal.CDF(t*s-shift) * density(s) },
		scale(1e-12), scale(1-1e-12), 200, quad.Legendre{}, 0)
}

// BeyondLimit estimates, without bias, the share of a normal distribution beyond a limit that lies quality standard
// deviations above the mean of n values: by the symmetric beta distribution with both parameters n/2 - 1. Source:
// Lieberman and Resnikoff, J. Amer. Statist. Assoc. 50, 457 (1955), which ISO 3951 follows (from memory). NaN for n
// below 3.
func BeyondLimit(n int, quality float64) float64 {
	if n < 3 {
		return math.NaN()
	}
	x := 0.5 - 0.5*quality*math.Sqrt(float64(n))/float64(n-1)
	half := float64(n)/2 - 1
	return mathext.RegIncBeta(half, half, min(1, max(0, x)))
}

// Risks returns the chances that a coupon passes and does not conform (the risk of the consumer), and that it conforms
// and does not pass (that of the producer), for true losses that are normally distributed with a mean and a standard
// deviation and are read with the standard uncertainty u. All are in one unit. Source: JCGM 106:2012, clause 9.5, with
// the guard band of this package.
func Risks(limit, u, mean, sd float64) (consumer, producer float64) {
	passing := func(z float64) float64 { return distuv.UnitNormal.Prob(z) * PassChance(mean+sd*z, u, limit) }
	const far = 9.0 // standard deviations
	at := min(far, max(-far, (limit-mean)/sd))
	passes := func(from, to float64) (sum float64) { // in steps, since PassChance is steep near the limit
		const steps = 40
		for i := range steps {
			a, b := from+(to-from)*float64(i)/steps, from+(to-from)*float64(i+1)/steps
			sum += quad.Fixed(passing, a, b, 20, quad.Legendre{}, 0)
		}
		return sum
	}
	return passes(at, far), distuv.UnitNormal.CDF((limit-mean)/sd) - passes(-far, at)
}
