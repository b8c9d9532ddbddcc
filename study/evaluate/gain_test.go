package evaluate_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/testdata/foreign"
)

// agedPlan is a study of one coupon that is patchy, thinner and denser at pull 1, in one session a pull.
func agedPlan() foreign.Plan {
	p := foreign.StandardPlan()
	p.Controls, p.Blanks = 0, 0
	p.ThicknessNM, p.Porosity = foreign.Effect{Shape: foreign.Even, Centre: 120, Width: 10},
		foreign.Effect{Shape: foreign.Even, Centre: 0.35, Width: 0.1}
	p.BareEffect = foreign.Effect{Shape: foreign.Even, Centre: 0.04, Width: 0.03}
	p.Loss = foreign.Loss{By: foreign.Patching, MeanPP: -0.3, CouponCV: 0.4}
	return p
}

// rosterOf returns what a lab registers of a simulated study, which is not its batches of glass.
func rosterOf(s *foreign.Study) *study.Roster {
	roster := &study.Roster{}
	for _, c := range s.Coupons {
		roster.Coupons = append(roster.Coupons, study.Coupon{Coupon: c.Code, Role: study.Role(c.Role), Supplier: c.Supplier,
			Coating: c.Coating, Lot: c.Lot, Glass: c.Glass, GlassMM: study.Null(), Back: c.Back})
	}
	return roster
}

// readingsOf returns the curves of a simulated reading as a study has them.
func readingsOf(r *foreign.Reading) (readings []study.Reading) {
	for _, c := range r.Curves {
		place := study.Place{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot, AngleDeg: c.AngleDeg, Polarisation: c.Polarisation,
			Quantity: study.Reflectance, Replicate: 1}
		readings = append(readings, study.Reading{Place: place, Session: r.Session, NM: c.WavelengthNM,
			Values: c.Reflectance})
	}
	return readings
}

// evaluatorOf is the evaluator that a study takes for a coupon.
func evaluatorOf(t *testing.T, c *study.Coupon) *evaluate.Evaluator {
	setup, err := evaluate.CouponSetup(c, "bruggeman", nil)
	require.NoError(t, err)
	e, err := evaluate.NewEvaluator(setup)
	require.NoError(t, err)
	return e
}

// Of 400 coupons of the law, as the simulator draws it that shares no optics with the fits, the 95 % intervals of the
// physical quantities hold the truth as often as they say: 364 to 393 times, which chance leaves once in 1,000 times (R
// 4.2.2: qbinom(c(0.0005, 0.9995), 400, 0.95)). The gain kept is over the glass of pull 0.
func TestGainCovers(t *testing.T) {
	held, plan, law := map[string]int{}, agedPlan(), foreign.Prior()
	check := func(what string, m study.Measure, truth float64) {
		if math.Abs(float64(m.Value)-truth) <= 1.959964*float64(m.U) {
			held[what]++
		}
	}
	var e *evaluate.Evaluator
	for run := range uint64(400) {
		s := plan.Run(law, 18, run)
		roster := rosterOf(&s)
		if e == nil {
			e = evaluatorOf(t, &roster.Coupons[0])
		}
		ownersOf := roster.OwnersOf()
		var fits []*study.Fit
		for i := range s.Readings {
			r := &s.Readings[i]
			f, err := e.Unit(context.Background(), study.Exposed, study.Unit{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot},
				readingsOf(r))
			require.NoError(t, err)
			owners := ownersOf(f)
			f.Errors.NameOwners(&owners)
			fits = append(fits, f)
		}
		rows := ageing.NewChanges(roster, study.RouteNone).Rows(fits)
		for i, row := range rows {
			truth, at := s.Readings[i].Truth, fmt.Sprintf(" at pull %d", i)
			check("solar_T"+at, row.SolarT, truth.SolarT)
			check("cell_T"+at, row.CellT, truth.CellT)
			check("gain"+at, row.Gain, truth.GainPP)
			check("material left"+at, row.Solid, truth.MaterialLeftNM)
		}
		check("change", rows[1].Change, s.Changes[0].ChangePP)
		check("gain kept", rows[1].GainKept, s.Changes[0].GainKept)
	}
	require.Len(t, held, 10)
	for what, n := range held {
		assert.GreaterOrEqual(t, n, 364, what)
		assert.LessOrEqual(t, n, 393, what)
	}
	t.Log(held)
}

// differenceU returns the uncertainty of a difference of two spots of a joint fit, by what package film says that they
// share.
func differenceU(t *testing.T, joint *film.Joint, q film.Measurand, a, b int) float64 {
	sum, by := 0.0, map[film.Effect]float64{}
	for spot, weight := range map[int]float64{a: 1, b: -1} {
		e, err := joint.Errors(spot, q)
		require.NoError(t, err)
		sum += e.Own.At(0, 0)
		for k, effect := range e.Effects {
			by[effect] += weight * e.By.At(k, 0)
		}
	}
	for _, v := range by {
		sum += v * v
	}
	return math.Sqrt(sum)
}

// The change between two pulls of one joint fit, by what their errors have in common, is as uncertain as package film
// says of that fit. The readings of a third pull come from the session of the second.
func TestJointPullsShareTheirErrors(t *testing.T) {
	plan := agedPlan()
	plan.Pulls = 2
	s := plan.Run(foreign.Prior(), 81, 1)
	coupon := &rosterOf(&s).Coupons[0]
	e := evaluatorOf(t, coupon)
	setup, err := evaluate.CouponSetup(coupon, "bruggeman", nil)
	require.NoError(t, err)
	w, _, err := solar.Weights(solar.Grid(300, 2500), 300, 2500, solar.Energy)
	require.NoError(t, err)
	probe, err := film.NewProbe(solar.Grid(300, 2500), w, 0, optics.U, setup.Glass.Index, setup.Coating)
	require.NoError(t, err)
	var units []evaluate.SessionUnit
	var single []*study.Fit
	var pulls []film.Pull
	for i := range s.Readings {
		r := &s.Readings[i]
		r.Session = []string{"m1", "m2", "m2"}[r.Pull]
		unit := evaluate.SessionUnit{Evaluator: e, Coupon: coupon, Readings: readingsOf(r),
			Unit: study.Unit{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot}}
		f, err := e.Unit(context.Background(), coupon.Role, unit.Unit, unit.Readings)
		require.NoError(t, err)
		units, single = append(units, unit), append(single, f)
		p := film.Pull{Member: film.Member{Spot: &film.Spot{Setup: setup}, Session: r.Session, Glass: coupon.GlassBatch(),
			Coating: coupon.Coating, Coupon: coupon.Coupon}}
		for _, c := range r.Curves {
			p.Spot.Curves = append(p.Spot.Curves, film.Curve{NM: c.WavelengthNM, R: c.Reflectance, AngleDeg: c.AngleDeg,
				Pol: optics.U})
		}
		pulls = append(pulls, p)
	}
	fits, err := evaluate.JointPulls(context.Background(), units, single, nil, &film.Fitters{})
	require.NoError(t, err)
	joint, err := film.FitPulls(context.Background(), pulls, 1)
	require.NoError(t, err)
	for _, pair := range [][2]int{{1, 0}, {2, 0}, {2, 1}} {
		for _, q := range []struct {
			of   film.Measurand
			out  study.Output
			unit float64
		}{{film.Measurand{Mean: probe}, study.OutSolarT, 1}, {film.Measurand{Gain: probe}, study.OutGain, 100},
			{film.Measurand{Name: film.Solid}, study.OutSolid, 1},
			{film.Measurand{Name: film.Thickness}, study.OutThickness, 1}} {
			want := differenceU(t, joint, q.of, pair[0], pair[1])
			got := study.Uncertainty([]study.Weighted{{Errors: &fits[pair[0]].Errors, Output: q.out, Weight: 1},
				{Errors: &fits[pair[1]].Errors, Output: q.out, Weight: -1}})
			// a share of up to 1e-4 of the variance may count as each fit's own
			assert.InEpsilon(t, q.unit*want, got, 1e-4, "pulls %v, quantity %d", pair, q.out)
		}
	}
	session := func(f *study.Fit, of string) (sum float64) {
		for _, s := range f.Errors.Shared {
			if s.Owner == study.OwnerSession && s.Of == of {
				sum += s.By[study.OutSolarT] * s.By[study.OutSolarT]
			}
		}
		return math.Sqrt(sum)
	}
	u := float64(fits[1].Result.SolarT.U)
	assert.Greater(t, session(fits[1], "m2"), 0.3*u, "other coupons share the session")
	assert.Less(t, session(fits[1], "m1"), 0.3*u, "it feels the session of pull 0 only by the glass that both determine")
}
