package life

import (
	"cmp"
	"slices"
	"time"

	"wane/study"
)

// String writes a day as an ISO 8601 date.
func (d day) String() string { return time.Unix(int64(d)*24*60*60, 0).UTC().Format(time.DateOnly) }

// plan is what is planned and recorded of one exposure.
type plan struct {
	unit  string
	start day
	pulls []plannedPull // rising
	doses []dosed       // in the order of days
}

// plannedPull is a pull with its day, which may be unknown.
type plannedPull struct {
	pull        int
	day         day
	first, last day    // of those that exposures plan; of one exposure they are day
	date        string // the first day, ISO 8601; empty: not known
	dose        float64
	protocol    string // the version that it remembers
}

// dosed is what came in by the end of a day since the row before.
type dosed struct {
	day  day
	dose float64
}

// plans are those of all exposures by their names. Under "" is that of coupons which go with all: its pulls are those of
// any exposure, with the day on which all agree.
type plans map[string]*plan

func newPlans(roster *study.Roster) plans {
	all := plans{"": {start: noDay}}
	for i := range roster.Exposures {
		e := &roster.Exposures[i]
		all[e.Exposure] = &plan{unit: e.DoseUnit, start: dayOf(e.Start)}
	}
	for i := range roster.Pulls {
		p := &roster.Pulls[i]
		if of := all[p.Exposure]; of != nil && p.Exposure != "" {
			day := dayOf(p.Date)
			next := plannedPull{pull: p.Pull, day: day, first: day, last: day, dose: p.Dose, protocol: p.KeptProtocol}
			of.pulls = append(of.pulls, next)
			all[""].add(next)
		}
	}
	for i := range roster.Doses {
		d := &roster.Doses[i]
		if of := all[d.Exposure]; of != nil && dayOf(d.Date).known() {
			of.doses = append(of.doses, dosed{dayOf(d.Date), d.Value})
		}
	}
	for _, of := range all {
		slices.SortFunc(of.pulls, func(a, b plannedPull) int { return cmp.Compare(a.pull, b.pull) })
		slices.SortFunc(of.doses, func(a, b dosed) int { return cmp.Compare(a.day, b.day) })
		for i := range of.pulls {
			if p := &of.pulls[i]; p.first.known() {
				p.date = p.first.String()
			}
		}
	}
	return all
}

// add adds a pull of some exposure to those of coupons which go with all.
func (p *plan) add(next plannedPull) {
	next.dose, next.protocol = 0, ""
	i := slices.IndexFunc(p.pulls, func(o plannedPull) bool { return o.pull == next.pull })
	switch {
	case i < 0:
		p.pulls = append(p.pulls, next)
	case p.pulls[i].day != next.day:
		p.pulls[i].day = noDay
	}
	if i >= 0 && next.first.known() && (!p.pulls[i].first.known() || next.first < p.pulls[i].first) {
		p.pulls[i].first = next.first
	}
	if i >= 0 {
		p.pulls[i].last = max(p.pulls[i].last, next.last)
	}
}

// of returns the plan of an exposure; an empty one if there is none.
func (p plans) of(exposure string) *plan {
	if found := p[exposure]; found != nil {
		return found
	}
	return &plan{start: noDay}
}

func (p plans) known(exposure string) bool { return p[exposure] != nil }

// find returns a pull, nil if it is not planned.
func (p *plan) find(pull int) *plannedPull {
	i, found := slices.BinarySearchFunc(p.pulls, pull, func(o plannedPull, n int) int { return cmp.Compare(o.pull, n) })
	if !found {
		return nil
	}
	return &p.pulls[i]
}

func (p *plan) has(pull int) bool { return p.find(pull) != nil }

// day returns the day of a pull.
func (p *plan) day(pull int) day {
	if found := p.find(pull); found != nil {
		return found.day
	}
	return noDay
}

func (p *plan) numbers() (pulls []int) {
	for _, o := range p.pulls {
		pulls = append(pulls, o.pull)
	}
	return pulls
}

// doseAt returns the planned dose at a moment: that of its pull, else one between those of the pulls before and after, by
// the days. Before the start of the exposure and its first pull it is 0, after the last that of the last. ok is false if
// nothing says it.
func (p *plan) doseAt(m moment) (dose float64, ok bool) {
	if m.at {
		if found := p.find(m.pull); found != nil {
			return found.dose, true
		}
	}
	if !m.day.known() {
		return 0, false
	}
	if m.day < p.start {
		return 0, true
	}
	before, after := plannedPull{day: p.start}, plannedPull{day: noDay}
	for _, o := range p.pulls {
		switch {
		case !o.day.known():
		case o.day > m.day && !after.day.known():
			after = o
		case o.day <= m.day && o.day > before.day:
			before = o
		}
	}
	switch {
	case !before.day.known():
		return 0, after.day.known()
	case !after.day.known():
		return before.dose, true
	}
	share := float64(m.day-before.day) / float64(after.day-before.day)
	return before.dose + share*(after.dose-before.dose), true
}

// Planned is a pull that is planned for a coupon.
type Planned struct {
	Pull     int
	Exposure string  // in which the coupon is when it comes out; empty of one that goes with all
	Dose     float64 // as its exposure plans it
	DoseUnit string
	Date     string // ISO 8601, or empty; of a coupon that goes with all the first one that an exposure plans
	Protocol string // the version that the pull remembers, as damp-heat@1; or empty
}

// Plan returns the pulls that are planned for the coupon, rising: from its baseline on, each by the exposure in which
// the coupon is by then. What is planned after the end of its history is among them.
func (l *Life) Plan() (all []Planned) {
	pulls := l.Pulls()
	all = make([]Planned, 0, len(pulls))
	for _, n := range pulls {
		if n < l.Coupon.BaselinePull {
			continue
		}
		exposure := l.ExposureAt(n)
		of := l.plans.of(exposure)
		p := of.find(n)
		if p == nil {
			continue
		}
		all = append(all, Planned{Pull: n, Exposure: exposure, Dose: p.dose, DoseUnit: of.unit, Date: p.date,
			Protocol: p.protocol})
	}
	return all
}
