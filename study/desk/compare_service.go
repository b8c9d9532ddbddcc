package desk

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/population"
	"wane/study/series"
	"wane/study/service"
)

// ServiceOptions say over which life coatings are valued.
type ServiceOptions struct {
	service.Terms
	Exposure    string  // empty: the only one
	DosePerYear float64 // in the unit of the dose; 0: of days those of a year
	Extrapolate bool    // beyond twice the largest dose, too
	Prices      string  // path of a table of prices; empty: none
	AsOf        int64
}

// Service is what coatings keep over a service life.
type Service struct {
	service.Terms
	Exposure, DoseUnit   string
	DosePerYear, MaxDose float64          // MaxDose is the largest at which a value was read
	Coatings             []ServiceCoating // those that keep most first; then those of which it cannot be told, by name
	Extrapolated         bool             // the life is beyond twice MaxDose
}

// ServiceCoating is a coating with what it keeps.
type ServiceCoating struct {
	population.Group
	Kept   *service.Kept // nil: it cannot be told
	Why    string        // because, in words
	Try    string        // what to do about it
	Bent   bool          // its changes so far do not lie on a straight line
	ToBest service.Range // energy of the best less that of this one, kWh per kWp
}

// roundYears lets a life of two years be asked for where coupons were read up to 365 days.
const roundYears = 1.005

// daysPerYear are those of a year, for doses in days.
const daysPerYear = 365.25

// Service returns what the gain of each coating in an exposure keeps over a service life, by the rates of the
// population. It is refused where the life is beyond twice the largest dose, unless it is to be extrapolated.
func (d *Desk) Service(ctx context.Context, opt ServiceOptions) (*Service, error) {
	if err := opt.Terms.Check(); err != nil {
		return nil, &study.Refusal{Fault: err.Error(), Try: "write for example --service 2 --yield 1000", Cause: err}
	}
	gain, solar, err := d.gainSeries(ctx, &opt)
	if err != nil {
		return nil, err
	}
	pop, err := population.Fit(ctx, gain, population.Options{By: population.ByCoating})
	if err != nil {
		return nil, err
	}
	out := &Service{Terms: opt.Terms, Exposure: opt.Exposure, DosePerYear: opt.DosePerYear, MaxDose: largestDose(gain)}
	for _, g := range pop.Groups {
		out.DoseUnit = cmp.Or(out.DoseUnit, g.DoseUnit)
	}
	if err := out.checkDose(&opt); err != nil {
		return nil, err
	}
	bent, err := bentGroups(gain, population.Options{})
	if err != nil {
		return nil, err
	}
	prices, err := readPrices(opt.Prices, pop)
	if err != nil {
		return nil, err
	}
	for _, g := range pop.Groups {
		one, err := out.keep(g, bareUnder(g.Coating, gain, solar), prices[g.Coating])
		if err != nil {
			return nil, err
		}
		one.Bent = bent[[2]string{g.Coating, g.Exposure}]
		out.Coatings = append(out.Coatings, one)
	}
	out.rank()
	return out, nil
}

// gainSeries gathers the gain and the solar transmittance of the coupons of the exposure, which it finds where there
// is one only.
func (d *Desk) gainSeries(ctx context.Context, opt *ServiceOptions) (gain, solar *series.Data, err error) {
	if opt.Exposure != "" {
		if _, err := d.checkExposure(ctx, opt.Exposure); err != nil {
			return nil, nil, err
		}
	}
	both, err := d.SeriesTogether(ctx, []string{"gain", "solar_T"}, SeriesOptions{AsOf: opt.AsOf, Check: opt.findExposure,
		Keep: func(c *series.Coupon) bool { return c.Exposure == opt.Exposure }})
	if err != nil {
		return nil, nil, err
	}
	return both[0], both[1], nil
}

// findExposure fills the exposure where the exposed coupons have one only, and refuses several.
func (o *ServiceOptions) findExposure(roster *study.Roster) error {
	if o.Exposure != "" {
		return nil
	}
	all := exposuresOfRoster(roster)
	slices.Sort(all)
	switch all = slices.Compact(all); len(all) {
	case 0:
		return &study.Refusal{Fault: "there is nothing to value: the study has no exposed coupons",
			Try: "enrol a roster whose coupons have the role exposed: wane enrol ROSTER.csv"}
	case 1:
		o.Exposure = all[0]
	default:
		return &study.Refusal{Fault: "there are several exposures: " + codesInWords(all),
			Try: "name that which is like the service: --exposure " + all[0]}
	}
	return nil
}

// largestDose returns the largest dose at which an exposed coupon was read.
func largestDose(data *series.Data) (most float64) {
	for i := range data.Coupons {
		if c := &data.Coupons[i]; c.Role == study.Exposed {
			for _, p := range c.Points {
				if !math.IsNaN(p.Change.Value) && p.Dose > most {
					most = p.Dose
				}
			}
		}
	}
	return most
}

// checkDose fills the dose of a year, and refuses a life that the doses say nothing of.
func (s *Service) checkDose(opt *ServiceOptions) error {
	if s.DosePerYear == 0 {
		if s.DoseUnit != "days" {
			return &study.Refusal{Fault: fmt.Sprintf("the dose of %s is in %s, and nothing says how many of them a year has "+
				"where the modules stand", study.Shown(s.Exposure), s.DoseUnit),
				Try: "state it: --dose-per-year N, in " + s.DoseUnit}
		}
		s.DosePerYear = daysPerYear
	}
	if s.MaxDose == 0 {
		return &study.Refusal{Fault: "no coupon of " + study.Shown(s.Exposure) + " has a value after its baseline, so " +
			"nothing says how fast they age",
			Try: "take the readings of a later pull in, and run wane fit"}
	}
	most := service.MostDose * s.MaxDose / s.DosePerYear
	if s.Extrapolated = s.Years > most*roundYears; s.Extrapolated && !opt.Extrapolate {
		return &study.Refusal{Fault: fmt.Sprintf("what coatings keep over %g years cannot be told from these data, "+
			"because the coupons were read up to %.4g %s only, and nothing is stated beyond twice that, %.2g "+
			"years", s.Years, s.MaxDose, s.DoseUnit, most),
			Try: fmt.Sprintf("ask for --service %.2g; or add --extrapolate, if you take the risk that coatings go on as "+
				"they began",
				math.Floor(10*most)/10)}
	}
	return nil
}

// readPrices reads a table of prices, by coating. A coating that is not among the groups is refused.
func readPrices(path string, pop *population.Population) (map[string]*sheet.Price, error) {
	if path == "" {
		return nil, nil
	}
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	all, err := sheet.ReadPrices(path, data)
	if err != nil {
		return nil, err
	}
	var known []string
	for _, g := range pop.Groups {
		known = append(known, g.Coating)
	}
	prices := map[string]*sheet.Price{}
	for i := range all {
		if !slices.Contains(known, all[i].Coating) {
			return nil, (&study.Refusal{Fault: fmt.Sprintf("coating %q has no coupon in this exposure", all[i].Coating),
				Try: tryCode(all[i].Coating, known, "leave the row out")}).At(path, all[i].Line)
		}
		prices[all[i].Coating] = &all[i]
	}
	return prices, nil
}

// bareUnder returns the transmittance of the glass under a coating, percent: the mean over its coupons of solar_T
// less gain at their baselines. NaN: none is known.
func bareUnder(coating string, gain, solar *series.Data) float64 {
	levels := map[string]float64{}
	for i := range solar.Coupons {
		levels[solar.Coupons[i].Coupon] = baselineLevel(&solar.Coupons[i])
	}
	sum, n := 0.0, 0.0
	for i := range gain.Coupons {
		c := &gain.Coupons[i]
		bare := levels[c.Coupon] - baselineLevel(c)
		if c.Coating == coating && c.Role == study.Exposed && !math.IsNaN(bare) {
			sum, n = sum+bare, n+1
		}
	}
	return sum / n
}

func baselineLevel(c *series.Coupon) float64 {
	for _, p := range c.Points {
		if p.Baseline {
			return p.Level.Value
		}
	}
	return math.NaN()
}

// keep returns what a coating keeps; price may be nil.
func (s *Service) keep(g population.Group, bare float64, price *sheet.Price) (ServiceCoating, error) {
	out := ServiceCoating{Group: g}
	for _, e := range []population.Estimate{g.Level, g.Rate} {
		if e.Why != "" {
			out.Why, out.Try = e.Why.Sentence(), e.Why.Try()
			return out, nil
		}
	}
	if math.IsNaN(bare) {
		out.Why, out.Try = population.NoValue.Sentence(), population.NoValue.Try()
		return out, nil
	}
	c := service.Coating{Name: g.Coating, Bare: bare,
		Gain: service.Estimate{Value: g.Level.Value, SE: g.Level.SE, DoF: g.Level.DoF},
		Rate: service.Estimate{Value: g.Rate.Value * s.DosePerYear, SE: g.Rate.SE * s.DosePerYear, DoF: g.Rate.DoF}}
	if price != nil {
		c.Price, c.CleaningPrice, c.Cleanings, c.CleaningLoss = price.Price, price.CleaningPrice, price.Cleanings, price.CleaningLoss
	}
	kept, err := service.Keep(c, s.Terms)
	if err != nil {
		return out, fmt.Errorf("coating %s: %w", g.Coating, err)
	}
	out.Kept = kept
	return out, nil
}

// rank sorts the coatings and compares each with the best.
func (s *Service) rank() {
	slices.SortStableFunc(s.Coatings, func(a, b ServiceCoating) int {
		switch {
		case a.Kept == nil && b.Kept == nil:
			return cmp.Compare(a.Coating, b.Coating)
		case a.Kept == nil:
			return 1
		case b.Kept == nil:
			return -1
		}
		return cmp.Compare(b.Kept.Energy.Value, a.Kept.Energy.Value)
	})
	for i := range s.Coatings {
		if c := &s.Coatings[i]; c.Kept != nil && i > 0 {
			c.ToBest = service.Compare(s.Coatings[0].Kept, c.Kept)
		}
	}
}
