package ageing_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
)

// made returns a made-up fit with solar_T and gain in the stated units; shared is the part of u that the coating has.
func made(coupon string, pull int, spot string, solarT, u, shared, gain float64) *study.Fit {
	f := study.NewFit(study.Unit{Coupon: coupon, Pull: pull, Spot: spot})
	f.Result.SolarT = study.Measure{Value: study.Num(solarT), U: study.Num(u)}
	f.Result.Gain = study.Measure{Value: study.Num(gain), U: study.Num(100 * u)}
	f.Result.Thickness = study.Measure{Value: 120, U: 0.5}
	setOwn(f, study.OutSolarT, u*u-shared*shared)
	setOwn(f, study.OutGain, 100*u*100*u)
	setOwn(f, study.OutThickness, 0.5*0.5)
	share(f, coatingIndex, study.OutSolarT, shared)
	f.SeenLoNM, f.SeenHiNM = 380, 1100
	f.SeenT = f.Result.SolarT.Value * 0.78
	return f
}

var coatingIndex = study.Effect{Owner: study.OwnerCoating, Of: "K", Name: "skeleton_index"}

// scaleOf is the scale of a session.
func scaleOf(session string) study.Effect {
	return study.Effect{Owner: study.OwnerSession, Of: session, Name: "scale"}
}

// share says what an effect does to a quantity of a fit.
func share(f *study.Fit, effect study.Effect, output study.Output, size float64) {
	for i := range f.Errors.Shared {
		if s := &f.Errors.Shared[i]; s.Effect == effect {
			s.By[output] = size
			return
		}
	}
	s := study.Sensitivity{Effect: effect}
	s.By[output] = size
	f.Errors.Shared = append(f.Errors.Shared, s)
}

func setOwn(f *study.Fit, output study.Output, variance float64) {
	f.Errors.SetOwn(output, output, variance)
}

func roster() *study.Roster {
	coupon := func(code string, role study.Role, coating, exposure string) study.Coupon {
		return study.Coupon{Coupon: code, Role: role, Coating: coating, Exposure: exposure, Supplier: "m",
			Glass: "soda-lime", Back: "matched"}
	}
	return &study.Roster{
		Exposures: []study.Exposure{{Exposure: "roof", DoseUnit: "days"}},
		Pulls:     []study.Pull{{Exposure: "roof", Pull: 0}, {Exposure: "roof", Pull: 1, Dose: 90, Date: "2026-04-01"}},
		Coupons: []study.Coupon{coupon("E", study.Exposed, "K", "roof"), coupon("C1", study.Control, "K", "roof"),
			coupon("C2", study.Control, "K", ""), coupon("C3", study.Control, "K", ""),
			coupon("X", study.Control, "other", ""), coupon("F", study.Exposed, "lonely", "roof"),
			{Coupon: "G", Role: study.Blank, Glass: "soda-lime", Back: "matched"}},
	}
}

// Worked by hand. Exposed coupon E, one spot:
//
//	T0 = 0.9860, u0 = 0.0003, s0 = 0.0002    T1 = 0.9820, u1 = 0.0004, s1 = 0.0001
//	change = 100·(0.9820 - 0.9860) = -0.40 pp
//	u² = 100²·(0.0004² + 0.0003² - 2·0.0001·0.0002) = 16e-4 + 9e-4 - 4e-4 = 21e-4,  u = 0.0458258 pp
//
// Controls of coating K: C1 has spots with changes +0.02 and +0.06, mean +0.04;
// C2 one spot with -0.06. Their mean is -0.01. The observed standard error is
// |0.04 - (-0.06)|/2 = 0.05. Propagated: every control spot has u0 = u1 = 0.0002
// and nothing shared, so u = 100·0.0002·√2 = 0.0282843 pp; C1 0.0282843/√2 = 0.02,
// C2 0.0282843; mean √(0.02² + 0.0282843²)/2 = 0.0173205. That explains a standard deviation between them of
// σ² = (0.02² + 0.0282843² - 2·0.0173205²)/1 = 6e-4, and of the mean of two σ²/2 = 3e-4, all of 0.0173205²: what
// is observed takes its place.
//
//	corrected change = -0.40 - (-0.01) = -0.39 pp,  u = √(21e-4 + 3e-4 + 25e-4 - 3e-4) = 0.0678233 pp
//
// Gain 2.80 pp at pull 0, u 0.03; it is 2.50 at pull 1 by the glass that the fit found
// then, which does not count: by the glass of pull 0, T1 has a gain of 2.80 - 0.40 = 2.40
// and gain kept is 1 + q = 0.857143, q = -1/7. Of the gain 0.015 pp is shared with T1's
// 0.0001, and its covariance with T0 is 8e-6 pp; so that with the change is
// 100·(0.0001·0.015 - 8e-6) = -6.5e-4 pp², and
// u² = (21e-4 + 9e-4/49 - 2·(-1/7)·(-6.5e-4))/2.80² = 19.326531e-4/7.84,  u = 0.0157007
//
// Unseen: change -0.40 less 0.78·(-0.40) = -0.088 pp.
func TestCorrectedChangeByHand(t *testing.T) {
	book := ageing.NewChanges(roster(), study.RouteControls)
	book.AddControl([]*study.Fit{made("C1", 0, "1", 0.98, 0.0002, 0, 2.8), made("C1", 0, "2", 0.98, 0.0002, 0, 2.8),
		made("C1", 1, "1", 0.9802, 0.0002, 0, 2.8), made("C1", 1, "2", 0.9806, 0.0002, 0, 2.8)})
	book.AddControl([]*study.Fit{made("C2", 0, "1", 0.98, 0.0002, 0, 2.8), made("C2", 1, "1", 0.9794, 0.0002, 0, 2.8)})
	// of another coating
	book.AddControl([]*study.Fit{made("X", 0, "1", 0.98, 0.0002, 0, 2.8), made("X", 1, "1", 0.90, 0.0002, 0, 2.8)})

	base := made("E", 0, "1", 0.9860, 0.0003, 0.0002, 2.80)
	share(base, coatingIndex, study.OutGain, 0.015)
	setOwn(base, study.OutGain, 9e-4-0.015*0.015)
	base.Errors.SetOwn(study.OutSolarT, study.OutGain, 8e-6-0.0002*0.015)
	rows := book.Rows([]*study.Fit{base, made("E", 1, "1", 0.9820, 0.0004, 0.0001, 2.50)})
	require.Len(t, rows, 2)
	r := rows[1]
	assert.InDelta(t, -0.40, float64(r.Change.Value), 1e-12)
	assert.InDelta(t, 0.0458258, float64(r.Change.U), 5e-8)
	assert.InDelta(t, -0.39, float64(r.CorrectedChange.Value), 1e-12)
	assert.InDelta(t, 0.0678233, float64(r.CorrectedChange.U), 5e-8)
	assert.InDelta(t, 0.857143, float64(r.GainKept.Value), 5e-7)
	assert.InDelta(t, 0.0157007, float64(r.GainKept.U), 5e-8)
	assert.InDelta(t, -0.088, float64(r.ChangeUnseen), 1e-12)
	assert.Equal(t, "controls", r.Correction)
	assert.EqualValues(t, 2, r.NControls)
	assert.EqualValues(t, 90, r.Dose)
	assert.Equal(t, "days", r.DoseUnit)
	assert.Equal(t, "2026-04-01", r.Date)
	assert.Equal(t, study.Full, r.State)
	assert.Equal(t, []string{study.FlagDosePlanned}, r.Flags)
	assert.Zero(t, float64(rows[0].CorrectedChange.Value))
}

// With one control the propagated uncertainty is all there is: √2·0.02 = 0.0282843,
// and the corrected change has √(0.0458258² + 0.0282843²) = 0.0538516.
func TestOneControl(t *testing.T) {
	book := ageing.NewChanges(roster(), study.RouteControls)
	book.AddControl([]*study.Fit{made("C2", 0, "1", 0.98, 0.0002, 0, 2.8), made("C2", 1, "1", 0.9794, 0.0002, 0, 2.8)})
	r := book.Rows([]*study.Fit{made("E", 0, "1", 0.9860, 0.0003, 0.0002, 2.80),
		made("E", 1, "1", 0.9820, 0.0004, 0.0001, 2.50)})[1]
	assert.InDelta(t, -0.34, float64(r.CorrectedChange.Value), 1e-12)
	assert.InDelta(t, 0.0538516, float64(r.CorrectedChange.U), 5e-8)
	assert.EqualValues(t, 1, r.NControls)
}

// Three controls with the changes 0.02, -0.06 and 0.10: mean 0.02, standard deviation 0.08, standard error 0.08/√3
// = 0.0461880, more than the 0.0282843/√3 that their errors explain. The corrected change is -0.42 with √(21e-4 +
// 0.08²/3) = 0.0650641. What exceeds, (0.08² - 0.0282843²)/3, has 2 degrees of freedom, so that 0.0461880 has
// 2·(0.08²/(0.08² - 0.0282843²))² = 2.6122.
func TestThreeControls(t *testing.T) {
	book := ageing.NewChanges(roster(), study.RouteControls)
	for coupon, now := range map[string]float64{"C1": 0.9802, "C2": 0.9794, "C3": 0.9810} {
		book.AddControl([]*study.Fit{made(coupon, 0, "1", 0.98, 0.0002, 0, 2.8), made(coupon, 1, "1", now, 0.0002, 0, 2.8)})
	}
	r := book.Rows([]*study.Fit{made("E", 0, "1", 0.9860, 0.0003, 0.0002, 2.80),
		made("E", 1, "1", 0.9820, 0.0004, 0.0001, 2.50)})[1]
	assert.InDelta(t, -0.42, float64(r.CorrectedChange.Value), 1e-12)
	assert.InDelta(t, 0.0650641, float64(r.CorrectedChange.U), 5e-8)
	own := r.CorrectedTerms[2].Errors.Shared[0]
	assert.Equal(t, study.OwnerControls, own.Owner)
	assert.InDelta(t, 0.0461880, own.By[study.OutSolarT], 5e-8)
	assert.InDelta(t, 2.6122, own.DoF, 5e-5)
}

// Worked by hand: two fits of one session share its scale, which does 0.00015 and 0.00025 to T0 and T1, so that
//
//	u² of the change = 21e-4 - 2·100²·0.00015·0.00025 = 13.5e-4,  u = 0.0367423 pp
//
// The scale does 0.012 pp to the gain of pull 0, whose covariance with T0 is 5e-6 pp: cov(dT, g0) =
// 100·(0.00025·0.012 - 5e-6) = -2e-4 pp², q = -1/7, and u² of gain kept is (13.5e-4 + 9e-4/49 -
// 2·(-1/7)·(-2e-4))/2.80² = 13.112245e-4/7.84, u = 0.0129324. Of two sessions nothing of it is shared: u =
// 0.0458258 pp, and u² of gain kept is (21e-4 + 9e-4/49 - 2·(-1/7)·(-5e-4))/7.84. Source of the sums: JCGM
// 100:2008, 5.2.2, equation 16 (clause from memory).
func TestWhatASessionShares(t *testing.T) {
	for session, want := range map[string][2]float64{"m1": {0.0367423, 0.0129324}, "m2": {0.0458258, 0.0158738}} {
		base, now := made("E", 0, "1", 0.9860, 0.0003, 0.0002, 2.80), made("E", 1, "1", 0.9820, 0.0004, 0.0001, 2.50)
		base.Session, now.Session = "m1", session
		share(base, scaleOf("m1"), study.OutSolarT, 0.00015)
		setOwn(base, study.OutSolarT, 0.0003*0.0003-0.0002*0.0002-0.00015*0.00015)
		share(now, scaleOf(session), study.OutSolarT, 0.00025)
		setOwn(now, study.OutSolarT, 0.0004*0.0004-0.0001*0.0001-0.00025*0.00025)
		share(base, scaleOf("m1"), study.OutGain, 0.012)
		setOwn(base, study.OutGain, 0.03*0.03-0.012*0.012)
		base.Errors.SetOwn(study.OutSolarT, study.OutGain, 5e-6-0.00015*0.012)
		r := ageing.NewChanges(roster(), study.RouteSession).Rows([]*study.Fit{base, now})[1]
		assert.InDelta(t, want[0], float64(r.Change.U), 5e-8, session)
		assert.Equal(t, r.Change, r.CorrectedChange)
		assert.Contains(t, r.Flags, study.FlagNoControl)
		assert.InDelta(t, want[1], float64(r.GainKept.U), 5e-8, session)
	}
}

// Worked by hand: session m1 did 0.0003 to all fits of pull 1. It is in the change, u² = 21e-4 + 9e-4, and cancels
// in the contrast to the control: u² = 21e-4 + 8e-4 as in TestOneControl, by single fits and by joint ones. A
// control that was read in another session does not count.
func TestSessionErrorsCountOnce(t *testing.T) {
	in := func(f *study.Fit, session string) *study.Fit {
		f.Session = session
		share(f, scaleOf(session), study.OutSolarT, map[string]float64{"m0": 0, "m1": 0.0003, "m2": 0.0003}[session])
		return f
	}
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		book := ageing.NewChanges(roster(), route)
		book.AddControl([]*study.Fit{in(made("C2", 0, "1", 0.98, 0.0002, 0, 2.8), "m0"),
			in(made("C2", 1, "1", 0.9794, 0.0002, 0, 2.8), "m1")})
		book.AddControl([]*study.Fit{in(made("C3", 0, "1", 0.98, 0.0002, 0, 2.8), "m0"),
			in(made("C3", 1, "1", 0.9, 0.0002, 0, 2.8), "m2")})
		r := book.Rows([]*study.Fit{in(made("E", 0, "1", 0.9860, 0.0003, 0.0002, 2.80), "m0"),
			in(made("E", 1, "1", 0.9820, 0.0004, 0.0001, 2.50), "m1")})[1]
		assert.InDelta(t, math.Sqrt(30e-4), float64(r.Change.U), 1e-9)
		assert.InDelta(t, -0.34, float64(r.CorrectedChange.Value), 1e-12)
		assert.InDelta(t, 0.0538516, float64(r.CorrectedChange.U), 5e-8)
		assert.EqualValues(t, 1, r.NControls)
		assert.NotContains(t, r.Flags, study.FlagNoControl)
	}
}

// A fit of an earlier version of the model says nothing of its errors: what is made from it has a value and no
// uncertainty.
func TestErrorsNotKnown(t *testing.T) {
	base, now := made("E", 0, "1", 0.9860, 0.0003, 0.0002, 2.80), made("E", 1, "1", 0.9820, 0.0004, 0.0001, 2.50)
	base.Errors = study.Errors{}
	g := ageing.NewGrouper(ageing.ByCoating)
	for _, r := range ageing.NewChanges(roster(), study.RouteNone).Rows([]*study.Fit{base, now}) {
		g.Add(r)
		if r.Pull == 1 {
			assert.InDelta(t, -0.40, float64(r.Change.Value), 1e-12)
			assert.False(t, r.Change.U.Valid())
			assert.True(t, r.GainKept.Value.Valid())
			assert.False(t, r.GainKept.U.Valid())
			assert.Equal(t, study.Full, r.State)
			assert.Equal(t, []string{study.FlagDosePlanned}, r.Flags)
		}
	}
	assert.InDelta(t, -0.40, float64(g.Groups()[1].Change), 1e-12)
	assert.False(t, g.Groups()[1].Lo.Valid())
}

// The exact limits of 95 % of the gain kept by Fieller's theorem are those of testdata/fieller.R (R 4.2.2). The
// interval of first order is as much narrower as the documentation of gainKept says, in all of its digits.
func TestGainKeptAgainstFieller(t *testing.T) {
	for _, c := range []struct{ change, u, gain, uGain, covariance, lo, hi, wider float64 }{
		{-0.4, 0.04582575695, 2.8, 0.03, -0.00065, 0.826617812, 0.888179109, 1.000},
		{-0.1, 0.05, 1, 0.1, 0, 0.794011172, 0.997998984, 1.02},
		{-0.1, 0.05, 1, 0.2, 0, 0.765687481, 0.998001331, 1.10},
		{-0.1, 0.05, 1, 0.33, 0, 0.658152873, 0.998006680, 1.45},
		{-0.8, 0.05, 1, 0.1, -0.0025, 0.036402047, 0.319653810, 1.03},
	} {
		half := c.u * c.u / 2 * 1e-4 // the variance of T now and of that at pull 0
		base := made("E", 0, "1", 0.98, math.Sqrt(half), 0, c.gain)
		base.Result.Gain.U = study.Num(c.uGain)
		setOwn(base, study.OutGain, c.uGain*c.uGain)
		base.Errors.SetOwn(study.OutSolarT, study.OutGain, -c.covariance/100)
		now := made("E", 1, "1", 0.98+c.change/100, math.Sqrt(half), 0, c.gain+c.change)
		kept := ageing.NewChanges(roster(), study.RouteNone).Rows([]*study.Fit{base, now})[1].GainKept
		assert.InDelta(t, 1+c.change/c.gain, float64(kept.Value), 1e-12)
		assert.InDelta(t, c.wider, (c.hi-c.lo)/2/(1.959964*float64(kept.U)), 0.005, "%v", c)
	}
}

func TestRowsWithoutComparison(t *testing.T) {
	one := func(route study.Route, fits ...*study.Fit) *study.Result {
		rows := ageing.NewChanges(roster(), route).Rows(fits)
		return rows[len(rows)-1]
	}
	t.Run("no baseline", func(t *testing.T) {
		r := one(study.RouteControls, made("E", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.Contains(t, r.Flags, study.FlagNoBaseline)
		assert.NotContains(t, r.Flags, study.FlagNoControl)
		assert.False(t, r.NControls.Valid())
		assert.False(t, r.Change.Value.Valid())
		assert.False(t, r.GainKept.Value.Valid())
		assert.Empty(t, r.State, "thinned and full are not told apart")
	})
	t.Run("baseline of another spot does not count", func(t *testing.T) {
		r := one(study.RouteControls, made("E", 0, "2", 0.986, 0.0003, 0, 2.8), made("E", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.Contains(t, r.Flags, study.FlagNoBaseline)
	})
	t.Run("conditions", func(t *testing.T) {
		in := func(f *study.Fit, condition string) *study.Fit { f.Condition = condition; return f }
		book := ageing.NewChanges(roster(), study.RouteControls)
		book.AddControl([]*study.Fit{made("C1", 0, "1", 0.98, 0.0002, 0, 2.8),
			in(made("C1", 1, "1", 0.9803, 0.0002, 0, 2.8), "cleaned"),
			in(made("C1", 1, "1", 0.9701, 0.0002, 0, 2.8), "as_found")})
		rows := book.Rows([]*study.Fit{made("E", 0, "1", 0.9860, 0.0003, 0, 2.80),
			in(made("E", 1, "1", 0.9720, 0.0004, 0, 2.50), "as_found"),
			in(made("E", 1, "1", 0.9820, 0.0004, 0, 2.50), "cleaned"), in(made("E", 1, "1", 0.9810, 0.0004, 0, 2.50), "rinsed")})
		// cleaned: -0.40 less the cleaned control's 0.03; as found: -1.40 less -0.99;
		// rinsed has no control of its own: -0.50 less the clean one's 0.03
		assert.InDelta(t, -1.40+0.99, float64(rows[1].CorrectedChange.Value), 1e-12)
		assert.InDelta(t, -0.43, float64(rows[2].CorrectedChange.Value), 1e-12)
		assert.InDelta(t, -0.53, float64(rows[3].CorrectedChange.Value), 1e-12)
		assert.EqualValues(t, 1, rows[3].NControls)
		assert.Contains(t, rows[1].Flags, study.FlagConditions, "as found less a clean pull 0")
		assert.Equal(t, []string{study.FlagDosePlanned}, rows[2].Flags)
		assert.Contains(t, rows[3].Flags, study.FlagConditions)

		// a soiled control corrects no cleaned coupon
		book = ageing.NewChanges(roster(), study.RouteControls)
		book.AddControl([]*study.Fit{made("C1", 0, "1", 0.98, 0.0002, 0, 2.8),
			in(made("C1", 1, "1", 0.9701, 0.0002, 0, 2.8), "as_found")})
		soiled := book.Rows([]*study.Fit{made("E", 0, "1", 0.9860, 0.0003, 0, 2.80),
			in(made("E", 1, "1", 0.9820, 0.0004, 0, 2.50), "cleaned")})[1]
		assert.Contains(t, soiled.Flags, study.FlagNoControl)
		assert.False(t, soiled.CorrectedChange.Value.Valid())
		assert.Zero(t, float64(soiled.NControls))
	})
	t.Run("no control", func(t *testing.T) {
		r := one(study.RouteControls, made("F", 0, "1", 0.986, 0.0003, 0, 2.8), made("F", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.Contains(t, r.Flags, study.FlagNoControl)
		assert.InDelta(t, -0.4, float64(r.Change.Value), 1e-12)
		assert.False(t, r.CorrectedChange.Value.Valid())
		assert.Zero(t, float64(r.NControls))
	})
	t.Run("route none", func(t *testing.T) {
		r := one(study.RouteNone, made("E", 0, "1", 0.986, 0.0003, 0, 2.8), made("E", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.Equal(t, "none", r.Correction)
		assert.False(t, r.CorrectedChange.Value.Valid())
		assert.False(t, r.NControls.Valid())
		assert.NotContains(t, r.Flags, study.FlagNoControl)
	})
	t.Run("control", func(t *testing.T) {
		r := one(study.RouteControls, made("C1", 0, "1", 0.986, 0.0003, 0, 2.8), made("C1", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.False(t, r.CorrectedChange.Value.Valid())
		assert.False(t, r.Dose.Valid())
		assert.InDelta(t, -0.4, float64(r.Change.Value), 1e-12)
	})
	t.Run("blank", func(t *testing.T) {
		r := one(study.RouteControls, made("G", 0, "1", 0.957, 0.0003, 0, 0), made("G", 1, "1", 0.957, 0.0003, 0, 0))
		assert.Empty(t, r.State)
		assert.False(t, r.Dose.Valid())
		assert.Empty(t, r.Coating)
	})
	t.Run("initial gain lost in its uncertainty", func(t *testing.T) {
		r := one(study.RouteControls, made("E", 0, "1", 0.986, 0.01, 0, 2.8), made("E", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.False(t, r.GainKept.Value.Valid()) // 2.8 pp is under 3·1 pp
	})
	t.Run("other wavelengths seen", func(t *testing.T) {
		base := made("E", 0, "1", 0.986, 0.0003, 0, 2.8)
		base.SeenHiNM = 1000
		r := one(study.RouteControls, base, made("E", 1, "1", 0.982, 0.0004, 0, 2.5))
		assert.False(t, r.ChangeUnseen.Valid())
	})
	t.Run("thinned", func(t *testing.T) {
		thin := made("E", 1, "1", 0.982, 0.0004, 0, 2.5)
		thin.Result.Thickness = study.Measure{Value: 100, U: 0.5}
		r := one(study.RouteControls, made("E", 0, "1", 0.986, 0.0003, 0, 2.8), thin)
		assert.Equal(t, study.Thinned, r.State)
	})
	// By hand: 0.9·120 - 106.5 = 1.5 nm. In squares u is √(0.81 + 1) = 1.35 nm, which is not enough. Where 0.96 nm of each
	// are the coating's, u² = (0.9·0.96 - 0.96)² + (0.81 + 1)·(1 - 0.96²) = 0.1511, u = 0.39 nm, which is.
	t.Run("thinned but for what both pulls share", func(t *testing.T) {
		for shared, want := range map[float64]study.State{0: study.Full, 0.96: study.Thinned} {
			fit := func(pull int, nm float64) *study.Fit {
				f := made("E", pull, "1", 0.982, 0.0004, 0, 2.5)
				f.Result.Thickness = study.Measure{Value: study.Num(nm), U: 1}
				share(f, coatingIndex, study.OutThickness, shared)
				setOwn(f, study.OutThickness, 1-shared*shared)
				return f
			}
			assert.Equal(t, want, one(study.RouteControls, fit(0, 120), fit(1, 106.5)).State, "shared %g nm", shared)
		}
	})
	t.Run("not evaluated", func(t *testing.T) {
		r := one(study.RouteControls, made("E", 0, "1", 0.986, 0.0003, 0, 2.8),
			evaluate.NotEvaluated(study.Exposed, study.Unit{Coupon: "E", Pull: 1, Spot: "1"}))
		assert.Equal(t, study.Unclear, r.State)
		assert.False(t, r.Change.Value.Valid())
		assert.False(t, math.IsInf(float64(r.GainKept.U), 0))
	})
}

// A spot that was read at fewer or other angles than at pull 0 says so; where the angles of
// a fit are not known, nothing is said.
func TestAnglesDiffer(t *testing.T) {
	at := func(pull int, spot string, angles ...float64) *study.Fit {
		f := made("E", pull, spot, 0.98, 0.0002, 0, 2.8)
		f.AnglesDeg = angles
		return f
	}
	fits := []*study.Fit{at(0, "1", 8, 60), at(0, "2", 8, 60), at(0, "3"), at(1, "1", 8), at(1, "2", 8, 60),
		at(1, "3", 8, 60), at(1, "4", 8),
		at(2, "1", 8, 30, 60), at(2, "2", 8, 45), at(2, "3"), at(3, "2")}
	var marked []string
	for _, r := range ageing.NewChanges(roster(), study.RouteNone).Rows(fits) {
		if slices.Contains(r.Flags, study.FlagAngles) {
			marked = append(marked, fmt.Sprintf("pull %v spot %s", r.Pull, r.Spot))
		}
	}
	assert.Equal(t, []string{"pull 1 spot 1", "pull 2 spot 1", "pull 2 spot 2"}, marked)
}

// A coupon that joined at pull 1 is compared with that pull, and so are the controls that correct it. Worked by hand:
// L changes from 0.9850 at pull 1 to 0.9820 at pull 2, by -0.30 pp. The control C1 is 0.9800, 0.9803 and 0.9808 at the
// pulls 0, 1 and 2, so that it changes by +0.05 pp since pull 1 and by +0.08 pp since pull 0: the corrected change of L is
// -0.35 pp, and that of E, which was there from the beginning and changes by -0.40 pp, is -0.48 pp. The planned dose of L
// is 200 - 90 = 110 days.
func TestCouponThatJoinedLate(t *testing.T) {
	of := roster()
	of.Pulls = append(of.Pulls, study.Pull{Exposure: "roof", Pull: 2, Dose: 200})
	of.Coupons = append(of.Coupons, study.Coupon{Coupon: "L", Role: study.Exposed, Coating: "K", Exposure: "roof",
		BaselinePull: 1})
	book := ageing.NewChanges(of, study.RouteControls)
	book.AddControl([]*study.Fit{made("C1", 0, "1", 0.98, 0.0002, 0, 2.8), made("C1", 1, "1", 0.9803, 0.0002, 0, 2.8),
		made("C1", 2, "1", 0.9808, 0.0002, 0, 2.8)})
	late := book.Rows([]*study.Fit{made("L", 0, "1", 0.99, 0.0002, 0, 2.8), made("L", 1, "1", 0.9850, 0.0002, 0, 2.8),
		made("L", 2, "1", 0.9820, 0.0002, 0, 2.8)})
	require.Len(t, late, 3)
	assert.Contains(t, late[0].Flags, study.FlagNoBaseline, "before it joined")
	assert.False(t, late[0].Dose.Valid())
	assert.True(t, late[1].IsBaseline())
	assert.Equal(t, study.Num(0), late[1].Change.Value)
	assert.Equal(t, study.Num(0), late[1].Dose)
	assert.InDelta(t, -0.30, float64(late[2].Change.Value), 1e-12)
	assert.InDelta(t, -0.35, float64(late[2].CorrectedChange.Value), 1e-12)
	assert.InDelta(t, 1-0.30/2.8, float64(late[2].GainKept.Value), 1e-12)
	assert.Equal(t, study.Num(110), late[2].Dose)
	assert.EqualValues(t, 1, late[2].NControls)
	assert.Equal(t, []string{study.FlagDosePlanned}, late[2].Flags)

	first := book.Rows([]*study.Fit{made("E", 0, "1", 0.9860, 0.0002, 0, 2.8), made("E", 2, "1", 0.9820, 0.0002, 0, 2.8)})
	assert.InDelta(t, -0.48, float64(first[1].CorrectedChange.Value), 1e-12)
}

// A coupon that went on into another exposure is corrected by the controls of both.
func TestTransferredCoupon(t *testing.T) {
	of := roster()
	of.Exposures = append(of.Exposures, study.Exposure{Exposure: "lamp", DoseUnit: "days"})
	of.Pulls = append(of.Pulls, study.Pull{Exposure: "lamp", Pull: 2, Dose: 30, Date: "2026-05-01"})
	of.Coupons = append(of.Coupons, study.Coupon{Coupon: "CL", Role: study.Control, Coating: "K", Exposure: "lamp"})
	of.Lives = []study.CouponEvent{{Coupon: "E", Event: study.EventTransfer, Pull: study.Stated{Value: 1, Is: true},
		Exposure: "lamp"}}
	book := ageing.NewChanges(of, study.RouteControls)
	for _, c := range []string{"C1", "CL"} {
		book.AddControl([]*study.Fit{made(c, 0, "1", 0.98, 0.0002, 0, 2.8), made(c, 2, "1", 0.98, 0.0002, 0, 2.8)})
	}
	rows := book.Rows([]*study.Fit{made("E", 0, "1", 0.9860, 0.0002, 0, 2.8), made("E", 2, "1", 0.9820, 0.0002, 0, 2.8)})
	assert.Equal(t, "roof", rows[0].Exposure)
	assert.Equal(t, "lamp", rows[1].Exposure)
	assert.Equal(t, "2026-05-01", rows[1].Date)
	assert.EqualValues(t, 2, rows[1].NControls)
	assert.Contains(t, rows[1].Flags, study.FlagTransferred)
}
