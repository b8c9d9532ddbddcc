package ageing

import (
	"math"

	"wane/study"
)

// minGain is the least initial gain, in its standard uncertainties, with which the gain kept is given.
const minGain = 3

// measured returns a weighted sum of results with its uncertainty. value is the sum. The uncertainty is null if the
// errors of one of the results are not known, as those of fits by earlier versions of the model.
func measured(value study.Num, terms []study.Weighted) study.Measure {
	if !known(terms) {
		return study.Measure{Value: value, U: study.Null()}
	}
	return study.Measure{Value: value, U: study.Num(study.Uncertainty(terms))}
}

// scaled returns the terms with their weights multiplied.
func scaled(by float64, terms []study.Weighted) []study.Weighted {
	out := make([]study.Weighted, len(terms))
	for i, t := range terms {
		out[i] = study.Weighted{Errors: t.Errors, Output: t.Output, Weight: by * t.Weight}
	}
	return out
}

// changeTerms returns the results that a change of q is the weighted sum of: none if it is null, or 0 by definition.
func changeTerms(q *study.Followed, f, base *study.Fit) []study.Weighted {
	if base == nil || f == base || !q.Value(&f.Result).Valid() {
		return nil
	}
	return []study.Weighted{q.Term(f, 1), q.Term(base, -1)}
}

// changeSince returns the change of q, such as 100·(T - T0), in pp. It is null without a baseline.
func changeSince(q *study.Followed, f, base *study.Fit) study.Measure {
	if base == nil || !q.Value(&f.Result).Valid() {
		return study.NoMeasure()
	}
	return measured(q.Value(&f.Result)-q.Value(&base.Result), changeTerms(q, f, base))
}

// gainKept returns the gain now over the gain at pull 0, both against the glass of pull 0, so that a change of the
// glass does not count. of is the change as a sum of results. With dT the change and g0 the gain at pull 0, in pp,
// and q = dT/g0,
//
//	kept = 1 + q        d(kept) = (d(dT) - q·d(g0)) / g0
//
// Its uncertainty is that of this sum, of first order. The exact interval, by Fieller's theorem, is wider: by about
// 2 % if g0 is 10 times its uncertainty, by 10 % if it is 5 times, by 45 % if it is 3 times (testdata/fieller.R).
// The gain kept is null if g0 is not above minGain times its uncertainty.
func gainKept(f, base *study.Fit, change study.Measure, of []study.Weighted) study.Measure {
	if base == nil || !change.Value.Valid() || !f.Result.Gain.Value.Valid() {
		return study.NoMeasure()
	}
	g0 := base.Result.Gain
	if !(g0.Value > minGain*g0.U) {
		return study.NoMeasure()
	}
	if f == base {
		return study.Measure{Value: 1, U: 0}
	}
	q := change.Value / g0.Value
	terms := append(scaled(1/float64(g0.Value), of),
		study.Weighted{Errors: &base.Errors, Output: study.OutGain, Weight: -float64(q / g0.Value)})
	return measured(1+q, terms)
}

// unseenChange returns the part of a change outside the measured wavelengths, in pp. It is null if the
// readings of the two pulls do not cover the same wavelengths.
func unseenChange(f, base *study.Fit, change study.Measure) study.Num {
	if !change.Value.Valid() || f.SeenLoNM != base.SeenLoNM || f.SeenHiNM != base.SeenHiNM {
		return study.Null()
	}
	return change.Value - 100*(f.SeenT-base.SeenT)
}

// stateAgainst returns the state of a row of a fit. If the fit gave no state, the baseline decides between thinned and
// full.
func stateAgainst(r *study.Result, f, base *study.Fit) study.State {
	if r.State != "" || base == nil {
		return r.State
	}
	b := &base.Result
	if b.State == study.Unclear || !b.Thickness.Value.Valid() || b.Thickness.Value == 0 {
		return study.Unclear // no thickness to compare with
	}
	if study.IsThinned(r.Thickness.Value, b.Thickness.Value, shortBy(f, base)) {
		return study.Thinned
	}
	return study.Full
}

// shortBy returns the standard uncertainty of study.ThinnedPart of the thickness of the baseline less that now, in
// nm. The two count as independent where their errors are not known.
func shortBy(f, base *study.Fit) study.Num {
	terms := []study.Weighted{{Errors: &base.Errors, Output: study.OutThickness, Weight: study.ThinnedPart},
		{Errors: &f.Errors, Output: study.OutThickness, Weight: -1}}
	if known(terms) {
		return study.Num(study.Uncertainty(terms))
	}
	return study.Num(math.Hypot(f.Result.Thickness.U.OrZero(), study.ThinnedPart*base.Result.Thickness.U.OrZero()))
}
