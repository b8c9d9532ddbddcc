package desk

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
	"wane/study/transfer"
)

// TransferOptions name two exposures that are compared.
type TransferOptions struct {
	Exposures [2]string // how many times faster the first is than the second
	Quantity  string
	Days      bool // rates per day, in place of the units of the doses
	AsOf      int64
}

// Transfer is how one exposure stands for another.
type Transfer struct {
	Quantity  series.Quantity
	Exposures [2]string
	Units     [2]string // of rates
	Coatings  []TransferCoating
	Common    transfer.Factor // the geometric mean over coatings
	InCommon  int             // coatings in it
	Agreement transfer.Agreement
	Alone     []string // coatings that are in one of the exposures only
}

// TransferCoating is a coating in both exposures.
type TransferCoating struct {
	Coating string
	Groups  [2]population.Group
	Bent    [2]bool // its changes so far do not lie on a straight line
	Factor  transfer.Factor
}

// TransferLevel is the level of the intervals of factors.
const TransferLevel = 0.95

// Transfer compares how fast coatings age in two exposures, by the rates of one model of both. The correlation of the
// rates by the errors that they share is in the interval of their ratio.
func (d *Desk) Transfer(ctx context.Context, opt TransferOptions) (*Transfer, error) {
	for _, e := range opt.Exposures {
		if _, err := d.checkExposure(ctx, e); err != nil {
			return nil, err
		}
	}
	data, err := d.Series(ctx, opt.Quantity, SeriesOptions{AsOf: opt.AsOf,
		Keep: func(c *series.Coupon) bool { return slices.Contains(opt.Exposures[:], c.Exposure) }})
	if err != nil {
		return nil, err
	}
	pop, err := population.Fit(ctx, data, population.Options{By: population.ByCoating, Days: opt.Days})
	if err != nil {
		return nil, err
	}
	out := &Transfer{Quantity: pop.Quantity, Exposures: opt.Exposures}
	at := map[string]*[2]int{} // group of each coating in both, from 1
	for i, g := range pop.Groups {
		if at[g.Coating] == nil {
			at[g.Coating] = &[2]int{}
		}
		if k := slices.Index(opt.Exposures[:], g.Exposure); k >= 0 {
			at[g.Coating][k] = i + 1
		}
	}
	weights := make([][]float64, len(pop.Groups))
	for i := range weights {
		weights[i] = make([]float64, len(pop.Groups))
		weights[i][i] = 1
	}
	contrasts := pop.Contrasts(weights)
	for i := range pop.Groups {
		coating := pop.Groups[i].Coating
		pair := at[coating]
		if pair == nil {
			continue // it was there already
		}
		delete(at, coating)
		if pair[0] == 0 || pair[1] == 0 {
			out.Alone = append(out.Alone, coating)
			continue
		}
		out.add(pop, contrasts, pair[0]-1, pair[1]-1)
	}
	if len(out.Coatings) == 0 {
		return nil, &study.Refusal{Fault: fmt.Sprintf("no coating has coupons with values in both exposures, %s and %s",
			study.Shown(opt.Exposures[0]), study.Shown(opt.Exposures[1])),
			Try: "expose coupons of the same coatings in both; one factor holds for the coatings that it was measured with"}
	}
	bent, err := bentGroups(data, population.Options{Days: opt.Days})
	if err != nil {
		return nil, err
	}
	for i := range out.Coatings {
		for k, e := range opt.Exposures {
			out.Coatings[i].Bent[k] = bent[[2]string{out.Coatings[i].Coating, e}]
		}
	}
	if !slices.ContainsFunc(pop.Groups, func(g population.Group) bool { return g.Values > 0 }) {
		return nil, cannotTell("how fast coatings age", population.NoValue)
	}
	out.finish()
	return out, nil
}

// add adds a coating by its groups in both exposures.
func (t *Transfer) add(pop *population.Population, c *population.Contrasts, a, b int) {
	one := TransferCoating{Coating: pop.Groups[a].Coating, Groups: [2]population.Group{pop.Groups[a], pop.Groups[b]}}
	r, i, k := 0.0, slices.Index(c.Told, a), slices.Index(c.Told, b)
	if i >= 0 && k >= 0 {
		r = c.Correlation.At(i, k)
	}
	rate := func(e population.Estimate) transfer.Rate { return transfer.Rate{Value: e.Value, SE: e.SE, DoF: e.DoF} }
	one.Factor = transfer.Ratio(rate(one.Groups[0].Rate), rate(one.Groups[1].Rate), r, TransferLevel)
	t.Coatings = append(t.Coatings, one)
	for e := range t.Units {
		t.Units[e] = one.Groups[e].RateUnit
	}
}

// finish fills what is said of all coatings together.
func (t *Transfer) finish() {
	var factors []transfer.Factor
	var rates [2][]float64
	for _, c := range t.Coatings {
		factors = append(factors, c.Factor)
		if a, b := c.Groups[0].Rate.Value, c.Groups[1].Rate.Value; !math.IsNaN(a + b) {
			rates[0], rates[1] = append(rates[0], a), append(rates[1], b)
		}
	}
	t.Common, t.InCommon = transfer.Common(factors, TransferLevel)
	t.Agreement = transfer.Kendall(rates[0], rates[1])
	slices.SortFunc(t.Coatings, func(a, b TransferCoating) int { return strings.Compare(a.Coating, b.Coating) })
}

// checkExposure refuses an exposure that is not enrolled.
func (d *Desk) checkExposure(ctx context.Context, name string) (*study.Exposure, error) {
	w, err := d.currentWorkspace(ctx, 1)
	if err != nil {
		return nil, err
	}
	var known []string
	for i := range w.roster.Exposures {
		if e := &w.roster.Exposures[i]; e.Exposure == name {
			return e, nil
		}
		known = append(known, w.roster.Exposures[i].Exposure)
	}
	return nil, &study.Refusal{Fault: fmt.Sprintf("exposure %q is not enrolled", name), Try: tryCode(name, known,
		"enrol it")}
}
