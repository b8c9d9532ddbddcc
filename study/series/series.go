// Package series gathers what a quantity of each coupon was at each pull, with what the errors of its values are made of.
// Trends, comparisons, rules and the report all begin here.
//
// [Build] makes a [Data] from rows of results, coupon by coupon; the values of a coupon are means over its spots. A
// [Point] has the value itself, Level, and Change, the change since the baseline of the coupon: the corrected one by the
// route of the study, and as measured where the study does not correct. Each has its [Errors]: of every effect that
// others share the sensitivity, and the variance of what is its own. With A the sensitivities and D the own variances,
//
//	cov(values) = A Aᵀ + D
//
// which is the law of [study.Covariance], in a form that a large study can hold in memory and a model can take as it is.
// What two changes of one coupon share, such as the noise of their baseline, is an effect among the others, of the owner
// reading or placement.
package series

import (
	"math"

	"wane/study"
)

// Data is a quantity of the exposed coupons and the controls of a study.
type Data struct {
	Quantity Quantity
	Route    study.Route
	Coupons  []Coupon       // in the order of their codes
	Effects  []study.Effect // what Share.Effect counts in

	// DoF are the degrees of freedom of the standard uncertainties of effects that were estimated from few values, such as
	// what a few controls are off. Those of the others are taken to be known.
	DoF map[int]float64

	Skipped []Skipped // what does not count, in the order of coupons and pulls
}

// Skipped is a coupon at a pull that was read and has no point.
type Skipped struct {
	Coupon string
	Pull   int
	Why    string // a flag of results, or words
}

// Coupon is one coupon with its values.
type Coupon struct {
	Coupon                                     string
	Role                                       study.Role // exposed or control
	Supplier, Coating, Lot, Exposure, DoseUnit string     // a control's Exposure is that which it accompanies, empty: all
	BaselinePull                               int
	Points                                     []Point // in the order of pulls; none: nothing that counts was read
	Ended                                      string  // with what its history ended, in words; empty: it goes on
	EndedPull                                  int     // the first planned pull by which it had; math.MaxInt: none
}

// Point is one coupon at one pull.
type Point struct {
	Pull     int
	Dose     float64 // since its baseline, in DoseUnit; 0 at the baseline and of controls; NaN: not known
	Days     float64 // since the date of its baseline; NaN: not known
	Date     string
	Session  string // of its readings; of several, all their names
	Spots    int    // of which there is a value
	Baseline bool

	Level  Value // the mean over its spots, in Quantity.LevelUnit
	Change Value // since the baseline, in Quantity.Unit; 0 without error at the baseline; NaN: none is stated
	Flags  []string
}

// Value is a value with its errors.
type Value struct {
	Value float64 // NaN: there is none
	Errors
}

// Errors is what the error of a value is made of.
type Errors struct {
	Known  bool    // else nothing is known of them
	Shared []Share // in the order of their effects, each once
	Own    float64 // variance of what is of this value alone
}

// Share is what a value is off, with its sign, when an effect is off by one of its standard uncertainties.
type Share struct {
	Effect int // in Data.Effects
	By     float64
}

// Variance returns the variance of the value by its errors; NaN where they are not known.
func (e *Errors) Variance() float64 {
	if !e.Known {
		return math.NaN()
	}
	v := e.Own
	for _, s := range e.Shared {
		v += s.By * s.By
	}
	return v
}

// U returns the standard uncertainty of the value; NaN where its errors are not known.
func (e *Errors) U() float64 { return math.Sqrt(e.Variance()) }

// Covariance returns the covariance of two different levels, or of two different changes, by the effects that they share.
func Covariance(a, b *Errors) (sum float64) {
	for i, j := 0, 0; i < len(a.Shared) && j < len(b.Shared); {
		switch s, t := a.Shared[i], b.Shared[j]; {
		case s.Effect < t.Effect:
			i++
		case s.Effect > t.Effect:
			j++
		default:
			sum += s.By * t.By
			i, j = i+1, j+1
		}
	}
	return sum
}
