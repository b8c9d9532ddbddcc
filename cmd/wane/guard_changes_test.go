package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// A spot is one line, with each reason once and the angles that it is of; a reason at several spots
// is a line with their codes.
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
			judged(4, "A00", 45, "something else"), judged(7, "D00", 8, "0.31 off D7"),
			judged(8, "D00", 30, "2 off D8"), judged(9, "D00", 45, "1.5 off D7")},
		Released: []desk.Judged{released(5, 8), released(6, 30)},
	})
	assert.Equal(t, []string{
		"held 3 readings, coupon A00, pull 1, spot 1: exchanged: like B (8° u, 30° u); " +
			"exchanged: something else (45° u)",
		"held reading 2, coupon B00, pull 1, spot 1, 8° u: exchanged: like A",
		"held 3 readings, coupon D00, pull 1, spot 1: exchanged: 0.31 off D7 " +
			"(8° u; alike, with other numbers: 30° u, 45° u)",
		"held: for all readings and reasons see wane review --explain",
		"released 2 readings, coupon C1, pull 1, spot 1, 8° u, 30° u: nothing is wrong",
	}, strings.Split(strings.TrimSpace(out.String()), "\n"))
	out.Reset()
	var many []desk.Judged
	for i := range int64(12) {
		coupon := string(rune('A' + i))
		reason := "like B" + coupon
		many = append(many, judged(2*i, coupon, 8, reason), judged(2*i+1, coupon, 30, reason))
	}
	reportGuards(&out, &desk.GuardChanges{Held: many})
	assert.True(t, strings.HasSuffix(out.String(), "\nheld 4 more: see wane review --explain\n"), out.String())
	out.Reset()
	for i := range many {
		many[i].Holds[0].Reason = "the reference is expired"
	}
	reportGuards(&out, &desk.GuardChanges{Held: append(many, judged(99, "A", 45, "a second reason"))})
	assert.Equal(t, []string{
		"held 24 readings of 12 spots: exchanged: the reference is expired " +
			"(coupon A pull 1 spot 1, coupon B pull 1 spot 1, coupon C pull 1 spot 1 and 9 more)",
		"held reading 99, coupon A, pull 1, spot 1, 45° u: exchanged: a second reason",
		"held: for all readings and reasons see wane review --explain",
	}, strings.Split(strings.TrimSpace(out.String()), "\n"))
}

// The table of readings has each reason once; a later reading with the same reason names the first.
func TestReviewTableHasAReasonOnce(t *testing.T) {
	held := func(number int64, reason string) desk.Judged {
		hold := study.Hold{Reading: number, Concern: study.Concern{Guard: "exchanged", Reason: reason}}
		return desk.Judged{Number: number, Holds: []study.Hold{hold}}
	}
	all := []desk.Judged{held(3, "like B"), held(5, "like C"), held(8, "like B"), {Number: 9}}
	columns, err := shown.Judged().Choose("table", []string{"number", "held_for"})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, listJudged(page{Writer: &out}, "table", columns, all))
	assert.Equal(t, "number  held for\n3       exchanged: like B\n"+
		"5       exchanged: like C\n8       as reading 3\n9       -\n",
		out.String())
	out.Reset()
	require.NoError(t, listJudged(page{Writer: &out}, "csv", columns, all))
	assert.Equal(t, "number,held_for\n3,exchanged: like B\n5,exchanged: like C\n8,exchanged: like B\n9,\n",
		out.String())
}
