package film_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// A probe of a sum finds the sum of what its parts find, of film and of glass, and its variance is that of the sum by the
// errors of the parts, effect by effect.
func TestProbeOfASum(t *testing.T) {
	spot := madeUpSpot(112, 0.34)
	v, err := film.Fit(context.Background(), spot)
	require.NoError(t, err)
	nm := []float64{400, 500, 600, 700, 800, 900, 1000}
	var parts []*film.Probe
	for i, angle := range []float64{0, 60, 75} {
		w := make([]float64, len(nm))
		for k := range w {
			w[k] = 0.1 * float64(i+1) / 6
		}
		p, err := film.NewProbe(nm, w, angle, optics.U, spot.Setup.Glass.Index, spot.Setup.Coating)
		require.NoError(t, err)
		parts = append(parts, p)
	}
	sum := film.SumOf(parts)
	var mean, bare float64
	var asked []film.Measurand
	for _, p := range parts {
		mean, bare = mean+v.Mean(p).Value, bare+v.BareMean(p).Value
		asked = append(asked, film.Measurand{Mean: p})
	}
	assert.InDelta(t, mean, v.Mean(sum).Value, 1e-14)
	assert.InDelta(t, bare, v.BareMean(sum).Value, 1e-14)
	e, err := v.Errors(asked...)
	require.NoError(t, err)
	variance := 0.0
	for a := range parts {
		for b := range parts {
			variance += e.Own.At(a, b)
		}
	}
	for k := range e.Effects {
		by := 0.0
		for q := range parts {
			by += e.By.At(k, q)
		}
		variance += by * by
	}
	assert.InEpsilon(t, variance, v.Mean(sum).U*v.Mean(sum).U, 1e-9)
}
