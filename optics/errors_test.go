package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// A stack and a pane answer for what they are given in the same words.
func TestSpectraRefuseWhatIsNotPhysical(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	cases := []struct {
		name      string
		nm, angle float64
		pol       optics.Polarisation
		thickness float64
		want      optics.DomainError
	}{
		{"no wavelength", 0, 0, optics.U, 100, optics.DomainError{Quantity: "wavelength", At: 1, Value: 0}},
		{"endless wavelength", inf, 0, optics.U, 100, optics.DomainError{Quantity: "wavelength", At: 1, Value: inf}},
		{"grazing", 500, 90, optics.U, 100, optics.DomainError{Quantity: "angle of incidence", At: -1, Value: 90}},
		{"from behind", 500, -1, optics.U, 100, optics.DomainError{Quantity: "angle of incidence", At: -1, Value: -1}},
		{"s share in percent", 500, 0, 50, 100, optics.DomainError{Quantity: "polarisation", At: -1, Value: 50}},
		{"negative film", 500, 0, optics.U, -1, optics.DomainError{Quantity: "thickness of film", At: 1, Value: -1}},
		{"endless film", 500, 0, optics.U, inf, optics.DomainError{Quantity: "thickness of film", At: 1, Value: inf}},
	}
	for _, c := range cases {
		films := []optics.Film{film(1.3, 0), film(1.3, c.thickness)}
		spectra := map[string]spectrum{
			"stack":         optics.Stack{Films: films}.RT,
			"front of pane": optics.Pane{Films: films}.RT,
			"back of pane":  optics.Pane{BackFilms: films, Back: optics.Coated}.RT,
		}
		for of, rt := range spectra {
			t.Run(c.name+", "+of, func(t *testing.T) {
				_, _, err := rt(nil, nil, []float64{500, c.nm}, c.angle, c.pol)
				var got *optics.DomainError
				require.ErrorAs(t, err, &got)
				c.want.Want = got.Want
				assert.Equal(t, c.want, *got)
				assert.NotEmpty(t, got.Want)
			})
		}
	}
	for _, mm := range []float64{-3, nan, inf} {
		_, _, err := optics.Pane{GlassMM: mm}.RT(nil, nil, []float64{500}, 0, optics.U)
		var got *optics.DomainError
		require.ErrorAs(t, err, &got)
		assert.Equal(t, "thickness of the glass", got.Quantity)
	}
	for _, angle := range []float64{nan, inf} {
		_, _, err := optics.Stack{}.RT(nil, nil, []float64{500}, angle, optics.U)
		assert.Error(t, err, "%g degrees", angle)
	}
}

func TestAmbientMustBeLossless(t *testing.T) {
	_, _, err := optics.Stack{Ambient: optics.Constant("ink", 1.3+0.1i)}.RT(nil, nil, []float64{500}, 0, optics.U)
	assert.EqualError(t, err, "optics: k of ink as ambient is 0.1: it must be 0")
}

func TestSpectraDoNotExtrapolate(t *testing.T) {
	silica := []optics.Film{{Index: optics.FusedSilica(), ThicknessNM: 100}}
	spectra := map[string]spectrum{
		"ambient":       optics.Stack{Ambient: optics.FusedSilica()}.RT,
		"film":          optics.Stack{Films: silica}.RT,
		"substrate":     optics.Stack{Substrate: optics.FusedSilica()}.RT,
		"glass of pane": optics.Pane{Glass: optics.FusedSilica()}.RT,
		"film of pane":  optics.Pane{Films: silica}.RT,
		"back of pane":  optics.Pane{BackFilms: silica, Back: optics.Coated}.RT,
	}
	for of, rt := range spectra {
		t.Run(of, func(t *testing.T) {
			_, _, err := rt(nil, nil, []float64{500, 200}, 0, optics.U)
			assert.Equal(t, &optics.RangeError{Index: "fused silica", NM: 200, LoNM: 210, HiNM: 3710}, err)
		})
	}
}

func TestErrorsSayWhereAndWhat(t *testing.T) {
	err := &optics.DomainError{Quantity: "wavelength", At: 3, Value: -5, Want: "positive and finite, in nm"}
	assert.EqualError(t, err, "optics: wavelength at position 3 is -5: it must be positive and finite, in nm")
}

func TestNoSuchBackPanics(t *testing.T) {
	assert.PanicsWithValue(t, "optics: no such back of a pane", func() {
		_, _, _ = optics.Pane{Glass: medium(1.5), Back: 9}.RT(nil, nil, []float64{500}, 0, optics.U)
	})
}
