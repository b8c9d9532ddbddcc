package main

import (
	"fmt"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/population"
	"wane/study/service"
	"wane/study/shape"
)

const compareServiceLong = `
--service YEARS --yield KWH says what each coating is worth over a service life: the energy in
kWh per kWp that its gain lets through more than bare glass, with a 95 % interval. The gain falls
by the rate of the population, in a straight line down to bare glass. Doses in other units than
days need --dose-per-year. More than twice the largest dose is refused without --extrapolate.
--prices FILE.csv (coating,price_per_kwp and, where wanted, cleanings_per_year, price_per_cleaning,
loss_per_cleaning_pp) adds the cost of a kWh. wane help choosing-a-coating.
`

// serviceOptions are the flags of a service life.
type serviceOptions struct {
	with desk.ServiceOptions
}

func (o *serviceOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Float64Var(&o.with.Years, "service", 0, "say what coatings keep over a service life of so many years; needs --yield")
	f.Float64Var(&o.with.Yield, "yield", 0, "with --service, kWh per kWp and year of the modules behind bare glass")
	f.Float64Var(&o.with.DosePerYear, "dose-per-year", 0, "with --service, the dose of a year where the modules "+
		"stand, in the unit of the exposure; of days all")
	f.StringVar(&o.with.Prices, "prices", "", "with --service, a table of what the coatings cost")
	f.BoolVar(&o.with.Extrapolate, "extrapolate", false, "with --service, go beyond twice the largest dose, too")
	for _, name := range []string{"service", "yield", "dose-per-year"} {
		f.Lookup(name).DefValue = "0" // help then names none
	}
}

// serviceFlags are those that only --service takes.
var serviceFlags = []string{"yield", "dose-per-year", "prices", "extrapolate"}

// check refuses numbers that cannot be.
func (o *serviceOptions) check(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	if !given("service") {
		for _, name := range serviceFlags {
			if given(name) {
				return usagef("add --service YEARS, at most twice as long as coupons were exposed (longer: --extrapolate, too), "+
					"or leave it out", "--%s is for --service, which is not given", name)
			}
		}
		return nil
	}
	if !given("yield") {
		return usagef("add what the modules yield behind bare glass in a year: --yield 1000", "--service needs --yield, "+
			"in kWh per kWp and year")
	}
	for _, v := range []struct {
		flag  string
		value float64
	}{{"service", o.with.Years}, {"yield", o.with.Yield}, {"dose-per-year", o.with.DosePerYear}} {
		if given(v.flag) && (!(v.value > 0) || math.IsInf(v.value, 0)) {
			return usagef("write a number above 0", "--%s must be above 0, not %g", v.flag, v.value)
		}
	}
	return nil
}

// serviceRow is a coating in a service life.
type serviceRow struct {
	of      *desk.Service
	coating *desk.ServiceCoating
	first   bool
}

// serviceRange are the columns of a value with its interval.
func serviceRange(name string, rank int, head string, of func(*service.Kept) service.Range) listing[serviceRow] {
	get := func(r serviceRow) service.Range {
		if r.coating.Kept == nil {
			return service.Range{Value: math.NaN(), Lower: math.NaN(), Upper: math.NaN()}
		}
		return of(r.coating.Kept)
	}
	return rangeColumns(name, rank, head, get)
}

// rangeColumns are the columns NAME, NAME_lower and NAME_upper.
func rangeColumns(name string, rank int, head string, get func(serviceRow) service.Range) listing[serviceRow] {
	value := valueColumn(name, func(r serviceRow) any { return orNil(study.Num(get(r).Value)) })
	if rank > 0 {
		value = value.Ranked(rank, head, func(r serviceRow) string { return rangeWords(get(r)) })
	}
	return listing[serviceRow]{value,
		valueColumn(name+"_lower", func(r serviceRow) any { return orNil(study.Num(get(r).Lower)) }),
		valueColumn(name+"_upper", func(r serviceRow) any { return orNil(study.Num(get(r).Upper)) })}
}

// rangeWords shows a value with its interval.
func rangeWords(r service.Range) string {
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return "-"
	}
	if math.IsInf(r.Upper, 0) {
		return fmt.Sprintf("%s (%s to without end)", threeDigits(study.Num(r.Value)), threeDigits(study.Num(r.Lower)))
	}
	return withInterval(r.Value, r.Lower, r.Upper)
}

// withInterval shows a value with its interval, all to the place of the second digit of half the interval.
func withInterval(value, lower, upper float64) string {
	if math.IsNaN(value) {
		return "-"
	}
	if !(upper > lower) {
		return threeDigits(study.Num(value))
	}
	places := decimals((upper - lower) / 2)
	return fmt.Sprintf("%s (%s to %s)", decimal(study.Num(value), places), decimal(study.Num(lower), places),
		decimal(study.Num(upper), places))
}

// estimateWords shows an estimate with its 95 % interval, by Student's t.
func estimateWords(e population.Estimate, factor float64) string {
	lower, upper := e.Interval(service.Level)
	return withInterval(factor*e.Value, factor*lower, factor*upper)
}

// serviceColumns are the columns of a service life.
var serviceColumns = slices.Concat(
	listing[serviceRow]{
		valueColumn("coating", func(r serviceRow) any { return r.coating.Coating }).Ranked(1, "", nil),
		valueColumn("exposure", func(r serviceRow) any { return r.of.Exposure }),
		valueColumn("years", func(r serviceRow) any { return r.of.Years }),
		valueColumn("yield_kwh_per_kwp_year", func(r serviceRow) any { return r.of.Yield }),
		valueColumn("dose_per_year", func(r serviceRow) any { return r.of.DosePerYear }),
		valueColumn("dose_unit", func(r serviceRow) any { return r.of.DoseUnit }),
		valueColumn("n", func(r serviceRow) any { return r.coating.Coupons }).Ranked(4, "coupons", nil),
		valueColumn("gain_pp", func(r serviceRow) any { return orNil(study.Num(r.coating.Level.Value)) }).
			Ranked(3, "gain new / pp", func(r serviceRow) string {
				return estimateWords(r.coating.Level, 1)
			}),
		valueColumn("u_gain_pp", func(r serviceRow) any { return orNil(study.Num(r.coating.Level.SE)) }),
		valueColumn("rate_pp_year", func(r serviceRow) any { return orNil(study.Num(r.coating.Rate.Value * r.of.DosePerYear)) }).
			Ranked(2, "rate / pp a year", func(r serviceRow) string {
				return estimateWords(r.coating.Rate, r.of.DosePerYear)
			}),
		valueColumn("u_rate_pp_year", func(r serviceRow) any { return orNil(study.Num(r.coating.Rate.SE * r.of.DosePerYear)) }),
	},
	serviceRange("gain_left_pp", 2, "gain left / pp", func(k *service.Kept) service.Range { return k.Left }),
	serviceRange("energy_kwh_per_kwp", 1, "energy / kWh per kWp", func(k *service.Kept) service.Range { return k.Energy }),
	rangeColumns("below_best_kwh_per_kwp", 2, "below the best", func(r serviceRow) service.Range {
		if r.coating.Kept == nil || r.first {
			return service.Range{Value: math.NaN(), Lower: math.NaN(), Upper: math.NaN()}
		}
		return r.coating.ToBest
	}),
	listing[serviceRow]{
		valueColumn("bare_after_years", func(r serviceRow) any {
			if r.coating.Kept == nil {
				return nil
			}
			return orNil(study.Num(r.coating.Kept.BareAt))
		}),
		valueColumn("cost_per_kwp", func(r serviceRow) any {
			if r.coating.Kept == nil {
				return nil
			}
			return orNil(study.Num(r.coating.Kept.Cost))
		}),
	},
	serviceRange("cost_per_kwh", 2, "cost of a kWh", func(k *service.Kept) service.Range { return k.PerKWh }),
	listing[serviceRow]{
		valueColumn("level", func(serviceRow) any { return service.Level }),
		valueColumn("method", func(serviceRow) any { return "linear-to-bare" }),
		valueColumn("extrapolated", func(r serviceRow) any { return r.of.Extrapolated }),
		valueColumn("why", func(r serviceRow) any { return orEmpty(r.coating.Why) }).Ranked(3, "why not", nil).Folded(40),
		valueColumn("flags", func(r serviceRow) any { return bentFlags(r.coating.Bent) }),
	})

// bentFlags is the flag of a rate of changes that do not lie on a straight line.
func bentFlags(bent bool) []string {
	if bent {
		return []string{shape.FlagScatter}
	}
	return []string{}
}

// bentWords says of whom the changes do not lie on a straight line; empty: of nobody.
func bentWords(who []string, so string) string {
	if len(who) == 0 {
		return ""
	}
	return fmt.Sprintf("scatter: the losses of %s so far do not lie on a straight line, so %s (wane trend --shape all)",
		wordList(who), so)
}

// runService values coatings over a service life.
func runService(cmd *cobra.Command, o *compareOptions) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := alone(cmd, "service", "exposures", "by", "pull", "rate", "days", "against", "margin", "level", "figure",
		"quantity"); err != nil {
		return err
	}
	if err := o.service.check(cmd); err != nil {
		return err
	}
	columns, err := serviceColumns.Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	opt := o.service.with
	opt.Exposure = o.with.Exposure
	defer holdWhole()()
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		moment, err := o.asOf.moment(cmd.Context(), d)
		if err != nil {
			return err
		}
		opt.AsOf = moment.Line
		s, err := d.Service(cmd.Context(), opt)
		if err != nil {
			return err
		}
		p := pageOf(cmd)
		people := o.list.format == "table" && len(o.list.named) == 0
		if people {
			if err := printLine(p, "%s, %g years at %g kWh per kWp and year: energy more than behind bare glass; all "+
				"with 95 %% intervals",
				study.Shown(s.Exposure), s.Years, s.Yield); err != nil {
				return err
			}
		}
		out := openRows(columns, p, o.list.format)
		for i := range s.Coatings {
			if err := out.write(serviceRow{s, &s.Coatings[i], i == 0}); err != nil {
				return err
			}
		}
		if err := out.end(); err != nil {
			return err
		}
		if s.Extrapolated {
			if err := printLine(cmd.ErrOrStderr(), "note extrapolated: coupons were read up to %g %s, or %.2g of the %g "+
				"years; nobody knows "+
				"whether coatings go on as they began", s.MaxDose, s.DoseUnit, s.MaxDose/s.DosePerYear, s.Years); err != nil {
				return err
			}
		}
		if !people {
			return nil
		}
		return writeLines(p, serviceWords(s)...)
	})
}

// tryWords say what to do about the coatings of which it cannot be told.
func tryWords(s *desk.Service) (lines []string) {
	for _, c := range s.Coatings {
		if c.Try != "" {
			lines = addOnce(lines, "try: "+c.Try)
		}
	}
	return lines
}

// serviceWords are the lines below the table.
func serviceWords(s *desk.Service) []string {
	lines := tryWords(s)
	first := s.Coatings[0]
	if first.Kept == nil {
		return append([]string{"which coating keeps most cannot be told from these data: see the last column"}, lines...)
	}
	equal, bent, priced := []string{}, []string{}, false
	for i, c := range s.Coatings {
		if c.Kept != nil && c.Bent {
			bent = append(bent, study.Shown(c.Coating))
		}
		if c.Kept != nil && i > 0 && c.ToBest.Lower <= 0 {
			equal = append(equal, study.Shown(c.Coating))
		}
		priced = priced || c.Kept != nil && !math.IsNaN(c.Kept.Cost)
	}
	switch {
	case len(equal) > 0:
		lines = append(lines, fmt.Sprintf("%s keeps most by these numbers, and is not distinguished from %s",
			study.Shown(first.Coating),
			wordList(equal)))
	case len(s.Coatings) > 1:
		all := "all others keep less"
		if slices.ContainsFunc(s.Coatings, func(c desk.ServiceCoating) bool { return c.Kept == nil }) {
			all = "all others that have a value keep less"
		}
		lines = append(lines, fmt.Sprintf("%s keeps most; %s; each pair at 95 %%", study.Shown(first.Coating), all))
	}
	if said := bentWords(bent, "what is kept may be far from this"); said != "" {
		lines = append(lines, said)
	}
	if priced {
		lines = append(lines, "cost: of the coating and of all cleanings, in the currency of the table of prices; no "+
			"interest, no price of energy")
	}
	return append(lines,
		fmt.Sprintf("assumed: the gain falls in a straight line as up to %g %s, down to bare glass; a rate above 0 "+
			"counts as 0; %g %s are a year "+
			"there; light that enters becomes energy in proportion; clean surfaces, normal incidence, weighted by "+
			"energy", s.MaxDose, s.DoseUnit,
			s.DosePerYear, s.DoseUnit),
		"the interval is of the mean coating, from those of gain and rate: wane help choosing-a-coating", losslessWords)
}
