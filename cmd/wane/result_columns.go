package main

import (
	"fmt"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// resultColumns are the columns of results, with beside also those of --independent, of what
// beside holds when a row is written.
func resultColumns(beside *desk.Independent) listing[*study.Result] {
	if beside == nil {
		return shown.Results()
	}
	return append(shown.Results(), shown.ResultColumns(besideColumns(beside))...)
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
