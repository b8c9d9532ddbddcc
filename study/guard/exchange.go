package guard

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
)

// Limits of the guard of exchanged coatings. Common practice, no source; films_test.go has the rates of
// simulated studies.
const (
	exchangeUnits   = 3     // least number of spots of a coating in a session
	exchangeCoupons = 2     // least number of coupons of a coating in a session
	exchangeApart   = 4.0   // least distance between the films of two coatings, in standard deviations
	exchangeNear    = 0.4   // largest difference from an exchange, as a share of that distance
	exchangeWay     = 0.25  // least share of the way to the other film that each coating went
	exchangeNM      = 0.3   // least standard deviation of the optical thickness, nm
	exchangeIndex   = 0.001 // least standard deviation of the film index
)

// exchangedKind explains the guard exchanged.
func exchangedKind() study.Term {
	limits := []string{
		fmt.Sprintf("the films of two coatings, with %d spots and %d coupons or more of each in one session, lie %g "+
			"standard "+
			"deviations or more apart in optical thickness and film index", exchangeUnits, exchangeCoupons, exchangeApart),
		fmt.Sprintf("since their last pulls each went %g %% or more of the way to where the other's were, and both together "+
			"as far as an exchange, within %g %%", 100*exchangeWay, 100*exchangeNear),
		"also where suppliers have a glass of their own of much the same index",
		"not found: an exchange at pull 0, of films that are alike, of fewer than half of the spots, of films that have " +
			"aged " +
			"by most of what lies between them, or between panes that read differently; films that age each towards the other " +
			"look the same",
	}
	return study.Term{Word: Exchanged,
		Meaning: "found by wane fit: all coupons of two coatings may have been exchanged",
		Limit:   strings.Join(limits, "; "),
		Remedy:  "compare the labels and measure again; set wrong readings aside with wane review --aside"}
}

// exchange is how the films of two coatings, A and B, changed since their last pulls, in optical thickness and
// film index.
type exchange struct {
	way          [2]float64 // from the films of A at their last pull to those of B
	wentA, wentB [2]float64 // median changes since then
	deviation    [2]float64 // standard deviations of one spot
}

// exchangeOf compares the spots of two coatings.
func exchangeOf(a, b []*fittedFilm) (e exchange) {
	for k := range e.way {
		last := func(s *fittedFilm) float64 { return s.last.film[k] }
		went := func(s *fittedFilm) float64 { return s.went()[k] }
		jointU := func(s *fittedFilm) float64 { return math.Hypot(s.u[k], s.last.u[k]) }
		lastA, spreadA := medianAndSpread(a, last)
		lastB, spreadB := medianAndSpread(b, last)
		u, _ := medianAndSpread(slices.Concat(a, b), jointU)
		e.way[k] = lastB - lastA
		e.deviation[k] = max(math.Sqrt(u*u+(spreadA*spreadA+spreadB*spreadB)/2),
			[]float64{exchangeNM, exchangeIndex}[k])
		e.wentA[k], _ = medianAndSpread(a, went)
		e.wentB[k], _ = medianAndSpread(b, went)
	}
	return e
}

// is reports whether the coupons of both coatings may have been exchanged.
func (e *exchange) is() bool {
	var off [2]float64 // difference of half of both changes from the way
	for k := range off {
		off[k] = (e.wentA[k]-e.wentB[k])/2 - e.way[k]
	}
	apart := math.Sqrt(e.dot(e.way, e.way))
	return apart >= exchangeApart && math.Sqrt(e.dot(off, off)) <= exchangeNear*apart &&
		min(e.along(e.wentA), -e.along(e.wentB)) >= exchangeWay
}

// dot returns the scalar product of two vectors in units of the standard deviations.
func (e *exchange) dot(v, w [2]float64) float64 {
	return v[0]*w[0]/(e.deviation[0]*e.deviation[0]) + v[1]*w[1]/(e.deviation[1]*e.deviation[1])
}

// along returns the share of the way from A to B that a change has gone.
func (e *exchange) along(change [2]float64) float64 {
	return e.dot(change, e.way) / e.dot(e.way, e.way)
}

// found returns concerns about the spots of a coating that went towards the films of the other: from A to B with
// sign 1, from B to A with -1. Spots that a person has judged are not among them.
func (e *exchange) found(of []*fittedFilm, sign float64, to string) (found []UnitConcern) {
	for _, s := range of {
		share := sign * e.along(s.went())
		if share < exchangeWay || s.judged {
			continue
		}
		s.exchanged = true
		reason := fmt.Sprintf("the film of %s at pull %d looks like those of %s; perhaps the coupons were exchanged: "+
			"compare the labels and measure again. Optical thickness %.1f nm, film index %.4f; at pull %d they were "+
			"%.1f nm and %.4f. That is %.0f %% of the way to the other films",
			s.Coupon, s.Pull, to, s.film[0], s.film[1], s.last.Pull, s.last.film[0], s.last.film[1], 100*share)
		found = append(found, UnitConcern{s.Unit, study.Concern{Guard: Exchanged, Reason: reason}})
	}
	return found
}

// went returns the change of the film of a spot since its last pull.
func (s *fittedFilm) went() [2]float64 {
	return [2]float64{s.film[0] - s.last.film[0], s.film[1] - s.last.film[1]}
}

// medianAndSpread returns the median of the values of over the spots, and 1.4826 times their median absolute
// deviation from it.
func medianAndSpread(spots []*fittedFilm, of func(*fittedFilm) float64) (mid, spread float64) {
	values := make([]float64, len(spots))
	for i, s := range spots {
		values[i] = of(s)
	}
	mid = median(values)
	for i, v := range values {
		values[i] = math.Abs(v - mid)
	}
	return mid, 1.4826 * median(values)
}
