package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

// besideColumns are the columns that --independent adds, of what beside holds when a
// row is written.
func besideColumns(beside *desk.Independent) []study.Column {
	num := func(name string, of *study.Num) study.Column {
		return study.Column{Name: name, Num: func(*study.Result) study.Num { return *of }}
	}
	return []study.Column{
		num("independent_thickness_nm", &beside.Thickness.Value),
		num("u_independent_thickness_nm", &beside.Thickness.U),
		{Name: "independent_method", Text: func(*study.Result) string { return beside.Method }},
		num("thickness_difference_nm", &beside.Difference.Value),
		num("u_thickness_difference_nm", &beside.Difference.U),
	}
}

// add appends columns, before the first row.
func (w *rowWriter) add(columns ...study.Column) {
	w.columns = append(w.columns, columns...)
	if w.csv != nil {
		w.record = make([]string, len(w.columns))
	}
}

// resultsBeside lists results with the thicknesses measured by other means.
func resultsBeside(cmd *cobra.Command, d *desk.Desk, w io.Writer, o *resultsOptions) error {
	if o.format == "table" {
		return tableBeside(cmd, d, w, o)
	}
	var beside desk.Independent
	out := newRowWriter(w, o.format)
	out.add(besideColumns(&beside)...)
	err := d.ResultsBeside(cmd.Context(), o.options(), func(r *study.Result, i *desk.Independent) error {
		beside = *i
		return out.write(r)
	})
	if err != nil {
		return err
	}
	return out.end()
}

// tableBeside lists, for people, the rows that have a thickness by other means.
func tableBeside(cmd *cobra.Command, d *desk.Desk, w io.Writer, o *resultsOptions) error {
	out := newColumnWriter(w, "coupon", "role", "coating", "pull", "spot", "condition", "state", "fitted / nm", "independent / nm", "by", "fitted - independent / nm", "flags")
	rows, without := 0, 0
	err := d.ResultsBeside(cmd.Context(), o.options(), func(r *study.Result, i *desk.Independent) error {
		if !i.Thickness.Value.Valid() {
			without++
			return nil
		}
		rows++
		return out.row(r.Coupon, r.Role, dash(r.Coating), strconv.Itoa(int(r.Pull)), r.Spot, dash(r.Condition), dash(string(r.State)),
			plusMinus(r.Thickness, 1, ""), plusMinus(i.Thickness, 1, ""), i.Method, plusMinus(i.Difference, 1, ""), strings.Join(r.Flags, " "))
	})
	if err != nil {
		return err
	}
	if err := out.flush(); err != nil {
		return err
	}
	last := fmt.Sprintf("values ± U (k=2); %d rows of results have no thickness by another method", without)
	if rows == 0 {
		last = "no result has a thickness by another method: take some in with wane measure"
	}
	_, err = fmt.Fprintln(w, last)
	return err
}
