package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// checkCoupon reads the argument of results: the coupon whose history is wanted.
func (o *resultsOptions) checkCoupon(cmd *cobra.Command, args []string) error {
	if o.coupon = ""; len(args) == 0 {
		return nil
	}
	if len(args) > 1 {
		return usagef("name one: wane results "+quotedWord(args[0])+"; or several: wane results --coupon A --coupon B",
			"wane results shows the history of one coupon, not of %d", len(args))
	}
	if strings.TrimSpace(args[0]) == "" {
		return usagef("name a coupon, or leave the argument out to list all", "the coupon is empty")
	}
	for _, name := range []string{"coupon", "coating", "by", "routes", "soiling", "independent"} {
		if cmd.Flags().Changed(name) {
			return usagef(fmt.Sprintf("leave --%s out, or the coupon", name),
				"--%s is not for the history of one coupon", name)
		}
	}
	o.coupon = args[0]
	return nil
}

// history prints the history of the coupon on one screen.
func (o *resultsOptions) history(cmd *cobra.Command, d *desk.Desk) error {
	h, err := d.History(cmd.Context(), o.coupon, o.moment)
	if err != nil {
		return err
	}
	p := pageOf(cmd)
	for _, part := range []func() error{
		func() error { return writeWrapped(p, "", shown.CouponWords(h)) },
		func() error { return writeAllWrapped(p, "", shown.ProtocolLines(h)) },
		func() error { return writeAllWrapped(p, "  ", shown.LifeLines(h)) },
		func() error { return o.rowsOfHistory(p, h) },
		func() error { return writeLines(p, shown.ChangeLines(h)...) },
		func() error { return writeAllWrapped(p, "", shown.MeasuredLines(h)) },
		func() error { return writeAllWrapped(p, "", shown.JudgedLines(h)) },
		func() error { return writeAllWrapped(p, "", shown.CorrectedLines(h)) },
	} {
		if err := part(); err != nil {
			return err
		}
	}
	return nil
}

// writeAllWrapped is writeWrapped for each of several texts.
func writeAllWrapped(p page, indent string, lines []string) error {
	for _, line := range lines {
		if err := writeWrapped(p, indent, line); err != nil {
			return err
		}
	}
	return nil
}

// writeWrapped writes a text in lines of the page, each begun with indent; those after the first have two
// spaces more.
func writeWrapped(p page, indent, words string) error {
	lines := []string{study.OneLine(words)}
	if p.width > 0 {
		lines = strings.Split(wrapped(lines[0], max(p.width-len(indent)-2, leastFolded)), "\n")
	}
	for i, line := range lines {
		if i > 0 {
			line = "  " + line
		}
		if err := writeLine(p, indent+line); err != nil {
			return err
		}
	}
	return nil
}

// rowsOfHistory lists the rows of results, and the pulls that have none.
func (o *resultsOptions) rowsOfHistory(p page, h *desk.History) error {
	out := openRows(shown.History(), p, "table")
	out.table.remedy = "see them in a wider terminal or with --format csv"
	keep, lossless := o.options().Keep, false
	for _, r := range h.Rows {
		if keep == nil || keep(r) {
			lossless = lossless || r.IsLossless()
			if err := out.write(r); err != nil {
				return err
			}
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if len(h.Rows) > 0 {
		if err := writeLine(p, valuesWords(lossless)); err != nil {
			return err
		}
	}
	return writeLines(p, shown.GapLines(h)...)
}
