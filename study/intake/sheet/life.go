package sheet

import (
	"math"

	"wane/study"
)

var (
	lifeColumns  = []string{"coupon", "event"}
	lifeOptional = []string{"pull", "exposure", "dose", "date", "by", "note", "picture"}
	doseColumns  = []string{"exposure", "date", "value", "unit"}

	// In tables of corrections: what the pull and the date of an event, or the date of a dose, should be.
	toPullColumn = []string{"to_pull"}
	toDateColumn = []string{"to_date"}
)

// couponEvent returns an event of a coupon. Every cell after the event may be empty.
func (r *Row) couponEvent() study.CouponEvent {
	e := study.CouponEvent{Coupon: r.needed("coupon"), Event: study.EventKind(r.word("event", eventWords()...)),
		Exposure: r.Text("exposure"), Date: r.date("date"), By: r.Text("by"), Note: r.Text("note"), Picture: r.Text("picture")}
	if r.Text("pull") != "" {
		e.Pull = study.Stated{Value: float64(r.whole("pull", 0)), Is: true}
	}
	switch dose := r.number("dose"); {
	case !dose.Valid():
		return e
	case dose < 0:
		r.Refuse("dose", "write the dose that the coupon had received by then", "%g is below 0", float64(dose))
	case e.Event.Cleans() && (dose < 1 || float64(dose) != math.Trunc(float64(dose))):
		r.Refuse("dose", "write how often that was done, or leave it empty for once", "%g is not how often a coupon was cleaned",
			float64(dose))
	default:
		e.Dose = study.Stated{Value: float64(dose), Is: true}
	}
	return e
}

// doseReading returns what an exposure received by a day.
func (r *Row) doseReading() study.DoseReading {
	d := study.DoseReading{Exposure: r.needed("exposure"), Date: r.neededDate("date"),
		Unit: r.word("unit", "days", "hours", "cycles", "kWh/m2")}
	r.needed("value")
	if d.Value = float64(r.number("value")); d.Value < 0 {
		r.Refuse("value", "write what came in since the row before, which is not below 0", "the dose falls by %g", -d.Value)
	}
	return d
}

// couponEventKey returns what names an event in a table of corrections: its coupon and its word, and its pull and date as
// far as the table has them.
func (r *Row) couponEventKey() study.CouponEvent {
	e := study.CouponEvent{Coupon: r.needed("coupon"), Event: study.EventKind(r.word("event", eventWords()...)),
		Date: r.date("date")}
	if r.Text("pull") != "" {
		e.Pull = study.Stated{Value: float64(r.whole("pull", 0)), Is: true}
	}
	return e
}

// correctedEvent returns an event of a table of corrections as it should be.
func (r *Row) correctedEvent() study.CouponEvent {
	e := r.couponEvent()
	if r.Text("to_pull") != "" {
		e.Pull = study.Stated{Value: float64(r.whole("to_pull", 0)), Is: true}
	}
	if date := r.date("to_date"); date != "" {
		e.Date = date
	}
	return e
}

// correctedDose returns a row of doses of a table of corrections as it should be.
func (r *Row) correctedDose() study.DoseReading {
	d := r.doseReading()
	if date := r.date("to_date"); date != "" {
		d.Date = date
	}
	return d
}

func eventWords() (words []string) {
	for _, k := range study.EventKinds() {
		words = append(words, string(k))
	}
	return words
}
