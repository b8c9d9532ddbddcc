package solar_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/optics/solar"
)

// Source: ASTM G173-03, global tilt: 280 to 4000 nm in 2002 rows; the peak is
// from memory.
func TestTable(t *testing.T) {
	nm, irradiance := solar.Table()
	require.Len(t, nm, 2002)
	require.Len(t, irradiance, 2002)
	assert.Equal(t, 280.0, nm[0])
	assert.Equal(t, 4000.0, nm[2001])
	for i := 1; i < len(nm); i++ {
		assert.Greater(t, nm[i], nm[i-1])
	}
	peak := floats.MaxIdx(irradiance)
	assert.Equal(t, 495.0, nm[peak])
	assert.Equal(t, 1.6485, irradiance[peak])

	irradiance[0] = 1 // the copy only
	_, again := solar.Table()
	assert.Equal(t, 4.7309e-23, again[0])
}

// Source: plain trapezoids on the table, testdata/worked.py (NumPy 1.24.2). Published:
// 1000.37 W/m² in all; 4.6 % ultraviolet, 43 % visible, 52 % near infrared (from
// memory).
func TestIrradianceOfBands(t *testing.T) {
	cases := []struct{ lo, hi, watts, share float64 }{
		{280, 4000, 1000.3707, 1},
		{280, 400, 46.1027, 0.046086},
		{400, 700, 429.8311, 0.429672},
		{700, 2500, 516.6452, 0.516454},
		{2500, 4000, 7.7917, 0.007789},
		{380, 780, 534.4439, 0.534246},
		{300, 1200, 836.0903, 0.835781},
		{350, 1100, 790.7855, 0.790492},
		{300, 2500, 992.5775, 0.992210},
		{280, 1107, 807.8482, 0.807549},
	}
	all, err := solar.Irradiance(280, 4000)
	require.NoError(t, err)
	for _, c := range cases {
		watts, err := solar.Irradiance(c.lo, c.hi)
		require.NoError(t, err)
		assert.InDelta(t, c.watts, watts, 5e-5, "%g to %g nm, half a unit of the last digit", c.lo, c.hi)
		assert.InDelta(t, c.share, watts/all, 5e-7, "%g to %g nm, half a unit of the last digit", c.lo, c.hi)
	}
}

// Source: trapezoids of E·λ/(h·c) on the table with the exact SI values,
// testdata/worked.py; times the elementary charge they give 43 to 44 mA/cm² up to 1107 nm and about
// 46 up to 1200 nm, the usual limits of a silicon cell (from memory).
func TestPhotonFluxOfBands(t *testing.T) {
	const coulombs = 1.602176634e-19 // exact by definition of the SI
	cases := []struct{ lo, hi, flux, milliamperes float64 }{
		{280, 1107, 2.734451e21, 43.8107},
		{280, 1127, 2.760500e21, 44.2281},
		{300, 1100, 2.716181e21, 43.5180},
		{300, 1200, 2.899569e21, 46.4562},
		{350, 1200, 2.876404e21, 46.0851},
		{280, 4000, 4.305571e21, 68.9829},
	}
	for _, c := range cases {
		flux, err := solar.PhotonFlux(c.lo, c.hi)
		require.NoError(t, err)
		assert.InDelta(t, c.flux, flux, 5e14, "%g to %g nm, half a unit of the last digit", c.lo, c.hi)
		assert.InDelta(t, c.milliamperes, flux*coulombs*1e3/1e4, 5e-5, "%g to %g nm, mA/cm²", c.lo, c.hi)
	}
}

// Ends between rows are interpolated, so bands add up wherever they are cut.
func TestBandsAddUp(t *testing.T) {
	for _, cut := range []float64{280.1, 333.3, 400.0001, 1701, 3999.9} {
		left, err := solar.Irradiance(280, cut)
		require.NoError(t, err)
		right, err := solar.Irradiance(cut, 4000)
		require.NoError(t, err)
		all, err := solar.Irradiance(280, 4000)
		require.NoError(t, err)
		assert.InDelta(t, all, left+right, 1e-9, "cut at %g nm; rounding only", cut)
	}
	// By hand from the rows 0.0072100 at 3995 and 0.0071043 at 4000 nm.
	half, err := solar.Irradiance(3997.5, 4000)
	require.NoError(t, err)
	assert.InDelta(t, 2.5*(0.0071043+(0.0072100+0.0071043)/2)/2, half, 1e-15, "rounding")
}

func TestBandsBeyondTheTableAreRefused(t *testing.T) {
	for _, band := range [][2]float64{{279, 500}, {500, 4001}, {500, 500}, {600, 500}, {math.NaN(), 500},
		{300, math.NaN()}, {300, math.Inf(1)}} {
		_, err := solar.Irradiance(band[0], band[1])
		var got *solar.BandError
		require.ErrorAs(t, err, &got, "%v", band)
		assert.Equal(t, [2]float64{280, 4000}, [2]float64{got.FromNM, got.ToNM})
		_, err = solar.PhotonFlux(band[0], band[1])
		assert.ErrorAs(t, err, &got, "%v", band)
	}
	_, err := solar.Irradiance(279, 500)
	assert.EqualError(t, err, "solar: band from 279 to 500 nm is empty or reaches beyond the table, 280 to 4000 nm")
}

func TestGridHoldsTheRowsAndTheEnds(t *testing.T) {
	assert.Equal(t, []float64{399, 399.5, 400, 401, 402}, solar.Grid(399, 402))
	assert.Equal(t, []float64{1699.2, 1700, 1702, 1705, 1706}, solar.Grid(1699.2, 1706))
	assert.Equal(t, []float64{280, 280.5, 281}, solar.Grid(100, 281), "what is beyond the table is left out")
	assert.Empty(t, solar.Grid(100, 200))
	assert.Empty(t, solar.Grid(500, 400))
	all, _ := solar.Table()
	assert.Equal(t, all, solar.Grid(280, 4000))
}
