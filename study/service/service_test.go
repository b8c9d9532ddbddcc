package service_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study/service"
)

var inf = math.Inf(1)

func estimate(value, se, dof float64) service.Estimate {
	return service.Estimate{Value: value, SE: se, DoF: dof}
}

func keep(t *testing.T, c service.Coating, years, yield float64) *service.Kept {
	k, err := service.Keep(c, service.Terms{Years: years, Yield: yield})
	require.NoError(t, err)
	return k
}

// By hand: 2.9 pp over glass of 95.7 % that lose 0.05 pp a year make 25·2.9 - 0.05·25²/2 = 56.875 pp years, of 1,000
// kWh a year 1000/95.7·56.875 = 594.3 kWh per kWp. At 0.2 pp a year nothing is left after 14.5 years: 2.9·14.5/2 =
// 21.025 pp years.
func TestEnergyByHand(t *testing.T) {
	c := service.Coating{Name: "K", Gain: estimate(2.9, 0, inf), Rate: estimate(-0.05, 0, inf), Bare: 95.7}
	k := keep(t, c, 25, 1000)
	assert.InDelta(t, 594.3051, k.Energy.Value, 1e-4)
	assert.Equal(t, service.Range{Value: k.Energy.Value, Lower: k.Energy.Value, Upper: k.Energy.Value}, k.Energy)
	assert.InDelta(t, 1.65, k.Left.Value, 1e-12)
	assert.True(t, math.IsInf(k.BareAt, 1) && math.IsNaN(k.Cost))
	c.Rate.Value = -0.2
	k = keep(t, c, 25, 1000)
	assert.InDelta(t, 1000/95.7*21.025, k.Energy.Value, 1e-9)
	assert.InDelta(t, 14.5, k.BareAt, 1e-12)
	assert.Zero(t, k.Left.Value)

	// One cleaning of 0.03 pp a year is as a rate of -0.03; two that cost 1.5 over 25 years 75, and the coating 20.
	c.Rate.Value, c.Cleanings, c.CleaningLoss, c.CleaningPrice, c.Price = -0.01, 2, 0.02, 1.5, 20
	k = keep(t, c, 25, 1000)
	assert.InDelta(t, 594.3051, k.Energy.Value, 1e-4)
	assert.InDelta(t, 95, k.Cost, 1e-12)
	assert.InDelta(t, 95/594.3051, k.PerKWh.Value, 1e-6)
}

// The closed form is the integral that it stands for (gonum's Gauss-Legendre rule on 4,000 points; the kink costs
// 1e-5).
func TestEnergyIsTheIntegral(t *testing.T) {
	for _, c := range []struct{ gain, rate float64 }{{2.9, -0.05}, {2.9, -0.3}, {0.4, -0.02}, {3, 0.1}, {3, 0},
		{-0.2, -0.1}} {
		want := quad.Fixed(func(years float64) float64 { return max(0, c.gain+min(0, c.rate)*years) }, 0, 25, 4000,
			quad.Legendre{}, 0)
		k := keep(t, service.Coating{Gain: estimate(c.gain, 0, inf), Rate: estimate(c.rate, 0, inf), Bare: 95}, 25, 950)
		assert.InDelta(t, 950./95*want, k.Energy.Value, 1e-4, "%v", c)
	}
}

// The interval holds the energy of the true gain and rate, for a rate that is well known and for one that is hardly
// distinguished from 0, with the floor inside and outside: 2,000 studies cover at least 1,867 times (R: qbinom(.0005,
// 2000, .95)). Where the interval ends at the gain of new coatings it may cover more.
func TestIntervalsCover(t *testing.T) {
	for _, truth := range []struct{ gain, rate, sd float64 }{{2.9, -0.06, 0.01}, {2.9, -0.01, 0.01}, {2.9, -0.15, 0.04},
		{1, -0.2, 0.02}} {
		rng, covered := rand.New(rand.NewPCG(31, 32)), 0
		want := keep(t, service.Coating{Gain: estimate(truth.gain, 0, inf), Rate: estimate(truth.rate, 0, inf), Bare: 95},
			25, 950).Energy.Value
		for range 2000 {
			const dof = 5
			s := math.Sqrt(distuv.ChiSquared{K: dof, Src: rng}.Rand() / dof)
			g := service.Coating{Bare: 95, Gain: estimate(truth.gain+0.02*rng.NormFloat64(), 0.02, inf),
				Rate: estimate(truth.rate+truth.sd*rng.NormFloat64(), truth.sd*s, dof)}
			if e := keep(t, g, 25, 950).Energy; e.Lower <= want && want <= e.Upper {
				covered++
			}
		}
		assert.GreaterOrEqual(t, covered, 1867, "%v", truth)
	}
}

func TestCompare(t *testing.T) {
	good := keep(t, service.Coating{Gain: estimate(2.9, 0.02, inf), Rate: estimate(-0.02, 0.004, 8), Bare: 95.7}, 20, 1000)
	poor := keep(t, service.Coating{Gain: estimate(2.7, 0.02, inf), Rate: estimate(-0.09, 0.01, 5), Bare: 95.7}, 20, 1000)
	d, e := service.Compare(good, poor), service.Compare(poor, good)
	assert.InDelta(t, d.Value, -e.Value, 1e-9)
	assert.InDelta(t, d.Lower, -e.Upper, 1e-9)
	assert.Greater(t, d.Lower, 0.0)
	assert.Less(t, good.Energy.Upper-good.Energy.Lower, d.Upper-d.Lower)
}

// No number comes from one that is missing.
func TestWrongInput(t *testing.T) {
	good := service.Coating{Name: "K", Gain: estimate(2.9, 0.01, 5), Rate: estimate(-0.02, 0.01, 5), Bare: 95.7}
	for what, change := range map[string]func(*service.Coating, *service.Terms){
		"years":         func(_ *service.Coating, t *service.Terms) { t.Years = 0 },
		"yield":         func(_ *service.Coating, t *service.Terms) { t.Yield = math.NaN() },
		"gain":          func(c *service.Coating, _ *service.Terms) { c.Gain.SE = math.NaN() },
		"rate":          func(c *service.Coating, _ *service.Terms) { c.Rate.DoF = math.NaN() },
		"transmittance": func(c *service.Coating, _ *service.Terms) { c.Bare = 0 },
		"price":         func(c *service.Coating, _ *service.Terms) { c.Price = -1 },
		"cleanings":     func(c *service.Coating, _ *service.Terms) { c.Cleanings = inf },
	} {
		c, terms := good, service.Terms{Years: 20, Yield: 1000}
		change(&c, &terms)
		_, err := service.Keep(c, terms)
		var input *service.InputError
		require.ErrorAs(t, err, &input, what)
		assert.Contains(t, err.Error(), what)
	}
}
