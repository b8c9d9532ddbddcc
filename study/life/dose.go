package life

import (
	"math"
	"slices"

	"wane/study"
)

// Dose is what a coupon had received at a pull, since its baseline.
type Dose struct {
	Exposure string    // in which the coupon was by then
	Value    study.Num // null for coupons in the dark, and where nothing says it
	Unit     string    // that of the exposure

	Planned bool // a part of it at least is by the plan alone
	Short   bool // the table of doses does not reach over all of it
	Several bool // the coupon was in more than one exposure by then
}

// leastRows is within how many days of its beginning a spell has a row of doses, if the table reaches over it: common
// practice, no source.
const leastRows = 31

// DoseAt returns the dose of the coupon at a pull. It is the sum over the times that the coupon spent in exposures of
// the unit of the one where it is by then. Of each of these times the dose is, in this order,
//
//   - what an event states, which counts for all before it, and goes on from there;
//   - the sum of the rows of doses of the exposure whose date is after the first day, and not after the last;
//   - in days, the last day less the first;
//   - the planned dose at its end less that at its beginning, between pulls in proportion to the days.
//
// Without an event that says when the coupon was exposed, and without rows of doses, the planned dose stands: that of
// the pull less that of the baseline pull. The last day is that of the event with which the coupon came out at this
// pull, else the day that is planned for it.
func (l *Life) DoseAt(pull int) Dose {
	d := Dose{Exposure: l.ExposureAt(pull), Value: study.Null()}
	if !IsExposed(l.Coupon.Role) || !l.Plans(pull) {
		return d
	}
	d.Unit = l.plans.of(d.Exposure).unit
	sum := total{unit: d.Unit}
	first := ""
	for i := range l.spells {
		s := &l.spells[i]
		if !s.began(pull) {
			continue
		}
		if first == "" {
			first = s.exposure
		}
		d.Several = d.Several || s.exposure != first
		if l.plans.of(s.exposure).unit == d.Unit {
			sum.spell(l, s, pull)
		}
	}
	if pull < l.Coupon.BaselinePull || math.IsNaN(sum.dose) {
		return d
	}
	d.Value, d.Planned, d.Short = study.Num(sum.dose), sum.planned, sum.short
	return d
}

// total is a dose that grows from spell to spell.
type total struct {
	unit           string
	dose           float64
	planned, short bool
}

// spell adds what a spell gave by a pull.
func (t *total) spell(l *Life, s *spell, pull int) {
	at := s.from
	for _, a := range s.stated {
		if a.pull <= pull {
			*t, at = total{unit: t.unit, dose: a.dose}, a.moment
		}
	}
	end := moment{day: l.dayOut(s, pull), pull: pull, at: true}
	if s.over && s.to.pull <= pull {
		end = s.to
	}
	if at == end || at.at && end.at && at.pull == end.pull {
		return
	}
	p := l.plans.of(s.exposure)
	dated := at.day.known() && end.day.known()
	switch {
	case dated && len(p.doses) > 0:
		t.rows(p.doses, at.day, end.day)
	case dated && l.moved && t.unit == "days":
		t.dose += float64(max(0, end.day-at.day))
	default:
		begin, known := p.doseAt(at)
		dose, also := p.doseAt(end)
		if !known || !also {
			dose = math.NaN()
		}
		t.dose += max(0, dose-begin) // NaN stays
		t.planned = true
	}
}

// rows adds the rows of doses of the days after begin up to end.
func (t *total) rows(doses []dosed, begin, end day) {
	begun := false
	for _, d := range doses {
		if d.day > begin && d.day <= end {
			t.dose += d.dose
			begun = begun || d.day <= begin+leastRows
		}
	}
	t.short = t.short || end > begin && (!begun || doses[len(doses)-1].day < end)
}

// began reports whether a spell had begun before a coupon was read at a pull.
func (s *spell) began(pull int) bool {
	return s.from.pull < pull || s.from.pull == pull && !s.from.at
}

// dayOut returns the day on which the coupon came out of a spell at a pull: that of the event that says so, else the
// planned one.
func (l *Life) dayOut(s *spell, pull int) day {
	for _, e := range l.events {
		if e.at && e.pull == pull && e.Date != "" && (e.Event == study.EventStop || e.Event == study.EventTransfer ||
			e.Event.Ends()) {
			return e.day
		}
	}
	if d := l.plans.of(s.exposure).day(pull); d.known() {
		return d
	}
	return l.planned(pull)
}

// ExposureAt returns the exposure in which the coupon was when it came out at a pull; where it had not begun, that of
// the roster.
func (l *Life) ExposureAt(pull int) string {
	at := l.Coupon.Exposure
	for i := range l.spells {
		if s := &l.spells[i]; s.began(pull) {
			at = s.exposure
		}
	}
	return at
}

// Exposures returns the exposures with which the coupon goes until a pull, that of the roster first.
func (l *Life) Exposures(pull int) []string {
	all := []string{l.Coupon.Exposure}
	for i := range l.spells {
		if s := &l.spells[i]; s.began(pull) && !slices.Contains(all, s.exposure) {
			all = append(all, s.exposure)
		}
	}
	return all
}

// IsOut reports whether the coupon is in its exposure until a pull, so that it is to be taken out for it: also where
// it goes into another one then.
func (l *Life) IsOut(pull int) bool {
	return slices.ContainsFunc(l.spells, func(s spell) bool {
		return s.began(pull) && (!s.over || s.to.pull > pull || s.passed && s.to.pull == pull && s.to.at)
	})
}

// Cleanings returns how often the coupon was cleaned and rinsed before it was read at a pull in a condition. At one pull
// it is read as found, then rinsed, then cleaned.
func (l *Life) Cleanings(pull int, condition string) (cleaned, rinsed int) {
	for _, e := range l.events {
		if !e.Event.Cleans() || e.pull > pull {
			continue
		}
		later := condition == "as_found" || condition == "rinsed" && e.Event == study.EventClean
		if e.at && e.pull == pull && later {
			continue
		}
		times := 1
		if e.Dose.Is {
			times = int(e.Dose.Value)
		}
		if e.Event == study.EventClean {
			cleaned += times
		} else {
			rinsed += times
		}
	}
	return cleaned, rinsed
}

// End returns the event with which the history of the coupon ended, nil if it goes on.
func (l *Life) End() *study.CouponEvent {
	if e := l.end(); e != nil {
		return &e.CouponEvent
	}
	return nil
}

func (l *Life) end() *event {
	i := slices.IndexFunc(l.events, func(e event) bool { return e.Event.Ends() })
	if i < 0 {
		return nil
	}
	return &l.events[i]
}

// EndedBy reports whether the history of the coupon had ended by a pull. It may have been read at that pull before.
func (l *Life) EndedBy(pull int) bool {
	e := l.end()
	return e != nil && e.pull <= pull
}

// OverAt reports whether the coupon is not to be read at a pull since its history has ended. One that is lost or broken
// at a pull is not read at it, and one whose end is stated with a pull is.
func (l *Life) OverAt(pull int) bool {
	e := l.end()
	return l.EndedBy(pull) && !(e.Event == study.EventEnd && e.Pull.Is && e.pull == pull)
}

// After reports whether a pull lies after the end of the coupon's history, so that it cannot be read there.
func (l *Life) After(pull int) bool {
	e := l.end()
	switch {
	case e == nil:
		return false
	case e.Pull.Is:
		return pull > e.pull
	}
	d := l.planned(pull)
	return d.known() && d > e.day || !d.known() && pull > e.pull
}

// Events returns the events of the coupon, in their order.
func (l *Life) Events() []study.CouponEvent {
	all := make([]study.CouponEvent, len(l.events))
	for i := range l.events {
		all[i] = l.events[i].CouponEvent
	}
	return all
}
