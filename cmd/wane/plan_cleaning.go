package main

import (
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/cleaning"
	"wane/study/desk"
)

const planCleaningLong = `
--cleaning says how often to clean: often enough to take the soil off, seldom enough to keep the
film. State what the soil takes off more each day (--soiling), what the modules yield (--yield)
and what a cleaning costs the film (--loss), or take that from a brush exposure of a study
(--brush, whose dose is in cycles; --cycles for each cleaning). The answer is the number of
cleanings with the most energy over --years, its interval, and the energy of other numbers, in
kWh per kWp and year. wane help when-to-clean.
`

// cleaningOptions are the flags of how often to clean.
type cleaningOptions struct {
	asked          bool
	of             cleaning.Case
	brush, coating string
	cycles         float64
}

// cleaningFlags are those that only --cleaning takes.
var cleaningFlags = []string{"soiling", "u-soiling", "loss", "u-loss", "gain", "rain-days", "years", "yield", "brush",
	"coating", "cycles"}

func (o *cleaningOptions) bind(cmd *cobra.Command, in *studyOptions) {
	f, c := cmd.Flags(), &o.of
	f.BoolVar(&o.asked, "cleaning", false, "how often to clean coated modules; needs --soiling, --yield, and --loss "+
		"or --brush")
	f.Float64Var(&c.Soiling.Value, "soiling", 0, "what the soil takes off more each day, pp of transmittance")
	f.Float64Var(&c.Soiling.U, "u-soiling", 0, "its standard uncertainty, pp a day")
	f.Float64Var(&c.Loss.Value, "loss", 0, "what a cleaning takes off the gain of the film, pp")
	f.Float64Var(&c.Loss.U, "u-loss", 0, "its standard uncertainty, pp")
	f.Float64Var(&c.Gain, "gain", 2.9, "gain of the film when new, pp; with --brush that of its coupons")
	f.Float64Var(&c.RainDays, "rain-days", 0, "rain takes the soil off every so many days; 0: never")
	f.Float64Var(&c.Years, "years", 20, "horizon of --cleaning, years")
	f.Float64Var(&c.Yield, "yield", 0, "kWh per kWp and year of the clean modules")
	f.StringVar(&o.brush, "brush", "", "with --cleaning, take the loss from this exposure of the study, whose dose is "+
		"in cycles of a brush")
	f.StringVar(&o.coating, "coating", "", "with --brush, of this coating")
	f.Float64Var(&o.cycles, "cycles", 1, "with --brush, cycles of the brush rig that are one cleaning")
	in.completeFlag(cmd, "brush", func(c *desk.Codes) []string { return c.Exposures })
	in.completeFlag(cmd, "coating", func(c *desk.Codes) []string { return c.Coatings })
}

// check refuses flags that are missing or do not go together.
func (o *cleaningOptions) check(cmd *cobra.Command, format string) error {
	if err := onlyFlags(cmd, "cleaning", append([]string{"study", "format"}, cleaningFlags...)...); err != nil {
		return err
	}
	if err := oneOf("format", format, formats); err != nil {
		return err
	}
	given := cmd.Flags().Changed
	switch {
	case !given("soiling"):
		return usagef("state it: --soiling 0.01 --u-soiling 0.003", "--cleaning needs --soiling, in pp of "+
			"transmittance a day")
	case !given("yield"):
		return usagef("state it: --yield 1000", "--cleaning needs --yield, in kWh per kWp and year")
	case !given("loss") && !given("brush"):
		return usagef("state it: --loss 0.03 --u-loss 0.01 is a wet brush with grit (common practice, no source); or "+
			"take it from a brush exposure of a study: --brush NAME", "nothing says what a cleaning takes off the film")
	case given("brush") && (given("loss") || given("u-loss")):
		return usagef("leave one of them out", "--loss and --brush both say what a cleaning takes off the film")
	case !given("brush") && (given("coating") || given("cycles") || given("study")):
		return usagef("add --brush NAME, or leave them out", "--coating, --cycles and --study are for --brush, which is "+
			"not given")
	case !(o.cycles > 0) || math.IsInf(o.cycles, 0):
		return usagef("write for example --cycles 15", "--cycles must be above 0, not %g", o.cycles)
	}
	return nil
}

// runCleaning says how often to clean.
func runCleaning(cmd *cobra.Command, o *cleaningOptions, in *studyOptions, format string) error {
	if err := o.check(cmd, format); err != nil {
		return err
	}
	if o.brush != "" {
		if err := in.reading(cmd.Context(), func(d *desk.Desk) error {
			each, gain, err := d.CleaningLoss(cmd.Context(), o.brush, o.coating)
			o.of.Loss = cleaning.Estimate{Value: o.cycles * each.Value, U: o.cycles * each.U}
			if !cmd.Flags().Changed("gain") {
				o.of.Gain = gain
			}
			return err
		}); err != nil {
			return err
		}
	}
	advice, err := cleaning.Best(o.of)
	var input *cleaning.InputError
	if errors.As(err, &input) {
		return usagef("see wane help when-to-clean for usual numbers", "%s must be %s", input.What, input.Want)
	}
	if err != nil {
		return err
	}
	if format != "table" {
		return cleaningRows(cmd, format, advice)
	}
	return cleaningTable(pageOf(cmd), advice)
}

// cleaningRows prints a row for each number of cleanings.
func cleaningRows(cmd *cobra.Command, format string, a *cleaning.Advice) error {
	out := newRecords(cmd.OutOrStdout(), format, []string{"cleanings", "cleanings_per_year", "soil_kwh_per_kwp_year",
		"film_kwh_per_kwp_year", "net_kwh_per_kwp_year", "lower", "upper", "below_best_kwh_per_kwp_year", "below_best_lower",
		"below_best_upper", "level", "best", "best_from_per_year", "best_to_per_year", "pays",
		"soiling_pp_day", "u_soiling_pp_day", "loss_pp", "u_loss_pp", "gain_pp", "rain_days", "years", "yield_kwh_per_kwp_year",
		"soil_takes_all", "best_is_most_tried"})
	for _, c := range a.Choices {
		if err := out.Write(c.N, c.PerYear, c.Soil, c.Film, c.Net.Value, c.Net.Lower, c.Net.Upper, c.Below.Value,
			c.Below.Lower, c.Below.Upper, cleaning.Level, c.IsBest, a.Fewest,
			a.Most, a.Pays, a.Soiling.Value, a.Soiling.U, a.Loss.Value, a.Loss.U, a.Gain, a.RainDays, a.Years, a.Yield,
			c.TakesAll, a.AtEnd); err != nil {
			return err
		}
	}
	return out.Close()
}

// cleaningTable prints the advice for people.
func cleaningTable(p page, a *cleaning.Advice) error {
	rain := "no rain"
	if a.RainDays > 0 {
		rain = fmt.Sprintf("rain every %g days", a.RainDays)
	}
	lines := []string{fmt.Sprintf("soil %s pp a day, a cleaning takes %s pp of a gain of %.3g pp; %s; %g years at %g "+
		"kWh per kWp and year",
		stateValue(a.Soiling), stateValue(a.Loss), a.Gain, rain, a.Years, a.Yield), cleaningVerdict(a)}
	if err := writeLines(p, lines...); err != nil {
		return err
	}
	t := foldedTable(p, "  ", "cleanings a year", "in all", "lost to soil", "lost with the film", "more than never",
		"below the best", "")
	all := false
	for _, c := range a.Choices {
		mark, soil := "", fmt.Sprintf("%.1f", c.Soil)
		if c.IsBest {
			mark = "best"
		}
		if c.TakesAll {
			soil, all = soil+" (all light)", true
		}
		if err := t.row(threeDigits(study.Num(c.PerYear)), fmt.Sprint(c.N), soil, fmt.Sprintf("%.1f", c.Film),
			cleaningRange(c.Net), cleaningRange(c.Below), mark); err != nil {
			return err
		}
	}
	if err := t.end(); err != nil {
		return err
	}
	if all {
		if err := printLine(p, "  all light: after %.4g days the soil would take all that is not the gain of the film, "+
			"%.4g pp; no more than that counts", a.MostSoil()/a.Soiling.Value, a.MostSoil()); err != nil {
			return err
		}
	}
	if a.RainDays == 0 {
		if err := writeLine(p, "  without --rain-days the soil grows without end, so never and seldom look worse than "+
			"they are"); err != nil {
			return err
		}
	}
	return writeLines(p, "  energy in kWh per kWp and year, mean over the horizon, with 95 % intervals; 1 pp of "+
		"transmittance is worth 1 % of the yield",
		"  assumed: soil grows evenly, a cleaning takes all of it and always as much of the film; no cost of work and "+
			"water; the film does not age",
		"  otherwise. How to measure both: wane help when-to-clean",
		"  who cleans: arrays stay energised in daylight, wet glass is slippery, and roofs and racks are heights. Follow "+
			"the maker's instructions,",
		"  the site's safety rules and local codes, and leave electrical work to licensed people")
}

// cleaningRange shows a value with its interval.
func cleaningRange(r cleaning.Range) string {
	if r.Lower == r.Upper {
		return fmt.Sprintf("%.1f", r.Value+0)
	}
	return fmt.Sprintf("%.1f (%.1f to %.1f)", r.Value+0, r.Lower+0, r.Upper+0)
}

// stateValue shows a stated value with its uncertainty.
func stateValue(e cleaning.Estimate) string {
	if e.U == 0 {
		return threeDigits(study.Num(e.Value))
	}
	return plusMinus(study.Measure{Value: study.Num(e.Value), U: study.Num(e.U)}, 1, "") + " (k=2)"
}

// cleaningVerdict is the advice in a sentence.
func cleaningVerdict(a *cleaning.Advice) string {
	times := func(perYear float64) string { return threeDigits(study.Num(perYear)) }
	between := ""
	if a.Fewest != a.Most {
		between = fmt.Sprintf(", 95 %% interval %s to %s", times(a.Fewest), times(a.Most))
	}
	switch {
	case a.Best.N == 0:
		return "never cleaning gives most energy by these numbers" + between
	case a.AtEnd:
		return fmt.Sprintf("no best number was found: one cleaning a day (%s a year) gives most energy of those that were "+
			"tried%s, and no more than one a day is tried; look at the numbers below, and at what you stated",
			times(a.Best.PerYear), between)
	case !a.Pays:
		return fmt.Sprintf("%s cleanings a year give most energy by these numbers%s; that they give more than never "+
			"cleaning cannot be told, because soil and loss are not known well enough", times(a.Best.PerYear), between)
	}
	return fmt.Sprintf("%s cleanings a year give most energy%s: %+.1f kWh per kWp and year more than never cleaning",
		times(a.Best.PerYear),
		between, a.Best.Net.Value)
}
