package film

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
)

// budgetWorker is one worker of a budget, with its own fitters and models.
type budgetWorker struct {
	*budgetTask
	mean    *Probe
	fitters []*Fitter
	models  []*model // of the simulated readings, on all points, without pins
	spots   []*Spot  // with the simulated readings
}

// newWorker returns a worker with memory of its own.
func (l *budgetTask) newWorker() (*budgetWorker, error) {
	t := &budgetWorker{budgetTask: l}
	var err error
	if t.mean, err = l.Mean(); err != nil {
		return nil, err
	}
	for _, p := range l.readings {
		spot := p.spot()
		for k := range spot.Curves {
			spot.Curves[k].R = make([]float64, len(spot.Curves[k].NM))
		}
		free := *spot
		free.Pins = nil
		f := NewFitter(spot.Setup)
		m, err := f.fullModel(&free, p.sigma)
		if err != nil {
			return nil, err
		}
		m.structured, m.structure = p.v.structureOf()
		t.fitters, t.spots, t.models = append(t.fitters, f), append(t.spots, spot), append(t.models, m)
	}
	return t, nil
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
	p, m, spot := t.readings[k], t.models[k], t.spots[k]
	m.clampNuisances(in.x)
	truth := m.filmAt(in.x)
	trueMean, trueNM := t.mean.mean(in.x, &truth).value, truth.d
	if truth.structured { // of which the equivalent film is what these curves make of it without an error
		m.predictReadings(p.withoutErrors(m, in.x))
		x, _, err := p.fit(ctx, t.fitters[k], spot)
		if err != nil {
			return 0, 0, err
		}
		trueNM = p.v.model.filmAt(x).d
	}
	if in.wet != 0 {
		wetted := soakedIndex(spot.Coating, &truth, in.wet)
		in.x[pIndex], in.x[pTau] = wetted, wetted*truth.d
	}
	m.predictReadings(in.x) // into the readings of spot
	if in.noisy {
		for i := range spot.Curves {
			addNoise(spot.Curves[i].R, p.sigma[i]*p.scatter, p.rho, rng)
		}
	}
	x, physical, err := p.fit(ctx, t.fitters[k], spot)
	if err != nil {
		return 0, 0, err
	}
	g := m.filmAt(physical)
	return p.v.model.filmAt(x).d - trueNM, t.mean.mean(physical, &g).value + in.unseen - trueMean, nil
}

// withoutErrors returns x with all at what is expected but the film, its solid and its structure.
func (p *budgetReading) withoutErrors(m *model, x []float64) []float64 {
	out := slices.Clone(x)
	m.eachEffect(func(i int, e *effect, _ int) {
		if !e.isStructure() && e.kind != kSkeleton {
			out[i] = p.truth[i]
		}
	})
	return out
}

// structureOf returns whether the structure of the film was free, and how much of the usual one it has.
func (v *Verdict) structureOf() (structured bool, structure float64) {
	m, _ := v.physical()
	return m.structured, m.structure
}

// fit fits spot in the model of the verdict, from its solutions: the uniform film, and the one whose structure is free, where
// there is one.
func (p *budgetReading) fit(ctx context.Context, f *Fitter, spot *Spot) (uniform, physical []float64, err error) {
	var m *model
	if p.level >= 0 {
		m, err = f.packedModel(spot, p.sigma, p.level)
	}
	if m == nil && err == nil {
		m, err = f.fullModel(spot, p.sigma)
	}
	if err != nil {
		return nil, nil, err
	}
	s, err := m.solve(ctx, p.v.chosen.params, p.v.chosen.x)
	if err != nil || p.v.structured == nil {
		return s.vector(), s.vector(), err
	}
	m.structured, m.structure = p.v.structureOf()
	full, err := m.solve(ctx, p.v.full.params, p.v.full.x)
	return s.vector(), full.vector(), err
}

// vector returns the parameters of s; nil for none.
func (s *solution) vector() []float64 {
	if s == nil {
		return nil
	}
	return s.x
}

// clampNuisances moves the nuisances in x into their physically possible ranges.
func (m *model) clampNuisances(x []float64) {
	m.eachEffect(func(i int, e *effect, _ int) { x[i] = min(max(x[i], e.lower), e.upper) })
	for k, angle := range m.angles {
		i := pAngleError(k)
		x[i] = min(math.Abs(angle+x[i]), (90+angle)/2) - angle // beyond the normal is on its other side
	}
}

// waterIndex is the index of liquid water at 550 nm and 25 °C: G. M. Hale, M. R.
// Querry, Appl. Opt. 12, 555-563 (1973), figure from refractiveindex.info-database
// (CC0), main/H2O/nk/Hale.
const waterIndex = 1.333

// soakedIndex returns the index at 550 nm of the film g after the share wet of its pores has been filled with
// water, or emptied of it if wet is negative. The rest of the pores holds air. The rule of the coating mixes
// first water with air, and then this mixture with the solid, as if each pore were partly full. Bruggeman's
// equation for three parts, with some pores full and others empty, gives a change that is 5 % larger for a tenth.
// The dispersion of water, a little weaker than that of silica, is neglected: it changes the index of the film by
// about 1e-5.
func soakedIndex(c Coating, g *filmState, wet float64) float64 {
	p, _, _ := c.porosityOf(g.index, g.skeleton)
	filling, _, _ := c.Mixing.MixReal(waterIndex*waterIndex, 1, 1-wet)
	eps, _, _ := c.Mixing.MixReal(g.skeleton*g.skeleton, filling, p)
	return math.Sqrt(eps)
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
