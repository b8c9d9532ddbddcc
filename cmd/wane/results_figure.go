package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/drawn"
)

// The figures of groups that --draw names. Of a coupon it names those of drawn.CouponKinds: all its pulls, or of one
// pull its fit, where it names nothing. A budget is of all pulls.
const (
	drawChanged  = "changes"
	drawMaterial = "material"
	drawPulls    = "pulls"
	drawOnePull  = "fit"
	drawBudget   = "budget"
)

var groupFigures = []string{drawChanged, drawMaterial}

// couponFigures are those of a coupon.
func couponFigures() (names []string) {
	for _, k := range drawn.CouponKinds() {
		names = append(names, k.Name)
	}
	return names
}

// allFigures are those that --draw can name.
func allFigures() []string { return append([]string{drawChanged}, couponFigures()...) }

// figuresHelp lists the figures of a coupon in help.
func figuresHelp() string {
	text := "\nFigures of a coupon, by --draw:\n"
	for _, k := range drawn.CouponKinds() {
		text += fmt.Sprintf("  %-10s %s\n", k.Name, k.Question)
	}
	return text
}

// checkDraw reads what --draw names.
func (o *resultsOptions) checkDraw(cmd *cobra.Command) error {
	if o.draw != "" && o.figure == "" {
		return usagef("add --figure "+o.draw+".svg", "--draw is for the figure, but --figure is not given")
	}
	if cmd.Flags().Changed("draw") {
		if err := oneOf("draw", o.draw, allFigures()); err != nil {
			return err
		}
	}
	if o.figure != "" && o.draw == "" {
		o.draw = groupFigures[0]
		if o.coupon != "" {
			o.draw = drawPulls
			if len(o.filter.of.Pulls) == 1 {
				o.draw = drawOnePull
			}
		}
	}
	switch {
	case o.figure == "":
	case o.coupon == "" && !slices.Contains(groupFigures, o.draw):
		return usagef("name the coupon: wane results A01 --figure "+o.draw+".svg --draw "+o.draw,
			"--draw %s is the figure of one coupon, and none is named", o.draw)
	case o.coupon != "" && !slices.Contains(couponFigures(), o.draw):
		return usagef("leave the coupon out, or --draw", "--draw %s is the figure of groups, and a coupon is named", o.draw)
	case o.draw == drawOnePull && len(o.filter.of.Pulls) != 1:
		return usagef("add --pull 1", "--draw fit is the figure of one pull, and --pull names %d", len(o.filter.of.Pulls))
	case o.draw == drawBudget && !o.filter.of.IsZero():
		return usagef("leave out what chooses rows, such as --pull",
			"--draw budget is of all spots and pulls of the coupon")
	case o.named && o.draw != drawChanged:
		return usagef("leave --name-coupons out", "--name-coupons is for the figure of changes, and this one is %s", o.draw)
	case o.routes || o.soiling:
		return usagef("leave one of them out", "--figure draws results, and not --routes or --soiling")
	}
	return nil
}

// drawResults draws what --draw names.
func drawResults(cmd *cobra.Command, d *desk.Desk, o *resultsOptions) error {
	f, err := o.figureOf(cmd, d)
	if err != nil {
		return err
	}
	return drawFigure(cmd, d, o.figure, f)
}

// figureOf makes the figure.
func (o *resultsOptions) figureOf(cmd *cobra.Command, d *desk.Desk) (figure, error) {
	if o.coupon != "" {
		return drawn.OfCoupon(cmd.Context(), d, o.draw, o.options())
	}
	stamp, err := d.Stamp(cmd.Context(), o.moment.Line)
	if err != nil {
		return nil, err
	}
	return o.groupFigure(cmd, d, stamp)
}

// groupFigure makes a figure of groups, by coating if --by says nothing else.
func (o *resultsOptions) groupFigure(cmd *cobra.Command, d *desk.Desk, stamp study.Stamp) (figure, error) {
	by := ageing.By(o.by)
	if by == "" {
		by = ageing.ByCoating
	}
	curves, groups, err := d.ChangeCurves(cmd.Context(), by, o.options())
	if err != nil {
		return nil, err
	}
	if o.draw == drawMaterial {
		f, err := drawn.GroupsLeft(by, curves)
		if err == nil {
			f.Stamp = stamp
		}
		return f, err
	}
	f := drawn.Changes(by, d.Settings().Correction, curves, groups)
	f.Named, f.Stamp = o.named, stamp
	return f, nil
}
