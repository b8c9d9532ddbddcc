package main

import (
	"fmt"
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/shown"
)

const resultsLong = `List one row for each coupon, pull and spot: the state, the solar values, the changes
against the baseline, and the remaining film. JSON and CSV have all columns.

results COUPON shows the history of one coupon on one screen: its life, the rows of its pulls, the
pulls that have none, the change of each spot as a line of heights (one for each pull, a dot where
nothing is read), what other instruments measured, what was held and judged, and what was corrected
or moved, by whom and why. CSV and JSON have the rows of that coupon.

--as-of LINE or --as-of DAY shows what the study said after that line of the history, or at the
end of that day (UTC).

--by lists groups of exposed coupons at each pull: the number of coupons, their mean
corrected change with its 95 % interval, the spread between coupons, the mean gain kept and
material left, and how many spots are in each state. Each coupon counts once, with the mean
of its spots. "3 of 4" says that one has no change there: it has no reading, or its history
has ended, which a line below the table names. --figure draws the change against the dose: thin
lines for coupons, and the means of the groups with their intervals. --name-coupons writes the
code of each coupon beside its line. --draw material draws the mean material left instead.

results COUPON --figure FILE draws all curves of the coupon, measured and fitted, by pull in the
order of the doses; with one --pull the curves of that pull with their residuals. --draw names
another figure; each answers a question (below). Each says from which study, on which day, and up
to which line of the history it was drawn: wane help reading-figures.

--joint fits all pulls of each spot together. Glass and coating are the same at all pulls;
only the film changes. The changes come from that fit. Nothing is stored.

--soiling lists the spots that were read as found and after cleaning at one pull: as found
less cleaned, in pp, with what both readings share counted once. Reflectance alone takes
a soil that absorbs for a gain: read transmittance too (wane help transmittance).

--routes shows the change of each spot by all three routes side by side: none, controls and
session. It says which of them differ by more than 2 standard uncertainties of the
difference (differ), and by which flag a route states no change (missing). The fits that
the route of the study does not use are made now, and kept in memory; nothing is stored.

--independent shows the thicknesses that wane measure took in beside the fitted ones, and
the difference, fitted minus independent, with its uncertainty. A spot that was measured
by several methods has several rows. If a spot has no thickness of its own, that of its
coupon as a whole is used.

The flags --coupon, --pull, --spot, --coating, --session and --flagged choose rows. A row
must match all of them. They apply to every format and to the groups; the correction
always uses all controls.
`

type resultsOptions struct {
	study  studyOptions
	list   listOptions
	filter filterOptions
	sieve  *study.Sieve // of the rows that are printed
	by     string
	figure string
	draw   string // which figure
	named  bool   // coupons in the figure
	joint  bool
	beside bool

	asOf    asOfOptions
	moment  desk.Moment // of --as-of
	coupon  string      // the argument
	routes  bool
	soiling bool
	light   lightOptions
	workers int
}

// options say how the results are made; each call begins with a new sieve.
func (o *resultsOptions) options() desk.ResultsOptions {
	opt := desk.ResultsOptions{Joint: o.joint, AsOf: o.moment.Line, Coupon: o.coupon}
	if o.sieve = study.NewSieve(o.filter.of); !o.filter.of.IsZero() {
		opt.Keep = o.keep
	}
	return opt
}

// keep reports whether a row is wanted.
func (o *resultsOptions) keep(r *study.Result) bool { return o.sieve.Keep(study.RowOf(r)) }

func newResultsCommand() *cobra.Command {
	o := &resultsOptions{}
	cmd := &cobra.Command{
		Use: "results [COUPON]", Short: "one row per coupon, spot and pull, or per group; the history of a coupon",
		Long: resultsLong + lightLong + figuresHelp() + columnsHelp(resultColumns(nil)) + exitCodes,
		Example: "  wane results\n  wane results A01\n  wane results A01 --draw sunlight --figure sun.svg\n" +
			"  wane results --by coating\n  wane results --routes\n  wane results A01 --at-incidence 30,60\n" +
			"  wane results --format csv > results.csv",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return runResults(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, resultColumns(&desk.Independent{}))
	o.filter.bind(cmd, &o.study, "rows", "coupon", "pull", "spot", "coating", "session", "flagged")
	cmd.Flags().StringVar(&o.by, "by", "", "list groups: coating, lot, supplier or exposure")
	cmd.Flags().BoolVar(&o.joint, "joint", false,
		"fit all pulls of each spot together, and take values and changes from that fit")
	cmd.Flags().BoolVar(&o.beside, "independent", false,
		"add thicknesses measured by other methods, and fitted minus independent")
	cmd.Flags().BoolVar(&o.routes, "routes", false,
		"show the changes by the routes none, controls and session side by side")
	cmd.Flags().BoolVar(&o.soiling, "soiling", false,
		"show solar_T as found less that after cleaning, of spots that were read in both conditions at one pull")
	cmd.Flags().IntVar(&o.workers, "workers", runtime.NumCPU(),
		"with --routes, how many spots are fitted at once; the results do not depend on it")
	cmd.Flags().StringVar(&o.figure, "figure", "",
		"draw into this file, .svg, .png or .pdf: the change against the dose, by coating or as --by says; "+
			"of a COUPON its pulls")
	cmd.Flags().StringVar(&o.draw, "draw", "",
		"with --figure, which one: changes or material; of a COUPON pulls, fit (of one --pull), material, "+
			"structure, sunlight or budget")
	cmd.Flags().BoolVar(&o.named, "name-coupons", false, "with --figure, write the code of each coupon beside its line")
	o.light.bind(cmd)
	o.asOf.bind(cmd)
	o.study.completeArg(cmd, func(c *desk.Codes) []string { return c.Coupons })
	completeWords(cmd, map[string][]string{"by": groupings(), "draw": allFigures()})
	return cmd
}

func groupings() []string {
	var words []string
	for _, by := range ageing.Groupings() {
		words = append(words, string(by))
	}
	return words
}

func (o *resultsOptions) check(cmd *cobra.Command) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	if o.by != "" {
		if err := oneOf("by", o.by, groupings()); err != nil {
			return err
		}
	}
	if o.by != "" && o.beside {
		return usagef("leave one of them out",
			"--independent and --by cannot be used together: one lists spots, the other groups")
	}
	if err := o.checkRoutes(cmd); err != nil {
		return err
	}
	if err := o.checkSoiling(cmd); err != nil {
		return err
	}
	if err := o.checkLight(cmd); err != nil {
		return err
	}
	if cmd.Flags().Changed("as-of") && (o.routes || o.soiling) {
		return usagef("leave one of them out", "--as-of is not for --routes or --soiling: they show the study as it is now")
	}
	if o.named && o.figure == "" {
		return usagef("add --figure change.svg", "--name-coupons is for the figure, but --figure is not given")
	}
	return checkFigure(o.figure)
}

func runResults(cmd *cobra.Command, o *resultsOptions, args []string) error {
	if err := o.check(cmd); err != nil {
		return err
	}
	if err := o.checkCoupon(cmd, args); err != nil {
		return err
	}
	if err := o.checkDraw(cmd); err != nil {
		return err
	}
	list, err := o.lister(cmd)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		codes := o.filter.of
		if o.coupon != "" {
			codes.Coupons = []string{o.coupon}
		}
		if o.moment, err = o.asOf.moment(cmd.Context(), d); err != nil {
			return err
		}
		if err := d.CheckCodes(cmd.Context(), codes, o.moment); err != nil {
			return err
		}
		if o.figure != "" {
			if err := drawResults(cmd, d, o); err != nil {
				return err
			}
		}
		if err := list(d); err != nil {
			return err
		}
		if err := sayMissed(cmd.ErrOrStderr(), o.sieve); err != nil {
			return err
		}
		bridges, err := d.Bridges(cmd.Context(), o.moment.Line)
		if err != nil {
			return err
		}
		if err := noteBridges(cmd.ErrOrStderr(), bridges); err != nil {
			return err
		}
		due, err := d.FitsDue(cmd.Context(), o.moment.Line)
		if err != nil {
			return err
		}
		return noteFitsDue(cmd.ErrOrStderr(), due)
	})
}

// lister returns what prints the rows that are asked for, once their columns are known to
// be there.
func (o *resultsOptions) lister(cmd *cobra.Command) (func(*desk.Desk) error, error) {
	if len(o.light.lights) > 0 {
		list, err := o.litLister()
		return func(d *desk.Desk) error { return list(cmd, d) }, err
	}
	if o.soiling {
		return o.soilingLister(cmd)
	}
	if o.routes {
		return o.routesLister(cmd)
	}
	if o.by != "" {
		columns, err := shown.Groups(ageing.By(o.by)).Choose(o.list.format, o.list.named)
		return func(d *desk.Desk) error { return listGroups(cmd, d, o, columns) }, err
	}
	var beside *desk.Independent
	if o.beside {
		beside = &desk.Independent{}
	}
	all := resultColumns(beside)
	columns, err := all.Choose(o.list.format, o.list.named)
	if o.beside && o.list.format == "table" && len(o.list.named) == 0 {
		columns = fittedBeside(all)
	}
	return func(d *desk.Desk) error {
		switch {
		case o.coupon != "" && o.list.format == "table" && len(o.list.named) == 0 && !o.joint:
			return o.history(cmd, d)
		case o.beside && o.list.format == "table":
			return tableBeside(cmd, d, o, columns, beside)
		case o.beside:
			return rowsBeside(cmd, d, o, columns, beside)
		case o.list.format == "table":
			return resultTable(cmd, d, o, columns)
		}
		out := newRowWriter(cmd.OutOrStdout(), o.list.format, ofResults(columns, nil))
		if err := d.Results(cmd.Context(), o.options(), out.write); err != nil {
			return err
		}
		return out.end()
	}, err
}

// resultTable is the listing for people.
func resultTable(cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*study.Result]) error {
	p := pageOf(cmd)
	out := openRows(columns, p, "table")
	n, lossless, planned := 0, 0, 0
	err := d.Results(cmd.Context(), o.options(), func(r *study.Result) error {
		if n++; r.IsLossless() {
			lossless++
		}
		if slices.Contains(r.Flags, study.FlagDosePlanned) {
			planned++
		}
		return out.write(r)
	})
	if err != nil {
		return err
	}
	if err := out.end(); err != nil {
		return err
	}
	switch missed, _ := o.sieve.Missed(); {
	case n > 0:
		lines := []string{valuesWords(lossless > 0)}
		if showUniform(columns) {
			lines = append(lines, uniformWords)
		}
		return writeLines(p, append(lines, plannedWords(planned, n))...)
	case len(missed) > 0: // which is said on stderr
		return nil
	}
	return writeLine(p, "no results yet: take exports in and run wane fit")
}

// showUniform reports whether columns are among them that are of the equivalent uniform film.
func showUniform(columns listing[*study.Result]) bool {
	return slices.ContainsFunc(columns, func(c column[*study.Result]) bool {
		return c.Name == "thickness_nm" || c.Name == "porosity" || c.Name == "bare_fraction"
	})
}

// listGroups prints groups, in any format.
func listGroups(cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*ageing.Group]) error {
	rows, err := d.Groups(cmd.Context(), ageing.By(o.by), o.options())
	if err != nil {
		return err
	}
	p := pageOf(cmd)
	out := openRows(columns, p, o.list.format)
	for i := range rows {
		if err := out.write(&rows[i]); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil || o.list.format != "table" {
		return err
	}
	if missed, _ := o.sieve.Missed(); len(missed) > 0 {
		return nil
	}
	if len(rows) == 0 {
		return writeLine(p, "no exposed coupon has results yet: take exports in and run wane fit")
	}
	if slices.ContainsFunc(rows, func(g ageing.Group) bool { return g.Clear > 0 }) {
		if err := writeLine(p, losslessWords); err != nil {
			return err
		}
	}
	return writeLines(p, endedWords(rows), plannedOf(rows), misfitWords(rows), shown.DistrustedWords(rows))
}

// misfitWords says how many rows of groups have curves that the law does not explain; nothing if none.
func misfitWords(groups []ageing.Group) string {
	misfit, all := 0, 0
	for i := range groups {
		misfit, all = misfit+groups[i].Flags[film.FlagMisfit], all+groups[i].Spots
	}
	if misfit == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d rows have curves that film, glass and instrument cannot make (%s): their means may be off by more "+
		"than their intervals; see wane help reading-results", misfit, all, film.FlagMisfit)
}

// endedWords says with what the histories of coupons ended that have no readings in a group.
func endedWords(groups []ageing.Group) string {
	var said []string
	for _, g := range groups {
		for _, e := range g.Ended {
			said = append(said, e.Coupon+" "+e.With)
		}
	}
	if len(said) == 0 {
		return ""
	}
	slices.Sort(said)
	return "ended: " + strings.Join(slices.Compact(said), "; ")
}

// plannedOf says of how many spots of groups the dose is the planned one.
func plannedOf(groups []ageing.Group) string {
	planned, all := 0, 0
	for i := range groups {
		planned, all = planned+groups[i].Flags[study.FlagDosePlanned], all+groups[i].Spots
	}
	return plannedWords(planned, all)
}
