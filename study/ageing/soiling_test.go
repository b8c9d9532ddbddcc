package ageing_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
)

// conditionFit is a fit of one spot in a condition: solar_T, what it shares with others of its session (a fraction),
// and its own.
func conditionFit(condition, spot string, solarT, shared, own float64, absorbed study.Num) *study.Fit {
	f := study.NewFit(study.Unit{Coupon: "E1", Pull: 2, Spot: spot, Condition: condition})
	f.Session = "S"
	f.Result.SolarT = study.Measure{Value: study.Num(solarT), U: study.Num(math.Hypot(shared, own))}
	f.Result.Absorbed = study.Measure{Value: absorbed, U: 0.1}
	scale := study.Effect{Owner: study.OwnerSession, Of: "S", Name: "T_scale"}
	f.Errors.Shared = []study.Sensitivity{{Effect: scale, By: [study.NumberOfOutputs]float64{shared}}}
	f.Errors.SetOwn(study.OutSolarT, study.OutSolarT, own*own)
	return f
}

// The soiling is the difference of a spot as found and cleaned at one pull. An error that both readings share
// cancels; of a spot without its pair there is none, and reflectance alone says what it rests on.
func TestSoilings(t *testing.T) {
	roster := &study.Roster{Coupons: []study.Coupon{{Coupon: "E1", Role: study.Exposed}}}
	fits := []*study.Fit{
		conditionFit("as_found", "1", 0.979, 0.003, 0.0003, 0.4), conditionFit("cleaned", "1", 0.985, 0.003, 0.0004, 0.0),
		conditionFit("as_found", "2", 0.980, 0.003, 0.0003, study.Null()), conditionFit("cleaned", "2", 0.981, 0.001, 0, 0.1),
		conditionFit("as_found", "3", 0.980, 0.003, 0.0003, 0.1), conditionFit("rinsed", "3", 0.981, 0.003, 0.0003, 0.1),
	}
	all := ageing.NewChanges(roster, study.RouteNone).Soilings(fits)
	require.Len(t, all, 2)
	assert.InDelta(t, -0.6, float64(all[0].Soiling.Value), 1e-12)
	assert.InDelta(t, 0.05, float64(all[0].Soiling.U), 1e-12, "the root of 0.03² and 0.04², in pp")
	assert.False(t, all[0].Lossless)
	assert.Equal(t, []string{"as_found", "cleaned"}, []string{all[0].AsFound.Condition, all[0].Cleaned.Condition})
	assert.InDelta(t, -0.1, float64(all[1].Soiling.Value), 1e-12)
	assert.InDelta(t, math.Hypot(0.2, 0.03), float64(all[1].Soiling.U), 1e-12, "as far as both feel it alike")
	assert.True(t, all[1].Lossless)
}
