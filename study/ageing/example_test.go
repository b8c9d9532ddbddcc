package ageing_test

import (
	"fmt"

	"wane/study"
	"wane/study/ageing"
)

// exampleFit returns a fit with nothing but a solar transmittance of standard uncertainty 0.0002.
func exampleFit(coupon string, pull int, solarT float64) *study.Fit {
	f := study.NewFit(study.Unit{Coupon: coupon, Pull: pull, Spot: "1"})
	f.Result.SolarT = study.Measure{Value: study.Num(solarT), U: 0.0002}
	f.Errors.SetOwn(study.OutSolarT, study.OutSolarT, 0.0002*0.0002)
	return f
}

func exampleRoster() *study.Roster {
	coupon := func(code string, role study.Role) study.Coupon {
		return study.Coupon{Coupon: code, Role: role, Coating: "K", Exposure: "roof", Glass: "soda-lime", Back: "matched"}
	}
	return &study.Roster{
		Exposures: []study.Exposure{{Exposure: "roof", DoseUnit: "days"}},
		Pulls:     []study.Pull{{Exposure: "roof", Pull: 0}, {Exposure: "roof", Pull: 1, Dose: 90}},
		Coupons:   []study.Coupon{coupon("E1", study.Exposed), coupon("E2", study.Exposed), coupon("C1", study.Control)},
	}
}

// An exposed coupon lost 0.50 pp of solar transmittance and its control in the dark 0.10 pp, which is
// the instrument's: the corrected change is -0.40 pp.
func ExampleChanges() {
	changes := ageing.NewChanges(exampleRoster(), study.RouteControls)
	changes.AddControl([]*study.Fit{exampleFit("C1", 0, 0.9850), exampleFit("C1", 1, 0.9840)})
	rows := changes.Rows([]*study.Fit{exampleFit("E1", 0, 0.9860), exampleFit("E1", 1, 0.9810)})
	last := rows[1]
	fmt.Printf("after %g %s: %.2f pp, corrected %.2f pp by %g control\n", float64(last.Dose), last.DoseUnit,
		float64(last.Change.Value), float64(last.CorrectedChange.Value), float64(last.NControls))
	// Output:
	// after 90 days: -0.50 pp, corrected -0.40 pp by 1 control
}

// Two coupons of one coating, of which one lost 0.40 pp and the other 0.60 pp, are one group. Its
// interval is wide: two coupons say little.
func ExampleGrouper() {
	changes := ageing.NewChanges(exampleRoster(), study.RouteNone)
	groups := ageing.NewGrouper(ageing.ByCoating)
	for coupon, after := range map[string]float64{"E1": 0.9820, "E2": 0.9800} {
		for _, row := range changes.Rows([]*study.Fit{exampleFit(coupon, 0, 0.9860), exampleFit(coupon, 1, after)}) {
			groups.Add(row)
		}
	}
	for _, g := range groups.Groups() {
		fmt.Printf("coating %s, pull %d: %d coupons, %.2f pp (%.2f to %.2f)\n", g.Group, g.Pull, g.Coupons,
			float64(g.Change), float64(g.Lo), float64(g.Hi))
	}
	// Output:
	// coating K, pull 0: 2 coupons, 0.00 pp (0.00 to 0.00)
	// coating K, pull 1: 2 coupons, -0.50 pp (-1.77 to 0.77)
}
