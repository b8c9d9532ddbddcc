// Package guard says whether a reading may be trusted: it compares what was read with what
// glass and films can reflect, with the other readings of the session and with the history of
// the coupon, and it keeps the control charts of check standards.
//
// Start with [NewGuard] for the roster of a study, and with [TraitsOf] for the traits that
// readings are compared by. Nothing here decides what becomes of a reading: guards return
// concerns and holds, and who calls them keeps these.
package guard

import (
	"fmt"
	"strconv"
	"sync"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// The words of guards. Those with capitals look beyond the session.
const (
	guardLevel     = "level"
	guardScale     = "scale"
	guardAngle     = "angle"
	guardJoin      = "join"
	guardSaturated = "saturated"
	guardNoisy     = "noisy"
	GuardSwapped   = "swapped"
	guardExpired   = "expired"
	GuardTwin      = "twin"
	GuardExchanged = "exchanged"
)

// GuardWord explains the word of a guard.
type GuardWord struct {
	Word    string
	Meaning string // what is suspicious in a reading that it holds
	Limit   string // from where on
}

// GuardWords returns the guards in the order of their work.
func GuardWords() []GuardWord {
	known := film.DefaultSession()
	return []GuardWord{
		{guardLevel, "no bare glass, or no film on it, reflects so much or so little at this angle", fmt.Sprintf("in a quarter of its bands of %d nm or more: uncoated glass more than %g %% and %g pp off the bare glass of the roster, %g %% once it was exposed and neither rinsed nor cleaned; coated glass more than %g %% + %g pp outside of what films of index %g to %g, up to %g nm thick, can do; at least %g standard deviations of scale, angle factor and angle, of %g, %g and %g degrees; and all of a coated spot of %d readings or more if one is too bright and one film explains all, divided by one factor of %g to %g",
			study.BandNM, 100*blankMargin.part, 100*blankMargin.least, 100*soiledMargin.part, 100*coatedMargin.part, 100*coatedMargin.plus, filmIndexLo, filmIndexHi, filmThickNM, turnedSigmas, known.UScale, known.UFactor, known.UAngle, brightReadings, brightLeast, brightMost)},
		{guardScale, "the label and the numbers are at odds: percent taken for fractions, or fractions for percent", "as level, and within its limits once the numbers are multiplied or divided by 100"},
		{guardAngle, "the level does not go with the angle that is stated", fmt.Sprintf("a dark blank more than %g %% and %g pp off the glass times what the session's blanks read at two other angles or more; coated glass as much outside of what a film can do, times what the session's blanks read, if another angle fits; both at least %g standard deviations of the blanks' scale, angle factor and angle; an unpolarised level that falls from any angle to one of %g degrees or more by that much more than under any film",
			100*angleMargin.part, 100*angleMargin.least, turnedSigmas, steepDeg)},
		{guardJoin, "a step where another detector of the session's instrument takes over", fmt.Sprintf("more than %d u_join by more than %d standard deviations of the step", joinSigmas, sureStep)},
		{guardSaturated, "points are equal to the curve's maximum: the detector was at its limit", fmt.Sprintf("%d points side by side or more that neither noise (chance below %g) nor rounding explains; or %d anywhere or more that noise of %g steps of the last digit or more does not (same chance)", leastRun, runChance, leastTop, topNoise)},
		{guardNoisy, "the noise is far above that of its session", fmt.Sprintf("more than %d times the median of at least %d others of the session at the same angle, polarisation and quantity, and more than %g pp", noisyTimes, noisyOthers, 100*noisyFloor)},
		{GuardSwapped, "coupons have exchanged their names, or one was read under another's", swappedLimit()},
		{GuardExchanged, "after fit: the coupons of two coatings may all have been exchanged", exchangedLimit()},
		{guardExpired, "nothing certified the session's reference on its day", "the certificate had expired, or none was issued by then"},
		{GuardTwin, "its numbers are those of another coupon, or of another angle of its spot", "equal to the last digit"},
	}
}

// swappedLimit says from where on coupons are taken for swapped.
func swappedLimit() string {
	return fmt.Sprintf("two coupons or more, in a ring, whose readings fit one another's last pull at least %d times "+
		"better than their own (of a pair, one at least %d times), from which each is %d times as far as the median of "+
		"its like and at least %g pp rms, unless all are coated and went towards bare glass (cosine of %g or more); or a "+
		"coated coupon as far off that reads what another of the same pane does in the session, or one that was not "+
		"read did at its last pull, within its noise and %g %% of the level, and is %d times as far from each pull of "+
		"its own, from none of which it went towards bare glass (cosine of %g or more)",
		swapTimes, swapBetter, swapOutlier, 100*swapFloor, swapToBare, 100*againPart, swapTimes, wayToBare)
}

// exchangedLimit says what the third look tells, and what it cannot.
func exchangedLimit() string {
	return fmt.Sprintf("films of two coatings, of %d spots and %d coupons or more of either in one session, whose median "+
		"change of optical thickness and film index since their last pull differs as an exchange would, within %g %% "+
		"of the way between their films, that are %g standard deviations apart or more, and each went %g %% of it or "+
		"more, also where suppliers have a glass of their own of much the same index; it cannot tell an exchange at "+
		"pull 0, of films that are alike, of fewer than half of the spots, of films that have aged by most of what lies "+
		"between them, or of coupons on panes that read differently, as fused silica beside soda-lime or bare panes "+
		"of another thickness: most of those fits are unclear; films that age each towards the other look alike",
		exchangeUnits, exchangeCoupons, 100*exchangeNear, exchangeApart, 100*exchangeWay)
}

// GoneGuard says why a guard that studies may know holds nothing any more; empty if it is
// not gone.
func GoneGuard(word string) string {
	if word == "humidity" {
		return "the guard of humidity is gone: 20 percentage points let pores fill, so that every result of a " +
			"session that is damp, or damper or drier than pull 0, now carries the flag " + study.FlagHumid
	}
	return ""
}

// TwinConcern is the concern about a curve whose numbers are those of another
// reading, which came from an export.
func TwinConcern(other study.Place, export string) study.Concern {
	return study.Concern{Guard: GuardTwin, Reason: fmt.Sprintf("its numbers are to the last digit those of coupon %s, "+
		"pull %d, spot %s, %g degrees, %s, from %s: one of the two was exported or placed under the wrong name, angle or "+
		"pull, whichever differs; compare the exports, release the right one",
		other.Coupon, other.Pull, other.Spot, other.AngleDeg, other.Polarisation, export)}
}

// Guard knows what a study has registered, and by it finds readings suspicious. It is
// safe for concurrent use and keeps what glass and films reflect, once computed.
type Guard struct {
	coupons  map[string]*guarded
	sessions map[string]*sitting
	levels   sync.Map // levelKey: *levels
}

// guarded is a coupon; glass is nil where its readings cannot be evaluated, as with a
// laminated far face.
type guarded struct {
	study.Coupon
	glass *film.Glass
}

// dark reports whether the coupon is kept in the dark, where nothing changes.
func (c *guarded) dark() bool { return c.Role == study.Control || c.Role == study.Blank }

// sitting is what is registered of a session.
type sitting struct {
	joinsNM []float64
	uJoin   float64
	expired string // why its reference is certified by nothing, empty if it is
}

// NewGuard begins with the roster of a study.
func NewGuard(roster *study.Roster) *Guard {
	g := &Guard{coupons: map[string]*guarded{}, sessions: map[string]*sitting{}}
	for _, c := range roster.Coupons {
		entry := &guarded{Coupon: c}
		if setup, err := evaluate.CouponSetup(&c, optics.Bruggeman.String(), roster.Glasses); err == nil {
			entry.glass = &setup.Glass
		}
		g.coupons[c.Coupon] = entry
	}
	instruments := map[string]film.Instrument{}
	for i := range roster.Instruments {
		instruments[roster.Instruments[i].Instrument] = evaluate.InstrumentOf(&roster.Instruments[i])
	}
	for i := range roster.Sessions {
		s := &roster.Sessions[i]
		in := instruments[s.Instrument]
		g.sessions[s.Session] = &sitting{joinsNM: in.JoinsNM, uJoin: in.UJoin, expired: expired(roster, s)}
	}
	return g
}

// expired says why nothing certified the reference of a session on its day.
func expired(roster *study.Roster, s *study.Session) string {
	if s.Reference == "" {
		return ""
	}
	switch c := roster.ReferenceOn(s.Reference, s.Date); {
	case c == nil:
		return fmt.Sprintf("no certificate of reference %s had been issued by %s, the day of session %s", s.Reference, s.Date, s.Session)
	case study.Expired(c.Expires, s.Date):
		return fmt.Sprintf("certificate %s of reference %s had expired on %s, before session %s of %s", c.Certificate, s.Reference, c.Expires, s.Session, s.Date)
	}
	return ""
}

// Reading returns what one reading by itself is suspicious for, in the order of
// [GuardWords]: level or scale, join, saturated, expired. Its traits must have been made.
// The level of a reading that is not specular is not judged.
func (g *Guard) Reading(r *study.Reading) []study.Concern {
	var found []study.Concern
	add := func(guard, reason string) {
		if reason != "" {
			found = append(found, study.Concern{Guard: guard, Reason: reason})
		}
	}
	if study.Specular(r.Geometry) {
		add(g.level(r))
	}
	s := g.sessions[r.Session]
	if s == nil {
		s = &sitting{}
	}
	for _, nm := range s.joinsNM {
		add(guardJoin, joinReason(r, nm, s.uJoin))
	}
	add(guardSaturated, saturatedReason(r))
	add(guardExpired, s.expired)
	return found
}

// Known returns what a reading whose numbers are not at hand is suspicious for by itself:
// level or scale and expired, judged anew, and of what holds it already, what only numbers or
// other readings of the study tell: join, saturated, twin.
func (g *Guard) Known(s *Seen, held []study.Concern) []study.Concern {
	found := g.Reading(&study.Reading{Place: s.Place, Session: s.Session, Geometry: s.Geometry, Traits: s.Traits})
	for _, c := range held {
		if c.Guard == guardJoin || c.Guard == guardSaturated || c.Guard == GuardTwin {
			found = append(found, c)
		}
	}
	return found
}

// HasJoins reports whether the numbers of a session's readings tell more once it is registered.
func (g *Guard) HasJoins(session string) bool {
	s := g.sessions[session]
	return s != nil && len(s.joinsNM) > 0
}

// percent writes a fraction as percent, and points as percentage points, with three
// significant digits.
func percent(v float64) string { return figures(100*v) + " %" }
func points(v float64) string  { return figures(100*v) + " pp" }

func figures(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil { // out of range only, which no level is
		rounded = v
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// limits writes the lowest and the highest of levels, fractions, once if they read alike.
func limits(lo, hi float64) string {
	if percent(lo) == percent(hi) {
		return percent(lo)
	}
	return figures(100*lo) + " to " + percent(hi)
}
