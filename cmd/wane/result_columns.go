package main

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
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

// resultColumns are the columns of results, with beside also those of --independent, of what
// beside holds when a row is written.
func resultColumns(beside *desk.Independent) listing[*study.Result] {
	all := study.Columns()
	var l listing[*study.Result]
	for i := range all {
		c := resultColumn(all, i)
		if layout, known := columnLayouts[c.Name]; known {
			c.Rank, c.Head, c.Fold = layout.rank, layout.head, layout.fold
		}
		switch c.Name {
		case "state":
			c = c.OfStates()
		case "flags":
			c.Cell = rareFlags
		}
		l = append(l, c)
	}
	if beside == nil {
		return l
	}
	own := besideColumns(beside)
	for i := range own {
		c := resultColumn(own, i)
		if layout, known := columnLayouts[c.Name]; known {
			c.Rank, c.Head = layout.rank, layout.head
		}
		l = append(l, c)
	}
	return l
}

// rareFlags are the flags of a row without that of a planned dose, of which a line below the table says how many rows
// have it.
func rareFlags(r *study.Result) string {
	return strings.Join(slices.DeleteFunc(slices.Clone(r.Flags), func(f string) bool { return f == study.FlagDosePlanned }), " ")
}

// plannedWords says of how many rows the dose is the planned one; nothing if of none.
func plannedWords(planned, rows int) string {
	if planned == 0 {
		return ""
	}
	return fmt.Sprintf("the dose of %d of %d rows is the planned one (%s): enrol what happened to the coupons; see wane help "+
		"events", planned, rows, study.FlagDosePlanned)
}

// fittedBeside are the columns of the table of --independent.
func fittedBeside(all listing[*study.Result]) listing[*study.Result] {
	columns := all.Pick("coupon", "role", "coating", "pull", "spot", "condition", "state", "thickness_nm",
		"independent_thickness_nm", "independent_method", "thickness_difference_nm", "flags")
	for i := range columns {
		if c := &columns[i]; c.Name == "thickness_nm" {
			c.Rank, c.Head = 1, "fitted / nm"
		}
	}
	return columns
}

// resultColumn is the i-th of columns. A quantity that its uncertainty follows is shown with it.
func resultColumn(columns []study.Column, i int) column[*study.Result] {
	c := columns[i]
	switch {
	case c.Text != nil:
		return valueColumn(c.Name, func(r *study.Result) any { return orEmpty(c.Text(r)) })
	case c.Words != nil:
		return valueColumn(c.Name, func(r *study.Result) any { return c.Words(r) })
	}
	out := valueColumn(c.Name, func(r *study.Result) any { return orNil(c.Num(r)) })
	if i+1 < len(columns) && columns[i+1].Name == "u_"+c.Name {
		u, factor := columns[i+1], columnLayouts[c.Name].factor
		if factor == 0 {
			factor = 1
		}
		out.Cell = func(r *study.Result) string {
			return plusMinus(study.Measure{Value: c.Num(r), U: u.Num(r)}, factor, "")
		}
	}
	return out
}

// ofResults are the columns of a listing of results as a rowWriter takes them.
func ofResults(l listing[*study.Result], beside *desk.Independent) []study.Column {
	all := study.Columns()
	if beside != nil {
		all = append(all, besideColumns(beside)...)
	}
	var chosen []study.Column
	for i := range l {
		for _, c := range all {
			if c.Name == l[i].Name {
				chosen = append(chosen, c)
			}
		}
	}
	return chosen
}
