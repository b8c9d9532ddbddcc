package film

import (
	"context"
	"math"
	"slices"

	"wane/fit"
)

// Where a linear covariance does not describe the uncertainty of a film, the fit searches
// for other films that explain the curves equally well. How much they differ is the
// uncertainty.

// equalRise is the rise of the sum of squares above the best one, in units of the inflated noise, up to which
// another solution explains the curves equally well: chi-square of one parameter at two standard deviations.
const equalRise = 4.0

// farRise is the rise above which a profile is not followed further.
const farRise = 25 * equalRise

const (
	equalBares   = 16 // values of the bare fraction on its profile, from 0 to 0.95
	equalIndices = 16 // values of the index on its profile, over its range
)

// equalFilms returns the vectors of other films that explain the curves as well as best. It searches the coarse
// curves along two profiles: the bare fraction fixed at several values with the rest free, and the index
// likewise. A lower minimum on the way replaces best.
func (m *model) equalFilms(ctx context.Context, best *solution) (*solution, [][]float64, error) {
	coarse, params := m.coarse, m.params(0)
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

// profileFilms returns the solutions with the bare fraction fixed at several values and the rest free, and those
// with the index fixed likewise. It goes outwards from best; each solution is the start of the next.
func (m *model) profileFilms(ctx context.Context, params []fit.Param, best *solution) ([]*solution, error) {
	var found []*solution
	along := func(i int, values []float64) error {
		fixed := append([]fit.Param(nil), params...)
		fixed[i].Fixed = true
		x := append([]float64(nil), best.x...)
		for _, v := range values {
			x[i] = v
			s, err := m.solve(ctx, fixed, x)
			if err != nil {
				return err
			}
			found = append(found, s)
			if s.cost > best.cost+farRise*best.inflation() {
				return nil // no film further out explains the curves
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

// thickestAllowed returns the vector of the thickest film that the curves of glass without a film allow: a film
// without bare places, with an index in the middle of its range, that raises the sum of squares by square times
// the inflated noise (1 for one standard deviation). It is computed on the measured curves and on those that the
// model without a film predicts, and the thicker one is returned: noise that by chance contradicts a film does
// not make the curves more sensitive.
//
// With square 1 its difference from no film is the one-sided standard uncertainty of the film and of its effects.
// A linear uncertainty is not valid there: the reflectance changes with the square of the thickness. If a film
// of scanThin is allowed, that one is returned: see hiddenFilm.
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

// hiddenFilm returns the thickest film of the search. The noise hides even this one.
func (m *model) hiddenFilm(bare *solution) []float64 {
	x := append([]float64(nil), bare.x...)
	x[pTau], x[pIndex], x[pBare] = scanThin, m.params(0)[pIndex].Start, 0
	return x
}

// withPredictedReadings returns the model with the readings that x predicts.
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

// thickestFilm finds the film without bare places, with an index in the middle of its range, that raises the sum
// of squares on the curves of m by rise over that of bare glass. It is nil if even a film of scanThin does not.
func (m *model) thickestFilm(ctx context.Context, bare *solution, rise float64) ([]float64, error) {
	reference, err := m.solve(ctx, bare.params, bare.x)
	if err != nil {
		return nil, err
	}
	params := m.params(0)
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

// widened returns e with an uncertainty of at least half the difference from other, which is at most two standard
// deviations away. A pinned quantity has no uncertainty after it either.
func (e Estimate) widened(other float64) Estimate {
	if half := math.Abs(other-e.Value) / 2; half > e.U {
		e.U = half
	}
	return e
}
