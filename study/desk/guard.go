package desk

import (
	"context"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// Guards look at a reading twice: as it is taken in, for what it tells by itself, and
// when the intake is done, for what it tells beside the others of its session and of its
// coupon. The second look is due as long as it has not been made: fit makes it too, so
// that an intake that was cut off lets nothing through. It is at all readings of the
// sessions that have new ones, so that little hangs on how an intake was cut up. A
// reading that a person has judged is not held again.

// guard has the guards look at what was taken in since they last did, and holds what is
// suspicious beside other readings.
func (d *Desk) guard(ctx context.Context) error {
	g := &guardRound{}
	err := d.store.View(ctx, g.look)
	if err != nil || g.upTo == g.last {
		return err
	}
	again, err := d.unitsBehind(ctx, g.held)
	if err != nil {
		return err
	}
	entry := d.entry("guard", fmt.Sprintf("looked at readings %d to %d; held by themselves: %d, beside others: %d", g.upTo+1, g.last, g.alone, len(g.held)))
	return d.store.Write(ctx, entry, func(tx *store.Tx) error {
		if _, err := tx.Guard(g.last, g.holds); err != nil {
			return err
		}
		return putFits(tx, again)
	})
}

// guardRound is one look of the guards at what is new.
type guardRound struct {
	upTo, last int64 // readings above upTo are new
	holds      []study.Hold
	held       []Judged // the readings of holds that were not held before, each once
	alone      int      // new readings that were held when they were taken in
	said       map[int64]store.Judged
}

// look finds what to hold.
func (g *guardRound) look(v *store.View) (err error) {
	if g.upTo, g.last, err = v.Guarded(); err != nil || g.upTo == g.last {
		return err
	}
	if g.said, err = v.Standings(); err != nil {
		return err
	}
	for n, s := range g.said {
		if n > g.upTo && s.Standing == study.Held {
			g.alone++
		}
	}
	roster, err := v.Roster()
	if err != nil {
		return err
	}
	guard := evaluate.NewGuard(roster)
	sessions, err := v.SessionsSince(g.upTo)
	if err != nil {
		return err
	}
	for _, name := range sessions {
		err := g.eachGathering(v, name, func(seen []evaluate.Seen) error {
			last, err := g.lastOf(v, name, seen)
			if err != nil {
				return err
			}
			holds, err := guard.Session(name, seen, last, func() ([]evaluate.Seen, error) { return g.historyOf(v, roster, name, seen) })
			g.holds = append(g.holds, holds...)
			return err
		})
		if err != nil {
			return err
		}
	}
	err = v.TwinsSince(g.upTo, func(t, other store.Twin) error {
		for _, pair := range [2][2]store.Twin{{t, other}, {other, t}} {
			if len(g.said[pair[0].Number].Reviews) == 0 {
				g.holds = append(g.holds, study.Hold{Reading: pair[0].Number, Concern: evaluate.TwinConcern(pair[1].Place, pair[1].Export)})
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return g.name(v)
}

// name fills in the readings that were not held before.
func (g *guardRound) name(v *store.View) error {
	known := map[int64]bool{}
	for _, h := range g.holds {
		if known[h.Reading] || g.said[h.Reading].Standing == study.Held {
			continue
		}
		known[h.Reading] = true
		j, err := judgedOf(v, h.Reading, g.said[h.Reading])
		if err != nil {
			return err
		}
		g.held = append(g.held, j)
	}
	return nil
}

// eachGathering hands to look the readings that are to be compared: all of a session
// together, and those that name none coupon by coupon.
func (g *guardRound) eachGathering(v *store.View, session string, look func([]evaluate.Seen) error) error {
	var seen []evaluate.Seen
	err := v.MarkedIn(session, func(m store.Marked) error {
		if !study.Specular(m.Geometry) {
			return nil // nothing that guards compare holds for it
		}
		if session == "" && len(seen) > 0 && seen[0].Coupon != m.Coupon {
			if err := g.lookAtNew(seen, look); err != nil {
				return err
			}
			seen = seen[:0]
		}
		seen = append(seen, g.seen(m))
		return nil
	})
	if err != nil {
		return err
	}
	return g.lookAtNew(seen, look)
}

// lookAtNew looks if something is new.
func (g *guardRound) lookAtNew(seen []evaluate.Seen, look func([]evaluate.Seen) error) error {
	if !slices.ContainsFunc(seen, func(s evaluate.Seen) bool { return s.Number > g.upTo }) {
		return nil
	}
	return look(seen)
}

// seen is a reading as the guards see it: one that may be held.
func (g *guardRound) seen(m store.Marked) evaluate.Seen {
	return evaluate.Seen{Number: m.Number, Place: m.Place, Session: m.Session, Traits: m.Traits, Standing: m.Standing,
		New: m.Guardable && len(g.said[m.Number].Reviews) == 0}
}

// lastOf returns what was last read before, in other sessions, at each spot of a session.
func (g *guardRound) lastOf(v *store.View, session string, seen []evaluate.Seen) (last []evaluate.Seen, err error) {
	if session == "" {
		return nil, nil
	}
	type at struct {
		coupon string
		pull   int
	}
	spots := map[at]map[string]bool{} // of each coupon and pull of the session
	var order []at
	for i := range seen {
		k := at{seen[i].Coupon, seen[i].Pull}
		if spots[k] == nil {
			spots[k], order = map[string]bool{}, append(order, k)
		}
		spots[k][seen[i].Spot] = true
	}
	for _, k := range order {
		for pull := k.pull; pull >= 0 && len(spots[k]) > 0; {
			found := map[string]bool{}
			pull, err = v.MarkedBefore(k.coupon, pull, func(m store.Marked) error {
				if spots[k][m.Spot] && m.Session != session && m.Standing == study.Counted {
					last, found[m.Spot] = append(last, g.seen(m)), true
				}
				return nil
			})
			if err != nil {
				return nil, err
			}
			for spot := range found {
				delete(spots[k], spot)
			}
		}
	}
	return last, nil
}

// historyOf returns all that was read in other sessions of the coupons of a session, and
// of the coated ones that were not read in it though they belong to an exposure of those
// that were: a name of the session may be on one of them.
func (g *guardRound) historyOf(v *store.View, roster *study.Roster, session string, seen []evaluate.Seen) (history []evaluate.Seen, err error) {
	var coupons []string
	known, with := couponsByCode(roster), map[string]bool{"": true}
	for i := range seen {
		coupons = append(coupons, seen[i].Coupon)
		if c := known[seen[i].Coupon]; c != nil {
			with[c.Exposure] = true
		}
	}
	for i := range roster.Coupons {
		if c := &roster.Coupons[i]; c.Role.Coated() && with[c.Exposure] {
			coupons = append(coupons, c.Coupon)
		}
	}
	slices.Sort(coupons)
	for _, c := range slices.Compact(coupons) {
		err := v.MarkedOf(c, func(m store.Marked) error {
			if m.Session != session && study.Specular(m.Geometry) {
				history = append(history, g.seen(m))
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return history, nil
}
