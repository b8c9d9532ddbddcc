package cleaning_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/cleaning"
)

func best(t *testing.T, c cleaning.Case) *cleaning.Advice {
	a, err := cleaning.Best(c)
	require.NoError(t, err)
	return a
}

// Without rain, and while a film is left, s·H/(2(N+1)) + w·N/2 is least where N + 1 is √(s·H/w): of the two whole
// numbers around it one. The cases are made up.
func TestBestIsTheClosedForm(t *testing.T) {
	for _, c := range []struct{ perDay, loss, years float64 }{{0.01, 0.03, 10}, {0.002, 0.03, 25}, {0.02, 0.01, 10},
		{0.0001, 0.05, 20}} {
		a := best(t, cleaning.Case{Soiling: cleaning.Estimate{Value: c.perDay}, Loss: cleaning.Estimate{Value: c.loss},
			Gain: 10, Years: c.years, Yield: 1000})
		days := c.years * 365.25
		closed := math.Sqrt(c.perDay * days / c.loss)
		assert.InDelta(t, closed, float64(a.Best.N+1), 1, "%v", c)
		loss := func(n float64) float64 { return 10 * (c.perDay*days/(2*(n+1)) + c.loss*n/2) } // of 1,000 kWh
		n := float64(a.Best.N)
		assert.InDelta(t, loss(n), a.Best.Soil+a.Best.Film, 1e-9)
		assert.InDelta(t, loss(0)-loss(n), a.Best.Net.Value, 1e-9)
		assert.LessOrEqual(t, loss(n), loss(n+1))
		if n > 0 {
			assert.LessOrEqual(t, loss(n), loss(n-1))
		}
		assert.Equal(t, []float64{a.Best.PerYear, a.Best.PerYear}, []float64{a.Fewest, a.Most}, "nothing is uncertain")
	}
}

// By hand: 0.01 pp a day over ten years without a cleaning are 18.2625 pp in the mean; nine cleanings, one each year,
// leave a tenth, and take (0 + ... + 9)·0.03/10 = 0.135 pp of the film.
func TestLossesByHand(t *testing.T) {
	c := cleaning.Case{Soiling: cleaning.Estimate{Value: 0.01, U: 0.002}, Loss: cleaning.Estimate{Value: 0.03, U: 0.01},
		Gain: 2.9, Years: 10, Yield: 1000}
	a := best(t, c)
	assert.Equal(t, 0, a.Choices[0].N)
	assert.InDelta(t, 182.625, a.Choices[0].Soil, 1e-9)
	assert.Zero(t, a.Choices[0].Net.Upper)
	ten := a.Choices[2]
	assert.Equal(t, 10, ten.N)
	assert.InDelta(t, 182.625/11, ten.Soil, 1e-9)
	assert.InDelta(t, 1.5, ten.Film, 1e-9)
	// The net is linear in both: (1 - 1/11)·18.2625·s/0.01 - 5·w, of 10 kWh for each pp.
	u := 10 * math.Hypot(10./11*18.2625*0.2, 5*0.01)
	assert.InDelta(t, ten.Net.Value+1.959964*u, ten.Net.Upper, 1e-5)
	assert.True(t, a.Pays)
	assert.False(t, a.AtEnd)
	assert.InDelta(t, a.Best.Net.Value-ten.Net.Value, ten.Below.Value, 1e-9)
	n := float64(a.Best.N) // from 1/11 to 1/(N+1) of the soil, and (N - 10)/2 cleanings more
	u = 10 * math.Hypot((1./11-1/(n+1))*18.2625*0.2, (n-10)/2*0.01)
	assert.InDelta(t, ten.Below.Value-1.959964*u, ten.Below.Lower, 1e-5)
	assert.Zero(t, a.Best.Below)
	assert.LessOrEqual(t, a.Fewest, a.Best.PerYear)
	assert.GreaterOrEqual(t, a.Most, a.Best.PerYear)
}

// Two clocks that know nothing of each other: cleaning every τ, rain every R days. The mean age of the soil is that
// of the younger, drawn.
func TestRainAgainstDraws(t *testing.T) {
	for _, rain := range []float64{5, 20, 200} {
		c := cleaning.Case{Soiling: cleaning.Estimate{Value: 0.01}, Loss: cleaning.Estimate{Value: 0.001}, Gain: 2.9,
			RainDays: rain, Years: 4, Yield: 1000}
		for _, choice := range best(t, c).Choices {
			rng, sum := rand.New(rand.NewPCG(41, 42)), 0.0
			days := 4 * 365.25 / float64(choice.N+1)
			const n = 200_000
			for range n {
				sum += min(days*rng.Float64(), rain*rng.Float64())
			}
			assert.InEpsilon(t, 10*0.01*sum/n, choice.Soil, 0.008, "rain every %g days, %d cleanings", rain, choice.N)
		}
	}
	// Rain once a week and a soft film: nothing is to be gained.
	a := best(t, cleaning.Case{Soiling: cleaning.Estimate{Value: 0.005, U: 0.001}, Loss: cleaning.Estimate{Value: 0.05,
		U: 0.02}, Gain: 2.9, RainDays: 7,
		Years: 20, Yield: 1000})
	assert.Zero(t, a.Best.N)
	assert.False(t, a.Pays)
}

// No more is lost than the film has: with 0.4 pp of it and 0.3 pp a cleaning, three cleanings take 0.3, 0.4 and 0.4.
func TestFilmHasAnEnd(t *testing.T) {
	a := best(t, cleaning.Case{Soiling: cleaning.Estimate{Value: 0.001}, Loss: cleaning.Estimate{Value: 0.3}, Gain: 0.4,
		Years: 3, Yield: 1000})
	for _, c := range a.Choices {
		want := 0.0
		for k := range c.N + 1 {
			want += min(0.4, 0.3*float64(k)) / float64(c.N+1)
		}
		assert.InDelta(t, 10*want, c.Film, 1e-9, "%d cleanings", c.N)
	}
	// Where nothing is lost by cleaning, one a day is best.
	a = best(t, cleaning.Case{Soiling: cleaning.Estimate{Value: 0.01}, Gain: 2.9, Years: 1, Yield: 1000})
	assert.Equal(t, 365, a.Best.N)
	assert.True(t, a.AtEnd, "no more were tried")
	// Without soil there is nothing to clean.
	a = best(t, cleaning.Case{Loss: cleaning.Estimate{Value: 0.01, U: 0.01}, Gain: 2.9, Years: 1, Yield: 1000})
	assert.Zero(t, a.Best.N)
	assert.False(t, a.Pays)
}

// Soil takes no more than the light there is: its mean against drawn ages of the soil, each of which counts as no more
// than that. By hand: 0.5 pp a day have taken 97.1 pp after 194.2 days; of 365.25 they grow for as long, and lose
// 97.1·(1 - 194.2/(2·365.25)) in the mean.
func TestSoilHasAnEnd(t *testing.T) {
	for _, rain := range []float64{0, 150, 300, 2000} {
		c := cleaning.Case{Soiling: cleaning.Estimate{Value: 0.5}, Loss: cleaning.Estimate{Value: 5}, Gain: 2.9, RainDays: rain,
			Years: 10, Yield: 1000}
		assert.InDelta(t, 97.1, c.MostSoil(), 1e-12)
		for _, choice := range best(t, c).Choices {
			rng, sum := rand.New(rand.NewPCG(43, 44)), 0.0
			days := 10 * 365.25 / float64(choice.N+1)
			longest := days
			const n = 200_000
			for range n {
				age := days * rng.Float64()
				if rain > 0 {
					age = min(age, rain*rng.Float64())
					longest = min(days, rain)
				}
				sum += min(97.1, 0.5*age)
			}
			assert.InEpsilon(t, 10*sum/n, choice.Soil, 0.008, "rain every %g days, %d cleanings", rain, choice.N)
			assert.Equal(t, 0.5*longest > 97.1, choice.TakesAll)
			assert.LessOrEqual(t, choice.Soil+choice.Film, 1000.0)
		}
	}
	c := best(t, cleaning.Case{Soiling: cleaning.Estimate{Value: 0.5}, Loss: cleaning.Estimate{Value: 5}, Gain: 2.9, Years: 1,
		Yield: 1000}).Choices[0]
	assert.InDelta(t, 971*(1-194.2/730.5), c.Soil, 1e-9)
}

func TestWrongInput(t *testing.T) {
	good := cleaning.Case{Soiling: cleaning.Estimate{Value: 0.01}, Loss: cleaning.Estimate{Value: 0.03}, Gain: 2.9,
		Years: 10, Yield: 1000}
	for what, change := range map[string]func(*cleaning.Case){
		"soiling": func(c *cleaning.Case) { c.Soiling.Value = -1 }, "loss": func(c *cleaning.Case) { c.Loss.U = math.NaN() },
		"gain": func(c *cleaning.Case) { c.Gain = 0 }, "rain": func(c *cleaning.Case) { c.RainDays = math.Inf(1) },
		"horizon": func(c *cleaning.Case) { c.Years = 51 }, "yield": func(c *cleaning.Case) { c.Yield = math.NaN() },
	} {
		c := good
		change(&c)
		_, err := cleaning.Best(c)
		var input *cleaning.InputError
		require.ErrorAs(t, err, &input)
		assert.Contains(t, err.Error(), what)
	}
}
