package shown

import (
	"slices"
	"strings"

	"wane/study"
)

// columnLayout is how a table shows a column of results.
type columnLayout struct {
	rank   int
	head   string
	factor float64 // by which a quantity is multiplied; 0: 1
	fold   int
}

// columnLayouts are the columns of results that a table shows, and quantities that it shows
// where --columns names them.
var columnLayouts = map[string]columnLayout{
	"coupon":               {rank: 1},
	"role":                 {rank: 8},
	"coating":              {rank: 2},
	"pull":                 {rank: 1},
	"spot":                 {rank: 1},
	"condition":            {rank: 7},
	"state":                {rank: 1},
	"solar_T":              {rank: 1, head: "solar T / %", factor: 100},
	"cell_T":               {head: "cell T / %", factor: 100},
	"gain_pp":              {head: "gain / pp"},
	"change_pp":            {rank: 4, head: "change / pp"},
	"corrected_change_pp":  {rank: 1, head: "corrected / pp"},
	"thickness_nm":         {rank: 3, head: "thickness / nm"},
	"porosity":             {rank: 5},
	"bare_fraction":        {rank: 6, head: "bare"},
	"solid_nm":             {head: "material left / nm"},
	"optical_thickness_nm": {head: "optical thickness / nm"},
	"flags":                {rank: 1, fold: 24},

	"independent_thickness_nm": {rank: 1, head: "independent / nm"},
	"independent_method":       {rank: 2, head: "by"},
	"thickness_difference_nm":  {rank: 1, head: "fitted - independent / nm"},
}

// Results is the columns of results.
func Results() List[*study.Result] {
	l := ResultColumns(study.Columns())
	for i := range l {
		switch c := &l[i]; c.Name {
		case "state":
			c.States = true
		case "flags":
			c.Cell = rareFlags
		}
	}
	return l
}

// ResultColumns is columns of results in the layout of a table.
func ResultColumns(of []study.Column) (l List[*study.Result]) {
	for i := range of {
		c := resultColumn(of, i)
		if layout, known := columnLayouts[c.Name]; known {
			c.Rank, c.Head, c.Fold = layout.rank, layout.head, layout.fold
		}
		l = append(l, c)
	}
	return l
}

// rareFlags are the flags of a row without that of a planned dose, of which a line below the table says how many rows
// have it.
func rareFlags(r *study.Result) string {
	return strings.Join(slices.DeleteFunc(slices.Clone(r.Flags),
		func(f string) bool { return f == study.FlagDosePlanned }), " ")
}

// resultColumn is the i-th of columns. A quantity that its uncertainty follows is shown with it.
func resultColumn(columns []study.Column, i int) Column[*study.Result] {
	c := columns[i]
	switch {
	case c.Text != nil:
		return Value(c.Name, func(r *study.Result) any { return OrEmpty(c.Text(r)) })
	case c.Words != nil:
		return Value(c.Name, func(r *study.Result) any { return c.Words(r) })
	}
	out := Value(c.Name, func(r *study.Result) any { return OrNil(c.Num(r)) })
	if i+1 < len(columns) && columns[i+1].Name == "u_"+c.Name {
		u, factor := columns[i+1], columnLayouts[c.Name].factor
		if factor == 0 {
			factor = 1
		}
		out.Cell = func(r *study.Result) string {
			return PlusMinus(study.Measure{Value: c.Num(r), U: u.Num(r)}, factor, "")
		}
	}
	return out
}
