package main

import (
	"fmt"
	"io"
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
}

func (o *uncertaintyOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.intervals, "intervals", "", "show intervals, found by: "+strings.Join(evaluate.IntervalMethods(), ", "))
	f.Float64Var(&o.level, "level", 0.95, "level of --intervals")
	f.BoolVar(&o.budget, "budget", false, "show where the uncertainty comes from, term by term")
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
	for name, on := range map[string]bool{"--ladder": o.method.ladder, "--intervals": o.more.intervals != "", "--budget": o.more.budget} {
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
		return budgetTable(w, v, rows)
	}
	return nil
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

func budgetTable(w io.Writer, v *film.Verdict, rows []film.BudgetRow) error {
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
