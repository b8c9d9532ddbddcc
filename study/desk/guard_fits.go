package desk

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"wane/study"
	"wane/study/guard"
	"wane/study/store"
)

// The third look of the guards is at what was found of the films, after they were fitted. It
// compares the fits as they are, or would be, if it had never held anything; so what it
// holds does not depend on how often it was made, or in which order the readings came. Fits that
// it needs for that and that are not the current ones are made again, and not kept.
//
// Readings that it holds are no history of later pulls, so that what it holds, or holds no more,
// has the guards compare the coupons at later pulls with their history once more, in the same
// look. If that releases a reading, there is more to fit and to look at: see lookAndFit.

// lookAndFit has the guards look at what was found, and fits what that makes stale, until nothing
// changes. What is held at a pull depends on that pull and on earlier ones, so that each turn
// settles one pull at least.
func (d *Desk) guardAndRefit(ctx context.Context, workers int, out *Fitted) error {
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return err
	}
	for range len(roster.Pulls) + 1 {
		third, err := d.guardFits(ctx)
		if err != nil || len(third.Held)+len(third.Released) == 0 {
			return err
		}
		out.Looked = out.Looked.followedBy(third)
		again, err := d.fitStale(ctx, FitOptions{Workers: workers})
		if again != nil {
			out.Refused = append(out.Refused, again.Refused...)
			out.Sessions = append(out.Sessions, again.Sessions...)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// thirdLook has the guards look at the fits, and holds the readings behind those that
// look exchanged. A reading that a person has judged keeps all of its spot from being held.
func (d *Desk) guardFits(ctx context.Context) (*Looked, error) {
	look := func(g *guardRun, v *store.View) error { return g.checkFits(ctx, d, v) }
	spots := func(n int) string { return fmt.Sprintf("what was found of %d spots", n) }
	return d.runUntilFresh(ctx, func() *guardRun { return &guardRun{} }, look, spots)
}

// atFits finds what to hold, and what to release, by the fits, and by the readings of later
// pulls that this touches.
func (g *guardRun) checkFits(ctx context.Context, d *Desk, v *store.View) error {
	if _, _, err := g.load(v); err != nil || g.roster == nil {
		return err
	}
	g.toStore = g.lastLook
	as, held, err := v.Without(guard.Exchanged)
	if err != nil {
		return err
	}
	instead := map[study.Unit]*study.Fit{}
	if held {
		if instead, err = d.fitsAsIf(ctx, as, g.roster); err != nil {
			return err
		}
	}
	units, spots, err := g.findExchanged(as, instead)
	if err != nil {
		return err
	}
	for _, step := range []func() error{func() error { return g.noteExchanged(as, units) }, g.compareWithHistory, g.compareWithStandings} {
		if err := step(); err != nil {
			return err
		}
	}
	if g.readingsSeen = spots; len(g.toStore.Holds)+len(g.toStore.Releases) == 0 {
		g.readingsSeen = 0 // nothing is to be kept
	}
	return nil
}

// fitsIn returns the fits that units would have in a view of the study as if something were not
// held, where they are not the current ones.
func (d *Desk) fitsAsIf(ctx context.Context, as *store.View, roster *study.Roster) (map[study.Unit]*study.Fit, error) {
	units, err := as.Units()
	if err != nil {
		return nil, err
	}
	b, err := d.newWorkspace(roster, units, 1)
	if err != nil {
		return nil, err
	}
	b.loadReadings = func(_ context.Context, of study.Unit) ([]study.Reading, error) { return as.Readings(of) }
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
// of them, and the number of spots that were compared.
func (g *guardRun) findExchanged(as *store.View, instead map[study.Unit]*study.Fit) (
	units map[study.Unit]study.Concern, spots int, err error) {
	third := g.guard.NewFilmComparison()
	judged, err := g.judgedUnits()
	if err != nil {
		return nil, 0, err
	}
	err = as.Fits(func(f *study.Fit) error {
		if other := instead[f.Unit]; other != nil {
			f = other
		}
		third.Add(f, judged[f.Unit])
		spots++
		return nil
	}, study.Exposed, study.Control)
	units = map[study.Unit]study.Concern{}
	for _, u := range third.Found() {
		units[u.Unit] = u.Concern
	}
	return units, spots, err
}

// judgedUnits returns the units of which a person has judged a reading.
func (g *guardRun) judgedUnits() (map[study.Unit]bool, error) {
	units := map[study.Unit]bool{}
	return units, g.view.ReviewedSince(0, func(m store.Marked) error {
		units[unitOf(&m.Place)] = true
		return nil
	})
}

// claimFound notes what the third look says now of the readings that count in the units, and that it
// says nothing any more of others that it held. Readings that a person has judged stay as they are.
func (g *guardRun) noteExchanged(as *store.View, units map[study.Unit]study.Concern) error {
	coupons := map[string]bool{}
	for u := range units {
		coupons[u.Coupon] = true
	}
	held := func(h store.Kept[study.Hold]) bool { return h.Row.Guard == guard.Exchanged }
	for n, said := range g.standings {
		if !slices.ContainsFunc(said.Holds, held) {
			continue
		}
		m, _, err := g.view.Marked(n)
		if err != nil {
			return err
		}
		if m != nil {
			coupons[m.Coupon] = true
		}
	}
	for _, coupon := range slices.Sorted(maps.Keys(coupons)) {
		err := as.MarkedOf(coupon, func(m store.Marked) error {
			said := g.standings[m.Number]
			if len(said.Reviews) > 0 {
				return nil
			}
			concern, ok := units[unitOf(&m.Place)]
			if ok && m.Standing == study.Counted && m.Guardable && m.Quantity == study.Reflectance {
				return g.changeConcerns(&m, func(c *guardConcerns) { c.exchanged = []study.Concern{concern} })
			}
			if !slices.ContainsFunc(said.Holds, held) {
				return nil
			}
			return g.changeConcerns(&m, func(c *guardConcerns) { c.exchanged = nil })
		})
		if err != nil {
			return err
		}
	}
	return nil
}
