package difference

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/fit/simultaneous"
	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// InRate compares the rates of groups, per unit of dose, by the model of package population. It is refused if fewer
// than two groups have a rate, and if what the options name is not there.
func InRate(ctx context.Context, data *series.Data, opt Options) (*Comparison, error) {
	c, err := choose(data, opt)
	if err != nil {
		return nil, err
	}
	p, err := population.Fit(ctx, c.ofExposure(), population.Options{By: c.opt.By, Days: c.opt.Days})
	if err != nil {
		return nil, err
	}
	out := c.comparison(data.Quantity.Unit)
	out.InRate = true
	of := []int{} // of each group: in the population
	for i := range p.Groups {
		g := &p.Groups[i]
		if math.IsNaN(g.Rate.Value) {
			out.LeftOut = append(out.LeftOut, c.leftOutInRate(g))
			continue
		}
		out.Unit, out.DoseUnit = g.RateUnit, g.DoseUnit
		out.Groups, of = append(out.Groups, c.groupInRate(g)), append(of, i)
	}
	if err := c.allEnded(0); err != nil {
		return nil, err
	}
	if err := out.checkGroups(c); err != nil {
		return nil, withReason(err, out.LeftOut)
	}
	out.pair(c.opt.Against)
	weights := make([][]float64, len(out.Pairs))
	for k := range out.Pairs {
		weights[k] = make([]float64, len(p.Groups))
		weights[k][of[out.Pairs[k].A]]++
		weights[k][of[out.Pairs[k].B]]--
	}
	all := p.Contrasts(weights)
	for k := range out.Pairs {
		q, e := &out.Pairs[k], &all.Estimates[k]
		q.Difference, q.U, q.DoF, q.Method = e.Value, e.SE, e.DoF, "mixed-model-max-t"
		if e.Why != "" {
			q.Why = &Reason{string(e.Why), e.Why.Sentence(), e.Why.Try()}
		}
		q.Flags = out.rateFlags(q, p.Groups[of[q.A]].Remarks, p.Groups[of[q.B]].Remarks)
	}
	out.decide(all.Told, all.Correlation, out.eachItsOwn(all.Told))
	return out, nil
}

// eachItsOwn says of each pair that its variance is estimated independently of those of the others. The model does not say
// what they have in common; that they rise together makes any one of the differences exceed its limit less often.
func (c *Comparison) eachItsOwn(told []int) (v simultaneous.Variances) {
	for _, k := range told {
		if dof := c.Pairs[k].DoF; !math.IsInf(dof, 1) {
			v.DoF = append(v.DoF, dof)
		}
	}
	own := 0
	for _, k := range told {
		share := make([]float64, len(v.DoF))
		if !math.IsInf(c.Pairs[k].DoF, 1) {
			share[own] = 1
			own++
		}
		v.Share = append(v.Share, share)
	}
	return v
}

// leftOutInRate says why a group has no rate.
func (c *choice) leftOutInRate(g *population.Group) LeftOut {
	name := c.nameOf(g)
	if ended := c.ended(0, name); ended != "" {
		return LeftOut{name, "all its coupons ended before they were read at a pull after their baseline: " + ended, tryOthers}
	}
	return LeftOut{name, g.Rate.Why.Sentence(), g.Rate.Why.Try()}
}

// withReason adds to a refusal the first reason about which something can be tried, and the groups that it left out.
func withReason(err error, left []LeftOut) error {
	var r *study.Refusal
	first := slices.IndexFunc(left, func(l LeftOut) bool { return l.Try != "" })
	if !errors.As(err, &r) || first < 0 {
		return err
	}
	out, why := *r, left[first]
	var names []string
	for _, l := range left {
		if l.Why == why.Why {
			names = append(names, l.Group)
		}
	}
	have := "have"
	if len(names) == 1 {
		have = "has"
	}
	out.Fault += fmt.Sprintf("; %s %s none, because %s", shownList(names), have, why.Why)
	out.Try = why.Try
	return &out
}

// ofExposure returns the data of the exposure that was chosen, with the controls of all.
func (c *choice) ofExposure() *series.Data {
	out := *c.data
	out.Coupons = nil
	for i := range c.data.Coupons {
		if k := &c.data.Coupons[i]; k.Role != study.Exposed || k.Exposure == c.exposure {
			out.Coupons = append(out.Coupons, *k)
		}
	}
	return &out
}

// nameOf names a group of the population as this package does.
func (c *choice) nameOf(g *population.Group) string {
	return nameOf(c.opt.By, &series.Coupon{Supplier: g.Supplier, Coating: g.Coating, Lot: g.Lot})
}

// groupInRate returns a group of the population.
func (c *choice) groupInRate(g *population.Group) Group {
	out := Group{Name: c.nameOf(g), Coating: g.Coating, Mean: g.Rate.Value, SD: math.NaN(), Unit: g.Unit,
		Coupons: g.Coupons, Lots: g.Lots, Units: g.Coupons, LoDose: math.NaN(), HiDose: math.NaN()}
	if out.Unit == population.UnitLot {
		out.Units = g.Lots
	}
	last := 0
	for _, all := range c.of {
		for _, k := range all {
			for i := range k.Points {
				last = max(last, k.Points[i].Pull)
			}
		}
	}
	for _, k := range c.of[out.Name] {
		out.members = append(out.members, k.Coupon)
		read := slices.ContainsFunc(k.Points, func(p series.Point) bool { return hasChange(&p) })
		switch {
		case k.Ended != "" && k.EndedPull <= last:
			out.Ended = append(out.Ended, Without{k.Coupon, k.Ended})
		case !read && k.BaselinePull < last:
			out.Missing = append(out.Missing, Without{k.Coupon, "no change at any pull"})
		}
	}
	return out
}
