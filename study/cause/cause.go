// Package cause says what happened to the film of a spot between two readings: which part of the change of its solar
// transmittance comes from bare glass, from the thickness, from the porosity and from the structure of the film, and
// whether material was lost, densified or filled.
//
// Start with [NewSurface] for the glass and the coating, then call [Surface.Explain] with the fits of both readings;
// [Recover] divides what readings of one pull in several conditions say into what comes back and what stays.
//
// # Parts
//
// The film is described by its bare fraction b, its thickness d and its index n at 550 nm, which stands for its
// porosity. They are those of the equivalent uniform film, whose solar transmittance is T(b, d, n). What a parameter
// contributes depends on what the others are at that moment. So it is taken as the mean over all orders in which the
// parameters can go from then to now: see [Shapley]. The rest of the change is the structure: the part of a dense
// skin, a gradient of porosity or an uneven thickness, which no uniform film has. What the film absorbs, where
// transmittance was read too, is a part of its own. All parts are in percentage points and add to the change exactly.
//
// The standard uncertainty of a part is an upper limit: the errors of all parameters count as if they were one. It is
// of first order.
package cause

import (
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/study"
)

// Part is a part of a change.
type Part int

// The parts of a change.
const (
	Bare      Part = iota // bare fraction
	Thickness             // of the equivalent uniform film
	Porosity              // its index
	Structure             // what no uniform film has
	Absorbed              // 0 where transmittance was not read
	numberOfParts
)

// String returns the name of the part.
func (p Part) String() string {
	return [...]string{"bare", "thickness", "porosity", "structure", "absorbed"}[p]
}

// Parts returns all parts, in their order.
func Parts() []Part { return []Part{Bare, Thickness, Porosity, Structure, Absorbed} }

// What happened to a film, and what can look like it: see [Findings] and [LookAlikes].
const (
	Lost      = "lost"
	InPlaces  = "in-places"
	Thinned   = "thinned"
	Densified = "densified"
	Filled    = "filled"
	Unchanged = "unchanged"

	PoreWater = "pore-water"
	Organics  = "organics"
	Residue   = "residue"
	Soiling   = "soiling"
	Peeling   = "peeling"
)

// Sigmas is the number of standard uncertainties by which a property must have changed for a finding.
const Sigmas = 2

// thinnedPart is the least part of the thickness that must be gone for [Thinned]: that of the equivalent uniform film
// moves a little with whatever else changes. Common practice, no source.
const thinnedPart = 0.01

// Findings explains the findings, in their order.
func Findings() []study.Term {
	return []study.Term{
		{Word: Lost, Meaning: "material was lost", Limit: "material left fell by more than 2 u",
			Remedy: "see whether it was lost in places or all over"},
		{Word: InPlaces, Meaning: "glass became bare in places: scratched, or peeled off",
			Limit: "bare fraction rose by more than 2 u", Remedy: "look at the coupon: scratches have a direction"},
		{Word: Thinned, Meaning: "the film became thinner where it still is", Limit: "material was lost, and thickness " +
			"fell by more than 2 u and 1 %", Remedy: "compare with the other coupons of its exposure"},
		{Word: Densified, Meaning: "the film became denser and kept its material",
			Limit: "index rose by more than 2 u, material left within 2 u", Remedy: "dry the coupon and read it again " +
				"before you believe it"},
		{Word: Filled, Meaning: "something fills the pores or lies on the film", Limit: "material left rose by more than 2 u",
			Remedy: "dry and clean the coupon, and read it again"},
		{Word: Unchanged, Meaning: "no change of material left, index or bare fraction is distinguished",
			Limit:  "all within 2 u",
			Remedy: "nothing"},
	}
}

// LookAlikes explains what can look like a finding and is none.
func LookAlikes() []study.Term {
	return []study.Term{
		{Word: PoreWater, Meaning: "water in the pores raises the index as a denser film does",
			Limit: "named beside densified and filled, and where a reading has the flag humid", Remedy: "dry the coupon and " +
				"read it again"},
		{Word: Organics, Meaning: "organic matter in the pores looks like a denser film",
			Limit: "named beside densified and filled", Remedy: "clean the coupon as its maker permits and read it again"},
		{Word: Residue, Meaning: "a residue that absorbs reads as a better film by reflectance alone",
			Limit:  "named beside filled, and where solar_T rose, unless transmittance was read",
			Remedy: "read transmittance too: wane help transmittance"},
		{Word: Soiling, Meaning: "soil lies on one of the two surfaces", Limit: "one of the readings is clean and the " +
			"other is not",
			Remedy: "compare readings in the same condition"},
		{Word: Peeling, Meaning: "optics does not distinguish scratches from places where the film came off",
			Limit: "named beside in-places", Remedy: "look at the coupon under a lamp at grazing incidence"},
	}
}

// Why is a reason why the parts cannot be told: a flag of one of the readings, or one of the words below.
type Why struct {
	Pull int    // of the reading that has the flag
	Flag string // such as not-separable:thickness
}

// The reasons that are no flags of fits.
const (
	WhyStripped  = "stripped"       // there is no film at one of the readings
	WhyAbsorbing = "absorption"     // transmittance was read at one of the two only
	WhyNoValue   = "no-value"       // a property of the film is not there
	WhyUnclear   = "unclear"        // the state
	WhyAngles    = "angles-differ"  // and the film has a structure, so the uniform film is not the same thing
	WhyNoErrors  = "errors-unknown" // the fit is of an earlier version of the model
)

// Explanation is what happened to a film between two readings.
type Explanation struct {
	Change study.Measure                // 100 times solar_T now less then, pp, as measured
	Parts  [numberOfParts]study.Measure // pp; null where they cannot be told
	Why    []Why                        // why they cannot; none: they can

	// Changes, now less then. Those of index and bare fraction have u of both readings added, an upper limit.
	Solid, Thickness, Index, Bare study.Measure

	Findings, LookAlikes []string
}

// blocking are the flags of fits with which the parameters of a film mean little.
var blocking = []string{film.FlagNotSeparable, "at-bound:", "not-converged", "poor-fit", film.FlagMisfit,
	study.FlagNotEvaluated}

// Explain says what happened between two fits of one spot on the surface. Fits are not changed.
func (f *Surface) Explain(then, now *study.Fit) *Explanation {
	x := &Explanation{Change: difference(then, now, study.OutSolarT, 100,
		func(r *study.Result) study.Measure { return r.SolarT })}
	for i := range x.Parts {
		x.Parts[i] = study.NoMeasure()
	}
	x.Solid = difference(then, now, study.OutSolid, 1, func(r *study.Result) study.Measure { return r.Solid })
	x.Thickness = difference(then, now, study.OutThickness, 1, func(r *study.Result) study.Measure { return r.Thickness })
	a, b := &then.Result, &now.Result
	x.Index, x.Bare = atMost(f.filmIndex(a), f.filmIndex(b)), atMost(a.BareFraction, b.BareFraction)
	x.Why = whyNot(then, now)
	if len(x.Why) == 0 {
		f.divide(x, a, b)
		x.find(then, now)
	}
	if study.CleanCondition(then.Condition) != study.CleanCondition(now.Condition) {
		x.LookAlikes = append(x.LookAlikes, Soiling)
	}
	if isStripped(b) && !isStripped(a) && !slices.ContainsFunc(slices.Concat(a.Flags, b.Flags), isBlocking) {
		x.Findings = []string{Lost}
	}
	return x
}

// difference returns factor·(now - then) of a quantity, by the law of covariance.
func difference(then, now *study.Fit, out study.Output, factor float64,
	of func(*study.Result) study.Measure) study.Measure {
	a, b := of(&then.Result), of(&now.Result)
	if !a.Value.Valid() || !b.Value.Valid() {
		return study.NoMeasure()
	}
	d := study.Measure{Value: study.Num(factor) * (b.Value - a.Value), U: study.Null()}
	if then.Errors.Known() && now.Errors.Known() {
		d.U = study.Num(study.Uncertainty([]study.Weighted{{Errors: &now.Errors, Output: out, Weight: factor},
			{Errors: &then.Errors, Output: out, Weight: -factor}}))
	}
	return d
}

// atMost returns b - a, with the uncertainties added.
func atMost(a, b study.Measure) study.Measure {
	return study.Measure{Value: b.Value - a.Value, U: a.U + b.U}
}

// filmIndex returns the index of the film; that of the dry film where the result is of dry pores.
func (f *Surface) filmIndex(r *study.Result) study.Measure {
	if !slices.Contains(r.Flags, study.FlagDried) || !r.Porosity.Value.Valid() {
		return r.FilmIndex
	}
	eps, by, _ := f.mixing.MixReal(f.skeleton*f.skeleton, 1, float64(r.Porosity.Value))
	index := math.Sqrt(eps)
	return study.Measure{Value: study.Num(index), U: study.Num(math.Abs(by)/(2*index)) * r.Porosity.U}
}

func isStripped(r *study.Result) bool { return r.Model == film.ModelBare }

func isBlocking(flag string) bool {
	return slices.ContainsFunc(blocking, func(b string) bool {
		return flag == b || strings.HasSuffix(b, ":") && strings.HasPrefix(flag, b)
	})
}

// whyNot lists why the parts of a change cannot be told.
func whyNot(then, now *study.Fit) (why []Why) {
	structure := false
	for _, fit := range []*study.Fit{then, now} {
		r := &fit.Result
		say := func(flag string) { why = append(why, Why{fit.Pull, flag}) }
		structure = structure || slices.Contains(r.Flags, film.FlagStructure)
		before := len(why)
		for _, flag := range r.Flags {
			if isBlocking(flag) {
				say(flag)
			}
		}
		switch {
		case len(why) > before:
		case isStripped(r):
			say(WhyStripped)
		case r.State == study.Unclear:
			say(WhyUnclear)
		case !r.SolarT.Value.Valid() || !r.Thickness.U.Valid() || !r.FilmIndex.U.Valid() || !r.BareFraction.U.Valid():
			say(WhyNoValue)
		case !fit.Errors.Known():
			say(WhyNoErrors)
		}
	}
	a, b := &then.Result, &now.Result
	if len(why) == 0 && a.Absorbed.Value.Valid() != b.Absorbed.Value.Valid() {
		why = append(why, Why{now.Pull, WhyAbsorbing})
	}
	if len(why) == 0 && structure && !slices.Equal(then.AnglesDeg, now.AnglesDeg) {
		why = append(why, Why{now.Pull, WhyAngles})
	}
	return why
}

// divide fills the parts of the change.
func (f *Surface) divide(x *Explanation, then, now *study.Result) {
	clear(f.known)
	var values, u [6]float64 // bare, thickness, index then, and now
	for i, r := range []*study.Result{then, now} {
		for k, m := range []study.Measure{r.BareFraction, r.Thickness, f.filmIndex(r)} {
			values[3*i+k], u[3*i+k] = float64(m.Value), float64(m.U)
		}
	}
	parts, uniform := f.parts(&values)
	limits := [3]float64{}
	rest := float64(x.Change.U)
	for k := range values {
		step := max(u[k]/8, 1e-6*math.Abs(values[k]), 1e-9)
		up, down := values, values
		up[k], down[k] = values[k]+step, values[k]-step
		more, all := f.parts(&up)
		less, none := f.parts(&down)
		for i := range limits {
			limits[i] += math.Abs(more[i]-less[i]) / (2 * step) * u[k]
		}
		rest += math.Abs(all-none) / (2 * step) * u[k]
	}
	for i, part := range parts {
		x.Parts[i] = study.Measure{Value: study.Num(part), U: study.Num(limits[i])}
	}
	structure := float64(x.Change.Value) - uniform
	x.Parts[Absorbed] = study.Measure{}
	if then.Absorbed.Value.Valid() && now.Absorbed.Value.Valid() {
		absorbed := atMost(now.Absorbed, then.Absorbed) // a rise costs
		x.Parts[Absorbed] = absorbed
		structure -= float64(absorbed.Value)
		rest += float64(absorbed.U)
	}
	x.Parts[Structure] = study.Measure{Value: study.Num(structure), U: study.Num(rest)}
}

// parts divides the change of the uniform film, in pp, and returns it too.
func (f *Surface) parts(values *[6]float64) ([]float64, float64) {
	worth := func(set uint) float64 {
		at := [3]float64{}
		for k := range at {
			at[k] = values[3*int(set>>k&1)+k]
		}
		return 100 * f.SolarT(Film{Bare: at[0], ThicknessNM: at[1], Index: at[2]})
	}
	return Shapley(3, worth), worth(7) - worth(0)
}

// find fills what happened, and what looks like it.
func (x *Explanation) find(then, now *study.Fit) {
	say := func(to *[]string, words ...string) {
		for _, w := range words {
			if !slices.Contains(*to, w) {
				*to = append(*to, w)
			}
		}
	}
	switch {
	case moved(x.Solid) < 0:
		say(&x.Findings, Lost)
		if moved(x.Thickness) < 0 && -x.Thickness.Value > thinnedPart*then.Result.Thickness.Value {
			say(&x.Findings, Thinned)
		}
	case moved(x.Solid) > 0:
		say(&x.Findings, Filled)
		say(&x.LookAlikes, PoreWater, Organics)
		if now.Result.IsLossless() {
			say(&x.LookAlikes, Residue)
		}
	case moved(x.Index) > 0:
		say(&x.Findings, Densified)
		say(&x.LookAlikes, PoreWater, Organics)
	}
	if moved(x.Bare) > 0 {
		say(&x.Findings, InPlaces)
		say(&x.LookAlikes, Peeling)
	}
	if len(x.Findings) == 0 && moved(x.Index) == 0 {
		say(&x.Findings, Unchanged)
	}
	if moved(x.Change) > 0 && now.Result.IsLossless() {
		say(&x.LookAlikes, Residue)
	}
}

// moved returns the direction of a change beyond [Sigmas] of its u; 0 where there is none, or where u is not known.
func moved(change study.Measure) int {
	switch {
	case float64(change.Value) > Sigmas*float64(change.U):
		return 1
	case float64(change.Value) < -Sigmas*float64(change.U):
		return -1
	}
	return 0
}
