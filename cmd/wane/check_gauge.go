package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/gauge"
)

const checkGaugeLong = `
--gauge says how far readings of coupons differ that did not change: it evaluates each complete
set of curves of --coupon by itself, and divides the scatter among repeats (repeatability),
placements in a session (placement), sessions (reproducibility) and, as a part of these,
operators, with 95 % intervals. Take
coupons that were set down several times in several sessions at one pull; --session chooses
sessions. Below stands the least change of solar_T that n coupons show, by the gauge alone.
Nothing is changed: wane help gauge-study says how a person states what was found.
`

// gaugeOptions are the flags of a gauge study.
type gaugeOptions struct{ asked bool }

func (o *gaugeOptions) bind(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&o.asked, "gauge", false,
		"repeatability, placement and reproducibility of coupons that were read again and again; needs --coupon")
}

// check refuses flags that do not go together.
func (o *gaugeOptions) check(cmd *cobra.Command, coupons []string) error {
	if !o.asked {
		return nil
	}
	for _, name := range []string{"placement", "standard", "flagged"} {
		if cmd.Flags().Changed(name) {
			return usagef("leave one of them out", "--%s and --gauge do not go together", name)
		}
	}
	if len(coupons) == 0 {
		return usagef("name it: wane check --gauge --coupon CODE", "--gauge needs a coupon that was read again and again")
	}
	return nil
}

// gaugeRow is a component of a quantity.
type gaugeRow struct {
	study     *desk.GaugeStudy
	of        *desk.GaugeQuantity
	name      string
	component gauge.Component
	stated    study.Num
}

// gaugeRows are the components of all quantities.
func gaugeRows(g *desk.GaugeStudy) (rows []gaugeRow) {
	for i := range g.Quantities {
		q := &g.Quantities[i]
		rows = append(rows, gaugeRow{g, q, gauge.Repeatability, q.Repeatability, study.Null()},
			gaugeRow{g, q, gauge.Placement, q.Placement, q.StatedWithin},
			gaugeRow{g, q, gauge.Reproducibility, q.Reproducibility, q.StatedSession},
			gaugeRow{g, q, gauge.Operator, q.Operator, study.Null()},
			gaugeRow{g, q, gauge.Total, q.Total, study.Null()})
	}
	return rows
}

// gaugeValue is a column of a number of a component.
func gaugeValue(name string, rank int, of func(*gaugeRow) float64) column[gaugeRow] {
	return valueColumn(name, func(r gaugeRow) any { return orNil(study.Num(of(&r))) }).
		Ranked(rank, "", func(r gaugeRow) string { return dash(threeDigits(study.Num(of(&r)))) })
}

// gaugeColumns are the columns of a gauge study.
var gaugeColumns = listing[gaugeRow]{
	valueColumn("quantity", func(r gaugeRow) any { return r.of.Name }).Ranked(1, "", nil),
	valueColumn("component", func(r gaugeRow) any { return r.name }).Ranked(1, "", nil),
	valueColumn("unit", func(r gaugeRow) any { return r.of.Unit }).Ranked(2, "", nil),
	gaugeValue("sd", 1, func(r *gaugeRow) float64 { return r.component.SD }),
	gaugeValue("lower", 1, func(r *gaugeRow) float64 { return r.component.Lower }),
	gaugeValue("upper", 1, func(r *gaugeRow) float64 { return r.component.Upper }),
	valueColumn("level", func(gaugeRow) any { return desk.GaugeLevel }),
	gaugeValue("df", 2, func(r *gaugeRow) float64 { return r.component.DoF }),
	valueColumn("groups", func(r gaugeRow) any { return r.component.Groups }).Ranked(3, "", nil),
	gaugeValue("stated", 2, func(r *gaugeRow) float64 { return float64(r.stated) }),
	valueColumn("n", func(r gaugeRow) any { return r.of.N }),
	valueColumn("things", func(r gaugeRow) any { return r.of.Things }),
	valueColumn("contains", func(r gaugeRow) any { return orEmpty(r.component.With) }).Ranked(3, "", nil).Folded(24),
	valueColumn("why", func(r gaugeRow) any { return orEmpty(r.component.Why) }).Ranked(2, "", nil).Folded(30),
}

func runGauge(cmd *cobra.Command, o *checkOptions) error {
	columns, err := gaugeColumns.Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		g, err := d.Gauge(cmd.Context(), desk.GaugeOptions{Coupons: o.placement.coupons, Sessions: o.filter.of.Sessions})
		if err != nil {
			return err
		}
		p := pageOf(cmd)
		people := o.list.format == "table" && len(o.list.named) == 0
		if people {
			if err := printLine(p, "%s", gaugeHead(g)); err != nil {
				return err
			}
		}
		out := openRows(columns, p, o.list.format)
		for _, r := range gaugeRows(g) {
			if err := out.write(r); err != nil {
				return err
			}
		}
		if err := out.end(); err != nil || !people {
			return err
		}
		return gaugeBelow(p, g)
	})
}

// gaugeHead says what the study is of.
func gaugeHead(g *desk.GaugeStudy) string {
	words := make([]string, len(g.Units))
	for i, u := range g.Units {
		words[i] = fmt.Sprintf("%s pull %d spot %s", study.Shown(u.Coupon), u.Pull, study.Shown(u.Spot))
	}
	return fmt.Sprintf("%s in %s: %s", count(g.Sets, "set")+" of curves", count(len(g.Sessions), "session"),
		strings.Join(words, "; "))
}

// gaugeBelow prints what stands below the table: what it means, the least detectable changes, and what a person can do.
func gaugeBelow(p page, g *desk.GaugeStudy) error {
	lines := []string{"standard deviations; lower and upper: 95 % interval; stated: by the uncertainties of the fits, " +
		"of placement and noise together, and of the session"}
	if g.Incomplete > 0 {
		lines = append(lines, fmt.Sprintf("skipped, since they lack a curve: %s", count(g.Incomplete, "placement")))
	}
	lines = append(lines, gaugeLimits(g)...)
	if err := writeLines(p, lines...); err != nil {
		return err
	}
	if err := detectableTable(p, g); err != nil {
		return err
	}
	if len(g.Remountings) == 0 {
		return writeLine(p, "no coupon was set down three times in a session, so nothing can be stated of the instrument")
	}
	if err := writeLine(p, "what can be stated of the instrument, and how: wane help gauge-study"); err != nil {
		return err
	}
	for _, s := range g.Remountings {
		if err := printLine(p, "  wane check --placement --coupon %s --session %s", quotedWord(s.Coupon),
			quotedWord(s.Session)); err != nil {
			return err
		}
	}
	return nil
}

// gaugeLimits says what the reproducibility does not contain, or contains too.
func gaugeLimits(g *desk.GaugeStudy) (lines []string) {
	if len(g.Sessions) < 2 {
		return nil
	}
	var operators, instruments []string
	for _, s := range g.Sessions {
		operators, instruments = addOnce(operators, s.Operator), addOnce(instruments, s.Instrument)
	}
	switch {
	case slices.Contains(operators, ""):
		lines = append(lines, "the operator of a session is not known: enrol the sessions, so that it is known whose "+
			"reproducibility this is")
	case len(operators) == 1:
		lines = append(lines, "all sessions are of one operator: what another would do is not in the reproducibility")
	}
	if len(instruments) > 1 {
		lines = append(lines, "the sessions are of several instruments: what lies between these is in the reproducibility")
	}
	return lines
}

// detectableTable lists the least detectable changes of solar_T.
func detectableTable(p page, g *desk.GaugeStudy) error {
	i := slices.IndexFunc(g.Quantities, func(q desk.GaugeQuantity) bool { return q.Name == "solar_T" })
	if i < 0 {
		return nil
	}
	if err := writeLine(p, "\nleast change of solar_T since the baseline that is seen with 80 % chance at 95 % "+
		"confidence, by the gauge alone:"); err != nil {
		return err
	}
	columns := foldedTable(p, "  ", "coupons", "with as many controls / pp", "without controls / pp")
	var whys []string
	for _, n := range []int{1, 2, 3, 6, 12} {
		cells := []string{fmt.Sprint(n)}
		for _, controls := range []int{n, 0} {
			d := g.Quantities[i].Detectable(n, controls, desk.GaugeLevel, desk.GaugePower)
			cells = append(cells, dash(threeDigits(study.Num(d.Least))))
			if d.Why != "" {
				whys = addOnce(whys, d.Why)
			}
		}
		if err := columns.row(cells...); err != nil {
			return err
		}
	}
	if err := columns.end(); err != nil {
		return err
	}
	if len(whys) > 0 {
		if err := writeLine(p, "  not known: "+strings.Join(whys, "; ")); err != nil {
			return err
		}
	}
	return writeLine(p, "  controls are read in the sessions of the coupons; each coupon once, now and at the "+
		"baseline; how far coupons differ comes on top")
}
