package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

const statusLong = `Show how the study stands: what is read, missing, held, stale and ended, coupons by pulls. Then
comes what needs attention, what is overdue for longest first, and the next useful command.

A table of up to 40 coupons has a row for each coupon and a column for each pull. A larger one
counts coupons by exposure and pull, and names those that are missing. --coupon, --coating,
--pull and --flagged (rows that need attention; --flagged=WORD,... one of these) choose rows.

Which spots and angles are expected: at pull 0 those that the coupon was read at, and those
that more than half of the coupons of its role were read at. At later pulls those of its pull
0. A spot counts as read in whatever condition; readings that are set aside do not count.

--as-of LINE or --as-of DAY shows what the study said after that line of the history, or at the
end of that day (UTC); that day then counts as today.
`

// mostInMatrix is how many coupons have a row of their own.
const mostInMatrix = 40

type statusOptions struct {
	study  studyOptions
	list   listOptions
	filter filterOptions
	asOf   asOfOptions
}

func newStatusCommand() *cobra.Command {
	o := &statusOptions{}
	o.filter.words = attentionWords
	cmd := &cobra.Command{
		Use: "status", Short: "what is read, missing, held and stale; what needs attention",
		Long: statusLong + columnsHelp(shown.Status()) + exitCodes,
		Example: "  wane status\n  wane status --coating K --pull 1-3\n  wane status --flagged=missed,overdue --format csv\n" +
			"  wane status --as-of 2031-03-23",
		Args: exactly(0, "wane status shows the whole study; --coupon, --coating and --pull narrow it"),
		RunE: func(cmd *cobra.Command, args []string) error { return runStatus(cmd, o) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Status())
	o.filter.bind(cmd, &o.study, "rows", "coupon", "pull", "coating", "flagged")
	cmd.Flags().Lookup("flagged").Usage = "only rows that need attention; --flagged=WORD,... one of these"
	o.asOf.bind(cmd)
	return cmd
}

// attentionWords are the words of attention, without what follows a colon.
func attentionWords() (words []string) {
	for _, w := range desk.AttentionWords() {
		words = append(words, strings.TrimSuffix(w.Word, ":"))
	}
	return words
}

func runStatus(cmd *cobra.Command, o *statusOptions) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	columns, err := shown.Status().Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		moment, err := o.asOf.moment(cmd.Context(), d)
		if err != nil {
			return err
		}
		if err := d.CheckCodes(cmd.Context(), o.filter.of, moment); err != nil {
			return err
		}
		sieve := study.NewSieve(o.filter.of)
		opt := desk.StatusOptions{AsOf: moment, Keep: func(r *desk.CouponPull) bool {
			return sieve.Keep(study.Row{Coupon: r.Coupon, Coating: r.Coating, Pull: int64(r.Pull), Flags: r.Attention})
		}}
		s, err := d.Status(cmd.Context(), opt)
		if err != nil {
			return err
		}
		if o.list.format != "table" || len(o.list.named) > 0 {
			out := openRows(columns, pageOf(cmd), o.list.format)
			for i := range s.Rows {
				if err := out.write(&s.Rows[i]); err != nil {
					return err
				}
			}
			if err := out.end(); err != nil {
				return err
			}
			return sayMissed(cmd.ErrOrStderr(), sieve)
		}
		if err := statusTables(pageOf(cmd), s); err != nil {
			return err
		}
		return sayMissed(cmd.ErrOrStderr(), sieve)
	})
}

// statusTables prints the coupons by pulls, what needs attention, and the next command.
func statusTables(p page, s *desk.Status) error {
	var err error
	switch coupons := shown.CountCoupons(s.Rows); {
	case coupons == 0:
	case coupons <= mostInMatrix:
		err = statusMatrix(p, s.Rows)
	default:
		err = statusGroups(p, s.Rows)
	}
	if err != nil {
		return err
	}
	groups := shown.GroupTasks(s.Tasks)
	for i := range groups {
		if i == 0 {
			if err := writeLine(p, "\nneeds attention on "+s.Day+":"); err != nil {
				return err
			}
		}
		if i == mostTasksShown {
			if err := writeLine(p, fmt.Sprintf("  and %d more: wane due", len(groups)-i)); err != nil {
				return err
			}
			break
		}
		if err := writeWrapped(p, "  ", groups[i].Words()); err != nil {
			return err
		}
	}
	if err := statusRules(p, s.Rules); err != nil {
		return err
	}
	next, why := shown.NextVerb(s)
	line := fmt.Sprintf("next: %s (%s)", next, why)
	if len(s.Rows)+len(groups) > 0 {
		line = "\n" + line
	}
	return writeLine(p, line)
}

// mostTasksShown is how many lines of what needs attention status shows.
const mostTasksShown = 10

// statusMatrix prints a row for each coupon and a column for each pull.
func statusMatrix(p page, rows []desk.CouponPull) error {
	var pulls []int
	for i := range rows {
		if !slices.Contains(pulls, rows[i].Pull) {
			pulls = append(pulls, rows[i].Pull)
		}
	}
	slices.Sort(pulls)
	columns := []tableColumn{{name: "coupon", rank: 1}, {name: "role", rank: 90}, {name: "exposure", rank: 91}}
	for k, pull := range pulls {
		columns = append(columns, tableColumn{name: fmt.Sprintf("pull %d", pull), rank: max(1, 80-k), fold: 2 * leastFolded})
	}
	out := newTable(p, columns...)
	out.remedy = "see them with --pull, in a wider terminal or with --format csv"
	for from := 0; from < len(rows); {
		cells := make([]string, len(columns))
		first := &rows[from]
		cells[0], cells[1], cells[2] = first.Coupon, string(first.Role), dash(first.Exposure)
		for k := 3; k < len(cells); k++ {
			cells[k] = "-"
		}
		for ; from < len(rows) && rows[from].Coupon == cells[0]; from++ {
			cells[3+slices.Index(pulls, rows[from].Pull)] = shown.PullWords(&rows[from])
		}
		if err := out.row(cells...); err != nil {
			return err
		}
	}
	return out.end()
}

// statusRules prints what is to be known of rules.
func statusRules(p page, rules []desk.RuleState) error {
	for i, line := range shown.RuleLines(rules) {
		if i == 0 {
			if err := writeLine(p, "\nrules:"); err != nil {
				return err
			}
		}
		if err := writeWrapped(p, "  ", line); err != nil {
			return err
		}
	}
	return nil
}

// statusGroups prints a row for each exposure and pull.
func statusGroups(p page, rows []desk.CouponPull) error {
	out := openRows(shown.StatusGroups(), p, "table")
	out.table.remedy = tableRemedy
	for _, g := range shown.GroupStatus(rows) {
		if err := out.write(g); err != nil {
			return err
		}
	}
	return out.end()
}
