package ageing

import (
	"math"

	"wane/study"
)

// grewSigmas is how many standard uncertainties of the difference the thickness, the
// solid or the solar value lies above pull 0, for [study.FlagGrew].
const grewSigmas = 3

// grew reports whether one of them does, with the part of the uncertainties that both
// share counted once.
func grew(f, base *study.Fit) bool {
	if base == nil || f == base {
		return false
	}
	now, then := &f.Result, &base.Result
	ofThickness := part(f.ThicknessShared, base.ThicknessShared) + part(f.ThicknessSharedGlass, base.ThicknessSharedGlass)
	ofSolid := part(f.SolidShared, base.SolidShared) + part(f.SolidSharedGlass, base.SolidSharedGlass)
	for _, d := range []study.Measure{
		change(f, base),
		rise(now.Thickness, then.Thickness, ofThickness),
		rise(now.Solid, then.Solid, ofSolid),
	} {
		if d.U > 0 && d.Value > grewSigmas*d.U {
			return true
		}
	}
	return false
}

// rise is the difference of two quantities of a covariance. What is pinned, or follows from
// there being no film, has no uncertainty of its own.
func rise(now, then study.Measure, covariance float64) study.Measure {
	u, u0 := now.U.OrZero(), then.U.OrZero()
	return study.Measure{Value: now.Value - then.Value, U: study.Num(math.Sqrt(max(0, u*u+u0*u0-2*covariance)))}
}
