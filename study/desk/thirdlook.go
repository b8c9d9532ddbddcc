package desk

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// The third look of the guards is at what was found of the films, after they were fitted. It
// compares the fits as they are, or would be, if it had never held anything; so what it
// holds does not depend on how often it was made, or in which order the readings came. Fits that
// it needs for that and that are not the current ones are made again, and not kept.

// thirdLook has the guards look at the fits, and holds the readings behind those that
// look exchanged. A reading that a person has judged keeps all of its spot from being held.
func (d *Desk) thirdLook(ctx context.Context) (*Looked, error) {
	look := func(g *guardRound, v *store.View) error { return g.atFits(ctx, d, v) }
	spots := func(n int) string { return fmt.Sprintf("what was found of %d spots", n) }
	return d.lookWith(ctx, func() *guardRound { return &guardRound{} }, look, spots)
}

// atFits finds what to hold, and what to release, by the fits.
func (g *guardRound) atFits(ctx context.Context, d *Desk, v *store.View) (err error) {
	g.view = v
	if g.last, _, _, err = v.Guarded(); err != nil {
		return err
	}
	if g.said, err = v.Standings(); err != nil {
		return err
	}
	g.found = g.last
	if g.roster, err = v.Roster(); err != nil {
		return err
	}
	as, held, err := v.Without(evaluate.GuardExchanged)
	if err != nil {
		return err
	}
	instead := map[study.Unit]*study.Fit{}
	if held {
		if instead, err = d.fitsIn(ctx, as, g.roster); err != nil {
			return err
		}
	}
	units, err := g.exchangedUnits(as, instead)
	if err != nil {
		return err
	}
	return g.holdUnits(as, units)
}

// fitsIn returns the fits that units would have in a view of the study as if something were not
// held, where they are not the current ones.
func (d *Desk) fitsIn(ctx context.Context, as *store.View, roster *study.Roster) (map[study.Unit]*study.Fit, error) {
	units, err := as.Units()
	if err != nil {
		return nil, err
	}
	b, err := d.newBench(roster, units, 1)
	if err != nil {
		return nil, err
	}
	b.load = func(_ context.Context, of study.Unit) ([]study.Reading, error) { return as.Readings(of) }
	fits := map[study.Unit]*study.Fit{}
	for _, job := range b.jobs() {
		if !job.stale() {
			continue
		}
		done, err := b.fit(ctx, 0, job)
		if err != nil {
			return nil, err
		}
		for _, f := range done.fits {
			fits[f.Unit] = f
		}
	}
	return fits, nil
}

// exchangedUnits returns the units that look exchanged, by the current fits or those instead
// of them.
func (g *guardRound) exchangedUnits(as *store.View, instead map[study.Unit]*study.Fit) (
	map[study.Unit]study.Concern, error) {
	third := evaluate.NewGuard(g.roster).NewThirdLook()
	judged, err := g.judgedUnits()
	if err != nil {
		return nil, err
	}
	err = as.Fits(func(f *study.Fit) error {
		if other := instead[f.Unit]; other != nil {
			f = other
		}
		third.Add(f, judged[f.Unit])
		g.looked++
		return nil
	}, study.Exposed, study.Control)
	units := map[study.Unit]study.Concern{}
	for _, u := range third.Found() {
		units[u.Unit] = u.Concern
	}
	return units, err
}

// judgedUnits returns the units of which a person has judged a reading.
func (g *guardRound) judgedUnits() (map[study.Unit]bool, error) {
	units := map[study.Unit]bool{}
	return units, g.view.ReviewedSince(0, func(m store.Marked) error {
		units[unitOf(&m.Place)] = true
		return nil
	})
}

// holdUnits finds what to hold of the readings that count in the units, and which holds of
// others to release.
func (g *guardRound) holdUnits(as *store.View, units map[study.Unit]study.Concern) error {
	now := map[int64][]study.Concern{}
	coupons := map[string]bool{}
	for u := range units {
		coupons[u.Coupon] = true
	}
	for c := range coupons {
		err := as.MarkedOf(c, func(m store.Marked) error {
			concern, ok := units[unitOf(&m.Place)]
			if ok && m.Standing == study.Counted && m.Guardable && m.Quantity == study.Reflectance {
				now[m.Number] = []study.Concern{concern}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	exchanged := func(h store.Kept[study.Hold]) bool { return h.Row.Guard == evaluate.GuardExchanged }
	for n, said := range g.said {
		if slices.ContainsFunc(said.Holds, exchanged) && now[n] == nil {
			now[n] = []study.Concern{}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(now)) {
		said := g.said[n]
		if len(said.Reviews) > 0 {
			continue
		}
		for _, h := range said.Holds {
			if !exchanged(h) {
				now[n] = append(now[n], h.Row.Concern)
			}
		}
		if err := g.tell(n, now[n]); err != nil {
			return err
		}
	}
	if len(g.found.Holds)+len(g.found.Releases) == 0 {
		g.looked = 0 // nothing is to be kept
	}
	return nil
}
