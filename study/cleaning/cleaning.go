// Package cleaning says how often to clean coated modules: often enough to take the soil off, seldom enough to keep
// the film.
//
// Start with [Best]. N cleanings at equal distances divide the horizon of H years into N+1 parts of τ = H/(N+1). The
// soil grows by s a day and cleaning takes all of it, as does rain, which comes every R days, whatever was cleaned.
// Each cleaning takes w off the gain of the film, until none is left:
//
//	mean soil = s·(τ/2 - τ²/(6R))     τ <= R; the other way round where τ > R; without rain s·τ/2
//	            soil stops to grow where it has taken all light that the glass lets through without the film
//	mean loss of the film = Σ_{k=0}^{N} min(k·w, gain) / (N+1)
//
// both in pp of solar transmittance, each of which is worth 1 % of the yield. What is best is found by trying every N
// up to one cleaning a day, where the search ends. Without rain and while a film is left, it is where both grow alike:
// N + 1 = √(s·H/w).
//
// What cleaning costs in money, water and wear of other parts is not in it, nor that a film also ages without it.
package cleaning

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// DaysPerYear is the length of a year, days.
const DaysPerYear = 365.25

// Level is the level of all intervals.
const Level = 0.95

const normal = 1.959963984540054 // quantile of the normal distribution for Level

// draws is how often soil and loss are drawn for the interval of the best number.
const draws = 1000

// Estimate is a value with its standard uncertainty.
type Estimate struct{ Value, U float64 }

// Case is what is to be cleaned.
type Case struct {
	Soiling  Estimate // what the soil takes off more each day, pp a day
	Loss     Estimate // what each cleaning takes off the gain of the film, pp
	Gain     float64  // of the film at the start, pp: more cannot be lost
	RainDays float64  // how often rain takes the soil off, days; 0: never
	Years    float64  // the horizon
	Yield    float64  // kWh per kWp and year
}

// Range is a value with its interval.
type Range struct{ Value, Lower, Upper float64 }

// Choice is a number of cleanings with what it costs.
type Choice struct {
	N          int     // over the horizon
	PerYear    float64 // N over the years
	Soil, Film float64 // mean losses, kWh per kWp and year
	Net        Range   // energy more than without any cleaning, kWh per kWp and year
	Below      Range   // energy less than with the best number
	IsBest     bool
	TakesAll   bool // the soil takes all light before it is cleaned off
}

// Advice is how often to clean.
type Advice struct {
	Case
	Best    Choice
	Choices []Choice // none, the usual numbers a year and the best, in the order of their numbers

	// Fewest and Most are the ends of the interval of the best number a year, for what is known of soil and loss.
	Fewest, Most float64
	// Pays says that the best number is distinguished from none.
	Pays bool
	// AtEnd says that the best number is the largest that was tried: more might be better.
	AtEnd bool
}

// InputError says which number cannot be.
type InputError struct{ What, Want string }

func (e *InputError) Error() string { return fmt.Sprintf("cleaning: %s must be %s", e.What, e.Want) }

// Check returns an [*InputError] for a case that cannot be.
func (c *Case) Check() error {
	for _, v := range []struct {
		what, want string
		ok         bool
	}{
		{"the soiling rate", "0 or more and at most 10 pp a day, with its uncertainty", within(c.Soiling.Value, 0, 10) &&
			c.Soiling.U >= 0},
		{"the loss of a cleaning", "0 or more and at most 10 pp, with its uncertainty", within(c.Loss.Value, 0, 10) &&
			c.Loss.U >= 0},
		{"the gain of the film", "above 0 and at most 10 pp", c.Gain > 0 && c.Gain <= 10},
		{"the days between rain", "0, for none, or more, and at most 3660", within(c.RainDays, 0, 3660)},
		{"the horizon", "above 0 and at most 50 years", c.Years > 0 && c.Years <= 50},
		{"the yield", "above 0 and at most 5000 kWh per kWp and year", c.Yield > 0 && c.Yield <= 5000},
	} {
		if !v.ok {
			return &InputError{v.what, v.want}
		}
	}
	return nil
}

func within(v, lo, hi float64) bool { return v >= lo && v <= hi }

// usual are the numbers of cleanings a year that are listed beside the best.
var usual = []float64{0, 0.5, 1, 2, 4, 12, 52}

// Best returns how often to clean. Of numbers that are equally good it is the smallest. A case that cannot be gives
// an [*InputError].
func Best(c Case) (*Advice, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	out := &Advice{Case: c}
	best := c.best(c.Soiling.Value, c.Loss.Value)
	numbers := []int{best}
	for _, perYear := range usual {
		numbers = append(numbers, int(math.Round(perYear*c.Years)))
	}
	slices.Sort(numbers)
	for _, n := range slices.Compact(numbers) {
		choice := c.choice(n, best)
		if choice.IsBest = n == best; choice.IsBest {
			out.Best = choice
		}
		out.Choices = append(out.Choices, choice)
	}
	out.Pays, out.AtEnd = out.Best.Net.Lower > 0, best == c.most()
	out.Fewest, out.Most = c.bestRange()
	return out, nil
}

// choice returns a number of cleanings with its losses. Intervals are of first order.
func (c *Case) choice(n, best int) Choice {
	worth := c.Yield / 100
	loss := func(n int, s, w float64) float64 { return worth * (c.soil(n, s) + c.film(n, w)) }
	out := Choice{N: n, PerYear: float64(n) / c.Years, Soil: loss(n, c.Soiling.Value, 0), Film: loss(n, 0, c.Loss.Value),
		TakesAll: c.Soiling.Value*c.longest(n) > c.MostSoil()}
	out.Net = c.spread(func(s, w float64) float64 { return loss(0, s, w) - loss(n, s, w) })
	out.Below = c.spread(func(s, w float64) float64 { return loss(n, s, w) - loss(best, s, w) })
	return out
}

// spread returns what follows from soil and loss with its interval.
func (c *Case) spread(f func(s, w float64) float64) Range {
	s, w := c.Soiling.Value, c.Loss.Value
	at := f(s, w)
	u := math.Hypot(moved(func(v float64) float64 { return f(v, w) }, c.Soiling),
		moved(func(v float64) float64 { return f(s, v) }, c.Loss))
	return Range{at, at - normal*u, at + normal*u}
}

// moved returns what one standard uncertainty of e moves f by; values below 0 do not count.
func moved(f func(float64) float64, e Estimate) float64 {
	if e.U == 0 {
		return 0
	}
	lo, hi := max(0, e.Value-e.U), e.Value+e.U
	return (f(hi) - f(lo)) / (hi - lo) * e.U
}

// MostSoil is what soil takes at most, pp: all that is not the gain of the film.
func (c *Case) MostSoil() float64 { return 100 - c.Gain }

// between returns the days between cleanings.
func (c *Case) between(n int) float64 { return c.Years * DaysPerYear / float64(n+1) }

// longest returns for how many days soil grows at most before it is taken off.
func (c *Case) longest(n int) float64 {
	if c.RainDays == 0 {
		return c.between(n)
	}
	return min(c.between(n), c.RainDays)
}

// soil returns the mean loss by soil, pp: the integral of what is gained each day over the chance that nothing took the
// soil off for so long, up to where it has taken all light.
func (c *Case) soil(n int, perDay float64) float64 {
	days, short := c.between(n), c.longest(n)
	grows := short
	if perDay > 0 {
		grows = min(short, c.MostSoil()/perDay)
	}
	if c.RainDays == 0 {
		return perDay * grows * (1 - grows/(2*short))
	}
	long := max(days, c.RainDays)
	return perDay * grows * (1 - grows/2*(1/short+1/long) + grows*grows/(3*short*long))
}

// film returns the mean loss of the film, pp.
func (c *Case) film(n int, each float64) float64 {
	if each*float64(n) <= c.Gain {
		return each * float64(n) / 2
	}
	whole := math.Floor(c.Gain / each) // cleanings after which a film is left
	return (each*whole*(whole+1)/2 + c.Gain*(float64(n)-whole)) / float64(n+1)
}

// most is the largest number of cleanings that is tried: one a day.
func (c *Case) most() int { return int(c.Years * DaysPerYear) }

// best returns the number of cleanings with the least loss.
func (c *Case) best(soiling, loss float64) int {
	best, least := 0, math.Inf(1)
	for n := range c.most() + 1 {
		if total := c.soil(n, soiling) + c.film(n, loss); total < least {
			best, least = n, total
		}
	}
	return best
}

// bestRange returns the interval of the best number a year, by drawing soil and loss, none below 0.
func (c *Case) bestRange() (fewest, most float64) {
	if c.Soiling.U == 0 && c.Loss.U == 0 {
		n := float64(c.best(c.Soiling.Value, c.Loss.Value)) / c.Years
		return n, n
	}
	rng, all := rand.New(rand.NewPCG(1, 11)), make([]int, draws)
	for i := range all {
		s, w := c.Soiling.Value+c.Soiling.U*rng.NormFloat64(), c.Loss.Value+c.Loss.U*rng.NormFloat64()
		all[i] = c.best(max(0, s), max(0, w))
	}
	slices.Sort(all)
	at := func(p float64) float64 { return float64(all[int(math.Round(p*float64(draws-1)))]) / c.Years }
	return at((1 - Level) / 2), at((1 + Level) / 2)
}
