package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/population"
	"wane/study/transfer"
)

const compareExposuresLong = `
--exposures A,B says how many times faster coatings age in A than in B: for each coating the ratio of
its mean rates with a 95 % interval by Fieller's theorem, the geometric mean over coatings, and
whether both exposures put the coatings into the same order (Kendall's tau with its exact p). Rates
are per unit of the dose, with --days per day. wane help chamber-and-field.
`

// transferRow is a coating in two exposures.
type transferRow struct {
	of      *desk.Transfer
	coating *desk.TransferCoating
}

// transferRate are the columns of the rate in one of the exposures.
func transferRate(k int, letter string) listing[transferRow] {
	rate := func(r transferRow) *population.Estimate { return &r.coating.Groups[k].Rate }
	return listing[transferRow]{
		valueColumn("rate_"+letter, func(r transferRow) any { return orNil(study.Num(rate(r).Value)) }).
			Ranked(1, "rate in "+strings.ToUpper(letter), func(r transferRow) string {
				return estimateWords(*rate(r), 1)
			}),
		valueColumn("u_rate_"+letter, func(r transferRow) any { return orNil(study.Num(rate(r).SE)) }),
		valueColumn("unit_"+letter, func(r transferRow) any { return r.of.Units[k] }),
		valueColumn("n_"+letter, func(r transferRow) any { return r.coating.Groups[k].Coupons }).Ranked(3, "coupons in "+
			strings.ToUpper(letter), nil),
		valueColumn("lots_"+letter, func(r transferRow) any { return r.coating.Groups[k].Lots }),
	}
}

// transferNumber is a column of a number of the factor.
func transferNumber(name string, rank int, of func(*transfer.Factor) float64) column[transferRow] {
	c := valueColumn(name, func(r transferRow) any { return orNil(study.Num(of(&r.coating.Factor))) })
	if rank > 0 {
		c = c.Ranked(rank, "", func(r transferRow) string { return dash(threeDigits(study.Num(of(&r.coating.Factor)))) })
	}
	return c
}

// transferColumns are the columns of two exposures.
var transferColumns = slices.Concat(
	listing[transferRow]{
		valueColumn("quantity", func(r transferRow) any { return r.of.Quantity.Name }),
		valueColumn("coating", func(r transferRow) any { return r.coating.Coating }).Ranked(1, "", nil),
		valueColumn("exposure_a", func(r transferRow) any { return r.of.Exposures[0] }),
		valueColumn("exposure_b", func(r transferRow) any { return r.of.Exposures[1] }),
	}, transferRate(0, "a"), transferRate(1, "b"),
	listing[transferRow]{
		transferNumber("factor", 1, func(f *transfer.Factor) float64 { return f.Value }),
		transferNumber("lower", 1, func(f *transfer.Factor) float64 { return f.Lower }),
		transferNumber("upper", 1, func(f *transfer.Factor) float64 { return f.Upper }),
		valueColumn("level", func(transferRow) any { return desk.TransferLevel }),
		transferNumber("df", 2, func(f *transfer.Factor) float64 { return f.DoF }),
		valueColumn("method", func(transferRow) any { return "fieller" }),
		valueColumn("why", func(r transferRow) any { return orEmpty(transferWhy(&r)) }).Ranked(2, "", nil).Folded(40),
		valueColumn("flags", func(r transferRow) any { return bentFlags(r.coating.Bent[0] || r.coating.Bent[1]) }),
	})

// transferWhy says why a factor has no interval.
func transferWhy(r *transferRow) string {
	for k, g := range r.coating.Groups {
		if g.Rate.Why != "" {
			return "in " + r.of.Exposures[k] + " " + g.Rate.Why.Sentence()
		}
	}
	switch r.coating.Factor.Why {
	case transfer.NotDistinguished:
		return "the rate in " + r.of.Exposures[1] + " is not distinguished from 0"
	case transfer.NoRate:
		return "one of the rates is not known"
	}
	return ""
}

// twoExposures reads the value of --exposures.
func twoExposures(text string) (pair [2]string, err error) {
	names := strings.Split(text, ",")
	for i := range names {
		names[i] = strings.TrimSpace(names[i])
	}
	if len(names) != 2 || names[0] == "" || names[1] == "" || names[0] == names[1] {
		return pair, usagef("name two exposures: --exposures chamber,roof", "--exposures takes two different names, not %q",
			text)
	}
	return [2]string(names), nil
}

// bindExposures binds --exposures.
func bindExposures(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "exposures", "", "say how many times faster coatings age in the first of two exposures: "+
		"chamber,roof")
}

// alone refuses flags that do not go together with one that asks for something else.
func alone(cmd *cobra.Command, flag string, others ...string) error {
	for _, name := range others {
		if cmd.Flags().Changed(name) {
			return usagef("leave one of them out", "--%s and --%s do not go together", name, flag)
		}
	}
	return nil
}

// runTransfer compares two exposures.
func runTransfer(cmd *cobra.Command, o *compareOptions) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := alone(cmd, "exposures", append(serviceFlags, "service", "by", "pull", "rate", "against", "margin", "level",
		"exposure",
		"figure")...); err != nil {
		return err
	}
	opt := desk.TransferOptions{Quantity: o.with.Quantities[0], Days: o.with.Days}
	if len(o.with.Quantities) > 1 {
		return usagef("ask for one quantity at a time", "--exposures is of one quantity, and --quantity names %d",
			len(o.with.Quantities))
	}
	var err error
	if opt.Exposures, err = twoExposures(o.exposures); err != nil {
		return err
	}
	columns, err := transferColumns.Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	defer holdWhole()()
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		moment, err := o.asOf.moment(cmd.Context(), d)
		if err != nil {
			return err
		}
		opt.AsOf = moment.Line
		t, err := d.Transfer(cmd.Context(), opt)
		if err != nil {
			return err
		}
		p := pageOf(cmd)
		people := o.list.format == "table" && len(o.list.named) == 0
		if people {
			if err := printLine(p, "%s: A is %s (%s), B is %s (%s)", t.Quantity.Name, study.Shown(t.Exposures[0]), t.Units[0],
				study.Shown(t.Exposures[1]), t.Units[1]); err != nil {
				return err
			}
		}
		out := openRows(columns, p, o.list.format)
		for i := range t.Coatings {
			if err := out.write(transferRow{t, &t.Coatings[i]}); err != nil {
				return err
			}
		}
		if err := out.end(); err != nil || !people {
			return err
		}
		return writeLines(p, transferWords(t)...)
	})
}

// transferWords are the lines below the table.
func transferWords(t *desk.Transfer) []string {
	lines := []string{"rates with their 95 % intervals (Student's t); factor: rate in A over that in B, " +
		"with its 95 % interval by Fieller's theorem"}
	if f := t.Common; f.Why == "" {
		lines = append(lines, fmt.Sprintf("over %s the factor is %s, 95 %% interval %s to %s (geometric mean, t of the "+
			"coatings); for one more coating it may lie beyond", count(t.InCommon, "coating"),
			threeDigits(study.Num(f.Value)), threeDigits(study.Num(f.Lower)), threeDigits(study.Num(f.Upper))))
	} else {
		lines = append(lines, "a factor over coatings cannot be told from these data, because fewer than two coatings "+
			"have one; expose more coatings in both")
	}
	if t.Units[0] != t.Units[1] {
		lines = append(lines, fmt.Sprintf("one %s of A does what the factor says in units of one %s of B; --days makes "+
			"both per day",
			doseOf(t.Units[0]), doseOf(t.Units[1])))
	}
	var bent []string
	for _, c := range t.Coatings {
		for k, is := range c.Bent {
			if is {
				bent = append(bent, study.Shown(c.Coating)+" in "+study.Shown(t.Exposures[k]))
			}
		}
	}
	if said := bentWords(bent, "a factor of their rates depends on how long they were exposed"); said != "" {
		lines = append(lines, said)
	}
	lines = append(lines, orderWords(t))
	for _, c := range t.Coatings {
		for _, g := range c.Groups {
			if try := g.Rate.Why.Try(); g.Rate.Why != "" && try != "" {
				lines = addOnce(lines, "try: "+try)
			}
		}
		if c.Factor.Why == transfer.NotDistinguished {
			lines = addOnce(lines, "try: expose longer in "+study.Shown(t.Exposures[1])+", or measure more coupons")
		}
	}
	if len(t.Alone) > 0 {
		lines = append(lines, "in one of the exposures only: "+strings.Join(t.Alone, ", "))
	}
	return append(lines, "a factor holds for these coatings and doses, and only while the chamber does the same to a "+
		"film as the field does: compare what happened to the films with wane trend --film")
}

// doseOf is the unit of the dose in that of a rate, such as hour in pp per hour.
func doseOf(rate string) string {
	if _, unit, ok := strings.Cut(rate, " per "); ok {
		return unit
	}
	return rate
}

// orderWords says whether both exposures put the coatings into the same order.
func orderWords(t *desk.Transfer) string {
	a := t.Agreement
	switch {
	case a.N < 2 || math.IsNaN(a.Tau):
		return "the orders of the coatings cannot be compared: fewer than two of them have a rate in both, or all are alike"
	case math.IsNaN(a.P):
		return fmt.Sprintf("order of the %d coatings: Kendall's tau %.2f, without a p, since too many rates are equal", a.N,
			a.Tau)
	}
	words := fmt.Sprintf("order of the %d coatings: Kendall's tau %.2f, exact two-sided p %.3g", a.N, a.Tau, a.P)
	switch {
	case a.Least > 0.05:
		words += fmt.Sprintf("; with %d coatings p is at least %.3g, so they cannot show that the orders agree", a.N, a.Least)
	case a.P > 0.05:
		words += "; it is not shown that the orders agree"
	case a.Tau < 0:
		words += ": the orders are opposite"
	default:
		words += ": the orders agree better than by chance"
	}
	return words + ". The errors of the rates are not in it"
}
