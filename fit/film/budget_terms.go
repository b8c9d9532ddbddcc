package film

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// ledger is a budget made ready: what all workers read.
type ledger struct {
	*Budget
	pulls []*pull // the spot, and its baseline
	terms []term
}

// pull is one reading of the spot.
type pull struct {
	v       *Verdict
	level   int       // of compression; -1: on all points
	session Session   // sizes of the errors drawn
	sigma   []float64 // noise of each curve
	scatter float64   // of the residuals, in units of the noise
	rho     float64   // correlation of neighbouring residuals
	truth   []float64 // the film and the nuisances as they are known beforehand
	unseen  []float64 // by how much each alternative differs in the unseen part; NaN: it does not explain the curves
	share   float64   // of the weights that is not seen
}

// term is one source of error. shift draws it into the readings to come.
type term struct {
	name, unit string
	size       float64
	shift      func(rng *rand.Rand, to []input)
}

// input is what one reading meets.
type input struct {
	x      []float64
	noisy  bool
	wet    float64 // share of the pores that has been filled
	unseen float64 // what is added to the mean
}

func (b *Budget) ledger(ctx context.Context, v, base *Verdict) (*ledger, error) {
	switch {
	case b.Mean == nil:
		panic("film: a budget without the probe of its solar value")
	case b.Draws < 0 || b.Workers < 0:
		return nil, &InputError{"budget", fmt.Sprintf("%d draws by %d workers cannot be made", b.Draws, b.Workers), "give positive numbers, or 0"}
	case !(b.PoreWater >= 0 && b.PoreWater <= 1):
		return nil, &InputError{"budget", fmt.Sprintf("%g is no share of the pores", b.PoreWater), "give a fraction from 0 to 1"}
	case base != nil && base.model.spot.Coating != v.model.spot.Coating:
		return nil, &InputError{"budget", "the baseline has another coating", "compare a spot with its own pull 0"}
	}
	l := &ledger{Budget: b}
	for _, w := range []*Verdict{v, base} {
		if w == nil {
			continue
		}
		p, err := b.pull(ctx, w)
		if err != nil {
			return nil, err
		}
		l.pulls = append(l.pulls, p)
	}
	l.list()
	return l, nil
}

// pull makes a reading ready.
func (b *Budget) pull(ctx context.Context, v *Verdict) (*pull, error) {
	p := &pull{v: v, session: v.model.spot.session(), sigma: v.sigma()}
	if b.Session != nil {
		p.session = *b.Session
	}
	for _, u := range []float64{p.session.UScale, p.session.UFactor, p.session.UAngle, p.session.UShare} {
		if !(u >= 0) || math.IsInf(u, 1) {
			return nil, &InputError{"budget", fmt.Sprintf("an error of the session of size %g cannot be drawn", u), "state in the budget how large it is"}
		}
	}
	s, m := v.chosen, v.model
	p.level = -1
	for level, c := range compressions {
		if m.maxTau == c.maxTau {
			p.level = level
		}
	}
	p.scatter, p.rho = math.Sqrt(max(1, s.chi2*m.loose)/m.loose), s.correlation()
	p.truth = slices.Clone(s.x)
	for i, q := range m.params() {
		switch {
		case q.Prior.SD > 0:
			p.truth[i] = q.Prior.Mean
		case q.Fixed && i >= pSkeleton && i != pSpread2:
			p.truth[i] = q.Start
		}
	}
	g := m.geometry(s.x) // what pins say of the film goes into the parameters
	p.truth[pTau], p.truth[pIndex] = g.d*g.index, g.index
	return p, b.extrapolate(ctx, p)
}

// list lists the terms.
func (l *ledger) list() {
	spot := l.pulls[0].v.model.spot
	_, uSkeleton := spot.Coating.skeleton()
	session := l.pulls[0].session
	add := func(name, unit string, size float64, shift func(*rand.Rand, []input)) {
		if size > 0 {
			l.terms = append(l.terms, term{name, unit, size, shift})
		}
	}
	add(termNoise, "of reflectance", l.pulls[0].v.NoiseSD*l.pulls[0].scatter, func(_ *rand.Rand, to []input) {
		for k := range to {
			to[k].noisy = true
		}
	})
	add(termScale, "", session.UScale, l.own(func(p *pull) ([]int, float64) { return []int{pScale}, p.session.UScale }))
	add(termFactor, "", session.UFactor, l.own(func(p *pull) ([]int, float64) { return p.each(pFactor), p.session.UFactor }))
	add(termAngle, "degrees", session.UAngle, l.own(func(p *pull) ([]int, float64) { return p.each(pTilt), p.session.UAngle }))
	if l.pulls[0].v.model.native {
		add(termShare, "", session.UShare, l.own(func(p *pull) ([]int, float64) { return []int{pShare}, p.session.UShare }))
	}
	if len(spot.joinsOf()) > 0 {
		add(termJoins, "of reflectance", spot.Instrument.UJoin, l.own(func(p *pull) ([]int, float64) {
			var joins []int
			for j := range p.v.model.joins {
				joins = append(joins, p.v.model.pJoin(j))
			}
			return joins, p.v.model.spot.Instrument.UJoin
		}))
	}
	add(termGlass, "of index", spot.Glass.UIndex, shared(pGlass, spot.Glass.UIndex))
	add(termSkeleton, "of index", uSkeleton, shared(pSkeleton, uSkeleton))
	add(termPoreWater, "of the pores", l.PoreWater/math.Sqrt(3), func(rng *rand.Rand, to []input) {
		to[0].wet = l.PoreWater * (2*rng.Float64() - 1)
	})
	if l.Unseen != nil {
		add(termExtrapolation, "of the weight", l.pulls[0].share, l.extrapolation())
	}
}

// own draws errors that each reading has for itself, of normal distribution.
func (l *ledger) own(of func(p *pull) (at []int, u float64)) func(*rand.Rand, []input) {
	return func(rng *rand.Rand, to []input) {
		for k := range to {
			at, u := of(l.pulls[k])
			for _, i := range at {
				to[k].x[i] += u * rng.NormFloat64()
			}
		}
	}
}

// shared draws one error that all readings have in common.
func shared(i int, u float64) func(*rand.Rand, []input) {
	return func(rng *rand.Rand, to []input) {
		e := u * rng.NormFloat64()
		for k := range to {
			to[k].x[i] += e
		}
	}
}

// each returns the place of a parameter of each angle setting.
func (p *pull) each(place func(setting int) int) (at []int) {
	for k := range p.v.model.angles {
		at = append(at, place(k))
	}
	return at
}
