package population

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/fit/mixed"
	"wane/study"
	"wane/study/series"
)

// Fit fits the population of a study. What the data cannot tell is said in the groups; a [*study.Refusal] says that there is
// no exposed coupon at all.
func Fit(ctx context.Context, data *series.Data, opt Options) (*Population, error) {
	s := newSample(data, opt)
	if len(s.groups) == 0 {
		return nil, &study.Refusal{Fault: "the rates cannot be told from these data, because there is no exposed coupon in them",
			Try: "name an exposure that coupons are in, or enrol coupons of the role exposed"}
	}
	p := &Population{Quantity: data.Quantity, Groups: s.groups, Controls: s.controls, Skipped: s.skipped, design: newDesign(s)}
	exact := false
	if len(p.values) > 0 {
		var err error
		switch p.fit, err = p.model.Fit(ctx); {
		case errors.Is(err, mixed.ErrExact):
			exact = true
		case err != nil && len(p.model.Y) <= len(p.model.X): // no interval anywhere: one coupon of each
			exact = true
		case err != nil:
			return nil, fmt.Errorf("could not fit the population of %s: %w", data.Quantity.Name, err)
		}
	}
	for g := range p.Groups {
		if p.why[g] == "" && exact {
			p.why[g] = Exact
		}
	}
	histories := p.histories()
	inTurn(len(p.Groups), func(g int) { p.describe(g, histories) })
	p.predict()
	p.list()
	return p, nil
}

// describe says what the model says of a group. It is for several goroutines at once, each with a group.
func (p *Population) describe(g int, histories []history) {
	group := &p.Groups[g]
	group.Unit = UnitCoupon
	if p.ofLots[g] {
		group.Unit = UnitLot
	}
	weights := make([]float64, len(p.Groups))
	weights[g] = 1
	group.Rate = p.Contrasts([][]float64{weights}).Estimates[0]
	group.Level = p.level(g, histories)
	if group.Unit == UnitCoupon && p.opt.By != ByLot {
		group.Remarks = append(group.Remarks, TheseLots)
	}
	if p.fit != nil && p.why[g] == "" && p.isZero(g) {
		group.Remarks = append(group.Remarks, NoSpread)
	}
	if p.Controls == 0 {
		group.Remarks = append(group.Remarks, NoControl)
	}
	if group.Ended > 0 {
		group.Remarks = append(group.Remarks, EndedBefore)
	}
}

// isZero reports whether the variance between the units of a group is on its bound.
func (p *Population) isZero(g int) bool {
	if k := p.lotKind[g]; k >= 0 {
		return p.fit.Terms[p.lotTerm][k].At(0, 0) == 0
	}
	k := p.rateKind[g]
	return k >= 0 && p.fit.Terms[p.rateTerm][k].At(0, 0) == 0
}

// level returns the mean level at dose 0: that of the coatings of a group, weighted by their coupons.
func (p *Population) level(g int, histories []history) Estimate {
	if p.fit == nil || p.why[g] != "" && !p.why[g].hasValue() {
		return Estimate{math.NaN(), math.NaN(), math.NaN(), p.why[g]}
	}
	weights, n := make([]float64, len(p.fit.Coefficients)), 0.0
	for _, h := range histories {
		if h.group == g {
			weights[p.levels[h.cell]]++
			n++
		}
	}
	for a := range weights {
		weights[a] /= n
	}
	c := p.fit.Contrast(weights)
	if p.why[g] != "" {
		return Estimate{c.Estimate, math.NaN(), math.NaN(), p.why[g]}
	}
	return Estimate{Value: c.Estimate, SE: c.SE, DoF: c.DoF}
}

// Criterion returns the REML criterion, -2 log of the restricted likelihood; NaN where nothing was fitted.
func (p *Population) Criterion() float64 {
	if p.fit == nil {
		return math.NaN()
	}
	return p.fit.Deviance
}

// Difference returns the rate of group a less that of group b.
func (p *Population) Difference(a, b int) Estimate {
	if p.Groups[a].DoseUnit != p.Groups[b].DoseUnit {
		return Estimate{math.NaN(), math.NaN(), math.NaN(), OtherUnits}
	}
	weights := make([]float64, len(p.Groups))
	weights[a]++
	weights[b]--
	return p.Contrasts([][]float64{weights}).Estimates[0]
}

// Contrasts returns sums of the rates of the groups, each with weights as long as Groups, and the correlation of their
// errors. It panics on weights of another length.
func (p *Population) Contrasts(weights [][]float64) *Contrasts {
	c := &Contrasts{}
	var rows [][]float64 // of those that are told: of the coefficients
	for k, w := range weights {
		if len(w) != len(p.Groups) {
			panic("population: weights of another length than the groups")
		}
		e, row := p.contrast(w)
		c.Estimates = append(c.Estimates, e)
		if e.Why == "" {
			c.Told, rows = append(c.Told, k), append(rows, row)
		}
	}
	if len(rows) == 0 {
		return c
	}
	c.Correlation = mat.NewSymDense(len(rows), nil)
	for a := range rows {
		for b := range a {
			covariance := mat.Inner(mat.NewVecDense(len(rows[a]), rows[a]), p.fit.Cov, mat.NewVecDense(len(rows[b]), rows[b]))
			r := covariance / (c.Estimates[c.Told[a]].SE * c.Estimates[c.Told[b]].SE)
			c.Correlation.SetSym(a, b, min(1, max(-1, r)))
		}
		c.Correlation.SetSym(a, a, 1)
	}
	return c
}

// contrast returns a sum of rates, with its weights of the coefficients.
func (p *Population) contrast(weights []float64) (Estimate, []float64) {
	e := Estimate{math.NaN(), math.NaN(), math.NaN(), ""}
	for g, w := range weights {
		if w != 0 && p.why[g] != "" && (e.Why == "" || e.Why.hasValue()) {
			e.Why = p.why[g]
		}
	}
	if p.fit == nil || e.Why != "" && !e.Why.hasValue() {
		return e, nil
	}
	row := make([]float64, len(p.fit.Coefficients))
	for g, w := range weights {
		if w != 0 {
			row[p.rates[g]] += w
		}
	}
	c := p.fit.Contrast(row)
	e.Value = c.Estimate
	if e.Why == "" && !p.determined(row) {
		e.Why = SessionIsDose
	}
	if e.Why == "" {
		e.SE, e.DoF = c.SE, min(c.DoF, p.mostDoF(weights))
	}
	return e, row
}

// mostDoF returns the most degrees of freedom that a sum of rates has where the variance between the units of a group is on
// its bound: those after Satterthwaite of estimates with the units of each group, less its mean. Elsewhere it is infinite.
func (p *Population) mostDoF(weights []float64) float64 {
	sum, squares, zero := 0.0, 0.0, false
	for g, w := range weights {
		if w == 0 {
			continue
		}
		v := w * w * p.fit.Cov.At(p.rates[g], p.rates[g])
		sum += v
		squares += v * v / float64(p.spare[g])
		zero = zero || p.isZero(g)
	}
	if !zero {
		return math.Inf(1)
	}
	return sum * sum / squares
}

// predict predicts the coupons.
func (p *Population) predict() {
	at := map[int]int{}
	for i := range p.Data.Coupons {
		if g := p.members[i]; g >= 0 {
			at[i] = len(p.Coupons)
			p.Coupons = append(p.Coupons, Coupon{p.Data.Coupons[i].Coupon, -1, math.NaN(), math.NaN()})
		}
	}
	for i := range p.sample.values {
		if v := &p.sample.values[i]; v.group >= 0 {
			p.Coupons[at[v.coupon]].Group = v.group
		}
	}
	if p.fit == nil {
		return
	}
	last := -1
	for i := range p.values {
		v := &p.values[i]
		if v.group < 0 || v.coupon == last {
			continue
		}
		last = v.coupon
		c := &p.Coupons[at[v.coupon]]
		c.Level = p.fit.Coefficients[p.levels[v.cell]] + p.effect(p.levelTerm, i)
		c.Rate = p.fit.Coefficients[p.rates[v.group]] + p.effect(p.rateTerm, i) + p.effect(p.lotTerm, i)
	}
}

// effect returns the effect of a term on a value; 0 where it has none.
func (p *Population) effect(term, value int) float64 {
	if term < 0 || p.model.Terms[term].Of[value] < 0 {
		return 0
	}
	return p.fit.Effects[term][p.model.Terms[term].Of[value]][0]
}
