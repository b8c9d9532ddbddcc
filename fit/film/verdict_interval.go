package film

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
)

// The names of the quantities that verdicts report and that cannot be pinned.
const (
	OpticalThickness = "optical_thickness"
	Solid            = "solid" // material left
)

// Quantities returns the names of all quantities that have intervals, in the order of the
// fields of a [Verdict].
func Quantities() []string {
	return []string{OpticalThickness, FilmIndex, Thickness, Porosity, Bare, Solid, Scale}
}

// quantity is one of [Quantities], or the mean of a probe, as a function of the parameters of a solution s of a model m.
type quantity struct {
	name      string
	parameter int // that it is; -1 if it follows from several
	m         *model
	s         *solution
	by        func(m *model, x []float64) derived
}

// of returns the quantity at x.
func (q *quantity) of(x []float64) derived { return q.by(q.m, x) }

// value returns the best value.
func (q *quantity) value() float64 { return q.of(q.s.x).value }

// on returns the same quantity of another solution.
func (q quantity) on(m *model, s *solution) quantity {
	q.m, q.s = m, s
	return q
}

// ofPhysical returns a quantity of the fit whose structure is free.
func (v *Verdict) ofPhysical(name string, by func(m *model, x []float64) derived) quantity {
	m, s := v.physical()
	return quantity{name, -1, m, s, by}
}

// usualLevel is the level of intervals where none is given.
const usualLevel = 0.95

// levelOf returns level, or the usual one for 0.
func levelOf(level float64) (float64, error) {
	if level == 0 {
		return usualLevel, nil
	}
	if !(level > 0 && level < 1) {
		return 0, &InputError{"level", fmt.Sprintf("%g is no level of an interval", level), "give a fraction such as 0.95"}
	}
	return level, nil
}

// Profile returns the interval of the quantity called name, one of [Quantities], in its
// own unit (nm; index, porosity, bare fraction and scale have none). It holds all values
// at which the sum of squares, minimised over everything else, exceeds that of the best
// fit by at most
//
//	rise = chi-square quantile of level, one degree of freedom
//
// with the variance of the noise multiplied by
//
//	max(1, reduced chi-square / share)
//
// with the share of effective points of solve_effective.go. level is a fraction; 0 means
// 0.95.
//
// A side on which the sum of squares does not rise so far before a bound is open, and the
// interval is one-sided; its level is then at least level. Glass without a film has an
// interval of the material left, from 0 to that of the thickest film that the curves
// allow, and one of scale. A quantity that is pinned, or not in the model, has no
// interval: its ends are NaN.
//
// For a verdict of a joint fit the interval is that of the single fit of the spot, with
// the priors only. The same is true of [Verdict.ProfileMean] and [Verdict.Bootstrap].
//
// Profile uses the memory of the fitter that made the verdict; the fitter must not fit at
// the same time. An unknown name or a level outside its range gives an [*InputError]. If
// ctx is done, the error wraps ctx.Err().
func (v *Verdict) Profile(ctx context.Context, name string, level float64) (*fit.Interval, error) {
	level, err := levelOf(level)
	if err != nil {
		return nil, err
	}
	q, err := v.quantity(name)
	if err == nil {
		q, err = v.onValidModel(q)
	}
	if err != nil {
		return nil, err
	}
	switch {
	case v.Model == ModelBare && name == Solid:
		return v.filmAllowed(ctx, level)
	case v.Model == ModelBare && name != Scale:
		return noInterval(), nil
	}
	return q.interval(ctx, level)
}

// ProfileMean is [Verdict.Profile] for the mean of p: the interval of [Verdict.Mean].
func (v *Verdict) ProfileMean(ctx context.Context, p *Probe, level float64) (*fit.Interval, error) {
	level, err := levelOf(level)
	if err != nil {
		return nil, err
	}
	q, err := v.onValidModel(v.meanOf(p))
	if err != nil {
		return nil, err
	}
	i, err := q.interval(ctx, level)
	if err != nil || v.Model != ModelBare {
		return i, err
	}
	return v.meanAllowed(ctx, q, q.value(), i, level)
}

// noInterval returns the interval of a quantity that has none: both ends are NaN.
func noInterval() *fit.Interval { return &fit.Interval{Lower: math.NaN(), Upper: math.NaN()} }

// onValidModel returns q on a copy of its model. Where its interval may reach a film thicker than a compressed model is valid
// for, the model is on all points.
func (v *Verdict) onValidModel(q quantity) (quantity, error) {
	const far = 8 // standard uncertainties: more than an interval reaches
	tau := v.OpticalThicknessNM
	beyond := tau.Value+far*tau.U > v.model.maxTau || len(v.equalFilms) > 0 || v.allowedFilm != nil
	if v.Model != ModelBare && v.model.maxTau < maxTau && beyond {
		m, err := q.m.onAllPoints()
		return q.on(m, q.s), err
	}
	m := *q.m
	return q.on(&m, q.s), nil
}

// onAllPoints returns a model like m on all points, in memory of its own.
func (m *model) onAllPoints() (*model, error) {
	all, err := NewFitter(m.spot.Setup).fullModel(m.spot, m.sigma())
	if err != nil {
		return nil, err
	}
	all.structured, all.structure = m.structured, m.structure
	return all, nil
}

// quantity returns the quantity called name: material left and scale of the fit whose structure is free, the others of the
// equivalent uniform film.
func (v *Verdict) quantity(name string) (quantity, error) {
	q := quantity{name, -1, v.model, v.chosen, func(m *model, x []float64) derived { return m.derive(x).named(name) }}
	_, thickness := v.model.spot.Pins[Thickness]
	_, porosity := v.model.spot.Pins[Porosity]
	switch {
	case !slices.Contains(Quantities(), name):
		return q, &InputError{"interval", fmt.Sprintf("there is no quantity %q", name),
			fmt.Sprintf("choose one of %v", Quantities())}
	case name == Bare:
		q.parameter = pBare
	case name == Scale:
		q.parameter = pScale
	case name == OpticalThickness && !thickness:
		q.parameter = pTau
	case name == FilmIndex && !porosity:
		q.parameter = pIndex
	}
	if name == Solid || name == Scale {
		q = q.on(v.physical())
	}
	if i := q.parameter; i >= 0 {
		q.by = func(_ *model, x []float64) derived {
			grad := make([]float64, len(x))
			grad[i] = 1
			return derived{x[i], grad}
		}
	}
	return q, nil
}

// named returns the quantity of that name.
func (f filmQuantities) named(name string) derived {
	switch name {
	case OpticalThickness:
		return f.tau
	case FilmIndex:
		return f.index
	case Thickness:
		return f.thickness
	case Porosity:
		return f.porosity
	}
	return f.solid
}

// profilePrecision ends the fits of a profile, whose sums of squares are compared.
var profilePrecision = fit.Settings{CostTol: 1e-11}

// betterFits is the number of times that a profile may find a lower sum of squares than that of the best fit.
const betterFits = 3

// interval returns the interval of q, extended to contain its value.
func (q *quantity) interval(ctx context.Context, level float64) (*fit.Interval, error) {
	if !q.hasFreeParameter() {
		return noInterval(), nil
	}
	value, params := q.value(), slices.Clone(q.s.params)
	rise, best, f := quantile(level), q.s.result, q.s.inflation()
	m, raised := q.m, f > 1 && q.m.spot.Loss == fit.Squares
	if raised { // the noise, not what is known beforehand
		m = m.withMoreNoise(f)
	} else {
		rise *= f
	}
	m.setFreeParams(params)
	problem, err := m.problem(params)
	if err != nil {
		return nil, err
	}
	if raised {
		for j := range params {
			params[j].Start = best.X[j]
		}
		if best, err = fit.Solve(ctx, problem, &profilePrecision); err != nil {
			return nil, err
		}
	}
	for range betterFits {
		i, err := q.profile(ctx, problem, best, rise)
		var lower *fit.LowerMinimumError
		var singular *fit.SingularError
		switch {
		case err == nil:
			q.clip(i, value)
			return i, nil
		case errors.As(err, &singular): // the curves do not determine it
			return q.unknownInterval(value), nil
		case !errors.As(err, &lower):
			return nil, fmt.Errorf("could not follow %s: %w", q.name, err)
		}
		for j := range params {
			params[j].Start = lower.X[j]
		}
		problem.Params = params
		if best, err = fit.Solve(ctx, problem, &profilePrecision); err != nil {
			return nil, err
		}
	}
	return nil, fmt.Errorf("could not follow %s: lower sums of squares are met again and again: give more curves, or "+
		"fix parameters", q.name)
}

// quantile returns the rise of the sum of squares at the ends of an interval of one quantity, in units of the
// inflated noise: the quantile of chi-square with one degree of freedom.
func quantile(level float64) float64 { return distuv.ChiSquared{K: 1}.Quantile(level) }

// hasFreeParameter reports whether the quantity depends on a free parameter.
func (q *quantity) hasFreeParameter() bool {
	for i, g := range q.of(q.s.x).grad {
		if g != 0 && !q.s.params[i].Fixed {
			return true
		}
	}
	return false
}

func (q *quantity) profile(ctx context.Context, p *fit.Problem, best *fit.Result, rise float64) (*fit.Interval, error) {
	if q.parameter >= 0 {
		return fit.Profile(ctx, p, best, q.parameter, rise, &profilePrecision)
	}
	value := func(grad, x []float64) float64 {
		d := q.of(x)
		if grad != nil {
			copy(grad, d.grad)
		}
		return d.value
	}
	return fit.ProfileOf(ctx, p, best, value, rise, &profilePrecision)
}

// limits returns the range of the quantity that does not depend on the curves.
func (q *quantity) limits() (lo, hi float64) {
	switch q.name {
	case Porosity, Bare, "mean":
		return 0, 1
	case OpticalThickness, Thickness, Solid: // lengths: no film has an index below 1
		return 0, maxTau
	}
	return math.Inf(-1), math.Inf(1)
}

// clip keeps i within the limits, and extends it to contain value.
func (q *quantity) clip(i *fit.Interval, value float64) {
	lo, hi := q.limits()
	if i.Lower <= lo {
		i.Lower, i.LowerOpen = lo, true
	}
	if i.Upper >= hi {
		i.Upper, i.UpperOpen = hi, true
	}
	value = min(max(value, lo), hi)
	i.Lower, i.Upper = min(i.Lower, value), max(i.Upper, value)
}

// unknownInterval returns the interval of a quantity of which nothing is known.
func (q *quantity) unknownInterval(value float64) *fit.Interval {
	lo, hi := q.limits()
	i := &fit.Interval{Lower: lo, Upper: hi, LowerOpen: true, UpperOpen: true}
	q.clip(i, value)
	return i
}

// thickestAllowed returns the vector of the thickest film that the curves of glass without a film allow at level,
// that of scanThin if the noise hides even this one.
func (v *Verdict) thickestAllowed(ctx context.Context, level float64) ([]float64, error) {
	return v.model.thickestAllowed(ctx, v.chosen, quantile(level))
}

// filmAllowed returns the interval of the material left on glass without a film.
func (v *Verdict) filmAllowed(ctx context.Context, level float64) (*fit.Interval, error) {
	if v.model.spot.Pins[Bare] == 1 {
		return noInterval(), nil
	}
	x, err := v.thickestAllowed(ctx, level)
	switch {
	case err != nil:
		return nil, err
	case x[pTau] >= scanThin: // thicker than the search goes
		return &fit.Interval{Lower: 0, Upper: maxTau, LowerOpen: true, UpperOpen: true}, nil
	}
	return &fit.Interval{Lower: 0, Upper: v.model.derive(x).solid.value, LowerOpen: true}, nil
}

// meanAllowed extends i, the interval of the mean of glass without a film, by the change of the mean by the
// thickest film that the curves allow.
func (v *Verdict) meanAllowed(ctx context.Context, q quantity, value float64, i *fit.Interval,
	level float64) (*fit.Interval, error) {
	if math.IsNaN(i.Lower) {
		i = &fit.Interval{Lower: value, Upper: value}
	}
	if v.model.spot.Pins[Bare] == 1 {
		return i, nil
	}
	x, err := v.thickestAllowed(ctx, level)
	switch {
	case err != nil:
		return nil, err
	case x[pTau] >= scanThin:
		i.Lower, i.LowerOpen = 0, true
		return i, nil
	}
	if off := q.of(x).value - value; off < 0 {
		i.Lower = value - math.Hypot(value-i.Lower, off)
	} else {
		i.Upper = value + math.Hypot(i.Upper-value, off)
	}
	return i, nil
}
