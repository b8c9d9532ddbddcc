package film

import (
	"context"
	"fmt"
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
	session Session   // standard uncertainties of the errors drawn
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
	wet    float64 // share of the pores that is filled with water; below 0: emptied of it
	unseen float64 // added to the mean
}

// newTask checks the budget and prepares its readings and terms.
func (b *Budget) newTask(ctx context.Context, v, base *Verdict) (*budgetTask, error) {
	switch {
	case b.Mean == nil:
		panic("film: a budget without the probe of its solar value")
	case b.Draws < 0 || b.Workers < 0:
		return nil, &InputError{"budget", fmt.Sprintf("%d draws by %d workers cannot be made", b.Draws, b.Workers),
			"give positive numbers, or 0"}
	case !(b.PoreWater >= 0 && b.PoreWater <= 1):
		return nil, &InputError{"budget", fmt.Sprintf("%g is no share of the pores", b.PoreWater),
			"give a fraction from 0 to 1"}
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
	p := &budgetReading{v: v, session: v.model.spot.session(), sigma: v.sigma()}
	if b.Session != nil {
		p.session = *b.Session
	}
	for _, u := range []float64{p.session.UScale, p.session.UFactor, p.session.UAngle, p.session.UShare} {
		if !(u >= 0) || math.IsInf(u, 1) {
			return nil, &InputError{"budget", fmt.Sprintf("an error of the session of size %g cannot be drawn", u),
				"state in the budget how large it is"}
		}
	}
	s, m := v.chosen, v.model
	p.level = -1
	for level, c := range compressions {
		if m.maxTau == c.maxTau {
			p.level = level
		}
	}
	p.scatter, p.rho = math.Sqrt(max(1, s.chi2*m.noiseFactor)/m.noiseFactor), s.correlation()
	p.truth = slices.Clone(s.x)
	for i, q := range m.params() {
		switch {
		case q.Prior.SD > 0:
			p.truth[i] = q.Prior.Mean
		case q.Fixed && i >= pSkeleton && i != pSpread2:
			p.truth[i] = q.Start
		}
	}
	g := m.filmAt(s.x) // with the pinned thickness or porosity
	p.truth[pTau], p.truth[pIndex] = g.d*g.index, g.index
	return p, b.fillAlternatives(ctx, p)
}

// listTerms lists the terms whose size is not 0.
func (l *budgetTask) listTerms() {
	spot := l.readings[0].v.model.spot
	_, uSkeleton := spot.Coating.skeleton()
	session := l.readings[0].session
	add := func(name, unit string, size float64, shift func(*rand.Rand, []drawnInput)) {
		if size > 0 {
			l.terms = append(l.terms, term{name, unit, size, shift})
		}
	}
	add(termNoise, "of reflectance", l.readings[0].v.NoiseSD*l.readings[0].scatter, func(_ *rand.Rand, to []drawnInput) {
		for k := range to {
			to[k].noisy = true
		}
	})
	add(termScale, "", session.UScale, l.drawOwn(func(p *budgetReading) ([]int, float64) {
		return []int{pScale}, p.session.UScale
	}))
	add(termFactor, "", session.UFactor, l.drawOwn(func(p *budgetReading) ([]int, float64) {
		return p.perAngle(pFactor), p.session.UFactor
	}))
	add(termAngle, "degrees", session.UAngle, l.drawOwn(func(p *budgetReading) ([]int, float64) {
		return p.perAngle(pTilt), p.session.UAngle
	}))
	if l.readings[0].v.model.native {
		add(termShare, "", session.UShare, l.drawOwn(func(p *budgetReading) ([]int, float64) {
			return []int{pShare}, p.session.UShare
		}))
	}
	if len(spot.joinsOf()) > 0 {
		add(termJoins, "of reflectance", spot.Instrument.UJoin, l.drawOwn(func(p *budgetReading) ([]int, float64) {
			var joins []int
			for j := range p.v.model.joins {
				joins = append(joins, p.v.model.pJoin(j))
			}
			return joins, p.v.model.spot.Instrument.UJoin
		}))
	}
	add(termGlass, "of index", spot.Glass.UIndex, drawShared(pGlass, spot.Glass.UIndex))
	add(termSkeleton, "of index", uSkeleton, drawShared(pSkeleton, uSkeleton))
	add(termPoreWater, "of the pores", l.PoreWater/math.Sqrt(3), func(rng *rand.Rand, to []drawnInput) {
		to[0].wet = l.PoreWater * (2*rng.Float64() - 1)
	})
	if l.Unseen != nil {
		add(termExtrapolation, "of the weight", l.readings[0].share, l.drawAlternative())
	}
}

// drawOwn returns a draw of normal errors, separate for each reading. of returns the
// parameters and the standard deviation of their errors.
func (l *budgetTask) drawOwn(of func(p *budgetReading) (at []int, u float64)) func(*rand.Rand, []drawnInput) {
	return func(rng *rand.Rand, to []drawnInput) {
		for k := range to {
			at, u := of(l.readings[k])
			for _, i := range at {
				to[k].x[i] += u * rng.NormFloat64()
			}
		}
	}
}

// drawShared returns a draw of one normal error of parameter i, with the standard deviation
// u, that all readings have in common.
func drawShared(i int, u float64) func(*rand.Rand, []drawnInput) {
	return func(rng *rand.Rand, to []drawnInput) {
		e := u * rng.NormFloat64()
		for k := range to {
			to[k].x[i] += e
		}
	}
}

// perAngle returns the positions of one parameter of each angle setting.
func (p *budgetReading) perAngle(place func(setting int) int) (at []int) {
	for k := range p.v.model.angles {
		at = append(at, place(k))
	}
	return at
}
