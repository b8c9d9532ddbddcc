package film

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"

	"wane/fit"
)

// The derivatives of the model and the priors give the uncertainties of a fit before any
// reading exists: the covariance is the inverse of the normal matrix. The normal matrix of
// several curves is the sum of those of each. Sets of angles are therefore compared by
// sums of matrices, each computed once.

// Plan is a measurement that has not been made.
type Plan struct {
	ThicknessNM, Porosity, Bare float64 // of the expected film: nm, fraction, fraction

	// Curves are the curves to be measured. R is not used; NoiseSD must be stated.
	Curves []Curve
}

// Choice is the best set of angles with its expected verdict.
type Choice struct {
	AnglesDeg []float64 // rising
	Verdict   *Verdict  // from [Fitter.Precision]
	Tried     int       // number of sets that were compared
	All       bool      // all sets of the size were compared
}

// maxSets is the largest number of sets that are all compared.
const maxSets = 10000

// thinnestPlanNM is the least thickness of a planned film, in nm. The uncertainties of
// thinner films are not linear (see tinyTau).
const thinnestPlanNM = tinyTau

// SkeletonIndex returns the index of the coating's solid at 550 nm and its standard
// uncertainty, 0 if it is fixed.
func (c Coating) SkeletonIndex() (index, u float64) { return c.skeleton() }

// Precision returns the verdict on curves that agree with the plan exactly. The values
// are those of the plan. The uncertainties follow from the stated noise and from the
// derivatives, priors and bounds of [Fitter.Fit]. They are linear: where the curves do
// not determine a parameter (FlagNotSeparable), a fit also searches for other films that
// explain the curves equally well, and its uncertainty may be larger.
//
// An [*InputError] says what is wrong with the plan. A wavelength outside the range of an
// index gives an [*optics.RangeError]. If ctx is done, the error wraps ctx.Err().
func (f *Fitter) Precision(ctx context.Context, p *Plan) (*Verdict, error) {
	q, err := f.preparePlan(p)
	if err != nil {
		return nil, err
	}
	all := make([]int, len(q.blocks))
	for k := range all {
		all[k] = k
	}
	return q.verdict(ctx, all)
}

// BestAngles returns the set of size angles, among those of the plan's curves, for which
// u is least. u returns a standard uncertainty of the verdict of [Fitter.Precision], or
// NaN if there is none. Of sets with equal u, the first in the order of the curves is
// returned. A set has all curves at its angles, and each angle adds its own nuisances.
//
// If there are more than 10,000 sets, not all are compared. The search then adds, one
// after the other, the angle with the least u, and afterwards exchanges single angles as
// long as u decreases. No single exchange improves the set that it returns.
//
// The errors are those of [Fitter.Precision] and, when ctx is done, that of ctx.
func (f *Fitter) BestAngles(ctx context.Context, p *Plan, size int, u func(*Verdict) float64) (*Choice, error) {
	q, err := f.preparePlan(p)
	if err != nil {
		return nil, err
	}
	if n := len(q.blocks); size < 1 || size > n {
		return nil, &InputError{"angles", fmt.Sprintf("a set of %d cannot be chosen from %d candidates", size, n),
			fmt.Sprintf("ask for 1 to %d angles, or give more candidates", n)}
	}
	s := &search{q: q, u: u, size: size, least: math.Inf(1)}
	all := combin.GeneralizedBinomial(float64(len(q.blocks)), float64(size)) < maxSets+0.5
	if all {
		err = s.everySet(ctx)
	} else {
		err = s.exchange(ctx)
	}
	if err != nil {
		return nil, err
	}
	if s.best == nil {
		return nil, &InputError{"angles", "no set gives the quantity an uncertainty",
			"minimise that of a quantity that is not fixed"}
	}
	out := &Choice{Tried: s.tried, All: all}
	for _, k := range s.best {
		out.AnglesDeg = append(out.AnglesDeg, q.m.angles[k])
	}
	slices.Sort(out.AnglesDeg)
	chosen := *p
	chosen.Curves = slices.DeleteFunc(slices.Clone(p.Curves), func(c Curve) bool {
		return !slices.Contains(out.AnglesDeg, c.AngleDeg)
	})
	out.Verdict, err = f.Precision(ctx, &chosen)
	return out, err
}

// plannedFit is a plan with its models and normal matrices.
type plannedFit struct {
	plan         *Plan
	plannedModel               // of the equivalent uniform film
	structured   *plannedModel // with the structure free; nil: films have none
}

// plannedModel is a model of all curves of a plan.
type plannedModel struct {
	m      *model
	x      []float64   // the film of the plan and the expected nuisances
	blocks [][]float64 // by angle setting: the normal matrix of its curves
}

// preparePlan checks the plan and computes the normal matrix of each angle setting. The readings are those of the film with
// the structure that is expected.
func (f *Fitter) preparePlan(p *Plan) (*plannedFit, error) {
	spot, err := p.spot(f.setup)
	if err != nil {
		return nil, err
	}
	sigma := make([]float64, len(spot.Curves))
	for i := range sigma {
		sigma[i] = spot.Curves[i].NoiseSD
	}
	m, err := f.fullModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	q := &plannedFit{plan: p, plannedModel: plannedModel{m: m}}
	m.predictReadings(q.prepare(p))
	if known := spot.known(); !known.Structure.isNone() {
		q.structured = &plannedModel{m: m.withStructure(p.ThicknessNM)}
		q.structured.m.predictReadings(q.structured.prepare(p))
	}
	return q, nil
}

// prepare fills the point and the normal matrix of each angle setting, and returns the point.
func (q *plannedModel) prepare(p *Plan) []float64 {
	q.x, q.blocks = startVector(p.params(q.m)), make([][]float64, len(q.m.angles))
	for k := range q.blocks {
		single := q.m.atSettings([]int{k})
		params, n := p.params(single), single.size()
		single.setFreeParams(params)
		q.blocks[k] = make([]float64, n*n)
		single.fillNormalEquations(q.blocks[k], make([]float64, n), startVector(params))
	}
	return q.x
}

// spot checks the plan and returns its spot, with readings of 0.
func (p *Plan) spot(setup Setup) (*Spot, error) {
	s := &Spot{Setup: setup, Curves: slices.Clone(p.Curves)}
	for i := range s.Curves {
		c, what := &s.Curves[i], fmt.Sprintf("curve %d", i+1)
		if !(c.NoiseSD > 0) || math.IsInf(c.NoiseSD, 0) {
			return nil, &InputError{what, fmt.Sprintf("a noise of %g is not a standard deviation", c.NoiseSD),
				"state that of one point as a fraction, for example 0.0005"}
		}
		c.R = make([]float64, len(c.NM))
		if err := c.check(what); err != nil {
			return nil, err
		}
		for k := range i {
			if d := &s.Curves[k]; c.AngleDeg == d.AngleDeg && c.Pol == d.Pol && c.Native == d.Native && c.Through == d.Through &&
				c.Mounting == d.Mounting && slices.Equal(c.NM, d.NM) {
				return nil, &InputError{what, fmt.Sprintf("it is curve %d again, at %g degrees", k+1, c.AngleDeg),
					"plan each curve once; the mean of n scans has the noise of one over the root of n"}
			}
		}
	}
	// Only the first curve: check would take the zeros of several curves for copies.
	first := &Spot{Setup: setup, Curves: s.Curves[:min(1, len(s.Curves))]}
	if err := first.check(); err != nil {
		return nil, err
	}
	return s, p.check()
}

// check returns an [*InputError] if the film of the plan is outside the allowed range.
func (p *Plan) check() error {
	for _, v := range []struct {
		name, unit    string
		value, lo, hi float64
	}{
		{"thickness", " nm", p.ThicknessNM, thinnestPlanNM, pinRange[Thickness][1]},
		{"porosity", "", p.Porosity, pinRange[Porosity][0], pinRange[Porosity][1]},
		{"bare fraction", "", p.Bare, pinRange[Bare][0], pinRange[Bare][1]},
	} {
		if !(v.value >= v.lo && v.value <= v.hi) {
			return &InputError{"film", fmt.Sprintf("a %s of %g%s is outside %g to %g", v.name, v.value, v.unit, v.lo, v.hi),
				"propose a film inside that range"}
		}
	}
	if p.Bare == 1 {
		return &InputError{"film", "a bare fraction of 1 leaves no film to measure", "propose a smaller one"}
	}
	return nil
}

// params returns the parameters of m. They start at the film of the plan, and nuisances at
// their expected values.
func (p *Plan) params(m *model) []fit.Param {
	params := m.params(0)
	index := &params[pIndex]
	index.Start = min(max(m.spot.Coating.indexOf(p.Porosity, params[pSkeleton].Start), index.Lower), index.Upper)
	d := p.ThicknessNM
	if m.structured { // with the skin there is as much material left as in the film of the plan
		d = max(0, d-params[pSkin].Start/(1-p.Porosity))
	}
	params[pTau].Start, params[pBare].Start = d*index.Start, p.Bare
	return params
}

// predictReadings sets the readings of m, or the pseudo-readings of compressed curves, to those that the model predicts at x.
func (m *model) predictReadings(x []float64) {
	g := m.filmAt(x)
	for k := range m.curves {
		var slopes [kinds]float64
		c := &m.curves[k]
		c.prepare(&g, x)
		for i := range c.r {
			c.r[i] = c.point(i, &slopes)
		}
	}
}

// atSettings returns the model of the curves at some of the angle settings, numbers from 0
// in rising order.
func (m *model) atSettings(settings []int) *model {
	out := *m
	out.coarse, out.rows, out.points = &out, 0, 0
	out.angles, out.throughs, out.names, out.curves = nil, nil, nil, nil
	for at, k := range settings {
		out.angles, out.names = append(out.angles, m.angles[k]), append(out.names, m.names[k])
		out.throughs = append(out.throughs, m.throughs[k])
		for i := range m.curves {
			c := m.curves[i]
			if c.setting != k {
				continue
			}
			c.setting, c.free, c.slopes = at, nil, nil
			out.curves = append(out.curves, c)
			out.rows, out.points = out.rows+len(c.nm), out.points+c.points
		}
	}
	out.locate()
	out.curveCosts = make([]float64, len(out.curves))
	return &out
}

// addBlock adds block, the normal matrix of one angle setting, to sum, that of m. at is
// the number of the setting among those of m. Both are square, by rows, and only the part
// on and above the diagonal is used.
func (m *model) addBlock(sum, block []float64, at int) {
	size, others := m.size(), perAngle*(len(m.angles)-1)
	n := size - others
	place := func(i int) int {
		switch {
		case i < pAngles:
			return i
		case i < pAngles+perAngle:
			return i + perAngle*at
		}
		return i + others
	}
	for i := range n {
		for j := i; j < n; j++ {
			sum[place(i)*size+place(j)] += block[i*n+j]
		}
	}
}

// verdict returns the expected verdict on the curves at some of the angle settings.
func (q *plannedFit) verdict(ctx context.Context, settings []int) (*Verdict, error) {
	m, s, err := q.solutionAt(ctx, q.plan, settings)
	if err != nil {
		return nil, err
	}
	v := &Verdict{Model: ModelFilm, LikelihoodRatio: math.NaN(), model: m, chosen: s}
	if q.structured != nil {
		if v.structured, v.full, err = q.structured.solutionAt(ctx, q.plan, settings); err != nil {
			return nil, err
		}
	}
	v.fillEquivalent()
	v.fillPhysical()
	v.fillQuality()
	v.setFlags()
	return v, nil
}

// solutionAt returns the model of the curves at some of the angle settings, with the solution at the film of the plan.
func (q *plannedModel) solutionAt(ctx context.Context, p *Plan, settings []int) (*model, *solution, error) {
	m := q.m.atSettings(settings)
	params := p.params(m)
	m.setFreeParams(params)
	problem := &fit.Problem{Params: params, Points: m.points, Normal: func(jj, _, _ []float64) float64 {
		for at, k := range settings {
			m.addBlock(jj, q.blocks[k], at)
		}
		return 0 // the readings are those of the film
	}}
	r, err := m.work.Solve(ctx, problem, nil) // the start is the minimum
	if err != nil {
		return nil, nil, fmt.Errorf("could not compute the precision of the plan: %w", err)
	}
	s := &solution{params: params, x: r.X, converged: true, atBound: r.AtBound, result: r, effectiveShare: 1}
	return m, s, m.covariance(s)
}

// search finds the set of angle settings with the least u.
type search struct {
	q     *plannedFit
	u     func(*Verdict) float64
	size  int
	best  []int // nil: none yet
	least float64
	tried int
}

// trySet compares a set with the best so far and reports whether it is better.
func (s *search) trySet(ctx context.Context, set []int) (bool, error) {
	v, err := s.q.verdict(ctx, set)
	if err != nil {
		return false, err
	}
	s.tried++
	u := s.u(v)
	if !(u < s.least) {
		return false, nil
	}
	s.best, s.least = slices.Clone(set), u
	return true, nil
}

// everySet compares all sets of the size.
func (s *search) everySet(ctx context.Context) error {
	set := make([]int, s.size)
	for sets := combin.NewCombinationGenerator(len(s.q.blocks), s.size); sets.Next(); {
		if _, err := s.trySet(ctx, sets.Combination(set)); err != nil {
			return err
		}
	}
	return nil
}

// exchange adds the best angle settings one after the other, and then exchanges single ones
// as long as that helps.
func (s *search) exchange(ctx context.Context) error {
	for n := 1; n <= s.size; n++ {
		grown := append(slices.Clone(s.best), 0)
		s.best, s.least = nil, math.Inf(1)
		if _, err := s.tryAt(ctx, grown, n-1); err != nil {
			return err
		}
		if s.best == nil {
			return nil
		}
	}
	for better := true; better; {
		better = false
		set := slices.Clone(s.best)
		for at := range set {
			found, err := s.tryAt(ctx, set, at)
			if err != nil {
				return err
			}
			better = better || found
		}
	}
	return nil
}

// tryAt replaces set[at] by every setting that is not in the set, and reports whether one
// is better.
func (s *search) tryAt(ctx context.Context, set []int, at int) (better bool, err error) {
	others := slices.Delete(slices.Clone(set), at, at+1)
	for k := range s.q.blocks {
		if slices.Contains(set[:at], k) || slices.Contains(set[at+1:], k) {
			continue
		}
		with := append(slices.Clone(others), k)
		slices.Sort(with)
		found, err := s.trySet(ctx, with)
		if err != nil {
			return false, err
		}
		better = better || found
	}
	return better, nil
}
