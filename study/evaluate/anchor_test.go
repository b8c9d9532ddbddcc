package evaluate_test

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/testdata/foreign"
)

// darkPlan is a study of one coupon, two controls and a dark blank, read at two pulls.
func darkPlan() foreign.Plan {
	p := foreign.StandardPlan()
	p.ControlSpots = 1
	return p
}

// sessionUnits returns the units of a simulated study at a pull, the dark blanks with their reading at pull 0 before
// it.
func sessionUnits(t *testing.T, s *foreign.Study, pull int) (units []evaluate.SessionUnit, at []*foreign.Reading) {
	coupons := map[string]*study.Coupon{}
	for _, c := range s.Coupons {
		coupons[c.Code] = &study.Coupon{Coupon: c.Code, Role: study.Role(c.Role), Supplier: c.Supplier, Coating: c.Coating,
			Glass: "soda-lime", Back: c.Back, Batch: c.GlassBatch}
	}
	e := evaluatorOf(t, coupons[s.Coupons[0].Code]) // all have one glass
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Pull != pull {
			continue
		}
		c := coupons[r.Coupon]
		u := evaluate.SessionUnit{Evaluator: e, Coupon: c, Readings: readingsOf(r),
			Unit: study.Unit{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot}}
		if c.Role == study.Blank && pull > 0 {
			k := slices.IndexFunc(s.Readings, func(o foreign.Reading) bool { return o.Coupon == r.Coupon && o.Pull == 0 })
			u.Before = &evaluate.BlankBefore{Evaluator: u.Evaluator, Readings: readingsOf(&s.Readings[k])}
		}
		units, at = append(units, u), append(at, r)
	}
	return units, at
}

// A dark blank that has leached, or that dirt makes darker as a whole, does not shift its session: it is found by its
// own history, and left out. One that has not changed is kept.
func TestChangedBlankIsNoAnchor(t *testing.T) {
	for _, c := range []struct {
		name     string
		leachNM  float64
		dirt     float64 // what its readings are multiplied by
		anchors  bool
		inReason string
	}{
		{"unchanged", 0, 1, true, ""},
		{"leached by 50 nm", 50, 1, false, "its curves are not those of bare glass"},
		{"soiled", 0, 0.85, false, "it reflects "},
	} {
		t.Run(c.name, func(t *testing.T) {
			law, runs := foreign.Prior(), 2
			if os.Getenv("WANE_LONG") != "" {
				runs = 100
			}
			law.DarkLeachNM = c.leachNM
			wrong := 0
			for run := range uint64(runs) {
				s := darkPlan().Run(law, 71, run)
				units, at := sessionUnits(t, &s, 1)
				blank := len(units) - 1
				for _, r := range units[blank].Readings {
					for i := range r.Values {
						r.Values[i] *= c.dirt
					}
				}
				out, err := evaluate.Session(context.Background(), "S1", units, &film.Fitters{}, 2)
				require.NoError(t, err)
				flags := out.Fits[blank].Result.Flags
				if c.anchors == slices.Contains(flags, study.FlagNoAnchor) {
					wrong++
				}
				if c.anchors || !slices.Contains(flags, study.FlagNoAnchor) {
					continue
				}
				assert.Contains(t, out.Notes[0], "dark blank AB-01, spot 1 says nothing of session S1: "+c.inReason)
				if _, said, ok := strings.Cut(out.Notes[0], "it reflects "); ok {
					var times, u float64
					_, err := fmt.Sscanf(said, "%f ± %f times", &times, &u)
					require.NoError(t, err)
					assert.InDelta(t, c.dirt, times, 4*u)
				}
				without, err := evaluate.Session(context.Background(), "S1", units[:blank], &film.Fitters{}, 2)
				require.NoError(t, err)
				for i, f := range without.Fits {
					r := &out.Fits[i].Result
					assert.InDelta(t, float64(f.Result.SolarT.Value), float64(r.SolarT.Value), 1e-9, "as if it were not there")
					assert.InDelta(t, at[i].Truth.SolarT, float64(r.SolarT.Value), 4*float64(r.SolarT.U), r.Coupon)
					assert.Contains(t, r.Flags, study.FlagSessionLimits+"solar", "nothing else gives its scale")
				}
			}
			t.Logf("%d of %d blanks are judged wrongly", wrong, runs)
			assert.LessOrEqual(t, float64(wrong), 0.02*float64(runs), "0.3 % of those that have not changed lie beyond 3 u")
		})
	}
}
