package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/store"
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

// CheckCodes refuses a filter that asks for a coupon, a coating or a session that the study does
// not know at a moment. Readings may name sessions that are not enrolled: these are known too.
func (d *Desk) CheckCodes(ctx context.Context, of study.Filter, asOf Moment) error {
	if len(of.Coupons)+len(of.Coatings)+len(of.Sessions) == 0 {
		return nil
	}
	return d.view(ctx, asOf.Line, func(v *store.View) error {
		if _, err := coatingsOf(v, &of); err != nil {
			return err
		}
		return refuseUnknownSessions(v, of.Sessions)
	})
}

// refuseUnknownSessions refuses a session that is not enrolled and that no reading names.
func refuseUnknownSessions(v *store.View, sessions []string) error {
	if len(sessions) == 0 {
		return nil
	}
	roster, err := v.Roster()
	if err != nil {
		return err
	}
	var known []string
	for i := range roster.Sessions {
		known = append(known, roster.Sessions[i].Session)
	}
	missing := slices.DeleteFunc(slices.Clone(sessions), func(s string) bool { return slices.Contains(known, s) })
	if len(missing) == 0 {
		return nil
	}
	err = v.EachHeader(func(m store.ReadingHeader) error {
		if m.Session != "" {
			known = append(known, m.Session)
		}
		return nil
	})
	if err != nil {
		return err
	}
	slices.Sort(known)
	known = slices.Compact(known)
	for _, s := range missing {
		if !slices.Contains(known, s) {
			return noSession(s, known)
		}
	}
	return nil
}

// noSession refuses a session that is not known.
func noSession(session string, known []string) error {
	return &study.Refusal{
		Fault: fmt.Sprintf("there is no session %q", session),
		Try:   tryCode(session, known, "enrol it first: wane enrol sessions.csv"),
	}
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
