package evaluate_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/evaluate"
)

// Placements by mounting with two sets each; one that lacks a curve, and a session that was read at fewer angles, do
// not count.
func TestRepeats(t *testing.T) {
	reading := func(session string, mounting, replicate int, angle float64) study.Reading {
		var r study.Reading
		r.Session, r.Mounting, r.Replicate, r.AngleDeg, r.Polarisation = session, mounting, replicate, angle, "u"
		return r
	}
	all := []study.Reading{
		reading("b", 1, 2, 8), reading("b", 1, 2, 60), reading("b", 1, 1, 60), reading("b", 1, 1, 8),
		reading("b", 2, 3, 8), reading("b", 2, 3, 60), reading("b", 3, 4, 8),
		reading("a", 0, 5, 60), reading("a", 0, 5, 8), reading("a", 0, 6, 60),
		reading("c", 1, 7, 8), reading("c", 1, 8, 8)}
	sets, incomplete := evaluate.Repeats(all)
	var got []string
	for _, s := range sets {
		words := fmt.Sprintf("%s %d:", s.Session, s.Placement)
		for _, r := range s.Readings {
			words += fmt.Sprintf(" %g/%d", r.AngleDeg, r.Replicate)
		}
		got = append(got, words)
	}
	// In session a no mounting is stated: each replicate is a placement, and the sixth lacks a curve.
	assert.Equal(t, []string{"a 5: 8/5 60/5", "b 1: 8/1 60/1", "b 1: 8/2 60/2", "b 2: 8/3 60/3"}, got)
	assert.Equal(t, 4, incomplete, "a 6, b 3, and both of c")
	sets, incomplete = evaluate.Repeats(nil)
	assert.Empty(t, sets)
	assert.Zero(t, incomplete)
}
