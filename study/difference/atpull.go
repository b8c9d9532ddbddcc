package difference

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"wane/fit/simultaneous"
	"wane/study"
	"wane/study/series"
)

// AtPull compares the changes of groups by one pull. It is refused if no two groups have a change at one pull, and if
// what the options name is not there.
func AtPull(data *series.Data, opt Options) (*Comparison, error) {
	c, err := choose(data, opt)
	if err != nil {
		return nil, err
	}
	pull, err := c.choosePull()
	if err != nil {
		return nil, err
	}
	if err := c.allEnded(pull); err != nil {
		return nil, err
	}
	out := c.comparison(data.Quantity.Unit)
	out.Pull, out.DoseUnit = pull, c.doseUnit
	for _, name := range c.names {
		g := c.groupAt(name, pull)
		if g.Units == 0 {
			out.LeftOut = append(out.LeftOut, c.leftOutAt(name, pull))
			continue
		}
		out.Groups = append(out.Groups, g)
	}
	if err := out.checkGroups(c); err != nil {
		return nil, withReason(err, out.LeftOut)
	}
	out.Dose = out.meanDose()
	out.pair(c.opt.Against)
	told, vectors := []int{}, []contrast{}
	for k := range out.Pairs {
		p := &out.Pairs[k]
		d := out.contrast(data, p)
		p.Permutation = permute(out.Groups[p.A].values(), out.Groups[p.B].values(), len(out.Pairs))
		p.Method = "welch-max-t"
		if p.Why == nil {
			told, vectors = append(told, k), append(vectors, d)
		}
		p.Flags = out.pairFlags(data, p)
	}
	out.decide(told, out.correlation(vectors), variancesOf(vectors))
	return out, nil
}

// leftOutAt says why a group has no change at a pull.
func (c *choice) leftOutAt(name string, pull int) LeftOut {
	if ended := c.ended(pull, name); ended != "" {
		return LeftOut{name, fmt.Sprintf("all its coupons ended before they were read at pull %d: %s", pull, ended), tryOthers}
	}
	return LeftOut{Group: name, Why: fmt.Sprintf("no change at pull %d", pull)}
}

// comparison returns a comparison without groups.
func (c *choice) comparison(unit string) *Comparison {
	return &Comparison{Quantity: c.data.Quantity, By: c.opt.By, Exposure: c.exposure, Unit: unit, Level: c.opt.Level,
		Margin: c.opt.Margin, Dose: math.NaN()}
}

// checkGroups refuses a comparison of less than two groups, and one against a group that is left out.
func (c *Comparison) checkGroups(of *choice) error {
	missing := func(name string) bool {
		return !slices.ContainsFunc(c.Groups, func(g Group) bool { return g.Name == name })
	}
	try := "name another pull, or leave --pull out for the last one that most groups have"
	if c.InRate {
		try = "take in more pulls, and run wane fit"
	}
	switch {
	case len(c.Groups) < 2:
		what, has := fmt.Sprintf("a difference at pull %d", c.Pull), "a change there"
		if c.InRate {
			what, has = "a difference in rate", "a rate"
		}
		who := "no " + string(c.By)
		if len(c.Groups) == 1 {
			who = "only " + study.Shown(c.Groups[0].Name)
		}
		return &study.Refusal{Fault: fmt.Sprintf("%s cannot be told from these data, because %s has %s", what,
			who, has), Try: try}
	case of.opt.Against != "" && missing(of.opt.Against):
		has := fmt.Sprintf("change at pull %d", c.Pull)
		if c.InRate {
			has = "rate"
		}
		return &study.Refusal{Fault: fmt.Sprintf("nothing can be compared with %s, because it has no %s",
			study.Shown(of.opt.Against), has), Try: try}
	}
	return nil
}

// meanDose returns the mean dose over the coupons; NaN where one is not known.
func (c *Comparison) meanDose() float64 {
	sum, n := 0.0, 0.0
	for i := range c.Groups {
		for _, u := range c.Groups[i].units {
			for _, m := range u.of {
				sum, n = sum+m.point.Dose, n+1
			}
		}
	}
	return sum / n
}

// pair makes the pairs: each group less the one that they are compared with, or all pairs.
func (c *Comparison) pair(against string) {
	add := func(a, b int) {
		nan := math.NaN()
		c.Pairs = append(c.Pairs, Pair{A: a, B: b, Difference: nan, U: nan, DoF: nan, Lower: nan, Upper: nan, P: nan,
			PAdjusted: nan, PHolm: nan, LeastDetectable: nan, SessionShare: nan, PEquivalent: nan,
			PEquivalentAdjusted: nan, Permutation: Permutation{P: nan, Least: nan}, Verdict: CannotTell})
	}
	for a := range c.Groups {
		for b := range c.Groups {
			if against == "" && a < b || c.Groups[b].Name == against && a != b {
				add(a, b)
			}
		}
	}
}

// contrast is the difference of two groups as the others of a comparison see it.
type contrast struct {
	a, b   int
	v      float64 // variance
	shrink float64 // of what the difference of the means is off by shared errors: the rest is in the scatter
	parts  []part
}

// part is an estimated part of a variance.
type part struct {
	of       source
	variance float64
	dof      float64
}

// source is what it is an estimate of: the scatter of a group, or an effect.
type source struct{ group, effect int } // -1: not that

// variancesOf says what the variances of differences are made of.
func variancesOf(of []contrast) (v simultaneous.Variances) {
	at := map[source]int{}
	for _, d := range of {
		for _, p := range d.parts {
			if _, known := at[p.of]; !known {
				at[p.of] = len(v.DoF)
				v.DoF = append(v.DoF, p.dof)
			}
		}
	}
	for _, d := range of {
		share := make([]float64, len(v.DoF))
		for _, p := range d.parts {
			share[at[p.of]] = p.variance / d.v
		}
		v.Share = append(v.Share, share)
	}
	return v
}

// contrast fills the difference of a pair with its uncertainty, or with why there is none.
func (c *Comparison) contrast(data *series.Data, p *Pair) contrast {
	a, b := &c.Groups[p.A], &c.Groups[p.B]
	p.Difference = a.Mean - b.Mean
	if p.Why = whyNot(data, a, b); p.Why != nil {
		return contrast{}
	}
	d, scatter := contrast{a: p.A, b: p.B}, 0.0
	for _, g := range []int{p.A, p.B} {
		v := c.Groups[g].variance()
		scatter += v
		d.parts = append(d.parts, part{source{g, -1}, v, float64(c.Groups[g].Units - 1)})
	}
	all, sessions, shared := 0.0, 0.0, 0.0
	if a.mean.Known && b.mean.Known {
		shared = max(0, a.common+b.common-2*series.Covariance(&a.mean, &b.mean))
		eachDifference(&a.mean, &b.mean, func(e int, by float64) {
			all += by * by
			if o := data.Effects[e].Owner; o == study.OwnerSession || o == study.OwnerJoint {
				sessions += by * by
			}
		})
	}
	if all > 0 {
		d.shrink = math.Sqrt(shared / all)
		eachDifference(&a.mean, &b.mean, func(e int, by float64) {
			if dof := data.DoF[e]; dof > 0 {
				d.parts = append(d.parts, part{source{-1, e}, math.Pow(d.shrink*by, 2), dof})
			}
		})
	}
	d.v = scatter + shared
	weight := 0.0
	for _, part := range d.parts {
		weight += part.variance * part.variance / part.dof
	}
	p.U, p.DoF = math.Sqrt(d.v), d.v*d.v/weight
	if sharesSessions(data) && a.mean.Known && b.mean.Known {
		p.SessionShare = d.shrink * d.shrink * sessions / d.v
	}
	return d
}

// sharesSessions reports whether the errors of values say what they share with others of their session.
func sharesSessions(data *series.Data) bool {
	return !data.Quantity.Measured && data.Quantity.Followed.Split
}

// correlation returns the correlation of the errors of differences.
func (c *Comparison) correlation(of []contrast) *mat.SymDense {
	if len(of) == 0 {
		return nil
	}
	n := len(c.Groups)
	common := mat.NewSymDense(n, nil) // of the means, by what they share
	for a := range n {
		for b := range a + 1 {
			common.SetSym(a, b, series.Covariance(&c.Groups[a].mean, &c.Groups[b].mean))
		}
	}
	r := mat.NewSymDense(len(of), nil)
	for i, x := range of {
		for k, y := range of[:i] {
			v := common.At(x.a, y.a) - common.At(x.a, y.b) - common.At(x.b, y.a) + common.At(x.b, y.b)
			v *= x.shrink * y.shrink
			for _, g := range []struct {
				of   int
				sign float64
			}{{x.a, 1}, {x.b, -1}} {
				switch g.of {
				case y.a:
					v += g.sign * c.Groups[g.of].variance()
				case y.b:
					v -= g.sign * c.Groups[g.of].variance()
				}
			}
			r.SetSym(i, k, min(1, max(-1, v/math.Sqrt(x.v*y.v))))
		}
		r.SetSym(i, i, 1)
	}
	return r
}

// variance returns the variance of the mean by the scatter of the units.
func (g *Group) variance() float64 { return g.SD * g.SD / float64(g.Units) }
