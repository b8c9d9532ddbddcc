package evaluate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
)

// register is made up: a plain instrument and one that is known, a reference certified
// twice and one known badly.
func register() *study.Roster {
	return &study.Roster{
		Instruments: []study.Instrument{
			{Instrument: "plain", ConeDeg: study.Null(), SlitNM: study.Null(), UJoin: study.Null()},
			{Instrument: "known", ConeDeg: 2, SlitNM: 5, JoinsNM: []float64{860}, UJoin: 0.001},
		},
		References: []study.Reference{
			{Reference: "M1", Issued: "2026-01-01", Expires: "2026-12-31", UScale: 0.003},
			{Reference: "M1", Issued: "2027-02-01", Expires: "2028-01-31", UScale: 0.002},
			{Reference: "M2", Issued: "2026-01-01", Expires: "2026-12-31", UScale: 0.03},
			{Reference: "M3", Issued: "2026-01-01", UScale: study.Null()},
		},
		Sessions: []study.Session{
			{Session: "nothing known", Instrument: "plain", Date: "2026-03-01"},
			{Session: "no certificate yet", Instrument: "plain", Date: "2025-03-01", Reference: "M1"},
			{Session: "no uncertainty", Instrument: "plain", Date: "2026-03-01", Reference: "M3"},
			{Session: "first", Instrument: "known", Date: "2026-03-01", Reference: "M1"},
			{Session: "expired", Instrument: "plain", Date: "2027-01-15", Reference: "M1"},
			{Session: "second", Instrument: "plain", Date: "2027-02-01", Reference: "M1"},
			{Session: "bad and expired", Instrument: "plain", Date: "2027-03-01", Reference: "M2"},
			{Session: "instrument only", Instrument: "known", Date: "2026-03-01"},
		},
	}
}

// Sessions of which nothing better is known than of others are not there; an expired
// certificate makes nothing surer.
func TestRegisteredConditions(t *testing.T) {
	known := film.Instrument{ConeDeg: 2, SlitNM: 5, JoinsNM: []float64{860}, UJoin: 0.001}
	assert.Equal(t, map[string]evaluate.Conditions{
		"first":           {Instrument: known, UScale: 0.003},
		"second":          {UScale: 0.002},
		"bad and expired": {UScale: 0.03},
		"instrument only": {Instrument: known},
	}, evaluate.RegisteredConditions(register()))
}

func TestConditionsEnterSetupAndDigest(t *testing.T) {
	all := evaluate.RegisteredConditions(register())
	plain := evaluate.Setup{Texture: true}
	got := all["first"].Under(plain)
	assert.Equal(t, 2.0, got.ConeDeg)
	assert.Equal(t, []float64{860}, got.JoinsNM)
	assert.True(t, got.Texture, "the rest stays")
	want := film.DefaultKnown(plain.Glass.Back)
	want.Session.UScale, want.Session.Scale = 0.003, 1
	require.NotNil(t, got.Known)
	assert.Equal(t, want, *got.Known)
	assert.Nil(t, all["instrument only"].Under(plain).Known, "the default")

	seen := map[[32]byte]string{{1}: "no register"}
	for name, c := range all {
		d := c.Digest([32]byte{1})
		assert.Empty(t, seen[d], name)
		seen[d] = name
		assert.Equal(t, d, c.Digest([32]byte{1}))
		assert.NotEqual(t, d, c.Digest([32]byte{2}))
	}
}

func TestCheckInstrument(t *testing.T) {
	good := register().Instruments[1]
	require.NoError(t, evaluate.CheckInstrument(&good))
	wide, joins := good, good
	wide.ConeDeg, joins.JoinsNM = 40, []float64{860, 350}
	for fault, i := range map[string]study.Instrument{"instrument known: a cone of half-angle 40 degrees": wide,
		"instrument known: the detector joins do not rise": joins} {
		var r *study.Refusal
		require.ErrorAs(t, evaluate.CheckInstrument(&i), &r)
		assert.Contains(t, r.Fault, fault)
		assert.NotEmpty(t, r.Try)
	}
}
