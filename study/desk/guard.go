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
// that an intake that was cut off lets nothing through.

// guard has the guards look at what was taken in since they last did, and holds what is
// suspicious beside other readings.
func (d *Desk) guard(ctx context.Context) error {
	var holds []study.Hold
	var upTo, last int64
	err := d.store.View(ctx, func(v *store.View) (err error) {
		if upTo, last, err = v.Guarded(); err != nil || upTo == last {
			return err
		}
		holds, err = findHolds(v, upTo)
		return err
	})
	if err != nil || upTo == last {
		return err
	}
	entry := d.entry("guard", "")
	return d.store.Write(ctx, entry, func(tx *store.Tx) error {
		n, err := tx.Guard(last, holds)
		entry.Summary = fmt.Sprintf("looked at readings %d to %d beside the others, held %d", upTo+1, last, n)
		return err
	})
}

// findHolds looks at the readings above a number.
func findHolds(v *store.View, above int64) (holds []study.Hold, err error) {
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	g := evaluate.NewGuard(roster)
	sessions, err := v.SessionsSince(above)
	if err != nil {
		return nil, err
	}
	for _, name := range sessions {
		look := func(seen []evaluate.Seen) error {
			history, err := historyOf(v, name, seen)
			holds = append(holds, g.Session(name, seen, history)...)
			return err
		}
		if err := eachGathering(v, name, above, look); err != nil {
			return nil, err
		}
	}
	err = v.TwinsSince(above, func(t, other store.Twin) error {
		holds = append(holds, study.Hold{Reading: t.Number, Concern: evaluate.TwinConcern(other.Place, other.Export)})
		return nil
	})
	return holds, err
}

// eachGathering hands to look the readings that are to be compared: all of a session
// together, and those that name none coupon by coupon.
func eachGathering(v *store.View, session string, above int64, look func([]evaluate.Seen) error) error {
	var seen []evaluate.Seen
	err := v.MarkedIn(session, func(m store.Marked) error {
		if session == "" && len(seen) > 0 && seen[0].Coupon != m.Coupon {
			if err := lookAtNew(seen, look); err != nil {
				return err
			}
			seen = seen[:0]
		}
		seen = append(seen, seenOf(m, above))
		return nil
	})
	if err != nil {
		return err
	}
	return lookAtNew(seen, look)
}

// lookAtNew looks if something is new.
func lookAtNew(seen []evaluate.Seen, look func([]evaluate.Seen) error) error {
	if !slices.ContainsFunc(seen, func(s evaluate.Seen) bool { return s.New }) {
		return nil
	}
	return look(seen)
}

func seenOf(m store.Marked, above int64) evaluate.Seen {
	return evaluate.Seen{Number: m.Number, Place: m.Place, Session: m.Session, Traits: m.Traits, Standing: m.Standing, New: m.Guardable && m.Number > above}
}

// historyOf returns what else was read of the coupons of a session.
func historyOf(v *store.View, session string, seen []evaluate.Seen) (history []evaluate.Seen, err error) {
	if session == "" {
		return nil, nil
	}
	var coupons []string
	for i := range seen {
		coupons = append(coupons, seen[i].Coupon)
	}
	slices.Sort(coupons)
	for _, c := range slices.Compact(coupons) {
		err := v.MarkedOf(c, func(m store.Marked) error {
			if m.Session != session {
				history = append(history, seenOf(m, m.Number))
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return history, nil
}
