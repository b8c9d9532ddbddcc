package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
)

const resultsLong = `List one row for each coupon, pull and spot, sorted so: state, solar values, changes
against pull 0, and what is left of the film. JSON and CSV carry every column.

With --by, list groups of exposed coupons at each pull instead: the number of
coupons, their mean corrected change with its 95 % interval (the coupon is the
unit; its spots are averaged), the spread between coupons, the mean gain kept and
material left, and how many spots are in each state. --figure draws their change
against dose: coupons faint, the groups' means with their intervals.

With --joint, all pulls of each spot are fitted together, now: glass and coating are
the same through its life, the film is another at each pull, and the changes come
from that fit. Nothing is stored.

With --independent, the thicknesses that wane measure took in stand beside the fitted
ones, with fitted minus independent and its uncertainty. A spot that was measured by
several methods has several rows; one that was not measured itself is compared with
its coupon as a whole.
` + exitCodes

type resultsOptions struct {
	study  studyOptions
	format string
	by     string
	figure string
	joint  bool
	beside bool
}

func (o *resultsOptions) options() desk.ResultsOptions { return desk.ResultsOptions{Joint: o.joint} }

func newResultsCommand() *cobra.Command {
	o := &resultsOptions{}
	cmd := &cobra.Command{
		Use: "results", Short: "one row per coupon, spot and pull, or per group", Long: resultsLong,
		Example: "  wane results\n  wane results --by coating\n  wane results --format csv > results.csv",
		Args:    exactly(0, "wane results lists the whole study"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runResults(cmd, o) },
	}
	o.study.bind(cmd)
	bindFormat(cmd, &o.format)
	cmd.Flags().StringVar(&o.by, "by", "", "list groups: coating, lot, supplier or exposure")
	cmd.Flags().BoolVar(&o.joint, "joint", false, "fit all pulls of each spot together, and take values and changes from that")
	cmd.Flags().BoolVar(&o.beside, "independent", false, "add thicknesses by other methods, and fitted minus independent")
	cmd.Flags().StringVar(&o.figure, "figure", "", "draw change against dose into this file, .svg or .png (by coating, unless --by says otherwise)")
	completeWords(cmd, map[string][]string{"by": groupings()})
	return cmd
}

func groupings() []string {
	var words []string
	for _, by := range ageing.Groupings() {
		words = append(words, string(by))
	}
	return words
}

func runResults(cmd *cobra.Command, o *resultsOptions) error {
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	if o.by != "" {
		if err := oneOf("by", o.by, groupings()); err != nil {
			return err
		}
	}
	if o.by != "" && o.beside {
		return usagef("leave one of them out", "--independent compares spots, which --by puts into groups")
	}
	if err := checkFigure(o.figure); err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		w := cmd.OutOrStdout()
		if o.figure != "" {
			if err := drawChanges(cmd, d, o); err != nil {
				return err
			}
		}
		switch {
		case o.by != "":
			return groups(cmd, d, w, o)
		case o.beside:
			return resultsBeside(cmd, d, w, o)
		case o.format == "table":
			return resultTable(cmd, d, w, o)
		}
		out := newRowWriter(w, o.format)
		if err := d.Results(cmd.Context(), o.options(), out.write); err != nil {
			return err
		}
		return out.end()
	})
}

// resultTable is the listing for people: the columns most looked at.
func resultTable(cmd *cobra.Command, d *desk.Desk, w io.Writer, o *resultsOptions) error {
	out := newColumnWriter(w, "coupon", "role", "coating", "pull", "spot", "condition", "state", "solar T / %", "change / pp", "corrected / pp",
		"thickness / nm", "porosity", "bare", "flags")
	n := 0
	err := d.Results(cmd.Context(), o.options(), func(r *study.Result) error {
		n++
		return out.row(r.Coupon, r.Role, dash(r.Coating), strconv.Itoa(int(r.Pull)), r.Spot, dash(r.Condition), dash(string(r.State)),
			plusMinus(r.SolarT, 100, ""), plusMinus(r.Change, 1, ""), plusMinus(r.CorrectedChange, 1, ""),
			plusMinus(r.Thickness, 1, ""), plusMinus(r.Porosity, 1, ""), plusMinus(r.BareFraction, 1, ""), strings.Join(r.Flags, " "))
	})
	if err != nil {
		return err
	}
	if err := out.flush(); err != nil {
		return err
	}
	last := "values ± U (k=2)"
	if n == 0 {
		last = "no results yet: take exports in and run wane fit"
	}
	_, err = fmt.Fprintln(w, last)
	return err
}

func dash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// groupStates are the states in the order of the table.
var groupStates = []study.State{study.Full, study.Thinned, study.Patchy, study.Stripped, study.Unclear}

func groups(cmd *cobra.Command, d *desk.Desk, w io.Writer, o *resultsOptions) error {
	by, format := ageing.By(o.by), o.format
	rows, err := d.Groups(cmd.Context(), by, o.options())
	if err != nil {
		return err
	}
	if format == "table" {
		return groupTable(w, by, rows)
	}
	columns := []string{string(by), "exposure", "condition", "pull", "dose", "dose_unit", "coupons", "coupons_with_change", "change_kind", "mean_change_pp", "lo95_change_pp", "hi95_change_pp",
		"sd_between_coupons_pp", "mean_gain_kept", "mean_solid_nm"}
	if by == ageing.ByExposure {
		columns[0] = "group"
	}
	for _, s := range groupStates {
		columns = append(columns, "spots_"+string(s))
	}
	columns = append(columns, "spots_without_state", "spots_session_not_trusted", "spots_baseline_not_trusted")
	out := newRecords(w, format, columns)
	for _, r := range rows {
		cells := []any{r.Group, r.Exposure, orEmpty(r.Condition), r.Pull, orNil(r.Dose), r.DoseUnit, r.Coupons, r.Changed, r.Changes, orNil(r.Change), orNil(r.Lo), orNil(r.Hi),
			orNil(r.Spread), orNil(r.GainKept), orNil(r.Solid)}
		for _, s := range groupStates {
			cells = append(cells, r.States[s])
		}
		cells = append(cells, r.States[""], r.Suspect, r.SuspectBase)
		if err := out.write(cells...); err != nil {
			return err
		}
	}
	return out.end()
}

func orNil(n study.Num) any {
	if !n.Valid() {
		return nil
	}
	return float64(n) + 0 // a zero without a sign
}

func orEmpty(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func groupTable(w io.Writer, by ageing.By, rows []ageing.Group) error {
	out := newColumnWriter(w, string(by), "exposure", "condition", "pull", "dose", "coupons", "mean change / pp", "95 % interval", "spread", "gain kept",
		"material left / nm", "spots", "not trusted", "pull 0 not trusted")
	for _, r := range rows {
		dose, interval := "-", "-"
		if r.Dose.Valid() {
			dose = fmt.Sprintf("%g %s", float64(r.Dose), r.DoseUnit)
		}
		if r.Lo.Valid() {
			interval = fmt.Sprintf("%s to %s", decimal(r.Lo, 3), decimal(r.Hi, 3))
		}
		err := out.row(r.Group, r.Exposure, dash(r.Condition), strconv.Itoa(r.Pull), dose, couponCount(&r), decimal(r.Change, 3), interval,
			decimal(r.Spread, 3), decimal(r.GainKept, 3), decimal(r.Solid, 1), stateCounts(r.States), strconv.Itoa(r.Suspect), strconv.Itoa(r.SuspectBase))
		if err != nil {
			return err
		}
	}
	if err := out.flush(); err != nil {
		return err
	}
	if len(rows) == 0 {
		_, err := fmt.Fprintln(w, "no exposed coupon has results yet: take exports in and run wane fit")
		return err
	}
	if said := notTrusted(rows); said != "" {
		_, err := fmt.Fprintln(w, said)
		return err
	}
	return nil
}

// notTrusted says how many rows of groups, a row a spot and pull, were read in sessions that
// are not to be trusted, and how many are compared with a pull 0 that was; nothing if none.
func notTrusted(groups []ageing.Group) string {
	now, then, all := 0, 0, 0
	for i := range groups {
		g := &groups[i]
		now, then, all = now+g.Suspect, then+g.SuspectBase, all+g.Spots
	}
	var said string
	switch {
	case now+then == 0:
		return ""
	case then == 0:
		said = fmt.Sprintf("%d of %d rows were read in sessions that are not to be trusted", now, all)
	case now == 0:
		said = fmt.Sprintf("the change of %d of %d rows is from a pull 0 that was read in a session that is not to be trusted", then, all)
	default:
		said = fmt.Sprintf("%d of %d rows were read in sessions that are not to be trusted, and the change of %d is from a pull 0 that was read in one", now, all, then)
	}
	return said + "; wane check says why"
}

// couponCount says how many coupons there are, and of how many of them a change is
// known if not of all.
func couponCount(g *ageing.Group) string {
	if g.Changed == g.Coupons {
		return strconv.Itoa(g.Coupons)
	}
	return fmt.Sprintf("%d of %d", g.Changed, g.Coupons)
}

// stateCounts says how many spots are in each state.
func stateCounts(states map[study.State]int) string {
	var words []string
	for _, s := range slices.Concat(groupStates, []study.State{""}) {
		if n := states[s]; n > 0 {
			words = append(words, fmt.Sprintf("%d %s", n, dash(string(s))))
		}
	}
	return strings.Join(words, ", ")
}
