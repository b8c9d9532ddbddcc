package life

import (
	"fmt"

	"wane/study"
)

// Fault is an event that cannot be.
type Fault struct {
	Event study.CouponEvent
	Fault string // what is wrong, lower case, no full stop
	Try   string

	// IsDoubt says that the event could be, but that nobody knows before which pull it was. It is a fault of a new
	// event; an enrolled one may come to it by pulls that are planned later.
	IsDoubt bool
}

// Check returns the events of a roster that cannot be, in the order of their coupons: before the baseline or after the
// end, at a pull that is not planned, on a date that contradicts its pull, out of order, with a dose that falls.
func Check(roster *study.Roster) (faults []Fault) {
	plans, coupons, codes := newPlans(roster), map[string]*study.Coupon{}, make([]string, len(roster.Coupons))
	for i := range roster.Coupons {
		codes[i] = roster.Coupons[i].Coupon
		coupons[codes[i]] = &roster.Coupons[i]
	}
	lives := map[string]*Life{}
	var order []*Life
	for i := range roster.Lives {
		e := roster.Lives[i]
		l := lives[e.Coupon]
		if l == nil {
			if coupons[e.Coupon] == nil {
				faults = append(faults, Fault{Event: e, Fault: fmt.Sprintf("there is no coupon %q", e.Coupon),
					Try: study.DidYouMean(e.Coupon, codes, "enrol the coupon too, in this call or an earlier one, or correct the code")})
				continue
			}
			l = &Life{Coupon: coupons[e.Coupon], plans: plans}
			lives[e.Coupon], order = l, append(order, l)
		}
		l.events = append(l.events, event{CouponEvent: e})
	}
	for _, l := range order {
		faults = append(faults, l.check()...)
	}
	return faults
}

// check returns the faults of the events of one coupon: first those of each by itself; where there are none, those of
// their order.
func (l *Life) check() (faults []Fault) {
	l.arrange()
	for _, e := range l.events {
		if fault, try := l.alone(e); fault != "" {
			faults = append(faults, Fault{Event: e.CouponEvent, Fault: fault, Try: try})
		}
	}
	if len(faults) == 0 {
		l.walk(func(e event, fault, try string) {
			faults = append(faults, Fault{Event: e.CouponEvent, Fault: fault, Try: try})
		})
	}
	for _, e := range l.events {
		if why := l.doubt(&e.CouponEvent); why != "" {
			faults = append(faults, Fault{Event: e.CouponEvent, IsDoubt: true,
				Fault: why + ": nobody knows whether it was before that pull or after it",
				Try:   "write the pull before which it was"})
		}
	}
	return faults
}

// alone says what is wrong with an event by itself; empty: nothing.
func (l *Life) alone(e event) (fault, try string) {
	const tryPull = "correct the pull, or enrol it first"
	first := l.Coupon.BaselinePull
	switch {
	case e.Exposure != "" && !l.plans.known(e.Exposure):
		return fmt.Sprintf("there is no exposure %q", e.Exposure), "enrol the exposure too, or correct the name"
	case e.Event == study.EventTransfer && e.Exposure == "":
		return "it does not say into which exposure the coupon goes", "name the exposure"
	case !e.Pull.Is && e.Date == "" && e.Event != study.EventStart:
		return "it has neither a pull nor a date", "write one of them: without it nobody knows when it was"
	case e.Pull.Is && !l.Plans(e.pull):
		return fmt.Sprintf("pull %d is not planned for coupon %s", e.pull, e.Coupon), tryPull
	case !e.Pull.Is && e.Date != "" && !l.hasDates():
		return "it has a date and no pull, and no pull of its exposure has a date", "write the pull, or enrol the dates of the pulls"
	case e.Pull.Is && e.pull < first:
		return fmt.Sprintf("it is before pull %d, with which the history of coupon %s begins", first, e.Coupon),
			"correct the pull, or the baseline pull of the coupon"
	}
	if begin := l.planned(first); e.Date != "" && begin.known() && e.day < begin {
		return fmt.Sprintf("%s is before %s, the day of pull %d, with which the history of coupon %s begins", e.Date, begin, first,
			e.Coupon), "correct the date"
	}
	return l.contradiction(e)
}

// doubt says why it cannot be known before which pull an event was; empty: it can.
func (l *Life) doubt(e *study.CouponEvent) (why string) {
	of := dayOf(e.Date)
	if e.Pull.Is || !of.known() || !l.hasDates() {
		return ""
	}
	for _, p := range l.Pulls() {
		switch first, last := l.days(p); {
		case !last.known():
			if why == "" {
				why = fmt.Sprintf("pull %d has no day", p)
			}
		case last < of:
			why = "" // those before it are before the day too
		case first < of:
			return fmt.Sprintf("exposures plan pull %d on different days", p)
		default:
			return why
		}
	}
	return why
}

// contradiction says whether the date of an event contradicts its pull: it is not between the pull before and the one
// after.
func (l *Life) contradiction(e event) (fault, try string) {
	if !e.Pull.Is || e.Date == "" {
		return "", ""
	}
	const correct = "correct the date or the pull"
	for _, p := range l.Pulls() {
		d := l.planned(p)
		switch {
		case !d.known():
		case p < e.pull && e.day <= d:
			return fmt.Sprintf("%s is not after %s, the day of pull %d, but the event is at pull %d", e.Date, d, p, e.pull), correct
		case p > e.pull && e.day >= d:
			return fmt.Sprintf("%s is not before %s, the day of pull %d, but the event is at pull %d", e.Date, d, p, e.pull), correct
		}
	}
	return "", ""
}

// hasDates reports whether a pull of the coupon has a date.
func (l *Life) hasDates() bool {
	for _, p := range l.Pulls() {
		if l.planned(p).known() {
			return true
		}
	}
	return false
}

// allows reports whether an event can follow those before it.
func (w *walker) allows(e event) bool {
	fault, try := "", "correct the event, or enrol the one that is missing"
	switch {
	case w.ended != nil:
		w.afterEnd(e)
		return false
	case e.Event == study.EventStart && w.out:
		fault, try = fmt.Sprintf("the coupon is in exposure %s already", w.exposure), "enrol the stop before it, or leave the start out"
	case e.Event == study.EventStop && !w.out:
		fault = "the coupon is in no exposure by then"
	case e.Event == study.EventTransfer && e.Exposure == w.exposure && w.out:
		fault, try = fmt.Sprintf("the coupon is in exposure %s already", w.exposure), "name the exposure into which it goes"
	case e.Event != study.EventStart && e.Event != study.EventTransfer && e.Exposure != "" && e.Exposure != w.exposure:
		fault, try = fmt.Sprintf("the coupon is in exposure %s by then, and not in %s", w.exposure, e.Exposure),
			"correct the exposure, or leave it empty"
	}
	if fault != "" {
		w.report(e, fault, try)
	}
	return fault == ""
}

// afterEnd reports an event after the end of the history.
func (w *walker) afterEnd(e event) {
	w.report(e, fmt.Sprintf("the history of coupon %s ended before it: %s", e.Coupon, w.ended.Words()),
		"correct the coupon or the time of one of the two")
}
