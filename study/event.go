package study

import "fmt"

// EventKind is what happens to a coupon.
type EventKind string

// The events in the life of a coupon.
const (
	EventStart    EventKind = "start"    // it goes out, or back, into its exposure
	EventStop     EventKind = "stop"     // it is taken out
	EventTransfer EventKind = "transfer" // it goes from one exposure into another
	EventClean    EventKind = "clean"
	EventRinse    EventKind = "rinse"
	EventDamage   EventKind = "damage" // it stays in the study
	EventLost     EventKind = "lost"
	EventBroken   EventKind = "broken"
	EventEnd      EventKind = "end" // it is taken out of the study as a whole
)

// EventKinds returns all events.
func EventKinds() []EventKind {
	return []EventKind{EventStart, EventStop, EventTransfer, EventClean, EventRinse, EventDamage, EventLost, EventBroken,
		EventEnd}
}

// Ends reports whether the history of a coupon ends with the event.
func (k EventKind) Ends() bool { return k == EventLost || k == EventBroken || k == EventEnd }

// Cleans reports whether the event is a cleaning or a rinse.
func (k EventKind) Cleans() bool { return k == EventClean || k == EventRinse }

// Moves reports whether the coupon goes into or out of an exposure with the event, but for its end.
func (k EventKind) Moves() bool { return k == EventStart || k == EventStop || k == EventTransfer }

// CouponEvent is an event in the life of a coupon. Coupon, Event, Pull and Date together identify it.
type CouponEvent struct {
	Coupon string
	Event  EventKind
	Pull   Stated // at which it happened, a whole number
	Date   string // ISO 8601; empty: not stated

	// Exposure is the one into which the coupon goes; empty: that of the coupon, or the one it was in last.
	Exposure string

	// Dose is what the coupon had received by then, since its baseline, in the unit of the exposure it is in. Of a
	// cleaning or a rinse it is how often that was done; not stated: once.
	Dose Stated

	By, Note string
	Picture  string // a path or a name, kept as text
}

// DoseReading is what the coupons of an exposure received by a day, since the row before: by a radiometer, an hour
// meter or a counter.
type DoseReading struct {
	Exposure, Date string // together they identify it; the date is ISO 8601
	Value          float64
	Unit           string // that of the exposure
}

// String names the event: event broken of coupon "A03" at pull 3 on 2026-01-10.
func (e *CouponEvent) String() string {
	return fmt.Sprintf("event %s of coupon %q%s", e.Event, e.Coupon, e.when())
}

// Words says what happened and when: broken at pull 3 on 2026-01-10.
func (e *CouponEvent) Words() string { return string(e.Event) + e.when() }

func (e *CouponEvent) when() (words string) {
	if e.Pull.Is {
		words = fmt.Sprintf(" at pull %d", int(e.Pull.Value))
	}
	if e.Date != "" {
		words += " on " + e.Date
	}
	return words
}
