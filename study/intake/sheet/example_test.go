package sheet_test

import (
	"fmt"

	"wane/study/intake/sheet"
)

// A made-up roster with semicolons and a day in the order of 23.03.2031: what can be read in one way
// only is taken, with a note; what can be read in two ways is refused.
func ExampleRoster_Add() {
	var roster sheet.Roster
	err := roster.Add("exposures.csv", []byte("Exposure;protocol;site;dose_unit;start\nroof;rack;roof;days;23.03.2031\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(roster.Exposures[0].Row.Exposure, "starts", roster.Exposures[0].Row.Start)
	for _, note := range roster.Notes {
		fmt.Println("note", note)
	}

	err = roster.Add("pulls.csv", []byte("exposure;pull;dose;date\nroof;0;0;10.03.2031\n"))
	fmt.Println(err)
	// Output:
	// roof starts 2031-03-23
	// note exposures.csv: semicolons separate the cells
	// note exposures.csv:1: the column Exposure is read as exposure
	// note exposures.csv:2: start 23.03.2031 is read as 2031-03-23
	// pulls.csv:2: column date: "10.03.2031" can be read in two ways: 2031-03-10 or 2031-10-03
}
