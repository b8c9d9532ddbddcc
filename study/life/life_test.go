package life_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/life"
)

// at is a pull that is stated.
func at(pull int) study.Stated { return study.Stated{Value: float64(pull), Is: true} }

// dose is a dose that is stated.
func dose(x float64) study.Stated { return study.Stated{Value: x, Is: true} }

// roster has a rack in days, a roof in kWh/m2, a chamber and a lamp in hours, all made up, coupon E of the
// exposure given, and control K of the rack.
//
//	pull   rack (days)        roof (kWh/m2)     chamber (hours)    lamp (hours)
//	0      0    2031-01-10    0                 0    2031-01-10
//	1      90   2031-04-10    400 2031-04-10    500  2031-02-10
//	2      180  2031-07-09    800 2031-07-09    1000 2031-03-10
//	3      365  2032-01-10                                         300  2031-05-01
//	4                                                              600  (no date)
func roster(exposure string, events ...study.CouponEvent) *study.Roster {
	r := &study.Roster{
		Exposures: []study.Exposure{{Exposure: "rack", DoseUnit: "days", Start: "2031-01-12"},
			{Exposure: "roof", DoseUnit: "kWh/m2"}, {Exposure: "chamber", DoseUnit: "hours"},
			{Exposure: "lamp", DoseUnit: "hours"}},
		Pulls: []study.Pull{{Exposure: "rack", Date: "2031-01-10"},
			{Exposure: "rack", Pull: 1, Dose: 90, Date: "2031-04-10"}, {Exposure: "rack", Pull: 2, Dose: 180, Date: "2031-07-09"},
			{Exposure: "rack", Pull: 3, Dose: 365, Date: "2032-01-10"}, {Exposure: "roof", Date: "2031-01-10"},
			{Exposure: "roof", Pull: 1, Dose: 400, Date: "2031-04-10"}, {Exposure: "roof", Pull: 2, Dose: 800, Date: "2031-07-09"},
			{Exposure: "chamber", Date: "2031-01-10"}, {Exposure: "chamber", Pull: 1, Dose: 500, Date: "2031-02-10"},
			{Exposure: "chamber", Pull: 2, Dose: 1000, Date: "2031-03-10"},
			{Exposure: "lamp", Pull: 3, Dose: 300, Date: "2031-05-01"}, {Exposure: "lamp", Pull: 4, Dose: 600}},
		Coupons: []study.Coupon{{Coupon: "E", Role: study.Exposed, Exposure: exposure},
			{Coupon: "K", Role: study.Control, Exposure: "rack"}},
	}
	for _, e := range events {
		if e.Coupon == "" {
			e.Coupon = "E"
		}
		r.Lives = append(r.Lives, e)
	}
	return r
}

// The doses below are worked by hand from the table above. Days between dates, by the calendar: 2031-01-10 to 04-10 are
// 21 + 28 + 31 + 10 = 90; 04-10 to 07-09 are 20 + 31 + 30 + 9 = 90; 07-09 to 2032-01-10 are 22 + 31 + 30 + 31 + 30 + 31 +
// 10 = 185.
func TestDoses(t *testing.T) {
	type want struct {
		pull    int
		dose    float64
		planned bool
	}
	const (
		start, stop, transfer = study.EventStart, study.EventStop, study.EventTransfer
	)
	for _, c := range []struct {
		name, exposure string
		events         []study.CouponEvent
		want           []want
	}{
		{"no event: the plan", "rack", nil, []want{{0, 0, false}, {1, 90, true}, {3, 365, true}}},
		{"a cleaning says nothing of the dose", "rack", []study.CouponEvent{{Event: study.EventClean, Pull: at(1)}},
			[]want{{2, 180, true}}},
		{"a start at the baseline: days by the calendar", "rack", []study.CouponEvent{{Event: start}},
			[]want{{0, 0, false}, {1, 90, false}, {2, 180, false}, {3, 365, false}}},
		{"it went out 11 days late", "rack", []study.CouponEvent{{Event: start, Date: "2031-01-21"}},
			[]want{{0, 0, false}, {1, 79, false}, {2, 169, false}}},
		{"it went out after pull 1", "rack", []study.CouponEvent{{Event: start, Date: "2031-05-10"}},
			[]want{{1, 0, false}, {2, 60, false}}},
		{"it came out 4 days late at pull 1, and back after 10: 94, then 94 + 90 - 4 - 10", "rack", []study.CouponEvent{
			{Event: start}, {Event: stop, Pull: at(1), Date: "2031-04-14"}, {Event: start, Pull: at(1), Date: "2031-04-24"}},
			[]want{{1, 94, false}, {2, 170, false}}},
		{"a month inside: 21 + 28 = 49 to 02-28, from 03-30 to 04-10 11", "rack", []study.CouponEvent{
			{Event: start, Pull: at(0)}, {Event: stop, Date: "2031-02-28"}, {Event: start, Date: "2031-03-30"}},
			[]want{{1, 60, false}, {2, 150, false}}},
		{"no start: from the start of the exposure, 2 days after pull 0", "rack",
			[]study.CouponEvent{{Event: stop, Pull: at(1)}}, []want{{1, 88, false}, {2, 88, false}, {3, 88, false}}},
		{"an event states the dose, and the calendar goes on", "rack", []study.CouponEvent{
			{Event: start}, {Event: stop, Pull: at(1), Dose: dose(80)}, {Event: start, Pull: at(1)}},
			[]want{{1, 80, false}, {2, 170, false}}},
		{"it begins with a dose", "chamber", []study.CouponEvent{{Event: start, Dose: dose(200)}},
			[]want{{1, 700, true}, {2, 1200, true}}},
		{"hours by the plan, out between pulls 1 and 2", "chamber", []study.CouponEvent{
			{Event: start}, {Event: stop, Pull: at(1)}}, []want{{1, 500, true}, {2, 500, true}}},
		{"hours by the plan, 7 of the 28 days between pulls 1 and 2 outside: a quarter of 500 less", "chamber",
			[]study.CouponEvent{{Event: start}, {Event: stop, Pull: at(1)}, {Event: start, Date: "2031-02-17"}},
			[]want{{2, 875, true}}},
		{"from the chamber to the lamp, the unit is the same: 1000, then 1000 + 300, and 300 more", "chamber",
			[]study.CouponEvent{{Event: transfer, Pull: at(2), Exposure: "lamp"}},
			[]want{{2, 1000, true}, {3, 1300, true}, {4, 1600, true}}},
		{"from the rack to the chamber, other units: hours of the chamber alone", "rack", []study.CouponEvent{
			{Event: start, Pull: at(0)}, {Event: transfer, Pull: at(1), Exposure: "chamber"}},
			[]want{{1, 90, false}, {2, 500, true}}},
		{"what an event states counts in the lamp too", "chamber", []study.CouponEvent{
			{Event: transfer, Pull: at(2), Exposure: "lamp", Dose: dose(960)}}, []want{{2, 960, false}, {3, 1260, true}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := roster(c.exposure, c.events...)
			require.Empty(t, life.Check(r))
			l := life.New(r).Of("E")
			for _, w := range c.want {
				d := l.DoseAt(w.pull)
				assert.InDelta(t, w.dose, float64(d.Value), 1e-9, "pull %d", w.pull)
				assert.Equal(t, w.planned, d.Planned, "pull %d", w.pull)
				assert.False(t, d.Short)
			}
		})
	}
	k := life.New(roster("rack")).Of("K")
	assert.False(t, k.DoseAt(1).Value.Valid(), "a control receives no dose")
}

// Rows of a radiometer: the row of a day is what came in since the row before, so that the day on which a coupon goes
// out does not count for it, and the day on which it comes out does.
func TestDosesFromRows(t *testing.T) {
	r := roster("roof")
	for _, d := range []study.DoseReading{
		{Date: "2031-01-10", Value: 7}, {Date: "2031-02-01", Value: 100}, {Date: "2031-03-01", Value: 120},
		{Date: "2031-04-10", Value: 150.5}, {Date: "2031-05-01", Value: 90}, {Date: "2031-06-01", Value: 200},
	} {
		d.Exposure, d.Unit = "roof", "kWh/m2"
		r.Doses = append(r.Doses, d)
	}
	l := life.New(r).Of("E")
	first := l.DoseAt(1)
	assert.Equal(t, life.Dose{Exposure: "roof", Value: 370.5, Unit: "kWh/m2"}, first, "100 + 120 + 150.5, without an event")
	second := l.DoseAt(2)
	assert.InDelta(t, 660.5, float64(second.Value), 1e-9, "and 90 + 200")
	assert.True(t, second.Short, "the rows end five weeks before the pull")

	r.Lives = []study.CouponEvent{{Coupon: "E", Event: study.EventStop, Date: "2031-02-10"},
		{Coupon: "E", Event: study.EventStart, Date: "2031-03-01"}}
	r.Doses = append(r.Doses, study.DoseReading{Exposure: "roof", Date: "2031-07-09", Value: 10, Unit: "kWh/m2"})
	l = life.New(r).Of("E")
	first = l.DoseAt(1)
	assert.InDelta(t, 250.5, float64(first.Value), 1e-9, "100, and 150.5 of the day on which it came in")
	assert.True(t, first.Short, "no row within a month of 03-01 says what came in until 04-10")
	assert.False(t, first.Planned)
}

// A coupon that joined late counts from its own start: 365 - 90 days by the plan, 275 = 90 + 185 by the calendar.
func TestLateCoupon(t *testing.T) {
	for _, events := range [][]study.CouponEvent{nil, {{Event: study.EventStart}}} {
		r := roster("rack", events...)
		r.Coupons[0].BaselinePull = 1
		require.Empty(t, life.Check(r))
		l := life.New(r).Of("E")
		assert.False(t, l.DoseAt(0).Value.Valid())
		assert.Equal(t, study.Num(0), l.DoseAt(1).Value)
		assert.Equal(t, study.Num(275), l.DoseAt(3).Value)
		assert.Equal(t, len(events) == 0, l.DoseAt(3).Planned)
	}
}

// At one pull a coupon is read as found, rinsed, read, cleaned and read.
func TestCleanings(t *testing.T) {
	const clean, rinse = study.EventClean, study.EventRinse
	r := roster("rack", study.CouponEvent{Event: clean, Pull: at(1)}, study.CouponEvent{Event: rinse, Pull: at(1)},
		study.CouponEvent{Event: clean, Date: "2031-06-01", Dose: dose(3)}, study.CouponEvent{Event: clean, Date: "2031-07-09"},
		study.CouponEvent{Coupon: "K", Event: clean, Pull: at(2)})
	require.Empty(t, life.Check(r))
	lives := life.New(r)
	for _, c := range []struct {
		coupon          string
		pull            int
		condition       string
		cleaned, rinsed int
	}{
		{"E", 0, "cleaned", 0, 0}, {"E", 1, "as_found", 0, 0}, {"E", 1, "rinsed", 0, 1}, {"E", 1, "cleaned", 1, 1},
		{"E", 1, "", 1, 1}, {"E", 2, "as_found", 4, 1}, {"E", 2, "cleaned", 5, 1}, {"E", 3, "as_found", 5, 1},
		{"K", 1, "cleaned", 0, 0}, {"K", 2, "cleaned", 1, 0},
	} {
		cleaned, rinsed := lives.Of(c.coupon).Cleanings(c.pull, c.condition)
		assert.Equal(t, []int{c.cleaned, c.rinsed}, []int{cleaned, rinsed}, "%+v", c)
	}
}

// The end of a history, by pull and by date.
func TestEnd(t *testing.T) {
	for _, c := range []struct {
		name         string
		event        study.CouponEvent
		ended, after []bool // by pull
	}{
		{"by pull", study.CouponEvent{Event: study.EventBroken, Pull: at(2)}, []bool{false, false, true, true},
			[]bool{false, false, false, true}},
		{"between pulls", study.CouponEvent{Event: study.EventLost, Date: "2031-05-01"}, []bool{false, false, true, true},
			[]bool{false, false, true, true}},
		{"on the day of a pull", study.CouponEvent{Event: study.EventEnd, Date: "2031-07-09"},
			[]bool{false, false, true, true}, []bool{false, false, false, true}},
		{"after all pulls", study.CouponEvent{Event: study.EventEnd, Date: "2033-01-01"}, make([]bool, 4), make([]bool, 4)},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := roster("rack", c.event)
			require.Empty(t, life.Check(r))
			l := life.New(r).Of("E")
			require.NotNil(t, l.End())
			assert.Equal(t, c.event.Event, l.End().Event)
			for pull := range 4 {
				assert.Equal(t, c.ended[pull], l.EndedBy(pull), "pull %d", pull)
				assert.Equal(t, c.after[pull], l.After(pull), "pull %d", pull)
			}
		})
	}
	assert.Nil(t, life.New(roster("rack")).Of("E").End())
	assert.Nil(t, life.New(roster("rack")).Of("X"))
}

// Which exposure a coupon is in at a pull, and which pulls are planned for it.
func TestExposures(t *testing.T) {
	r := roster("chamber", study.CouponEvent{Event: study.EventStop, Pull: at(2)},
		study.CouponEvent{Event: study.EventStart, Pull: at(2), Exposure: "lamp"})
	require.Empty(t, life.Check(r))
	l := life.New(r).Of("E")
	assert.Equal(t, "chamber", l.ExposureAt(0))
	assert.Equal(t, "chamber", l.ExposureAt(2))
	assert.Equal(t, "lamp", l.ExposureAt(3))
	assert.Equal(t, []string{"chamber", "lamp"}, l.Exposures(4))
	assert.True(t, l.Plans(4))
	assert.False(t, l.Plans(5))
	assert.True(t, l.DoseAt(4).Several)
	assert.Len(t, l.Events(), 2)
}

func TestCheck(t *testing.T) {
	const clean, start, stop, transfer, broken = study.EventClean, study.EventStart, study.EventStop, study.EventTransfer,
		study.EventBroken
	for _, c := range []struct {
		name   string
		events []study.CouponEvent
		faults []string
	}{
		{"unknown coupon", []study.CouponEvent{{Coupon: "X", Event: clean, Pull: at(1)}}, []string{`there is no coupon "X"`}},
		{"pull not planned", []study.CouponEvent{{Event: clean, Pull: at(7)}, {Event: clean, Pull: at(8)}},
			[]string{"pull 7 is not planned", "pull 8 is not planned"}},
		{"before the baseline", []study.CouponEvent{{Event: clean, Date: "2031-01-01"}}, []string{"is before 2031-01-10"}},
		{"no time", []study.CouponEvent{{Event: broken}}, []string{"neither a pull nor a date"}},
		{"after the end", []study.CouponEvent{{Event: broken, Pull: at(1)}, {Event: clean, Pull: at(2)}},
			[]string{"ended before it: broken at pull 1"}},
		{"ended twice", []study.CouponEvent{{Event: broken, Date: "2031-05-01"}, {Event: study.EventLost, Pull: at(3)}},
			[]string{"ended before it: broken on 2031-05-01"}},
		{"a date of the next pull", []study.CouponEvent{{Event: clean, Pull: at(1), Date: "2031-07-09"}},
			[]string{"2031-07-09 is not before 2031-07-09, the day of pull 2"}},
		{"a date of the pull before", []study.CouponEvent{{Event: clean, Pull: at(2), Date: "2031-04-01"}},
			[]string{"is not after 2031-04-10, the day of pull 1"}},
		{"a dose that falls", []study.CouponEvent{{Event: start, Dose: dose(10)}, {Event: stop, Pull: at(1), Dose: dose(9)}},
			[]string{"its dose is below"}},
		{"out twice", []study.CouponEvent{{Event: start}, {Event: start, Pull: at(1)}}, []string{"is in exposure rack already"}},
		{"stopped twice", []study.CouponEvent{{Event: stop, Pull: at(1)}, {Event: stop, Pull: at(2)}},
			[]string{"in no exposure by then"}},
		{"transfer without a place", []study.CouponEvent{{Event: transfer, Pull: at(1)}}, []string{"into which exposure"}},
		{"transfer to where it is", []study.CouponEvent{{Event: transfer, Pull: at(1), Exposure: "rack"}},
			[]string{"is in exposure rack already"}},
		{"no such exposure", []study.CouponEvent{{Event: transfer, Pull: at(1), Exposure: "moon"}},
			[]string{`there is no exposure "moon"`}},
		{"another exposure", []study.CouponEvent{{Event: stop, Pull: at(1), Exposure: "roof"}}, []string{"in exposure rack by then"}},
		{"a control goes out", []study.CouponEvent{{Coupon: "K", Event: start}}, []string{"kept in the dark and is in no exposure"}},
		{"the dose of a control", []study.CouponEvent{{Coupon: "K", Event: broken, Pull: at(1), Dose: dose(3)}},
			[]string{"receives no dose"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			faults := life.Check(roster("rack", c.events...))
			require.Len(t, faults, len(c.faults))
			for i, f := range faults {
				assert.Contains(t, f.Fault, c.faults[i])
				assert.NotEmpty(t, f.Try)
			}
		})
	}
	// The lamp has no day for pull 4: who knows whether a day after pull 3 is before it?
	undated := life.Check(roster("lamp", study.CouponEvent{Event: broken, Date: "2031-06-01"}))
	require.Len(t, undated, 1)
	assert.Contains(t, undated[0].Fault, "pull 4 has no day")
	assert.Empty(t, life.Check(roster("lamp", study.CouponEvent{Event: clean, Date: "2031-05-01"})))

	// A control that goes with all: roof and rack plan pull 2 for July, the chamber for March.
	all := roster("rack", study.CouponEvent{Coupon: "K", Event: study.EventRinse, Date: "2031-07-09"})
	all.Coupons[1].Exposure = ""
	doubted := life.Check(all)
	require.Len(t, doubted, 1)
	assert.Contains(t, doubted[0].Fault, "exposures plan pull 2 on different days")
	assert.True(t, doubted[0].IsDoubt)
	_, rinsed := life.New(all).Of("K").Cleanings(2, "")
	assert.Equal(t, 1, rinsed, "where it is enrolled, it counts for the pull that some exposure plans for then")
	all.Lives[0].Pull = at(2)
	assert.Empty(t, life.Check(all), "as the remedy says")

	r := roster("rack", study.CouponEvent{Event: clean, Pull: at(0)})
	r.Coupons[0].BaselinePull = 1
	require.Len(t, life.Check(r), 1)
	assert.Contains(t, life.Check(r)[0].Fault, "before pull 1, with which the history of coupon E begins")
}

// The plan of a coupon is that of the exposure in which it is by then, from its baseline on; by hand from the table.
func TestPlan(t *testing.T) {
	words := func(r *study.Roster, coupon string) (all []string) {
		l := life.New(r).Of(coupon)
		for _, p := range l.Plan() {
			words := fmt.Sprintf("%d %s %g %s %s %s", p.Pull, p.Exposure, p.Dose, p.DoseUnit, p.Date, p.Protocol)
			if l.IsOut(p.Pull) {
				words += " out"
			}
			all = append(all, words)
		}
		return all
	}
	r := roster("chamber", study.CouponEvent{Event: study.EventStop, Pull: at(1)},
		study.CouponEvent{Event: study.EventStart, Pull: at(1)},
		study.CouponEvent{Event: study.EventTransfer, Pull: at(2), Exposure: "lamp"},
		study.CouponEvent{Event: study.EventStop, Pull: at(3)})
	r.Pulls[9].KeptProtocol = "heat@2"
	assert.Equal(t, []string{"0 chamber 0 hours 2031-01-10 ", "1 chamber 500 hours 2031-02-10 ",
		"2 chamber 1000 hours 2031-03-10 heat@2 out", "3 lamp 300 hours 2031-05-01 ", "4 lamp 600 hours  "}, words(r, "E"))

	late := roster("rack")
	late.Coupons[0].BaselinePull = 2
	assert.Equal(t, []string{"2 rack 180 days 2031-07-09 ", "3 rack 365 days 2032-01-10  out"}, words(late, "E"))

	// A control of no exposure goes with all: its days are the first ones of each pull.
	all := roster("rack")
	all.Coupons[1].Exposure = ""
	assert.Equal(t, []string{"0  0  2031-01-10 ", "1  0  2031-02-10 ", "2  0  2031-03-10 ", "3  0  2031-05-01 ", "4  0   "},
		words(all, "K"))
}

// A coupon whose end is stated with a pull is read at it once more; one that broke is not.
func TestOver(t *testing.T) {
	for kind, want := range map[study.EventKind][]bool{study.EventEnd: {false, false, true}, study.EventBroken: {false, true, true}} {
		l := life.New(roster("rack", study.CouponEvent{Event: kind, Pull: at(2)})).Of("E")
		assert.Equal(t, want, []bool{l.OverAt(1), l.OverAt(2), l.OverAt(3)}, kind)
		assert.Equal(t, []bool{false, true}, []bool{l.EndedBy(1), l.EndedBy(2)}, kind)
	}
	assert.False(t, life.New(roster("rack")).Of("E").OverAt(3))
}
