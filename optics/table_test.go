package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

func TestTableIsLinearBetweenItsRows(t *testing.T) {
	nm, n, k := []float64{400, 500, 700}, []float64{1.6, 1.5, 1.4}, []float64{0.02, 0.01, 0}
	x, err := optics.Table("a made-up glass", nm, n, k)
	require.NoError(t, err)
	nm[0], n[0], k[0] = 0, 0, 0 // the slices were copied

	// By hand: halfway from 400 to 500 nm, a quarter of the way from 500 to 700.
	cases := []struct{ nm, n, k float64 }{{400, 1.6, 0.02}, {450, 1.55, 0.015}, {550, 1.475, 0.0075}, {700, 1.4, 0}}
	for _, c := range cases {
		v, err := x.At(c.nm)
		require.NoError(t, err)
		assert.InDelta(t, c.n, real(v), 1e-15, "n at %g nm, rounding only", c.nm)
		assert.InDelta(t, c.k, imag(v), 1e-15, "k at %g nm, rounding only", c.nm)
	}
	for _, outside := range []float64{399.999, 700.001} {
		_, err := x.At(outside)
		assert.Equal(t, &optics.RangeError{Index: "a made-up glass", NM: outside, LoNM: 400, HiNM: 700}, err)
	}
}

func TestTableRefusesRows(t *testing.T) {
	cases := []struct {
		name     string
		nm, n, k []float64
		quantity string
		at       int
	}{
		{"none", nil, nil, nil, "number of rows of the table", -1},
		{"one", []float64{500}, []float64{1.5}, []float64{0}, "number of rows of the table", -1},
		{"falling", []float64{500, 400}, []float64{1.5, 1.5}, []float64{0, 0}, "wavelength", 1},
		{"repeated", []float64{500, 500}, []float64{1.5, 1.5}, []float64{0, 0}, "wavelength", 1},
		{"wavelength not a number", []float64{400, math.NaN()}, []float64{1.5, 1.5}, []float64{0, 0}, "wavelength", 1},
		{"no n", []float64{400, 500}, []float64{1.5, 0}, []float64{0, 0}, "n of glass", 1},
		{"gain", []float64{400, 500}, []float64{1.5, 1.5}, []float64{-0.1, 0}, "k of glass", 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := optics.Table("glass", c.nm, c.n, c.k)
			var domain *optics.DomainError
			require.ErrorAs(t, err, &domain)
			assert.Equal(t, c.quantity, domain.Quantity)
			assert.Equal(t, c.at, domain.At)
		})
	}
	assert.PanicsWithValue(t, "optics: columns of a table differ in length", func() {
		_, _ = optics.Table("glass", []float64{400, 500}, []float64{1.5}, []float64{0, 0})
	})
}
