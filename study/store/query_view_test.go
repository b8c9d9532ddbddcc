package store_test

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// seen is all that a view returns.
type seen struct {
	roster   *study.Roster
	fits     []study.Num // solar_T
	controls int
	units    []store.Unit
	readings int // of the units with fits
}

func readView(t testing.TB, v *store.View) (all seen) {
	t.Helper()
	var err error
	all.roster, err = v.Roster()
	require.NoError(t, err)
	for i := range all.roster.Coupons {
		all.roster.Coupons[i].GlassMM = 0 // NaN does not equal itself
	}
	require.NoError(t, v.Fits(func(*study.Fit) error { all.controls++; return nil }, study.Control))
	require.NoError(t, v.Fits(func(f *study.Fit) error {
		all.fits = append(all.fits, f.Result.SolarT.Value)
		readings, err := v.Readings(f.Unit) // a read within a read
		all.readings += len(readings)
		return err
	}))
	all.units, err = v.Units()
	require.NoError(t, err)
	return all
}

// Whatever another process adds meanwhile, a view sees one moment.
func TestAViewIsOneMoment(t *testing.T) {
	s, path := enrolled(t)
	other, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer other.Close()
	takeIn(t, s, unitA)
	put(t, s, fitOf(unitA, 1))
	control := study.Unit{Coupon: "K001", Pull: 1, Spot: "a"}
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		before := readView(t, v)
		assert.Equal(t, []study.Num{1}, before.fits)
		require.NoError(t, other.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
			_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
			return err
		}))
		takeIn(t, other, control)
		e, readings := export("more.csv", unitA, 60)
		_, err := add(t, s, e, readings)
		require.NoError(t, err)
		put(t, other, fitOf(unitA, 2), fitOf(control, 3))
		assert.Equal(t, before, readView(t, v))
		return nil
	}))
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		after := readView(t, v)
		assert.Equal(t, []study.Num{2, 3}, after.fits)
		assert.Equal(t, 1, after.controls)
		assert.Len(t, after.units, 2)
		assert.Equal(t, 3+2, after.readings)
		assert.Len(t, after.roster.Coupons, 6+1)
		return nil
	}))
	verified(t, s)
}

func TestAViewThatFails(t *testing.T) {
	s, _ := enrolled(t)
	own := errors.New("enough")
	var kept *store.View
	require.ErrorIs(t, s.View(t.Context(), func(v *store.View) error { kept = v; return own }), own)
	_, err := kept.Roster()
	require.Error(t, err, "a view ends with its function")

	ctx, cancel := context.WithCancel(t.Context())
	err = s.View(ctx, func(v *store.View) error {
		cancel()
		_, err := v.Roster()
		assert.ErrorIs(t, err, context.Canceled)
		return err
	})
	require.ErrorIs(t, err, context.Canceled)
}
