package ageing_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/ageing"
	"wane/study/difference"
	"wane/study/population"
	"wane/study/series"
	"wane/study/shape"
	"wane/testdata/foreign"
)

// trialScene is a kind of study from which something is decided, by one route of correction.
type trialScene struct {
	name      string
	trial     foreign.Trial
	law       foreign.Law
	route     study.Route
	theseLots bool   // what is said is of the lots that were drawn
	rule      *limit // the coupons are judged by a rule, in place of comparing the coatings
}

// limit is a rule of acceptance. Its limit is where just the share of the product conforms that the rule asks for more
// than: to accept is wrong in each study.
type limit struct {
	coupons, failures int
	share             float64
}

// mark is one thing that a study said: whether an interval holds the truth, or whether a call is wrong.
type mark struct {
	hit    bool
	half   float64 // half the length of the interval, in the unit of the value
	stated float64 // the chance of a wrong call as the verdict states it
}

// seriesOf makes a study and gathers solar_T of it as the desk does: curves, fits, changes by the route, series.
func (l *lab) seriesOf(k *trialScene, seed, n uint64) (*foreign.Outcome, *series.Data, error) {
	s := k.trial.Run(k.law, seed, n)
	common := &scene{law: k.law}
	roster := rosterOf(common, &s.Study, rand.New(rand.NewPCG(seed, n)))
	for i := range roster.Pulls {
		roster.Pulls[i].Dose = s.Dose[roster.Pulls[i].Pull]
	}
	for _, c := range s.Coupons { // in order, as a study has them
		if pull, lost := s.LostAt[c.Code]; lost {
			roster.Lives = append(roster.Lives, study.CouponEvent{Coupon: c.Code, Event: study.EventLost,
				Pull: study.Stated{Value: float64(pull), Is: true}})
		}
	}
	jointly := k.route == study.RouteSession
	of, err := l.someFits(common, roster, &s.Study, !jointly, jointly)
	if err != nil {
		return nil, nil, err
	}
	fitsOf := func(coupon string) []*study.Fit {
		if jointly {
			return of[coupon].joint
		}
		return of[coupon].single
	}
	q, _ := series.Find("solar_T")
	changes, build := ageing.NewChanges(roster, k.route), series.NewBuilder(q, roster, k.route, false)
	changes.Follow(q.Followed)
	for _, c := range s.Coupons {
		if c.Role == "control" {
			changes.AddControl(fitsOf(c.Code))
		}
	}
	for _, c := range s.Coupons {
		if c.Role != "blank" {
			build.Take(build.Prepare(changes.Rows(fitsOf(c.Code))))
		}
	}
	return &s, build.Data(), nil
}

// decide makes a study and says what is right and wrong in what is decided from it.
func (l *lab) decide(k *trialScene, seed, n uint64) (map[string]mark, error) {
	s, data, err := l.seriesOf(k, seed, n)
	if err != nil {
		return nil, err
	}
	marks := map[string]mark{}
	if k.rule != nil {
		return marks, k.judge(marks, s, data)
	}
	pull := len(s.Dose) - 1
	at, err := difference.AtPull(data, difference.Options{Pull: pull})
	if err != nil {
		return nil, err
	}
	k.compare(marks, "at pull", at, s, s.Dose[pull])
	rate, err := difference.InRate(context.Background(), data, difference.Options{})
	if err != nil {
		return nil, err
	}
	k.compare(marks, "in rate", rate, s, 1)
	p, err := population.Fit(context.Background(), data, population.Options{})
	if err != nil {
		return nil, err
	}
	for i := range p.Groups {
		g := &p.Groups[i]
		if lower, upper := g.Rate.Interval(0.95); !math.IsNaN(lower) {
			marks["rate of "+g.Coating] = holds(lower, upper, -k.meanOf(s, g.Coating))
		}
	}
	return marks, k.follow(marks, s, data)
}

// follow marks the straight line along the path of each coating, and its mean change by the last pull.
func (k *trialScene) follow(marks map[string]mark, s *foreign.Outcome, data *series.Data) error {
	for _, g := range shape.Groups(data, shape.ByCoating) {
		path, err := g.Path(data, shape.ByCoating, shape.InDose)
		if err != nil {
			return err
		}
		line, err := path.Fit(context.Background(), shape.Linear)
		if err != nil {
			return err
		}
		truth := -k.meanOf(s, g.Name)
		if rate := &line.Parameters[0]; !math.IsNaN(rate.Lower) && !math.IsNaN(rate.Upper) {
			marks["line of "+g.Name] = holds(rate.Lower, rate.Upper, truth)
		}
		means, err := g.Means(data, shape.ByCoating, shape.InDose)
		if err != nil {
			return err
		}
		last := &means[len(means)-1]
		if last.Pull == len(s.Dose)-1 && !math.IsNaN(last.Lower) {
			marks["mean change of "+g.Name] = holds(last.Lower, last.Upper, truth*s.Dose[last.Pull])
		}
	}
	return nil
}

// holds says whether an interval holds the truth.
func holds(lower, upper, truth float64) mark {
	return mark{hit: lower <= truth && truth <= upper, half: (upper - lower) / 2}
}

// meanOf is the true mean loss per dose of what an interval of a coating speaks of.
func (k *trialScene) meanOf(s *foreign.Outcome, coating string) float64 {
	for _, v := range s.Verdicts {
		if v.Coating == coating {
			if k.theseLots {
				return v.Lots.MeanPP
			}
			return v.Product.MeanPP
		}
	}
	panic("no such coating")
}

// compare marks each pair by its own interval and all pairs by the simultaneous ones, and what is called different
// where the means of the products are one.
func (k *trialScene) compare(marks map[string]mark, how string, c *difference.Comparison, s *foreign.Outcome,
	dose float64) {
	together, anyCalled, told, equals := true, false, true, false
	for i := range c.Pairs {
		p := &c.Pairs[i]
		a, b := c.Groups[p.A].Coating, c.Groups[p.B].Coating
		if p.Why != nil {
			told = false
			continue
		}
		truth := -dose * (k.meanOf(s, a) - k.meanOf(s, b))
		half := p.U * distuv.StudentsT{Sigma: 1, Nu: p.DoF}.Quantile(0.975)
		marks[fmt.Sprintf("%s less %s, %s", a, b, how)] = holds(p.Difference-half, p.Difference+half, truth)
		together = together && p.Lower <= truth && truth <= p.Upper
		if !k.theseLots && math.Abs(truth) < 1e-6*dose { // rates are near 1e-3 pp
			called := p.Verdict == difference.Different
			equals, anyCalled = true, anyCalled || called
			marks[fmt.Sprintf("%s and %s called different, %s", a, b, how)] = mark{hit: called, stated: 0.05}
		}
	}
	if !told {
		return
	}
	marks["all differences, "+how] = mark{hit: together}
	if equals {
		marks["any pair called different, "+how] = mark{hit: anyCalled, stated: 0.05}
	}
}

// judge marks an acceptance, which is wrong, and one coupon of each kind that is graded.
func (k *trialScene) judge(marks map[string]mark, s *foreign.Outcome, data *series.Data) error {
	dose, truth := s.Dose[len(s.Dose)-1], &s.Verdicts[0].Product
	most := limitOf(truth, k.rule.share, dose)
	rule, err := acceptance.Read(fmt.Appendf(nil, `rule: made-up
quantity: solar_T
weighting: energy
condition: cleaned
exposure: roof
dose: %g
by: coating
limit: %s
unit: pp
n: %d
failures: %d
share: %g
confidence: 0.95
looks: 1
lost: fail
`, dose, acceptance.Written(most), k.rule.coupons, k.rule.failures, k.rule.share))
	if err != nil {
		return err
	}
	if err := rule.Check(&data.Quantity); err != nil {
		return err
	}
	j := acceptance.Judge(rule, data)[0]
	m := mark{stated: 1 - acceptance.Confidence(k.rule.coupons, k.rule.failures, k.rule.share, false)}
	if j.Verdict == acceptance.Accept {
		m = mark{hit: true, stated: 1 - j.Confidence}
	}
	marks["accepted"] = m
	for i := range j.Coupons {
		c := &j.Coupons[i]
		if c.Grade == "" {
			continue
		}
		what, wrong := "a coupon that conforms fails", c.Grade == acceptance.Fail
		if s.RatePP[c.Coupon]*dose >= most {
			what, wrong = "a coupon that does not conform passes", c.Grade == acceptance.Pass
		}
		if _, there := marks[what]; !there { // the first of a study: others share its errors
			marks[what] = mark{hit: wrong, stated: 0.05}
		}
	}
	if !math.IsNaN(j.Lower) {
		marks["mean loss (normal theory)"] = holds(j.Lower, j.Upper, dose*truth.MeanPP)
	}
	return nil
}

// limitOf returns the loss below which a share of a product is at a dose.
func limitOf(p *foreign.Population, share, dose float64) float64 {
	low, high := 0.0, 10.0
	for range 60 {
		if middle := (low + high) / 2; p.ShareBelow(middle, dose) < share {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}
