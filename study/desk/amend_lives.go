package desk

import (
	"fmt"
	"slices"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// findLives finds the events of coupons that rows of corrections name.
func (c *correcting) findLives(rows []sheet.Correction[study.CouponEvent]) {
	if len(rows) == 0 {
		return
	}
	n := newEventNames(c.before)
	var named []sheet.Correction[study.CouponEvent]
	for _, r := range rows {
		if err := n.name(&r); err != nil {
			c.faultAt(r.File, r.Number, err)
			continue
		}
		named = append(named, r)
	}
	found(c, named, func(e *study.CouponEvent) any { return e }, &c.roster.Lives, nil, c.amendLife)
}

// eventNames finds events of coupons by what names them.
type eventNames struct {
	known    *study.Roster
	coupons  map[string]*study.Coupon
	byCoupon map[string][]study.CouponEvent
}

func newEventNames(known *study.Roster) *eventNames {
	n := &eventNames{known: known, coupons: couponsByCode(known), byCoupon: map[string][]study.CouponEvent{}}
	for _, e := range known.Lives {
		n.byCoupon[e.Coupon] = append(n.byCoupon[e.Coupon], e)
	}
	return n
}

// name makes a row that of the one event that it names: by coupon, event, and pull; by the date where no pull is given,
// or several events are of that pull. An event that a coupon has once, such as broken, is named without them. A date or a
// pull that is not needed for that is a correction, unless its cell is empty.
func (n *eventNames) name(r *sheet.Correction[study.CouponEvent]) error {
	want := r.Row
	if n.coupons[want.Coupon] == nil {
		return notEnrolled(n.known, want.Coupon)
	}
	all := n.byCoupon[want.Coupon]
	some := slices.DeleteFunc(slices.Clone(all), func(e study.CouponEvent) bool { return e.Event != want.Event })
	once := len(some) == 1 && want.Event.Ends()
	var right []string // columns that say what should be
	narrow := func(column string, given bool, same func(e study.CouponEvent) bool) {
		switch needed := len(some) > 1 || column == "pull" || !want.Pull.Is; {
		case given && (once || !needed):
			right = append(right, column)
		case given || len(some) > 1 && slices.Contains(r.Key, column):
			some = slices.DeleteFunc(some, func(e study.CouponEvent) bool { return !same(e) })
		}
	}
	narrow("pull", want.Pull.Is, func(e study.CouponEvent) bool { return e.Pull == want.Pull })
	narrow("date", want.Date != "", func(e study.CouponEvent) bool { return e.Date == want.Date })
	if len(some) != 1 {
		return unnamed(&want, some, all)
	}
	r.Row, r.Given = some[0], slices.Concat(r.Given, right)
	return nil
}

// unnamed refuses a row that names no event, or more than one. all are those of the coupon.
func unnamed(want *study.CouponEvent, some, all []study.CouponEvent) error {
	if len(some) > 1 {
		return &study.Refusal{Fault: fmt.Sprintf("%s may be each of %d: %s", want.String(), len(some), eventList(some)),
			Try: "say which: add the columns pull and date, as the event has them"}
	}
	if len(all) == 0 {
		return &study.Refusal{Fault: fmt.Sprintf("coupon %q has no events", want.Coupon), Try: "correct the coupon, or enrol the event " +
			"with `wane enrol`"}
	}
	return &study.Refusal{Fault: fmt.Sprintf("%s is not enrolled; coupon %s has: %s", want.String(), want.Coupon, eventList(all)),
		Try: "name the event by the pull and the date that it has; the right ones go into the columns to_pull and to_date"}
}

// eventList lists events in words.
func eventList(all []study.CouponEvent) string {
	var words []string
	for i := range all {
		words = append(words, all[i].Words())
	}
	return namesUpTo(words, mostNamed)
}

// amendLife amends an event of a coupon.
func (c *correcting) amendLife(l *sheet.Line[study.CouponEvent], r *sheet.Correction[study.CouponEvent]) (
	func() ([]store.Correction, error), error) {
	columns := others(r.Given, "pull", "date", "to_pull", "to_date")
	return func() ([]store.Correction, error) { return c.tx.AmendCouponEvent(r.Row, l.Row, columns...) }, nil
}

// amendDose amends a row of doses.
func (c *correcting) amendDose(l *sheet.Line[study.DoseReading], r *sheet.Correction[study.DoseReading]) (
	func() ([]store.Correction, error), error) {
	columns := others(r.Given, "to_date")
	return func() ([]store.Correction, error) { return c.tx.AmendDoseReading(r.Row, l.Row, columns...) }, nil
}

// others returns the words that are none of these.
func others(words []string, of ...string) []string {
	return slices.DeleteFunc(slices.Clone(words), func(w string) bool { return slices.Contains(of, w) })
}
