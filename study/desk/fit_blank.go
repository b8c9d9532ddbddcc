package desk

import (
	"crypto/sha256"
	"fmt"
	"sync"

	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// sharesSessions reports whether fits rest on other spots of their session.
func sharesSessions(s study.Settings) bool {
	return s.Correction == study.RouteSession || s.OverBlank
}

// sessionBlanks are the dark blanks that were read in one session.
type sessionBlanks struct {
	units  []study.Unit
	digest [32]byte // of their readings

	loadOnce sync.Once
	blanks   []evaluate.Blank
	err      error
}

// seatBlanks finds the dark blanks of each session where the study evaluates over them.
func (b *fitWorkspace) findBlanks() {
	if !b.desk.Settings().OverBlank {
		return
	}
	b.blanks = map[string]*sessionBlanks{}
	for i := range b.units {
		u := &b.units[i]
		if u.Session == "" || b.coupons[u.Coupon].Role != study.Blank {
			continue
		}
		s := b.blanks[u.Session]
		if s == nil {
			s = &sessionBlanks{}
			b.blanks[u.Session] = s
		}
		if u.Counted == 0 {
			continue
		}
		s.units = append(s.units, u.Unit)
		own := evaluate.Digest(b.coupons[u.Coupon], b.desk.Settings().Mixing, u.Readings, b.roster.Glasses)
		s.digest = sha256.Sum256(append(s.digest[:], own[:]...))
	}
}

// isOverBlank reports whether the readings of a unit are evaluated over the blank.
func (b *fitWorkspace) isOverBlank(coupon string) bool {
	return b.desk.Settings().OverBlank && b.coupons[coupon].Role != study.Blank
}

// blankDigest is the digest of a unit with that of the blanks that its readings are
// taken over.
func (b *fitWorkspace) blankDigest(u *jobUnit) [32]byte {
	if !b.isOverBlank(u.Coupon) {
		return u.digest
	}
	blanks := [32]byte{}
	if s := b.blanks[u.session]; s != nil {
		blanks = s.digest
	}
	return sha256.Sum256(fmt.Appendf(nil, "over-blank\x00%x\x00%x", u.digest, blanks))
}

// readings returns the readings of a unit as they are evaluated: as they are, or over the
// blanks of their session. load reads those that count. Readings in a geometry that is not
// evaluated are refused.
func (b *fitWorkspace) readingsToFit(unit study.Unit, session string, load func(study.Unit) ([]study.Reading, error)) ([]study.Reading, error) {
	readings, err := b.checkedReadings(unit, load)
	if err == nil {
		err = evaluate.CheckGeometry(readings)
	}
	if err != nil || len(readings) == 0 || !b.isOverBlank(unit.Coupon) {
		return readings, err
	}
	s := b.blanks[session]
	if s != nil && len(s.units) == 0 {
		return nil, &study.Refusal{Fault: "the dark blanks of its session are held or set aside, and this study evaluates over the blank", Try: "see them with `wane review --session " + session + "`"}
	}
	if s == nil {
		return nil, &study.Refusal{Fault: "no dark blank was read in the same session, and this study evaluates over the blank",
			Try: "read a dark blank at each angle and polarisation in every session, and name the session of all readings"}
	}
	s.loadOnce.Do(func() { s.blanks, s.err = b.loadBlanks(s.units, load) })
	if s.err != nil {
		return nil, s.err
	}
	return evaluate.DivideByBlanks(readings, s.blanks)
}

// loaded loads the readings of a unit, and fails if they are not as many as the unit counts:
// an index then leads past some of them.
func (b *fitWorkspace) checkedReadings(unit study.Unit, load func(study.Unit) ([]study.Reading, error)) ([]study.Reading, error) {
	readings, err := load(unit)
	if err != nil {
		return nil, err
	}
	found := 0
	for i := range readings {
		if readings[i].Quantity == study.Reflectance {
			found++
		}
	}
	if counted := b.countedReadings[unit]; found != counted {
		return nil, b.desk.store.Damaged("reading", fmt.Sprintf("coupon %s, pull %d, spot %s: %d readings are counted, and %d are found", unit.Coupon, unit.Pull, unit.Spot, counted, found))
	}
	return readings, nil
}

func (b *fitWorkspace) loadBlanks(units []study.Unit, load func(study.Unit) ([]study.Reading, error)) (all []evaluate.Blank, err error) {
	for _, u := range units {
		coupon := b.coupons[u.Coupon]
		setup, err := evaluate.CouponSetup(coupon, b.desk.Settings().Mixing, b.roster.Glasses)
		if err != nil {
			return nil, err
		}
		if back := setup.Glass.Back; back != optics.Matched && back != optics.Blackened {
			return nil, &study.Refusal{Fault: fmt.Sprintf("blank %s has a %s far face, which returns light, and nothing can be taken over it", u.Coupon, coupon.Back),
				Try: "read a blank with a matched or blackened far face in each session"}
		}
		readings, err := b.checkedReadings(u, load)
		if err == nil {
			err = evaluate.CheckGeometry(readings)
		}
		if err != nil {
			return nil, err
		}
		for i := range readings {
			r := &readings[i]
			all = append(all, evaluate.Blank{Spectrum: study.Spectrum{NM: r.NM, Values: r.Values, AngleDeg: r.AngleDeg, Polarisation: r.Polarisation}, Glass: setup.Glass.Index})
		}
	}
	return all, nil
}
