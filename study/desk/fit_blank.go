package desk

import (
	"context"
	"crypto/sha256"
	"fmt"
	"sync"

	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// sharesSessions reports whether fits depend on other spots of their session.
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

// findBlanks finds the dark blanks of each session where the study evaluates over them.
func (w *fitWorkspace) findBlanks() {
	if !w.settings.OverBlank {
		return
	}
	w.blanks = map[string]*sessionBlanks{}
	for i := range w.units {
		u := &w.units[i]
		if u.Session == "" || w.coupons[u.Coupon].Role != study.Blank {
			continue
		}
		s := w.blanks[u.Session]
		if s == nil {
			s = &sessionBlanks{}
			w.blanks[u.Session] = s
		}
		if u.Counted == 0 {
			continue
		}
		s.units = append(s.units, u.Unit)
		own := evaluate.Digest(w.coupons[u.Coupon], w.settings.Mixing, u.Readings, w.roster)
		s.digest = sha256.Sum256(append(s.digest[:], own[:]...))
	}
}

// isOverBlank reports whether the readings of a unit are evaluated over the blank.
func (w *fitWorkspace) isOverBlank(coupon string) bool {
	return w.settings.OverBlank && w.coupons[coupon].Role != study.Blank
}

// blankDigest returns the digest of a unit together with that of the blanks that its readings are
// divided by.
func (w *fitWorkspace) blankDigest(u *jobUnit) [32]byte {
	if !w.isOverBlank(u.Coupon) {
		return u.digest
	}
	blanks := [32]byte{}
	if s := w.blanks[u.session]; s != nil {
		blanks = s.digest
	}
	return sha256.Sum256(fmt.Appendf(nil, "over-blank 3\x00%x\x00%x", u.digest, blanks))
}

// readingsToFit returns the readings of a unit as they are evaluated: as they are, or over the
// blanks of their session. load returns those that count. Readings in a geometry that is not
// evaluated are refused.
func (w *fitWorkspace) readingsToFit(
	unit study.Unit, session string, load func(study.Unit) ([]study.Reading, error),
) ([]study.Reading, error) {
	readings, err := w.checkedReadings(unit, load)
	conditions := w.conditionsOf(unit, session)
	if err == nil {
		err = conditions.CheckGeometry(readings)
	}
	if err == nil {
		err = conditions.CheckZero(readings)
	}
	if err != nil || len(readings) == 0 || !w.isOverBlank(unit.Coupon) {
		return readings, err
	}
	s := w.blanks[session]
	if s != nil && len(s.units) == 0 {
		return nil, &study.Refusal{
			Fault: "the dark blanks of its session are held or set aside, and this study evaluates over the blank",
			Try:   "see them with `wane review --session " + session + "`",
		}
	}
	if s == nil {
		return nil, &study.Refusal{
			Fault: "no dark blank was read in the same session, and this study evaluates over the blank",
			Try:   "read a dark blank at each angle and polarisation in every session, and name the session of all readings",
		}
	}
	s.loadOnce.Do(func() { s.blanks, s.err = w.loadBlanks(s.units, session, load) })
	if s.err != nil {
		return nil, s.err
	}
	return evaluate.DivideByBlanks(readings, s.blanks)
}

// checkedReadings loads the readings of a unit. If they are not as many as the unit counts, an
// index of the study is damaged, which is a [*study.Failure].
func (w *fitWorkspace) checkedReadings(
	unit study.Unit, load func(study.Unit) ([]study.Reading, error),
) ([]study.Reading, error) {
	readings, err := load(unit)
	if err != nil {
		return nil, err
	}
	if counted, found := w.countedReadings[unit], len(readings); found != counted {
		if changed, err := w.countsNow(unit, found); err != nil || changed {
			if err == nil {
				err = changedMeanwhile()
			}
			return nil, err
		}
		fault := fmt.Sprintf("%s: %d readings are counted, and %d are found", describeUnit(unit), counted, found)
		return nil, w.desk.store.Damaged("reading", fault)
	}
	return readings, nil
}

// countsNow reports whether the study counts so many readings of a unit now: another process has reviewed, moved or added
// some since the workspace was made.
func (w *fitWorkspace) countsNow(unit study.Unit, found int) (bool, error) {
	units, err := w.desk.store.Units(context.Background())
	if err != nil {
		return false, err
	}
	now := 0
	for i := range units {
		if units[i].Unit == unit {
			now = units[i].Counted
		}
	}
	return now == found, nil
}

// changedMeanwhile refuses to fit readings that are others than when the fit began. The next fit makes it again.
func changedMeanwhile() error {
	return &study.Refusal{
		Fault: "its readings were reviewed, moved or added by another command while this one ran",
		Try:   "run `wane fit` again",
	}
}

// loadBlanks returns the readings of the dark blanks of a session.
func (w *fitWorkspace) loadBlanks(
	units []study.Unit, session string, load func(study.Unit) ([]study.Reading, error),
) (all []evaluate.Blank, err error) {
	for _, u := range units {
		coupon := w.coupons[u.Coupon]
		setup, err := evaluate.CouponSetup(coupon, w.settings.Mixing, w.roster)
		if err != nil {
			return nil, err
		}
		if back := setup.Glass.Back; back != optics.Matched && back != optics.Blackened {
			return nil, &study.Refusal{
				Fault: fmt.Sprintf("blank %s has a %s far face, which returns light, and nothing can be taken over it",
					u.Coupon, coupon.Back),
				Try: "read a blank with a matched or blackened far face in each session",
			}
		}
		conditions := w.conditionsOf(u, session)
		readings, err := w.checkedReadings(u, load)
		if err == nil {
			err = conditions.CheckGeometry(readings)
		}
		if err != nil {
			return nil, err
		}
		seen := conditions.Under(setup)
		for i := range readings {
			all = append(all, evaluate.NewBlank(&seen, &readings[i]))
		}
	}
	return all, nil
}
