package solar_test

import (
	"testing"

	"gonum.org/v1/gonum/floats"

	"wane/optics/solar"
)

// One weight vector for 401 wavelengths, and one weighted mean with it.
func BenchmarkWeights(b *testing.B) {
	nm := floats.Span(make([]float64, 401), 380, 1100)
	y := make([]float64, len(nm))
	b.Run("vector", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, _, err := solar.Weights(nm, 300, 2500, solar.Energy); err != nil {
				b.Fatal(err)
			}
		}
	})
	w, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("mean", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			_ = floats.Dot(w, y)
		}
	})
}
