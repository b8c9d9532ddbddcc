// Package bench says what is read in one sitting at a pull, in which order and under which codes, and what belongs on
// the pages that lie on the bench. It draws no page and keeps nothing.
//
// Start with [Draw]. The order of coupons and light trap is drawn by the seed: a drift of the instrument within the
// session then falls on all coatings alike, and not on the last ones. Check standards are read before and after all
// else, which shows the drift.
package bench

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"wane/protocols"
	"wane/study"
	"wane/study/life"
)

// Wanted is what a person asks of a bench sheet.
type Wanted struct {
	Exposure   string
	Pull       int
	Session    string    // or empty
	Condition  string    // or empty
	AnglesDeg  []float64 // nil: those that were read last
	Spots      []string  // of all coupons; nil: those of each that were read before
	Replicates int       // 0: one
	Blind      bool
	Seed       int64
}

// Before is what was read of the coupons before.
type Before struct {
	Spots     map[string][]string // of each coupon, sorted
	AnglesDeg []float64           // of the last pull that was read, rising
}

// Draw draws a bench sheet: the reference, the check standards, then in an order drawn by the seed all coupons that go
// with the exposure and the light traps, and the check standards again.
func Draw(w Wanted, roster *study.Roster, before Before) (*study.Sheet, error) {
	s := &study.Sheet{Exposure: w.Exposure, Pull: w.Pull, Session: w.Session, Condition: w.Condition,
		AnglesDeg: slices.Clone(w.AnglesDeg), Replicates: max(1, w.Replicates), Seed: w.Seed, Blind: w.Blind}
	if s.AnglesDeg == nil {
		s.AnglesDeg = slices.Clone(before.AnglesDeg)
	}
	slices.Sort(s.AnglesDeg)
	coupons := CouponsAt(roster, w.Exposure, w.Pull)
	if err := checkDrawn(s, w, coupons, before); err != nil {
		return nil, err
	}
	random := rand.New(rand.NewPCG(uint64(w.Seed), 0))
	var middle []study.SheetLine
	for _, c := range coupons {
		middle = append(middle, study.SheetLine{Kind: study.SheetCoupon, Code: c.Coupon, Spots: spotsOf(c.Coupon, w, before)})
	}
	checks, traps := standards(roster)
	middle = append(middle, traps...)
	random.Shuffle(len(middle), func(i, k int) { middle[i], middle[k] = middle[k], middle[i] })
	if w.Blind {
		drawCodes(random, middle, roster)
	}
	s.Lines = slices.Concat([]study.SheetLine{reference(roster, w.Session)}, checks, middle, checks)
	return s, nil
}

// checkDrawn refuses a sheet on which something would be missing.
func checkDrawn(s *study.Sheet, w Wanted, coupons []study.Coupon, before Before) error {
	if len(coupons) == 0 {
		return &study.Refusal{Fault: fmt.Sprintf("no coupon goes with exposure %s at pull %d", w.Exposure, w.Pull),
			Try: "correct the exposure or the pull, or enrol its coupons first: wane enrol coupons.csv"}
	}
	if len(s.AnglesDeg) == 0 {
		return &study.Refusal{Fault: fmt.Sprintf("nothing was read with exposure %s before, so that its angles are not known",
			w.Exposure), Try: "state them, such as --angles 8,30,45,60"}
	}
	for _, c := range coupons {
		if len(spotsOf(c.Coupon, w, before)) == 0 {
			return &study.Refusal{Fault: fmt.Sprintf("nothing was read with exposure %s before, so that its spots are not known",
				w.Exposure), Try: "name them, such as --spots 1,2,3"}
		}
	}
	return nil
}

// spotsOf returns the spots of a coupon that are read: those that are wanted, else its own, else those of all others.
func spotsOf(coupon string, w Wanted, before Before) []string {
	if len(w.Spots) > 0 {
		return w.Spots
	}
	if own := before.Spots[coupon]; len(own) > 0 {
		return own
	}
	var all []string
	for _, spots := range before.Spots {
		all = append(all, spots...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// CouponsWith returns the coupons that are read when those of an exposure are, in the order of their codes: its own,
// and the controls and blanks that accompany it or all.
func CouponsWith(roster *study.Roster, exposure string) (all []study.Coupon) {
	own := false
	for _, c := range roster.Coupons {
		if c.Exposure == exposure || c.Exposure == "" {
			all = append(all, c)
			own = own || c.Exposure == exposure
		}
	}
	if !own {
		return nil
	}
	return all
}

// CouponsAt returns the coupons that are read at a pull of an exposure, in the order of their codes: those that are in
// it by then, and the controls and blanks that accompany it or all. Not among them are coupons that have not joined
// yet, and those whose history has ended.
func CouponsAt(roster *study.Roster, exposure string, pull int) (all []study.Coupon) {
	lives, own := life.New(roster), false
	for _, c := range roster.Coupons {
		l := lives.Of(c.Coupon)
		with := c.Exposure != "" && l.ExposureAt(pull) == exposure
		if own = own || with; (with || c.Exposure == "") && c.BaselinePull <= pull && !l.OverAt(pull) {
			all = append(all, c)
		}
	}
	if !own {
		return nil
	}
	return all
}

// reference is the line of the reference: that of the session where it is registered.
func reference(roster *study.Roster, session string) study.SheetLine {
	line := study.SheetLine{Kind: study.SheetReference}
	for _, s := range roster.Sessions {
		if s.Session == session {
			line.Code = s.Reference
		}
	}
	return line
}

// standards returns lines of the check standards and of the light traps of a study, each once. Where none is
// registered there is a line without a code.
func standards(roster *study.Roster) (checks, traps []study.SheetLine) {
	seen := map[string]bool{}
	for _, c := range roster.Standards {
		if seen[c.Standard] {
			continue
		}
		seen[c.Standard] = true
		if c.Quantity == study.Zero {
			traps = append(traps, study.SheetLine{Kind: study.SheetTrap, Code: c.Standard})
		} else {
			checks = append(checks, study.SheetLine{Kind: study.SheetCheck, Code: c.Standard})
		}
	}
	if len(checks) == 0 {
		checks = []study.SheetLine{{Kind: study.SheetCheck}}
	}
	if len(traps) == 0 {
		traps = []study.SheetLine{{Kind: study.SheetTrap}}
	}
	return checks, traps
}

// blindLetters are those that nobody mistakes for another one in handwriting.
const blindLetters = "34679CDFHJKMNPRTWXY"

// drawCodes gives coupons blind codes, each once, of which none is the code of a coupon.
func drawCodes(random *rand.Rand, lines []study.SheetLine, roster *study.Roster) {
	taken := map[string]bool{}
	for _, c := range roster.Coupons {
		taken[strings.ToUpper(c.Coupon)] = true
	}
	length := 3
	if len(lines) > 1000 {
		length = 5
	}
	for i := range lines {
		if lines[i].Kind != study.SheetCoupon {
			continue
		}
		code := make([]byte, length)
		for text := ""; text == "" || taken[text]; text = string(code) {
			for k := range code {
				code[k] = blindLetters[random.IntN(len(blindLetters))]
			}
		}
		lines[i].Blind = string(code)
		taken[lines[i].Blind] = true
	}
}

// Sheet is a bench sheet with what its page says besides.
type Sheet struct {
	*study.Sheet
	Study    string // the name of its file
	Of       study.Exposure
	At       study.Pull
	Sitting  *study.Session // registered; nil: not yet
	Coupons  map[string]study.Coupon
	Settings map[string][]Setting // of the standards on it

	Exposing, Reading *protocols.Protocol // Exposing is nil if the exposure follows words only

	Drawn, Who string // when, RFC 3339, and by whom
	Notes      []string
}

// Setting is an angle and a polarisation at which a standard is certified, and of what.
type Setting struct {
	AngleDeg     float64
	Polarisation string
	Quantity     string
}

// Label is the label of a coupon.
type Label struct {
	Code   string        // as the label shows it: a blind one, or that of the coupon
	Coupon *study.Coupon // nil on a blind label
	Study  string
}

// Labels are the labels of the coupons of a sheet in its order, of a blind one with the blind codes.
func (s *Sheet) Labels() (all []Label) {
	for _, l := range s.Lines {
		coupon := s.Coupons[l.Code]
		switch {
		case l.Blind != "":
			all = append(all, Label{Code: l.Blind, Study: s.Study})
		case l.Kind == study.SheetCoupon:
			all = append(all, Label{Code: l.Code, Coupon: &coupon, Study: s.Study})
		}
	}
	return all
}

// Rack is a page that hangs beside a coupon.
type Rack struct {
	study.Coupon
	Study     string
	Of        study.Exposure
	Pulls     []study.Pull
	Spots     []string // that were read; none: not known yet
	Turned    []string // orientations in which it was read, in degrees
	Protocol  *protocols.Protocol
	Followed  string // its version, as field-rack@1
	Companion []string
}
