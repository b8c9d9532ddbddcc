package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// bindUncertainty binds the flags that look closer at the uncertainty of one spot.
func bindUncertainty(cmd *cobra.Command, of *desk.QuickOptions) {
	f := cmd.Flags()
	f.StringVar(&of.Intervals, "intervals", "",
		"show intervals, computed by: "+strings.Join(evaluate.IntervalMethods(), ", "))
	f.Float64Var(&of.Level, "level", 0.95, "confidence level of --intervals")
	f.BoolVar(&of.Budget, "budget", false, "show how much each source contributes to the uncertainty")
	f.BoolVar(&of.Influence, "influence", false,
		"show the points that influence the result most: what changes without each of them")
	f.Float64Var(&of.PoreWater.Value, "pore-water", 0,
		"declare the share of the pores that water filled: values are then those of dry pores (see wane help one-spot)")
	f.Float64Var(&of.UPoreWater.Value, "u-pore-water", 0,
		"standard uncertainty of --pore-water; by default its value over √3, at most 0.29; 0 says that it is exact")
	completeWords(cmd, map[string][]string{"intervals": evaluate.IntervalMethods()})
}

// checkUncertainty refuses words and flags that do not go together, and notes what is stated of water.
func checkUncertainty(cmd *cobra.Command, of *desk.QuickOptions) error {
	of.PoreWater.Is, of.UPoreWater.Is = cmd.Flags().Changed("pore-water"), cmd.Flags().Changed("u-pore-water")
	if of.Intervals != "" {
		return oneOf("intervals", of.Intervals, evaluate.IntervalMethods())
	}
	if cmd.Flags().Changed("level") {
		return usagef("add --intervals profile, or leave --level out", "--level is for --intervals, which is not given")
	}
	return nil
}

// section is a table of its own about one spot. It is shown instead of the row of
// results, to programs, or after it, to people.
type section struct {
	columns []string
	rows    func(ctx context.Context, f *desk.QuickFit, write func(...any) error) error
	table   func(ctx context.Context, p page, f *desk.QuickFit) error
}

// sections are those that are asked for.
func (o *quickOptions) sections() (all []section) {
	if o.of.Structures {
		all = append(all, structuresSection)
	}
	if o.of.Intervals != "" {
		all = append(all, intervalSection(o.of.Intervals, o.of.Level))
	}
	if o.of.Budget {
		all = append(all, budgetSection)
	}
	if o.of.Influence {
		all = append(all, influenceSection)
	}
	return all
}

func intervalSection(method string, level float64) section {
	return section{
		columns: []string{"quantity", "unit", "method", "level", "value",
			"lower", "upper", "lower_open", "upper_open", "fault"},
		rows: func(ctx context.Context, f *desk.QuickFit, write func(...any) error) error {
			rows, err := f.Intervals(ctx)
			if err != nil {
				return err
			}
			for _, r := range rows {
				err := write(r.Name, r.Unit, method, level, orNil(r.Value),
					orNil(r.Lower), orNil(r.Upper), r.LowerOpen, r.UpperOpen, orEmpty(r.Fault))
				if err != nil {
					return err
				}
			}
			return nil
		},
		table: func(ctx context.Context, p page, f *desk.QuickFit) error {
			rows, err := f.Intervals(ctx)
			if err != nil {
				return err
			}
			return intervalTable(p, method, level, rows)
		},
	}
}

func intervalTable(p page, method string, level float64, rows []evaluate.Interval) error {
	how := map[string]string{evaluate.ByProfile: "by the profile of the likelihood",
		evaluate.ByResiduals:  "by 1,000 fits to runs of the residuals",
		evaluate.ByParametric: "by 1,000 fits to normal errors"}[method]
	fmt.Fprintf(p, "\n  %g %% intervals, %s\n", 100*level, how)
	out := foldedTable(p, "    ", "quantity", "unit", "value", "from", "to", "")
	for _, r := range rows {
		if !r.Value.Valid() {
			continue
		}
		word, known := intervalWords[r.Name]
		if !known {
			word.name, word.unit = r.Name, r.Unit
		}
		factor := study.Num(1)
		if word.unit == "%" { // as in the table above it; for programs it is a fraction
			factor = 100
		}
		cells := []string{word.name, dash(word.unit)}
		for _, n := range []study.Num{r.Value, r.Lower, r.Upper} {
			cells = append(cells, figures(factor*n))
		}
		if err := out.row(append(cells, openEnds(&r))...); err != nil {
			return err
		}
	}
	return out.end()
}

// intervalWords are the words and units of quantities for people, by their columns.
var intervalWords = map[string]struct{ name, unit string }{
	"solar_T":              {"solar transmittance", "%"},
	"cell_T":               {"cell transmittance", "%"},
	"optical_thickness_nm": {"optical thickness", "nm"},
	"film_index_550nm":     {"film index", ""},
	"thickness_nm":         {"thickness", "nm"},
	"porosity":             {"porosity", ""},
	"bare_fraction":        {"bare fraction", ""},
	"solid_nm":             {"material left", "nm"},
	"scale":                {"scale", ""},
}

func openEnds(r *evaluate.Interval) string {
	switch {
	case r.Fault != "":
		return "could not be computed: " + r.Fault
	case !r.Lower.Valid() && !r.Upper.Valid() && !r.LowerOpen && !r.UpperOpen:
		return "fixed, or not free in this model"
	case r.LowerOpen && r.UpperOpen:
		return "not determined"
	case r.LowerOpen:
		return "one-sided: the data do not limit the lower end"
	case r.UpperOpen:
		return "one-sided: the data do not limit the upper end"
	}
	return ""
}

// figures writes a number with six significant digits; "-" if there is none.
func figures(n study.Num) string {
	if !n.Valid() {
		return "-"
	}
	return fmt.Sprintf("%.6g", float64(n)+0)
}

// budgetSection shows the terms of the uncertainty.
var budgetSection = section{
	columns: []string{"term", "size", "unit", "u_thickness_nm", "u_solar_T_pp"},
	rows: func(ctx context.Context, f *desk.QuickFit, write func(...any) error) error {
		rows, err := f.Budget(ctx)
		if err != nil {
			return err
		}
		for _, r := range rows {
			err := write(r.Term, orNil(study.Num(r.Size)), r.Unit, orNil(study.Num(r.ThicknessNM)), orNil(study.Num(r.SolarPP)))
			if err != nil {
				return err
			}
		}
		return nil
	},
	table: func(ctx context.Context, p page, f *desk.QuickFit) error {
		rows, err := f.Budget(ctx)
		if err != nil {
			return err
		}
		return budgetTable(p, rows, f.Verdict.IsThrough())
	},
}

// budgetTable prints the terms under what says how they were computed: by the first order where linear.
func budgetTable(p page, rows []film.BudgetRow, linear bool) error {
	how := "by Monte Carlo; each source is varied, and the spot is fitted again"
	if linear {
		how = "to the first order: what one standard uncertainty of each source changes in the result; the total adds " +
			"them in squares"
	}
	fmt.Fprintln(p, "\n  uncertainty budget: standard uncertainties "+how)
	out := foldedTable(p, "    ", "term", "size", "thickness / nm", "solar transmittance / pp")
	for _, r := range rows {
		size := "-"
		switch n := study.Num(r.Size); {
		case !n.Valid():
		case slices.Contains([]string{"of reflectance", "of transmittance", "of the readings"}, r.Unit):
			size = fmt.Sprintf("%.3g pp %s", 100*r.Size, r.Unit) // as everywhere for people
		default:
			size = fmt.Sprintf("%.3g %s", r.Size, r.Unit)
		}
		if err := out.row(r.Term, size, decimal(study.Num(r.ThicknessNM), 3), decimal(study.Num(r.SolarPP), 4)); err != nil {
			return err
		}
	}
	return out.end()
}

// influenceSection has every point, for programs; the shifts are what leaving it out would
// do.
var influenceSection = section{
	columns: []string{"curve", "angle_deg", "nm", "leverage", "studentised_residual", "cook_distance",
		"shift_thickness_nm", "shift_bare_fraction", "shift_solar_T_pp"},
	rows: func(ctx context.Context, f *desk.QuickFit, write func(...any) error) error {
		points, err := f.Influence(ctx)
		if err != nil {
			return err
		}
		for i := range points {
			at := &points[i]
			cells := []any{at.Curve, at.AngleDeg, at.NM}
			for _, v := range []float64{
				at.Leverage, at.Studentised, at.CookDistance, at.ThicknessNM, at.BareFraction, at.SolarT,
			} {
				cells = append(cells, orNil(study.Num(v)))
			}
			if err := write(cells...); err != nil {
				return err
			}
		}
		return nil
	},
	table: func(ctx context.Context, p page, f *desk.QuickFit) error {
		points, err := f.Influence(ctx)
		if err != nil {
			return err
		}
		return influenceTable(p, points)
	},
}

// mostInfluential is how many points are shown to a person.
const mostInfluential = 8

// influenceTable prints the points on which most hangs.
func influenceTable(p page, points []desk.PointInfluence) error {
	fmt.Fprintf(p, "\n  the points with the most influence, of %d, and how the result changes without each of them\n",
		len(points))
	out := foldedTable(p, "    ", "curve", "nm", "leverage", "studentised residual", "Cook's distance", "thickness / nm",
		"bare fraction", "solar T / pp")
	for _, at := range desk.MostInfluential(points, mostInfluential) {
		cells := []string{fmt.Sprintf("%d, %g deg", at.Curve, at.AngleDeg), fmt.Sprintf("%g", at.NM)}
		for _, c := range []struct {
			value  float64
			places int
		}{
			{at.Leverage, 4}, {at.Studentised, 2}, {at.CookDistance, 4}, {at.ThicknessNM, 4}, {at.BareFraction, 5},
			{at.SolarT, 5},
		} {
			cells = append(cells, decimal(study.Num(c.value), c.places))
		}
		if err := out.row(cells...); err != nil {
			return err
		}
	}
	return out.end()
}
