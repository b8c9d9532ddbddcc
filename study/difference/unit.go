package difference

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"wane/study/population"
	"wane/study/series"
)

// leastLots is the number of lots of a group from which on the lot is the unit.
const leastLots = 3

// member is a coupon with its value.
type member struct {
	coupon *series.Coupon
	point  *series.Point
}

// unit is the mean of some coupons.
type unit struct {
	value  float64
	errors series.Errors // Own is not kept: the scatter between units holds it
	of     []member
}

// sample is the values of the units of a group.
type sample struct {
	units  []unit
	mean   series.Errors // what the mean is off by each effect
	common float64       // the mean of the covariances of two units
	now    []string      // the sessions of the readings, in order
	start  []string      // those of their baselines
}

// unitsOf makes units of the coupons of a group: its lots if it has enough of them and is not a lot itself.
func unitsOf(members []member, by population.By) (units []unit, kind population.Unit, lots int) {
	type lot struct{ coating, lot string }
	at, order := map[lot][]member{}, []lot{}
	for _, m := range members {
		key := lot{m.coupon.Coating, m.coupon.Lot}
		if at[key] == nil {
			order = append(order, key)
		}
		at[key] = append(at[key], m)
	}
	if len(order) >= leastLots && by != population.ByLot {
		for _, key := range order {
			units = append(units, unitOf(at[key]))
		}
		return units, population.UnitLot, len(order)
	}
	for i := range members {
		units = append(units, unitOf(members[i:i+1]))
	}
	return units, population.UnitCoupon, len(order)
}

// unitOf returns the mean of some coupons.
func unitOf(members []member) unit {
	u := unit{of: members}
	errors := make([]*series.Errors, len(members))
	for i, m := range members {
		u.value += m.point.Change.Value / float64(len(members))
		errors[i] = &m.point.Change.Errors
	}
	u.errors = meanOf(errors)
	return u
}

// meanOf returns what the mean of some values is off by the effects that others share; not known if that of one is not.
func meanOf(all []*series.Errors) series.Errors {
	mean, sums := series.Errors{Known: true}, map[int]float64{}
	for _, e := range all {
		mean.Known = mean.Known && e.Known
		for _, s := range e.Shared {
			sums[s.Effect] += s.By / float64(len(all))
		}
	}
	if !mean.Known {
		return series.Errors{}
	}
	for _, effect := range slices.Sorted(maps.Keys(sums)) {
		mean.Shared = append(mean.Shared, series.Share{Effect: effect, By: sums[effect]})
	}
	return mean
}

// newSample returns the sample of some units.
func newSample(units []unit) sample {
	s := sample{units: units}
	n, squares := float64(len(units)), 0.0
	errors := make([]*series.Errors, len(units))
	for i := range units {
		u := &units[i]
		errors[i] = &u.errors
		squares += series.Covariance(&u.errors, &u.errors)
		for _, m := range u.of {
			s.now = append(s.now, m.point.Session)
			for k := range m.coupon.Points {
				if p := &m.coupon.Points[k]; p.Baseline {
					s.start = append(s.start, p.Session)
				}
			}
		}
	}
	s.now, s.start = once(s.now), once(s.start)
	if s.mean = meanOf(errors); len(units) > 1 {
		s.common = (n*n*series.Covariance(&s.mean, &s.mean) - squares) / (n * (n - 1))
	}
	return s
}

// once returns names in order, each once.
func once(names []string) []string {
	slices.Sort(names)
	return slices.Compact(names)
}

// eachDifference hands what the means of two samples are off, one less the other, to visit, effect by effect.
func eachDifference(a, b *series.Errors, visit func(effect int, by float64)) {
	x, y := a.Shared, b.Shared
	for len(x) > 0 || len(y) > 0 {
		switch {
		case len(y) == 0 || len(x) > 0 && x[0].Effect < y[0].Effect:
			visit(x[0].Effect, x[0].By)
			x = x[1:]
		case len(x) == 0 || y[0].Effect < x[0].Effect:
			visit(y[0].Effect, -y[0].By)
			y = y[1:]
		default:
			visit(x[0].Effect, x[0].By-y[0].By)
			x, y = x[1:], y[1:]
		}
	}
}

// values returns the values of the units.
func (s *sample) values() []float64 {
	out := make([]float64, len(s.units))
	for i := range s.units {
		out[i] = s.units[i].value
	}
	return out
}

// moments returns the mean of the values of the units, and the standard deviation between them, NaN for one unit.
func (s *sample) moments() (mean, sd float64) {
	values := s.values()
	if len(values) == 1 {
		return values[0], math.NaN()
	}
	return stat.MeanStdDev(values, nil)
}
