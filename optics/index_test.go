package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

func n(t *testing.T, x optics.Index, nm float64) float64 {
	t.Helper()
	v, err := x.At(nm)
	require.NoError(t, err)
	return real(v)
}

// Source: indices_check.csv, each row with its handbook.
func TestIndicesAtHandbookWavelengths(t *testing.T) {
	materials := map[string]optics.Index{
		"fused_silica": optics.FusedSilica(), "soda_lime_clear": optics.SodaLime(),
		"borosilicate_crown": optics.BorosilicateCrown(),
	}
	// Half a unit of the last digit printed; soda-lime glass is made in many
	// melts and its handbook figure is for window glass at large.
	handbook := map[string]float64{"fused_silica": 5e-6, "soda_lime_clear": 5e-4, "borosilicate_crown": 5e-6}
	for _, row := range records(t, "indices_check.csv", 13) {
		name, nm := row["material"], number(t, row["wavelength_um"])*1e3
		x, known := materials[name]
		require.True(t, known, name)
		got := n(t, x, nm)
		assert.InDelta(t, number(t, row["n_computed"]), got, 1e-9, "%s at %g nm: formula to the 10 digits given", name, nm)
		assert.InDelta(t, number(t, row["n_handbook"]), got, handbook[name], "%s at %g nm: %s", name, nm,
			row["handbook_source"])
	}
}

// Source: SCHOTT catalogue of 2017-01-20 (edition b), νd = 64.17 of N-BK7 (glass code 517642); half a unit of its
// last digit. The d, F and C lines are at 587.5618, 486.1327 and 656.2725 nm (from memory).
func TestAbbeNumberOfBorosilicateCrown(t *testing.T) {
	x := optics.BorosilicateCrown()
	abbe := (n(t, x, 587.5618) - 1) / (n(t, x, 486.1327) - n(t, x, 656.2725))
	assert.InDelta(t, 64.17, abbe, 0.005)
}

// Source: M. Rubin, Sol. Energy Mater. 12, 275-288 (1985), rows of the table of
// k, clear and low-iron, as in refractiveindex.info-database (CC0).
func TestExtinctionOfSodaLimeGlass(t *testing.T) {
	cases := []struct {
		name          string
		nm            float64
		clear, lowFer float64
	}{
		{"extension holds the first row", 300, 4.996e-5, 1.191e-5},
		{"first row", 310, 4.996e-5, 1.191e-5},
		{"a row", 550, 2.200e-7, 4.632e-8},
		{"between rows", 1050, (4.591e-6 + 5.111e-6) / 2, (1.020e-6 + 1.132e-6) / 2},
		{"last row", 4600, 7.437e-4, 1.054e-3},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a, err := optics.SodaLime().At(c.nm)
			require.NoError(t, err)
			b, err := optics.LowIron().At(c.nm)
			require.NoError(t, err)
			assert.InEpsilon(t, c.clear, imag(a), 1e-12, "rounding only")
			assert.InEpsilon(t, c.lowFer, imag(b), 1e-12, "rounding only")
			assert.Equal(t, real(a), real(b), "the source gives both one n")
		})
	}
}

func TestVacuumIsTheZeroIndex(t *testing.T) {
	var vacuum optics.Index
	lo, hi := vacuum.RangeNM()
	assert.Equal(t, 0.0, lo)
	assert.True(t, math.IsInf(hi, 1))
	assert.Equal(t, "vacuum", vacuum.Name())
	assert.Equal(t, 1.0, n(t, vacuum, 1e-3))
}

func TestShiftedKeepsDispersionExtinctionAndRange(t *testing.T) {
	glass := optics.SodaLime()
	shifted := glass.Shifted(0.01).Shifted(-0.03)
	for _, nm := range []float64{300, 555, 1234, 4600} {
		a, err := glass.At(nm)
		require.NoError(t, err)
		b, err := shifted.At(nm)
		require.NoError(t, err)
		assert.InDelta(t, real(a)-0.02, real(b), 1e-15, "two additions rounded")
		assert.Equal(t, imag(a), imag(b))
	}
	_, err := shifted.At(4601)
	var outside *optics.RangeError
	require.ErrorAs(t, err, &outside)
	assert.Equal(t, optics.RangeError{Index: "soda-lime glass -0.02", NM: 4601, LoNM: 300, HiNM: 4600}, *outside)
	assert.EqualError(t, err, "optics: index of soda-lime glass -0.02 is known from 300 to 4600 nm, not at 4601 nm")
}

func TestIndicesAreNotExtrapolated(t *testing.T) {
	for _, x := range []optics.Index{optics.FusedSilica(), optics.SodaLime(), optics.LowIron(),
		optics.BorosilicateCrown()} {
		lo, hi := x.RangeNM()
		for _, nm := range []float64{lo, hi} {
			_, err := x.At(nm)
			assert.NoError(t, err, "%s at its own end, %g nm", x.Name(), nm)
		}
		for _, nm := range []float64{math.Nextafter(lo, 0), math.Nextafter(hi, 1e9)} {
			_, err := x.At(nm)
			var outside *optics.RangeError
			require.ErrorAs(t, err, &outside, "%s at %g nm", x.Name(), nm)
			assert.Equal(t, optics.RangeError{Index: x.Name(), NM: nm, LoNM: lo, HiNM: hi}, *outside)
		}
	}
}

func TestOnNamesTheWavelengthAtFault(t *testing.T) {
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := optics.FusedSilica().On(nil, []float64{500, bad})
		var domain *optics.DomainError
		require.ErrorAs(t, err, &domain, "%g nm", bad)
		assert.Equal(t, "wavelength", domain.Quantity)
		assert.Equal(t, 1, domain.At)
		_, err = optics.FusedSilica().At(bad)
		require.ErrorAs(t, err, &domain, "%g nm", bad)
		assert.Equal(t, -1, domain.At)
	}
	_, err := optics.FusedSilica().On(nil, []float64{500, 4000})
	var outside *optics.RangeError
	require.ErrorAs(t, err, &outside)
	assert.Equal(t, 4000.0, outside.NM)
}

func TestOnFillsTheSliceGiven(t *testing.T) {
	dst := make([]complex128, 2)
	got, err := optics.Constant("oil", 1.5+0.1i).On(dst, []float64{900, 300})
	require.NoError(t, err)
	assert.Equal(t, []complex128{1.5 + 0.1i, 1.5 + 0.1i}, got)
	assert.Same(t, &dst[0], &got[0])
	assert.PanicsWithValue(t, "optics: dst and wavelengths differ in length", func() {
		_, _ = optics.FusedSilica().On(dst, []float64{500})
	})
}

func TestIndexMustBePhysical(t *testing.T) {
	cases := []struct {
		name  string
		index optics.Index
	}{
		{"gain", optics.Constant("a laser", 1.5-0.1i)},
		{"no n", optics.Constant("nothing", 0)},
		{"not a number", optics.Constant("nothing", complex(math.NaN(), 0))},
		{"infinite k", optics.Constant("a wall", complex(1, math.Inf(1)))},
		{"shifted away", optics.FusedSilica().Shifted(-2)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.index.At(500)
			var domain *optics.DomainError
			require.ErrorAs(t, err, &domain)
			assert.Contains(t, domain.Quantity, c.index.Name())
			assert.Equal(t, -1, domain.At)
		})
	}
}
