package solar_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/solar"
)

// Shares of currents against testdata/oblique.py: NumPy 1.24, trapz over the union of the table of am15g.csv and the
// wavelengths of the response, with the constants of SciPy 1.10. An ideal device of 1.5 eV has that share of the current of
// one of 1.12 eV which the latter has up to the edge of the former.
func TestCurrentAgainstNumPy(t *testing.T) {
	for gaps, want := range map[[2]float64]float64{{1.5, 1.12}: 289.72648512211435 / 438.10807519669726,
		{1.1242, 1.12}: 436.4058806138264 / 438.10807519669726} {
		high, err := solar.IdealStep(gaps[0])
		require.NoError(t, err)
		low, err := solar.IdealStep(gaps[1])
		require.NoError(t, err)
		_, share, err := low.Weigh(high.NM)
		require.NoError(t, err)
		assert.InEpsilon(t, want, share, 1e-9, "%g eV", gaps)
	}
	triangle := solar.Response{NM: []float64{400, 600, 1000}, Share: []float64{0.2, 0.9, 0.5}}
	w, share, err := triangle.Weigh([]float64{300, 2500})
	require.NoError(t, err)
	assert.InDelta(t, 1, share, 1e-12)
	assert.InEpsilon(t, 0.6986630100670559, w[0]*0.3+w[1]*2.5, 1e-9, "the mean of y = λ/1000")
	_, share, err = triangle.Weigh([]float64{500, 700, 2500})
	require.NoError(t, err)
	assert.InEpsilon(t, 0.9191132567287217, share, 1e-9)
}

// A response of 1 everywhere weighs as photons do.
func TestFlatResponseIsPhotons(t *testing.T) {
	nm := solar.Grid(300, 1200)
	want, _, err := solar.Weights(nm, 300, 1200, solar.Photon)
	require.NoError(t, err)
	flat := solar.Response{NM: []float64{300, 1200}, Share: []float64{0.7, 0.7}}
	got, share, err := flat.Weigh(nm)
	require.NoError(t, err)
	assert.InDelta(t, 1, share, 1e-12)
	assert.InDeltaSlice(t, want, got, 1e-12)
}

func TestResponseRefuses(t *testing.T) {
	var domain *optics.DomainError
	for _, gap := range []float64{0, -1, 0.2, 9, math.NaN(), math.Inf(1)} {
		_, err := solar.IdealStep(gap)
		assert.ErrorAs(t, err, &domain, "%g eV", gap)
	}
	for _, r := range []solar.Response{{}, {NM: []float64{400, 300}, Share: []float64{1, 1}},
		{NM: []float64{400, 500}, Share: []float64{1}}, {NM: []float64{400, 500}, Share: []float64{1, -1}}} {
		_, _, err := r.Weigh([]float64{300, 1200})
		assert.ErrorAs(t, err, &domain)
	}
	var band *solar.BandError
	dark := solar.Response{NM: []float64{400, 500}, Share: []float64{0, 0}}
	_, _, err := dark.Weigh([]float64{300, 1200})
	assert.ErrorAs(t, err, &band)
	_, _, err = (&solar.Response{NM: []float64{400, 500}, Share: []float64{1, 1}}).Weigh([]float64{600, 700})
	assert.ErrorAs(t, err, &band)
	_, _, err = (&solar.Response{NM: []float64{5000, 6000}, Share: []float64{1, 1}}).Weigh([]float64{300, 7000})
	assert.ErrorAs(t, err, &band)
}
