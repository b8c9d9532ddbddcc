package power

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study/acceptance"
)

// Law is how the true losses of a product are distributed.
type Law string

// The laws.
const (
	Normal      Law = "normal"
	Exponential Law = "exponential" // its standard deviation is its mean
	Lognormal   Law = "lognormal"
)

// Laws returns all laws.
func Laws() []Law { return []Law{Normal, Exponential, Lognormal} }

// Losses are the true losses of a product.
type Losses struct {
	Law      Law
	Mean, SD float64 // SD is not used of exponential losses
}

// Check says what of the losses cannot be.
func (l Losses) Check() error {
	switch {
	case !slices.Contains(Laws(), l.Law):
		return &Error{fmt.Sprintf("no law of losses %q", l.Law), "write normal, exponential or lognormal"}
	case !(l.SD >= 0) || math.IsInf(l.SD, 1) || math.IsNaN(l.Mean) || math.IsInf(l.Mean, 0):
		return &Error{fmt.Sprintf("losses of %g ± %g", l.Mean, l.SD), "give a mean and a standard deviation of 0 or more"}
	case l.Law != Normal && !(l.Mean > 0):
		return &Error{fmt.Sprintf("%s losses of mean %g", l.Law, l.Mean), "give a mean above 0, or a normal law"}
	}
	return nil
}

// sigma is the standard deviation of the logarithm of lognormal losses.
func (l Losses) sigma() float64 { return math.Sqrt(math.Log1p(l.SD * l.SD / (l.Mean * l.Mean))) }

// Below returns the share of the product whose loss is below a limit: that conforms.
func (l Losses) Below(limit float64) float64 {
	switch {
	case l.Law == Exponential:
		return -math.Expm1(-max(0, limit) / l.Mean)
	case l.SD == 0 && limit > l.Mean:
		return 1
	case l.SD == 0:
		return 0
	case l.Law == Lognormal && limit <= 0:
		return 0
	case l.Law == Lognormal:
		sigma := l.sigma()
		return phi((math.Log(limit/l.Mean) + sigma*sigma/2) / sigma)
	}
	return phi((limit - l.Mean) / l.SD)
}

// Rule is a rule of acceptance, with what its coupons are measured by.
type Rule struct {
	Limit    float64 // that losses must be below
	Coupons  int
	Failures int     // that are allowed
	U        float64 // standard uncertainty of the corrected change of one coupon, in all
	Shared   float64 // the part of it that all coupons have in common, as a standard uncertainty; at most U

	// Us are standard uncertainties of which each coupon has one by chance, in place of U; nil: all have U.
	Us []float64
}

// check says what of a rule cannot be.
func (r *Rule) check() error {
	switch {
	case r.Coupons < 1 || r.Failures < 0 || r.Failures >= r.Coupons:
		return &Error{fmt.Sprintf("a rule of %d coupons of which %d may fail", r.Coupons, r.Failures),
			"let fewer fail than there are"}
	case !(r.U >= 0) || !(r.Shared >= 0) || r.Us == nil && r.Shared > r.U ||
		math.IsInf(r.U, 1) || math.IsNaN(r.Limit) || math.IsInf(r.Limit, 0):
		return &Error{fmt.Sprintf("a limit of %g, with u %g of which %g is shared", r.Limit, r.U, r.Shared),
			"give a limit, and uncertainties of 0 or more, the shared part not above the whole"}
	}
	return nil
}

// Chances are those of the verdicts of a rule on a product. They sum to 1.
type Chances struct {
	Accept, Reject, Undecided float64
	Conforming                float64 // the share of the product whose true loss is below the limit
}

// Chances returns those of a rule on a product with these losses: the guard band is that of [acceptance.GradeOf], and a coupon
// passes or fails by its true loss, by what all of them are off together and by what it is off alone. What cannot be gives an
// [*Error].
func (r Rule) Chances(l Losses) (c Chances, err error) {
	if err = r.check(); err == nil {
		err = l.Check()
	}
	if err != nil {
		return c, err
	}
	us, n := r.Us, r.Coupons
	if us == nil {
		us = []float64{r.U}
	}
	over(r.Shared, func(weight, off float64) {
		pass, stay := 0.0, 0.0 // to pass, and not to fail
		for _, u := range us {
			own, band := math.Sqrt(max(0, u*u-r.Shared*r.Shared)), acceptance.Guard*u
			pass += l.belowWith(own, r.Limit-band-off) / float64(len(us))
			stay += l.belowWith(own, r.Limit+band-off) / float64(len(us))
		}
		c.Accept += weight * acceptance.Characteristic(n, r.Failures, min(1, pass))
		c.Reject += weight * (1 - acceptance.Characteristic(n, r.Failures, min(1, stay)))
	})
	c.Undecided, c.Conforming = max(0, 1-c.Accept-c.Reject), l.Below(r.Limit)
	return c, nil
}

// nodes is the number of them over a normal variable.
const nodes = 96

// over calls do with the weights and values of a normal variable of standard deviation sd, from -8 sd to 8 sd.
func over(sd float64, do func(weight, value float64)) {
	if sd == 0 {
		do(1, 0)
		return
	}
	x, w := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(x, w, -8, 8)
	for i := range x {
		do(w[i]*distuv.UnitNormal.Prob(x[i]), sd*x[i])
	}
}

// belowWith returns the chance that a loss, measured with a normal error of standard deviation u, is found below a limit.
func (l Losses) belowWith(u, limit float64) (chance float64) {
	switch {
	case u == 0:
		return l.Below(limit)
	case l.Law == Exponential:
		// With z = limit/u and m the mean, Φ(z) - exp(u²/(2m²) - limit/m) Φ(z - u/m). The second term is taken by its
		// logarithm, since one factor may be too large and the other too small.
		z, m := limit/u, l.Mean
		return phi(z) - math.Exp(u*u/(2*m*m)-limit/m+logPhi(z-u/m))
	case l.Law == Normal || l.SD == 0:
		return Losses{Normal, l.Mean, math.Hypot(l.SD, u)}.Below(limit)
	case u < l.SD: // the integral is over the wider of both
		over(u, func(weight, off float64) { chance += weight * l.Below(limit-off) })
	default:
		sigma := l.sigma()
		over(1, func(weight, z float64) {
			chance += weight * phi((limit-l.Mean*math.Exp(sigma*z-sigma*sigma/2))/u)
		})
	}
	return chance
}

// logPhi returns the logarithm of the standard normal distribution, by its asymptotic series far below 0.
func logPhi(z float64) float64 {
	if z > -30 {
		return math.Log(phi(z))
	}
	return -z*z/2 - math.Log(-z*math.Sqrt(2*math.Pi)) + math.Log1p(-1/(z*z))
}
