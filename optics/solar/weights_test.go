package solar_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/optics"
	"wane/optics/solar"
)

var weightings = []solar.Weighting{solar.Energy, solar.Photon}

// Source: weighted ordinates on the rows of the table at normal incidence, with
// reflectances of one lossless face: testdata/worked.py (NumPy 1.24.2), eight decimals
// each. They leave k of the glass out, which would show: 1e-7.
func TestWorkedReflectances(t *testing.T) {
	made := func(n float64) optics.Index { return optics.Constant("a made-up medium", complex(n, 0)) }
	soda := lossless(t, optics.SodaLime())
	coated := func(n, nm float64, glass optics.Index) optics.Stack {
		return optics.Stack{Films: []optics.Film{{Index: made(n), ThicknessNM: nm}}, Substrate: glass}
	}
	bands := [3][2]float64{{300, 1200}, {350, 1100}, {300, 2500}}
	cases := []struct {
		name  string
		stack optics.Stack
		by    solar.Weighting
		want  [3]float64
	}{
		{"bare glass", optics.Stack{Substrate: soda}, solar.Energy, [3]float64{0.04291074, 0.04290778, 0.04257633}},
		{"bare glass", optics.Stack{Substrate: soda}, solar.Photon, [3]float64{0.04261417, 0.04265794, 0.04202246}},
		{"1.25, 120 nm", coated(1.25, 120, soda), solar.Energy, [3]float64{0.00870698, 0.00768073, 0.01168242}},
		{"1.25, 120 nm", coated(1.25, 120, soda), solar.Photon, [3]float64{0.00888176, 0.00783842, 0.01481610}},
		{"1.30, 100 nm", coated(1.30, 100, soda), solar.Energy, [3]float64{0.01114430, 0.01026275, 0.01431355}},
		{"1.30, 100 nm", coated(1.30, 100, soda), solar.Photon, [3]float64{0.01278603, 0.01177422, 0.01857663}},
		{"1.38, 100 nm on 1.52", coated(1.38, 100, made(1.52)), solar.Energy, [3]float64{0.01855171, 0.01786120, 0.02100266}},
		{"1.38, 100 nm on 1.52", coated(1.38, 100, made(1.52)), solar.Photon, [3]float64{0.01942051, 0.01864719, 0.02406383}},
	}
	for _, c := range cases {
		for i, band := range bands {
			t.Run(fmt.Sprintf("%s, %s, %g-%g nm", c.name, c.by, band[0], band[1]), func(t *testing.T) {
				nm := solar.Grid(band[0], band[1])
				r, _, err := c.stack.RT(nil, nil, nm, 0, optics.U)
				require.NoError(t, err)
				w, share, err := solar.Weights(nm, band[0], band[1], c.by)
				require.NoError(t, err)
				assert.InDelta(t, c.want[i], floats.Dot(w, r), 5e-9, "half a unit of the last digit")
				assert.Equal(t, 1.0, share)
			})
		}
	}
}

// lossless returns x without its k, on the rows of the table.
func lossless(t *testing.T, x optics.Index) optics.Index {
	t.Helper()
	nm := solar.Grid(300, 2500)
	v, err := x.On(nil, nm)
	require.NoError(t, err)
	n := make([]float64, len(nm))
	for i := range v {
		n[i] = real(v[i])
	}
	out, err := optics.Table(x.Name(), nm, n, make([]float64, len(nm)))
	require.NoError(t, err)
	return out
}

// grid returns n increasing wavelengths from lo to hi with random gaps.
func grid(r *rand.Rand, n int, lo, hi float64) []float64 {
	nm := make([]float64, n)
	for i := range nm {
		nm[i] = 0.01 + r.Float64()
	}
	floats.CumSum(nm, nm)
	first, span := nm[0], nm[n-1]-nm[0]
	for i := range nm {
		nm[i] = lo + (hi-lo)*(nm[i]-first)/span
	}
	return nm
}

func TestConstantWeighsToItself(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 17))
	for range 200 {
		nm := grid(r, 2+r.IntN(600), 200+300*r.Float64(), 900+4000*r.Float64())
		for _, by := range weightings {
			w, share, err := solar.Weights(nm, 300, 2500, by)
			require.NoError(t, err)
			assert.InDelta(t, 1, floats.Sum(w), 1e-12, "rounding of some thousand terms")
			assert.True(t, share > 0 && share <= 1, "share %g", share)
			assert.GreaterOrEqual(t, floats.Min(w), 0.0)
		}
	}
}

// A curve that is linear between its points has the same weighted mean on any
// finer grid, where the product is formed at all of those wavelengths too: the
// mean of λ itself on two points, and on the rows of the table.
func TestCoarseCurveIsTakenAsLinear(t *testing.T) {
	rows := solar.Grid(300, 1200)
	for _, by := range weightings {
		fine, _, err := solar.Weights(rows, 300, 1200, by)
		require.NoError(t, err)
		coarse, share, err := solar.Weights([]float64{250, 1300}, 300, 1200, by)
		require.NoError(t, err)
		assert.InDelta(t, floats.Dot(fine, rows), floats.Dot(coarse, []float64{250, 1300}), 1e-9, "rounding, in nm")
		assert.Equal(t, 1.0, share)
	}
}

// A peak finer than the rows of the table, by hand: the product is formed at its
// own wavelengths, with the irradiance on the line from 2000 to 2005 nm.
func TestPeakBetweenTheRowsCounts(t *testing.T) {
	nm, irradiance := solar.Table()
	at := func(x float64) float64 { return irradiance[floats.NearestIdx(nm, x)] }
	lo, hi := at(2000), at(2005)
	w, _, err := solar.Weights([]float64{2000, 2001, 2002, 2004, 2005}, 2000, 2005, solar.Energy)
	require.NoError(t, err)
	peak := (lo + (hi-lo)*2/5) * (2004 - 2001) / 2
	assert.InEpsilon(t, peak/(5*(lo+hi)/2), w[2], 1e-13, "rounding")
}

// The energy-weighted mean wavelength is the photon integral over the energy
// integral, since the photon weight is E·λ: two routes to one number.
func TestMeanWavelengthIsPhotonsOverEnergy(t *testing.T) {
	const hc = 6.62607015e-34 * 299792458 // exact by definition of the SI
	for _, band := range [][2]float64{{300, 1200}, {300, 2500}, {333.3, 1707.7}} {
		nm := solar.Grid(band[0], band[1])
		w, _, err := solar.Weights(nm, band[0], band[1], solar.Energy)
		require.NoError(t, err)
		watts, err := solar.Irradiance(band[0], band[1])
		require.NoError(t, err)
		photons, err := solar.PhotonFlux(band[0], band[1])
		require.NoError(t, err)
		assert.InEpsilon(t, photons*hc*1e9/watts, floats.Dot(w, nm), 1e-13, "rounding")
	}
}

// The photon weight is the energy weight times λ, made to sum to 1.
func TestPhotonWeightsAreEnergyWeightsTimesWavelength(t *testing.T) {
	nm := solar.Grid(300, 1200)
	w, _, err := solar.Weights(nm, 300, 1200, solar.Energy)
	require.NoError(t, err)
	floats.Mul(w, nm)
	floats.Scale(1/floats.Sum(w), w)
	photon, _, err := solar.Weights(nm, 300, 1200, solar.Photon)
	require.NoError(t, err)
	assert.InDeltaSlice(t, w, photon, 1e-16, "rounding")
}

// Source: testdata/worked.py.
func TestShareOfTheBandThatIsCovered(t *testing.T) {
	cases := []struct {
		name                   string
		from, to, lo, hi, want float64
		by                     solar.Weighting
		within                 float64
	}{
		{"data inside the band", 350, 1100, 300, 2500, 790.7855 / 992.5775, solar.Energy, 1e-7},
		{"data beyond the band", 250, 3000, 300, 2500, 1, solar.Energy, 0},
		{"usual data", 380, 1100, 300, 2500, 0.77808, solar.Energy, 5e-6},
		{"photons", 300, 1100, 300, 1200, 2.716181 / 2.899569, solar.Photon, 1e-6},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			nm := floats.Span(make([]float64, 401), c.from, c.to)
			_, share, err := solar.Weights(nm, c.lo, c.hi, c.by)
			require.NoError(t, err)
			assert.InDelta(t, c.want, share, c.within, "digits given")
		})
	}
}

func TestValuesBeyondTheBandDoNotCount(t *testing.T) {
	w, _, err := solar.Weights([]float64{300, 400, 500, 600, 700, 800}, 450, 650, solar.Energy)
	require.NoError(t, err)
	assert.Zero(t, w[0])
	assert.Zero(t, w[5])
	for _, v := range w[1:5] {
		assert.Positive(t, v)
	}
}

func TestWeightsRefuse(t *testing.T) {
	for name, nm := range map[string][]float64{
		"nothing":  nil,
		"one":      {500},
		"falling":  {500, 400},
		"repeated": {400, 400},
		"negative": {-400, 400},
		"NaN":      {400, math.NaN()},
		"endless":  {400, math.Inf(1)},
	} {
		_, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
		var domain *optics.DomainError
		assert.ErrorAs(t, err, &domain, name)
	}
	_, _, err := solar.Weights([]float64{400, 600, 500}, 300, 2500, solar.Energy)
	assert.EqualError(t, err, "solar: could not weight a spectrum: optics: wavelength at position 2 is 500: it must be "+
		"greater than the one before, positive and finite, in nm")

	_, _, err = solar.Weights([]float64{400, 500}, 500, 2500, solar.Energy)
	assert.Equal(t, &solar.BandError{LoNM: 500, HiNM: 2500, Fault: "does not touch the spectrum", FromNM: 400,
		ToNM: 500}, err, "they only touch")
	_, _, err = solar.Weights([]float64{400, 500}, 100, 2500, solar.Energy)
	assert.Equal(t, &solar.BandError{LoNM: 100, HiNM: 2500, Fault: "is empty or reaches beyond the table", FromNM: 280,
		ToNM: 4000}, err)
}

// Common practice, no source: low-iron glass of 3.2 mm without a coating passes
// about 91 % of sunlight, ordinary window glass 3 to 7 points less.
func TestSolarTransmittanceOfBareSheets(t *testing.T) {
	nm := solar.Grid(300, 2500)
	w, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	sheet := func(glass optics.Index) float64 {
		_, T, err := optics.Pane{Glass: glass, GlassMM: 3.2, Back: optics.Bare}.RT(nil, nil, nm, 0, optics.U)
		require.NoError(t, err)
		return floats.Dot(w, T)
	}
	low, soda := sheet(optics.LowIron()), sheet(optics.SodaLime())
	assert.InDelta(t, 0.91, low, 0.015)
	assert.InDelta(t, 0.05, low-soda, 0.02)
}
