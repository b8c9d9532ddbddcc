package film

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// Drying undoes soaking, by every mixing rule: index and porosity come back.
func TestDryingUndoesSoaking(t *testing.T) {
	for _, mixing := range []optics.Mixing{optics.Bruggeman, optics.MaxwellGarnett, optics.LorentzLorenz,
		optics.VolumeAverage} {
		c := Coating{Mixing: mixing}
		for _, porosity := range []float64{0.05, 0.36, 0.6} {
			for _, wet := range []float64{0, 0.1, 0.5, 1} {
				dry := filmState{index: c.indexOf(porosity, 1.458), skeleton: 1.458}
				eps, _, _ := mixing.MixReal(1.458*1.458, c.filling(wet), porosity)
				soaked := filmState{index: math.Sqrt(eps), skeleton: 1.458}
				index, p := driedIndex(c, &soaked, wet)
				assert.InDelta(t, dry.index, index, 1e-12, "%v, porosity %g, wet %g", mixing, porosity, wet)
				assert.InDelta(t, porosity, p, 1e-12)
			}
		}
	}
	low := filmState{index: 1.2, skeleton: 1.458} // less than water alone: no film is so
	_, p := driedIndex(Coating{}, &low, 1)
	assert.Equal(t, mostDriedPorosity, p)
}

func TestDriedQuantities(t *testing.T) {
	spot := noisySpot(t, Glass{Index: optics.SodaLime()}, 150, 0.1, 3)
	v, err := Fit(context.Background(), spot)
	require.NoError(t, err)
	changes, porosity, err := v.Dried(0, Measurand{Name: Solid}, Measurand{Name: Thickness})
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{0, 0}, changes, 1e-9)
	assert.InDelta(t, v.Porosity.Value, porosity, 1e-12)
	changes, more, err := v.Dried(0.3, Measurand{Name: Solid}, Measurand{Name: Thickness}, Measurand{Name: Scale})
	require.NoError(t, err)
	assert.Greater(t, more, porosity, "what looked like solid was water")
	assert.Less(t, changes[0], -1.0, "nm")
	assert.InDelta(t, 0, changes[1], 1e-9, "the thickness stays")
	assert.Zero(t, changes[2])
	_, _, err = v.Dried(0.3, Measurand{Name: "colour"})
	var in *InputError
	require.ErrorAs(t, err, &in)

	bare, err := Fit(context.Background(), noisySpot(t, Glass{Index: optics.SodaLime()}, 0, 1, 3))
	require.NoError(t, err)
	require.Equal(t, ModelBare, bare.Model)
	changes, porosity, err = bare.Dried(0.3, Measurand{Name: Solid})
	require.NoError(t, err)
	assert.Equal(t, []float64{0}, changes)
	assert.True(t, math.IsNaN(porosity))

	spot.Water = Water{Share: 1.2}
	_, err = Fit(context.Background(), spot)
	require.ErrorAs(t, err, &in)
	assert.Equal(t, "1.2 ± 0 is no share of the pores", in.Fault)
}
