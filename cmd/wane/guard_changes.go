package main

import (
	"fmt"
	"io"

	"wane/study"
	"wane/study/desk"
)

// reportGuards prints which readings guards hold now, and which no more: a line for each, or one for
// all of a spot of which the same is said.
func reportGuards(w io.Writer, changes *desk.GuardChanges) {
	print := func(did string, all []desk.Judged, says func(*desk.Judged) string, more string) {
		left := len(all)
		for i, of := range bySpot(all, says) {
			if i == mostHeldShown {
				fmt.Fprintf(w, "%s %d more: see %s\n", did, left, more)
				return
			}
			left -= len(of)
			fmt.Fprintln(w, study.OneLine(did+" "+readingsWords(of)+": "+says(of[0])))
		}
	}
	print("held", changes.Held, func(j *desk.Judged) string { return study.HoldWords(j.Holds) }, "wane review")
	print("released", changes.Released, func(j *desk.Judged) string { return j.Released }, "wane log and wane trace")
}

// bySpot puts together the readings of a unit of which the same is said, in the order of the
// first of each.
func bySpot(all []desk.Judged, says func(*desk.Judged) string) (groups [][]*desk.Judged) {
	type key struct {
		unit  study.Unit
		words string
	}
	at := map[key]int{}
	for i := range all {
		j := &all[i]
		k := key{study.Unit{Coupon: j.Coupon, Pull: j.Pull, Spot: j.Spot, Condition: j.Condition}, says(j)}
		n, known := at[k]
		if !known {
			n, groups = len(groups), append(groups, nil)
			at[k] = n
		}
		groups[n] = append(groups[n], j)
	}
	return groups
}

// readingsWords says which readings of a unit they are.
func readingsWords(of []*desk.Judged) string {
	j := of[0]
	place := fmt.Sprintf("coupon %s, pull %d, spot %s", j.Coupon, j.Pull, j.Spot)
	if j.Condition != "" {
		place += ", " + j.Condition
	}
	if len(of) > 1 {
		return fmt.Sprintf("%d readings, %s", len(of), place)
	}
	return fmt.Sprintf("reading %d, %s, %g degrees %s", j.Number, place, j.AngleDeg, j.Polarisation)
}
