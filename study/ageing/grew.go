package ageing

import "wane/study"

// grew reports whether a row gets [study.FlagGrew], with the change of its solar value: its thickness, its material left or its solar value is above
// that of the baseline by more than study.GrewSigmas standard uncertainties of the difference.
func grew(change study.Measure, r *study.Result, f, base *study.Fit) bool {
	if base == nil || f == base {
		return false
	}
	above := func(now, then study.Measure, output study.Output) bool {
		d := now.Value - then.Value
		return d > 0 && isAbove(measured(d, []study.Weighted{{Errors: &f.Errors, Output: output, Weight: 1},
			{Errors: &base.Errors, Output: output, Weight: -1}}))
	}
	b := &base.Result
	return isAbove(change) || above(r.Thickness, b.Thickness, study.OutThickness) ||
		above(r.Solid, b.Solid, study.OutSolid)
}

// isAbove reports whether a difference is above study.GrewSigmas of its standard uncertainties.
func isAbove(d study.Measure) bool { return d.U > 0 && d.Value > study.GrewSigmas*d.U }
