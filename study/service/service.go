// Package service says what coatings are worth over a service life: how much energy the gain of each still lets
// through that bare glass would not, if it goes on ageing as it did.
//
// Start with [Keep] for each coating, then [Compare] those two by two.
//
// # What is assumed
//
// The gain g of solar transmittance over bare glass falls from its value when new by a constant rate, down to that of
// bare glass and no further:
//
//	g(t) = max(0, g0 - loss·t)        loss = -rate + loss of a cleaning · cleanings a year
//
// A rate above 0 counts as 0: no coating is taken to become better than it was. The energy is
//
//	E = yield / T · ∫ g(t) dt
//
// over the years, with the yield of the modules behind bare glass in kWh per kWp and year, and the transmittance T of
// bare glass: light that enters is taken to become energy in proportion. The gain is that at normal incidence,
// weighted by energy, of a clean surface.
//
// The interval carries the ends of the interval of the rate through this formula, and those of g0, and adds what they
// move the energy by as independent errors, each side for itself. It is of the mean coating, not of one module.
package service

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Level is the level of all intervals.
const Level = 0.95

// MostDose is up to how many times the largest dose at which it was read a rate is carried.
const MostDose = 2

// Estimate is a value with its standard error and the degrees of freedom of its t; +Inf: it is normal.
type Estimate struct{ Value, SE, DoF float64 }

// half returns half the interval of an estimate.
func (e Estimate) half() float64 {
	if e.SE == 0 {
		return 0
	}
	if math.IsInf(e.DoF, 1) || e.DoF > 1e9 {
		return distuv.UnitNormal.Quantile((1+Level)/2) * e.SE
	}
	return distuv.StudentsT{Sigma: 1, Nu: e.DoF}.Quantile((1+Level)/2) * e.SE
}

// isKnown reports whether the estimate is a number with an interval.
func (e Estimate) isKnown() bool {
	return !math.IsNaN(e.Value+e.SE) && !math.IsInf(e.Value+e.SE, 0) && e.SE >= 0 && e.DoF > 0
}

// Coating is what is known of a coating.
type Coating struct {
	Name string
	Gain Estimate // when new, pp of solar transmittance over the same glass without a film
	Rate Estimate // of the gain, pp a year, negative where it falls
	Bare float64  // transmittance of the glass without a film, percent

	// What it costs, in one currency; 0 where nothing is given. CleaningPrice is of one cleaning.
	Price, CleaningPrice float64 // per kWp
	Cleanings            float64 // a year
	CleaningLoss         float64 // pp of gain lost by each cleaning, beside what the rate has; 0 or more
}

// Terms are what the coatings are asked to do.
type Terms struct {
	Years float64 // above 0
	Yield float64 // kWh per kWp and year, of modules behind bare glass, above 0
}

// Range is a value with its interval.
type Range struct{ Value, Lower, Upper float64 }

// Kept is what a coating keeps over the years.
type Kept struct {
	Coating
	Energy Range   // kWh per kWp, over all years, more than bare glass
	Left   Range   // gain at the end, pp
	BareAt float64 // years after which no gain is left; +Inf: beyond the years

	// Cost is the price of the coating and of all cleanings, per kWp, and PerKWh that over the energy; NaN where no
	// price is given, the upper end +Inf where the energy may be none.
	Cost   float64
	PerKWh Range
}

// InputError says which number cannot be.
type InputError struct{ What, Want string }

func (e *InputError) Error() string { return fmt.Sprintf("service: %s must be %s", e.What, e.Want) }

// Check returns an [*InputError] for terms that cannot be.
func (t Terms) Check() error {
	switch {
	case !(t.Years > 0) || t.Years > 200:
		return &InputError{"the years", "above 0 and at most 200"}
	case !(t.Yield > 0) || t.Yield > 5000:
		return &InputError{"the yield", "above 0 and at most 5000 kWh per kWp and year"}
	}
	return nil
}

// check returns an [*InputError] for a coating of which a number is missing or cannot be.
func (c *Coating) check() error {
	of := " of " + c.Name
	switch {
	case !c.Gain.isKnown():
		return &InputError{"the gain" + of, "known with its interval"}
	case !c.Rate.isKnown():
		return &InputError{"the rate" + of, "known with its interval"}
	case !(c.Bare > 0) || c.Bare > 100:
		return &InputError{"the transmittance of bare glass" + of, "above 0 and at most 100 percent"}
	}
	for _, v := range []struct {
		what  string
		value float64
	}{{"the price", c.Price}, {"the price of a cleaning", c.CleaningPrice}, {"the number of cleanings", c.Cleanings},
		{"the loss of a cleaning", c.CleaningLoss}} {
		if !(v.value >= 0) || math.IsInf(v.value, 1) {
			return &InputError{v.what + of, "0 or more"}
		}
	}
	return nil
}

// Keep returns what a coating keeps under the terms. Terms that cannot be, and a coating of which a number is
// missing, give an [*InputError].
func Keep(c Coating, t Terms) (*Kept, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	out := &Kept{Coating: c, BareAt: math.Inf(1), Cost: math.NaN(), PerKWh: Range{math.NaN(), math.NaN(), math.NaN()}}
	energy := func(gain, loss float64) float64 { return t.Yield / c.Bare * gainYears(gain, loss, t.Years) }
	left := func(gain, loss float64) float64 { return max(0, max(0, gain)-loss*t.Years) }
	out.Energy, out.Left = c.spread(energy), c.spread(left)
	if loss := c.loss(c.Rate.Value); loss > 0 && c.Gain.Value/loss < t.Years {
		out.BareAt = max(0, c.Gain.Value) / loss
	}
	if c.Price > 0 || c.CleaningPrice*c.Cleanings > 0 {
		out.Cost = c.Price + c.CleaningPrice*c.Cleanings*t.Years
		out.PerKWh = Range{out.Cost / out.Energy.Value, out.Cost / out.Energy.Upper, out.Cost / max(0, out.Energy.Lower)}
	}
	return out, nil
}

// loss returns what the gain loses a year at a rate, pp.
func (c *Coating) loss(rate float64) float64 { return max(0, -rate) + c.Cleanings*c.CleaningLoss }

// gainYears returns ∫ max(0, gain - loss·t) dt over the years, pp years.
func gainYears(gain, loss, years float64) float64 {
	if gain <= 0 {
		return 0
	}
	until := years
	if loss*years > gain {
		until = gain / loss
	}
	return gain*until - loss*until*until/2
}

// spread returns f of gain and loss with its interval; f rises with the gain and falls with the loss.
func (c *Coating) spread(f func(gain, loss float64) float64) Range {
	g, dg, dr := c.Gain.Value, c.Gain.half(), c.Rate.half()
	at := f(g, c.loss(c.Rate.Value))
	down := math.Hypot(at-f(g, c.loss(c.Rate.Value-dr)), at-f(g-dg, c.loss(c.Rate.Value)))
	up := math.Hypot(f(g, c.loss(c.Rate.Value+dr))-at, f(g+dg, c.loss(c.Rate.Value))-at)
	return Range{at, max(0, at-down), at + up}
}

// Compare returns the energy of a less that of b with its interval, kWh per kWp: the errors of both count as
// independent. What the coatings share, such as their sessions, makes the difference more certain than that.
func Compare(a, b *Kept) Range {
	d := a.Energy.Value - b.Energy.Value
	return Range{d, d - math.Hypot(a.Energy.Value-a.Energy.Lower, b.Energy.Upper-b.Energy.Value),
		d + math.Hypot(a.Energy.Upper-a.Energy.Value, b.Energy.Value-b.Energy.Lower)}
}
