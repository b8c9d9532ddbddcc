// Package population fits the population of the coupons of a study: how fast the coatings, suppliers or lots age, and how
// much their coupons, lots and sessions differ.
//
//	y = μ_c + a_i + (β_g + L_l + b_i) t + session + A δ + e
//
// y is the level of a coupon at a pull, the mean over its spots; that at pull 0 is a response with an error like the others.
// μ_c is the level of a coating at dose 0, β_g the rate of a group, t the dose. a_i and b_i say what coupon i is off in level
// and in rate, L_l what its lot is off in rate; session is what all values of a session are off. All of them are random. The
// variances of a_i and b_i are those of the coating: coatings differ in spread by ten and more, and with one variance for all
// a comparison calls too many of them different. A δ are the errors that values share, by the law of the study, and e is
// what a value has of its own: the variance that the law knows, and beyond that one that is estimated.
//
// Controls have dose 0 and a mean level for each coating: they say what sessions are off. They take part where the study
// corrects its changes, by whichever route.
//
// [Fit] estimates all by restricted maximum likelihood ([mixed.Model]), with degrees of freedom after Satterthwaite. What
// the data cannot tell has a [Reason] in the place of an interval. The unit is the lot where a group has three lots or more,
// of which one has two coupons, else the coupon; the interval then speaks of these lots only.
package population

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/mixed"
	"wane/study/series"
)

// By says what coupons are grouped by.
type By string

// What coupons are grouped by. Where the data are of several exposures, each group is of one of them.
const (
	ByCoating  By = "coating"
	BySupplier By = "supplier"
	ByLot      By = "lot"
)

// Options says how a population is fitted.
type Options struct {
	By   By   // empty: coating
	Days bool // the time is in days since the baseline, in place of the dose
}

// Population is the population of the coupons of a study, fitted.
type Population struct {
	Quantity   series.Quantity
	Groups     []Group // in the order of their names
	Components []Component
	Coupons    []Coupon // exposed ones, in the order of the data
	Controls   int      // coupons that take part
	Skipped    int      // values of exposed coupons that are not known, or at a dose that is not known

	*design
	fit *mixed.Fit // nil: there is no group that could be fitted
}

// Group is the coupons of one coating, supplier or lot in one exposure.
type Group struct {
	Name                             string // such as its coating; of several exposures: coating in exposure
	Supplier, Coating, Lot, Exposure string // empty where it has several
	DoseUnit                         string // of the time
	RateUnit                         string // such as pp/days

	Coupons  int // of which there is a value
	Lots     int
	Pulls    int
	Sessions int
	Values   int
	Ended    int // coupons whose history ended

	Unit    Unit // which the interval of its rate is over
	Level   Estimate
	Rate    Estimate
	Remarks []Reason // what else must be said with its rate
}

// Unit is what counts as one of the things that an interval is over.
type Unit string

// The units.
const (
	UnitCoupon Unit = "coupon"
	UnitLot    Unit = "lot"
)

// Estimate is an estimate with its uncertainty. Where Why is not empty the data cannot tell: SE and DoF are NaN, and Value
// is NaN too where there is none.
type Estimate struct {
	Value, SE float64
	DoF       float64 // of t; +Inf: no variance was estimated
	Why       Reason
}

// Interval returns the interval of a level of confidence such as 0.95, NaN where there is none.
func (e *Estimate) Interval(level float64) (lower, upper float64) {
	u := e.SE * quantile((1+level)/2, e.DoF)
	return e.Value - u, e.Value + u
}

// P returns the two-sided chance of an estimate as far from 0, were it 0; NaN where there is no interval.
func (e *Estimate) P() float64 {
	switch t := math.Abs(e.Value / e.SE); {
	case math.IsNaN(t):
		return math.NaN()
	case math.IsInf(e.DoF, 1):
		return 2 * distuv.UnitNormal.Survival(t)
	default:
		return 2 * distuv.StudentsT{Sigma: 1, Nu: e.DoF}.Survival(t)
	}
}

func quantile(p, dof float64) float64 {
	switch {
	case math.IsNaN(dof):
		return math.NaN()
	case math.IsInf(dof, 1):
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}

// Component is a variance of the model.
type Component struct {
	Name     ComponentName
	Of       string // its coating, or its group; empty: all have it in common
	Exposure string // where the data are of several
	N        int    // of coupons, lots, sessions or values that it is estimated from
	Variance float64
	Unit     string // of its root, the standard deviation
	Known    bool   // by the law of the study, not estimated: the mean over the values
}

// ComponentName says what a variance is between.
type ComponentName string

// The variances.
const (
	CouponLevels ComponentName = "coupon-level" // a_i, of coupons of one coating at dose 0
	CouponRates  ComponentName = "coupon-rate"  // b_i
	LotRates     ComponentName = "lot-rate"     // L_l
	Sessions     ComponentName = "session"
	Residual     ComponentName = "residual" // of values, beyond what is known
	OwnErrors    ComponentName = "own"      // of values, what is known of their own errors
	SharedErrors ComponentName = "shared"   // of values, what is known of the errors that they share with others
)

// Coupon is an exposed coupon with what is predicted of it.
type Coupon struct {
	Coupon string
	Group  int     // in Groups; -1: it has no value
	Rate   float64 // β + L + b, shrunk towards that of its group; NaN: its group has none
	Level  float64 // μ + a, at dose 0
}

// Contrasts are several sums of rates, with what their errors have in common.
type Contrasts struct {
	Estimates []Estimate
	// Told are those that have an interval, as positions in Estimates, and Correlation is that of their errors; nil: none.
	Told        []int
	Correlation *mat.SymDense
}
