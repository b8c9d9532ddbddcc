package film

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// budgetWorker is one worker of a budget, with models of its own.
type budgetWorker struct {
	*budgetTask
	mean  *Probe
	pulls []*simulated
}

// simulated is a reading of which a worker draws readings and fits them. Its models are compressed where those of the
// verdict are. A compressed curve of a film is the film at the nodes, so that what is drawn costs no more than a step of a
// fit.
type simulated struct {
	*budgetReading
	spot    *Spot  // in whose curves the noise of a draw is
	law     *model // that makes the readings, without pins
	uniform *model // that is fitted to them
	full    *model // the same with the structure free; nil: it was not
	packed  []float64

	// without errors: the solutions, where fits start, and the thickness of the equivalent film
	start, fullStart []float64
	thicknessNM      float64
}

// newWorker returns a worker with memory of its own.
func (l *budgetTask) newWorker(ctx context.Context) (*budgetWorker, error) {
	t := &budgetWorker{budgetTask: l}
	var err error
	if t.mean, err = l.Mean(); err != nil {
		return nil, err
	}
	for _, p := range l.readings {
		s, err := p.simulate(ctx)
		if err != nil {
			return nil, err
		}
		t.pulls = append(t.pulls, s)
	}
	return t, nil
}

// simulate prepares the reading for draws.
func (p *budgetReading) simulate(ctx context.Context) (*simulated, error) {
	s := &simulated{budgetReading: p, spot: p.spot()}
	for k := range s.spot.Curves {
		s.spot.Curves[k].R = make([]float64, len(s.spot.Curves[k].NM))
	}
	free := *s.spot
	free.Pins = nil
	f := NewFitter(free.Setup)
	var err error
	if s.law, err = p.modelOf(f, &free); err != nil {
		return nil, err
	}
	if s.uniform, err = p.modelOf(f, s.spot); err != nil {
		return nil, err
	}
	s.law.structured, s.law.structure = p.v.structureOf()
	if p.v.structured != nil {
		full := *s.uniform
		full.structured, full.structure = p.v.structureOf()
		full.curveCosts = make([]float64, len(full.curves))
		s.full = &full
	}
	s.start = p.v.chosen.x
	if s.full != nil {
		s.fullStart = p.v.full.x
	}
	s.predict(p.truth, nil)
	s.start, s.fullStart, err = s.fit(ctx)
	if err == nil {
		s.thicknessNM = p.v.model.filmAt(s.start).d
	}
	return s, err
}

// modelOf returns the model of spot, compressed as that of the verdict is. Fits of it end as those of curves with noise do,
// also where it has none.
func (p *budgetReading) modelOf(f *Fitter, spot *Spot) (m *model, err error) {
	if p.level >= 0 {
		m, err = f.packedModel(spot, p.sigma, p.level)
	}
	if m == nil && err == nil {
		m, err = f.fullModel(spot, p.sigma)
	}
	if err != nil {
		return nil, err
	}
	m.constantCost = float64(m.points)
	for k := range m.curves {
		if c := &m.curves[k]; c.packed == nil {
			c.readings, c.r = c.r, make([]float64, len(c.r))
		}
	}
	return m, nil
}

// spot returns the spot as it was fitted, with its noise declared.
func (p *budgetReading) spot() *Spot {
	spot := *p.v.model.spot
	spot.Curves = slices.Clone(spot.Curves)
	for k := range spot.Curves {
		spot.Curves[k].NoiseSD = p.sigma[k]
	}
	return &spot
}

// draw draws the errors of term k, or of all terms if k is their number, and returns the errors of the results.
func (t *budgetWorker) draw(ctx context.Context, k int, rng *rand.Rand) (deviations, error) {
	to := make([]drawnInput, len(t.readings))
	for i, p := range t.readings {
		to[i].x = slices.Clone(p.truth)
	}
	for i := range t.terms {
		if i == k || k == len(t.terms) {
			t.terms[i].shift(rng, to)
		}
	}
	thickness, solar, err := t.measureAndFit(ctx, 0, &to[0], rng)
	if err != nil {
		return deviations{}, err
	}
	out := deviations{thickness, solar, math.NaN()}
	if len(to) > 1 {
		_, before, err := t.measureAndFit(ctx, 1, &to[1], rng)
		if err != nil {
			return deviations{}, err
		}
		out.change = solar - before
	}
	return out, nil
}

// measureAndFit reads and fits pull number k with a drawn input. It returns the thickness of the equivalent film and the mean
// less their true values.
func (t *budgetWorker) measureAndFit(ctx context.Context, k int, in *drawnInput, rng *rand.Rand) (thickness,
	mean float64, err error) {
	s := t.pulls[k]
	s.law.clampNuisances(in.x)
	truth := s.law.filmAt(in.x)
	trueMean, trueNM := t.mean.mean(in.x, &truth).value, truth.d
	if truth.structured { // of which the equivalent film is what these curves make of it without an error
		if trueNM, err = s.equivalentNM(ctx, in.x); err != nil {
			return 0, 0, err
		}
	}
	if in.water {
		declared, _ := s.law.dried(in.x, s.spot.Water.Share)
		drawn, _ := s.law.dried(in.x, in.wet)
		in.unseen += t.meanAt(s, declared) - t.meanAt(s, drawn)
	}
	if !in.noisy {
		rng = nil
	}
	s.predict(in.x, rng)
	x, physical, err := s.fit(ctx)
	if err != nil {
		return 0, 0, err
	}
	g := s.law.filmAt(physical)
	return s.v.model.filmAt(x).d - trueNM, t.mean.mean(physical, &g).value + in.unseen - trueMean, nil
}

// meanAt returns the mean of the film of x.
func (t *budgetWorker) meanAt(s *simulated, x []float64) float64 {
	g := s.law.filmAt(x)
	return t.mean.mean(x, &g).value
}

// equivalentNM returns the thickness of the equivalent film of x, in nm.
func (s *simulated) equivalentNM(ctx context.Context, x []float64) (float64, error) {
	expected := s.withoutErrors(x)
	if slices.Equal(expected, s.truth) {
		return s.thicknessNM, nil
	}
	s.predict(expected, nil)
	found, err := s.uniform.minimum(ctx, s.v.chosen.params, s.start)
	return s.v.model.filmAt(found).d, err
}

// withoutErrors returns x with all at what is expected but the film, its solid and its structure.
func (s *simulated) withoutErrors(x []float64) []float64 {
	out := slices.Clone(x)
	s.law.eachEffect(func(i int, e *effect, _ int) {
		if !e.isStructure() && e.kind != kSkeleton {
			out[i] = s.truth[i]
		}
	})
	return out
}

// structureOf returns whether the structure of the film was free, and how much of the usual one it has.
func (v *Verdict) structureOf() (structured bool, structure float64) {
	m, _ := v.physical()
	return m.structured, m.structure
}

// predict sets the readings to those that the law gives at x, with noise if rng is not nil.
func (s *simulated) predict(x []float64, rng *rand.Rand) {
	s.law.predictReadings(x)
	if rng != nil {
		for i := range s.spot.Curves {
			noise := s.spot.Curves[i].R
			clear(noise)
			addNoise(noise, s.sigma[i]*s.scatter, s.rho, rng)
		}
	}
	for k := range s.law.curves {
		c := &s.law.curves[k]
		switch {
		case rng == nil:
		case c.packed == nil:
			floats.Add(c.r, c.readings)
		default:
			s.packed = slices.Grow(s.packed[:0], len(c.r))[:len(c.r)]
			c.packed.at.pack(s.packed, c.readings)
			floats.Add(c.r, s.packed)
		}
		copy(s.uniform.curves[k].r, c.r)
	}
}

// fit fits the readings in the models of the verdict: the uniform film, and the one whose structure is free, where there is
// one.
func (s *simulated) fit(ctx context.Context) (uniform, physical []float64, err error) {
	uniform, err = s.uniform.minimum(ctx, s.v.chosen.params, s.start)
	if err != nil || s.full == nil {
		return uniform, uniform, err
	}
	physical, err = s.full.minimum(ctx, s.v.full.params, s.fullStart)
	return uniform, physical, err
}

// clampNuisances moves the nuisances in x into their physically possible ranges.
func (m *model) clampNuisances(x []float64) {
	m.eachEffect(func(i int, e *effect, _ int) { x[i] = min(max(x[i], e.lower), e.upper) })
	for k, angle := range m.angles {
		i := pAngleError(k)
		x[i] = min(math.Abs(angle+x[i]), (90+angle)/2) - angle // beyond the normal is on its other side
	}
}

// addNoise adds normal errors of standard deviation sd to r. Neighbouring errors have the correlation rho.
func addNoise(r []float64, sd, rho float64, rng *rand.Rand) {
	fresh, e := math.Sqrt(1-rho*rho), rng.NormFloat64()
	for i := range r {
		if i > 0 {
			e = rho*e + fresh*rng.NormFloat64()
		}
		r[i] += sd * e
	}
}
