package evaluate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// A pane is known by the transmittance of its blank at the smallest angle; one of the same session leaves the scale to
// the blank's placement, one of another session has a scale of its own.
func TestPaneByItsBlank(t *testing.T) {
	setup := evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: optics.Bare, ULoss: 0.25}}
	nm := []float64{400, 500, 600, 700, 800, 900, 1000, 1100}
	reading := func(q study.Quantity, angle float64) study.Reading {
		_, through, err := optics.Pane{Glass: setup.Glass.Index, GlassMM: 3.2, Back: optics.Bare}.RT(nil, nil, nm, angle, optics.U)
		require.NoError(t, err)
		return study.Reading{Place: study.Place{Quantity: q, AngleDeg: angle, Polarisation: "u"}, NM: nm, Values: through}
	}
	b, err := evaluate.PaneBlank(setup, []study.Reading{reading(study.Reflectance, 0)})
	require.NoError(t, err)
	assert.Nil(t, b, "reflectance shows nothing of the pane")
	readings := []study.Reading{reading(study.Transmittance, 8), reading(study.Transmittance, 0)}
	b, err = evaluate.PaneBlank(setup, readings)
	require.NoError(t, err)
	round, err := optics.Pane{Glass: setup.Glass.Index, GlassMM: 3.2}.RoundTrip(nm, 0)
	require.NoError(t, err)
	for i, a := range b.Absorbance { // of glass that absorbs, faces are exact to the order of its k only
		assert.InDelta(t, -math.Log(round[i])/2, a, 2e-6, "%g nm", nm[i])
	}
	assert.True(t, evaluate.CoversThrough(b, readings))
	wide := study.Reading{Place: study.Place{Quantity: study.Transmittance}, NM: []float64{380, 1100}, Values: []float64{0.9, 0.9}}
	assert.False(t, evaluate.CoversThrough(b, []study.Reading{wide}))
	matched := setup
	matched.Glass.Back = optics.Matched
	none, err := evaluate.PaneBlank(matched, readings)
	require.NoError(t, err)
	assert.Nil(t, none)

	known := film.DefaultKnown(optics.Bare)
	same, other := evaluate.WithBlank(setup, b, true), evaluate.WithBlank(setup, b, false)
	assert.Equal(t, known.Placement.UThrough, same.Known.Session.UThroughScale)
	assert.Zero(t, same.Glass.UPass)
	assert.Equal(t, known.Session.UThroughScale, other.Known.Session.UThroughScale)
	assert.Equal(t, math.Hypot(known.Session.UThroughScale, known.Placement.UThrough), other.Glass.UPass)
	assert.Same(t, b, other.Glass.Blank)
	assert.Nil(t, setup.Glass.Blank)
}
