package solar

import (
	"fmt"

	"wane/optics"
)

// Weights returns w such that Σ w[i]·y[i] is the solar-weighted mean
//
//	∫ y·W dλ / ∫ W dλ,   W = E for Energy, E·λ for Photon
//
// of the curve y, linear between its values y[i] at nm[i], over the part of the
// band from loNM to hiNM that nm covers; and share, that part's share of ∫ W dλ
// over the band.
//
// nm holds at least two wavelengths in nm, strictly increasing. w is as long,
// its sum is 1, and it is 0 where the curve does not enter. The integrals are
// trapezoids of the product, formed at every wavelength of nm and of the table
// in that part, and at its ends.
//
// A wavelength out of order, not positive or not finite is an
// [*optics.DomainError]; a band beyond the table, or one that nm does not
// touch, a [*BandError].
//
// Source: weighted ordinates as in ASTM E903 (from memory).
func Weights(nm []float64, loNM, hiNM float64, by Weighting) (w []float64, share float64, err error) {
	if err := optics.CheckGrid(nm); err != nil {
		return nil, 0, fmt.Errorf("solar: could not weight a spectrum: %w", err)
	}
	band, err := integral(loNM, hiNM, by)
	if err != nil {
		return nil, 0, err
	}
	from, to := nm[0], nm[len(nm)-1]
	lo, hi := max(loNM, from), min(hiNM, to)
	if !(lo < hi) {
		return nil, 0, &BandError{loNM, hiNM, "does not touch the spectrum", from, to}
	}
	part, err := integral(lo, hi, by)
	if err != nil {
		return nil, 0, err
	}
	return weigh(nm, union(sun().nm, nm, lo, hi), by), part / band, nil
}

// weigh spreads the trapezoid weight of every node over the two values of nm
// between which it lies, and makes the sum 1.
func weigh(nm, nodes []float64, by Weighting) []float64 {
	return weighed(nm, nodes, ordinates(nodes, by))
}

// weighed is weigh with these values at the nodes.
func weighed(nm, nodes, values []float64) []float64 {
	w := make([]float64, len(nm))
	at := cursor{x: nm}
	last, total := len(nodes)-1, 0.0
	for k, v := range values {
		v *= nodes[min(k+1, last)] - nodes[max(k-1, 0)]
		i, f := at.find(nodes[k])
		w[i] += v * (1 - f)
		w[i+1] += v * f
		total += v
	}
	for i := range w {
		w[i] /= total
	}
	return w
}
