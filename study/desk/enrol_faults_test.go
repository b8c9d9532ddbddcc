package desk

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// faultsOf are the lines and faults of a refusal.
func faultsOf(t *testing.T, err error) (said []string) {
	t.Helper()
	var faults study.Refusals
	if !errors.As(err, &faults) {
		require.True(t, faults.Note(err), "%v", err)
	}
	for _, r := range faults {
		said = append(said, fmt.Sprintf("%d: %s", r.Line, r.Fault))
	}
	return said
}

// Faults of every kind are said in one run, in the order of the lines: words, names, times. Of what depends on a refused row
// nothing is said.
func TestMixedFaultsOfEnrol(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	before := dump(t, d)
	events := f.write("events.csv", "coupon,event,pull,date\nE1,Stop,0,\nZZ9,clean,0,\nC1,clean,9,\nN1,clean,0,\nN2,clean,0,\n")
	coupons := f.write("coupons.csv", couponHeader+"N1,Exposed,m,K,1,soda-lime,3.2,matched,roof\n"+
		"N2,exposed,m,K,1,soda-lime,3.2,matched,nowhere\nE1,exposed,m,K,2,soda-lime,3.2,matched,roof\n")
	_, err := d.Enrol(ctx, []string{coupons, events})
	said := faultsOf(t, err)
	for i, fault := range []string{`2: column role: "Exposed" is not one of `, `3: coupon N2: there is no exposure "nowhere"`,
		`4: coupon "E1" is known already, and differs: lot was "1"`, `2: column event: "Stop" is not one of `,
		`3: coupon "ZZ9" is not enrolled`, `4: event clean of coupon "C1" at pull 9: pull 9 is not planned for coupon C1`} {
		require.Greater(t, len(said), i, "%q", said)
		assert.Contains(t, said[i], fault)
	}
	assert.Len(t, said, 6, "%q", said)
	assert.Equal(t, before, dump(t, d))
}

// An event that got another day is not said to be withdrawn when its first row comes again, and what to try instead is right.
func TestFirstRowOfMovedEvent(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	first := f.write("events.csv", "coupon,event,pull,date\nE1,clean,0,2026-01-04\n")
	_, err := d.Enrol(ctx, []string{first})
	require.NoError(t, err)
	_, err = d.Amend(ctx, []string{f.write("day.csv", "coupon,event,pull,to_date\nE1,clean,0,2026-01-03\n")}, "the note has it", false)
	require.NoError(t, err)
	_, err = d.Enrol(ctx, []string{first})
	require.ErrorContains(t, err, `event clean of coupon "E1" at pull 0 on 2026-01-04 was amended by line `)
	assert.ErrorContains(t, err, `which made event clean of coupon "E1" at pull 0 on 2026-01-03 of it`)
	_, err = d.Amend(ctx, []string{f.write("gauge.csv", "coupon,pull,spot,quantity,method,date,value\n"+
		"E1,0,1,thickness,gauge,2026-01-02,118\n")}, "read off anew", false)
	var r *study.Refusal
	require.True(t, errors.As(err, &r), "%v", err)
	assert.Equal(t, "correct its key, or add it with `wane measure`", r.Try)
}

// A place of a move is trimmed as cells of tables are: a spot that only spaces name is none.
func TestMoveTrims(t *testing.T) {
	d := newFolder(t).amendable(study.RouteControls)
	of := MoveSelection{Selection: Everything()}
	of.Numbers = []int64{1}
	to := MoveTo{Spot: " ", Pull: AllPulls, AngleDeg: study.Null()}
	_, err := d.Move(context.Background(), of, to, "a slip", true)
	require.ErrorContains(t, err, "nothing is to be changed")
	to.Spot = "  7 "
	moved, err := d.Move(context.Background(), of, to, "a slip", true)
	require.NoError(t, err)
	assert.Equal(t, "7", moved.Readings[0].To.Spot)
}
