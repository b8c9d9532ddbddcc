package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// madeUpLife is two events of a coupon, and what its exposure received by two days.
func madeUpLife() ([]study.CouponEvent, []study.DoseReading) {
	return []study.CouponEvent{
			{Coupon: "C002", Event: study.EventStop, Pull: study.Stated{Value: 0, Is: true}, Date: "2031-04-02",
				Dose: study.Stated{Value: 12.5, Is: true}, By: "N. N.", Note: "storm", Picture: `rack\1.jpg`},
			{Coupon: "C002", Event: study.EventClean, Date: "2031-04-02"},
		}, []study.DoseReading{
			{Exposure: "rack", Date: "2031-04-01", Value: 5.5, Unit: "days"},
			{Exposure: "rack", Date: "2031-04-02", Value: 0, Unit: "days"},
		}
}

// addLives adds them.
func addLives(tx *store.Tx) error {
	events, doses := madeUpLife()
	for _, e := range events {
		if _, err := tx.AddCouponEvent(e); err != nil {
			return err
		}
	}
	for _, d := range doses {
		if _, err := tx.AddDoseReading(d); err != nil {
			return err
		}
	}
	return nil
}

// Events and doses come back as they were given, once; null and 0 of a pull are not the same.
func TestLives(t *testing.T) {
	s, _ := enrolled(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addLives))
	events, doses := madeUpLife()
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Equal(t, events, roster.Lives)
	assert.Equal(t, doses, roster.Doses)

	other := events[0]
	other.Dose.Value = 13
	unknown := events[1]
	unknown.Coupon = "X001"
	odd := events[1]
	odd.Event = "painted"
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		for _, e := range events {
			added, err := tx.AddCouponEvent(e)
			require.NoError(t, err)
			assert.False(t, added, e)
		}
		added, err := tx.AddDoseReading(doses[1])
		require.NoError(t, err)
		assert.False(t, added)
		for _, c := range []struct {
			of   study.CouponEvent
			says string
		}{{other, "differs: dose was 12.5, and here it is 13"}, {unknown, "does not fit"}, {odd, "does not fit"}} {
			_, err := tx.AddCouponEvent(c.of)
			assert.ErrorContains(t, err, c.says)
		}
		_, err = tx.AddDoseReading(study.DoseReading{Exposure: "rack", Date: "2031-04-02", Value: 1, Unit: "days"})
		assert.ErrorContains(t, err, "the dose of exposure \"rack\" on 2031-04-02 is known already, and differs")
		read, err := tx.PullsRead("C001")
		assert.Empty(t, read)
		return err
	}))
}

// A pull that only another exposure plans counts for a coupon that went into that one, and for no other.
func TestPullsOfTransferredCoupons(t *testing.T) {
	s, _ := enrolled(t)
	to := study.CouponEvent{Coupon: "C002", Event: study.EventTransfer, Pull: study.Stated{Value: 1, Is: true},
		Exposure: "chamber"}
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddExposure(study.Exposure{Exposure: "chamber", DoseUnit: "hours"})
		require.NoError(t, err)
		_, err = tx.AddPull(study.Pull{Exposure: "chamber", Pull: 7, Dose: 500})
		require.NoError(t, err)
		_, err = tx.AddCouponEvent(to)
		return err
	}))
	take := func(code string) (added []study.Reading, err error) {
		unit := study.Unit{Coupon: code, Pull: 7, Spot: "a"}
		e, readings := export(code+".csv", unit, 8)
		readings[0].Position = "edge"
		err = s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
			_, err := tx.AddExport(e, how, readings)
			return err
		})
		if err == nil {
			added, err = s.Readings(t.Context(), unit)
		}
		return added, err
	}
	added, err := take("C002")
	require.NoError(t, err)
	require.Len(t, added, 1)
	assert.Equal(t, "edge", added[0].Position)
	_, err = take("C001")
	assert.Error(t, err)
}
