package film

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Measurand is a quantity of a fitted spot: the one of [Quantities] called Name, or, if a
// probe is given, its weighted mean ([Verdict.Mean]) or its gain ([Verdict.Gain]).
type Measurand struct {
	Name       string
	Mean, Gain *Probe
}

// of returns the measurand of v and its derivatives by the parameters of the spot.
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

// Weight is the weight of a spot in a combination.
type Weight struct {
	Spot int // number among the members, from 0
	W    float64
}

// Difference returns the measurand at spot a less that at spot b, for example the change
// of a coupon between two pulls. Errors that both share cancel as far as they are equal.
// The error is that of [Joint.Combine].
func (j *Joint) Difference(q Measurand, a, b int) (Estimate, error) {
	return j.Combine(q, Weight{a, 1}, Weight{b, -1})
}

// Combine returns a weighted sum of the measurand over spots, for example of a coupon
// (weight 1) less the mean of two controls (weight -1/2 each). Let Σ be the covariance of
// the shared parameters, w_i the weight and u_i the uncertainty of spot i, and t_i the
// derivatives of its measurand by the shared parameters, with its own parameters at their
// best. Then
//
//	u² = t·Σ·t + Σ_i w_i²·(u_i² - t_i·Σ·t_i)        t = Σ_i w_i·t_i
//
// where the second sum is that of the errors that belong to one spot only. U is NaN if
// nothing free is in the sum. BySkeleton and ByGlass are 0 if the spots are of several
// coatings or glasses. An [*InputError] names a spot that the joint fit does not use, or
// an unknown measurand.
func (j *Joint) Combine(q Measurand, weights ...Weight) (Estimate, error) {
	var sum Estimate
	t, own, total := make([]float64, len(j.Shared)), 0.0, map[int]float64{}
	for _, w := range weights {
		total[w.Spot] += w.W
	}
	for _, w := range weights {
		if err := j.checkUsed(w.Spot); err != nil {
			return Estimate{}, err
		}
		e, by, err := j.sensitivity(q, w.Spot)
		if err != nil {
			return Estimate{}, err
		}
		sum.Value += w.W * e.Value
		floats.AddScaled(t, w.W, by)
		if all, first := total[w.Spot]; first && e.U > 0 { // a spot named twice is one spot
			own += all * all * max(0, e.U*e.U-j.covariance(by, by))
			delete(total, w.Spot)
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

// CovarianceOf returns the covariance of the measurand q at spot a with the measurand r at
// another spot b, t_a·Σ·t_b (see [Joint.Combine]), in the product of their units. The
// errors are those of [Joint.Combine].
func (j *Joint) CovarianceOf(q Measurand, a int, r Measurand, b int) (float64, error) {
	for _, spot := range []int{a, b} {
		if err := j.checkUsed(spot); err != nil {
			return 0, err
		}
	}
	_, byA, err := j.sensitivity(q, a)
	if err != nil {
		return 0, err
	}
	_, byB, err := j.sensitivity(r, b)
	if err != nil {
		return 0, err
	}
	return j.covariance(byA, byB), nil
}

// checkUsed returns an error if the joint fit does not use the spot.
func (j *Joint) checkUsed(spot int) error {
	if spot < 0 || spot >= len(j.Spots) || j.Spots[spot].Err != nil {
		return &InputError{fmt.Sprintf("spot %d", spot+1), "it has no part in the joint fit", "compare spots that have"}
	}
	return nil
}

// sensitivity returns the measurand at a spot and its derivatives by the shared parameters,
// with the spot's own parameters at their best.
func (j *Joint) sensitivity(q Measurand, spot int) (Estimate, []float64, error) {
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

// part returns the part of the uncertainty of a sum with derivatives t that comes from the
// prior of the parameter i of the spots (see Verdict.estimate). It is 0 if they do not all
// share that parameter.
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
	return j.covariance(t, unit) / j.Shared[at].PriorU / j.fit.inflation // priors are not inflated
}
