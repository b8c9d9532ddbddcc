package desk

import (
	"fmt"
	"strings"

	"wane/study"
)

// mostListed is how many codes a message lists.
const mostListed = 8

// codesInWords names codes, and counts the rest.
func codesInWords(codes []string) string {
	if n := len(codes); n > mostListed {
		return fmt.Sprintf("%s and %d more", strings.Join(codes[:mostListed], ", "), n-mostListed)
	}
	return strings.Join(codes, ", ")
}

// tryCode says what to try after a code that is not known: the nearest of the known ones, or
// what there is, or with none first.
func tryCode(code string, known []string, first string) string {
	if len(known) == 0 {
		return first
	}
	return study.DidYouMean(code, known, "take one of these: "+codesInWords(known))
}

// notEnrolled refuses a coupon that is not on the roster.
func notEnrolled(roster *study.Roster, coupon string) *study.Refusal {
	var known []string
	for i := range roster.Coupons {
		known = append(known, roster.Coupons[i].Coupon)
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("coupon %q is not enrolled", coupon),
		Try:   tryCode(coupon, known, "enrol it first: wane enrol coupons.csv"),
	}
}
