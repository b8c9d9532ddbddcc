package desk

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// everythingOf chooses the readings of a coupon.
func everythingOf(coupon string) MoveSelection {
	of := MoveSelection{Selection: Everything()}
	of.Coupons = []string{coupon}
	return of
}

// stay is a move that changes nothing yet.
func stay() MoveTo { return MoveTo{Pull: AllPulls, AngleDeg: study.Null()} }

// A copy of an export was taken in for another coupon, and guards hold both. Moved to the coupon that it is of, the guards let
// both go, in one run; nothing else becomes stale.
func TestGuardsLookAtWhatWasMoved(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	text, err := os.ReadFile(f.export("a.csv", 120, 0, 1))
	require.NoError(t, err)
	f.export("b.csv", 110, 0, 2)
	f.write("copy.csv", strings.Replace(string(text), "made up", "made up again", 1))
	in := f.takeIn(d, "map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("b.csv", "E1", 1)+rows("copy.csv", "C1", 0))
	require.Len(t, in.Held, 4)
	f.fit(d)

	before := dump(t, d)
	to := stay()
	to.Coupon, to.Spot = "E1", "2"
	moved, err := d.Move(ctx, everythingOf("C1"), to, "a copy of the export of E1", true)
	require.NoError(t, err)
	require.Len(t, moved.Readings, 2)
	assert.Equal(t, before, dump(t, d), "a preview changes nothing")

	moved, err = d.Move(ctx, everythingOf("C1"), to, "a copy of the export of E1", false)
	require.NoError(t, err)
	require.Len(t, moved.Readings, 2)
	assert.Equal(t, study.Held, moved.Readings[0].Standing)
	e1, c1 := study.Unit{Coupon: "E1", Spot: "2"}, study.Unit{Coupon: "C1", Spot: "1"}
	assert.Equal(t, TouchedFits{Missing: []study.Unit{e1}, Empty: []study.Unit{c1}}, moved.Fits, "and not spot 1 of E1")
	require.Len(t, moved.Guards.Released, 2)
	for _, j := range moved.Guards.Released {
		assert.Equal(t, "E1", j.Coupon)
		assert.Equal(t, "1", j.Spot)
	}
	assert.Empty(t, moved.Guards.Held)
	held, err := d.held(ctx)
	require.NoError(t, err)
	assert.Empty(t, held)
	assert.Equal(t, 2, f.fit(d).Fits, "that of spot 1, which was held, and that of spot 2")
	all := results(t, d)
	require.Len(t, all, 3)
	assert.True(t, all[0].SolarT.Value.Valid())
	assert.Equal(t, all[0].SolarT, all[1].SolarT, "the two are copies")
	v, err := d.Verify(ctx, VerifyOptions{Deep: true, Workers: 1})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)

	// and back: the guards hold both again
	of := everythingOf("E1")
	of.Export = "copy.csv"
	to.Coupon, to.Spot = "C1", "1"
	moved, err = d.Move(ctx, of, to, "no, of C1 after all", false)
	require.NoError(t, err)
	assert.Len(t, moved.Guards.Held, 4)
}

func TestMovesThatAreRefused(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	f.takeIn(d, "map.csv", mapHeader+rows("a.csv", "E1", 0))
	before := dump(t, d)
	for _, c := range []struct {
		name  string
		of    func(*MoveSelection)
		to    func(*MoveTo)
		why   string
		fault string
	}{
		{"no reason", nil, func(to *MoveTo) { to.Spot = "2" }, " ", "no reason is given"},
		{"nowhere", nil, nil, "x", "nothing is to be changed"},
		{"there already", nil, func(to *MoveTo) { to.Spot = "1" }, "x", "2 readings: there already"},
		{"no such coupon", nil, func(to *MoveTo) { to.Coupon = "E9" }, "x", `readings 1-2: coupon "E9" is not enrolled`},
		{"no such pull", nil, func(to *MoveTo) { to.Pull = 9 }, "x", "readings 1-2: pull 9 is not planned"},
		{"both on one place", nil, func(to *MoveTo) { to.AngleDeg = 8 }, "x", "reading 2: column 3 of a.csv says 60 degrees itself, not 8"},
		{"no such file", func(of *MoveSelection) { of.Export = "z.csv" }, func(to *MoveTo) { to.Spot = "2" }, "x", `called "z.csv"`},
		{"nothing chosen", func(of *MoveSelection) { of.Spots = []string{"7"} }, func(to *MoveTo) { to.Spot = "2" },
			"x", "no reading is chosen"},
		{"nothing of the other", nil, func(to *MoveTo) { to.Exchange = []string{"E1", "C1"} }, "x",
			"nothing of coupon C1 is there to be exchanged"},
	} {
		t.Run(c.name, func(t *testing.T) {
			of, to := everythingOf("E1"), stay()
			if c.of != nil {
				c.of(&of)
			}
			if c.to != nil {
				c.to(&to)
			}
			_, err := d.Move(ctx, of, to, c.why, false)
			assert.ErrorContains(t, err, c.fault)
			assert.Equal(t, before, dump(t, d))
		})
	}
}
