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
	OwnerInstrument Owner = "instrument" // the instrument as registered
	OwnerJoint      Owner = "joint"      // a joint fit: what its results share and what does not outlive it
)

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
}

// Errors is what the uncertainties of a fit are made of. Its zero value says that nothing is known of them.
type Errors struct {
	Shared []Sensitivity // each effect once

	// Own is the covariance of the quantities that no other fit shares, such as that by noise: by rows, the elements up
	// to the diagonal.
	Own [NumberOfOutputs * (NumberOfOutputs + 1) / 2]float64
}

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

// Weighted is an output of a fit with its weight in a sum.
type Weighted struct {
	Fit    *Fit
	Output Output
	Weight float64
}

// Covariance returns the covariance of two weighted sums of results, in the product of their units:
//
//	cov = Σ_effects (Σ_i w_i·a_i)·(Σ_j v_j·b_j) + Σ_fits Σ_ij w_i·v_j·own(i, j)
//
// a and b are the sensitivities to an effect, and own is the covariance of the quantities of one fit that no other fit
// shares. Two terms are of one fit where their Fit is the same pointer, so a result less itself has the variance 0. The
// uncertainties of all sums, differences and means of results come from here.
func Covariance(a, b []Weighted) float64 {
	at := map[Effect]int{}
	var sums [][2]float64
	for side, terms := range [2][]Weighted{a, b} {
		for _, t := range terms {
			for i := range t.Fit.Errors.Shared {
				s := &t.Fit.Errors.Shared[i]
				k, ok := at[s.Effect]
				if !ok {
					k = len(sums)
					at[s.Effect], sums = k, append(sums, [2]float64{})
				}
				sums[k][side] += t.Weight * s.By[t.Output]
			}
		}
	}
	covariance := 0.0
	for _, s := range sums {
		covariance += s[0] * s[1]
	}
	return covariance + ownCovariance(a, b)
}

// ownCovariance returns the part of the covariance that terms of one fit have besides what fits share.
func ownCovariance(a, b []Weighted) (sum float64) {
	weights := map[*Fit]*[2][NumberOfOutputs]float64{}
	var order []*Fit
	for side, terms := range [2][]Weighted{a, b} {
		for _, t := range terms {
			w := weights[t.Fit]
			if w == nil {
				w = &[2][NumberOfOutputs]float64{}
				weights[t.Fit], order = w, append(order, t.Fit)
			}
			w[side][t.Output] += t.Weight
		}
	}
	for _, f := range order {
		w := weights[f]
		for i, x := range w[0] {
			for j, y := range w[1] {
				if x != 0 && y != 0 {
					sum += x * y * f.Errors.OwnOf(Output(i), Output(j))
				}
			}
		}
	}
	return sum
}

// Uncertainty returns the standard uncertainty of a weighted sum of results, in their unit.
func Uncertainty(terms []Weighted) float64 { return math.Sqrt(max(0, Covariance(terms, terms))) }
