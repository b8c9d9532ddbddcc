package desk

import (
	"fmt"
	"slices"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/life"
	"wane/study/store"
)

// addLives adds the events of coupons and the rows of doses.
func addLives(tx *store.Tx, faults *enrolFaults, n *Enrolled) error {
	roster := faults.roster
	if len(roster.Lives)+len(roster.Doses) == 0 {
		return nil
	}
	known, err := tx.Roster()
	if err != nil {
		return err
	}
	var unknown study.Refusals
	dosesKnown(known, roster.Doses, &unknown)
	namesOfLives(known, roster.Lives, &unknown)
	for _, add := range []func() error{
		unknown.Err,
		func() error { return addLines(roster.Doses, tx.AddDoseReading, &n.Doses) },
		func() error { return addLines(roster.Lives, tx.AddCouponEvent, &n.Lives) },
	} {
		if err := faults.note(add()); err != nil {
			return err
		}
	}
	if !faults.readsAllPulls() {
		return nil
	}
	whole, err := tx.Roster()
	if err != nil {
		return err
	}
	impossible, err := faultsOfLives(whole, tx.PullsRead, roster.Lives)
	if err != nil {
		return err
	}
	return faults.note(impossible.Err())
}

// dosesKnown returns the rows of doses of exposures that are enrolled, in their unit, and refuses the others.
func dosesKnown(known *study.Roster, lines []sheet.Line[study.DoseReading],
	refused *study.Refusals) (good []sheet.Line[study.DoseReading]) {
	units, names := map[string]string{}, []string{}
	for _, e := range known.Exposures {
		units[e.Exposure], names = e.DoseUnit, append(names, e.Exposure)
	}
	for _, l := range lines {
		unit, is := units[l.Row.Exposure]
		switch {
		case !is:
			refused.Note(l.Refuse(study.DidYouMean(l.Row.Exposure, names, tryRegister), "there is no exposure %q", l.Row.Exposure))
		case unit != l.Row.Unit:
			refused.Note(l.Refuse("convert the values to "+unit+", or correct the exposure",
				"the doses of exposure %s are in %s, not in %s", l.Row.Exposure, unit, l.Row.Unit))
		default:
			good = append(good, l)
		}
	}
	return good
}

// namesOfLives returns the events that name coupons and exposures which are enrolled, and refuses the others.
func namesOfLives(known *study.Roster, lines []sheet.Line[study.CouponEvent],
	refused *study.Refusals) (good []sheet.Line[study.CouponEvent]) {
	coupons, exposures := couponsByCode(known), []string{""}
	for _, e := range known.Exposures {
		exposures = append(exposures, e.Exposure)
	}
	for _, l := range lines {
		switch {
		case coupons[l.Row.Coupon] == nil:
			r := notEnrolled(known, l.Row.Coupon)
			refused.Note(l.Refuse(r.Try, "%s", r.Fault))
		case !slices.Contains(exposures, l.Row.Exposure):
			refused.Note(l.Refuse(study.DidYouMean(l.Row.Exposure, exposures[1:], tryRegister), "there is no exposure %q",
				l.Row.Exposure))
		default:
			good = append(good, l)
		}
	}
	return good
}

// faultsOfLives returns the events that cannot be or, of those in lines, are doubtful, and the ends that readings
// contradict. read returns the pulls at which a coupon was read. A refusal has the place of the line of its event, or of
// the last line of its coupon; without lines it has none.
func faultsOfLives(whole *study.Roster, read func(coupon string) ([]int, error), lines []sheet.Line[study.CouponEvent]) (
	refused study.Refusals, err error) {
	faulty := map[string]bool{}
	for _, f := range life.Check(whole) {
		if f.IsDoubt && !slices.ContainsFunc(lines, func(l sheet.Line[study.CouponEvent]) bool { return l.Row == f.Event }) {
			continue // an enrolled one stays
		}
		faulty[f.Event.Coupon] = true
		refused = append(refused, placeOfEvent(lines, &f.Event).refusal(f.Try, "%s: %s", f.Event.String(), f.Fault))
	}
	lives := life.New(whole)
	for i := range whole.Coupons {
		l := lives.Of(whole.Coupons[i].Coupon)
		end := l.End()
		if end == nil || faulty[l.Coupon.Coupon] {
			continue
		}
		pulls, err := read(l.Coupon.Coupon)
		if err != nil {
			return nil, err
		}
		if i := slices.IndexFunc(pulls, l.After); i >= 0 {
			refused = append(refused, placeOfEvent(lines, end).refusal("correct the time of the event; or put the readings where "+
				"they belong with `wane move`, or set them aside with `wane review --aside`",
				"%s: the coupon was read at pull %d, which is later", end.String(), pulls[i]))
		}
	}
	return refused, nil
}

// checkBaselines refuses coupons whose baseline pull is not planned.
func checkBaselines(whole *study.Roster, lines []sheet.Line[study.Coupon]) error {
	lives := life.New(whole)
	var refused study.Refusals
	for _, l := range lines {
		if first := l.Row.BaselinePull; first > 0 && !lives.Of(l.Row.Coupon).Plans(first) {
			refused.Note(l.Refuse("correct baseline_pull, or enrol the pull too", "coupon %s: its baseline pull %d is not planned",
				l.Row.Coupon, first))
		}
	}
	return refused.Err()
}

// eventPlace is the line of an event in a table; without a File it is not known.
type eventPlace struct {
	file string
	line int
}

// placeOfEvent returns the line of an event, else the last line of its coupon.
func placeOfEvent(lines []sheet.Line[study.CouponEvent], e *study.CouponEvent) (at eventPlace) {
	for _, l := range lines {
		if l.Row == *e {
			return eventPlace{l.File, l.Number}
		}
		if l.Row.Coupon == e.Coupon {
			at = eventPlace{l.File, l.Number}
		}
	}
	return at
}

func (p eventPlace) refusal(try, format string, args ...any) *study.Refusal {
	return &study.Refusal{File: p.file, Line: p.line, Fault: fmt.Sprintf(format, args...), Try: try}
}
