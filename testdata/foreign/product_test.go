package foreign

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Mean and standard deviation in closed form. Source: N. L. Johnson, S. Kotz, N. Balakrishnan, Continuous
// Univariate Distributions 1, 2nd ed. (1994): truncated normal (13.134), truncated exponential and
// the partial moments of the lognormal (14.4); from memory, each also checked below by draws.
func TestMomentsOfProducts(t *testing.T) {
	phi, density := distuv.UnitNormal.CDF, distuv.UnitNormal.Prob
	const relative = 1e-6

	whole := Product{MeanPP: 0.6, SDPP: 0.1, MostPP: 2.5}.Population()
	assert.InEpsilon(t, 0.6, whole.MeanPP, relative)
	assert.InEpsilon(t, 0.1, whole.SDPP, 1e-4)

	cut := Product{MeanPP: 0.3, SDPP: 0.2, MostPP: 0.8}.Population()
	a, b := -1.5, 2.5
	z := phi(b) - phi(a)
	shift := (density(a) - density(b)) / z
	assert.InEpsilon(t, 0.3+0.2*shift, cut.MeanPP, relative)
	assert.InEpsilon(t, 0.2*math.Sqrt(1+(a*density(a)-b*density(b))/z-shift*shift), cut.SDPP, 1e-5)

	exponential := ExponentialProduct(0.4, 2).Population()
	lost := math.Exp(-2 / 0.4)
	mean := 0.4 - 2*lost/(1-lost)
	square := 2*0.4*0.4 - lost/(1-lost)*(4+2*0.4*2)
	assert.InEpsilon(t, mean, exponential.MeanPP, relative)
	assert.InEpsilon(t, math.Sqrt(square-mean*mean), exponential.SDPP, 1e-5)

	lognormal := LognormalProduct(0.2, 2).Population()
	top := math.Log(2 / 0.2)
	mean = 0.2 * math.Exp(0.5) * phi(top-1) / phi(top)
	square = 0.04 * math.Exp(2) * phi(top-2) / phi(top)
	assert.InEpsilon(t, mean, lognormal.MeanPP, relative)
	assert.InEpsilon(t, math.Sqrt(square-mean*mean), lognormal.SDPP, 1e-5)

	// Without a limit: mean and standard deviation are those asked for.
	free := LognormalProduct(0.2, 0).Population()
	assert.InEpsilon(t, 0.2*math.Exp(0.5), free.MeanPP, 1e-4)
	assert.InEpsilon(t, 0.4, ExponentialProduct(0.4, 0).Population().SDPP, 1e-4)
}

// Shares below a limit, in closed form.
func TestShareBelowALimit(t *testing.T) {
	phi := distuv.UnitNormal.CDF
	exponential := ExponentialProduct(0.4e-3, 0).Population()
	assert.InDelta(t, 1-math.Exp(-1.25), exponential.ShareBelow(0.5, 1000), 1e-12)
	lognormal := LognormalProduct(0.2e-3, 0).Population()
	assert.InDelta(t, phi(math.Log(2.5)), lognormal.ShareBelow(0.5, 1000), 1e-12)
	assert.InDelta(t, phi(math.Log(5)), lognormal.ShareBelow(0.5, 500), 1e-12)
	bounded := LognormalProduct(0.2e-3, 1e-3).Population()
	assert.InDelta(t, phi(math.Log(2.5))/phi(math.Log(5)), bounded.ShareBelow(0.5, 1000), 1e-12)
	assert.InDelta(t, 1, bounded.ShareBelow(1, 1000), 1e-12)

	// Lots and coupons are normal: so is their sum. Of two lots, the mean of both.
	p := Product{MeanPP: 1, SDPP: 0.08, LotSDPP: 0.06}
	assert.InDelta(t, phi(1.5), p.Population().ShareBelow(1.15, 1), 1e-9)
	assert.InDelta(t, 1, p.Population().MeanPP, 1e-9)
	assert.InDelta(t, 0.1, p.Population().SDPP, 1e-6)
	lots := p.OfLots([]float64{-0.1, 0.05})
	assert.InDelta(t, (phi(0.25/0.08)+phi(0.1/0.08))/2, lots.ShareBelow(1.15, 1), 1e-12)
	assert.InDelta(t, 0.975, lots.MeanPP, 1e-9)
	assert.InDelta(t, math.Sqrt(0.08*0.08+0.075*0.075), lots.SDPP, 1e-6)

	steady := Product{MeanPP: 1}.Population()
	assert.Equal(t, []float64{0, 1}, []float64{steady.ShareBelow(0.999, 1), steady.ShareBelow(1.001, 1)})
}

// Draws have the moments and the shares that are said of them: within five standard errors.
func TestDrawsOfProducts(t *testing.T) {
	const n = 20000
	for name, p := range map[string]Product{
		"normal":      {MeanPP: 0.6, SDPP: 0.06, MostPP: 2},
		"cut":         {MeanPP: 0.3, SDPP: 0.2, MostPP: 0.8},
		"exponential": ExponentialProduct(0.4, 2),
		"lognormal":   LognormalProduct(0.2, 2),
		"moved":       {Tail: LognormalTail, MeanPP: 0.5, SDPP: 0.1},
		"lots":        {MeanPP: 0.6, SDPP: 0.05, LotSDPP: 0.08},
	} {
		truth := p.Population()
		limit := truth.MeanPP + 0.8*truth.SDPP
		draws, below := make([]float64, n), 0.0
		for i := range draws {
			d := dice{11, uint64(i)}
			draws[i] = p.rate(d.draw(Effect{Width: p.LotSDPP}, "lot"), d.stream("coupon").Float64())
			if draws[i] < limit {
				below++
			}
			assert.True(t, draws[i] >= 0 && draws[i] <= p.most(), name)
		}
		mean, sd := stat.MeanStdDev(draws, nil)
		assert.InDelta(t, truth.MeanPP, mean, 5*sd/math.Sqrt(n), name)
		kurtosis := stat.ExKurtosis(draws, nil) + 2
		assert.InDelta(t, truth.SDPP, sd, 5*sd*math.Sqrt(kurtosis/4/n), name)
		share := truth.ShareBelow(limit, 1)
		assert.InDelta(t, share, below/n, 5*math.Sqrt(share*(1-share)/n), name)
	}
}

// A lot of which no coupon is possible is a fault of the trial.
func TestImpossibleLotPanics(t *testing.T) {
	assert.Panics(t, func() { Product{MeanPP: 1, SDPP: 0.1}.rate(-3, 0.5) })
	assert.Panics(t, func() { Product{MeanPP: 1, MostPP: 2}.rate(1.5, 0.5) })
	assert.Panics(t, func() { Product{Tail: 9, MeanPP: 1, SDPP: 0.1}.rate(0, 0.5) })
}
