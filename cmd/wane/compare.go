package main

import (
	"math"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/difference"
	"wane/study/population"
	"wane/study/series"
	"wane/study/shown"
)

const compareLong = `Compare coatings, suppliers or lots: by how much their changes differ at a pull, or how fast they
change (--rate), and whether the coupons are enough to say so. A sentence a pair says the verdict,
and the table has the figures.

The difference is that of a less that of b. Intervals and adjusted p count that several pairs are
compared: the chance that one of them is called different wrongly is 5 % in all (--level). The unit
is the lot where a group has three lots or more, else the coupon; the verdict then holds for these
lots only. Each group has a scatter of its own.

--margin M asks whether two groups are equivalent: whether their difference is shown to be below M,
in the unit of the difference. Fix M before you look at the data.

--against GROUP compares each group with that one. --figure draws the differences with their
intervals. With solar_T or cell_T the command says where the other weighting of light would change the
verdict. What wane measure took in is compared by the same words: --quantity haze.

Where the data cannot tell, the line says why, and there is no interval. Read wane help comparing.
`

type compareOptions struct {
	study  studyOptions
	list   listOptions
	asOf   asOfOptions
	with   desk.CompareOptions
	by     string
	figure string

	exposures string // two, separated by a comma
	service   serviceOptions
}

func newCompareCommand() *cobra.Command {
	o := &compareOptions{}
	cmd := &cobra.Command{
		Use: "compare", Short: "coatings, suppliers or lots against each other",
		Long: compareLong + compareExposuresLong + compareServiceLong + columnsHelp(shown.Compare()) + exitCodes,
		Example: "  wane compare\n  wane compare --by supplier --pull 2\n  wane compare --rate --against AR-1\n" +
			"  wane compare --quantity solar_T,haze --margin 0.2 --format json\n" +
			"  wane compare --exposures chamber,roof\n  wane compare --service 2 --yield 1000 --prices prices.csv",
		Args: exactly(0, "use flags: wane compare --against GROUP"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runCompare(cmd, o) },
	}
	o.bind(cmd)
	return cmd
}

func (o *compareOptions) bind(cmd *cobra.Command) {
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Compare())
	f := cmd.Flags()
	f.StringSliceVar(&o.with.Quantities, "quantity", []string{"solar_T"},
		"what is compared: one or more, separated by commas")
	f.StringVar(&o.by, "by", string(population.ByCoating), "what is compared: coating, supplier or lot")
	f.IntVar(&o.with.Pull, "pull", 0, "at which pull (default: the last one that most groups have)")
	f.BoolVar(&o.with.Rate, "rate", false, "compare how fast the groups change, by a model of all pulls")
	f.BoolVar(&o.with.Days, "days", false, "with --rate, per day, in place of the unit of the dose")
	f.StringVar(&o.with.Against, "against", "", "compare each group with this one")
	f.Float64Var(&o.with.Margin, "margin", 0, "are they equivalent within this margin, in the unit of the difference")
	f.Float64Var(&o.with.Level, "level", 0.95, "the level of confidence of all intervals together")
	f.StringVar(&o.with.Exposure, "exposure", "", "the exposure, where there are several")
	f.StringVar(&o.figure, "figure", "", "draw the differences with their intervals into this file, .svg, .png or .pdf")
	bindExposures(cmd, &o.exposures)
	o.service.bind(cmd)
	o.asOf.bind(cmd)
	completeWords(cmd, map[string][]string{"by": compareGroupings})
	completeLists(cmd, "quantity", series.Names)
	o.study.completeFlag(cmd, "exposure", func(c *desk.Codes) []string { return c.Exposures })
	o.study.completeFlag(cmd, "against", func(c *desk.Codes) []string { return c.Coatings })
}

var compareGroupings = []string{string(population.ByCoating), string(population.BySupplier), string(population.ByLot)}

// check reads the flags.
func (o *compareOptions) check(cmd *cobra.Command) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := oneOf("by", o.by, compareGroupings); err != nil {
		return err
	}
	o.with.By = population.By(o.by)
	given := cmd.Flags().Changed
	for i, name := range o.with.Quantities {
		o.with.Quantities[i] = strings.TrimSpace(name)
		if _, known := series.Find(o.with.Quantities[i]); !known {
			return usagef(study.DidYouMean(name, series.Names(), "use one of "+strings.Join(series.Names(), ", ")),
				"--quantity: there is no quantity %q", name)
		}
	}
	switch m := o.with.Margin; {
	case given("pull") && o.with.Pull < 1:
		return usagef("write for example --pull 2", "--pull must be at least 1, not %d: at pull 0 nothing has changed",
			o.with.Pull)
	case given("pull") && o.with.Rate:
		return usagef("leave one of them out", "--rate is of all pulls, and --pull of one")
	case o.with.Days && !o.with.Rate:
		return usagef("add --rate, or leave --days out", "--days is for --rate")
	case given("margin") && (!(m > 0) || math.IsInf(m, 0)):
		return usagef("write for example --margin 0.2", "--margin must be above 0, not %g", m)
	case given("margin") && len(o.with.Quantities) > 1:
		return usagef("ask for one quantity at a time", "--margin has one unit, and --quantity names %d quantities",
			len(o.with.Quantities))
	case !(o.with.Level >= 0.5 && o.with.Level < 1):
		return usagef("write for example --level 0.95", "--level must be at least 0.5 and below 1, not %g", o.with.Level)
	case o.figure != "" && len(o.with.Quantities) > 1:
		return usagef("ask for one quantity at a time", "--figure draws one quantity, and --quantity names %d",
			len(o.with.Quantities))
	}
	return checkFigure(o.figure)
}

func runCompare(cmd *cobra.Command, o *compareOptions) error {
	switch given := cmd.Flags().Changed; {
	case given("exposures"):
		return runTransfer(cmd, o)
	case given("service"):
		return runService(cmd, o)
	}
	if err := o.service.check(cmd); err != nil {
		return err
	}
	if err := o.check(cmd); err != nil {
		return err
	}
	columns, err := shown.Compare().Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	defer holdWhole()()
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		moment, err := o.asOf.moment(cmd.Context(), d)
		if err != nil {
			return err
		}
		o.with.AsOf = moment.Line
		all, err := d.Compare(cmd.Context(), o.with)
		if err != nil {
			return err
		}
		if o.figure != "" {
			if err := drawDifferences(cmd, d, o, all[0]); err != nil {
				return err
			}
		}
		if err := o.print(cmd, all, columns); err != nil {
			return err
		}
		due, err := d.FitsDue(cmd.Context(), moment.Line)
		if err != nil {
			return err
		}
		return noteFitsDue(cmd.ErrOrStderr(), due)
	})
}

// print lists comparisons.
func (o *compareOptions) print(cmd *cobra.Command, all []*difference.Comparison, columns listing[shown.Compared]) error {
	p := pageOf(cmd)
	if o.list.format == "table" && len(o.list.named) == 0 {
		for i, c := range all {
			if i > 0 {
				if err := writeLine(p, ""); err != nil {
					return err
				}
			}
			if err := compareTable(p, columns, c); err != nil {
				return err
			}
		}
		return nil
	}
	out := openRows(columns, p, o.list.format)
	for _, c := range all {
		if err := writePairs(out, c); err != nil {
			return err
		}
	}
	return out.end()
}

func writePairs(out *rowsOf[shown.Compared], c *difference.Comparison) error {
	for i := range c.Pairs {
		if err := out.write(shown.Compared{Of: c, Pair: &c.Pairs[i]}); err != nil {
			return err
		}
	}
	return nil
}
