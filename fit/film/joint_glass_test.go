package film_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/testdata/foreign"
)

// glassSession is a session of two coupons and, where wanted, a dark blank of one batch of glass, whose index is known
// to u and whose zero a light trap has read.
func glassSession(r *reader, law foreign.Law, u float64, blanks int, run uint64) ([]film.Member, foreign.Study) {
	plan := foreign.StandardPlan()
	plan.Coupons, plan.Controls, plan.Blanks, plan.Pulls = 2, 0, blanks, 0
	study := plan.Run(law, 300, run)
	setup := r.setup
	setup.Glass.UIndex = u
	known := film.DefaultKnown(setup.Glass.Back)
	known.Session.UScale, known.Session.UZero = 0.05, law.Zero.Width
	setup.Known = &known
	var members []film.Member
	for i := range study.Readings {
		reading := &study.Readings[i]
		m := film.Member{Role: film.RoleBlank, Glass: "float", Spot: spotOf(setup, reading.Curves)}
		if reading.Surface.Thickness > 0 {
			m.Role, m.Coating = film.RoleCoupon, "A"
		}
		members = append(members, m)
	}
	return members, study
}

// A dark blank says what the index of its batch is, and the coupons of the batch have it: where the batch is known to
// 0.01 only and is off by that, solar_T is not biased, and its uncertainty is less than twice that of a batch known to
// 0.002. A batch that is off by 0.01 and taken for known to 0.002 is five standard deviations off: the blank cannot
// make up for that.
func TestGlassOfDarkBlank(t *testing.T) {
	law := foreign.Prior().Beyond("glass")
	law.Zero.Width = 0.0001
	r, err := newReader(foreign.Standard())
	require.NoError(t, err)
	const runs = 8
	bias, u := map[float64]float64{}, map[float64]float64{}
	for run := range uint64(runs) {
		for _, known := range []float64{0.01, floatU} {
			members, study := glassSession(r, law, known, 1, run)
			joint, err := film.FitSession(context.Background(), members, 1)
			require.NoError(t, err)
			mean := joint.Spots[0].Verdict.Mean(r.sun)
			off := mean.Value - (1 - study.Readings[0].Truth.SolarT)
			bias[known], u[known] = bias[known]+off/runs, u[known]+mean.U/runs
			if known == floatU {
				continue
			}
			assert.Less(t, math.Abs(off)/mean.U, 3.)
			glass := value(t, joint.Joint, "glass_index")
			batch := 0.0 // of the batch, by the mean of its coupons
			for _, c := range study.Coupons {
				batch += c.Pane.GlassShift / float64(len(study.Coupons))
			}
			assert.InDelta(t, batch, glass.Value, 3*math.Hypot(glass.U, 0.0005), "± %g", glass.U)
			assert.Less(t, glass.U, 0.005, "twice as well as beforehand")
		}
	}
	t.Logf("bias %.4f ± %.4f pp, taken for known %.4f ± %.4f pp", 100*bias[0.01], 100*u[0.01], 100*bias[floatU],
		100*u[floatU])
	assert.Less(t, math.Abs(bias[0.01]), u[0.01], "the mean of eight has a third of u")
	assert.Greater(t, math.Abs(bias[floatU]), u[floatU])
	assert.Less(t, u[0.01], 2*u[floatU])
}
