package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/power"
)

const planPowerLong = `
--power says what a study can find, from how the changes of its coupons scatter: the chance to
see a difference, to show that coatings are equal within a margin, to accept a product, and the
least difference that is seen, by the number of coupons (rows) and by lots and pulls. Type the
scatter in (--coupon-sd, --lot-sd, --u), or take it from a study: --from-study --study FILE.
All changes are in pp of solar transmittance. wane help planning says more.
`

// powerOptions are the flags of the power of designs.
type powerOptions struct {
	asked, fromStudy        bool
	study                   studyOptions
	of                      desk.PowerOptions
	spread                  power.Spread
	coatings                int
	pair, lossLaw           string
	limit, lossMean, lossSD float64
	share                   float64
	failures                int
	spreads                 desk.SpreadOptions
}

// powerFlags are the flags that only --power has.
var powerFlags = []string{"coupons", "lots", "pulls", "difference", "margin", "chance", "level", "coatings", "coupon-sd", "lot-sd", "u",
	"shared-u", "from-study", "study", "exposure", "pull", "pair", "limit", "failures", "share", "loss-law", "loss-mean", "loss-sd"}

func (o *powerOptions) bind(cmd *cobra.Command) {
	f, p := cmd.Flags(), &o.of
	f.BoolVar(&o.asked, "power", false, "what designs can find, from how changes scatter")
	f.IntSliceVar(&p.Coupons, "coupons", []int{3, 4, 6, 8, 10, 12, 16, 20}, "with --power, numbers of exposed coupons a coating")
	f.IntSliceVar(&p.Lots, "lots", []int{1}, "with --power, numbers of lots that they come from")
	f.IntSliceVar(&p.Pulls, "pulls", []int{1},
		"with --power, numbers of pulls after pull 0, through which a line is laid; 1: the last pull alone counts")
	f.Float64Var(&p.Difference, "difference", 0, "with --power, the difference of two coatings to be seen, in pp")
	f.Float64Var(&p.Margin, "margin", 0, "with --power, the margin within which coatings are to be shown equal, in pp")
	f.Float64Var(&p.Chance, "chance", 0.8, "with --power, the chance with which the least difference is seen")
	f.Float64Var(&p.Test.Level, "level", 0.95, "with --power, the level of the intervals, over all pairs together")
	f.IntVar(&o.coatings, "coatings", 2, "with --power, how many coatings are compared, each with each")
	f.Float64Var(&o.spread.Coupon, "coupon-sd", 0, "with --power, standard deviation of true changes between coupons of a lot, in pp")
	f.Float64Var(&o.spread.Lot, "lot-sd", 0, "with --power, standard deviation of true changes between lots, in pp")
	f.Float64Var(&o.spread.U, "u", 0, "with --power, standard uncertainty of one corrected change of a coupon, its own part, in pp")
	f.Float64Var(&p.Test.Shared, "shared-u", 0, "with --power, the part that more coupons do not make smaller, in pp")
	f.BoolVar(&o.fromStudy, "from-study", false, "with --power, take the scatter from a study: this one, or that of --study")
	f.StringVar(&o.spreads.Exposure, "exposure", "", "with --from-study, the exposure")
	f.IntVar(&o.spreads.Pull, "pull", 0, "with --from-study, the pull; 0: the last one")
	f.StringVar(&o.pair, "pair", "", "with --from-study, the two coatings, as A,B; else each pair of them")
	f.Float64Var(&o.limit, "limit", 0, "with --power, the loss that coupons must stay below by a rule of acceptance, in pp")
	f.IntVar(&o.failures, "failures", 0, "with --limit, how many coupons may fail")
	f.Float64Var(&o.share, "share", 0.8, "with --limit, the share of the product that has to conform")
	f.StringVar(&o.lossLaw, "loss-law", string(power.Normal), "with --limit, the law of true losses: normal, exponential or lognormal")
	f.Float64Var(&o.lossMean, "loss-mean", 0, "with --limit, the mean true loss, in pp")
	f.Float64Var(&o.lossSD, "loss-sd", 0, "with --limit, the standard deviation of true losses, in pp; not of exponential ones")
	o.study.bind(cmd)
}

// check refuses flags that say nothing.
func (o *powerOptions) check(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	if err := o.checkNumbers(cmd); err != nil {
		return err
	}
	if o.coatings < 2 || o.coatings > 1000 {
		return usagef("write for example --coatings 3", "--coatings must be 2 or more, not %d", o.coatings)
	}
	typed := given("u") || given("coupon-sd") || given("lot-sd")
	switch {
	case !o.fromStudy && !typed:
		return usagef("type it in, such as --coupon-sd 0.05 --u 0.02, or take it from a study: --from-study",
			"by how much changes scatter is not known")
	case !o.fromStudy && !given("u"):
		return usagef("add it in pp, such as --u 0.02, or take all from a study: --from-study, without --coupon-sd and --lot-sd",
			"--u is missing, the standard uncertainty of one corrected change of a coupon")
	case o.fromStudy && typed:
		return usagef("leave one of them out", "--from-study gives the scatter, and so do --u, --coupon-sd and --lot-sd")
	case !o.fromStudy && (given("pair") || given("exposure") || given("pull") || given("study")):
		return usagef("add --from-study, or leave it out", "--study, --exposure, --pull and --pair are for --from-study")
	case given("limit") && !given("loss-mean"):
		return usagef("say what the product loses: --loss-law lognormal --loss-mean 0.3 --loss-sd 0.1",
			"--limit is given, and not what the product loses")
	}
	return oneOf("loss-law", o.lossLaw, []string{string(power.Normal), string(power.Exponential), string(power.Lognormal)})
}

// checkNumbers refuses numbers that cannot be.
func (o *powerOptions) checkNumbers(cmd *cobra.Command) error {
	given, p := cmd.Flags().Changed, &o.of
	for _, f := range []struct {
		flag  string
		list  []int
		least int
		why   string
	}{
		{"coupons", p.Coupons, 2, ": one coupon says nothing of how its coating scatters"},
		{"lots", p.Lots, 1, ""}, {"pulls", p.Pulls, 1, ""},
	} {
		if len(f.list) == 0 || slices.Min(f.list) < f.least || slices.Max(f.list) > 10000 {
			return usagef(fmt.Sprintf("write numbers separated by commas, such as --%s %d,6", f.flag, f.least),
				"--%s must be numbers from %d to 10000%s", f.flag, f.least, f.why)
		}
	}
	if slices.Max(p.Coupons) < slices.Min(p.Lots) {
		return usagef(fmt.Sprintf("plan %d coupons or more, or fewer lots", slices.Min(p.Lots)), "there is no such design: "+
			"%s of each coating cannot come from %s", count(slices.Max(p.Coupons), "coupon"), count(slices.Min(p.Lots), "lot"))
	}
	for _, f := range []struct {
		flag  string
		value float64
		zero  bool // may be 0
	}{
		{"difference", p.Difference, false}, {"margin", p.Margin, false}, {"limit", o.limit, false},
		{"coupon-sd", o.spread.Coupon, true}, {"lot-sd", o.spread.Lot, true}, {"u", o.spread.U, true},
		{"shared-u", p.Test.Shared, true},
	} {
		least := "above 0"
		if f.zero {
			least = "0 or more"
		}
		if ok := f.value > 0 || f.zero && f.value == 0; given(f.flag) && (!ok || math.IsInf(f.value, 0)) {
			return usagef("write it in pp, such as --"+f.flag+" 0.05", "--%s must be %s, not %g", f.flag, least, f.value)
		}
	}
	for _, f := range []struct {
		flag                 string
		value, above, usable float64
	}{{"chance", p.Chance, 0.05, 0.8}, {"level", p.Test.Level, 0.5, 0.95}, {"share", o.share, 0, 0.8}} {
		if !(f.value > f.above && f.value < 1) {
			return usagef(fmt.Sprintf("write for example --%s %g", f.flag, f.usable),
				"--%s must be above %g and below 1, not %g", f.flag, f.above, f.value)
		}
	}
	return nil
}

// powered is what was found of one pair of coatings.
type powered struct {
	a, b string // empty: typed in
	rows []desk.PowerRow
}

func runPower(cmd *cobra.Command, o *planOptions) error {
	p := &o.power
	if err := onlyFlags(cmd, "power", append(powerFlags, "format")...); err != nil {
		return err
	}
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	if err := p.check(cmd); err != nil {
		return err
	}
	p.of.Test.Pairs = p.coatings * (p.coatings - 1) / 2
	var found []powered
	var known []power.Components
	u, shared := math.Hypot(p.spread.U, p.of.Test.Shared), p.of.Test.Shared
	if !p.fromStudy {
		p.of.A, p.of.B = p.spread, p.spread
		rows, err := desk.Power(&p.of)
		if err != nil {
			return err
		}
		found = append(found, powered{rows: rows})
	} else {
		defer holdWhole()()
		err := p.study.reading(cmd.Context(), func(d *desk.Desk) (err error) {
			known, p.spreads.Pull, err = d.Spreads(cmd.Context(), p.spreads)
			return err
		})
		if err != nil {
			return err
		}
		if found, err = p.ofStudy(cmd, known); err != nil {
			return err
		}
		shared = known[0].CommonU() // of the first coating
		u = math.Hypot(known[0].U, shared)
	}
	var accepted []desk.AcceptanceRow
	if p.limit > 0 {
		var err error
		rule := power.Rule{Limit: p.limit, Failures: p.failures, U: u, Shared: shared}
		losses := power.Losses{Law: power.Law(p.lossLaw), Mean: p.lossMean, SD: p.lossSD}
		if accepted, err = desk.AcceptancePower(p.of.Coupons, rule, losses, p.share); err != nil {
			return err
		}
	}
	if o.format != "table" {
		return p.rows(cmd, o.format, found, accepted)
	}
	return p.table(pageOf(cmd), known, found, accepted)
}

// ofStudy computes the designs of each pair of coatings of a study.
func (o *powerOptions) ofStudy(cmd *cobra.Command, known []power.Components) (found []powered, err error) {
	wanted := strings.Split(o.pair, ",")
	for i := range known {
		for k := range known[:i] {
			a, b := &known[k], &known[i]
			if o.pair != "" && !(len(wanted) == 2 && slices.Contains(wanted, a.Coating) && slices.Contains(wanted, b.Coating)) {
				continue
			}
			opt := o.of
			opt.A, opt.B = a.Spread, b.Spread
			if slices.Max(o.of.Lots) < power.LeastLots { // lots are no error then
				opt.A.Lot, opt.B.Lot = 0, 0
			}
			if math.IsNaN(opt.A.Lot) || math.IsNaN(opt.B.Lot) {
				return nil, usagef("leave --lots out, or type the scatter in with --lot-sd",
					"how lots differ cannot be told from this study: %s or %s has coupons of one lot", a.Coating, b.Coating)
			}
			if !cmd.Flags().Changed("shared-u") {
				opt.Test.Shared = power.Shared(a, b)
			}
			rows, err := desk.Power(&opt)
			if err != nil {
				return nil, err
			}
			found = append(found, powered{a.Coating, b.Coating, rows})
		}
	}
	if len(found) == 0 {
		var names []string
		for i := range known {
			names = append(names, known[i].Coating)
		}
		return nil, usagef("name two of those of which the scatter is known: "+strings.Join(names, ", "),
			"there is no pair of coatings %q", o.pair)
	}
	return found, nil
}

// rows prints one row a design, and one a number of coupons of a rule.
func (o *powerOptions) rows(cmd *cobra.Command, format string, found []powered, accepted []desk.AcceptanceRow) error {
	out := newRecords(cmd.OutOrStdout(), format, []string{"question", "coating_a", "coating_b", "coupons", "lots", "pulls", "unit", "se_pp",
		"df", "level", "difference_pp", "chance_different", "margin_pp", "chance_equivalent", "chance", "least_difference_pp",
		"least_margin_pp", "limit_pp", "failures", "conforming", "chance_accept", "chance_reject", "chance_undecided", "share", "confidence",
		"confidence_at_worst"})
	for _, f := range found {
		for i := range f.rows {
			r := &f.rows[i]
			if err := out.Write("comparison", orEmpty(f.a), orEmpty(f.b), r.Coupons, r.Lots, r.Pulls, unitWord(r), r.SE, r.DoF,
				o.of.Test.Level, above0(o.of.Difference), numberCell(r.Different), above0(o.of.Margin), numberCell(r.Equal), o.of.Chance, r.Least,
				numberCell(r.LeastMargin), nil, nil, nil, nil, nil, nil, nil, nil, nil); err != nil {
				return err
			}
		}
	}
	for i := range accepted {
		r := &accepted[i]
		if err := out.Write("acceptance", nil, nil, r.Coupons, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, o.limit,
			o.failures, r.Conforming, r.Accept, r.Reject, r.Undecided, o.share, r.Confidence, r.Worst); err != nil {
			return err
		}
	}
	return out.Close()
}

func unitWord(r *desk.PowerRow) string {
	if r.ByLots {
		return "lot"
	}
	return "coupon"
}

// above0 is a number for a cell, nil if nobody asked.
func above0(x float64) any {
	if x == 0 {
		return nil
	}
	return x
}

// table prints the designs for a person: coupons as rows, lots and pulls as columns.
func (o *powerOptions) table(w page, known []power.Components, found []powered, accepted []desk.AcceptanceRow) error {
	if len(known) > 0 {
		if err := o.spreadTable(w, known); err != nil {
			return err
		}
	}
	for _, f := range found {
		pair := "two coatings alike"
		if f.a != "" {
			pair = f.a + " against " + f.b
		}
		asked := []struct {
			is    bool
			title string
			cell  func(*desk.PowerRow) string
		}{
			{o.of.Difference > 0, fmt.Sprintf("%s: chance to see a difference of %g pp", pair, o.of.Difference),
				func(r *desk.PowerRow) string { return percentOf(r.Different) }},
			{true, fmt.Sprintf("%s: least difference that is seen with a chance of %g %%, pp", pair, 100*o.of.Chance),
				func(r *desk.PowerRow) string { return threeDigits(study.Num(r.Least)) }},
			{o.of.Margin > 0, fmt.Sprintf("%s: chance to show that they are equal within %g pp, if they are", pair, o.of.Margin),
				func(r *desk.PowerRow) string { return percentOf(r.Equal) }},
		}
		for _, a := range asked {
			if a.is {
				if err := o.grid(w, a.title, f.rows, a.cell); err != nil {
					return err
				}
			}
		}
	}
	if err := o.acceptTable(w, accepted); err != nil {
		return err
	}
	if err := writeLine(w, "\n"+wrapped(o.notes(found), guideWidth)); err != nil {
		return err
	}
	return writeLines(w, powerDesign...)
}

// powerDesign says which readings the numbers of designs count on.
var powerDesign = []string{
	"Read in one session at each pull: all these coupons, 2 controls or more of each coating, a dark blank, a light trap.",
	"What the session is off is then the same in all and cancels in each contrast; " +
		"in sessions apart these numbers are too good.",
}

// grid prints one number of each design.
func (o *powerOptions) grid(w page, title string, rows []desk.PowerRow, cell func(*desk.PowerRow) string) error {
	fmt.Fprintf(w, "\n%s\n", title)
	heading := []string{"coupons a coating"}
	for _, pulls := range o.of.Pulls {
		for _, lots := range o.of.Lots {
			heading = append(heading, count(lots, "lot")+", "+count(pulls, "pull"))
		}
	}
	columns := foldedTable(w, "  ", heading...)
	for _, n := range o.of.Coupons {
		cells := []string{strconv.Itoa(n)}
		for _, pulls := range o.of.Pulls {
			for _, lots := range o.of.Lots {
				text := "-"
				for i := range rows {
					if r := &rows[i]; r.Coupons == n && r.Lots == lots && r.Pulls == pulls {
						text = cell(r)
					}
				}
				cells = append(cells, text)
			}
		}
		if err := columns.row(cells...); err != nil {
			return err
		}
	}
	return columns.end()
}

// spreadTable prints how the changes of the coatings of a study scatter.
func (o *powerOptions) spreadTable(w page, known []power.Components) error {
	fmt.Fprintf(w, "how changes of solar transmittance scatter at pull %d, standard deviations in pp\n", o.spreads.Pull)
	columns := foldedTable(w, "  ", "coating", "coupons, lots", "mean change", "between coupons", "95 % interval", "between lots",
		"u of one change")
	for i := range known {
		c := &known[i]
		lots := "-"
		if !math.IsNaN(c.Lot) {
			lots = threeDigits(study.Num(c.Lot))
		}
		if err := columns.row(study.Shown(c.Coating), fmt.Sprintf("%d, %d", c.Coupons, c.Lots), threeDigits(study.Num(c.Mean)),
			threeDigits(study.Num(c.Coupon)), threeDigits(study.Num(c.Low))+" to "+threeDigits(study.Num(c.High)), lots,
			threeDigits(study.Num(c.U))); err != nil {
			return err
		}
	}
	return columns.end()
}

// acceptTable prints what a rule says of a product.
func (o *powerOptions) acceptTable(w page, accepted []desk.AcceptanceRow) error {
	if len(accepted) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\na rule with a limit of %g pp of which %s may fail, and a product of which %s is below it\n", o.limit,
		count(o.failures, "coupon"), percentOf(accepted[0].Conforming))
	columns := foldedTable(w, "  ", "coupons", "accepted", "rejected", "undecided",
		fmt.Sprintf("confidence that more than %s conforms", percentOf(o.share)))
	for i := range accepted {
		r := &accepted[i]
		if err := columns.row(strconv.Itoa(r.Coupons), percentOf(r.Accept), percentOf(r.Reject), percentOf(r.Undecided),
			fmt.Sprintf("%s (at worst %s)", percentOf(r.Confidence), percentOf(r.Worst))); err != nil {
			return err
		}
	}
	return columns.end()
}

// notes say what the tables are based on.
func (o *powerOptions) notes(found []powered) string {
	said := []string{fmt.Sprintf("Chances are those of Welch's t at a level of %g %% over %s, exact for normal scatter.",
		100*o.of.Test.Level, count(o.of.Test.Pairs, "pair"))}
	lots, coupons := false, false
	for _, f := range found {
		for i := range f.rows {
			lots, coupons = lots || f.rows[i].ByLots, coupons || !f.rows[i].ByLots
		}
	}
	if coupons {
		said = append(said, "With one or two lots the unit is the coupon, and a verdict speaks of these lots: how lots differ is no error of it.")
	}
	if lots {
		said = append(said, "With three lots or more the unit is the lot.")
	}
	if slices.Max(o.of.Lots) > slices.Min(o.of.Coupons) {
		said = append(said, "A line (-) stands where there are fewer coupons than lots.")
	}
	return strings.Join(append(said, "Where losses are skewed, rehearse the plan: wane help planning."), " ")
}
