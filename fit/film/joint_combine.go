package film

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Measurand is something computed from a fitted spot: one of [Quantities] by its name,
// or, where a probe is given, the weighted mean that it takes ([Verdict.Mean]) or by how
// much that is less than without a film ([Verdict.Gain]); both are fractions.
type Measurand struct {
	Name       string
	Mean, Gain *Probe
}

// of returns the measurand of v and its gradient by the spot's parameters.
func (q Measurand) of(v *Verdict) (Estimate, []float64, error) {
	switch {
	case q.Mean != nil:
		return v.Mean(q.Mean), v.meanOf(q.Mean).of(v.chosen.x).grad, nil
	case q.Gain != nil:
		return v.Gain(q.Gain), v.gainOf(q.Gain).of(v.chosen.x).grad, nil
	}
	by, err := v.quantity(q.Name)
	if err != nil {
		return Estimate{}, nil, err
	}
	e := map[string]Estimate{OpticalThickness: v.OpticalThicknessNM, FilmIndex: v.Index, Thickness: v.ThicknessNM,
		Porosity: v.Porosity,
		Bare:     v.Bare, Solid: v.SolidNM, Spread: v.SpreadNM, Scale: v.Scale}[q.Name]
	return e, by.of(v.chosen.x).grad, nil
}

// Weight is what a spot counts in a combination.
type Weight struct {
	Spot int // number among the members, from 0
	W    float64
}

// Difference returns the measurand at spot a less that at spot b, such as the change of
// a coupon between two pulls, with what both share entering once. The error is that of
// [Joint.Combine].
func (j *Joint) Difference(q Measurand, a, b int) (Estimate, error) {
	return j.Combine(q, Weight{a, 1}, Weight{b, -1})
}

// Combine returns a weighted sum of the measurand over spots, for example of a coupon
// (1) less the mean of two controls (-1/2 each). With Σ the covariance of the shared
// parameters, and t_i how much the measurand at spot i moves with them when the spot's
// own parameters follow, two spots have the covariance t_i·Σ·t_k; what is uncertain of
// a spot besides is its own and independent. BySkeleton and ByGlass are 0 where the
// spots are of several coatings, or glasses. An [*InputError] says which spot has no
// part in the joint fit, or that there is no such measurand.
func (j *Joint) Combine(q Measurand, weights ...Weight) (Estimate, error) {
	var sum Estimate
	t, own, whole := make([]float64, len(j.Shared)), 0.0, map[int]float64{}
	for _, w := range weights {
		whole[w.Spot] += w.W
	}
	for _, w := range weights {
		if err := j.has(w.Spot); err != nil {
			return Estimate{}, err
		}
		e, by, err := j.moves(q, w.Spot)
		if err != nil {
			return Estimate{}, err
		}
		sum.Value += w.W * e.Value
		floats.AddScaled(t, w.W, by)
		if all, first := whole[w.Spot]; first && e.U > 0 { // a spot named twice is one spot
			own += all * all * max(0, e.U*e.U-j.covariance(by, by))
			delete(whole, w.Spot)
		}
	}
	if sum.U = math.Sqrt(own + j.covariance(t, t)); sum.U == 0 {
		sum.U = math.NaN() // nothing free is in it
		return sum, nil
	}
	sum.BySkeleton = j.part(t, pSkeleton, weights)
	sum.ByGlass = j.part(t, pGlass, weights)
	return sum, nil
}

// CovarianceOf returns that of the measurand q at spot a with the measurand r at another
// spot b: what both share of the parameters. The errors are those of [Joint.Combine].
func (j *Joint) CovarianceOf(q Measurand, a int, r Measurand, b int) (float64, error) {
	for _, spot := range []int{a, b} {
		if err := j.has(spot); err != nil {
			return 0, err
		}
	}
	_, byA, err := j.moves(q, a)
	if err != nil {
		return 0, err
	}
	_, byB, err := j.moves(r, b)
	if err != nil {
		return 0, err
	}
	return j.covariance(byA, byB), nil
}

// has returns an error if the spot has no part in the joint fit.
func (j *Joint) has(spot int) error {
	if spot < 0 || spot >= len(j.Spots) || j.Spots[spot].Err != nil {
		return &InputError{fmt.Sprintf("spot %d", spot+1), "it has no part in the joint fit", "compare spots that have"}
	}
	return nil
}

// moves returns the measurand at a spot and how much it moves with each shared
// parameter when the spot's own follow.
func (j *Joint) moves(q Measurand, spot int) (Estimate, []float64, error) {
	p := j.fit.all[spot]
	e, grad, err := q.of(j.Spots[spot].Verdict)
	if err != nil {
		return e, nil, err
	}
	by := make([]float64, len(j.Shared))
	for a, i := range p.at {
		by[i] = grad[p.shared[a]]
		for k, l := range p.local {
			by[i] -= p.arrow.slope(k)[a] * grad[l]
		}
	}
	return e, by, nil
}

// covariance returns a·Σ·b.
func (j *Joint) covariance(a, b []float64) (sum float64) {
	for i, ai := range a {
		for k, bk := range b {
			if ai != 0 && bk != 0 {
				sum += ai * bk * j.Covariance.At(i, k)
			}
		}
	}
	return sum
}

// part returns the part of the uncertainty of what moves as t says that comes from
// what was known beforehand of the parameter i of the spots (see Verdict.estimate); 0
// where they do not all have the same one.
func (j *Joint) part(t []float64, i int, weights []Weight) float64 {
	at := -1
	for _, w := range weights {
		p := j.fit.all[w.Spot]
		a := slices.Index(p.shared, i)
		if a < 0 {
			continue
		}
		if at >= 0 && p.at[a] != at {
			return 0
		}
		at = p.at[a]
	}
	if at < 0 || math.IsInf(j.Shared[at].PriorU, 1) {
		return 0
	}
	unit := make([]float64, len(t))
	unit[at] = 1
	return j.covariance(t, unit) / j.Shared[at].PriorU / j.fit.inflation // what is known beforehand is not inflated
}
