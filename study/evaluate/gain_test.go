package evaluate_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
		readings = append(readings, study.Reading{Place: place, Session: r.Session, NM: c.WavelengthNM, Values: c.Reflectance})
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
