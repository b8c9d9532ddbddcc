package foreign

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// A study of which nothing changes has changes of exactly zero, whatever the instrument did.
func TestUnchangedIsExactlyZero(t *testing.T) {
	plan := StandardPlan()
	plan.Pulls = 2
	s := plan.Run(Prior(), 1, 1)
	require.Len(t, s.Changes, 2*5) // one spot, and two controls of two
	for _, c := range s.Changes {
		assert.Zero(t, c.ChangePP)
		assert.Zero(t, c.CellPP)
		assert.Zero(t, c.CorrectedPP)
		assert.Zero(t, c.MaterialNM)
		assert.InDelta(t, 1, c.GainKept, 1e-15)
	}
	for _, g := range s.Groups {
		assert.Zero(t, g.PopulationPP)
		assert.Zero(t, g.CouponsPP)
		assert.Zero(t, g.ControlsPP)
	}
	assert.Len(t, s.Readings, 3*6) // and a blank, at three pulls
	assert.NotEqual(t, s.Readings[0].Curves, s.Readings[6].Curves)
}

// Owners are shared as the law says: a batch's index by its coupons, a session by its
// readings, a coating's solid by its coupons; leak and coupon index are each coupon's own.
func TestOwnersAreShared(t *testing.T) {
	plan := GroupPlan()
	plan.Coupons = 2
	s := plan.Run(Prior().Without("coupon-glass"), 2, 1)
	shifts, skeletons, leaks := map[string]map[float64]bool{}, map[string]map[float64]bool{}, map[float64]bool{}
	note := func(m map[string]map[float64]bool, key string, v float64) {
		if m[key] == nil {
			m[key] = map[float64]bool{}
		}
		m[key][v] = true
	}
	for _, c := range s.Coupons {
		note(shifts, c.GlassBatch, c.Pane.GlassShift)
		if c.Role != "blank" {
			note(skeletons, c.Coating, c.Pane.Skeleton)
		}
		leaks[c.Pane.Leak] = true
	}
	assert.Len(t, shifts, 2)
	for _, values := range shifts {
		assert.Len(t, values, 1)
	}
	for _, values := range skeletons {
		assert.Len(t, values, 1)
	}
	assert.Len(t, leaks, len(s.Coupons))
	tilts := map[float64]bool{}
	for _, r := range s.Readings {
		tilts[r.Placement.TiltDeg] = true
	}
	assert.Len(t, tilts, len(s.Readings), "each spot in each session is a placement")
	assert.NotEqual(t, s.Sessions[0].Session, s.Sessions[1].Session)
	assert.Equal(t, s.Sessions[0].Session.JoinNM, s.Sessions[1].Session.JoinNM)
}

// Without scatter every exposed spot changes by the mean exactly, by either dial, although its
// structure deviates at every pull.
func TestLossIsMetExactly(t *testing.T) {
	for _, dial := range []Dial{Thinning, Patching} {
		plan := StandardPlan()
		plan.Pulls, plan.Coupons = 2, 2
		plan.Loss = Loss{By: dial, MeanPP: -0.4, ControlMeanPP: -0.1}
		s := plan.Run(Prior(), 3, 2)
		roles := map[string]string{}
		for _, c := range s.Coupons {
			roles[c.Code] = c.Role
		}
		for _, c := range s.Changes {
			want := map[string]float64{"exposed": -0.4, "control": -0.1}[roles[c.Coupon]] * float64(c.Pull)
			assert.InDelta(t, want, c.ChangePP, 1e-6)
			assert.InDelta(t, want+0.1*float64(c.Pull), c.CorrectedPP, 1e-6)
		}
		for _, g := range s.Groups {
			assert.InDelta(t, g.PopulationPP, g.CouponsPP, 1e-6)
			assert.InDelta(t, g.LotsPP, g.CouponsPP, 1e-6)
			assert.InDelta(t, -0.1*float64(g.Pull), g.ControlsPP, 1e-6)
		}
		// The first exposed spot, at its two later pulls.
		first, later := s.Readings[0].Surface, s.Readings[7].Surface
		assert.Equal(t, s.Readings[0].Coupon, s.Readings[7].Coupon)
		assert.NotEqual(t, first.Gradient, later.Gradient)
		if dial == Thinning {
			assert.Less(t, later.Thickness, first.Thickness)
			assert.Equal(t, first.Bare, later.Bare)
		} else {
			assert.Greater(t, later.Bare, first.Bare)
			assert.Equal(t, first.Thickness, later.Thickness)
		}
	}
}

// The population's mean is that of many studies, the mean of these lots that of many with the same
// lots; the scatter of coupons is the one asked for.
func TestPopulationMean(t *testing.T) {
	plan := StandardPlan()
	plan.Setup.AnglesDeg = []float64{8}
	plan.Controls, plan.Blanks, plan.Coupons, plan.Lots = 0, 0, 2, 2
	plan.Loss = Loss{By: Patching, MeanPP: -0.5, LotCV: 0.2, CouponCV: 0.2}
	var means, within, first []float64
	for run := range uint64(200) {
		s := plan.Run(Prior(), 4, run)
		g := s.Groups[0]
		means, within = append(means, g.CouponsPP), append(within, g.CouponsPP-g.LotsPP)
		first = append(first, s.CouponChanges[0].ChangePP)
		assert.InDelta(t, -0.5, g.PopulationPP, 1e-15)
	}
	for name, list := range map[string][]float64{"population": means, "lots": within} {
		mean, sd := stat.MeanStdDev(list, nil)
		want := 0.0
		if name == "population" {
			want = -0.5
		}
		assert.InDelta(t, want, mean, 4*sd/math.Sqrt(200), name)
	}
	// One coupon: lot and coupon factors, 1.04 squared less 1 of relative variance.
	assert.InDelta(t, 0.5*math.Sqrt(1.04*1.04-1), stat.StdDev(first, nil), 0.5*0.286*0.25)
}

// The mean of the controls is that of controls, each the mean of its spots.
func TestCorrectedChangeIsADifferenceOfChanges(t *testing.T) {
	plan := GroupPlan()
	plan.Coupons, plan.Suppliers = 1, 1
	plan.Loss.ControlMeanPP, plan.Loss.ControlCV = -0.1, 0.5
	s := plan.Run(Prior(), 6, 1)
	changes := map[string]float64{}
	for _, c := range s.CouponChanges {
		changes[c.Coupon] = c.ChangePP
	}
	controls := (changes["AC-01"] + changes["AC-02"]) / 2
	assert.NotEqual(t, changes["AC-01"], changes["AC-02"])
	assert.InDelta(t, controls, s.Groups[0].ControlsPP, 1e-12)
	for _, c := range s.CouponChanges {
		assert.InDelta(t, c.ChangePP-controls, c.CorrectedPP, 1e-12, c.Coupon)
	}
	readings := map[[2]string][2]Reading{}
	for _, r := range s.Readings {
		pair := readings[[2]string{r.Coupon, r.Spot}]
		pair[r.Pull] = r
		readings[[2]string{r.Coupon, r.Spot}] = pair
	}
	for _, c := range s.Changes {
		pair := readings[[2]string{c.Coupon, c.Spot}]
		from, to := pair[0].Surface.Solar(), pair[1].Surface.Solar()
		bare := Surface{Glass: SodaLime, GlassShift: pair[0].Surface.GlassShift, Skeleton: 1.458}.Solar()
		assert.InDelta(t, 100*(to.SolarT-from.SolarT), c.ChangePP, 1e-12)
		assert.InDelta(t, (to.SolarT-bare.SolarT)/(from.SolarT-bare.SolarT), c.GainKept, 1e-12)
		assert.InDelta(t, pair[1].Surface.MaterialLeft(), c.Material, 1e-12)
	}
}

// Soil comes upon exposed coupons after pull 0, leaching of dark blanks upon blanks alone.
func TestSoilAndLeachedBlanks(t *testing.T) {
	plan := StandardPlan()
	law := Prior().Beyond("residue").Beyond("leached-dark-blank")
	s := plan.Run(law, 1, 1)
	for _, r := range s.Readings {
		assert.Equal(t, r.Coupon == "A1-01" && r.Pull == 1, r.Surface.Residue > 0, "%s, pull %d", r.Coupon, r.Pull)
		assert.Equal(t, r.Coupon == "AB-01" && r.Pull == 1, r.Surface.Leach > 0, "%s, pull %d", r.Coupon, r.Pull)
	}
	assert.InDelta(t, s.CouponChanges[0].ChangePP, s.Groups[0].PopulationPP, 1e-9)
	assert.Less(t, s.Groups[0].PopulationPP, -0.3)
	for _, c := range s.CouponChanges[1:] {
		assert.Zero(t, c.ChangePP, "controls stay clean")
	}
}

// A light trap shows the session's zero, with its slope, and nothing of glass.
func TestLightTrap(t *testing.T) {
	plan := StandardPlan()
	plan.LightTrap = true
	law := Prior()
	for _, session := range plan.Run(law, 1, 1).Sessions {
		require.Len(t, session.LightTrap, 4)
		mean := stat.Mean(session.LightTrap[0].Reflectance, nil)
		assert.InDelta(t, session.Session.Zero, mean, 5*0.0003/math.Sqrt(361))
	}
}

// A loss that no surface has is a fault of the plan.
func TestImpossibleLossPanics(t *testing.T) {
	plan := StandardPlan()
	plan.Loss = Loss{By: Thinning, MeanPP: -20}
	assert.Panics(t, func() { plan.Run(Prior(), 1, 1) })
}
