package film_test

import (
	"context"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/testdata/foreign"
)

// joinOf returns the join that a verdict flags; ok is false if it flags none.
func joinOf(t *testing.T, flags []string) (nm, step float64, ok bool) {
	for _, f := range flags {
		text, is := strings.CutPrefix(f, "join:")
		if !is {
			continue
		}
		at, size, _ := strings.Cut(text, "=")
		var err error
		nm, err = strconv.ParseFloat(at, 64)
		require.NoError(t, err)
		step, err = strconv.ParseFloat(size, 64)
		require.NoError(t, err)
		return nm, step, true
	}
	return 0, 0, false
}

// A step of the detector that nobody registered is found where it is and as large as it is; other misfits, such as leached
// glass, are not taken for one.
func TestUnregisteredJoin(t *testing.T) {
	const runs = 20
	r, err := newReader(foreign.Standard())
	require.NoError(t, err)
	found, misfits := map[string]int{}, map[string]int{}
	for run := range uint64(runs) {
		for _, fault := range []string{"join", "leached-glass", ""} {
			law := foreign.Prior()
			if fault != "" {
				law = law.Beyond(fault)
			}
			law.NoiseSD = 0.0002
			spot := foreign.SceneNamed("patchy").Run(law, 91, run)
			v, err := r.fit(spot.Curves)
			require.NoError(t, err)
			if (&outcome{flags: v.Flags}).hasFlag("misfit") {
				misfits[fault]++
			}
			nm, step, ok := joinOf(t, v.Flags)
			if !ok {
				continue
			}
			found[fault]++
			if fault == "join" {
				assert.InDelta(t, spot.Session.JoinNM, nm, 10, "nm")
				assert.InDelta(t, spot.Session.JoinStep, step, 2e-4)
			}
		}
	}
	t.Logf("misfits %v, joins %v of %d", misfits, found, runs)
	assert.GreaterOrEqual(t, found["join"], misfits["join"]*9/10)
	assert.Greater(t, misfits["join"], runs*3/4)
	assert.LessOrEqual(t, found["leached-glass"], 1)
	assert.Zero(t, found[""])
}

// What is left after the trial of a join is what a fit with that join registered leaves: no misfit.
func TestRegisteredJoinEndsTheMisfit(t *testing.T) {
	law := foreign.Prior().Beyond("join").Set("join-wavelength", 862)
	law.NoiseSD = 0.0002
	spot := foreign.SceneNamed("patchy").Run(law, 91, 3)
	r, err := newReader(foreign.Standard())
	require.NoError(t, err)
	v, err := r.fit(spot.Curves)
	require.NoError(t, err)
	nm, _, ok := joinOf(t, v.Flags)
	require.True(t, ok, v.Flags)
	setup := r.setup
	setup.Instrument = film.Instrument{JoinsNM: []float64{nm}, UJoin: 1}
	registered, err := film.Fit(context.Background(), spotOf(setup, spot.Curves))
	require.NoError(t, err)
	assert.NotContains(t, registered.Flags, "misfit")
	_, _, again := joinOf(t, registered.Flags)
	assert.False(t, again)
}
