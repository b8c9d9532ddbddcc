package store_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func TestLogComesBack(t *testing.T) {
	s, path := create(t)
	want := []study.Entry{*entry("new")}
	want[0].Number = 1
	for i, code := range []string{"C1", "C2", "C3"} {
		e := &study.Entry{At: "2031-03-02T08:00:00Z", Who: "bea", Verb: "enrol", Why: "new coupons came",
			Summary: "1 coupon: " + code}
		require.NoError(t, s.Write(t.Context(), e, func(tx *store.Tx) error {
			_, err := tx.AddCoupon(coupon(code, study.Blank, ""))
			return err
		}))
		require.EqualValues(t, i+2, e.Number)
		want = append(want, *e)
	}
	require.NoError(t, s.Close())
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	var got []study.Entry
	require.NoError(t, s.Log(t.Context(), func(e study.Entry) error { got = append(got, e); return nil }))
	want[0].Hash = got[0].Hash // which the making of the study does not hand out
	assert.Equal(t, want, got)
	assert.Equal(t, verified(t, s).Head, got[3].Hash)
	stop := errors.New("stop")
	require.ErrorIs(t, s.Log(t.Context(), func(study.Entry) error { return stop }), stop)
}
