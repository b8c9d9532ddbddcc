package desk

import (
	"cmp"
	"slices"

	"wane/study"
	"wane/study/life"
	"wane/study/store"
)

// pullPlan says which pulls are planned for each coupon, and how far the exposures are read.
type pullPlan struct {
	lives *life.Lives
	reads map[string]*store.CouponReads
	plans map[string][]life.Planned // by coupon, as far as they were asked for
	last  map[string]int            // by exposure, the last pull at which a coupon was read that is in it by then
}

// newPullPlan returns the plan of what was read. Coupons without an exposure go with all of them.
func newPullPlan(s *standing) *pullPlan {
	p := &pullPlan{lives: s.lives, reads: s.reads, plans: map[string][]life.Planned{}, last: map[string]int{}}
	for i := range s.roster.Coupons {
		code := s.roster.Coupons[i].Coupon
		last := s.lastRead(code)
		if last < 0 {
			continue
		}
		p.reach("", last)
		for _, planned := range p.of(code) {
			if planned.Pull <= last {
				p.reach(planned.Exposure, planned.Pull)
			}
		}
	}
	return p
}

func (p *pullPlan) reach(exposure string, pull int) {
	if before, known := p.last[exposure]; !known || pull > before {
		p.last[exposure] = pull
	}
}

// of returns the pulls that are planned for a coupon, rising, and those at which it was read all the same: as one of an
// exposure that it has left by then.
func (p *pullPlan) of(coupon string) []life.Planned {
	plan, known := p.plans[coupon]
	if known {
		return plan
	}
	of := p.lives.Of(coupon)
	plan = of.Plan()
	if r := p.reads[coupon]; r != nil {
		for i := range r.Pulls {
			n := r.Pulls[i].Pull
			at, there := slices.BinarySearchFunc(plan, n, func(p life.Planned, pull int) int { return cmp.Compare(p.Pull, pull) })
			if !there {
				plan = slices.Insert(plan, at, life.Planned{Pull: n, Exposure: of.ExposureAt(n), Dose: float64(study.Null())})
			}
		}
	}
	p.plans[coupon] = plan
	return plan
}

// begun reports whether a coupon of the exposure of a pull is read at it, or at a later one.
func (p *pullPlan) begun(planned *life.Planned) bool {
	last, known := p.last[planned.Exposure]
	return known && last >= planned.Pull
}
