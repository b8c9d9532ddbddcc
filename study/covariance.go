package study

import "math"

// Owner says whom an effect belongs to. Two results share an effect where they have its owner in common.
type Owner string

// The owners.
const (
	OwnerSession    Owner = "session"    // one sitting at one instrument
	OwnerPlacement  Owner = "placement"  // one coupon set down once for one spot
	OwnerCoupon     Owner = "coupon"     // the piece of glass
	OwnerBatch      Owner = "batch"      // the batch of its glass
	OwnerCoating    Owner = "coating"    // the coating and its mixing rule
	OwnerSpot       Owner = "spot"       // the marked place on a coupon, at all pulls
	OwnerReading    Owner = "reading"    // one spot at one pull
	OwnerInstrument Owner = "instrument" // the instrument as enrolled
	OwnerJoint      Owner = "joint"      // a joint fit: what its results share and what does not outlive it
	OwnerBridge     Owner = "bridge"     // two instruments: the offset between them
	OwnerControls   Owner = "controls"   // the mean of some controls: what of its error is theirs alone
)

// ofOneCoupon reports whether results of two coupons never share an effect of the owner.
func (o Owner) ofOneCoupon() bool {
	return o == OwnerPlacement || o == OwnerCoupon || o == OwnerSpot || o == OwnerReading
}

// Effect is one error of one owner. Of says whom, such as the code of the session, and Name what is off, such as scale.
type Effect struct {
	Owner    Owner
	Of, Name string
}

// Output is an output quantity of a fit whose uncertainty is kept effect by effect.
type Output int

// The output quantities, with their units.
const (
	OutSolarT    Output = iota // fraction
	OutCellT                   // fraction
	OutGain                    // pp
	OutSolid                   // nm
	OutThickness               // nm, of the equivalent uniform film
	NumberOfOutputs
)

// Sensitivity is the error of each quantity, with its sign and in its own unit, when the effect is off by one of its
// standard uncertainties.
type Sensitivity struct {
	Effect
	By [NumberOfOutputs]float64

	// DoF is the number of degrees of freedom of the standard uncertainty of the effect, where it was estimated from few
	// values; 0: it is taken to be known.
	DoF float64
}

// Errors is what the uncertainties of a fit are made of. Its zero value says that nothing is known of them.
type Errors struct {
	Shared []Sensitivity // each effect once

	// Own is the covariance of the quantities that no other fit shares, such as that by noise: by rows, the elements up
	// to the diagonal.
	Own [NumberOfOutputs * (NumberOfOutputs + 1) / 2]float64
}

// Known reports whether anything is known of the errors.
func (e *Errors) Known() bool { return len(e.Shared) > 0 || e.Own != Errors{}.Own }

// OwnOf returns the own covariance of two quantities, in the product of their units.
func (e *Errors) OwnOf(a, b Output) float64 { return *e.own(a, b) }

// SetOwn sets the own covariance of two quantities.
func (e *Errors) SetOwn(a, b Output, covariance float64) { *e.own(a, b) = covariance }

func (e *Errors) own(a, b Output) *float64 {
	if a < b {
		a, b = b, a
	}
	return &e.Own[a*(a+1)/2+b]
}

// Weighted is an output quantity of a result, given by what its uncertainties are made of, with its weight in a sum.
type Weighted struct {
	Errors *Errors // of a fit, or of a sum, see [Condense]
	Output Output
	Weight float64
}

// Covariance returns the covariance of two weighted sums of results, in the product of their units:
//
//	cov = Σ_effects (Σ_i w_i·a_i)·(Σ_j v_j·b_j) + Σ_fits Σ_ij w_i·v_j·own(i, j)
//
// a and b are the sensitivities to an effect, and own is the covariance of the quantities of one fit that no other fit
// shares. Two terms are of one fit where their Errors is the same pointer, so a result less itself has the variance 0.
// The uncertainties of all sums, differences and means of results come from here.
func Covariance(a, b []Weighted) float64 {
	x, y := totalOf(a), totalOf(b)
	return x.times(&y)
}

// Uncertainty returns the standard uncertainty of a weighted sum of results, in their unit.
func Uncertainty(terms []Weighted) float64 {
	t := totalOf(terms)
	return math.Sqrt(max(0, t.times(&t)))
}

// Condense returns one term that has the errors of a weighted sum of results of one coupon, or of the means of several
// coupons: its covariance with results of other coupons is that of the sum. What no result of another coupon shares
// becomes its own.
func Condense(terms []Weighted) Weighted {
	t := totalOf(terms)
	own := t.ownTimes(&t)
	e := &Errors{}
	for i := range t.effects {
		switch s, sum := t.effects[i], t.sums[i]; {
		case s.Owner.ofOneCoupon():
			own += sum * sum
		case sum != 0:
			e.Shared = append(e.Shared, Sensitivity{Effect: s.Effect, By: [NumberOfOutputs]float64{sum}, DoF: s.DoF})
		}
	}
	e.SetOwn(0, 0, own)
	return Weighted{e, 0, 1}
}

// total is a weighted sum of results, by effects and by fits.
type total struct {
	effects   []*Sensitivity // each effect once, in the order of the terms
	sums      []float64      // of weights times sensitivities to them
	positions map[Effect]int

	fits    []*Errors
	weights map[*Errors]*[NumberOfOutputs]float64
}

func totalOf(terms []Weighted) total {
	t := total{weights: make(map[*Errors]*[NumberOfOutputs]float64, len(terms))}
	n := 0
	for _, term := range terms {
		w := t.weights[term.Errors]
		if w == nil {
			w = &[NumberOfOutputs]float64{}
			t.weights[term.Errors], t.fits = w, append(t.fits, term.Errors)
			n += len(term.Errors.Shared)
		}
		w[term.Output] += term.Weight
	}
	t.effects, t.sums, t.positions = make([]*Sensitivity, 0, n), make([]float64, 0, n), make(map[Effect]int, n)
	for _, e := range t.fits { // after the weights of each fit, so that a sum less itself is 0
		w := t.weights[e]
		for i := range e.Shared {
			s := &e.Shared[i]
			k, ok := t.positions[s.Effect]
			if !ok {
				k = len(t.sums)
				t.positions[s.Effect], t.effects, t.sums = k, append(t.effects, s), append(t.sums, 0)
			}
			for q, by := range s.By {
				if w[q] != 0 {
					t.sums[k] += w[q] * by
				}
			}
		}
	}
	return t
}

// times returns the covariance of two sums.
func (t *total) times(o *total) float64 {
	sum := t.ownTimes(o)
	for i, x := range t.sums {
		if k, ok := o.positions[t.effects[i].Effect]; ok {
			sum += x * o.sums[k]
		}
	}
	return sum
}

// ownTimes returns the part of the covariance that is of what only one fit has.
func (t *total) ownTimes(o *total) (sum float64) {
	for _, e := range t.fits {
		v := o.weights[e]
		if v == nil {
			continue
		}
		for i, x := range t.weights[e] {
			for j, y := range v {
				if x != 0 && y != 0 {
					sum += x * y * e.OwnOf(Output(i), Output(j))
				}
			}
		}
	}
	return sum
}
