package optics_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/solar"
)

// Source: 0.0917780 (n = 1.5) and 0.0947069 (1.52), S. Q. Duntley's formula as
// evaluated by testdata/diffuse.py, which also integrates Fresnel's equations (SciPy, quad);
// inside, the same integral with total reflection.
func TestDiffuseReflectance(t *testing.T) {
	for _, c := range []struct{ n, outside, inside float64 }{
		{1.5, 0.0917780, 0.5963458}, {1.52, 0.0947069, 0.6081661}, {1.33, 0.0659308, 0.4719491},
	} {
		outside, inside := optics.DiffuseReflectance(c.n)
		assert.InDelta(t, c.outside, outside, 5e-8, "n %g", c.n)
		assert.InDelta(t, c.inside, inside, 5e-8, "n %g", c.n)
	}
	outside, inside := optics.DiffuseReflectance(1)
	assert.Zero(t, outside)
	assert.Zero(t, inside)
}

// A leak is what a pane returns whose far face reflects little: the far face of
// the pane with paint on it, and its Fresnel reflectance.
func TestLeaked(t *testing.T) {
	front, _ := one(t, optics.Stack{Substrate: medium(1.52)}.RT, 550, 0, optics.U)
	whole, _ := one(t, optics.Pane{Glass: medium(1.52), Back: optics.Blackened}.RT, 550, 0, optics.U)
	leak := (0.02 / 3.02) * (0.02 / 3.02) // from 1.52 to the paint's binder of 1.50
	got, byR, byLeak := optics.Leaked(front, leak)
	assert.InDelta(t, whole, got, 1e-9)
	const h = 1e-6
	up, _, _ := optics.Leaked(front+h, leak)
	lo, _, _ := optics.Leaked(front-h, leak)
	assert.InDelta(t, (up-lo)/(2*h), byR, 1e-9)
	up, _, _ = optics.Leaked(front, leak+h)
	lo, _, _ = optics.Leaked(front, leak-h)
	assert.InDelta(t, (up-lo)/(2*h), byLeak, 1e-9)
	require.Positive(t, byLeak)
}

// Source: what a leached skin does to a blank, computed for the measurement model: of
// index 1.48 and 50 nm on soda-lime glass it lowers the solar-weighted R by 0.45
// percentage points. A film of its own on bare glass is [optics.Surface.Film], here with
// the dispersion of silica raised to that level.
func TestLeachedSkin(t *testing.T) {
	var nm, eps []float64
	for w := 300.0; w <= 2500; w += 10 {
		nm = append(nm, w)
	}
	ref, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	for _, w := range nm {
		n, err := optics.FusedSilica().Shifted(1.48 - real(ref)).At(w)
		require.NoError(t, err)
		eps = append(eps, real(n)*real(n))
	}
	face, err := optics.NewSurface(nm, 0, optics.SodaLime())
	require.NoError(t, err)
	s, p := optics.NewFilmResponse(len(nm)), optics.NewFilmResponse(len(nm))
	face.Film(s, p, 50, eps)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	bare, _ := face.Bare()
	lowered := 0.0
	for i := range nm {
		lowered += 100 * weights[i] * (bare.R[i] - s.R[i])
	}
	assert.InDelta(t, 0.45, lowered, 0.005, "half a unit of the last digit")
}

// A far face that returns what bare glass does makes the bare pane, whatever the
// glass absorbs on the way.
func TestReturnedShare(t *testing.T) {
	nm := []float64{450, 700, 1000}
	pane := optics.Pane{Glass: optics.SodaLime(), GlassMM: 3.2, Back: optics.Bare}
	whole, _, err := pane.RT(nil, nil, nm, 0, optics.U)
	require.NoError(t, err)
	front, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, 0, optics.U)
	require.NoError(t, err)
	far, err := optics.NewShare("a return", []float64{400, 450, 700, 1100}, []float64{0, front[0], front[1], 0.04})
	require.NoError(t, err)
	share, err := far.On(nil, nm)
	require.NoError(t, err)
	assert.InDelta(t, 0.25*front[1]+0.75*0.04, share[2], 1e-15)
	share[2] = front[2]
	back, err := pane.Returned(nil, nm, share, 0)
	require.NoError(t, err)
	for i, r := range front {
		// light from inside meets the faces as if k were 0: see Pane.RT
		assert.InDelta(t, whole[i], r+(1-r)*(1-r)*back[i]/(1-r*back[i]), 1e-7)
	}
	s, p, err := pane.Return(nm, 50)
	require.NoError(t, err)
	round, err := pane.RoundTrip(nm, 50)
	require.NoError(t, err)
	ones, err := pane.Returned(nil, nm, []float64{1, 1, 1}, 50)
	require.NoError(t, err)
	assert.Equal(t, round, ones)
	assert.Less(t, s[0]+p[0], 2*round[0])
}

func TestShareRefuses(t *testing.T) {
	var domain *optics.DomainError
	_, err := optics.NewShare("a return", []float64{400, 500}, []float64{0.1, 1.2})
	require.ErrorAs(t, err, &domain)
	assert.EqualError(t, err, "optics: a return at position 1 is 1.2: it must be a fraction from 0 to 1")
	_, err = optics.NewShare("a return", []float64{500, 400}, []float64{0.1, 0.2})
	require.ErrorAs(t, err, &domain)
	share, err := optics.NewShare("a return", []float64{400, 500}, []float64{0.1, 0.2})
	require.NoError(t, err)
	_, err = share.On(nil, []float64{450, 501})
	assert.EqualError(t, err, "optics: a return is known from 400 to 500 nm, not at 501 nm")
	var outside *optics.RangeError
	require.ErrorAs(t, err, &outside)
	_, err = optics.Pane{Glass: medium(1.5)}.Returned(nil, []float64{500}, []float64{-0.1}, 8)
	require.ErrorAs(t, err, &domain)
}
