package ageing

import (
	"math"

	"wane/study"
)

// grew reports whether a fit gets [study.FlagGrew]: its thickness, its material left or its solar value is above
// that of the baseline by more than study.GrewSigmas standard uncertainties of the difference.
func grew(f, base *study.Fit) bool {
	if base == nil || f == base {
		return false
	}
	now, then := &f.Result, &base.Result
	ofThickness := sharedProduct(f.ThicknessShared, base.ThicknessShared) + sharedProduct(f.ThicknessSharedGlass,
		base.ThicknessSharedGlass)
	ofSolid := sharedProduct(f.SolidShared, base.SolidShared) + sharedProduct(f.SolidSharedGlass, base.SolidSharedGlass)
	for _, d := range []study.Measure{
		changeSince(f, base),
		increase(now.Thickness, then.Thickness, ofThickness),
		increase(now.Solid, then.Solid, ofSolid),
	} {
		if d.U > 0 && d.Value > study.GrewSigmas*d.U {
			return true
		}
	}
	return false
}

// increase returns now less then, with the uncertainty for the given covariance. A null uncertainty counts as 0:
// the value is pinned, or there is no film.
func increase(now, then study.Measure, covariance float64) study.Measure {
	u, u0 := now.U.OrZero(), then.U.OrZero()
	return study.Measure{Value: now.Value - then.Value, U: study.Num(math.Sqrt(max(0, u*u+u0*u0-2*covariance)))}
}
