package film

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
	"wane/optics"
)

// throughAt returns R and T of a uniform film with k on a pane as the fit computes them, at 20 degrees.
func throughAt(t *testing.T, glass Glass, nm []float64, pol optics.Polarisation, d, k float64) (r, through []float64) {
	zeros := make([]float64, len(nm))
	spot := &Spot{Setup: Setup{Glass: glass}, Curves: []Curve{{NM: nm, R: zeros, AngleDeg: 20, Pol: pol},
		{NM: nm, R: zeros, AngleDeg: 20, Pol: pol, Through: true}}}
	m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1, 1})
	require.NoError(t, err)
	x := startVector(m.params(0))
	x[pTau], x[pIndex], x[pBare], x[kLoss], x[kResidue] = 1.28*d, 1.28, 0, k, 0
	res := make([]float64, m.rows)
	m.residuals(res, x)
	return res[:len(nm)], res[len(nm):]
}

// What a pane under an absorbing film reflects and lets through, against the general pane of optics, which knows
// nothing of the difference from a lossless film; in glass that absorbs, the power that crosses a face is itself
// defined to the order of its k only, 5e-6 here.
func TestTransmittanceAgainstPane(t *testing.T) {
	nm := []float64{380, 550, 800, 1100}
	for _, c := range []struct {
		glass optics.Index
		tol   float64
	}{{optics.BorosilicateCrown(), 1e-13}, {optics.SodaLime(), 2e-6}} {
		for _, back := range []optics.Back{optics.Bare, optics.Coated} {
			for _, pol := range []optics.Polarisation{optics.S, optics.P} {
				for _, k := range []float64{0, 0.02} {
					glass := Glass{Index: c.glass, ThicknessMM: 3.2, Back: back}
					gotR, gotT := throughAt(t, glass, nm, pol, 118, k)
					layer := newTestLayer(t, nm, 1.28)
					for i := range nm {
						films := []optics.Film{{Index: optics.Constant("film", complex(layer[i], k)), ThicknessNM: 118}}
						pane := optics.Pane{Films: films, Glass: glass.Index, GlassMM: 3.2, Back: back, BackFilms: films}
						r, through, err := pane.RT(nil, nil, nm[i:i+1], 20, pol)
						require.NoError(t, err)
						assert.InDelta(t, r[0], gotR[i], c.tol, "R, %v, s share %g, %g nm, k %g", back, float64(pol), nm[i], k)
						assert.InDelta(t, through[0], gotT[i], c.tol, "T, %v, s share %g, %g nm, k %g", back, float64(pol), nm[i], k)
					}
				}
			}
		}
	}
}

// newTestLayer returns the index of the film at each wavelength.
func newTestLayer(t *testing.T, nm []float64, index float64) []float64 {
	l, err := newLayer(Coating{}, nm)
	require.NoError(t, err)
	l.set(index, 1.458)
	out := make([]float64, len(nm))
	for i, eps := range l.eps {
		out[i] = math.Sqrt(eps)
	}
	return out
}

// The blank gives back the absorption of its glass, whatever its angle and whatever the table of the glass says of it.
func TestBlankIsThePane(t *testing.T) {
	nm := []float64{330, 400, 550, 700, 900, 1100, 1300}
	for angle, tol := range map[float64]float64{0: 1e-6, 8: 1e-5, 15: 4e-5} { // s and p part with the angle
		pane := optics.Pane{Glass: optics.SodaLime(), GlassMM: 3.2, Back: optics.Bare}
		_, through, err := pane.RT(nil, nil, nm, angle, optics.U)
		require.NoError(t, err)
		b, err := NewBlank(optics.SodaLime().Lossless(), nm, through, angle)
		require.NoError(t, err)
		round, err := pane.RoundTrip(nm, 0)
		require.NoError(t, err)
		for i, a := range b.Absorbance {
			assert.InDelta(t, -math.Log(round[i])/2, a, tol, "%g nm at %g degrees", nm[i], angle)
		}
		v, ok := b.at(475)
		assert.True(t, ok)
		assert.InDelta(t, b.Absorbance[1]/2+b.Absorbance[2]/2, v, 1e-15)
	}
	b, err := NewBlank(optics.SodaLime(), nm, []float64{0, -0.001, 0.9, 0.9, 0.9, 0.9, 0.9}, 0)
	require.NoError(t, err)
	assert.Greater(t, b.Absorbance[0], 9.0, "an opaque pane, whatever noise makes of it")
	assert.Greater(t, b.Absorbance[1], 9.0)
}

// Effects of transmittance are free only where transmittance was read, and reflectance keeps its own.
func TestTransmittanceHasItsOwnEffects(t *testing.T) {
	nm := []float64{400, 450, 500, 550, 600, 650, 700, 750, 800}
	zeros := make([]float64, len(nm))
	spot := &Spot{Setup: Setup{Glass: Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: optics.Bare, ULoss: 0.25}}}
	spot.Curves = []Curve{{NM: nm, R: zeros, AngleDeg: 8, Pol: optics.U}, {NM: nm, R: zeros, AngleDeg: 8, Pol: optics.U,
		Through: true}}
	free := func(curves []Curve) map[string]fit.Prior {
		s := *spot
		s.Curves = curves
		m, err := NewFitter(s.Setup).fullModel(&s, []float64{1, 1})
		require.NoError(t, err)
		priors := map[string]fit.Prior{}
		for _, p := range m.params(0) {
			if p.Prior != (fit.Prior{}) {
				priors[p.Name] = p.Prior
			}
		}
		return priors
	}
	one, both, alone := free(spot.Curves[:1]), free(spot.Curves), free(spot.Curves[1:])
	only := map[string]fit.Prior{"film_k": {Mean: 0.0016, SD: 0.0012}, "residue": {Mean: 1.6, SD: 1.2}, "T_scale": {Mean: 1,
		SD: math.Hypot(0.003, 0.001)}, "T_zero": {SD: 0.0005}, "pane_absorbance": {Mean: 1, SD: 0.25}, "T_angle@8": {SD: 0.3}}
	for name, p := range only {
		assert.NotContains(t, one, name)
		assert.Equal(t, p, both[name], name)
		assert.Equal(t, p, alone[name], name)
		delete(both, name)
	}
	assert.Equal(t, one, both)
	for _, name := range []string{"factor@8", "scale", "zero"} {
		assert.Contains(t, one, name)
		assert.NotContains(t, alone, name)
	}
	spot.Glass.Blank, spot.Glass.UPass = blankOf(t, spot.Glass, nm), 0.004
	both = free(spot.Curves)
	assert.NotContains(t, both, "pane_absorbance")
	assert.InDelta(t, math.Sqrt(0.003*0.003+0.001*0.001+0.004*0.004), both["T_scale"].SD, 1e-15)
}

// The nodes on which losses are computed give what all wavelengths give, at each level of them.
func TestLossesOnNodes(t *testing.T) {
	var nm []float64
	for x := 320.0; x <= 1200; x += 5 {
		nm = append(nm, x)
	}
	setup := Setup{Glass: Glass{Index: optics.BorosilicateCrown(), ThicknessMM: 3.2, Back: optics.Bare}}
	for _, tau := range []float64{120, 400, 600} { // 12 nodes, 24, all
		few, err := newView(&setup, nm, 35, &[]*layer{}, true)
		require.NoError(t, err)
		require.Len(t, few.lossesOn, 2)
		all, err := newView(&setup, nm, 35, &[]*layer{}, false)
		require.NoError(t, err)
		g := filmState{d: tau / 1.3, index: 1.3, skeleton: 1.458, absorbing: true, k: 0.02, residue: 0.5}
		few.setFilm(&g, &sight{0.1, 0.003, 0.2})
		all.setFilm(&g, &sight{0.1, 0.003, 0.2})
		whole := all.allLosses()
		for q, losses := range few.allLosses() {
			for k, got := range losses.all() {
				for j, values := range got.all() {
					want := whole[q].all()[k].all()[j]
					size := max(slices.Max(want), -slices.Min(want))
					assert.InDeltaSlice(t, want, values, 1e-5*size, "%g nm, quantity %d, slope %d", tau, k, j)
				}
			}
		}
	}
}

// Reflectance and transmittance that add to more than 1 are refused from 3 standard uncertainties on, which add in
// squares: for transmittance sqrt(0.003² + 0.0005² + 0.001²) = 0.0032, and the reflectance of 0.06 adds
// 0.06 sqrt(0.01² + 0.01² + 0.002²) = 0.00086 and 0.0005, 0.0002 of its zeros; 3 times all is 0.0101.
func TestMoreLightThanArrives(t *testing.T) {
	constant := func(v float64, through bool) Curve {
		c := Curve{AngleDeg: 8, Pol: optics.U, Through: through}
		for nm := 400.0; nm <= 500; nm += 5 {
			c.NM, c.R = append(c.NM, nm), append(c.R, v)
		}
		return c
	}
	check := func(curves ...Curve) error {
		s := Spot{Setup: Setup{Glass: Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: optics.Bare}}, Curves: curves}
		return s.checkEnergy(make([]float64, len(curves)))
	}
	assert.NoError(t, check(constant(1.0095, true)))
	require.NoError(t, check(constant(0.06, false), constant(0.9499, true)))
	var refused *InputError
	for _, curves := range [][]Curve{{constant(1.0098, true)}, {constant(0.06, false), constant(0.9503, true)}} {
		require.ErrorAs(t, check(curves...), &refused)
		assert.Contains(t, refused.Fault, "more light than arrives")
		assert.NotEmpty(t, refused.Try)
	}
}
