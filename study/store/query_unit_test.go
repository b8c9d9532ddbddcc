package store_test

import (
	"crypto/sha256"
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func hexOf(sum [sha256.Size]byte) string { return hex.EncodeToString(sum[:]) }

func allUnits(t testing.TB, s *store.Store) []store.Unit {
	t.Helper()
	units, err := s.Units(t.Context())
	require.NoError(t, err)
	return units
}

func TestUnits(t *testing.T) {
	s, _ := enrolled(t)
	assert.Empty(t, allUnits(t, s))

	onlyT := study.Unit{Coupon: "C001", Pull: 0, Spot: "t"}
	e, readings := export("t.csv", onlyT, 8)
	readings[0].Quantity = study.Transmittance
	_, err := add(t, s, e, readings)
	require.NoError(t, err)
	put(t, s, fitOf(onlyT, 9))
	alone := allUnits(t, s)
	require.Len(t, alone, 1, "a unit of transmittance alone is one")
	assert.Equal(t, onlyT, alone[0].Unit)
	assert.Equal(t, 1, alone[0].Through)
	assert.Equal(t, 1, alone[0].Counted)

	// Pulls are numbers, the other parts are bytes: 2 before 10 is not tested by a
	// text order, "Z" comes before "a".
	want := []study.Unit{
		{Coupon: "C001", Pull: 0, Spot: "Z"}, {Coupon: "C001", Pull: 0, Spot: "a"}, onlyT,
		{Coupon: "C001", Pull: 2, Spot: "a"}, {Coupon: "C001", Pull: 2, Spot: "a",
			Condition: "rinsed"}, {Coupon: "C002", Pull: 1, Spot: "a"},
	}
	for i := range want {
		if u := want[len(want)-1-i]; u != onlyT {
			takeIn(t, s, u)
		}
	}
	put(t, s, fitOf(want[3], 5))
	put(t, s, fitOf(want[3], 6))
	units := allUnits(t, s)
	require.Len(t, units, len(want))
	seen := map[[32]byte]bool{}
	for i, u := range units {
		assert.Equal(t, want[i], u.Unit)
		seen[u.Readings] = true
		switch i {
		case 2:
			assert.Equal(t, fitOf(onlyT, 9).Digest, u.Fit)
		case 3:
			assert.Equal(t, fitOf(want[3], 6).Digest, u.Fit)
		default:
			assert.Zero(t, u.Fit)
		}
	}
	assert.Len(t, seen, len(want), "digests differ")

	t.Run("another reading alters the digest of its unit alone", func(t *testing.T) {
		e, readings := export("more.csv", want[1], 60)
		readings[0].Quantity = study.Transmittance
		_, err := add(t, s, e, readings)
		require.NoError(t, err)
		for i, u := range allUnits(t, s) {
			if i == 1 {
				assert.NotEqual(t, units[i].Readings, u.Readings)
			} else {
				assert.Equal(t, units[i], u)
			}
		}
	})
}
