package main

import (
	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
)

const traceLong = `Show where the numbers of a coupon come from: each fit, current or superseded, and each
spectrum that it used. A spectrum has its export with SHA-256, column and lines, what was
stated about it and by which profile, and what guards and reviewers say about it. Each row
names the line of the history: when, by whom and by which program. Measurements by other
instruments are listed too.

The last row is the coupon itself, with the line of the roster in which it stood.

--export goes the other way: it lists all that came from an export, a table of measurements or
a picture, and the lines of the history that used a map, a roster or another table. Give its
name as it was taken in, or at least eight digits of its SHA-256. The list has spectra,
measurements, coupons and fits, and the rows of results that would differ without this file:
also those that are compared with it or corrected by it.

--figure draws the budget of the coupon: whose errors make up the uncertainty of its change of
solar transmittance at each pull (wane help reading-figures).

--pull, --spot, --session and --flagged choose rows, and with --export also --coupon. There is
no --coating: a coupon has one coating, and wane results --coating names the coupons.
`

type traceOptions struct {
	study  studyOptions
	list   listOptions
	filter filterOptions
	export string
	figure string
}

func newTraceCommand() *cobra.Command {
	o := &traceOptions{}
	cmd := &cobra.Command{
		Use: "trace [COUPON]", Short: "from which files and fits a number comes, or what came from an export",
		Long:    traceLong + columnsHelp(stepColumns) + exitCodes,
		Example: "  wane trace A01 --pull 1 --spot 1\n  wane trace A01 --figure budget.svg\n  wane trace --export A01-pull1.csv --format json",
		Args:    cobra.ArbitraryArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return runTrace(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, stepColumns)
	f := cmd.Flags()
	o.filter.bind(cmd, &o.study, "rows", "coupon", "pull", "spot", "session", "flagged")
	f.Lookup("coupon").Usage = "with --export: only rows of this coupon; repeatable"
	o.study.completeArg(cmd, func(c *desk.Codes) []string { return c.Coupons })
	f.StringVar(&o.export, "export", "",
		"list what came from this file: its name, or at least eight digits of its SHA-256")
	f.StringVar(&o.figure, "figure", "", "of a COUPON: draw into this file, .svg, .png or .pdf, whose errors make up the "+
		"uncertainty of its change")
	return cmd
}

func (o *traceOptions) check(cmd *cobra.Command, args []string) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	flags := cmd.Flags()
	if err := checkFigure(o.figure); err != nil {
		return err
	}
	switch {
	case o.figure != "" && flags.Changed("export"):
		return usagef("leave one of them out", "--figure draws the budget of a coupon, and --export traces a file")
	case flags.Changed("export"):
		if len(args) > 0 {
			return usagef("write the coupon as --coupon, or leave --export out",
				"--export traces a file: a coupon cannot be named as an argument too")
		}
	case len(args) == 0:
		return usagef("name a coupon: wane trace A01 --pull 1; or a file: wane trace --export A01-pull1.csv",
			"no coupon is named")
	case len(args) != 1:
		return usagef("name a coupon: wane trace A01 --pull 1; or a file: wane trace --export A01-pull1.csv",
			"wane trace takes one coupon, not %d", len(args))
	case flags.Changed("coupon"):
		return usagef("leave --coupon out: wane trace "+quotedWord(args[0]),
			"--coupon is only for --export, and the coupon is already named as an argument")
	}
	return o.filter.check(cmd)
}

func runTrace(cmd *cobra.Command, o *traceOptions, args []string) error {
	if err := o.check(cmd, args); err != nil {
		return err
	}
	columns, err := stepColumns.Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		if o.figure != "" {
			if err := o.draw(cmd, d, args[0]); err != nil {
				return err
			}
		}
		sieve := study.NewSieve(o.filter.of)
		steps, err := o.steps(cmd, d, args, sieve)
		if err != nil {
			return err
		}
		out := openRows(columns, pageOf(cmd), o.list.format)
		lossless := false
		for i := range steps {
			lossless = lossless || steps[i].Lossless
			if err := out.write((*step)(&steps[i])); err != nil {
				return err
			}
		}
		if err := out.end(); err != nil {
			return err
		}
		if lossless && o.list.format == "table" {
			if err := writeLine(pageOf(cmd), losslessWords); err != nil {
				return err
			}
		}
		if err := sayMissed(cmd.ErrOrStderr(), sieve); err != nil {
			return err
		}
		return noteFitsDue(cmd.ErrOrStderr(), desk.FitsDue{Stale: desk.CountStale(steps)})
	})
}

// draw draws the budget of the change of a coupon at each of its pulls.
func (o *traceOptions) draw(cmd *cobra.Command, d *desk.Desk, coupon string) error {
	if err := d.CheckCodes(cmd.Context(), study.Filter{Coupons: []string{coupon}}, desk.Moment{}); err != nil {
		return err
	}
	f, err := drawn.OfCoupon(cmd.Context(), d, "budget", desk.ResultsOptions{Coupon: coupon})
	if err != nil {
		return err
	}
	return drawFigure(cmd, d, o.figure, f)
}

// step is a step of a trace with its words.
type step desk.TraceStep

// steps are the steps that a sieve lets pass.
func (o *traceOptions) steps(
	cmd *cobra.Command, d *desk.Desk, args []string, sieve *study.Sieve,
) (steps []desk.TraceStep, err error) {
	if err := d.CheckCodes(cmd.Context(), o.filter.of, desk.Moment{}); err != nil {
		return nil, err
	}
	if o.export == "" {
		traced, err := d.Trace(cmd.Context(), args[0], desk.AllPulls, "")
		if err != nil {
			return nil, err
		}
		return traced.Steps(sieve, o.filter.of.Spots), nil
	}
	if o.filter.of.IsZero() {
		sieve = nil
	}
	origins, err := d.TraceFile(cmd.Context(), o.export)
	for i := range origins {
		steps = append(steps, origins[i].Steps(sieve)...)
	}
	return steps, err
}
