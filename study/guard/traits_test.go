package guard_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/guard"
)

// By hand: the mean of straight lines between points is the area under them over 50 nm.
func TestBands(t *testing.T) {
	for _, c := range []struct {
		name       string
		nm, values []float64
		first      int
		bands      []float64
	}{
		{"a roof", []float64{300, 325, 350}, []float64{0, 1, 0}, 300, []float64{0.5}},
		{"a line off the edges", []float64{293, 307, 341, 362, 405, 420},
			[]float64{0.0293, 0.0307, 0.0341, 0.0362, 0.0405, 0.042}, 300, []float64{0.0325, 0.0375}},
		{"points on the edges", []float64{350, 400, 450}, []float64{0.1, 0.2, 0.1}, 350, []float64{0.15, 0.15}},
		{"a gap wider than a band", []float64{400, 600}, []float64{0, 0.4}, 400, []float64{0.05, 0.15, 0.25, 0.35}},
		{"rounded to 1e-7", []float64{400, 450}, []float64{0.12345678, 0.12345678}, 400, []float64{0.1234568}},
		{"just short of a band", []float64{400.5, 450}, []float64{1, 1}, 0, nil},
		{"one point", []float64{400}, []float64{1}, 0, nil},
		{"none", nil, nil, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := guard.TraitsOf(c.nm, c.values)
			assert.Equal(t, c.first, got.FirstBandNM)
			assert.InDeltaSlice(t, c.bands, got.Bands, 1e-15)
			assert.Len(t, got.Bands, len(c.bands))
		})
	}
}

// Of Gaussian noise the estimate comes out at its standard deviation: within 2 % for 40,001
// points, of which the estimate's own standard deviation is some 0.6 %.
func TestTraitsNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	nm := steps(300, 2300, 0.05)
	values := make([]float64, len(nm))
	for i := range values {
		values[i] = 0.04 + 0.0004*rng.NormFloat64()
	}
	assert.InEpsilon(t, 0.0004, guard.TraitsOf(nm, values).Noise, 0.02)
	assert.Zero(t, guard.TraitsOf(nm[:2], values[:2]).Noise)
}

func curve401() (nm, values []float64) {
	rng := rand.New(rand.NewPCG(5, 6))
	nm = steps(300, 1100, 2)
	for range nm {
		values = append(values, 0.04+0.0004*rng.NormFloat64())
	}
	return nm, values
}

func TestTraitsAllocateBandsAndDeviationsOnly(t *testing.T) {
	nm, values := curve401()
	assert.LessOrEqual(t, testing.AllocsPerRun(20, func() { guard.TraitsOf(nm, values) }), 2.0)
}

func BenchmarkTraits401(b *testing.B) {
	nm, values := curve401()
	b.ReportAllocs()
	for b.Loop() {
		guard.TraitsOf(nm, values)
	}
}
