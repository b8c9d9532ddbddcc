package main

import (
	"fmt"

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

// rowsBeside lists results with the thicknesses measured by other means, for programs.
func rowsBeside(
	cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*study.Result], beside *desk.Independent,
) error {
	out := newRowWriter(cmd.OutOrStdout(), o.list.format, ofResults(columns, beside))
	err := d.ResultsBeside(cmd.Context(), o.options(), func(r *study.Result, i *desk.Independent) error {
		*beside = *i
		return out.write(r)
	})
	if err != nil {
		return err
	}
	return out.end()
}

// tableBeside lists, for people, the rows that have a thickness by other means.
func tableBeside(
	cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*study.Result], beside *desk.Independent,
) error {
	p := pageOf(cmd)
	out := openRows(columns, p, "table")
	rows, without := 0, 0
	err := d.ResultsBeside(cmd.Context(), o.options(), func(r *study.Result, i *desk.Independent) error {
		if !i.Thickness.Value.Valid() {
			without++
			return nil
		}
		rows++
		*beside = *i
		return out.write(r)
	})
	if err != nil {
		return err
	}
	if err := out.end(); err != nil {
		return err
	}
	if rows == 0 {
		return writeLine(p, "no result has a thickness by another method; take thicknesses in with wane measure")
	}
	return writeLine(p,
		fmt.Sprintf("values ± U (k=2); without a thickness by another method: %s of results", count(without, "row")))
}
