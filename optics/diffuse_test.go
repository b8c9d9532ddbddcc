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
	whole, out, err := pane.RT(nil, nil, nm, 0, optics.U)
	require.NoError(t, err)
	round, err := pane.RoundTrip(nm, 0)
	require.NoError(t, err)
	front, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, 0, optics.U)
	require.NoError(t, err)
	far, err := optics.NewShare("a return", nm, front)
	require.NoError(t, err)
	pane.Back, pane.Far = optics.Laminated, far
	laminated, through, err := pane.RT(nil, nil, nm, 0, optics.U)
	require.NoError(t, err)
	for i := range nm {
		// light from inside meets the faces as if k were 0: see Pane.RT
		assert.InDelta(t, whole[i], laminated[i], 1e-7)
		assert.InDelta(t, out[i], through[i], 1e-7)
	}
	share, err := far.At(850)
	require.NoError(t, err)
	assert.InDelta(t, (front[1]+front[2])/2, share, 1e-15)
	s, p, err := pane.Return(nm, 0)
	require.NoError(t, err)
	for i := range nm {
		assert.Equal(t, front[i]*round[i], s[i])
	}
	assert.Equal(t, s, p)
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
	_, err = share.At(501)
	assert.EqualError(t, err, "optics: a return is known from 400 to 500 nm, not at 501 nm")
	var outside *optics.RangeError
	require.ErrorAs(t, err, &outside)
	_, _, err = optics.Pane{Glass: medium(1.5), Back: optics.Laminated, Far: share}.RT(nil, nil, []float64{501}, 8, optics.U)
	require.ErrorAs(t, err, &outside)
}
