package film

import (
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
)

// budgetTask is a budget with its readings and terms, which all workers read.
type budgetTask struct {
	*Budget
	readings []*budgetReading // the spot, and its baseline
	terms    []term
}

// budgetReading is one reading of the spot.
type budgetReading struct {
	v       *Verdict
	level   int       // of compression; -1: on all points
	known   Known     // sizes of the errors drawn
	sigma   []float64 // noise of each curve
	scatter float64   // standard deviation of the residuals, in units of the noise
	rho     float64   // correlation of neighbouring residuals
	truth   []float64 // parameters: the fitted film, and nuisances at the means of their priors
	unseen  []float64 // difference of each alternative in the unseen part; NaN if it does not explain the curves
	share   float64   // of the weights outside the measured wavelengths
}

// term is one source of error. shift draws it into the inputs of the readings.
type term struct {
	name, unit string
	size       float64
	shift      func(rng *rand.Rand, to []drawnInput)
}

// drawnInput is the input of one simulated reading.
type drawnInput struct {
	x      []float64
	noisy  bool
	water  bool // the share of the pores that water filled is not as declared, but wet
	wet    float64
	unseen float64 // added to the mean: what is not read of it
}

// newTask checks the budget and prepares its readings and terms.
func (b *Budget) newTask(ctx context.Context, v, base *Verdict) (*budgetTask, error) {
	switch {
	case b.Mean == nil:
		panic("film: a budget without the probe of its solar value")
	case b.Draws < 0 || b.Workers < 0:
		return nil, &InputError{"budget", fmt.Sprintf("%d draws by %d workers cannot be made", b.Draws, b.Workers),
			"give positive numbers, or 0"}
	case base != nil && base.model.spot.Coating != v.model.spot.Coating:
		return nil, &InputError{"budget", "the baseline has another coating", "compare a spot with its own pull 0"}
	}
	l := &budgetTask{Budget: b}
	for _, w := range []*Verdict{v, base} {
		if w == nil {
			continue
		}
		p, err := b.newReading(ctx, w)
		if err != nil {
			return nil, err
		}
		l.readings = append(l.readings, p)
	}
	l.listTerms()
	return l, nil
}

// newReading prepares the reading of v.
func (b *Budget) newReading(ctx context.Context, v *Verdict) (*budgetReading, error) {
	p := &budgetReading{v: v, known: v.model.spot.known()}
	if b.Known != nil {
		p.known = *b.Known
	}
	for _, u := range p.known.Session.uncertainties() {
		if !(u >= 0) || math.IsInf(u, 1) {
			return nil, &InputError{"budget", fmt.Sprintf("an error of the session of size %g cannot be drawn", u),
				"state in the budget how large it is"}
		}
	}
	m, s := v.physical()
	p.level, p.sigma = m.level(), m.sigma()
	p.scatter, p.rho = math.Sqrt(max(1, s.chi2*m.noiseFactor)/m.noiseFactor), s.correlation()
	p.truth = slices.Clone(s.x)
	for i, q := range m.params(0) {
		switch {
		case q.Prior.SD > 0:
			p.truth[i] = q.Prior.Mean
		case q.Fixed && i >= pSkeleton:
			p.truth[i] = q.Start
		}
	}
	g := m.filmAt(s.x) // with the pinned thickness or porosity
	p.truth[pTau], p.truth[pIndex] = g.d*g.index, g.index
	return p, b.fillAlternatives(ctx, p)
}

// readingUnit is the unit of what the curves read.
func (m *model) readingUnit() string {
	switch {
	case !m.through:
		return "of reflectance"
	case !m.reflects:
		return "of transmittance"
	}
	return "of the readings"
}

// listTerms lists the terms whose size is not 0.
func (l *budgetTask) listTerms() {
	add := func(name, unit string, size float64, shift func(*rand.Rand, []drawnInput)) {
		if size > 0 {
			l.terms = append(l.terms, term{name, unit, size, shift})
		}
	}
	first := l.readings[0]
	m, _ := first.v.physical()
	add(termNoise, m.readingUnit(), first.v.NoiseSD*math.Sqrt(m.noiseFactor)*first.scatter, func(_ *rand.Rand, to []drawnInput) {
		for k := range to {
			to[k].noisy = true
		}
	})
	for k := range law {
		e := &law[k]
		size := 0.0
		for _, sd := range l.readings[0].effect(e) {
			size = sd
		}
		add(e.term, e.unit, size, l.drawEffect(e))
	}
	add(termPoreWater, "of the pores", l.uWater(), func(rng *rand.Rand, to []drawnInput) {
		for k := range to {
			to[k].water, to[k].wet = true, l.readings[k].v.model.spot.Water.draw(rng)
		}
	})
	if l.Unseen != nil {
		add(termExtrapolation, "of the weight", l.readings[0].share, l.drawAlternative())
	}
}

// uWater returns the largest standard uncertainty of a declared share of the pores.
func (l *budgetTask) uWater() (u float64) {
	for _, p := range l.readings {
		u = max(u, p.v.model.spot.Water.UShare)
	}
	return u
}

// effect returns the standard uncertainties of the parameters of an effect, by their positions.
func (p *budgetReading) effect(e *effect) map[int]float64 {
	sds := map[int]float64{}
	m, _ := p.v.physical()
	m.eachEffect(func(i int, of *effect, setting int) {
		if of != e || m.spot.Texture && e.kind == kFactor {
			return
		}
		if _, sd := m.knowledgeOf(e, setting, &p.known); sd > 0 {
			sds[i] = sd
		}
	})
	return sds
}

// drawEffect returns a draw of normal errors of an effect: one for each of its parameters, the same at all pulls where its
// owner is.
func (l *budgetTask) drawEffect(e *effect) func(*rand.Rand, []drawnInput) {
	var sds []map[int]float64
	for _, p := range l.readings {
		sds = append(sds, p.effect(e))
	}
	return func(rng *rand.Rand, to []drawnInput) {
		drawn := map[int]float64{}
		for k := range to {
			for _, i := range slices.Sorted(maps.Keys(sds[k])) {
				z, ok := drawn[i]
				if !ok || !e.owner.outlives() {
					z = rng.NormFloat64()
					drawn[i] = z
				}
				to[k].x[i] += sds[k][i] * z
			}
		}
	}
}
