package foreign

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// smallTrial has coatings of all tails and both dials, read at one angle.
func smallTrial() Trial {
	t := StandardTrial()
	t.Setup.AnglesDeg = []float64{8}
	t.Coatings = []Coating{
		{By: Thinning, Product: Product{MeanPP: 0.6e-3, SDPP: 0.01e-3, LotSDPP: 0.05e-3}, Lots: 2, Coupons: 2},
		{By: Patching, Product: LognormalProduct(0.2e-3, 1.5e-3), Lots: 1, Coupons: 3},
		{By: Thinning, Product: ExponentialProduct(0.3e-3, 1.5e-3), Lots: 1, Coupons: 3},
		{By: Unchanged, Lots: 1, Coupons: 1},
	}
	return t
}

// The mean of the spots of a coupon falls in proportion to the dose at the rate drawn for it,
// exactly; that of a control not at all.
func TestTrialsLoseInProportionToTheDose(t *testing.T) {
	s := smallTrial().Run(Prior(), 1, 1)
	roles := map[string]string{}
	for _, c := range s.Coupons {
		roles[c.Code] = c.Role
	}
	require.Len(t, s.CouponChanges, 3*(4+3+3+1+4*2))
	spread := 0.0
	for _, c := range s.CouponChanges {
		if roles[c.Coupon] == "control" {
			assert.Zero(t, c.ChangePP)
			continue
		}
		assert.InDelta(t, -s.RatePP[c.Coupon]*s.Dose[c.Pull], c.ChangePP, 2e-7, c.Coupon)
		assert.InDelta(t, c.ChangePP, c.CorrectedPP, 1e-12)
	}
	for _, c := range s.Changes {
		spread = max(spread, math.Abs(c.ChangePP+s.RatePP[c.Coupon]*s.Dose[c.Pull]))
	}
	assert.Greater(t, spread, 0.002, "spots of a coupon are not alike")
	require.Len(t, s.Verdicts, 4)
	assert.InDelta(t, 0.6e-3, s.Verdicts[0].Product.MeanPP, 1e-9)
	assert.Zero(t, s.Verdicts[3].Product.MeanPP)
	mean := (s.RatePP["B1-01"] + s.RatePP["B1-02"] + s.RatePP["B1-03"]) / 3
	assert.InDelta(t, mean, s.Verdicts[1].CouponsPP, 1e-15)
	surfaces := map[string]Surface{}
	for _, r := range s.Readings {
		if first, ok := surfaces[r.Coupon+r.Spot]; ok && r.Pull == 3 && roles[r.Coupon] == "exposed" && r.Coupon[0] != 'D' {
			assert.NotEqual(t, first.Gradient, r.Surface.Gradient)
			assert.Equal(t, r.Coupon[0] == 'B', r.Surface.Bare > first.Bare, "%s is patchy", r.Coupon)
			assert.Equal(t, r.Coupon[0] != 'B', r.Surface.Thickness < first.Thickness, "%s is thinner", r.Coupon)
		} else if !ok {
			surfaces[r.Coupon+r.Spot] = r.Surface
		}
	}
}

// Coupons of a lot share what their lot adds; the truth about these lots is about these.
func TestLotsOfATrial(t *testing.T) {
	trial := smallTrial()
	trial.Coatings = trial.Coatings[:1]
	trial.Dose = []float64{0} // coupons are drawn, and little else
	trial.Setup.Band, trial.Spots, trial.Controls, trial.Blanks = NewBand(380, 1100, 25), 1, 0, 0
	var within, between, these []float64
	for run := range uint64(200) {
		s := trial.Run(Prior(), 2, run)
		lots := [2]float64{(s.RatePP["A1-01"] + s.RatePP["A1-02"]) / 2, (s.RatePP["A2-01"] + s.RatePP["A2-02"]) / 2}
		within = append(within, s.RatePP["A1-01"]-s.RatePP["A1-02"])
		between = append(between, lots[0]-lots[1])
		these = append(these, s.Verdicts[0].CouponsPP-s.Verdicts[0].Lots.MeanPP)
	}
	// Five standard errors of a standard deviation of 200 normal draws: 25 %.
	assert.InEpsilon(t, math.Sqrt2*0.01e-3, stat.StdDev(within, nil), 0.25)
	assert.InEpsilon(t, math.Sqrt(2*0.05*0.05+0.01*0.01)*1e-3, stat.StdDev(between, nil), 0.25)
	assert.InEpsilon(t, 0.01e-3/2, stat.StdDev(these, nil), 0.25)
	assert.InDelta(t, 0, stat.Mean(these, nil), 5*0.005e-3/math.Sqrt(200))
}

// Coupons drop out at their chance, and are not read from then on; their truth goes on.
func TestDropout(t *testing.T) {
	trial := smallTrial()
	trial.Setup.Band = NewBand(380, 1100, 25)
	trial.Coatings = []Coating{{By: Unchanged, Lots: 1, Coupons: 30, Dropout: 0.3}, {By: Unchanged, Lots: 1, Coupons: 30}}
	trial.Spots, trial.Controls, trial.ControlSpots = 1, 1, 1
	counts := [4]float64{}
	const runs = 10
	for run := range uint64(runs) {
		s := trial.Run(Prior(), 3, run)
		require.Len(t, s.CouponChanges, 3*62)
		for _, r := range s.Readings {
			if r.Spot == "1" && r.Coupon[0] == 'A' && r.Coupon[1] == '1' {
				counts[r.Pull]++
				lost, ok := s.LostAt[r.Coupon]
				assert.False(t, ok && r.Pull >= lost)
			}
		}
		for code := range s.LostAt {
			assert.Equal(t, byte('A'), code[0])
		}
	}
	n := 30.0 * runs
	for pull, count := range counts {
		share := math.Pow(0.7, float64(pull))
		assert.InDelta(t, share, count/n, 5*math.Sqrt(share*(1-share)/n)+1e-12)
	}
}

// Drift is on top of what the law draws, in step with the pull, and alike at all angles.
func TestDriftOfSessions(t *testing.T) {
	trial := smallTrial()
	trial.Coatings = trial.Coatings[3:]
	trial.Setup.AnglesDeg = []float64{8, 60}
	plain := trial.Run(Prior(), 4, 1)
	trial.Drift = Drift{Scale: Effect{Centre: 0.004}, Zero: Effect{EitherSign, 0, 0.0002},
		WavelengthNM: Effect{Width: 0.1}, AngleDeg: Effect{Centre: -0.05}}
	drifted := trial.Run(Prior(), 4, 1)
	zero := drifted.Sessions[1].Session.Zero - plain.Sessions[1].Session.Zero
	wave := drifted.Sessions[1].Session.WavelengthNM - plain.Sessions[1].Session.WavelengthNM
	assert.InDelta(t, 0.0002, math.Abs(zero), 1e-15)
	assert.NotZero(t, wave)
	for i, run := range drifted.Sessions {
		pull, from := float64(run.Pull), plain.Sessions[i].Session
		assert.InDelta(t, 0.004*pull, run.Session.Scale-from.Scale, 1e-15)
		assert.InDelta(t, zero*pull, run.Session.Zero-from.Zero, 1e-15)
		assert.InDelta(t, wave*pull, run.Session.WavelengthNM-from.WavelengthNM, 1e-15)
		for k := range run.Session.AngleDeg {
			assert.InDelta(t, -0.05*pull, run.Session.AngleDeg[k]-from.AngleDeg[k], 1e-15)
		}
	}
	for i, r := range drifted.Readings {
		assert.Equal(t, plain.Readings[i].Truth, r.Truth)
	}
}

// Runs repeat, and one coating is what it is whatever stands beside it.
func TestCoatingsDoNotDependOnTheirNeighbours(t *testing.T) {
	trial := smallTrial()
	whole := trial.Run(Prior(), 5, 1)
	assert.Equal(t, whole, trial.Run(Prior(), 5, 1))
	trial.Coatings[1].Product = ExponentialProduct(0.1e-3, 1e-3)
	other := trial.Run(Prior(), 5, 1)
	changed := 0
	for i, r := range whole.Readings {
		if r.Coupon[0] != 'B' {
			assert.Equal(t, r, other.Readings[i])
		} else if r.Surface != other.Readings[i].Surface {
			changed++
		}
	}
	assert.Equal(t, 3*2*3, changed, "exposed coupons of B at later pulls")
}

// A loss next to nothing is met too, where the structure of pull 0 lets through more than almost any other.
func TestLittleLosses(t *testing.T) {
	trial := smallTrial()
	trial.Coatings = []Coating{{By: Patching, Product: ExponentialProduct(0.002e-3, 1e-3), Lots: 1, Coupons: 20}}
	trial.Setup.Band, trial.Dose, trial.Controls = NewBand(380, 1100, 25), []float64{0, 1500}, 0
	for run := range uint64(5) {
		s := trial.Run(Prior(), 6, run)
		for _, c := range s.CouponChanges {
			assert.InDelta(t, -s.RatePP[c.Coupon]*1500, c.ChangePP, 2e-7, c.Coupon)
		}
	}
}

// What a trial cannot make is a fault of the caller.
func TestImpossibleTrialsPanic(t *testing.T) {
	trial := smallTrial()
	assert.Panics(t, func() { trial.Run(Prior().Beyond("residue"), 1, 1) })
	trial.Coatings = []Coating{{By: Thinning, Product: Product{MeanPP: 9e-3, SDPP: 1e-3}, Lots: 1, Coupons: 1}}
	assert.Panics(t, func() { trial.Run(Prior(), 1, 1) })
}
