package foreign

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// Tail is the law of what the coupons of a lot lose.
type Tail int

const (
	NormalTail      Tail = iota
	ExponentialTail      // never less than its mean less its standard deviation
	LognormalTail        // of sigma 1
)

// Product is what the coupons of a coating are drawn from. The loss of SolarT of a coupon is, in
// pp per unit of dose,
//
//	MeanPP + lot + SDPP d
//
// with lot normal of standard deviation LotSDPP, and d a draw of the tail, moved and scaled to mean
// 0 and standard deviation 1. A loss stays between 0 and MostPP: coupons are drawn from the
// part of the law that does. [Population] has the mean and the standard deviation of that part.
type Product struct {
	Tail         Tail
	MeanPP, SDPP float64
	LotSDPP      float64
	MostPP       float64 // of a coupon, per unit of dose; 0: no limit but that of the film
}

// ExponentialProduct returns a product with exponential losses of a mean, in pp per unit of dose, up to most.
func ExponentialProduct(meanPP, mostPP float64) Product {
	return Product{Tail: ExponentialTail, MeanPP: meanPP, SDPP: meanPP, MostPP: mostPP}
}

// LognormalProduct returns a product with lognormal losses of a median, in pp per unit of dose, and sigma 1, up
// to most.
func LognormalProduct(medianPP, mostPP float64) Product {
	mean := medianPP * math.Exp(0.5)
	return Product{Tail: LognormalTail, MeanPP: mean, SDPP: mean * math.Sqrt(math.E-1), MostPP: mostPP}
}

// below returns the share of the whole tail below d standard deviations from its mean.
func (t Tail) below(d float64) float64 {
	switch t {
	case NormalTail:
		return distuv.UnitNormal.CDF(d)
	case ExponentialTail:
		return -math.Expm1(-max(0, d+1))
	case LognormalTail:
		x := math.Exp(0.5) * (1 + d*math.Sqrt(math.E-1))
		if x <= 0 {
			return 0
		}
		return distuv.UnitNormal.CDF(math.Log(x))
	}
	panic(fmt.Sprintf("foreign: no tail %d", t))
}

// quantile is the inverse of below.
func (t Tail) quantile(share float64) float64 {
	switch t {
	case NormalTail:
		return distuv.UnitNormal.Quantile(share)
	case ExponentialTail:
		return -math.Log1p(-share) - 1
	case LognormalTail:
		return (math.Exp(distuv.UnitNormal.Quantile(share)-0.5) - 1) / math.Sqrt(math.E-1)
	}
	panic(fmt.Sprintf("foreign: no tail %d", t))
}

// part returns the shares of the tail between which the losses of a lot are possible.
func (p Product) part(lot float64) (low, high float64) {
	if p.SDPP == 0 {
		if rate := p.MeanPP + lot; rate < 0 || rate > p.most() {
			return 0, 0
		}
		return 0, 1
	}
	return p.Tail.below((-p.MeanPP - lot) / p.SDPP), p.Tail.below((p.most() - p.MeanPP - lot) / p.SDPP)
}

func (p Product) most() float64 {
	if p.MostPP == 0 {
		return math.Inf(1)
	}
	return p.MostPP
}

// rate returns the loss of a coupon of a lot, for u even between 0 and 1. It panics where no
// coupon of the lot is possible.
func (p Product) rate(lot, u float64) float64 {
	low, high := p.part(lot)
	if !(high-low > 1e-6) {
		panic(fmt.Sprintf("foreign: no coupon of a lot %+.4f pp from a mean of %.4f pp is possible", lot, p.MeanPP))
	}
	if p.SDPP == 0 {
		return p.MeanPP + lot
	}
	return p.MeanPP + lot + p.SDPP*p.Tail.quantile(low+u*(high-low))
}

// below returns the share of the coupons of a lot that lose less than rate.
func (p Product) below(lot, rate float64) float64 {
	low, high := p.part(lot)
	if !(high > low) || rate <= 0 {
		return 0
	}
	if p.SDPP == 0 {
		if p.MeanPP+lot < rate {
			return 1
		}
		return 0
	}
	return min(1, (p.Tail.below((rate-p.MeanPP-lot)/p.SDPP)-low)/(high-low))
}

// Population is a set of lots of a product, with equal weights or as a law has them: the mean
// and the standard deviation of the losses of their coupons, in pp per unit of dose.
type Population struct {
	MeanPP, SDPP float64
	product      Product
	lots         []lotKnot
}

type lotKnot struct{ lot, weight float64 }

// ShareBelow returns the share of coupons that have lost less than a loss in pp at a dose.
func (p Population) ShareBelow(lossPP, dose float64) float64 {
	share := 0.0
	for _, k := range p.lots {
		share += k.weight * p.product.below(k.lot, lossPP/dose)
	}
	return share
}

// Population returns all coupons of all lots that might be: lots by the trapezoidal rule over eight
// standard deviations on either side.
func (p Product) Population() Population {
	if p.LotSDPP == 0 {
		return p.OfLots([]float64{0})
	}
	var lots []lotKnot
	total := 0.0
	const half = 60
	for i := -half; i <= half; i++ {
		z := 8 * float64(i) / half
		lot := z * p.LotSDPP
		if low, high := p.part(lot); high-low > 1e-6 {
			weight := math.Exp(-z * z / 2)
			lots = append(lots, lotKnot{lot, weight})
			total += weight
		}
	}
	for i := range lots {
		lots[i].weight /= total
	}
	return p.over(lots)
}

// OfLots returns all coupons of certain lots, by what these add to the mean.
func (p Product) OfLots(lots []float64) Population {
	knots := make([]lotKnot, len(lots))
	for i, lot := range lots {
		knots[i] = lotKnot{lot, 1 / float64(len(lots))}
	}
	return p.over(knots)
}

// over computes the moments over lots: those of a loss that is not negative are integrals of the
// share that loses more.
func (p Product) over(lots []lotKnot) Population {
	out := Population{product: p, lots: lots}
	square := 0.0
	for _, k := range lots {
		first, second := p.moments(k.lot)
		out.MeanPP += k.weight * first
		square += k.weight * second
	}
	out.SDPP = math.Sqrt(max(0, square-out.MeanPP*out.MeanPP))
	return out
}

// moments returns the mean loss of the coupons of a lot and the mean of its square.
func (p Product) moments(lot float64) (first, second float64) {
	mean := p.MeanPP + lot
	if p.SDPP == 0 {
		return mean, mean * mean
	}
	least := max(0, mean-9*p.SDPP)
	if p.Tail != NormalTail {
		least = max(0, mean-p.SDPP) // neither tail reaches further down
	}
	most := min(p.most(), mean+9*p.SDPP)
	switch p.Tail {
	case ExponentialTail:
		most = min(p.most(), mean+40*p.SDPP)
	case LognormalTail:
		most = min(p.most(), mean+2000*p.SDPP)
	}
	// In powers of a variable that is dense near the least: long tails need few points then.
	span := most - least
	first, second = least, least*least
	for _, k := range unitRule() {
		x := least + span*k.factor*k.factor*k.factor
		more := (1 - p.below(lot, x)) * 3 * span * k.factor * k.factor * k.weight
		first += more
		second += 2 * x * more
	}
	return first, second
}

// unitRule is the Gauss-Legendre rule of 200 points from 0 to 1.
var unitRule = sync.OnceValue(func() []knot {
	x, w := make([]float64, 200), make([]float64, 200)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	out := make([]knot, len(x))
	for i := range out {
		out[i] = knot{x[i], w[i]}
	}
	return out
})
