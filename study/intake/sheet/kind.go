package sheet

import (
	"bytes"
	"slices"

	"wane/study"
)

// kinds are the tables that people mistake for one another, with the command that takes each.
var kinds = []struct {
	name    string
	columns []string
	command string
}{
	{"a map", mapColumns, "wane intake --map "},
	{"a table of measurements", measuredColumns, "wane measure "},
	{"a roster of coupons", couponColumns, "wane enrol "},
	{"a roster of exposures", exposureColumns, "wane enrol "},
	{"a roster of pulls", pullColumns, "wane enrol "},
}

// refuseOtherKind refuses a table that has all columns of another kind of table than the one with the
// wanted columns; nil if it is none of these.
func (s *Table) refuseOtherKind(wanted []string) error {
	for _, k := range kinds {
		if slices.Equal(k.columns, wanted) {
			continue
		}
		if !slices.ContainsFunc(k.columns, func(c string) bool { return !slices.Contains(s.columns, c) }) {
			return &study.Refusal{File: s.File, Line: 1, Fault: "this is " + k.name,
				Try: "use the command for it: " + k.command + study.Shown(s.File)}
		}
	}
	return nil
}

// RefuseTable refuses a file that is one of the tables that people write, where something else is
// expected; nil if it is none.
func RefuseTable(file string, data []byte) error {
	r, err := NewReader(file, bytes.NewReader(data))
	if err != nil {
		return nil // no table
	}
	return r.Sheet.refuseOtherKind(nil)
}
