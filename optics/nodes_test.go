package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/optics"
)

// 1/λ² and a wave of 1/λ, by the formulas, on a grid and in a weighted sum over it; a polynomial of the wave number is
// met exactly, whatever the nodes.
func TestNodesOfSmoothSpectra(t *testing.T) {
	var nm, weights []float64
	for at := 300.0; at <= 2500; at += 7 {
		nm, weights = append(nm, at), append(weights, 1/at)
	}
	for n, spectra := range map[int]map[float64]func(nm float64) float64{
		3:  {1e-12: func(nm float64) float64 { return 0.04 + 9e3/(nm*nm) }},
		40: {1e-11: func(nm float64) float64 { return 0.02 - 0.02*math.Cos(4*math.Pi*156/nm) }},
	} {
		nodes := optics.NewNodes(nm, n)
		assert.Len(t, nodes.NM, n)
		assert.IsIncreasing(t, nodes.NM)
		for off, spectrum := range spectra {
			at, on, sum, want := make([]float64, n), make([]float64, len(nm)), 0.0, 0.0
			for j, lambda := range nodes.NM {
				at[j] = spectrum(lambda)
			}
			nodes.Spread(on, at)
			for j, w := range nodes.Weights(weights) {
				sum += w * at[j]
			}
			for i, lambda := range nm {
				assert.InDelta(t, spectrum(lambda), on[i], off)
				want += weights[i] * spectrum(lambda)
			}
			assert.InDelta(t, want, sum, off)
		}
	}
	node := optics.NewNodes([]float64{400, 500, 600}, 3).NM[1]
	through, value := optics.NewNodes([]float64{400, node, 600}, 3), make([]float64, 3)
	through.Spread(value, []float64{1, 2, 4})
	assert.Equal(t, 2.0, value[1], "at a node there is nothing to interpolate")
}
