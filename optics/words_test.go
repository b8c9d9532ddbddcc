package optics_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// The words are this tool's own, and stand in tables and commands of its users: they stay.
func TestWordsOfTheCommandLine(t *testing.T) {
	for word, want := range map[string]optics.Polarisation{"s": optics.S, "p": optics.P, "u": optics.U} {
		got, err := optics.ParsePolarisation(word)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for word, want := range map[string]optics.Mixing{
		"bruggeman": optics.Bruggeman, "maxwell-garnett": optics.MaxwellGarnett,
		"lorentz-lorenz": optics.LorentzLorenz, "volume-average": optics.VolumeAverage,
	} {
		got, err := optics.ParseMixing(word)
		require.NoError(t, err)
		assert.Equal(t, want, got)
		assert.Equal(t, word, got.String())
	}
	for word, want := range map[string]optics.Back{
		"matched": optics.Matched, "blackened": optics.Blackened, "bare": optics.Bare, "coated": optics.Coated,
		"laminated": optics.Laminated,
	} {
		got, err := optics.ParseBack(word)
		require.NoError(t, err)
		assert.Equal(t, want, got)
		assert.Equal(t, word, got.String())
	}
}

func TestOtherWordsAreRefused(t *testing.T) {
	_, err := optics.ParsePolarisation("S")
	assert.EqualError(t, err, `optics: polarisation "S" is not one of s, p, u`)
	_, err = optics.ParseMixing("linear")
	assert.EqualError(t, err,
		`optics: mixing rule "linear" is not one of bruggeman, maxwell-garnett, lorentz-lorenz, volume-average`)
	_, err = optics.ParseBack("")
	assert.EqualError(t, err, `optics: back "" is not one of matched, blackened, bare, coated, laminated`)
	assert.Equal(t, "value 9", optics.Back(9).String())
}
