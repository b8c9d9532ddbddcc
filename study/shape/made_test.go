package shape_test

import (
	"fmt"
	"math"

	"wane/study"
	"wane/study/series"
)

// maker makes a series by hand.
type maker struct{ d *series.Data }

func newMaker() *maker {
	return &maker{&series.Data{Quantity: series.Quantity{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1}}}
}

// effect returns a new effect.
func (m *maker) effect(owner study.Owner, of string) int {
	m.d.Effects = append(m.d.Effects, study.Effect{Owner: owner, Of: of, Name: "made"})
	return len(m.d.Effects) - 1
}

// coupon adds an exposed coupon of coating A in lot L1, read at its baseline and at the doses x, with changes y of own
// standard uncertainty u and an error of the baseline ub that all share; u NaN: errors are not known.
func (m *maker) coupon(name string, x, y []float64, u, ub float64) *series.Coupon {
	c := series.Coupon{Coupon: name, Role: study.Exposed, Supplier: "S", Coating: "A", Lot: "L1",
		Exposure: "rack", DoseUnit: "days"}
	c.Points = []series.Point{{Baseline: true}}
	base := m.effect(study.OwnerReading, name)
	for i := range x {
		v := series.Value{Value: y[i]}
		if !math.IsNaN(u) {
			v.Errors = series.Errors{Known: true, Own: u * u, Shared: []series.Share{{Effect: base, By: -ub}}}
		}
		c.Points = append(c.Points, series.Point{Pull: i + 1, Dose: x[i], Days: x[i], Session: fmt.Sprintf("s%d", i+1),
			Change: v})
	}
	m.d.Coupons = append(m.d.Coupons, c)
	return &m.d.Coupons[len(m.d.Coupons)-1]
}

// share gives an error of the session of a pull, in pp, to the changes of all coupons there.
func (m *maker) share(pull int, by float64) {
	effect := m.effect(study.OwnerSession, fmt.Sprint("s", pull))
	for i := range m.d.Coupons {
		points := m.d.Coupons[i].Points
		for k := range points {
			if e := &points[k].Change.Errors; points[k].Pull == pull {
				e.Shared = append(e.Shared, series.Share{Effect: effect, By: by})
			}
		}
	}
}
