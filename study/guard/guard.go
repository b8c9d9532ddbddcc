// Package guard decides which readings look wrong. It compares a reading with what glass and films can
// reflect, with the other readings of its session and with the history of its coupon. It also keeps the
// control charts of check standards.
//
// Start with [New] for the roster of a study, and with [TraitsOf] for the traits that readings are compared
// by. A guard returns concerns and holds; the caller stores them.
//
// Conventions: levels are fractions, angles degrees from the normal, wavelengths nm. What is found does not
// depend on the order of the readings.
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

// The words of the guards. The exported ones are named by other packages.
const (
	levelWord     = "level"
	scaleWord     = "scale"
	angleWord     = "angle"
	joinWord      = "join"
	saturatedWord = "saturated"
	noisyWord     = "noisy"
	Swapped       = "swapped"
	expiredWord   = "expired"
	Twin          = "twin"
	Exchanged     = "exchanged"
)

// Kinds explains the words of the guards, in the order of their work.
//
// All limits are common practice without a source.
func Kinds() []study.Term {
	return []study.Term{levelKind(), scaleKind(), angleKind(), joinKind(), saturatedKind(), noisyKind(), swappedKind(),
		exchangedKind(), expiredKind(), twinKind()}
}

// expiredKind explains the guard expired.
func expiredKind() study.Term {
	return study.Term{Word: expiredWord,
		Meaning: "the reference of the session had no valid certificate on the day of the session",
		Limit:   "the certificate expired before the day of the session, or was issued after it",
		Remedy:  "enrol the certificate that was valid, or measure again against a certified reference"}
}

// twinKind explains the guard twin.
func twinKind() study.Term {
	return study.Term{Word: Twin,
		Meaning: "its numbers are those of another coupon, or of another angle of the same spot; both readings are held",
		Limit:   "equal to the last digit",
		Remedy:  "compare the two exports, release the right reading and measure the other again"}
}

// WhyRemoved returns why a guard that older studies name no longer exists; empty if it exists.
func WhyRemoved(word string) string {
	if word == "humidity" {
		return "the guard of humidity is gone: 20 percentage points let pores fill, so that every result of a " +
			"session that is damp, or damper or drier than pull 0, now carries the flag " + study.FlagHumid
	}
	return ""
}

// TwinConcern returns the concern about a reading whose numbers equal those of the reading at other, which
// came from export.
func TwinConcern(other study.Place, export string) study.Concern {
	return study.Concern{Guard: Twin, Reason: fmt.Sprintf("its numbers are to the last digit those of coupon %s, "+
		"pull %d, spot %s, %g degrees, %s, from %s: one of the two was exported or placed under the wrong name, angle or "+
		"pull, whichever differs; compare the exports, release the right one",
		other.Coupon, other.Pull, other.Spot, other.AngleDeg, other.Polarisation, export)}
}

// Guard judges the readings of a study by what its roster registers. It is safe for concurrent use, and keeps
// the levels of glass and films that it has computed.
type Guard struct {
	coupons  map[string]*guarded
	sessions map[string]*sessionRecord
	levels   sync.Map // levelKey: *levels
}

// guarded is a coupon with its glass. glass is nil where its readings cannot be evaluated, as with a laminated
// far face of which no return spectrum is enrolled.
type guarded struct {
	study.Coupon
	glass  *film.Glass
	stated string // the key of what the roster states of it
}

// dark reports whether the coupon is kept in the dark, where nothing changes.
func (c *guarded) dark() bool { return c.Role == study.Control || c.Role == study.Blank }

// sessionRecord holds what the roster registers of one session.
type sessionRecord struct {
	joinsNM []float64
	uJoin   float64 // a fraction
	expired string  // why its reference has no valid certificate, empty if it has
}

// New returns a guard for the roster of a study.
func New(roster *study.Roster) *Guard {
	g := &Guard{coupons: map[string]*guarded{}, sessions: map[string]*sessionRecord{}}
	for _, c := range roster.Coupons {
		entry := &guarded{Coupon: c, stated: evaluate.KeyOfCoupon(&c, roster)}
		if setup, err := evaluate.CouponSetup(&c, optics.Bruggeman.String(), roster); err == nil {
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
		g.sessions[s.Session] = &sessionRecord{joinsNM: in.JoinsNM, uJoin: in.UJoin, expired: expired(roster, s)}
	}
	return g
}

// expired returns why the reference of a session had no valid certificate on its day; empty if it had.
func expired(roster *study.Roster, s *study.Session) string {
	if s.Reference == "" {
		return ""
	}
	switch c := roster.ReferenceOn(s.Reference, s.Date); {
	case c == nil:
		return fmt.Sprintf("no certificate of reference %s had been issued by %s, the day of session %s", s.Reference,
			s.Date, s.Session)
	case study.Expired(c.Expires, s.Date):
		return fmt.Sprintf("certificate %s of reference %s had expired on %s, before session %s of %s", c.Certificate,
			s.Reference, c.Expires, s.Session, s.Date)
	}
	return ""
}

// JudgeReading returns the concerns about one reading without comparison with others, in the order of [Kinds]:
// level or scale, join, saturated, expired. The traits of the reading must be filled. The level is judged for
// specular readings only.
func (g *Guard) JudgeReading(r *study.Reading) []study.Concern {
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
		s = &sessionRecord{}
	}
	for _, nm := range s.joinsNM {
		add(joinWord, joinReason(r, nm, s.uJoin))
	}
	add(saturatedWord, saturatedReason(r))
	add(expiredWord, s.expired)
	return found
}

// JudgeAgain returns the concerns about a reading from its traits, without its numbers. It judges level or scale
// and expired again. Of the concerns in held it keeps those that need the numbers or other readings of the study:
// join, saturated, twin.
func (g *Guard) JudgeAgain(s *Reading, held []study.Concern) []study.Concern {
	found := g.JudgeReading(&study.Reading{Place: s.Place, Session: s.Session, Geometry: s.Geometry, Traits: s.Traits})
	for _, c := range held {
		if c.Guard == joinWord || c.Guard == saturatedWord || c.Guard == Twin {
			found = append(found, c)
		}
	}
	return found
}

// HasJoins reports whether an instrument with detector joins is registered for the session.
func (g *Guard) HasJoins(session string) bool {
	s := g.sessions[session]
	return s != nil && len(s.joinsNM) > 0
}

// percent writes a fraction in percent, and points writes it in percentage points, with three significant
// digits.
func percent(v float64) string { return threeDigits(100*v) + " %" }
func points(v float64) string  { return threeDigits(100*v) + " pp" }

// threeDigits writes v with three significant digits.
func threeDigits(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil { // only if out of range, which no level is
		rounded = v
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// percentRange writes two levels, fractions, as a range in percent, or as one number if both have the same digits.
func percentRange(lo, hi float64) string {
	if percent(lo) == percent(hi) {
		return percent(lo)
	}
	return threeDigits(100*lo) + " to " + percent(hi)
}
