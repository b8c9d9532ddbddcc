package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/shown"
)

// What is released is printed with the reason that the log has.
func TestReleasedSaysWhy(t *testing.T) {
	var out strings.Builder
	j := desk.Judged{Place: study.Place{Coupon: "E1", Pull: 1, Spot: "1", AngleDeg: 8, Polarisation: "u"}, Number: 5,
		Released: "the guard of humidity is gone"}
	reportGuards(&out, &desk.GuardChanges{Released: []desk.Judged{j}})
	assert.Equal(t, "released reading 5, coupon E1, pull 1, spot 1, 8° u: the guard of humidity is gone\n",
		out.String())
}

// What is under groups and figures counts both kinds of rows, and names each.
func TestDistrustedWordsCountEachKind(t *testing.T) {
	suspect := func(read, base int) map[string]int {
		return map[string]int{study.FlagSessionNotTrusted: read, study.FlagBaselineNotTrusted: base}
	}
	for want, groups := range map[string][]ageing.Group{
		"": {{Spots: 4}},
		"3 of 8 rows were read in sessions that are not trusted; see wane check": {{Spots: 4, Flags: suspect(3, 0)},
			{Spots: 4}},
		"the change of 2 of 4 rows is from a baseline in a session that is not trusted; see wane check": {{Spots: 4,
			Flags: suspect(0, 2)}},
		"3 of 8 rows were read in sessions that are not trusted, and the change of 5 is from a baseline in one; " +
			"see wane check": {{Spots: 4, Flags: suspect(3, 2)}, {Spots: 4, Flags: suspect(0, 3)}},
	} {
		assert.Equal(t, want, shown.DistrustedWords(groups))
	}
}
