package film

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// The whole law against SciPy: parameters, standard errors and signed sensitivities of a spot with all owners and the
// structure of its film free. Source: testdata/scipy_law.py, a program of its own, with the versions in scipy_law.json.
func TestLawAgainstSciPy(t *testing.T) {
	type quantity struct {
		Value, U      float64
		Sensitivities map[string]float64
	}
	var want struct {
		Sigma, Cost float64
		NM, Angles  []float64
		Spectra     [][]float64
		Params      map[string][2]float64
		Quantities  map[string]quantity
	}
	text, err := os.ReadFile("testdata/scipy_law.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &want))
	spot := &Spot{Setup: Setup{Glass: Glass{Index: optics.BorosilicateCrown(), UIndex: 0.001}}}
	for k, angle := range want.Angles {
		spot.Curves = append(spot.Curves, Curve{NM: want.NM, R: want.Spectra[k], AngleDeg: angle, Pol: optics.U, NoiseSD: want.Sigma})
	}
	usual := fitSettings
	defer func() { fitSettings = usual }()
	fitSettings.CostTol = 0 // to the last digits, so that the derivatives are those at the same point
	v, err := Fit(context.Background(), spot)
	require.NoError(t, err)
	require.NotNil(t, v.structured)
	require.Equal(t, 1.0, v.full.inflation())
	assert.InEpsilon(t, want.Cost, v.full.cost, 1e-8) // what the compression of the curves leaves
	free := 0
	for i, p := range v.full.params {
		if p.Fixed {
			continue
		}
		free++
		w, ok := want.Params[p.Name]
		require.True(t, ok, p.Name)
		assert.InDelta(t, w[0], v.full.x[i], 1e-5*w[1], p.Name)
		assert.InEpsilon(t, w[1], math.Sqrt(v.full.cov.At(i, i)), 1e-6, "standard error of %s", p.Name)
	}
	assert.Len(t, want.Params, free)

	flat := make([]float64, len(want.NM))
	for i := range flat {
		flat[i] = 1 / float64(len(flat))
	}
	probe, err := NewProbe(want.NM, flat, 0, optics.U, spot.Glass.Index, spot.Coating)
	require.NoError(t, err)
	names := []string{"mean", "solid"}
	errors, err := v.Errors(Measurand{Mean: probe}, Measurand{Name: Solid})
	require.NoError(t, err)
	for q, e := range []Estimate{v.Mean(probe), v.SolidNM} {
		w := want.Quantities[names[q]]
		assert.InDelta(t, w.Value, e.Value, 1e-5*w.U, names[q])
		assert.InEpsilon(t, w.U, e.U, 1e-6, names[q])
		shared := 0
		for r, effect := range errors.Effects {
			a, ok := w.Sensitivities[effect.Name]
			require.True(t, ok, effect.Name)
			assert.InDelta(t, a, errors.By.At(r, q), 1e-6*w.U, "%s by %s", names[q], effect.Name)
			shared++
		}
		assert.Equal(t, 19, shared, "coating, batch, coupon and leak, three structures of the spot; twelve of the session")
	}
}
