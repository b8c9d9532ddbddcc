// Package acceptance judges coupons against a limit that was fixed beforehand. It assumes no distribution of the losses, which
// are skewed and bounded: normal bounds fail to the harm of the buyer.
//
// A coupon passes where its loss is below the limit by more than Guard standard uncertainties, fails where it is above it by
// as much, and straddles in between ([Grade]). All coupons are accepted where all pass but at most the failures that the rule
// allows, and rejected where more fail; else nothing is decided ([Decide]).
//
// What an acceptance says of the product, if the coupons are a random draw of it: more than the share q conforms, with the
// confidence of [Confidence]. A coupon that does not conform passes by chance in 5 % of the cases at most, so that one of a
// product of which the share q conforms passes with the chance q + 0.05 (1-q) at most. [Coupons] is how many a rule needs.
// [Characteristic] is the chance that a rule accepts a product: its operating characteristic.
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

// Confidence returns the confidence with which more than the share conforms of what n coupons were drawn from, when all of
// them pass but at most failures. With errors that the coupons share, such as that of one session, no coupon's chance
// to pass is independent of that of another; then only the draw is, and a product of which no coupon of the draw conforms
// passes as a whole with 5 %: shared gives that worst case.
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

// Coupons returns the least number of coupons with independent errors by which a rule gives a confidence; 0 if no number to
// most does.
func Coupons(failures int, share, confidence float64, most int) int {
	for n := failures + 1; n <= most; n++ {
		if Confidence(n, failures, share, false) >= confidence {
			return n
		}
	}
	return 0
}

// Characteristic returns the chance that a rule of n coupons, of which failures may fail, accepts a product whose coupons each
// pass with this chance.
func Characteristic(n, failures int, pass float64) float64 { return atLeast(n, n-failures, pass) }

// atLeast returns the chance of at least k of n, each with chance p.
func atLeast(n, k int, p float64) float64 {
	if k <= 0 {
		return 1
	}
	return distuv.Binomial{N: float64(n), P: p}.Survival(float64(k) - 1)
}

// PassChance returns the chance that a coupon of a true loss passes, when its loss is measured with the standard uncertainty u: by
// it the risks of both sides follow (JCGM 106:2012, clause 9, from memory).
func PassChance(loss, u, limit float64) float64 {
	if u == 0 {
		if loss < limit {
			return 1
		}
		return 0
	}
	return distuv.UnitNormal.CDF((limit-loss)/u - Guard)
}

// DecidingU returns the standard uncertainty below which a loss that straddles would pass or fail; 0 if it is at the limit.
func DecidingU(loss, limit float64) float64 { return math.Abs(limit-loss) / Guard }
