package desk

import (
	"context"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/difference"
	"wane/study/power"
	"wane/study/scenario"
	"wane/study/series"
)

// The verdicts on a pair and by a rule, as the file of a rehearsal has them.
const (
	pairDifferent = "different"
	pairEqual     = "equal"
	pairBoth      = "different, and equal within the margin"
	pairNothing   = "nothing"
	pairSilent    = "cannot tell"

	ruleAccept    = string(acceptance.Accept)
	ruleReject    = string(acceptance.Reject)
	ruleUndecided = string(acceptance.Undecided)
)

// pairWords are the verdicts of a comparison.
var pairWords = map[difference.Verdict]string{difference.Different: pairDifferent, difference.Equivalent: pairEqual,
	difference.DifferentWithin: pairBoth, difference.NotDistinguished: pairNothing, difference.CannotTell: pairSilent}

// judge notes what the comparison and the rule of the plan of a scene say of a made-up study.
func (m *madeStudy) judge(ctx context.Context, p *scenario.Plan, data *series.Data) error {
	if p.Compare != nil {
		if err := m.compare(ctx, p, data); err != nil {
			return err
		}
	}
	if p.Rule != nil {
		m.judgeRule(p, data)
	}
	return nil
}

// components are the variances of each coating at the last pull.
func components(p *scenario.Plan, data *series.Data) map[string]*power.Components {
	of, all := map[string]*power.Components{}, power.ComponentsAt(data, scenario.Exposure, len(p.Doses)-1)
	for i := range all {
		if !math.IsNaN(all[i].U) {
			of[all[i].Coating] = &all[i]
		}
	}
	return of
}

// compare compares the coatings as wane compare does. A pair of which nothing can be said, since too many coupons were lost, is one
// of which the study cannot tell.
func (m *madeStudy) compare(ctx context.Context, p *scenario.Plan, data *series.Data) error {
	last := len(p.Doses) - 1
	opt := difference.Options{Pull: last, Margin: p.Compare.Margin, Level: p.Compare.Level}
	compared, err := difference.AtPull(data, opt)
	if p.Compare.ByRate {
		opt.Pull, opt.Margin = 0, p.Compare.Margin/p.Doses[last] // of the difference at the last pull
		compared, err = difference.InRate(ctx, data, opt)
	}
	var refused *study.Refusal
	if err != nil && !errors.As(err, &refused) {
		return err
	}
	of := components(p, data)
	for _, pair := range coatingPairs(p) {
		found := pairOf(compared, pair, p)
		if a, b := of[pair.a.Coating], of[pair.b.Coating]; a != nil && b != nil {
			found.Chance = pairChance(p, pair, a, b)
		}
		m.Pairs = append(m.Pairs, found)
	}
	return nil
}

// pairOf finds a pair of coatings among those compared, and turns it round if need be.
func pairOf(c *difference.Comparison, pair planPair, p *scenario.Plan) madePair {
	silent := madePair{Verdict: pairSilent}
	if c == nil {
		return silent
	}
	named := func(name string) int {
		return slices.IndexFunc(c.Groups, func(g difference.Group) bool { return g.Name == name })
	}
	a, b := named(pair.a.Coating), named(pair.b.Coating)
	for i := range c.Pairs {
		q := &c.Pairs[i]
		sign := 1.0
		switch {
		case a < 0 || b < 0 || q.Verdict == difference.CannotTell:
			continue
		case q.A == b && q.B == a:
			sign = -1
		case q.A != a || q.B != b:
			continue
		}
		scale := 1.0
		if c.InRate {
			scale = p.Doses[len(p.Doses)-1] // to the difference at the last pull
		}
		return madePair{Verdict: pairWords[q.Verdict], Difference: sign * scale * q.Difference, U: scale * q.U}
	}
	return silent
}

// judgeRule judges the coating of the rule. Where no coupon of it is left, nothing is decided.
func (m *madeStudy) judgeRule(p *scenario.Plan, data *series.Data) {
	m.Rule = ruleUndecided
	judged := *data // only the coating of the rule: the others take their time too
	judged.Coupons = nil
	for i := range data.Coupons {
		if data.Coupons[i].Coating == p.Rule.Coating {
			judged.Coupons = append(judged.Coupons, data.Coupons[i])
		}
	}
	for _, j := range acceptance.Judge(ruleOf(p), &judged) {
		m.Rule = string(j.Verdict)
		var us []float64
		for i := range j.Coupons {
			if u := j.Coupons[i].U; u > 0 {
				us = append(us, u)
			}
		}
		if c := components(p, data)[j.Group]; c != nil && len(us) > 0 {
			m.U, m.Chances = floats.Sum(us)/float64(len(us)), ruleChances(p, us, c.CommonU())
		}
	}
}

// ruleOf returns the rule of a plan as the study would have it.
func ruleOf(p *scenario.Plan) *acceptance.Rule {
	at := slices.IndexFunc(p.Coatings, func(c scenario.Coating) bool { return c.Coating == p.Rule.Coating })
	var lost []string
	if p.Rule.Excused {
		lost = []string{string(study.EventLost)}
	}
	return &acceptance.Rule{Name: "planned", Quantity: rehearsedQuantity, Weighting: acceptance.EnergyWeighting,
		Condition: scenario.Condition, Exposure: scenario.Exposure, Dose: p.Doses[len(p.Doses)-1], By: "coating",
		Limit: p.Rule.Limit, Unit: "pp", Coupons: p.Coatings[at].Coupons, Failures: p.Rule.Failures, Share: p.Rule.Share,
		Confidence: p.Rule.Confidence, Looks: 1, Lost: lost}
}

// pairChance returns the chance that a pair is called different by package power, at the uncertainties that a study had. It is nil
// where the plan has what the formula leaves out.
func pairChance(p *scenario.Plan, pair planPair, a, b *power.Components) *float64 {
	normal := pair.a.Loss.Law == power.Normal && pair.b.Loss.Law == power.Normal
	if !normal || p.Faults.Lost > 0 || p.Compare.ByRate && !p.Even() {
		return nil
	}
	group := func(of *scenario.Coating, u float64) power.Group {
		g := power.Group{Spread: power.Spread{Coupon: of.Loss.SD, Lot: of.Loss.Lot, U: u}, Coupons: of.Coupons, Lots: of.Lots}
		if p.Compare.ByRate {
			g.Pulls = len(p.Doses) - 1
		}
		return g
	}
	n := len(p.Coatings)
	c, err := power.NewComparison(group(pair.a, a.U), group(pair.b, b.U),
		power.Test{Level: p.Compare.Level, Pairs: n * (n - 1) / 2, Shared: power.Shared(a, b)})
	if err != nil { // coupons that do not scatter
		return nil
	}
	chance := c.Different(pair.more)
	return &chance
}

// ruleChances returns the chances of acceptance, rejection and neither by package power, as pairChance does.
func ruleChances(p *scenario.Plan, us []float64, common float64) *[3]float64 {
	at := slices.IndexFunc(p.Coatings, func(c scenario.Coating) bool { return c.Coating == p.Rule.Coating })
	coating := &p.Coatings[at]
	if coating.Loss.Lot > 0 || p.Faults.Lost > 0 {
		return nil
	}
	rule := power.Rule{Limit: p.Rule.Limit, Coupons: coating.Coupons, Failures: p.Rule.Failures, Us: us, Shared: common}
	c, err := rule.Chances(coating.Loss.Losses)
	if err != nil {
		return nil
	}
	return &[3]float64{c.Accept, c.Reject, c.Undecided}
}
