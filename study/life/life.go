// Package life says what a coupon went through: the exposures it was in and when, the dose it had received at each
// pull, how often it was cleaned, and with what its history ended. Everything follows from the roster of a study: the
// plan of the pulls, the events of coupons and the doses of exposures. Begin with [New]; [Check] says which events
// cannot be.
//
// Days are whole days. An event has a pull, a date or both. One with a pull happens at that pull: before the coupon is
// read if it stops, cleans or rinses, and after it if it starts or transfers. Its date, else that of the plan, is its
// day. One with a date alone belongs to the first pull that is planned for that day or later; of a coupon that goes with
// all exposures, to the first one that some exposure plans so.
package life

import (
	"cmp"
	"math"
	"slices"
	"time"

	"wane/study"
)

// Lives are the lives of the coupons of a study.
type Lives struct{ byCoupon map[string]*Life }

// Life is what happened to one coupon.
type Life struct {
	Coupon *study.Coupon
	events []event // in their order
	spells []spell // in their order
	plans  plans
	moved  bool // an event says when it was exposed, or with what dose
}

// event is an event with its place in time.
type event struct {
	study.CouponEvent
	moment
}

// moment is a point in the life of a coupon.
type moment struct {
	day  day
	pull int  // at which it is, or before which it lies
	at   bool // it is at the pull, not only before it
}

// day counts days since 1970-01-01.
type day int

const (
	noDay  day = math.MinInt // not known
	noPull     = math.MaxInt // after all planned pulls
)

func (d day) known() bool { return d != noDay }

// dayOf reads an ISO 8601 date; one that is none is not known.
func dayOf(date string) day {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return noDay
	}
	return day(t.Unix() / (24 * 60 * 60))
}

// spell is a time that a coupon spent in one exposure without interruption.
type spell struct {
	exposure string
	from     moment
	to       moment // if it is over
	over     bool
	passed   bool     // with its end the coupon went into another exposure
	stated   []anchor // what events say of the dose, in their order
}

// anchor is the dose that an event states.
type anchor struct {
	moment
	dose float64
}

// New returns the lives of the coupons of a roster. Events that cannot be, as [Check] says, are passed over.
func New(roster *study.Roster) *Lives {
	l := &Lives{byCoupon: make(map[string]*Life, len(roster.Coupons))}
	plans := newPlans(roster)
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		l.byCoupon[c.Coupon] = &Life{Coupon: c, plans: plans}
	}
	for i := range roster.Lives {
		if life := l.byCoupon[roster.Lives[i].Coupon]; life != nil {
			life.events = append(life.events, event{CouponEvent: roster.Lives[i]})
		}
	}
	for _, life := range l.byCoupon {
		life.arrange()
		life.walk(func(event, string, string) {})
	}
	return l
}

// Of returns the life of a coupon, nil if it is not enrolled.
func (l *Lives) Of(coupon string) *Life { return l.byCoupon[coupon] }

// arrange gives the events their places and puts them in order.
func (l *Life) arrange() {
	for i := range l.events {
		e := &l.events[i]
		if e.moment = (moment{day: noDay, pull: noPull}); e.Pull.Is {
			e.pull = int(e.Pull.Value)
		}
	}
	for range 2 { // the day of a pull may be planned by an exposure that an event names
		for i := range l.events {
			l.events[i].moment = l.place(&l.events[i].CouponEvent)
		}
	}
	dated := !slices.ContainsFunc(l.events, func(e event) bool { return !e.day.known() })
	slices.SortStableFunc(l.events, func(a, b event) int {
		byDay, byPull := cmp.Compare(a.day, b.day), cmp.Compare(a.pull, b.pull)
		if !dated {
			byDay, byPull = byPull, byDay
		}
		return cmp.Or(byDay, byPull, cmp.Compare(rank(a.Event), rank(b.Event)))
	})
}

// rank orders events of one day: it is taken out, put elsewhere, put back, and its history ends.
func rank(k study.EventKind) int {
	switch {
	case k == study.EventStop:
		return 1
	case k == study.EventTransfer:
		return 2
	case k == study.EventStart:
		return 3
	case k.Ends():
		return 4
	}
	return 0
}

// place returns where an event lies.
func (l *Life) place(e *study.CouponEvent) moment {
	m := moment{day: dayOf(e.Date), pull: noPull}
	switch {
	case e.Pull.Is:
		m.pull, m.at = int(e.Pull.Value), true
	case e.Date == "" && e.Event == study.EventStart:
		m.pull, m.at = l.Coupon.BaselinePull, true
	case m.day.known():
		for _, p := range l.Pulls() {
			if _, d := l.days(p); d.known() && d >= m.day && p < m.pull {
				m.pull, m.at = p, d == m.day && e.Event.Cleans()
			}
		}
		return m
	}
	if !m.day.known() {
		m.day = l.planned(m.pull)
	}
	return m
}

// planned returns the day that is planned for a pull of the coupon: by the exposure into which it went last before, else
// by its own, else by another one that its events name.
func (l *Life) planned(pull int) day {
	var last *event
	for i := range l.events {
		e := &l.events[i]
		if e.Exposure != "" && e.pull < pull && (last == nil || e.pull > last.pull) {
			last = e
		}
	}
	if last != nil {
		if d := l.plans.of(last.Exposure).day(pull); d.known() {
			return d
		}
	}
	if d := l.plans.of(l.Coupon.Exposure).day(pull); d.known() {
		return d
	}
	for i := range l.events {
		if x := l.events[i].Exposure; x != "" {
			if d := l.plans.of(x).day(pull); d.known() {
				return d
			}
		}
	}
	return noDay
}

// days returns the day that is planned for a pull of the coupon; of one that goes with all exposures, the first and the
// last one of theirs.
func (l *Life) days(pull int) (first, last day) {
	if d := l.planned(pull); d.known() {
		return d, d
	}
	if p := l.plans.of(l.Coupon.Exposure).find(pull); p != nil {
		return p.first, p.last
	}
	return noDay, noDay
}

// Plans reports whether a pull is planned for the coupon: by its exposure or one that it went into. One without an
// exposure goes with all.
func (l *Life) Plans(pull int) bool {
	if l.plans.of(l.Coupon.Exposure).has(pull) {
		return true
	}
	return slices.ContainsFunc(l.events, func(e event) bool {
		return e.Exposure != "" && l.plans.of(e.Exposure).has(pull)
	})
}

// Pulls returns the pulls that are planned for the coupon as [Life.Plans] says, rising.
func (l *Life) Pulls() (pulls []int) {
	pulls = append(pulls, l.plans.of(l.Coupon.Exposure).numbers()...)
	for _, e := range l.events {
		if e.Exposure != "" {
			pulls = append(pulls, l.plans.of(e.Exposure).numbers()...)
		}
	}
	slices.Sort(pulls)
	return slices.Compact(pulls)
}

// IsExposed reports whether a coupon of the role receives a dose.
func IsExposed(r study.Role) bool { return r == study.Exposed || r == study.BlankExposed }

// walk goes through the events and finds the spells. It reports events that cannot be where they are, and passes them
// over.
func (l *Life) walk(report func(e event, fault, try string)) {
	w := walker{life: l, exposure: l.Coupon.Exposure, report: report}
	if !IsExposed(l.Coupon.Role) {
		w.dark()
		return
	}
	first := slices.IndexFunc(l.events, func(e event) bool { return e.Event.Moves() })
	if first < 0 || l.events[first].Event != study.EventStart {
		w.open(l.baseline())
	}
	for _, e := range l.events {
		w.step(e)
	}
}

// baseline is where the exposure of a coupon begins if no event says it: at its baseline pull, but not before the
// exposure.
func (l *Life) baseline() moment {
	m := moment{day: l.planned(l.Coupon.BaselinePull), pull: l.Coupon.BaselinePull, at: true}
	if start := l.plans.of(l.Coupon.Exposure).start; start > m.day && (m.day.known() || m.pull == 0) {
		m.day = start
	}
	return m
}

// walker is where a walk through the events of a life is.
type walker struct {
	life     *Life
	exposure string // in which the coupon is or was last
	out      bool   // it is in it
	ended    *event
	report   func(e event, fault, try string)
}

func (w *walker) open(m moment) *spell {
	w.out = true
	w.life.spells = append(w.life.spells, spell{exposure: w.exposure, from: m})
	return w.last()
}

func (w *walker) last() *spell {
	if n := len(w.life.spells); n > 0 {
		return &w.life.spells[n-1]
	}
	return nil
}

func (w *walker) close(m moment) {
	if w.out {
		w.last().to, w.last().over = m, true
	}
	w.out = false
}

// step goes on by one event of an exposed coupon.
func (w *walker) step(e event) {
	if !w.allows(e) {
		return
	}
	switch {
	case e.Event == study.EventStart:
		if e.Exposure != "" {
			w.exposure = e.Exposure
		}
		w.open(e.moment)
	case e.Event == study.EventTransfer:
		w.anchor(e)
		if w.out {
			w.last().passed = true
		}
		w.close(e.moment)
		w.exposure = e.Exposure
		w.open(e.moment)
		w.life.moved = true
		return
	}
	w.anchor(e)
	switch {
	case e.Event == study.EventStop:
		w.close(e.moment)
	case e.Event.Ends():
		w.close(e.moment)
		w.ended = &e
	}
	w.life.moved = w.life.moved || e.Event.Moves()
}

// anchor keeps the dose that an event states.
func (w *walker) anchor(e event) {
	s := w.last()
	if !e.Dose.Is || e.Event.Cleans() || s == nil {
		return
	}
	unit := w.life.plans.of(s.exposure).unit
	for i := range w.life.spells {
		o := &w.life.spells[i]
		if n := len(o.stated); n > 0 && o.stated[n-1].dose > e.Dose.Value && w.life.plans.of(o.exposure).unit == unit {
			w.report(e, "its dose is below that of an event before it", "write the dose that the coupon had received by then, "+
				"since its baseline: it never falls")
			return
		}
	}
	s.stated = append(s.stated, anchor{e.moment, e.Dose.Value})
	w.life.moved = true
}

// dark goes through the events of a coupon that is kept in the dark.
func (w *walker) dark() {
	for _, e := range w.life.events {
		switch {
		case w.ended != nil:
			w.afterEnd(e)
		case e.Event.Moves() || e.Exposure != "" && e.Exposure != w.exposure:
			w.report(e, "the coupon is kept in the dark and is in no exposure", "correct the coupon or the event")
		case e.Dose.Is && !e.Event.Cleans():
			w.report(e, "the coupon is kept in the dark and receives no dose", "leave the dose empty, or correct the coupon")
		case e.Event.Ends():
			w.ended = &e
		}
	}
}
