package cause

import "wane/study"

// Recovered is what readings of one spot at one pull in several conditions say of its change since the baseline, in
// pp of solar transmittance. Each difference counts what its readings share once. With T0 at the baseline, and T as
// found, rinsed and cleaned,
//
//	by rinsing  = 100·(T rinsed - T as found)      null where one was not read
//	by cleaning = 100·(T cleaned - T before)       before: rinsed, else as found
//	permanent   = 100·(T cleaned - T0)             null without a baseline that is clean
//	total       = 100·(T first - T0)               first: as found, else rinsed
//
// so that total + by rinsing + by cleaning = permanent.
type Recovered struct {
	ByRinsing, ByCleaning, Permanent, Total study.Measure
	AsFound, Rinsed, Cleaned                *study.Fit // nil: not read

	// Lossless says that one of the results counts the film as lossless: an absorbing soil then reads as a gain.
	Lossless bool
}

// Recover divides the readings of one spot at one pull; base is the baseline, nil if there is none. Of fits of one
// condition the last counts; fits without a stated condition, and without a solar value, do not. ok is false where
// there is no cleaned reading, or no other.
func Recover(base *study.Fit, fits []*study.Fit) (out Recovered, ok bool) {
	for _, f := range fits {
		if !f.Result.SolarT.Value.Valid() {
			continue
		}
		switch f.Condition {
		case "as_found":
			out.AsFound = f
		case "rinsed":
			out.Rinsed = f
		case "cleaned":
			out.Cleaned = f
		}
	}
	first, before := out.AsFound, out.Rinsed
	if first == nil {
		first = out.Rinsed
	}
	if before == nil {
		before = out.AsFound
	}
	if out.Cleaned == nil || first == nil {
		return Recovered{}, false
	}
	solarT := func(then, now *study.Fit) study.Measure {
		if then == nil || now == nil {
			return study.NoMeasure()
		}
		out.Lossless = out.Lossless || then.Result.IsLossless() || now.Result.IsLossless()
		return difference(then, now, study.OutSolarT, 100, func(r *study.Result) study.Measure { return r.SolarT })
	}
	out.ByRinsing, out.ByCleaning = solarT(out.AsFound, out.Rinsed), solarT(before, out.Cleaned)
	if out.Permanent, out.Total = study.NoMeasure(), study.NoMeasure(); base != nil &&
		study.CleanCondition(base.Condition) {
		out.Permanent, out.Total = solarT(base, out.Cleaned), solarT(base, first)
	}
	return out, true
}
