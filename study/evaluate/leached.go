package evaluate

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// Water takes alkali out of the surface of glass and leaves a skin of silica that reflects less: a leached skin. On
// uncoated glass it is fitted as a film of its own, without pores, of this index at 550 nm with the dispersion of fused
// silica, and of any thickness. Its index lies between that of silica and that of the glass; common practice, no source.
const skinIndex, uSkinIndex = 1.48, 0.02

// FlagLeached marks uncoated glass whose curves are those of a leached skin; its row has the thickness and the index of the
// skin.
const FlagLeached = "leached"

func leachedFlag() study.Term {
	return study.Term{Word: FlagLeached,
		Meaning: "uncoated glass has a leached skin, whose thickness and index the row has",
		Limit: fmt.Sprintf("the curves of a blank are not those of bare glass (misfit), but those of a skin of index %g ± %g "+
			"without pores, at least %g of its standard uncertainties thick", skinIndex, uSkinIndex, float64(study.StateSigmas)),
		Remedy: "compare it with the blanks kept in the dark: the difference is what the glass itself has changed"}
}

// leachedSetup returns the setup of uncoated glass with a leached skin.
func leachedSetup(setup film.Setup) film.Setup {
	known := knownOf(&setup)
	known.Structure = film.Structure{}
	setup.Known = &known
	setup.Coating = film.Coating{Mixing: optics.Bruggeman, Skeleton: skinIndex, USkeleton: uSkinIndex}
	return setup
}

// withSkin returns the fit of uncoated glass with a leached skin, if its curves are not those of bare glass and those of a
// skin are as good as the law; else nil.
func (e *Evaluator) withSkin(ctx context.Context, curves []film.Curve) (*study.Fit, error) {
	bare, err := e.fitter.Fit(ctx, &film.Spot{Setup: e.setup, Curves: curves, Pins: film.Pins{film.Bare: 1}})
	var in *film.InputError
	if errors.As(err, &in) || err == nil && !slices.Contains(bare.Flags, film.FlagMisfit) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if e.leached == nil {
		if e.leached, err = NewEvaluator(leachedSetup(e.setup)); err != nil {
			return nil, err
		}
	}
	f, v, err := e.leached.fit(ctx, curves, film.Pins{film.Porosity: 0, film.Bare: 0})
	var refused *study.Refusal
	if errors.As(err, &refused) || err == nil && (!v.Converged || v.ReducedChi2 > film.PoorFit ||
		slices.Contains(v.Flags, film.FlagMisfit) || !(v.ThicknessNM.Value >= study.StateSigmas*v.ThicknessNM.U)) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	r := &f.Result
	r.Porosity, r.Solid = study.NoMeasure(), study.NoMeasure()
	r.Flags = append(slices.DeleteFunc(r.Flags, func(f string) bool { return strings.HasPrefix(f, film.FlagPinned) }),
		FlagLeached)
	return f, nil
}
