package desk

import (
	"context"
	"errors"
	"math"
	"slices"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
	"wane/study/shape"
)

// TrendOptions say what is followed, of whom, and along which shapes.
type TrendOptions struct {
	SeriesOptions
	Quantity string
	By       shape.By
	Shape    shape.Shape
	All      bool // all shapes, in place of Shape
	In       shape.Axis
	Pulls    study.Spans // that count beside the baseline; nil: all

	// Shown says which exposed coupons the groups are of; nil: all. Those that are not shown take part in the mixed
	// model.
	Shown func(*series.Coupon) bool

	Limit       float64 // of lives: how much is lost, or a change; NaN: no lives are asked for
	Extrapolate bool    // lives of more than twice the largest dose are stated, too
}

// Trend is how a quantity of groups of coupons changes.
type Trend struct {
	Data   *series.Data
	Groups []TrendGroup
}

// TrendGroup is one group of coupons.
type TrendGroup struct {
	shape.Group
	Path  *shape.Path
	Why   *study.Refusal  // why there is no path
	Rate  *shape.Estimate // of the population; nil: of coupons, and where it has none
	Rated int             // coupons that Rate is of
	Ranks *shape.Estimate // the slope by ranks; nil: no line is asked for
	Fits  []shape.Fit     // the best first
	Lives *shape.Lives
	Laws  []shape.Life
}

// Trend follows a quantity over the dose. Rates of coatings, lots and suppliers are those of the population; those of
// coupons are of each by itself. It is refused where nothing can be said of any group.
func (d *Desk) Trend(ctx context.Context, opt TrendOptions) (*Trend, error) {
	q, err := FindQuantity(opt.Quantity)
	if err != nil {
		return nil, err
	}
	if err := checkLimit(&q, opt.Limit); err != nil {
		return nil, err
	}
	data, err := d.Series(ctx, opt.Quantity, opt.SeriesOptions)
	if err != nil {
		return nil, err
	}
	if opt.Pulls != nil {
		keepPulls(data, opt.Pulls)
	}
	t, confounded := &Trend{Data: data}, population.Confounded(data, opt.population())
	rates, err := ratesOf(ctx, data, &opt)
	if err != nil {
		return nil, err
	}
	if opt.Shown != nil {
		data.Coupons = slices.DeleteFunc(data.Coupons, func(c series.Coupon) bool {
			return c.Role == study.Exposed && !opt.Shown(&c)
		})
	}
	said := false
	for _, g := range shape.Groups(data, opt.By) {
		of := TrendGroup{Group: g}
		if err := of.follow(ctx, data, &opt, rates, confounded); err != nil {
			return nil, err
		}
		said = said || of.Why == nil
		t.Groups = append(t.Groups, of)
	}
	if !said {
		return nil, t.nothing()
	}
	return t, nil
}

// keepPulls removes the points of other pulls, but not the baselines.
func keepPulls(data *series.Data, pulls study.Spans) {
	for i := range data.Coupons {
		c := &data.Coupons[i]
		c.Points = slices.DeleteFunc(c.Points, func(p series.Point) bool {
			return !p.Baseline && !pulls.Contain(int64(p.Pull))
		})
	}
}

// checkLimit refuses a limit that cannot be reached.
func checkLimit(q *series.Quantity, limit float64) error {
	switch {
	case math.IsNaN(limit):
		return nil
	case limit == 0 || math.IsInf(limit, 0):
		return &study.Refusal{Fault: "the limit of a life must be a number, and not 0",
			Try: "state how much may be lost, such as --threshold 0.5"}
	case q.Worse != 0 && limit < 0:
		return &study.Refusal{Fault: "the limit of a life is how much " + q.Name + " gets worse, above 0",
			Try: "state it without its sign, such as --threshold 0.5"}
	}
	return nil
}

// nothing refuses a trend of which no group says anything: with the reason of the first.
func (t *Trend) nothing() *study.Refusal {
	if len(t.Groups) == 0 {
		return shape.Cannot("no exposed coupon is among those that are asked for",
			"enrol coupons of the role exposed, or leave filters out")
	}
	g := &t.Groups[0]
	return g.Why.About(t.Data.Quantity.Name + " of " + g.Name)
}

// rates are the rates of a population, with the group of each coupon; nil: none are asked for.
type rates struct {
	population *population.Population
	group      map[string]int
}

// population says how the population is grouped that the trend is of; of coupons by their coatings.
func (o *TrendOptions) population() population.Options {
	by := map[shape.By]population.By{shape.ByLot: population.ByLot, shape.BySupplier: population.BySupplier}[o.By]
	return population.Options{By: by, Days: o.In == shape.InDays}
}

// ratesOf fits the population that the rates of groups are of.
func ratesOf(ctx context.Context, data *series.Data, opt *TrendOptions) (*rates, error) {
	if opt.By == shape.ByCoupon || !opt.All && opt.Shape != shape.Linear {
		return nil, nil
	}
	p, err := population.Fit(ctx, data, opt.population())
	var refusal *study.Refusal
	if errors.As(err, &refusal) { // each group says what is missing
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	r := &rates{p, map[string]int{}}
	for _, c := range p.Coupons {
		r.group[c.Coupon] = c.Group
	}
	return r, nil
}

// of returns the rate of the group of some coupons, and of how many it is; nil where the population does not have it.
func (r *rates) of(g *shape.Group, unit string) (*shape.Estimate, int) {
	if r == nil {
		return nil, 0
	}
	for _, c := range g.Coupons {
		at, known := r.group[c.Coupon]
		if !known || at < 0 {
			continue
		}
		of := &r.population.Groups[at]
		e := &shape.Estimate{Parameter: "rate", Unit: unit, Value: of.Rate.Value, U: of.Rate.SE, DF: of.Rate.DoF,
			At: math.NaN(), Method: "mixed model, reml, " + string(of.Unit) + "s"}
		e.Lower, e.Upper = of.Rate.Interval(shape.Level)
		if math.IsInf(e.DF, 1) {
			e.DF = math.NaN()
		}
		if why := of.Rate.Why; why != "" {
			e.Flags, e.Why = []string{string(why)}, shape.Cannot(why.Sentence(), why.Try())
		}
		for _, remark := range of.Remarks {
			e.Flags = append(e.Flags, string(remark))
		}
		return e, of.Coupons
	}
	return nil, 0
}

// follow fills what is said of the group.
func (g *TrendGroup) follow(ctx context.Context, data *series.Data, opt *TrendOptions, rates *rates,
	confounded map[string]bool) error {
	var err error
	g.Path, err = g.Group.Path(data, opt.By, opt.In)
	if errors.As(err, &g.Why) {
		return nil
	}
	if err != nil {
		return err
	}
	if slices.ContainsFunc(g.Coupons, func(c *series.Coupon) bool { return confounded[c.Coupon] }) {
		why := population.SessionIsDose
		g.Path.Confound(shape.Cannot(why.Sentence(), why.Try()))
	}
	if opt.All || opt.Shape == shape.Linear {
		g.addSlopes(rates)
	}
	if err := g.addFits(ctx, opt); err != nil && !errors.As(err, &g.Why) {
		return err
	}
	if math.IsNaN(opt.Limit) {
		return nil
	}
	if g.Lives, err = g.Group.Lives(data, opt.Limit, opt.In); err != nil {
		return err
	}
	if g.Path.Unsure() {
		g.Lives.Flags = append(g.Lives.Flags, shape.FlagSessionIsDose)
	}
	g.Laws, err = g.Lives.Laws(opt.Extrapolate)
	return err
}

// addSlopes adds the rate by the population, and that by ranks.
func (g *TrendGroup) addSlopes(rates *rates) {
	g.Rate, g.Rated = rates.of(&g.Group, shape.RateUnit(g.Path.Unit, g.Path.XUnit))
	if g.Rate != nil {
		for _, flag := range g.Path.Flags {
			if shape.Carried(flag) {
				g.Rate.Flags = append(g.Rate.Flags, flag)
			}
		}
		if g.Path.Bent() {
			g.Rate.Flags = append(g.Rate.Flags, shape.FlagScatter)
		}
	}
	g.Ranks = g.Path.Ranks()
}

// addFits adds the shapes that are asked for. A straight line alone is that of the population where there is one.
func (g *TrendGroup) addFits(ctx context.Context, opt *TrendOptions) (err error) {
	if !opt.All && g.Rate != nil {
		return nil
	}
	if opt.All {
		g.Fits, err = g.Path.FitAll(ctx)
		return err
	}
	f, err := g.Path.Fit(ctx, opt.Shape)
	if err == nil {
		g.Fits = []shape.Fit{*f}
	}
	return err
}
