package film

import (
	"context"
	"math"
	"slices"

	"wane/fit"
)

// Where a linear covariance does not tell how uncertain a film is, it is looked
// for how different another film may be that explains the curves as well.

// equalRise is how far, in units of the inflated noise, another solution may lie
// above the best and still count as explaining the curves as well: chi-square of
// one parameter at two standard deviations.
const equalRise = 4.0

// farRise is the rise at which a profile is not followed further.
const farRise = 25 * equalRise

const (
	equalBares   = 16 // values at which the bare fraction is held, from 0 to 0.95
	equalIndices = 16 // and the index, over its range
)

// equalFilms returns the vectors of other films that explain the curves as well as
// best does, found on the coarse curves along two profiles: bare fraction held at
// several values, the rest free, and index held likewise. A lower minimum met on
// the way replaces best.
func (m *model) equalFilms(ctx context.Context, best *solution) (*solution, [][]float64, error) {
	coarse, params := m.coarse, m.params()
	reference, err := coarse.solve(ctx, params, best.x)
	if err != nil {
		return nil, nil, err
	}
	found, err := coarse.profileFilms(ctx, params, reference)
	if err != nil {
		return nil, nil, err
	}
	lowest := reference
	for _, s := range found {
		if s.cost < lowest.cost {
			lowest = s
		}
	}
	if lowest != reference {
		s, err := m.solve(ctx, params, lowest.x)
		if err != nil {
			return nil, nil, err
		}
		if s.cost < best.cost {
			if err := m.covariance(s); err != nil {
				return nil, nil, err
			}
			best = s
		}
	}
	var equal [][]float64
	for _, s := range found {
		if s.cost <= lowest.cost+equalRise*best.inflation() {
			equal = append(equal, s.x)
		}
	}
	return best, equal, nil
}

// profileFilms solves for the rest with the bare fraction held at several values, and
// with the index held so, outwards from best: each solution is the start of the
// next.
func (m *model) profileFilms(ctx context.Context, params []fit.Param, best *solution) ([]*solution, error) {
	var found []*solution
	along := func(i int, values []float64) error {
		held := append([]fit.Param(nil), params...)
		held[i].Fixed = true
		x := append([]float64(nil), best.x...)
		for _, v := range values {
			x[i] = v
			s, err := m.solve(ctx, held, x)
			if err != nil {
				return err
			}
			found = append(found, s)
			if s.cost > best.cost+farRise*best.inflation() {
				return nil // nothing further out explains the curves either
			}
			copy(x, s.x)
		}
		return nil
	}
	bares := make([]float64, equalBares)
	for k := range bares {
		bares[k] = 0.95 * float64(k) / (equalBares - 1)
	}
	for _, p := range []struct {
		i      int
		values []float64
	}{{pBare, bares}, {pIndex, scanValues(params[pIndex], equalIndices)}} {
		if params[p.i].Fixed {
			continue
		}
		k, _ := slices.BinarySearch(p.values, best.x[p.i])
		if err := along(p.i, p.values[k:]); err != nil {
			return nil, err
		}
		down := slices.Clone(p.values[:k])
		slices.Reverse(down)
		if err := along(p.i, down); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// thickestAllowed returns the vector of the thickest film that the curves of glass without
// a film still allow: a whole film of middling index that raises the sum of squares by
// square times the inflated noise (1 for one standard deviation), on the curves as measured
// or on those that the model without a film predicts, whichever allows more. Its
// difference from none is the one-sided standard uncertainty of the film and of
// what it does. (Around no film at all nothing is linear: reflectance changes with
// the square of the thickness. The predicted curves are there because noise that
// happens to disfavour a film makes nobody see better.) Where a film of scanThin is
// still allowed, it is that one: see hidden.
func (m *model) thickestAllowed(ctx context.Context, bare *solution, square float64) ([]float64, error) {
	rise := square * bare.inflation()
	measured, err := m.coarse.thickestFilm(ctx, bare, rise)
	if err != nil {
		return nil, err
	}
	if measured == nil {
		return m.hiddenFilm(bare), nil
	}
	predicted, err := m.coarse.withPredictedReadings(bare.x).thickestFilm(ctx, bare, rise)
	if err != nil {
		return nil, err
	}
	if predicted == nil {
		return m.hiddenFilm(bare), nil
	}
	if predicted[pTau] > measured[pTau] {
		return predicted, nil
	}
	return measured, nil
}

// hiddenFilm is the thickest film that is looked for, where the noise would hide even that.
func (m *model) hiddenFilm(bare *solution) []float64 {
	x := append([]float64(nil), bare.x...)
	x[pTau], x[pIndex], x[pBare] = scanThin, m.params()[pIndex].Start, 0
	return x
}

// withPredictedReadings is the model with the readings that x predicts.
func (m *model) withPredictedReadings(x []float64) *model {
	out := *m
	out.curves = slices.Clone(m.curves)
	res := make([]float64, m.rows)
	m.residuals(res, x)
	for k, at := 0, 0; k < len(out.curves); k++ {
		c := &out.curves[k]
		c.r = slices.Clone(c.r)
		for i := range c.r {
			c.r[i] += res[at] / c.weightRoot[i]
			at++
		}
	}
	out.constantCost = 0
	return &out
}

// thickestFilm finds the whole film of middling index that raises the sum of squares on
// the curves of m by rise over that of bare glass; nil if one of scanThin does not.
func (m *model) thickestFilm(ctx context.Context, bare *solution, rise float64) ([]float64, error) {
	reference, err := m.solve(ctx, bare.params, bare.x)
	if err != nil {
		return nil, err
	}
	params := m.params()
	x := append([]float64(nil), reference.x...)
	x[pBare], x[pIndex] = 0, params[pIndex].Start
	for _, i := range []int{pTau, pIndex, pBare} {
		params[i].Fixed = true
	}
	var last []float64
	rises := func(tau float64) (bool, error) {
		x[pTau] = tau
		s, err := m.solve(ctx, params, x)
		if err != nil {
			return false, err
		}
		last = s.x
		return s.cost > reference.cost+rise, nil
	}
	lo, hi := 0.0, 4.0
	for {
		up, err := rises(hi)
		if err != nil {
			return nil, err
		}
		if up {
			break
		}
		if lo, hi = hi, 2*hi; hi > scanThin {
			return nil, nil
		}
	}
	for hi-lo > 0.02*hi {
		mid := (lo + hi) / 2
		up, err := rises(mid)
		if err != nil {
			return nil, err
		}
		if up {
			hi = mid
		} else {
			lo = mid
		}
	}
	return last, nil
}

// widened returns e with its uncertainty raised to half the difference from
// other, which lies two standard deviations away at most. A pinned quantity stays
// without one.
func (e Estimate) widened(other float64) Estimate {
	if half := math.Abs(other-e.Value) / 2; half > e.U {
		e.U = half
	}
	return e
}
