package film

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// noisySpot is a made-up spot of a film of the given optical thickness, from the
// model itself: what is compared here is the compressed with the whole.
func noisySpot(t *testing.T, glass Glass, tau, bare float64, seed uint64) *Spot {
	var nm []float64
	for x := 380.0; x <= 1180; x += 2 {
		nm = append(nm, x)
	}
	spot := &Spot{Setup: Setup{Glass: glass}}
	for _, a := range []float64{8, 30, 45, 60} {
		spot.Curves = append(spot.Curves, Curve{NM: nm, R: make([]float64, len(nm)), AngleDeg: a, Pol: 0.5})
	}
	m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1, 1, 1, 1})
	require.NoError(t, err)
	x := startVector(m.params(0))
	x[pTau], x[pIndex], x[pBare] = tau, 1.29, bare
	res := make([]float64, m.rows)
	m.residuals(res, x)
	rng := rand.New(rand.NewPCG(seed, 6))
	m.eachPoint(func(c *curve, i, at int) { c.r[i] = res[at] + 0.0005*rng.NormFloat64() })
	return spot
}

// The compressed fit is the fit on all points: same model, same minimum, same
// covariance, same flags, at both levels. With absorbing glass the agreement is
// that of its rough table of k, which a blackened far face returns too.
func TestCompressedIsTheWhole(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name  string
		glass Glass
		tau   float64
		cost  float64 // relative agreement of the sum of squares
		off   float64 // agreement of parameters, in their uncertainties
	}{
		{"lossless, thin", Glass{Index: optics.BorosilicateCrown()}, 152, 1e-8, 2e-3},
		{"lossless, thicker", Glass{Index: optics.BorosilicateCrown()}, 330, 1e-8, 2e-3},
		{"absorbing", Glass{Index: optics.SodaLime()}, 152, 1e-5, 2e-3},
		{"blackened", Glass{Index: optics.SodaLime(), Back: optics.Blackened}, 152, 1e-5, 2e-3},
		// what the polynomials leave of the steps of k, up to 4e-6, meets the noise
		{"blackened, absorbing pane", Glass{Index: optics.SodaLime(), Back: optics.Blackened, ThicknessMM: 3.2}, 152, 5e-5,
			1e-2},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(5) {
				spot := noisySpot(t, c.glass, c.tau, 0.08, seed)
				f := NewFitter(spot.Setup)
				short, err := f.Fit(ctx, spot)
				require.NoError(t, err)
				require.NotNil(t, short.model.curves[0].packed, "the curves were compressed")
				require.LessOrEqual(t, len(short.model.curves[0].nm), 40)
				sigma, err := spot.noise()
				require.NoError(t, err)
				whole, err := f.fitAllPoints(ctx, spot, sigma)
				require.NoError(t, err)
				require.Nil(t, whole.model.curves[0].packed)
				assert.InDelta(t, 1, short.chosen.cost/whole.chosen.cost, c.cost)
				assert.InDelta(t, 1, short.RMSResidual/whole.RMSResidual, c.cost)
				assert.Equal(t, whole.Points, short.Points)
				assert.Equal(t, whole.Flags, short.Flags)
				for i, want := range whole.chosen.x {
					u := math.Sqrt(whole.chosen.cov.At(i, i))
					assert.InDelta(t, want, short.chosen.x[i], c.off*u+1e-12, "parameter %d: far below its uncertainty", i)
					assert.InDelta(t, u, math.Sqrt(short.chosen.cov.At(i, i)), 1e-4*u, "uncertainty of parameter %d", i)
				}
			}
		})
	}
}

// The nodes of a grid are those of a Gauss quadrature: with n of them the sum over
// the grid of every polynomial in 1/wavelength up to degree 2n-1 is exact, weighted or
// not. Of two nodes it is Gauss's rule at ±1/√3 of a continuous weight (M. Abramowitz,
// I. A. Stegun, Handbook of Mathematical Functions (1964), table 25.4, from memory), which
// the dense grid approaches.
func TestGaussNodes(t *testing.T) {
	nm := make([]float64, 301)
	w := make([]float64, len(nm))
	for i := range nm {
		nm[i] = 380 + 2.4*float64(i)
		w[i] = 1 + math.Sin(float64(i))
	}
	for _, weight := range [][]float64{nil, w} {
		const n = 9
		g := gaussNodes(nm, weight, n)
		require.NotNil(t, g)
		for degree := range 2 * n {
			power := func(nm float64) float64 { return math.Pow(500/nm, float64(degree)) }
			want, got := 0.0, 0.0
			for i, x := range nm {
				if weight == nil {
					want += power(x)
				} else {
					want += weight[i] * power(x)
				}
			}
			for j, x := range g.nm {
				got += g.root[j] * g.root[j] * power(x)
			}
			assert.InDelta(t, 1, got/want, 1e-12, "degree %d", degree)
		}
	}
	even := make([]float64, 4001) // evenly spaced in 1/λ
	for i := range even {
		even[i] = 1 / (0.003 - 0.002*float64(i)/4000)
	}
	g := gaussNodes(even, nil, 2)
	for j, want := range []float64{1 / math.Sqrt(3), -1 / math.Sqrt(3)} { // Gauss-Legendre, two points (from memory)
		assert.InDelta(t, want, (1/g.nm[j]-0.002)/0.001, 1e-3)
	}
}

// Interpolation from the nodes is exact for polynomials in 1/wavelength, and what pack
// leaves out is what no polynomial gives.
func TestCompressionAlgebra(t *testing.T) {
	nm := make([]float64, 401)
	y := make([]float64, len(nm))
	poly := func(nm float64) float64 { u := 500 / nm; return 0.3 - u + 0.7*u*u*u }
	for i := range nm {
		nm[i] = 380 + 2*float64(i)
		y[i] = poly(nm[i])
	}
	g := gaussNodes(nm, nil, 14)
	z, back := make([]float64, 14), make([]float64, len(nm))
	rest := g.pack(z, y)
	assert.InDelta(t, 0, rest, 1e-12)
	for j, x := range g.nm {
		assert.InDelta(t, poly(x), z[j], 1e-12)
	}
	g.interpolate(back, z)
	for i := range y {
		assert.InDelta(t, y[i], back[i], 1e-12)
	}
	// Any curve: what is excluded is its distance from the polynomial that is packed.
	rng := rand.New(rand.NewPCG(2, 2))
	want := 0.0
	for i := range y {
		y[i] = rng.NormFloat64()
	}
	rest = g.pack(z, y)
	g.interpolate(back, z)
	for i := range y {
		want += (y[i] - back[i]) * (y[i] - back[i])
	}
	assert.InDelta(t, 1, rest/want, 1e-12)
}

// Where the surface is not smooth enough, or light comes back through an absorbing
// pane, all points are used.
func TestNotCompressed(t *testing.T) {
	kinked, err := optics.Table("kinked", []float64{300, 600, 2500}, []float64{1.6, 1.5, 1.52}, []float64{0, 0, 0})
	require.NoError(t, err)
	for name, glass := range map[string]Glass{
		"table with corners": {Index: kinked},
		"bare far face":      {Index: optics.SodaLime(), ThicknessMM: 3.2, Back: optics.Bare},
	} {
		t.Run(name, func(t *testing.T) {
			spot := noisySpot(t, Glass{Index: optics.BorosilicateCrown()}, 150, 0, 1)
			spot.Glass = glass
			f := NewFitter(spot.Setup)
			m, err := f.packedModel(spot, []float64{1, 1, 1, 1}, 0)
			require.NoError(t, err)
			assert.Nil(t, m)
		})
	}
}

// Curves without any noise, exactly of a film that the scan looks at, are fitted
// like others when their noise is declared.
func TestPerfectCurves(t *testing.T) {
	spot := noisySpot(t, Glass{Index: optics.BorosilicateCrown()}, 150, 0, 1)
	f := NewFitter(spot.Setup)
	m, err := f.fullModel(spot, []float64{1, 1, 1, 1})
	require.NoError(t, err)
	params := m.params(0)
	x := startVector(params)
	x[pTau], x[pIndex], x[pBare] = 150, scanValues(params[pIndex], scanIndices)[3], 0
	res := make([]float64, m.rows)
	m.residuals(res, x)
	m.eachPoint(func(c *curve, i, at int) { c.r[i] += res[at] })
	for k := range spot.Curves {
		spot.Curves[k].NoiseSD = 0.0005
	}
	v, err := f.Fit(context.Background(), spot)
	require.NoError(t, err)
	assert.True(t, v.Converged)
	assert.InDelta(t, 150, v.OpticalThicknessNM.Value, 1e-3)
	assert.InDelta(t, 0, v.Bare.Value, 1e-4)
}

// How much is seen of what the far face returns is a parameter where that is bright. Of a blackened one it would take
// up noise: u of a change within a session came out a third too large (TestCoverageOfStudies of study/ageing).
func TestBlackenedFacesAreSeenWhole(t *testing.T) {
	for back, fixed := range map[optics.Back]bool{optics.Blackened: true, optics.Bare: false} {
		spot := noisySpot(t, Glass{Index: optics.SodaLime(), Back: back, ThicknessMM: 3.2}, 150, 0.1, 1)
		m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1, 1, 1, 1})
		require.NoError(t, err)
		for k, angle := range m.angles {
			assert.Equal(t, fixed || angle <= knownCapture, m.params(0)[pCapture(k)].Fixed, "%s, %g degrees", back, angle)
		}
	}
}

// A spot that no film explains ends on compressed curves as on all points, which is a poor fit of the same film: one with a
// band that reads too much, one with a ripple along the wavelength, and one with a slope at every second angle. A film too
// thick for compression is found all the same.
func TestUnexplainedIsTheWhole(t *testing.T) {
	ctx := context.Background()
	for name, spoil := range map[string]func(k int, nm float64) float64{
		"band": func(_ int, nm float64) float64 {
			if nm < 850 || nm > 900 {
				return 0
			}
			return 0.02
		},
		"ripple": func(_ int, nm float64) float64 { return 0.004 * math.Sin(nm/40) },
		"slopes": func(k int, nm float64) float64 { return 0.01 * float64(k%2) * (nm - 700) / 300 },
	} {
		t.Run(name, func(t *testing.T) {
			spot := noisySpot(t, Glass{Index: optics.SodaLime()}, 152, 0.08, 1)
			for k := range spot.Curves {
				c := &spot.Curves[k]
				for i, nm := range c.NM {
					c.R[i] += spoil(k, nm)
				}
			}
			f := NewFitter(spot.Setup)
			short, err := f.Fit(ctx, spot)
			require.NoError(t, err)
			require.Contains(t, short.Flags, "poor-fit")
			require.NotNil(t, short.model.curves[0].packed, "the curves were compressed")
			sigma, err := spot.noise()
			require.NoError(t, err)
			whole, err := f.fitAllPoints(ctx, spot.withoutSpikes(sigma), sigma)
			require.NoError(t, err)
			assert.Equal(t, whole.Model, short.Model)
			assert.Equal(t, whole.Flags, short.Flags)
			assert.InDelta(t, 1, short.ReducedChi2/whole.ReducedChi2, 1e-4)
			for i, want := range whole.chosen.x {
				u := math.Sqrt(whole.chosen.cov.At(i, i))
				assert.InDelta(t, want, short.chosen.x[i], 0.01*u+1e-12, "parameter %d: far below its uncertainty", i)
			}
		})
	}
	thick := noisySpot(t, Glass{Index: optics.BorosilicateCrown()}, 900, 0.08, 1)
	v, err := NewFitter(thick.Setup).Fit(ctx, thick)
	require.NoError(t, err)
	assert.Nil(t, v.model.curves[0].packed)
	assert.NotContains(t, v.Flags, "poor-fit")
	assert.InDelta(t, 900, v.OpticalThicknessNM.Value, 1)
}
