package desk

import (
	"slices"

	"wane/study"
	"wane/study/intake"
)

// dataLines are the lines of an export that numbers stand in.
type dataLines struct {
	first, rows int // the first line, from 1, and how many there are; 0: not known
}

// linesOf finds the lines that a reading came from in the bytes of its export. What
// was stated about an export when it was taken in is not kept with it, so the common
// statements are tried: that one was made which gives the same numbers, to the last
// bit, in the same column. Where none does, the lines are not known.
func linesOf(e *study.Export, r *study.Reading) dataLines {
	for _, unit := range []string{"", "percent", "fraction"} {
		for _, axis := range []string{"", "nm", "um"} {
			for _, quantity := range []string{"", string(r.Quantity)} {
				x, err := intake.Read(e.Name, e.Data, intake.Stated{Unit: unit, WavelengthUnit: axis, Quantity: quantity})
				if err != nil {
					continue // something else was stated
				}
				for _, s := range columnsOf(x) {
					if s.Column == r.Column && slices.Equal(s.NM, r.NM) && slices.Equal(s.Values, r.Values) {
						return dataLines{x.HeaderLines + 1, x.Rows}
					}
				}
			}
		}
	}
	return dataLines{}
}
