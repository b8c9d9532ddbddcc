package store_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// surveyed is a survey of two coupons that were read alike.
func surveyed() store.Survey {
	near := store.SpotReads{Spot: "a", Curves: []store.CurveKind{{AngleDeg: 8, Quantity: study.Reflectance},
		{AngleDeg: 60.5, Quantity: study.Transmittance}}}
	far := store.SpotReads{Spot: "größer", Curves: []store.CurveKind{{AngleDeg: 8, Quantity: study.Reflectance}}}
	s := store.Survey{LastReading: 6, LastLine: 3, Model: 7}
	for _, code := range []string{"C001", "C002"} {
		c := store.SurveyedCoupon{CouponReads: store.CouponReads{Coupon: code, Pulls: []store.PullReads{
			{Pull: 0, Spots: []store.SpotReads{near, far}},
			{Pull: 12, Spots: []store.SpotReads{near}, SetAside: []store.SpotReads{far}, Held: 1, Aside: 300}}}, Fits: []int{2, 1}}
		s.Coupons = append(s.Coupons, c)
	}
	s.Coupons = append(s.Coupons, store.SurveyedCoupon{CouponReads: store.CouponReads{Coupon: "K001", Pulls: []store.PullReads{}},
		Fits: []int{}})
	return s
}

// lastSurvey is the survey that a study has.
func lastSurvey(s *store.Store) (found *store.Survey, err error) {
	err = s.View(context.Background(), func(v *store.View) error {
		found, err = v.Survey()
		return err
	})
	return found, err
}

func TestSurveyIsKept(t *testing.T) {
	s, _ := enrolled(t)
	none, err := lastSurvey(s)
	require.NoError(t, err)
	assert.Nil(t, none)
	want := surveyed()
	for range 2 {
		want.LastLine++
		require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutSurvey(want) }))
	}
	got, err := lastSurvey(s)
	require.NoError(t, err)
	assert.Equal(t, &want, got, "the last one")
	require.NoError(t, s.Close())
}

// A survey that was cut short, or that names a list of spots that did not come before, is no survey.
func TestDamagedSurvey(t *testing.T) {
	whole := store.PackSurvey(surveyed().Coupons)
	coupons, err := store.UnpackSurvey(whole)
	require.NoError(t, err)
	assert.Equal(t, surveyed().Coupons, coupons)
	for n := range whole {
		_, err := store.UnpackSurvey(whole[:n])
		assert.Error(t, err, "%d of %d bytes", n, len(whole))
	}
	for name, bad := range map[string][]byte{"more": append(whole[:len(whole):len(whole)], 0),
		"many coupons": {255, 255, 255, 255, 127}, "list": {1, 1, 'a', 1, 0, 0, 0, 0, 3, 0}} {
		_, err := store.UnpackSurvey(bad)
		assert.Error(t, err, name)
	}
}

// Whatever bytes stand for a survey, they are read or refused.
func FuzzSurvey(f *testing.F) {
	f.Add(store.PackSurvey(surveyed().Coupons))
	f.Add([]byte{})
	f.Add([]byte{1, 1, 'a', 1, 0, 0, 0, 0, 200, 1})
	f.Fuzz(func(t *testing.T, data []byte) {
		coupons, err := store.UnpackSurvey(data)
		if err == nil {
			again, err := store.UnpackSurvey(store.PackSurvey(coupons))
			require.NoError(t, err)
			assert.Equal(t, coupons, again)
		}
	})
}
