package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
)

// uncertaintyOptions are the flags that look closer at the uncertainty of one spot.
type uncertaintyOptions struct {
	intervals        string
	level, poreWater float64
	budget           bool
	influence        bool
	levelGiven       bool
}

func (o *uncertaintyOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.intervals, "intervals", "", "show intervals, found by: "+strings.Join(evaluate.IntervalMethods(), ", "))
	f.Float64Var(&o.level, "level", 0.95, "level of --intervals")
	f.BoolVar(&o.budget, "budget", false, "show where the uncertainty comes from, term by term")
	f.BoolVar(&o.influence, "influence", false, "show which points the result hangs on: what leaving each out would change")
	f.Float64Var(&o.poreWater, "pore-water", 0, "share of the pores that a change of humidity may fill or empty, for --budget")
	completeWords(cmd, map[string][]string{"intervals": evaluate.IntervalMethods()})
}

func (o *uncertaintyOptions) check() error {
	if o.intervals != "" {
		if err := oneOf("intervals", o.intervals, evaluate.IntervalMethods()); err != nil {
			return err
		}
	}
	if !(o.level > 0 && o.level < 1) {
		return usagef("give for example --level 0.95", "--level %g is not between 0 and 1", o.level)
	}
	if o.levelGiven && o.intervals == "" {
		return usagef("ask for --intervals profile too, or leave --level out", "--level is that of --intervals, which is not given")
	}
	if !(o.poreWater >= 0 && o.poreWater <= 1) {
		return usagef("give a fraction, for example --pore-water 0.1", "--pore-water %g is no share of the pores", o.poreWater)
	}
	if o.poreWater > 0 && !o.budget {
		return usagef("ask for --budget too, or leave --pore-water out", "--pore-water is a term of --budget, which is not asked for")
	}
	return nil
}

// sections are the tables that are shown instead of the row of results, to programs, or
// after it, to people.
func (o *quickOptions) sections() (names []string) {
	for name, on := range map[string]bool{"--ladder": o.method.ladder, "--intervals": o.more.intervals != "", "--budget": o.more.budget, "--influence": o.more.influence} {
		if on {
			names = append(names, name)
		}
	}
	return names
}

// printSections shows the tables asked for.
func (o *quickOptions) printSections(cmd *cobra.Command, e *evaluate.Evaluator, v *film.Verdict) error {
	w, table := cmd.OutOrStdout(), o.format == "table"
	if o.method.ladder {
		limit, err := v.DetectionLimit(cmd.Context())
		if err != nil {
			return err
		}
		if !table {
			return ladderRows(w, o.format, v, limit)
		}
		if err := ladderTable(w, v, limit); err != nil {
			return err
		}
	}
	if o.more.intervals != "" {
		rows, err := e.Intervals(cmd.Context(), v, o.more.intervals, o.more.level)
		if err != nil {
			return err
		}
		if !table {
			return intervalRows(w, o.format, o.more.intervals, o.more.level, rows)
		}
		if err := intervalTable(w, o.more.intervals, o.more.level, rows); err != nil {
			return err
		}
	}
	if o.more.budget {
		rows, err := e.Budget(cmd.Context(), v, nil, film.Budget{Seed: 1, PoreWater: o.more.poreWater})
		if err != nil {
			return err
		}
		if !table {
			return budgetRows(w, o.format, rows)
		}
		if err := budgetTable(w, rows); err != nil {
			return err
		}
	}
	if !o.more.influence {
		return nil
	}
	curves, err := e.Influence(cmd.Context(), v)
	if err != nil {
		return err
	}
	if !table {
		return influenceRows(w, o.format, curves)
	}
	return influenceTable(w, curves)
}

func intervalRows(w io.Writer, format, method string, level float64, rows []evaluate.Interval) error {
	out := newRecords(w, format, []string{"quantity", "unit", "method", "level", "value", "lower", "upper", "lower_open", "upper_open", "fault"})
	for _, r := range rows {
		if err := out.write(r.Name, r.Unit, method, level, orNil(r.Value), orNil(r.Lower), orNil(r.Upper), r.LowerOpen, r.UpperOpen, orEmpty(r.Fault)); err != nil {
			return err
		}
	}
	return out.end()
}

func intervalTable(w io.Writer, method string, level float64, rows []evaluate.Interval) error {
	how := map[string]string{evaluate.ByProfile: "by the profile of the likelihood", evaluate.ByResiduals: "by 1,000 fits to runs of the residuals",
		evaluate.ByParametric: "by 1,000 fits to normal errors"}[method]
	fmt.Fprintf(w, "\n  %g %% intervals, %s\n", 100*level, how)
	out := newColumnWriter(w, "    quantity", "value", "from", "to", "")
	for _, r := range rows {
		if !r.Value.Valid() {
			continue
		}
		cells := []string{"    " + r.Name}
		for _, n := range []study.Num{r.Value, r.Lower, r.Upper} {
			cells = append(cells, figures(n))
		}
		if err := out.row(append(cells, openEnds(&r))...); err != nil {
			return err
		}
	}
	return out.flush()
}

func openEnds(r *evaluate.Interval) string {
	switch {
	case r.Fault != "":
		return "could not be found: " + r.Fault
	case !r.Lower.Valid() && !r.Upper.Valid() && !r.LowerOpen && !r.UpperOpen:
		return "pinned, or not free in this model"
	case r.LowerOpen && r.UpperOpen:
		return "not determined"
	case r.LowerOpen:
		return "one-sided: nothing speaks against the lower end"
	case r.UpperOpen:
		return "one-sided: nothing speaks against the upper end"
	}
	return ""
}

// figures writes a number with six significant digits; "-" if there is none.
func figures(n study.Num) string {
	if !n.Valid() {
		return "-"
	}
	return fmt.Sprintf("%.6g", float64(n))
}

var budgetColumns = []string{"term", "size", "unit", "u_thickness_nm", "u_solar_T_pp"}

func budgetRows(w io.Writer, format string, rows []film.BudgetRow) error {
	out := newRecords(w, format, budgetColumns)
	for _, r := range rows {
		if err := out.write(r.Term, orNil(study.Num(r.Size)), r.Unit, orNil(study.Num(r.ThicknessNM)), orNil(study.Num(r.SolarPP))); err != nil {
			return err
		}
	}
	return out.end()
}

func budgetTable(w io.Writer, rows []film.BudgetRow) error {
	fmt.Fprintln(w, "\n  uncertainty budget, standard uncertainties by Monte Carlo: each term drawn, the spot fitted anew")
	out := newColumnWriter(w, "    term", "size", "thickness / nm", "solar transmittance / pp")
	for _, r := range rows {
		size := "-"
		if n := study.Num(r.Size); n.Valid() {
			size = fmt.Sprintf("%.3g %s", r.Size, r.Unit)
		}
		if err := out.row("    "+r.Term, size, places(r.ThicknessNM, 3), places(r.SolarPP, 4)); err != nil {
			return err
		}
	}
	return out.flush()
}

// places writes a number with so many decimals; "-" if there is none.
func places(v float64, n int) string {
	if !study.Num(v).Valid() {
		return "-"
	}
	return fmt.Sprintf("%.*f", n, v)
}

var influenceColumns = []string{"curve", "angle_deg", "nm", "leverage", "studentised_residual", "cook_distance",
	"shift_thickness_nm", "shift_bare_fraction", "shift_solar_T_pp"}

// influenceRows prints every point; the shifts are what leaving it out would do.
func influenceRows(w io.Writer, format string, curves []film.CurveInfluence) error {
	out := newRecords(w, format, influenceColumns)
	for k := range curves {
		for i := range curves[k].NM {
			if err := out.write(influenceCells(curves, k, i)...); err != nil {
				return err
			}
		}
	}
	return out.end()
}

func influenceCells(curves []film.CurveInfluence, k, i int) []any {
	c := &curves[k]
	cells := []any{k + 1, c.AngleDeg, c.NM[i]}
	for _, v := range [][]float64{c.Leverage, c.Studentised, c.Cook, c.ThicknessNM, c.Bare} {
		cells = append(cells, orNil(study.Num(v[i])))
	}
	return append(cells, orNil(study.Num(-100*c.Mean[i])))
}

// mostInfluential is how many points are shown to a person.
const mostInfluential = 8

// influenceTable prints the points on which most hangs.
func influenceTable(w io.Writer, curves []film.CurveInfluence) error {
	type point struct{ k, i int }
	var points []point
	for k := range curves {
		for i := range curves[k].NM {
			points = append(points, point{k, i})
		}
	}
	slices.SortStableFunc(points, func(a, b point) int { return cmp.Compare(curves[b.k].Cook[b.i], curves[a.k].Cook[a.i]) })
	fmt.Fprintf(w, "\n  the points on which most hangs, of %d, and what leaving each out would change\n", len(points))
	out := newColumnWriter(w, "    curve", "nm", "leverage", "studentised residual", "Cook's distance", "thickness / nm", "bare fraction", "solar T / pp")
	for _, p := range points[:min(mostInfluential, len(points))] {
		c := &curves[p.k]
		if err := out.row(fmt.Sprintf("    %d, %g deg", p.k+1, c.AngleDeg), fmt.Sprintf("%g", c.NM[p.i]), places(c.Leverage[p.i], 4), places(c.Studentised[p.i], 2),
			places(c.Cook[p.i], 4), places(c.ThicknessNM[p.i], 4), places(c.Bare[p.i], 5), places(-100*c.Mean[p.i], 5)); err != nil {
			return err
		}
	}
	return out.flush()
}
