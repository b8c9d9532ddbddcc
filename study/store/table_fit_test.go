package store_test

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func allFits(t testing.TB, s *store.Store, roles ...study.Role) (list []*study.Fit) {
	t.Helper()
	require.NoError(t, s.Fits(t.Context(), func(f *study.Fit) error { list = append(list, f); return nil }, roles...))
	return list
}

// written is all of a fit as Go writes it: two fits are written alike if each number of them is the same or NaN in both.
// NaN does not equal itself, so that fits with absent numbers cannot be compared as they are.
func written(f *study.Fit) string { return fmt.Sprintf("%#v", *f) }

func TestFitsComeBack(t *testing.T) {
	s, path := enrolled(t)
	units := []study.Unit{
		{Coupon: "C001", Pull: 0, Spot: "a"}, {Coupon: "C001", Pull: 0, Spot: "b"},
		{Coupon: "C001", Pull: 2, Spot: "a", Condition: "cleaned"},
		{Coupon: "K001", Pull: 2, Spot: "a"},
	}
	var want []*study.Fit
	for i := range units {
		u := units[len(units)-1-i]
		takeIn(t, s, u)
		want = append([]*study.Fit{fitOf(u, float64(10*i))}, want...)
	}
	want[1].Result.Porosity.U = study.Null()                    // pinned
	want[1].Result.Thickness.Value = study.Num(math.NaN())      // does not apply
	want[1].Result.Flags, want[1].Result.State = []string{}, "" // none
	put(t, s, want[3], want[1], want[0], want[2])
	require.NoError(t, s.Close())

	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	got := allFits(t, s)
	require.Len(t, got, 4)
	for i := range want {
		assert.Equal(t, written(want[i]), written(got[i]))
	}
	assert.True(t, math.IsNaN(float64(got[1].Result.Porosity.U)))
	assert.True(t, math.IsNaN(float64(got[1].Result.Thickness.Value)))

	controls := allFits(t, s, study.Control)
	require.Len(t, controls, 1)
	assert.Equal(t, units[3], controls[0].Unit)
	assert.Len(t, allFits(t, s, study.Control, study.Exposed), 4)
	assert.Empty(t, allFits(t, s, study.Blank))
	verified(t, s)

	stop := errors.New("stop")
	n := 0
	require.ErrorIs(t, s.Fits(t.Context(), func(*study.Fit) error { n++; return stop }), stop)
	assert.Equal(t, 1, n)
}

func TestANewerFitSupersedes(t *testing.T) {
	s, path := enrolled(t)
	takeIn(t, s, unitA)
	for i := range 3 {
		put(t, s, fitOf(unitA, float64(i)))
	}
	put(t, s, fitOf(unitA, 3), fitOf(unitA, 4)) // twice in one transaction
	got := allFits(t, s)
	require.Len(t, got, 1)
	assert.Equal(t, study.Num(4), got[0].Result.SolarT.Value)

	rows, err := raw(t, path).Query("SELECT id, superseded_by FROM fit ORDER BY id")
	require.NoError(t, err)
	defer rows.Close()
	for id := 1; rows.Next(); id++ {
		var n int
		var by *int
		require.NoError(t, rows.Scan(&n, &by))
		require.Equal(t, id, n)
		if id == 5 {
			assert.Nil(t, by)
		} else if assert.NotNil(t, by) {
			assert.Equal(t, id+1, *by)
		}
	}
	require.NoError(t, rows.Err())
	verified(t, s)
}

// Two processes that fit at once find the same, and put it once.
func TestTheSameFitIsPutOnce(t *testing.T) {
	s, path := enrolled(t)
	other, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer other.Close()
	unitB := study.Unit{Coupon: "C002", Pull: 1, Spot: "a"}
	takeIn(t, s, unitA)
	takeIn(t, s, unitB)
	put(t, s, fitOf(unitA, 1))
	before := dump(t, s)

	again := func(e *study.Entry, list ...*study.Fit) {
		require.NoError(t, other.Write(t.Context(), e, func(tx *store.Tx) error {
			for _, f := range list {
				if err := tx.PutFit(f); err != nil {
					return err
				}
			}
			return nil
		}))
	}
	nothing, one := entry("fit"), entry("fit")
	again(nothing, fitOf(unitA, 1))
	assert.Zero(t, nothing.Number)
	assert.Equal(t, before, dump(t, s), "no row, and no line of the log")

	again(one, fitOf(unitA, 1), fitOf(unitB, 1), fitOf(unitB, 1))
	assert.EqualValues(t, 6, one.Number)
	assert.Equal(t, 2, fitRows(t, path), "one was known, one came twice")

	put(t, s, fitOf(unitA, 2))
	again(entry("fit"), fitOf(unitA, 1)) // as it was once, but is not now
	assert.Equal(t, 4, fitRows(t, path))
	assert.Equal(t, study.Num(1), allFits(t, s)[0].Result.SolarT.Value)
	verified(t, s)

	t.Run("at once", func(t *testing.T) {
		var work sync.WaitGroup
		for _, w := range []*store.Store{s, other} {
			work.Go(func() {
				for i := range 20 {
					err := w.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutFit(fitOf(unitB, 9)) })
					assert.NoError(t, err, i)
				}
			})
		}
		work.Wait()
		assert.Equal(t, 5, fitRows(t, path))
		verified(t, s)
	})
}

// fitRows counts the fits, superseded ones with them.
func fitRows(t testing.TB, path string) (n int) {
	t.Helper()
	require.NoError(t, raw(t, path).QueryRow("SELECT count(*) FROM fit").Scan(&n))
	return n
}

func TestAFitNeedsReadings(t *testing.T) {
	s, _ := enrolled(t)
	takeIn(t, s, unitA)
	put(t, s, fitOf(unitA, 1))
	before := dump(t, s)
	for _, u := range []study.Unit{
		{Coupon: "C001", Pull: 1, Spot: "b", Condition: "as_found"}, {Coupon: "C001", Pull: 1, Spot: "a"},
		{Coupon: "C777", Pull: 1, Spot: "a", Condition: "as_found"},
	} {
		err := s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutFit(fitOf(u, 1)) })
		refused(t, err, "no readings", u.Coupon)
		assert.Equal(t, before, dump(t, s))
	}
	line := entry("fit")
	require.NoError(t, s.Write(t.Context(), line, func(tx *store.Tx) error {
		refused(t, tx.PutFit(fitOf(study.Unit{Coupon: "C002"}, 1)))
		return tx.PutFit(fitOf(unitA, 2))
	}))
	verified(t, s)
}

// A number that study.Columns lists is stored under that name, and nothing else
// is.
func TestFitColumnsAreThoseOfResults(t *testing.T) {
	f := fitOf(unitA, 7)
	stored := 0
	for _, c := range study.Columns() {
		number, is := store.FitNumber(f, c.Name)
		if !is {
			continue
		}
		stored++
		require.NotNil(t, c.Num, c.Name)
		assert.Equal(t, c.Num(&f.Result), study.Num(number), c.Name)
	}
	assert.Equal(t, 30, stored, "twelve measures and six numbers")
}
