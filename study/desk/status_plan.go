package desk

import (
	"slices"

	"wane/study"
)

// plannedPull is a pull as a coupon has it.
type plannedPull struct {
	number   int
	exposure string // empty of coupons that have none
	dose     float64
	date     string // ISO 8601, or empty
	begun    bool   // a coupon that goes with it is read at it, or at a later one
}

// pullPlan is the plan of pulls, by exposure. Coupons without an exposure, which go with all of
// them, have each pull once, on the first day that an exposure has it.
type pullPlan struct {
	units map[string]string // dose units by exposure
	pulls map[string][]plannedPull
}

func newPullPlan(roster *study.Roster) *pullPlan {
	p := &pullPlan{units: map[string]string{}, pulls: map[string][]plannedPull{}}
	for i := range roster.Exposures {
		p.units[roster.Exposures[i].Exposure] = roster.Exposures[i].DoseUnit
	}
	var all []plannedPull
	for _, r := range roster.Pulls {
		p.pulls[r.Exposure] = append(p.pulls[r.Exposure],
			plannedPull{number: r.Pull, exposure: r.Exposure, dose: r.Dose, date: r.Date})
		k := slices.IndexFunc(all, func(q plannedPull) bool { return q.number == r.Pull })
		if k < 0 {
			all = append(all, plannedPull{number: r.Pull, date: r.Date})
		} else if r.Date != "" && (all[k].date == "" || r.Date < all[k].date) {
			all[k].date = r.Date
		}
	}
	slices.SortFunc(all, func(a, b plannedPull) int { return a.number - b.number })
	p.pulls[""] = all
	return p
}

// of returns the pulls of a coupon, in their order: from its baseline on, and after it went into another
// exposure those of that.
func (p *pullPlan) of(c *study.Coupon, life []study.CouponEvent) (pulls []plannedPull) {
	for _, planned := range p.pulls[c.Exposure] {
		if planned.number >= c.BaselinePull {
			pulls = append(pulls, planned)
		}
	}
	for i := range life {
		e := &life[i]
		if e.Exposure == "" || e.Exposure == c.Exposure && len(pulls) > 0 && pulls[len(pulls)-1].exposure == e.Exposure {
			continue
		}
		pulls = slices.DeleteFunc(pulls, func(q plannedPull) bool { return comesAfter(q, e) })
		for _, planned := range p.pulls[e.Exposure] {
			if comesAfter(planned, e) && (len(pulls) == 0 || planned.number > pulls[len(pulls)-1].number) {
				pulls = append(pulls, planned)
			}
		}
	}
	return pulls
}

// comesAfter reports whether a pull comes after an event: by number where the event states one, else by day.
func comesAfter(p plannedPull, e *study.CouponEvent) bool {
	if e.Pull.Is {
		return p.number > int(e.Pull.Value)
	}
	return e.Date != "" && p.date > e.Date
}

// endOf returns how the life of a coupon had ended by a pull; empty if it had not. An end without a pull and
// a day is behind the last pull that was read.
func endOf(life []study.CouponEvent, p *plannedPull, lastRead int) string {
	for i := range life {
		e := &life[i]
		if !e.Event.Ends() {
			continue
		}
		ended := p.number > lastRead
		switch {
		case e.Pull.Is:
			ended = p.number >= int(e.Pull.Value)
		case e.Date != "" && p.date != "":
			ended = p.date >= e.Date
		}
		if ended {
			return string(e.Event)
		}
	}
	return ""
}

// begin finds out which pulls have begun: by the coupons of an exposure, and for those without one
// by all.
func (p *pullPlan) begin(s *standing) {
	last := map[string]int{}
	for i := range s.roster.Coupons {
		c := &s.roster.Coupons[i]
		pull := s.lastRead(c.Coupon)
		for _, exposure := range []string{c.Exposure, ""} {
			if before, known := last[exposure]; !known || pull > before {
				last[exposure] = pull
			}
		}
	}
	for exposure, pulls := range p.pulls {
		for i := range pulls {
			reached, known := last[exposure]
			pulls[i].begun = known && reached >= pulls[i].number
		}
	}
}
