package ageing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// bridged are the fits of a coupon at pull 0 on one instrument and at pull 1 on another, and the roster of both.
func bridgedStudy() (*study.Roster, func(coupon string, pull int, session string, solarT, scale, noise float64) *study.Fit) {
	roster := &study.Roster{
		Coupons: []study.Coupon{{Coupon: "E", Role: study.Exposed, Coating: "A"}, {Coupon: "C", Role: study.Control, Coating: "A"}},
		Sessions: []study.Session{{Session: "a0", Instrument: "A"}, {Session: "a1", Instrument: "A"}, {Session: "b1",
			Instrument: "B"}},
	}
	ownersOf := roster.OwnersOf()
	return roster, func(coupon string, pull int, session string, solarT, scale, noise float64) *study.Fit {
		f := study.NewFit(study.Unit{Coupon: coupon, Pull: pull, Spot: "1"})
		f.Session = session
		f.Result.SolarT = study.Measure{Value: study.Num(solarT), U: study.Num(math.Hypot(scale, noise))}
		f.Errors.Shared = []study.Sensitivity{{Effect: study.Effect{Owner: study.OwnerSession, Name: "scale"},
			By: [study.NumberOfOutputs]float64{study.OutSolarT: scale}}}
		f.Errors.SetOwn(study.OutSolarT, study.OutSolarT, noise*noise)
		owners := ownersOf(f)
		f.Errors.NameOwners(&owners)
		return f
	}
}

func TestBridge(t *testing.T) {
	roster, fit := bridgedStudy()
	pairs := []BridgePair{
		{"A", "B", fit("X", 1, "a1", 0.980, 0.001, 0.0003), fit("X", 1, "b1", 0.982, 0.001, 0.0003)},
		{"B", "A", fit("Y", 1, "b1", 0.9831, 0.001, 0.0003), fit("Y", 1, "a1", 0.981, 0.001, 0.0003)},
	}
	bridges := NewBridges(pairs)
	require.Len(t, bridges, 1)
	assert.Equal(t, "A", bridges[0].From)
	assert.Equal(t, 2, bridges[0].N)
	assert.InDelta(t, 0.205, float64(bridges[0].Offset.Value), 1e-12, "pp")
	// two sessions that both spots share, and four noises
	u := 100 * math.Sqrt(2*0.001*0.001+4*0.0003*0.0003/4)
	assert.InDelta(t, u, float64(bridges[0].Offset.U), 1e-12)

	rows := func(bridges []Bridge) (exposed, control *study.Result) {
		b := NewChanges(roster, study.RouteControls)
		b.SetBridges(bridges)
		e := []*study.Fit{fit("E", 0, "a0", 0.985, 0.001, 0.0003), fit("E", 1, "b1", 0.984, 0.001, 0.0003)}
		c := []*study.Fit{fit("C", 0, "a0", 0.985, 0.001, 0.0003), fit("C", 1, "b1", 0.987, 0.001, 0.0003)}
		b.AddControl(c)
		return b.Rows(e)[1], b.Rows(c)[1]
	}
	own := 100 * math.Sqrt(2*0.001*0.001+2*0.0003*0.0003) // both sessions in full
	with, control := rows(bridges)
	assert.Contains(t, with.Flags, study.FlagBridged)
	assert.InDelta(t, -0.1-0.205, float64(with.Change.Value), 1e-12)
	assert.InDelta(t, math.Hypot(own, u), float64(with.Change.U), 1e-12)
	assert.InDelta(t, 0.2-0.205, float64(control.Change.Value), 1e-12)

	without, _ := rows(nil)
	assert.Contains(t, without.Flags, study.FlagInstruments)
	assert.InDelta(t, -0.1, float64(without.Change.Value), 1e-12)
	assert.InDelta(t, own, float64(without.Change.U), 1e-12)

	// a contrast has neither the offset nor its error
	assert.InDelta(t, -0.3, float64(with.CorrectedChange.Value), 1e-12)
	assert.InDelta(t, float64(without.CorrectedChange.U), float64(with.CorrectedChange.U), 1e-12)
}
