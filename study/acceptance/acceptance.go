// Package acceptance judges coupons against a limit that was fixed beforehand. It assumes no distribution of the
// losses, which are skewed and bounded: normal bounds fail to the harm of the buyer.
//
// A coupon passes where its loss is below the limit by more than Guard standard uncertainties, fails where it is above
// it by as much, and straddles in between ([Grade]). All coupons are accepted where all pass but at most the failures
// that the rule allows, and rejected where more fail; else nothing is decided ([Decide]).
//
// What an acceptance says of the product, if the coupons are a random draw of it: more than the share q conforms, with
// the confidence of [Confidence]. A coupon that does not conform passes by chance in 5 % of the cases at most, so that
// one of a product of which the share q conforms passes with the chance q + 0.05 (1-q) at most. [Coupons] is how many a
// rule needs. [Characteristic] is the chance that a rule accepts a product: its operating characteristic.
package acceptance

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Guard is the number of standard uncertainties between the limit and a loss that passes or fails: the one-sided 95 %
// quantile of the normal distribution. Guard bands are those of JCGM 106:2012, clause 8.3 (from memory).
const Guard = 1.6448536269514722

// byChance is the chance that a loss at the limit passes.
const byChance = 0.05

// Grade is how one coupon stands against the limit.
type Grade string

// The grades.
const (
	Pass     Grade = "pass"
	Straddle Grade = "straddle"
	Fail     Grade = "fail"
)

// GradeOf returns the grade of a loss with its standard uncertainty u, against a limit; all in one unit.
func GradeOf(loss, u, limit float64) Grade {
	switch {
	case loss+Guard*u < limit:
		return Pass
	case loss-Guard*u > limit:
		return Fail
	}
	return Straddle
}

// Verdict is what the coupons say together.
type Verdict string

// The verdicts.
const (
	Accept    Verdict = "accept"
	Reject    Verdict = "reject"
	Undecided Verdict = "undecided"
)

// Decide returns the verdict on coupons of which failures may fail, and on those that are lost and count as failures.
func Decide(grades []Grade, lost, failures int) Verdict {
	passed, failed := 0, lost
	for _, g := range grades {
		switch g {
		case Pass:
			passed++
		case Fail:
			failed++
		}
	}
	switch {
	case failed > failures:
		return Reject
	case passed >= len(grades)+lost-failures:
		return Accept
	}
	return Undecided
}

// Confidence returns the confidence with which more than the share conforms of what n coupons were drawn from, when all
// of them pass but at most failures. With errors that the coupons share, such as that of one session, no coupon's
// chance to pass is independent of that of another; then only the draw is, and a product of which no coupon of the draw
// conforms passes as a whole with 5 %: shared gives that worst case.
//
//	independent: 1 - P[at least n - failures of n pass, each with q + 0.05 (1-q)]
//	shared:      1 - (c + 0.05 (1-c)),  c = P[at least n - failures of n conform, each with q]
func Confidence(n, failures int, share float64, shared bool) float64 {
	if shared {
		c := atLeast(n, n-failures, share)
		return 1 - (c + byChance*(1-c))
	}
	return 1 - atLeast(n, n-failures, share+byChance*(1-share))
}

// Coupons returns the least number of coupons with independent errors by which a rule gives a confidence; 0 if no
// number to most does.
func Coupons(failures int, share, confidence float64, most int) int {
	for n := failures + 1; n <= most; n++ {
		if Confidence(n, failures, share, false) >= confidence {
			return n
		}
	}
	return 0
}

// ConformityChance returns the chance that the true loss is below the limit, by a reading with the standard uncertainty
// u alone. Source: JCGM 106:2012, clause 7.4 (from memory), for a normal distribution.
func ConformityChance(loss, u, limit float64) float64 {
	return chanceBelow(limit-loss, u)
}

// CurvePoint is a point of an operating characteristic.
type CurvePoint struct {
	Conforming float64 // share of the product
	Accepted   float64 // chance that the rule accepts it at most: all others lie at the limit, with independent errors
	Certain    float64 // the same if losses were read without error
}

// Curve returns the operating characteristic of the rule at shares of the product, for independent errors.
func (r *Rule) Curve(shares []float64) []CurvePoint {
	curve := make([]CurvePoint, len(shares))
	for i, q := range shares {
		curve[i] = CurvePoint{q, Characteristic(r.Coupons, r.Failures, q+byChance*(1-q)),
			Characteristic(r.Coupons, r.Failures, q)}
	}
	return curve
}

// Least returns the confidence that the rule gives with as many coupons as it asks for, for independent errors and with
// all its looks, and how many coupons would give the one that it asks for; 0: more than a thousand. NaN and 0 where the
// coupons are no random draw.
func (r *Rule) Least() (confidence float64, coupons int) {
	if !r.Drawn() {
		return math.NaN(), 0
	}
	each := 1 - (1-r.Confidence)/float64(r.Looks)
	return looked(Confidence(r.Coupons, r.Failures, r.Share, false), r.Looks), Coupons(r.Failures, r.Share, each,
		mostCoupons)
}

// Characteristic returns the chance that a rule of n coupons, of which failures may fail, accepts a product whose
// coupons each pass with this chance.
func Characteristic(n, failures int, pass float64) float64 { return atLeast(n, n-failures, pass) }

// atLeast returns the chance of at least k of n, each with chance p.
func atLeast(n, k int, p float64) float64 {
	if k <= 0 {
		return 1
	}
	return distuv.Binomial{N: float64(n), P: p}.Survival(float64(k) - 1)
}

// PassChance returns the chance that a coupon of a true loss passes, when its loss is measured with the standard
// uncertainty u: by it the risks of both sides follow (JCGM 106:2012, clause 9, from memory).
func PassChance(loss, u, limit float64) float64 {
	if u == 0 {
		if loss < limit {
			return 1
		}
		return 0
	}
	return distuv.UnitNormal.CDF((limit-loss)/u - Guard)
}

// DecidingU returns the standard uncertainty below which a loss that straddles would pass or fail; 0 if it is at the
// limit.
func DecidingU(loss, limit float64) float64 { return math.Abs(limit-loss) / Guard }
