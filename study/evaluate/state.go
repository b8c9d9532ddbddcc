package evaluate

import (
	"fmt"
	"math"

	"wane/fit/film"
	"wane/study"
)

// States explains the states in the order of their rules: the state of a spot is the first whose
// limit holds.
func States() []study.Term {
	separable, _ := study.FindTerm(Flags(), film.FlagNotSeparable)
	return []study.Term{
		{Word: string(study.Unclear), Meaning: "the readings do not carry a state",
			Limit: fmt.Sprintf("the fit did not converge, or reduced chi-square is above %g, or a parameter is not "+
				"separable (%s)", float64(film.PoorFit), separable.Limit),
			Remedy: "read the flags of the row: they say what is wrong"},
		{Word: string(study.Stripped), Meaning: "no film remains, or almost none",
			Limit: fmt.Sprintf("the fit finds no film, or the material left is below the larger of %g nm and %g of its "+
				"standard uncertainties", float64(study.StrippedNM), float64(study.StateSigmas)),
			Remedy: "look at the coupon, and check that its coated side was read"},
		{Word: string(study.Patchy), Meaning: "a part of the measured spot has no film",
			Limit: fmt.Sprintf("the bare fraction is at least %g and at least %g of its standard uncertainties",
				float64(study.PatchyBare), float64(study.StateSigmas)),
			Remedy: "look at the spot; thickness and porosity are those of the remaining film"},
		{Word: string(study.Thinned), Meaning: "the film is thinner than at pull 0",
			Limit: fmt.Sprintf("the thickness is below %g of that of the baseline, by more than %g standard "+
				"uncertainties of the difference", float64(study.ThinnedPart), float64(study.StateSigmas)),
			Remedy: "follow it at the next pull"},
		{Word: string(study.Full), Meaning: "the film is there as at pull 0",
			Limit:  "no other state applies; without a baseline thickness the state is empty, since thinned cannot be excluded",
			Remedy: "nothing"},
	}
}

// Flags explains all flags that a row of results can carry: first those of fits, then those of
// readings, sessions and the comparison of pulls.
func Flags() []study.Term {
	var all []study.Term
	for _, f := range film.Flags() {
		all = append(all, study.Term(f))
	}
	return append(append(all, leachedFlag()), study.Flags()...)
}

// state returns the state of a verdict by the rules of [States]; base is the film at pull 0, nil if
// it is not known.
func state(v *film.Verdict, base *Baseline) study.State {
	solid := v.SolidNM
	switch {
	case !v.Converged || v.ReducedChi2 > film.PoorFit || !v.Separable():
		return study.Unclear
	case v.Model == film.ModelBare || solid.Value < max(study.StrippedNM, study.StateSigmas*study.Num(solid.U).OrZero()):
		return study.Stripped
	case v.Bare.Value >= max(study.PatchyBare, study.StateSigmas*study.Num(v.Bare.U).OrZero()):
		return study.Patchy
	case base == nil:
		return ""
	case isThinned(measure(v.ThicknessNM), base.Thickness):
		return study.Thinned
	}
	return study.Full
}

// isThinned is [study.IsThinned] against a thickness that has no error in common with the fit.
func isThinned(now, base study.Measure) bool {
	return study.IsThinned(now.Value, base.Value, study.Num(math.Hypot(now.U.OrZero(), study.ThinnedPart*base.U.OrZero())))
}
