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
	if len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0]) {
		return variance(a)
	}
	var r, o room
	x, y := r.total(a), o.total(b)
	return x.times(&y)
}

// Uncertainty returns the standard uncertainty of a weighted sum of results, in their unit.
func Uncertainty(terms []Weighted) float64 { return math.Sqrt(max(0, variance(terms))) }

func variance(terms []Weighted) float64 {
	var r room
	t := r.total(terms)
	return t.times(&t)
}

// Condense returns one term that has the errors of a weighted sum of results of one coupon, or of the means of several
// coupons: its covariance with results of other coupons is that of the sum. What no result of another coupon shares
// becomes its own.
func Condense(terms []Weighted) Weighted {
	var r room
	t := r.total(terms)
	own := t.ownTimes(&t)
	e := &Errors{Shared: make([]Sensitivity, 0, len(t.sums))}
	for _, run := range t.runs {
		for i := range run.effects {
			switch s, sum := &run.effects[i], t.sums[run.at+i]; {
			case s.Owner.ofOneCoupon():
				own += sum * sum
			case sum != 0:
				e.Shared = append(e.Shared, Sensitivity{Effect: s.Effect, By: [NumberOfOutputs]float64{sum}, DoF: s.DoF})
			}
		}
	}
	e.SetOwn(0, 0, own)
	return Weighted{e, 0, 1}
}

// Spread says what the error of a weighted sum of results is made of: effect is called for each effect with what the sum
// is off, with its sign, when the effect is off by one of its standard uncertainties, and own for each fit with what the
// sum is off by the errors that no other fit shares, when these are off by theirs.
func Spread(terms []Weighted, effect func(s *Sensitivity, by float64), own func(of *Errors, by float64)) {
	var r room
	t := r.total(terms)
	for _, run := range t.runs {
		for i := range run.effects {
			if by := t.sums[run.at+i]; by != 0 {
				effect(&run.effects[i], by)
			}
		}
	}
	for i := range t.fits {
		f := &t.fits[i]
		by := math.Sqrt(max(0, f.addOwnTimes(0, f)))
		for _, w := range f.weights {
			if w != 0 {
				own(f.errors, math.Copysign(by, w))
				break
			}
		}
	}
}
