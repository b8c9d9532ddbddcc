package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/desk"
)

// What is said of all readings of a spot is one line with their number; what is said of one is a
// line of its own, with its number in the study.
func TestOneLineASpotIsReported(t *testing.T) {
	judged := func(number int64, coupon string, angle float64, reason string) desk.Judged {
		hold := study.Hold{Reading: number, Concern: study.Concern{Guard: "exchanged", Reason: reason}}
		place := study.Place{Coupon: coupon, Pull: 1, Spot: "1", AngleDeg: angle, Polarisation: "u"}
		return desk.Judged{Place: place, Number: number, Holds: []study.Hold{hold}}
	}
	released := func(number int64, angle float64) desk.Judged {
		j := judged(number, "C1", angle, "")
		j.Released = "nothing is wrong"
		return j
	}
	var out bytes.Buffer
	reportGuards(&out, &desk.GuardChanges{
		Held: []desk.Judged{judged(1, "A00", 8, "like B"), judged(2, "B00", 8, "like A"), judged(3, "A00", 30, "like B"),
			judged(4, "A00", 45, "something else")},
		Released: []desk.Judged{released(5, 8), released(6, 30)},
	})
	assert.Equal(t, []string{
		"held 2 readings, coupon A00, pull 1, spot 1: exchanged: like B",
		"held reading 2, coupon B00, pull 1, spot 1, 8 degrees u: exchanged: like A",
		"held reading 4, coupon A00, pull 1, spot 1, 45 degrees u: exchanged: something else",
		"released 2 readings, coupon C1, pull 1, spot 1: nothing is wrong",
	}, strings.Split(strings.TrimSpace(out.String()), "\n"))
	out.Reset()
	var many []desk.Judged
	for i := range int64(mostHeldShown + 2) {
		coupon := string(rune('A' + i))
		many = append(many, judged(2*i, coupon, 8, "like B"), judged(2*i+1, coupon, 30, "like B"))
	}
	reportGuards(&out, &desk.GuardChanges{Held: many})
	assert.True(t, strings.HasSuffix(out.String(), "\nheld 4 more: see wane review\n"), out.String())
}
