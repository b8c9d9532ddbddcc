package film

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// Water is what is declared of water in the pores of the film when its curves were read. It cannot be distinguished from a
// lower porosity, so that it is never fitted.
type Water struct {
	Share, UShare float64 // share of the pores that it filled, from 0 to 1, and its standard uncertainty
}

// evenHalf is √3: the true share is taken to be spread evenly over Share ± √3 UShare (GUM 4.3.7, from memory).
// Below 0 it is 0, and above 1 it is 1.
const evenHalf = 1.73205080756887729352744634150587236694

// Spread returns shares by which means over the true share are computed, the nodes of Gauss and Legendre, and their
// weights, whose sum is 1.
func (w Water) Spread() (shares, weights []float64) {
	shares, weights = make([]float64, 5), make([]float64, 5)
	quad.Legendre{}.FixedLocations(shares, weights, -1, 1)
	for i := range shares {
		shares[i] = min(max(w.Share+evenHalf*w.UShare*shares[i], 0), 1)
		weights[i] /= 2
	}
	return shares, weights
}

// draw draws a true share.
func (w Water) draw(rng *rand.Rand) float64 {
	return min(max(w.Share+evenHalf*w.UShare*(2*rng.Float64()-1), 0), 1)
}

// check returns an [*InputError] for a share that is none.
func (w *Water) check() error {
	if w.Share >= 0 && w.Share <= 1 && w.UShare >= 0 && w.UShare <= 1 {
		return nil
	}
	return &InputError{"pore water", fmt.Sprintf("%g ± %g is no share of the pores", w.Share, w.UShare),
		"give fractions from 0 to 1"}
}

// waterIndex is the index of liquid water at 550 nm and 25 °C: G. M. Hale, M. R.
// Querry, Appl. Opt. 12, 555-563 (1973), figure from refractiveindex.info-database
// (CC0), main/H2O/nk/Hale.
const waterIndex = 1.333

// filling returns the permittivity at 550 nm of what is in pores of which water fills the share wet, and air the
// rest. The rule of the coating mixes first water with air, and then this mixture with the solid, as if each pore
// were partly full. Bruggeman's equation for three parts, with some pores full and others empty, gives a change of a
// film's index that is 5 % larger for a tenth. The dispersion of water, a little weaker than that of silica, is
// neglected: it changes the index of the film by about 1e-5.
func (c Coating) filling(wet float64) float64 {
	eps, _, _ := c.Mixing.MixReal(waterIndex*waterIndex, 1, 1-wet)
	return eps
}

// driedIndex returns the index at 550 nm of the film g after its pores, of which water fills the share wet, have been
// emptied, and its porosity. A film that would have less than no pores, or more than 0.95 of them, is taken to have as many.
func driedIndex(c Coating, g *filmState, wet float64) (index, porosity float64) {
	p, _, _ := c.Mixing.PorosityReal(g.index*g.index, g.skeleton*g.skeleton, c.filling(wet))
	p = min(max(p, 0), mostDriedPorosity)
	return c.indexOf(p, g.skeleton), p
}

const mostDriedPorosity = 0.95

// Dried returns by how much quantities of v change when the pores of the film, of which water fills the share wet, are
// emptied, and the porosity of the film of v then; 0 and NaN for glass without a film. An [*InputError] says that there is
// no such quantity.
func (v *Verdict) Dried(wet float64, quantities ...Measurand) (changes []float64, porosity float64, err error) {
	changes = make([]float64, len(quantities))
	if v.Model == ModelBare {
		return changes, math.NaN(), nil
	}
	for i, q := range quantities {
		_, by, err := q.of(v)
		if err != nil {
			return nil, 0, err
		}
		x, _ := by.m.dried(by.s.x, wet)
		changes[i] = by.of(x).value - by.value()
	}
	_, porosity = v.model.dried(v.chosen.x, wet)
	return changes, porosity, nil
}

// dried returns the parameters x of the film after its pores, of which water fills the share wet, have been emptied,
// and its porosity. Its thickness stays.
func (m *model) dried(x []float64, wet float64) (y []float64, porosity float64) {
	g, y := m.filmAt(x), slices.Clone(x)
	y[pIndex], porosity = driedIndex(m.spot.Coating, &g, wet)
	y[pTau] = y[pIndex] * g.d
	return y, porosity
}
