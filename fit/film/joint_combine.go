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

// of returns the measurand of v, and as what function of which parameters.
func (q Measurand) of(v *Verdict) (Estimate, *quantity, error) {
	switch {
	case q.Mean != nil:
		by := v.meanOf(q.Mean)
		return v.Mean(q.Mean), &by, nil
	case q.Gain != nil:
		by := v.gainOf(q.Gain)
		return v.Gain(q.Gain), &by, nil
	}
	by, err := v.quantity(q.Name)
	if err != nil {
		return Estimate{}, nil, err
	}
	e := map[string]Estimate{OpticalThickness: v.OpticalThicknessNM, FilmIndex: v.Index, Thickness: v.ThicknessNM,
		Porosity: v.Porosity, Bare: v.Bare, Solid: v.SolidNM, Scale: v.Scale}[q.Name]
	return e, &by, nil
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
// own parameters follow, two spots have the covariance t_i·Σ·t_k. The pulls of one spot also have in common what the
// spot owns, and the spots of a session what their coating owns: a_i·a_k for each effect, as in [Joint.Errors]. What is
// uncertain of a spot besides is its own and independent. An [*InputError] says which spot has no part in the joint
// fit, or that there is no such measurand.
func (j *Joint) Combine(q Measurand, weights ...Weight) (Estimate, error) {
	var sum Estimate
	own, whole := 0.0, map[int]float64{}
	for _, w := range weights {
		whole[w.Spot] += w.W
	}
	var all jointGradient
	var common ownInCommon
	for _, w := range weights {
		e, by, err := j.sensitivity(q, w.Spot)
		if err != nil {
			return Estimate{}, err
		}
		sum.Value += w.W * e.Value
		all.add(w.W, by)
		times, first := whole[w.Spot]
		if !first || !(e.U > 0) { // a spot named twice is one spot
			continue
		}
		delete(whole, w.Spot)
		own += times * times * max(0, e.U*e.U-by.covariance(by))
		taken, err := j.addCommon(&common, q, w.Spot, times)
		if err != nil {
			return Estimate{}, err
		}
		own -= taken
	}
	for _, by := range common.by {
		own += by * by
	}
	if sum.U = math.Sqrt(max(0, own) + all.covariance(all)); sum.U == 0 {
		sum.U = math.NaN() // nothing free is in it
	}
	return sum, nil
}

// ownInCommon is what effects do to a sum over spots that each have a parameter of their own for the same effect.
type ownInCommon struct {
	of []ownedEffect
	by []float64
}

// ownedEffect is an effect with the name of its owner.
type ownedEffect struct {
	Effect
	whose string
}

// addCommon adds what such effects do to a measurand at a spot, times its weight, to common. It returns by how much they
// have raised the variance of the spot by itself.
func (j *Joint) addCommon(common *ownInCommon, q Measurand, spot int, weight float64) (variance float64, err error) {
	member := j.fit.all[spot].member
	owner, whose := OwnerCoating, member.Coating
	switch {
	case j.ofOneSpot:
		owner, whose = OwnerSpot, ""
	case !member.ownSkeleton:
		return 0, nil
	}
	e, err := j.Spots[spot].Verdict.errors([]Measurand{q}, func(o Owner) bool { return o == owner })
	if err != nil {
		return 0, err
	}
	for k, effect := range e.Effects {
		by, owned := weight*e.By.At(k, 0), ownedEffect{effect, whose}
		at := slices.Index(common.of, owned)
		if at < 0 {
			at = len(common.of)
			common.of, common.by = append(common.of, owned), append(common.by, 0)
		}
		common.by[at] += by
		variance += by * by
	}
	return variance, nil
}

// checkUsed returns an error if the joint fit does not use the spot.
func (j *Joint) checkUsed(spot int) error {
	if spot < 0 || spot >= len(j.Spots) || j.Spots[spot].Err != nil {
		return &InputError{fmt.Sprintf("spot %d", spot+1), "it has no part in the joint fit", "compare spots that have"}
	}
	return nil
}

// jointGradient holds the derivatives of a measurand by the shared parameters of a fit, with the parameters of its spot at
// their best.
type jointGradient struct {
	fit *jointFit
	by  []float64
}

// sensitivity returns the measurand at a spot and its derivatives by the shared parameters.
func (j *Joint) sensitivity(q Measurand, spot int) (Estimate, jointGradient, error) {
	if err := j.checkUsed(spot); err != nil {
		return Estimate{}, jointGradient{}, err
	}
	e, of, err := q.of(j.Spots[spot].Verdict)
	if err != nil {
		return e, jointGradient{}, err
	}
	t := j.fit
	if t.all[spot].solution != of.s {
		t = j.uniform
	}
	p, grad := t.all[spot], of.of(of.s.x).grad
	by := make([]float64, len(t.slots))
	for a, i := range p.at {
		by[i] = grad[p.shared[a]]
		for k, l := range p.local {
			by[i] -= p.arrow.slope(k)[a] * grad[l]
		}
	}
	return e, jointGradient{t, by}, nil
}

// add adds w times other, which is of the same fit.
func (m *jointGradient) add(w float64, other jointGradient) {
	if m.fit == nil {
		m.fit, m.by = other.fit, make([]float64, len(other.by))
	}
	floats.AddScaled(m.by, w, other.by)
}

// covariance returns m·Σ·other with Σ the covariance of the shared parameters; 0 if they are of two fits.
func (m jointGradient) covariance(other jointGradient) (sum float64) {
	if m.fit == nil || m.fit != other.fit {
		return 0
	}
	for i, a := range m.by {
		for k, b := range other.by {
			if a != 0 && b != 0 {
				sum += a * b * m.fit.inverse.At(i, k)
			}
		}
	}
	return m.fit.inflation * sum
}
