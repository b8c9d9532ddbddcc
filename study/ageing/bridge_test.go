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
	bridges := NewBridges(study.FollowedSolarT(), pairs)
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
	// The change less the offset is E(b1) - E(a0) - mean of (X(b1) - X(a1)), and so for Y. The scale of session b1 is in
	// it with +1 and -1 and cancels; those of a0 and a1 stay, with two noises of E and four quarters of X and Y:
	//
	//	u² = 100²·(0.001² + 0.001² + 2·0.0003² + 4·0.0003²/4) = 0.0227 pp²
	with, control := rows(bridges)
	assert.Contains(t, with.Flags, study.FlagBridged)
	assert.InDelta(t, -0.1-0.205, float64(with.Change.Value), 1e-12)
	assert.InDelta(t, math.Sqrt(0.0227), float64(with.Change.U), 1e-12)
	assert.InDelta(t, 0.2-0.205, float64(control.Change.Value), 1e-12)

	without, _ := rows(nil)
	assert.Contains(t, without.Flags, study.FlagInstruments)
	assert.InDelta(t, -0.1, float64(without.Change.Value), 1e-12)
	assert.InDelta(t, math.Sqrt(0.0218), float64(without.Change.U), 1e-12, "100²·(2·0.001² + 2·0.0003²)")

	// A contrast has neither the offset nor its error: 100²·4·0.0003² = 0.0036 pp².
	assert.InDelta(t, -0.3, float64(with.CorrectedChange.Value), 1e-12)
	assert.InDelta(t, 0.06, float64(with.CorrectedChange.U), 1e-12)
	assert.EqualValues(t, 1, with.NControls)
	assert.InDelta(t, 0.06, float64(without.CorrectedChange.U), 1e-12)
}

// Pull 0 on B and pull 1 on A, in the sessions of the bridge and without noise: the offset turns its sign, and the
// scales of both sessions cancel exactly. What is left is the scatter of the two spots of the bridge, 0.20 and 0.26 pp:
// a standard deviation of √0.0018 pp, of which nothing is explained, so that of the mean √0.0009 = 0.03 pp.
func TestBridgeCancelsItsSessions(t *testing.T) {
	roster, fit := bridgedStudy()
	bridges := NewBridges(study.FollowedSolarT(), []BridgePair{
		{"A", "B", fit("X", 1, "a1", 0.980, 0.001, 0), fit("X", 1, "b1", 0.982, 0.0015, 0)},
		{"A", "B", fit("Y", 1, "a1", 0.980, 0.001, 0), fit("Y", 1, "b1", 0.9826, 0.0015, 0)},
	})
	require.Len(t, bridges, 1)
	// 0.1² + 0.15² + 0.03² = 0.0334 pp²
	assert.InDelta(t, math.Sqrt(0.0334), float64(bridges[0].Offset.U), 1e-12)
	b := NewChanges(roster, study.RouteControls)
	b.SetBridges(bridges)
	row := b.Rows([]*study.Fit{fit("E", 0, "b1", 0.985, 0.0015, 0), fit("E", 1, "a1", 0.982, 0.001, 0)})[1]
	assert.InDelta(t, -0.3+0.23, float64(row.Change.Value), 1e-12)
	assert.InDelta(t, 0.03, float64(row.Change.U), 1e-12)
}
