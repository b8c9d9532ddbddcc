package film

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/fit"
	"wane/optics"
)

// The words of flags. Some carry a parameter's name after a colon.
const (
	flagNotConverged = "not-converged"
	flagPoorFit      = "poor-fit"        // reduced chi-square above 3
	FlagNotSeparable = "not-separable:"  // its uncertainty exceeds the limit
	flagAtBound      = "at-bound:"       // the best value is a limit of the fit, and not a physical zero
	FlagPinned       = "pinned:"         // fixed by the person, NAME=VALUE
	flagFacets       = "specular-facets" // textured: only facets near the mean plane are seen
	flagUnlikely     = "unlikely:"       // a nuisance far outside its prior
	flagMasked       = "masked"          // points inside masks are not fitted
	flagLoss         = "loss:"           // points far from the fit count by another loss than squares
	flagSpikes       = "spikes"          // points far from their neighbours are not fitted
	flagCorrelated   = "correlated"      // neighbouring residuals are correlated
	FlagStructure    = "structure"       // the curves are not those of a uniform film
	FlagMisfit       = "misfit"          // the curves are not those of the law
	flagJoin         = "join:"           // a step there explains the misfit
	flagBackAsFront  = "back-as-front"   // both faces carry the film and are taken as equal
)

// Limits of the standard uncertainty beyond which a parameter is not separable: for the thickness the larger
// of 5 nm and 5 %.
const (
	limitThicknessNM   = 5
	limitThicknessPart = 0.05
	limitPorosity      = 0.05
	limitBare          = 0.10
)

// unlikelySigmas is the number of prior standard deviations beyond which a nuisance gets a flag. A wrong far face
// or glass appears there first.
const unlikelySigmas = 4

// Flag explains a flag of verdicts.
type Flag struct {
	Word    string // as verdicts carry it; a word that ends in a colon is followed by what it is about
	About   string // what follows the colon, as NAME; empty without a colon
	Meaning string // in a sentence or two, lower case, no full stop
	Limit   string // the numbers that decide, with their units; empty where no number does
	Remedy  string // what to do about it
}

// Flags explains the flags of verdicts, in the order in which a verdict carries them.
func Flags() []Flag {
	return append(faultFlags(), settingFlags()...)
}

// faultFlags explains the flags that the fit sets.
func faultFlags() []Flag {
	return []Flag{
		{flagNotConverged, "", "the fit did not converge; only the measured curves can be trusted",
			"the solver stopped before its convergence test was met",
			"check angle, unit, glass and far face, and measure the spot again"},
		{flagPoorFit, "", "the model does not describe the curves within their noise",
			fmt.Sprintf("reduced chi-square above %g", float64(PoorFit)),
			"look at the figure of the residuals; check angle, unit, glass and far face"},
		{FlagNotSeparable, "NAME", "these curves do not determine this parameter, so its value means little",
			fmt.Sprintf("standard uncertainty of thickness above the larger of %d nm and %g %%, of porosity above %g, "+
				"of bare fraction above %.2f; glass without a film: noise that would hide even a thick one",
				limitThicknessNM, 100*limitThicknessPart, limitPorosity, limitBare),
			"measure at more angles, or fix a parameter whose value is known"},
		{flagAtBound, "NAME", "the best value is a limit of the fit; the true value may lie beyond it",
			"the limits of thickness, index, bare fraction and scale; zero film and zero bare fraction do not count, since " +
				"many sound spots have them",
			"check the glass, the coating and the unit"},
		{FlagMisfit, "", "the curves are smooth in another way than film, glass and instrument can make them: a detector join, " +
			"another glass, a leached skin of the glass or a residue look so",
			fmt.Sprintf("the first %d cosine coefficients of the residuals of all curves; %g %% of sound spots are called",
				cosines, 100*misfitLevel),
			"look at the figure of the residuals; check glass, far face and the joins of the instrument, and clean and measure " +
				"the spot again; the values may be off by more than their uncertainty"},
		{flagJoin, "NM=STEP", "a step of the readings at this wavelength, in nm, would explain the misfit, as where one detector " +
			"ends and the next begins; it changes no value",
			fmt.Sprintf("tried where the instrument has no registered join, every %d nm from %d to %d nm; the sum of squares falls by "+
				"more than %d, and what remains is no misfit", joinStepNM, joinNM-joinReachNM, joinNM+joinReachNM, leastJoin),
			"enrol the instrument with this join and the uncertainty of its step (join_nm, u_join), if it has one there"},
		{flagUnlikely, "NAME", "this property of the glass or the instrument is far from what is known of it beforehand",
			fmt.Sprintf("more than %d of its prior standard deviations", unlikelySigmas),
			"check far face, glass, unit and reference"},
	}
}

// settingFlags explains the flags of settings, and of how the curves were used.
func settingFlags() []Flag {
	return []Flag{
		{FlagPinned, "NAME=VALUE", "the parameter is fixed at this value as you asked, so it has no uncertainty", "",
			"remove the fixed value to have it fitted"},
		{flagFacets, "", "textured glass: only facets near the mean plane were seen", "",
			"take the values as those of these facets, and compare textured glass with textured glass only"},
		{flagMasked, "", "wavelengths were excluded from the fit as you asked", "", "remove the mask to use them"},
		{flagLoss, "NAME", "points far from the fit count for less, by this loss, as you asked", "",
			"use the loss squares to have all points count alike"},
		{flagSpikes, "", "points that stick out of a smooth curve were excluded from the fit",
			fmt.Sprintf("more than %g standard deviations of the noise from the line through the neighbours; at most %g %% "+
				"of the points of a curve", spikeNoise, 100*spikeShare),
			"nothing, if they are glitches of the instrument; look at the figure of the curve"},
		{flagCorrelated, "", "neighbouring residuals are correlated: the model or the instrument bends the curves a " +
			"little; " +
			"the uncertainties are wider for it",
			fmt.Sprintf("the points count for less than %g %% of their number", 100*correlatedShare),
			"look at the figure of the residuals"},
		{FlagStructure, "", "the curves are not those of a uniform film: a dense skin, a gradient of porosity, an uneven thickness " +
			"or, with misfit or join, what these flags name",
			fmt.Sprintf("as for misfit, with a uniform film; %g %% of uniform films are called, and of films with usual "+
				"structures, by simulation, 80 %% of whole ones and 10 %% of thinned ones", 100*misfitLevel),
			"nothing: solar values and material left count with it; compare thickness, porosity and bare fraction with those of the " +
				"same angles and range only"},
		{flagBackAsFront, "", "both faces carry the film and are taken to be equal", "",
			"to see one film alone, measure with a matched or blackened far face"},
	}
}

// setFlags sets the flags of the verdict.
func (v *Verdict) setFlags() {
	say := func(word, of string) { v.Flags = append(v.Flags, word+of) }
	if !v.Converged {
		say(flagNotConverged, "")
	}
	if v.called.full {
		say(FlagMisfit, "")
	}
	if v.called.full && v.join != nil {
		say(flagJoin, v.join.String())
	}
	if v.ReducedChi2 > PoorFit {
		say(flagPoorFit, "")
	}
	if v.Model == ModelBare && v.allowedFilm != nil && v.allowedFilm[pTau] >= scanThin { // the noise would hide any film
		say(FlagNotSeparable, Thickness)
	}
	if v.Model != ModelBare {
		for _, name := range v.notSeparable() {
			say(FlagNotSeparable, name)
		}
		for _, at := range []struct {
			i    int
			name string
		}{{pTau, Thickness}, {pIndex, FilmIndex}, {pBare, Bare}} {
			if v.onBound(at.i) {
				say(flagAtBound, at.name)
			}
		}
	}
	if v.onBound(pScale) {
		say(flagAtBound, Scale)
	}
	_, s := v.physical() // the uniform film bends scale and factors where the film has structure
	for i := range s.params {
		p := &s.params[i]
		if !p.Fixed && p.Prior.SD > 0 && math.Abs(s.x[i]-p.Prior.Mean) > unlikelySigmas*p.Prior.SD {
			say(flagUnlikely, p.Name)
		}
	}
	for _, name := range v.model.spot.Pins.names() {
		say(FlagPinned, fmt.Sprintf("%s=%g", name, v.model.spot.Pins[name]))
	}
	if v.model.spot.Texture {
		say(flagFacets, "")
	}
	if len(v.model.spot.Masks) > 0 {
		say(flagMasked, "")
	}
	if loss := v.model.spot.Loss; loss != fit.Squares {
		say(flagLoss, loss.String())
	}
	if v.model.spot.spikes {
		say(flagSpikes, "")
	}
	if v.chosen.effectiveShare < correlatedShare && v.model.noiseFactor*v.chosen.inflation() > 1 {
		say(flagCorrelated, "")
	}
	if v.called.uniform && v.structured != nil {
		say(FlagStructure, "")
	}
	if v.model.spot.Glass.Back == optics.Coated {
		say(flagBackAsFront, "")
	}
}

// notSeparable names the parameters whose uncertainty exceeds its limit.
func (v *Verdict) notSeparable() []string { return beyondLimits(v.ThicknessNM, v.Porosity, v.Bare) }

// beyondLimits names the parameters whose uncertainty exceeds its limit.
func beyondLimits(thickness, porosity, bare Estimate) []string {
	var names []string
	if thickness.U > max(limitThicknessNM, limitThicknessPart*thickness.Value) {
		names = append(names, Thickness)
	}
	if porosity.U > limitPorosity {
		names = append(names, Porosity)
	}
	if bare.U > limitBare {
		names = append(names, Bare)
	}
	return names
}

// onBound reports whether the best value of parameter i is a limit that the fit sets. The zero of a quantity that
// cannot be negative, such as the bare fraction of a sound film, is no such limit: it is the true value of many
// spots, and the interval there is one-sided. The index of a film without pores is such a limit: it follows from
// the assumed index of the solid.
func (v *Verdict) onBound(i int) bool {
	p := &v.chosen.params[i]
	natural := p.Lower == 0 && v.chosen.x[i] <= 0
	return v.chosen.atBound[i] && !p.Fixed && !natural
}

// Separable reports whether thickness, porosity and bare fraction are all
// determined within their limits.
func (v *Verdict) Separable() bool {
	return !slices.ContainsFunc(v.Flags, func(f string) bool { return strings.HasPrefix(f, FlagNotSeparable) })
}
