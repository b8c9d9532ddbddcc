package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
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
		Long: statusLong + columnsHelp(statusColumns) + exitCodes,
		Example: "  wane status\n  wane status --coating K --pull 1-3\n  wane status --flagged=missed,overdue --format csv\n" +
			"  wane status --as-of 2031-03-23",
		Args: exactly(0, "wane status shows the whole study; --coupon, --coating and --pull narrow it"),
		RunE: func(cmd *cobra.Command, args []string) error { return runStatus(cmd, o) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, statusColumns)
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

// statusColumns are the columns of status. Outside programs rely on names and order.
var statusColumns = listing[*desk.CouponPull]{
	valueColumn("coupon", func(r *desk.CouponPull) any { return r.Coupon }).Ranked(1, "", nil),
	valueColumn("role", func(r *desk.CouponPull) any { return string(r.Role) }),
	valueColumn("coating", func(r *desk.CouponPull) any { return orEmpty(r.Coating) }).Ranked(4, "", nil),
	valueColumn("exposure", func(r *desk.CouponPull) any { return orEmpty(r.Exposure) }).Ranked(5, "", nil),
	valueColumn("pull", func(r *desk.CouponPull) any { return r.Pull }).Ranked(1, "", nil),
	valueColumn("dose", func(r *desk.CouponPull) any { return orNil(r.Dose) }),
	valueColumn("dose_unit", func(r *desk.CouponPull) any { return orEmpty(r.DoseUnit) }),
	valueColumn("date", func(r *desk.CouponPull) any { return orEmpty(r.Date) }),
	valueColumn("spots_read", func(r *desk.CouponPull) any { return r.SpotsRead }),
	valueColumn("spots_expected", func(r *desk.CouponPull) any {
		if r.SpotsExpected == 0 {
			return nil
		}
		return r.SpotsExpected
	}),
	valueColumn("angles_read", func(r *desk.CouponPull) any { return r.AnglesRead }),
	valueColumn("held", func(r *desk.CouponPull) any { return r.Held }),
	valueColumn("aside", func(r *desk.CouponPull) any { return r.Aside }),
	valueColumn("fits", func(r *desk.CouponPull) any { return r.Fits }),
	valueColumn("stale", func(r *desk.CouponPull) any { return r.Stale }),
	valueColumn("ended", func(r *desk.CouponPull) any { return orEmpty(r.Ended) }),
	valueColumn("attention", func(r *desk.CouponPull) any { return append([]string{}, r.Attention...) }).
		Ranked(1, "", nil).Folded(24),
	valueColumn("state", func(r *desk.CouponPull) any { return string(r.State) }).Ranked(1, "", nil),
}

func runStatus(cmd *cobra.Command, o *statusOptions) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	columns, err := statusColumns.Choose(o.list.format, o.list.named)
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
	switch coupons := countCoupons(s.Rows); {
	case coupons == 0:
	case coupons <= mostInMatrix:
		err = statusMatrix(p, s.Rows)
	default:
		err = statusGroups(p, s.Rows)
	}
	if err != nil {
		return err
	}
	groups := groupTasks(s.Tasks)
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
		if err := writeWrapped(p, "  ", groups[i].words()); err != nil {
			return err
		}
	}
	if err := statusRules(p, s.Rules); err != nil {
		return err
	}
	next, why := nextVerb(s)
	line := fmt.Sprintf("next: %s (%s)", next, why)
	if len(s.Rows)+len(groups) > 0 {
		line = "\n" + line
	}
	return writeLine(p, line)
}

// statusRules prints the verdicts that were issued and are others now, and the rules that are after the fact.
func statusRules(p page, rules []desk.RuleState) error {
	var lines []string
	for i := range rules {
		s := &rules[i]
		if s.AfterTheFact {
			lines = append(lines, fmt.Sprintf("rule %s is after the fact: it is younger than the first exposed reading", s.Name))
		}
		for k := range s.Now {
			if changed := s.Now[k].Changed(); changed != "" {
				lines = append(lines, fmt.Sprintf("rule %s, %s: %s: wane rule judge %s", s.Name, s.Now[k].Group, changed, s.Name))
			}
		}
	}
	if len(lines) > 0 {
		lines = append([]string{"\nrules:"}, lines...)
	}
	for i, line := range lines {
		if i == 0 {
			if err := writeLine(p, line); err != nil {
				return err
			}
			continue
		}
		if err := writeWrapped(p, "  ", line); err != nil {
			return err
		}
	}
	return nil
}

// mostTasksShown is how many lines of what needs attention status shows.
const mostTasksShown = 10

func countCoupons(rows []desk.CouponPull) (n int) {
	for i := range rows {
		if i == 0 || rows[i].Coupon != rows[i-1].Coupon {
			n++
		}
	}
	return n
}

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
			cells[3+slices.Index(pulls, rows[from].Pull)] = pullWords(&rows[from])
		}
		if err := out.row(cells...); err != nil {
			return err
		}
	}
	return out.end()
}

// pullWords are a cell of the matrix.
func pullWords(r *desk.CouponPull) string {
	words := string(r.State)
	switch r.State {
	case desk.PullPlanned:
		words = "."
	case desk.PullEnded:
		words = r.Ended
	case desk.PullPartly:
		if r.SpotsRead < r.SpotsExpected {
			words = fmt.Sprintf("%d of %d spots", r.SpotsRead, r.SpotsExpected)
		} else {
			words = "angles missing"
		}
	}
	if r.Held > 0 {
		words += fmt.Sprintf(", %d held", r.Held)
	}
	if r.Unfitted > 0 {
		words += ", not fitted"
	}
	if r.Stale > 0 {
		words += ", stale"
	}
	return words
}

// statusGroup counts the coupons of an exposure at a pull.
type statusGroup struct {
	exposure, date     string
	pull, coupons      int
	states             map[desk.PullState]int
	held, stale, unfit int
	missing            []string // codes of coupons that are not read as expected
}

// statusGroups prints a row for each exposure and pull.
func statusGroups(p page, rows []desk.CouponPull) error {
	heads := []tableColumn{{name: "exposure", rank: 1}, {name: "pull", rank: 1}, {name: "date", rank: 4},
		{name: "coupons", rank: 2}, {name: "read", rank: 1}, {name: "partly", rank: 1}, {name: "missing", rank: 1},
		{name: "missed", rank: 1}, {name: "planned", rank: 3}, {name: "ended", rank: 3}, {name: "held", rank: 2},
		{name: "to fit", rank: 2}, {name: "which are missing", rank: 5, fold: 24}}
	out := newTable(p, heads...)
	for _, g := range groupStatus(rows) {
		cells := []string{dash(g.exposure), fmt.Sprint(g.pull), dash(g.date), fmt.Sprint(g.coupons)}
		for _, state := range []desk.PullState{desk.PullRead, desk.PullPartly, desk.PullMissing, desk.PullMissed,
			desk.PullPlanned, desk.PullEnded} {
			cells = append(cells, orDash(g.states[state]))
		}
		cells = append(cells, orDash(g.held), orDash(g.stale+g.unfit), dash(firstOf(g.missing, mostNamed)))
		if err := out.row(cells...); err != nil {
			return err
		}
	}
	return out.end()
}

// mostNamed is how many coupons a line names.
const mostNamed = 6

func groupStatus(rows []desk.CouponPull) (groups []*statusGroup) {
	type key struct {
		exposure string
		pull     int
	}
	known := map[key]*statusGroup{}
	for i := range rows {
		r := &rows[i]
		g := known[key{r.Exposure, r.Pull}]
		if g == nil {
			g = &statusGroup{exposure: r.Exposure, pull: r.Pull, date: r.Date, states: map[desk.PullState]int{}}
			known[key{r.Exposure, r.Pull}] = g
			groups = append(groups, g)
		}
		g.coupons++
		g.states[r.State]++
		g.held, g.stale, g.unfit = g.held+r.Held, g.stale+r.Stale, g.unfit+r.Unfitted
		if r.State == desk.PullMissing || r.State == desk.PullPartly || r.State == desk.PullMissed {
			g.missing = append(g.missing, r.Coupon)
		}
	}
	slices.SortStableFunc(groups, func(a, b *statusGroup) int {
		if c := strings.Compare(a.exposure, b.exposure); c != 0 {
			return c
		}
		return a.pull - b.pull
	})
	return groups
}
