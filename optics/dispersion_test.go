package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// Source: I. H. Malitson, J. Opt. Soc. Am. 55, 1205-1208 (1965), coefficients and n at the
// d line, 1.45846, from memory of the table; the glass catalogue cited at
// BorosilicateCrown gives n_d 1.51680 and Abbe number 64.17.
func TestSellmeier(t *testing.T) {
	silica := optics.Sellmeier{Terms: []optics.Resonance{{0.6961663, 0.0684043 * 0.0684043},
		{0.4079426, 0.1162414 * 0.1162414}, {0.8974794, 9.896161 * 9.896161}}}
	n, _ := silica.At(587.5618)
	assert.InDelta(t, 1.45846, n, 5e-6)

	crown := optics.Sellmeier{Terms: []optics.Resonance{{1.03961212, 0.00600069867}, {0.231792344, 0.0200179144},
		{1.01046945, 103.560653}}}
	index, err := crown.Index("a crown glass", 300, 2500)
	require.NoError(t, err)
	at := func(nm float64) float64 {
		v, err := index.At(nm)
		require.NoError(t, err)
		return real(v)
	}
	assert.InDelta(t, 1.51680, at(587.5618), 5e-6)
	assert.InDelta(t, 64.17, (at(587.5618)-1)/(at(486.1327)-at(656.2725)), 0.005)
	known, err := optics.BorosilicateCrown().At(400)
	require.NoError(t, err)
	assert.InDelta(t, real(known), at(400), 1e-15)
	_, err = index.At(299)
	var outside *optics.RangeError
	require.ErrorAs(t, err, &outside)
	crown.Terms[0].B = 9
	assert.InDelta(t, 1.51680, at(587.5618), 5e-6, "the terms are copied")
}

// Source: the formula of M. Rubin for soda-lime glass, as at SodaLime.
func TestCauchy(t *testing.T) {
	index, err := optics.Cauchy{A: 1.5130, B: 0.003962, D: -0.003169}.Index("soda-lime", 310, 4600)
	require.NoError(t, err)
	for _, nm := range []float64{310, 550, 1500, 4600} {
		want, err := optics.SodaLime().At(nm)
		require.NoError(t, err)
		got, err := index.At(nm)
		require.NoError(t, err)
		assert.InDelta(t, real(want), real(got), 1e-15)
		assert.Zero(t, imag(got))
	}
}

func TestSlopesOfDispersion(t *testing.T) {
	for name, at := range map[string]func(float64) (float64, float64){
		"Cauchy":    optics.Cauchy{A: 1.5, B: 0.0045, C: 0.0001, D: -0.003}.At,
		"Sellmeier": optics.Sellmeier{A: 0.2, Terms: []optics.Resonance{{1, 0.01}, {0.9, 100}}}.At,
	} {
		for _, nm := range []float64{320, 550, 1100, 2500} {
			up, _ := at(nm + 0.01)
			lo, _ := at(nm - 0.01)
			_, slope := at(nm)
			assert.InDelta(t, (up-lo)/0.02, slope, 5e-12, "%s at %g nm", name, nm)
		}
	}
}

func TestDispersionRefuses(t *testing.T) {
	good := optics.Cauchy{A: 1.5}
	one := func(b, c float64) optics.Sellmeier { return optics.Sellmeier{Terms: []optics.Resonance{{b, c}}} }
	type made func() (optics.Index, error)
	for name, c := range map[string]struct {
		make made
		want string
	}{
		"range falls":   {func() (optics.Index, error) { return good.Index("g", 800, 400) }, "end of the range of g is 400"},
		"no wavelength": {func() (optics.Index, error) { return good.Index("g", 0, 400) }, "wavelength at position 0 is 0"},
		"below 1": {func() (optics.Index, error) { return optics.Cauchy{A: 1.1, D: -0.1}.Index("g", 300, 2500) },
			"n of g is "},
		"not a number": {func() (optics.Index, error) { return optics.Cauchy{A: math.NaN()}.Index("g", 300, 800) },
			"n of g is NaN"},
		"resonance": {func() (optics.Index, error) { return one(1, 0.25).Index("g", 300, 800) },
			"C of g at position 0 is 0.25"},
		"negative B": {func() (optics.Index, error) { return one(-1, 0.01).Index("g", 300, 800) },
			"strength B of g at position 0 is -1"},
		"C not a number": {func() (optics.Index, error) { return one(1, math.NaN()).Index("g", 300, 800) },
			"C of g at position 0 is NaN"},
	} {
		_, err := c.make()
		var domain *optics.DomainError
		require.ErrorAs(t, err, &domain, name)
		assert.ErrorContains(t, err, c.want, name)
	}
}
