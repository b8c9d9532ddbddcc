package desk

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/scenario"
)

const remountHeader = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,replicate\n"

// The scatter of made-up placements: u_place, u_tilt in degrees, u_place_zero.
var placementTruth = []float64{0.002, 0.05, 0.0002}

// remount writes an export of a coupon that was set down n times in a session, each with its own factors, tilt and
// zero, and returns its map rows.
func (f folder) remount(coupon string, surface scenario.Surface, n int, session string, seed uint64) string {
	rng := rand.New(rand.NewPCG(seed, 78))
	var nm []float64
	for x := 380.0; x <= 1100; x += 4 {
		nm = append(nm, x)
	}
	var head, rows strings.Builder
	head.WriteString("made up\nnm")
	table := make([]strings.Builder, len(nm))
	name, column := fmt.Sprintf("%s-%s.csv", coupon, session), 1
	for m := range n {
		tilt, zero := placementTruth[1]*rng.NormFloat64(), placementTruth[2]*rng.NormFloat64()
		for _, a := range []float64{8, 30, 45, 60} {
			r, err := surface.Reflectance(nm, a+0.1+tilt)
			require.NoError(f.tb, err)
			factor := 1.003 * (1 + placementTruth[0]*rng.NormFloat64())
			for i := range nm {
				fmt.Fprintf(&table[i], ",%.5f", 100*(factor*r[i]+zero+0.0003*rng.NormFloat64()))
			}
			column++
			fmt.Fprintf(&head, ",%g deg %%R placement %d", a, m+1)
			fmt.Fprintf(&rows, "%s,#%d,%s,0,1,%g,u,R,percent,%s,%d\n", name, column, coupon, a, session, m+1)
		}
	}
	for i := range nm {
		fmt.Fprintf(&head, "\n%g%s", nm[i], table[i].String())
	}
	f.write(name, head.String()+"\n")
	return rows.String()
}

// remounted is a study with a coated coupon and a blank, each set down twelve times in session one, and a control set
// down twice in session two.
func remounted(t *testing.T) (folder, *Desk) {
	f := newFolder(t)
	d := f.start()
	_, err := d.Enrol(context.Background(), []string{
		f.write("instruments.csv", instrumentHeader+"bench,0017,two beams,,,,\n"),
		f.write("sessions.csv", sessionHeader+"one,bench,2026-03-01,ada,,,,\ntwo,bench,2026-03-02,ada,,,,\n"),
	})
	require.NoError(t, err)
	coated := scenario.Surface{ThicknessNM: 118, Porosity: 0.36}
	rows := f.remount("E1", coated, 12, "one", 1) + f.remount("B1", scenario.Surface{Bare: 1}, 12, "one", 2) +
		f.remount("C1", coated, 2, "two", 3)
	in, err := d.Intake(context.Background(), f.write("map.csv", remountHeader+rows), nil, IntakeOptions{Workers: 2})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	return f, d
}

// The intervals of a re-mounted coupon and of a re-mounted blank hold what they were made with, though angle and scale
// of the session are off; what is distinguished from 0 is proposed, and nothing else.
func TestPlacementOfRemountedCoupons(t *testing.T) {
	_, d := remounted(t)
	for _, coupon := range []string{"E1", "B1"} {
		all, err := d.Placement(context.Background(), PlacementOptions{Coupon: coupon, Session: "one"})
		require.NoError(t, err)
		require.Len(t, all, 1)
		s := all[0]
		assert.Equal(t, study.Unit{Coupon: coupon, Spot: "1"}, s.Unit)
		assert.Equal(t, "bench", s.Session.Instrument)
		assert.Equal(t, []float64{8, 30, 45, 60}, s.AnglesDeg)
		assert.Len(t, s.Numbers, 12)
		assert.Empty(t, s.LeftOut)
		assert.InDelta(t, 1, s.NoiseFactor, 0.1)
		require.Len(t, s.Estimates, 3)
		for k, e := range s.Estimates {
			assert.Equal(t, []string{"u_place", "u_tilt", "u_place_zero"}[k], e.Name)
			assert.Equal(t, 12, e.N)
			assert.LessOrEqual(t, float64(e.Lower), placementTruth[k], e.Name)
			assert.GreaterOrEqual(t, float64(e.Upper), placementTruth[k], e.Name)
			if e.Lower > 0 {
				assert.Equal(t, e.Value, e.Proposed)
			} else {
				assert.False(t, e.Proposed.Valid())
			}
		}
		width := float64(s.Estimates[0].Upper - s.Estimates[0].Lower)
		assert.Less(t, width, 0.002, "44 degrees of freedom tell u_place to less than its size")
	}
}

// A placement that lacks a curve is excluded, and said.
func TestPlacementLeavesOutWhatIsIncomplete(t *testing.T) {
	ctx := context.Background()
	_, d := remounted(t)
	all, err := d.Judgements(ctx, Selection{Filter: study.Filter{Coupons: []string{"E1"}}, AngleDeg: study.Null()})
	require.NoError(t, err)
	require.Len(t, all, 48)
	one := Selection{Numbers: []int64{all[5].Number}, AngleDeg: study.Null()}
	_, err = d.Review(ctx, one, study.Aside, "a drop of water")
	require.NoError(t, err)
	series, err := d.Placement(ctx, PlacementOptions{Coupon: "E1", Session: "one"})
	require.NoError(t, err)
	assert.Equal(t, []int{all[5].Replicate}, series[0].LeftOut)
	assert.Len(t, series[0].Numbers, 11)
}

func TestPlacementRefusals(t *testing.T) {
	_, d := remounted(t)
	for says, opt := range map[string]PlacementOptions{
		`coupon "E7" is not enrolled`:                                                  {"E7", "one"},
		`no reading names a session "three"`:                                           {"E1", "three"},
		"no spot of coupon C1 has 3 complete placements in session two; the most is 2": {"C1", "two"},
		"no spot of coupon E1 has 3 complete placements in session two; the most is 0": {"E1", "two"},
	} {
		_, err := d.Placement(context.Background(), opt)
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused)
		assert.Equal(t, says, refused.Fault)
		assert.NotEmpty(t, refused.Try)
	}
}

// With light traps in three sessions the zero between them is estimated too; a light trap that reads light is no zero.
func TestPlacementWithLightTraps(t *testing.T) {
	roster := &study.Roster{Standards: []study.Standard{{Standard: "TRAP", Quantity: evaluate.ZeroQuantity}}}
	for i, v := range []float64{0.0011, 0.0012, 0.0013} {
		name := fmt.Sprint(i)
		roster.Sessions = append(roster.Sessions, study.Session{Session: name, Instrument: "bench"})
		roster.Checks = append(roster.Checks, study.StandardReading{Session: name, Standard: "TRAP", Value: v})
	}
	s := PlacementSeries{Session: roster.Sessions[0]}
	require.NoError(t, s.estimate(roster, &film.PlacementScatter{Placements: 4,
		Factor: film.ScatterRange{SD: 0.001, Lower: 0.0005, Upper: 0.002}}))
	require.Len(t, s.Estimates, 4)
	zero := s.Estimates[0]
	assert.Equal(t, "u_zero", zero.Name)
	assert.Equal(t, 3, zero.N)
	assert.InEpsilon(t, 0.0001, float64(zero.Value), 1e-9)
	assert.InEpsilon(t, math.Hypot(0.0001, 0.0012), float64(zero.Proposed), 1e-9)
	assert.Equal(t, "contains the mean reading of the light trap, 0.0012 as a fraction, which is not 0: find what adds light", zero.Why)
}
