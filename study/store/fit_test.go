package store_test

import (
	"errors"
	"math"
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

// zeroed replaces absent numbers, since NaN does not equal itself.
func zeroed(f *study.Fit) *study.Fit {
	c := *f
	r := &c.Result
	for _, n := range []*study.Num{&r.Pull, &r.Dose, &r.GainKept.Value, &r.GainKept.U, &r.Change.Value, &r.Change.U,
		&r.CorrectedChange.Value, &r.CorrectedChange.U, &r.ChangeUnseen, &r.NControls, &r.Porosity.U, &r.Thickness.Value} {
		if math.IsNaN(float64(*n)) {
			*n = 0
		}
	}
	return &c
}

func TestFitsComeBack(t *testing.T) {
	s, path := enrolled(t)
	units := []study.Unit{
		{Coupon: "C001", Pull: 0, Spot: "a"}, {Coupon: "C001", Pull: 0, Spot: "b"}, {Coupon: "C001", Pull: 2, Spot: "a", Condition: "cleaned"},
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
		assert.Equal(t, zeroed(want[i]), zeroed(got[i]))
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

func TestAFitNeedsReadings(t *testing.T) {
	s, _ := enrolled(t)
	takeIn(t, s, unitA)
	put(t, s, fitOf(unitA, 1))
	before := dump(t, s)
	for _, u := range []study.Unit{
		{Coupon: "C001", Pull: 1, Spot: "b", Condition: "as_found"}, {Coupon: "C001", Pull: 1, Spot: "a"}, {Coupon: "C777", Pull: 1, Spot: "a", Condition: "as_found"},
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
		of, ok := store.FitNumber(c.Name).(func(*study.Fit) *study.Num)
		if !ok {
			continue
		}
		stored++
		require.NotNil(t, c.Num, c.Name)
		assert.Equal(t, c.Num(&f.Result), *of(f), c.Name)
	}
	assert.Equal(t, 26, stored, "ten measures and six numbers")
}
