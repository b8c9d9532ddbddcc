package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const checkPlacementLong = `
--placement measures how much of the scatter is due to setting a coupon down: take one coupon
out and set it down again about ten times in one session, read all angles each time, and give
each time a mounting of its own in the map, and a replicate too. Without mountings each
replicate of the series is taken for one. For each spot it estimates u_place (factor of
each curve), u_tilt (degrees, common to all angles) and u_place_zero (added to all curves), with
95 % intervals by profile likelihood. A blank determines u_place best, a coated coupon u_tilt.
It proposes values for the instrument and changes nothing: a value that is not distinguished
from 0 is not proposed.
`

// placementOptions are the flags of a check of placements.
type placementOptions struct {
	asked   bool
	coupons []string
}

func (o *placementOptions) bind(cmd *cobra.Command, in *studyOptions) {
	cmd.Flags().BoolVar(&o.asked, "placement", false,
		"estimate the scatter between placements of one coupon in one session; needs --coupon and --session")
	cmd.Flags().StringArrayVar(&o.coupons, "coupon", nil,
		"with --placement or --gauge, the coupon that was set down again and again; repeatable with --gauge")
	in.completeFlag(cmd, "coupon", func(c *desk.Codes) []string { return c.Coupons })
}

// check refuses flags that do not go together.
func (o *placementOptions) check(cmd *cobra.Command, sessions []string) error {
	flags := cmd.Flags()
	if !o.asked {
		if flags.Changed("coupon") && !flags.Changed("gauge") {
			return usagef("add --placement or --gauge, or leave --coupon out", "--coupon belongs to --placement and --gauge")
		}
		return nil
	}
	for _, name := range []string{"standard", "flagged"} {
		if flags.Changed(name) {
			return usagef("leave one of them out", "--%s and --placement do not go together", name)
		}
	}
	if len(o.coupons) != 1 || o.coupons[0] == "" || len(sessions) != 1 {
		return usagef("name them: wane check --placement --coupon CODE --session NAME",
			"--placement needs one coupon and one session")
	}
	return nil
}

// placementRow is one estimate of a series.
type placementRow struct {
	series   *desk.PlacementSeries
	estimate *desk.PriorEstimate
}

// seriesColumn is a column of what is known of a series.
func seriesColumn(name string, of func(*desk.PlacementSeries) any) column[placementRow] {
	return valueColumn(name, func(r placementRow) any { return of(r.series) })
}

// estimateColumn is a column of an estimate.
func estimateColumn(name string, of func(*desk.PriorEstimate) any) column[placementRow] {
	return valueColumn(name, func(r placementRow) any { return of(r.estimate) })
}

// estimateCell is a number of an estimate with three digits.
func estimateCell(of func(*desk.PriorEstimate) study.Num) func(placementRow) string {
	return func(r placementRow) string { return dash(threeDigits(of(r.estimate))) }
}

// placementColumns are the columns of a check of placements.
var placementColumns = listing[placementRow]{
	seriesColumn("coupon", func(s *desk.PlacementSeries) any { return s.Coupon }),
	seriesColumn("pull", func(s *desk.PlacementSeries) any { return s.Pull }),
	seriesColumn("spot", func(s *desk.PlacementSeries) any { return s.Spot }),
	seriesColumn("condition", func(s *desk.PlacementSeries) any { return orEmpty(s.Condition) }),
	seriesColumn("session", func(s *desk.PlacementSeries) any { return s.Session.Session }),
	seriesColumn("instrument", func(s *desk.PlacementSeries) any { return orEmpty(s.Session.Instrument) }),
	seriesColumn("placements", func(s *desk.PlacementSeries) any { return len(s.Numbers) }),
	seriesColumn("left_out", func(s *desk.PlacementSeries) any { return len(s.LeftOut) }),
	seriesColumn("noise_factor", func(s *desk.PlacementSeries) any { return s.NoiseFactor }),
	estimateColumn("quantity", func(e *desk.PriorEstimate) any { return e.Name }).Ranked(1, "", nil),
	estimateColumn("unit", func(e *desk.PriorEstimate) any { return e.Unit }).Ranked(2, "", nil),
	estimateColumn("n", func(e *desk.PriorEstimate) any { return e.N }).Ranked(3, "", nil),
	estimateColumn("value", func(e *desk.PriorEstimate) any { return orNil(e.Value) }).
		Ranked(1, "", estimateCell(func(e *desk.PriorEstimate) study.Num { return e.Value })),
	estimateColumn("lower", func(e *desk.PriorEstimate) any { return orNil(e.Lower) }).
		Ranked(1, "", estimateCell(func(e *desk.PriorEstimate) study.Num { return e.Lower })),
	estimateColumn("upper", func(e *desk.PriorEstimate) any { return orNil(e.Upper) }).
		Ranked(1, "", estimateCell(func(e *desk.PriorEstimate) study.Num { return e.Upper })),
	estimateColumn("level", func(*desk.PriorEstimate) any { return desk.PlacementLevel }),
	estimateColumn("proposed", func(e *desk.PriorEstimate) any { return orNil(e.Proposed) }).
		Ranked(1, "", estimateCell(func(e *desk.PriorEstimate) study.Num { return e.Proposed })),
	estimateColumn("why", func(e *desk.PriorEstimate) any { return e.Why }).Ranked(2, "", nil).Folded(30),
}

// threeDigits is a number with three significant digits and no exponent; empty if there is none.
func threeDigits(n study.Num) string {
	if !n.Valid() {
		return ""
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(float64(n), 'g', 3, 64), 64)
	if err != nil || math.IsInf(rounded, 0) {
		rounded = float64(n)
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

func runPlacement(cmd *cobra.Command, o *checkOptions) error {
	columns, err := placementColumns.Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		all, err := d.Placement(cmd.Context(), desk.PlacementOptions{
			Coupon: o.placement.coupons[0], Session: o.filter.of.Sessions[0],
		})
		if err != nil {
			return err
		}
		if o.list.format == "table" && len(o.list.named) == 0 {
			return placementTables(pageOf(cmd), columns, all)
		}
		out := openRows(columns, pageOf(cmd), o.list.format)
		for i := range all {
			if err := writeEstimates(out, &all[i]); err != nil {
				return err
			}
		}
		return out.end()
	})
}

func writeEstimates(out *rowsOf[placementRow], s *desk.PlacementSeries) error {
	for k := range s.Estimates {
		if err := out.write(placementRow{s, &s.Estimates[k]}); err != nil {
			return err
		}
	}
	return nil
}

// placementTables is the listing for people: a table for each series, and what is proposed.
func placementTables(p page, columns listing[placementRow], all []desk.PlacementSeries) error {
	for i := range all {
		s := &all[i]
		on := ""
		if s.Session.Instrument != "" {
			on = " on " + s.Session.Instrument
		}
		if err := printLine(p, "coupon %s, pull %d, spot %s: %d placements in session %s%s, at %s degrees", s.Coupon, s.Pull,
			s.Spot, len(s.Numbers), s.Session.Session, on, numbersInWords(s.AnglesDeg)); err != nil {
			return err
		}
		out := openRows(columns, p, "table")
		if err := writeEstimates(out, s); err != nil {
			return err
		}
		if err := out.end(); err != nil {
			return err
		}
		for _, line := range placementRemarks(s) {
			if err := printLine(p, "%s", line); err != nil {
				return err
			}
		}
	}
	return nil
}

// muchNoise is what the variance of the noise is multiplied by where a remark says so.
const muchNoise = 2

// placementRemarks are the lines below the table of a series, what is proposed at their end.
func placementRemarks(s *desk.PlacementSeries) []string {
	lines := []string{"standard uncertainties; lower and upper: 95 % interval; n: placements, for u_zero sessions"}
	if n := len(s.LeftOut); n > 0 {
		lines = append(lines, fmt.Sprintf("skipped, since they lack a curve: %s", count(n, "placement")))
	}
	if s.NoiseFactor > muchNoise {
		lines = append(lines, fmt.Sprintf("the curves differ by more than noise, factor, tilt and zero: the variance of "+
			"the noise was multiplied by %.1f", s.NoiseFactor))
	}
	if s.Session.Instrument == "" {
		return append(lines, "the session is not enrolled, so nothing is proposed for an instrument")
	}
	names, values := []string{"instrument"}, []string{study.SheetText(s.Session.Instrument)}
	for i := range s.Estimates {
		if e := &s.Estimates[i]; e.Proposed.Valid() {
			names, values = append(names, e.Name), append(values, threeDigits(e.Proposed))
		}
	}
	if len(names) == 1 {
		return append(lines, "nothing is proposed: set the coupon down more often")
	}
	return append(lines,
		"proposed for the table of instruments; write these columns into a copy of its row, under another name:", "",
		"  "+strings.Join(names, ","),
		"  "+strings.Join(values, ","), "",
		"or, if they hold for all sessions of the instrument, write these two lines into instruments.csv and correct its "+
			"row:", "",
		"  wane amend instruments.csv --why 'placements of "+study.Shown(s.Coupon)+" in "+study.Shown(s.Session.Session)+
			"' --preview")
}

// numbersInWords lists numbers.
func numbersInWords(numbers []float64) string {
	words := make([]string, len(numbers))
	for i, v := range numbers {
		words[i] = strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strings.Join(words, ", ")
}
