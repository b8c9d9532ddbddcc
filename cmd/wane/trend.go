package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/series"
	"wane/study/shape"
)

const trendLong = `Say how fast a quantity changes, along which shape, and how long coupons last.

--by coating, lot or supplier: the rate of each group is that of a mixed model of all groups, with
coupons, lots and sessions, and pull 0 as a reading with an error. --by coupon: the rate of each
coupon by generalised least squares of its changes. Beside it stands the slope by ranks
(theil-sen), which no covariance enters; of a group the median over its coupons, without interval.

--shape all fits all shapes to the mean path of each group and lists them by AICc: linear,
exponential (to a floor), power, two-stage, stretched. A shape needs two pulls more after the
baseline than it has parameters; fewer cannot tell it from others.

--threshold X asks how long coupons last until they have lost X (in the unit of changes; for haze
and bare_fraction: until they rose by X; for a quantity without a worse direction: until the
change is X, with its sign). A coupon reached it between two pulls; one that was lost or has not
reached it lasts longer than its last pull. life_50 is the dose by which half of the coupons have
reached it, life_10 a tenth: by the Weibull and the lognormal law, with profile intervals, and by
Turnbull's estimate, which assumes no law. More than twice the largest dose is not stated without
--extrapolate.

What the data cannot tell has no number: a line below the table says why, and what to do.
`

type trendOptions struct {
	study  studyOptions
	list   listOptions
	filter filterOptions
	asOf   asOfOptions
	film   trendFilmOptions

	quantity, by, shape, in string
	limit                   float64
	extrapolate, asFound    bool
	figure                  string

	columns listing[*desk.TrendRow]
	sieve   *study.Sieve
}

func newTrendCommand() *cobra.Command {
	o := &trendOptions{}
	cmd := &cobra.Command{
		Use: "trend [--film [COUPON...]]", Short: "how fast coatings change, along which shape, and how long they last",
		Long: trendLong + trendFilmLong + columnsHelp(trendColumns()) + exitCodes,
		Example: "  wane trend\n  wane trend --by coupon --quantity solid\n  wane trend --shape all --figure trend.svg\n" +
			"  wane trend --threshold 0.5 --format json\n  wane trend --film A01 A02",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.film.check(cmd, args); err != nil {
				return err
			}
			if o.film.asked {
				return runTrendFilm(cmd, o, args)
			}
			return runTrend(cmd, o)
		},
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, trendColumns())
	o.filter.bind(cmd, &o.study, "rows", "coupon", "coating", "pull")
	f := cmd.Flags()
	f.StringVar(&o.quantity, "quantity", "solar_T", "what is followed: "+strings.Join(series.Names(), ", "))
	f.StringVar(&o.by, "by", string(shape.ByCoating), "of whom: coupon, lot, coating or supplier")
	f.StringVar(&o.shape, "shape", string(shape.Linear), "along which shape: "+strings.Join(shapeWords(), ", "))
	f.StringVar(&o.in, "in", string(shape.InDose), "over the dose, or over the days since the baseline: dose or days")
	f.Float64Var(&o.limit, "threshold", math.NaN(), "say how long coupons last until they have lost so much")
	f.Lookup("threshold").DefValue = "0" // help then names none
	f.BoolVar(&o.extrapolate, "extrapolate", false, "with --threshold, state lives beyond twice the largest dose, too")
	f.BoolVar(&o.asFound, "as-found", false, "follow surfaces as they were found, instead of clean ones")
	f.StringVar(&o.figure, "figure", "", "draw the changes and the fitted shapes into this file, .svg, .png or .pdf")
	o.asOf.bind(cmd)
	o.film.bind(cmd)
	o.study.completeArg(cmd, func(c *desk.Codes) []string { return c.Coupons })
	completeWords(cmd, map[string][]string{"quantity": series.Names(), "by": byWords(), "shape": shapeWords(),
		"in": {string(shape.InDose), string(shape.InDays)}})
	return cmd
}

func byWords() (words []string) {
	for _, by := range shape.Groupings() {
		words = append(words, string(by))
	}
	return words
}

// allShapes asks for all shapes.
const allShapes = "all"

func shapeWords() (words []string) {
	for _, s := range shape.Shapes() {
		words = append(words, string(s))
	}
	return append(words, allShapes)
}

func (o *trendOptions) check(cmd *cobra.Command) (err error) {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	for _, flag := range []struct {
		name, value string
		words       []string
	}{{"by", o.by, byWords()}, {"shape", o.shape, shapeWords()},
		{"in", o.in, []string{string(shape.InDose), string(shape.InDays)}}} {
		if err := oneOf(flag.name, flag.value, flag.words); err != nil {
			return err
		}
	}
	if _, known := series.Find(o.quantity); !known {
		return usagef(study.DidYouMean(o.quantity, series.Names(), "use one of "+strings.Join(series.Names(), ", ")),
			"--quantity: there is no quantity %q", o.quantity)
	}
	if o.extrapolate && !cmd.Flags().Changed("threshold") {
		return usagef("add --threshold, or leave --extrapolate out",
			"--extrapolate is for lives, but --threshold is not given")
	}
	if cmd.Flags().Changed("threshold") && o.limit == 0 {
		return usagef("state how much may be lost: --threshold 0.5", "--threshold must not be 0: nothing is lost then")
	}
	if cmd.Flags().Changed("threshold") && (math.IsNaN(o.limit) || math.IsInf(o.limit, 0)) {
		return usagef("state how much may be lost: --threshold 0.5", "--threshold takes a number, not %g", o.limit)
	}
	if o.columns, err = trendColumns().Choose(o.list.format, o.list.named); err != nil {
		return err
	}
	if o.list.format == "table" && len(o.list.named) == 0 && o.shape != allShapes { // it says nothing of one shape
		o.columns = slices.DeleteFunc(o.columns, func(c column[*desk.TrendRow]) bool { return c.Name == "aicc_difference" })
	}
	return checkFigure(o.figure)
}

// options are those of the desk.
func (o *trendOptions) options(moment desk.Moment) desk.TrendOptions {
	o.sieve = study.NewSieve(study.Filter{Coupons: o.filter.of.Coupons, Coatings: o.filter.of.Coatings})
	opt := desk.TrendOptions{Quantity: o.quantity, By: shape.By(o.by), In: shape.Axis(o.in), Limit: o.limit,
		Extrapolate: o.extrapolate, All: o.shape == allShapes, Shape: shape.Shape(o.shape), Pulls: o.filter.of.Pulls,
		SeriesOptions: desk.SeriesOptions{AsFound: o.asFound, AsOf: moment.Line}}
	if wanted := o.filter.of.Coupons; len(wanted) > 0 {
		opt.Keep = func(c *series.Coupon) bool { return slices.Contains(wanted, c.Coupon) }
	}
	opt.Shown = func(c *series.Coupon) bool {
		return o.sieve.Keep(study.Row{Coupon: c.Coupon, Coating: c.Coating, Pull: -1})
	}
	return opt
}

func runTrend(cmd *cobra.Command, o *trendOptions) error {
	if err := o.check(cmd); err != nil {
		return err
	}
	defer holdWhole()()
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		moment, err := o.asOf.moment(cmd.Context(), d)
		if err != nil {
			return err
		}
		if err := d.CheckCodes(cmd.Context(), o.filter.of, moment); err != nil {
			return err
		}
		t, err := d.Trend(cmd.Context(), o.options(moment))
		if err != nil {
			return err
		}
		if o.figure != "" {
			if err := drawTrend(cmd, d, o, moment, t); err != nil {
				return err
			}
		}
		if err := o.print(cmd, d, t); err != nil {
			return err
		}
		if err := sayMissed(cmd.ErrOrStderr(), o.sieve); err != nil || t.Data.Quantity.Measured {
			return err
		}
		due, err := d.FitsDue(cmd.Context(), moment.Line)
		if err != nil {
			return err
		}
		return noteFitsDue(cmd.ErrOrStderr(), due)
	})
}

// print prints the rows, and for people what they are of and what cannot be told.
func (o *trendOptions) print(cmd *cobra.Command, d *desk.Desk, t *desk.Trend) error {
	p := pageOf(cmd)
	out := openRows(o.columns, p, o.list.format)
	rows := t.Rows()
	extrapolated := false
	for i := range rows {
		extrapolated = extrapolated || o.extrapolate && slices.Contains(rows[i].Flags, shape.FlagExtrapolated)
		if err := out.write(&rows[i]); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if o.list.format == "table" {
		if err := writeWrapped(p, "", trendWords(t, d.Settings().Correction)); err != nil {
			return err
		}
		for _, line := range untoldLines(rows) {
			if err := writeWrapped(p, "", line); err != nil {
				return err
			}
		}
	}
	if extrapolated {
		return printLine(cmd.ErrOrStderr(), "note lives beyond the largest dose rest on the law alone: no coupon was exposed "+
			"so long; do not plan by them")
	}
	return nil
}

// trendWords say what the rows are of.
func trendWords(t *desk.Trend, route study.Route) string {
	how := "corrected by the route " + string(route)
	if route == study.RouteNone {
		how = "as measured"
	}
	return fmt.Sprintf("change of %s since the baseline, %s; intervals of 95 %%; see wane help ageing",
		t.Data.Quantity.Name, how)
}

// untoldLines say what the data cannot tell, each reason once, with whom it is of.
func untoldLines(rows []desk.TrendRow) (lines []string) {
	var reasons []string
	of, exposures := map[string][]string{}, map[string]bool{}
	for i := range rows {
		exposures[rows[i].Exposure] = true
	}
	for i := range rows {
		r := &rows[i]
		if r.Why == nil {
			continue
		}
		reason := r.Why.Fault + "; " + r.Why.Try
		if of[reason] == nil {
			reasons = append(reasons, reason)
		}
		who := r.Group
		if len(exposures) > 1 {
			who += " in " + r.Exposure
		}
		if r.Shape != "" && r.Shape != string(shape.Linear) && r.Shape != "none" {
			who += " " + r.Shape
		}
		of[reason] = addOnce(of[reason], who)
	}
	const few = 4
	for _, reason := range reasons {
		lines = append(lines, firstOf(of[reason], few)+": "+reason)
	}
	return lines
}

// trendColumns are the columns of a trend.
func trendColumns() listing[*desk.TrendRow] {
	type row = desk.TrendRow
	text := func(name string, of func(*row) string) column[*row] {
		return valueColumn(name, func(r *row) any { return orEmpty(of(r)) })
	}
	number := func(name string, of func(*row) float64) column[*row] {
		return valueColumn(name, func(r *row) any { return orNil(study.Num(of(r))) })
	}
	counted := func(name string, of func(*row) int, none int) column[*row] {
		return valueColumn(name, func(r *row) any {
			if of(r) == none {
				return nil
			}
			return of(r)
		})
	}
	return listing[*row]{
		text("group", func(r *row) string { return r.Group }).Ranked(1, "", nil).Folded(12),
		text("quantity", func(r *row) string { return r.Quantity }),
		text("shape", func(r *row) string { return r.Shape }).Ranked(1, "", nil),
		text("parameter", func(r *row) string { return r.Parameter }).Ranked(1, "", nil),
		number("value", func(r *row) float64 { return r.Value }).Ranked(1, "", valueWords),
		number("u", func(r *row) float64 { return r.U }),
		number("lower", func(r *row) float64 { return r.Lower }),
		number("upper", func(r *row) float64 { return r.Upper }),
		cellColumn("interval", 1, "95 % interval", endsWords),
		number("df", func(r *row) float64 { return r.DF }).
			Ranked(4, "", func(r *row) string { return dash(threeDigits(study.Num(r.DF))) }),
		counted("n", func(r *row) int { return r.N }, -1).Ranked(2, "", nil),
		text("method", func(r *row) string { return r.Method }).Ranked(1, "", nil).Folded(14),
		valueColumn("flags", func(r *row) any { return append([]string{}, r.Flags...) }).Ranked(2, "", nil).Folded(20),
		text("exposure", func(r *row) string { return r.Exposure }).Ranked(5, "", nil),
		text("unit", func(r *row) string { return r.Unit }),
		text("dose_unit", func(r *row) string { return r.DoseUnit }),
		number("at", func(r *row) float64 { return r.At }),
		counted("pulls", func(r *row) int { return r.Pulls }, 0),
		counted("reached", func(r *row) int { return r.Reached }, -1),
		number("aicc", func(r *row) float64 { return r.AICc }),
		number("aicc_difference", func(r *row) float64 { return r.Difference }).
			Ranked(3, "AICc over the best", func(r *row) string { return dash(threeDigits(study.Num(r.Difference))) }),
		text("why", func(r *row) string {
			if r.Why == nil {
				return ""
			}
			return r.Why.Fault + "; " + r.Why.Try
		}),
	}
}

// valueWords is the value with its unit, to two digits of its uncertainty.
func valueWords(r *desk.TrendRow) string {
	if math.IsNaN(r.Value) {
		return "-"
	}
	words := shownBy(r.Value, r.U)
	if !math.IsNaN(r.At) {
		return fmt.Sprintf("%s by %s %s", words, threeDigits(study.Num(r.At)), r.DoseUnit)
	}
	return strings.TrimSpace(words + " " + r.Unit)
}

// endsWords is the interval.
func endsWords(r *desk.TrendRow) string {
	switch lo, hi := shownBy(r.Lower, r.U), shownBy(r.Upper, r.U); {
	case lo != "" && hi != "":
		return lo + " to " + hi
	case lo != "":
		return "above " + lo
	case hi != "":
		return "below " + hi
	}
	return "-"
}

// shownBy is a number to two digits of an uncertainty, or of three digits where there is none; empty for NaN.
func shownBy(v, u float64) string {
	if math.IsNaN(v) || !(u > 0) {
		return threeDigits(study.Num(v))
	}
	places := min(max(1-int(math.Floor(math.Log10(u))), 0), 12)
	return string(appendDecimal(nil, v, places))
}
