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

// Stage 4 of the guards checks the films that were found, after a fit. It compares the fits as they
// would be if it had never held anything. So what it holds depends neither on how often it ran nor
// on the order of the readings. Where such a fit is not the current one, it is made for this
// comparison and not stored.
//
// A reading that stage 4 holds is no history for later pulls. So after it holds or releases a reading,
// the same run compares the coupons at later pulls with their history again. If that releases a
// reading, there is more to fit and to check: see guardAndRefit.

// guardAndRefit runs stage 4 and fits what it makes stale, until nothing changes. What is held at a
// pull depends on that pull and on earlier ones, so that each turn settles at least one pull.
func (d *Desk) guardAndRefit(ctx context.Context, workers int, out *Fitted) error {
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return err
	}
	for range len(roster.Pulls) + 1 {
		changes, err := d.guardFits(ctx)
		if err != nil || len(changes.Held)+len(changes.Released) == 0 {
			return err
		}
		out.Guards = out.Guards.followedBy(changes)
		again, err := d.fitStale(ctx, FitOptions{Workers: workers})
		if again != nil {
			out.Refused = append(out.Refused, again.Refused...)
			out.replaceSessions(again.Sessions)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// guardFits runs stage 4: it holds the readings of coupons whose films seem to be exchanged. If a person
// has judged a reading of a spot, no reading of that spot is held.
func (d *Desk) guardFits(ctx context.Context) (*GuardChanges, error) {
	check := func(g *guardRun, v *store.View) error { return g.checkFits(ctx, d, v) }
	spots := func(n int) string { return fmt.Sprintf("what was found of %d spots", n) }
	return d.runUntilFresh(ctx, func() *guardRun { return &guardRun{tookIn: d.tookIn()} }, check, spots)
}

// checkFits finds what to hold and what to release: by the fits, and by the readings of later pulls
// that this concerns.
func (g *guardRun) checkFits(ctx context.Context, d *Desk, v *store.View) error {
	if _, _, err := g.load(v); err != nil || g.roster == nil {
		return err
	}
	g.toStore = g.lastRun
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
	if err := g.noteExchanged(as, units); err != nil {
		return err
	}
	if err := g.compareWithHistory(); err != nil {
		return err
	}
	if err := g.compareWithStandings(); err != nil {
		return err
	}
	if g.seen = spots; len(g.toStore.Holds)+len(g.toStore.Releases) == 0 {
		g.seen = 0 // nothing is to be kept
	}
	return nil
}

// fitsAsIf returns the fits that units would have in as, a view of the study in which some readings are
// not held, where they are not the current fits.
func (d *Desk) fitsAsIf(ctx context.Context, as *store.View, roster *study.Roster) (map[study.Unit]*study.Fit, error) {
	units, err := as.Units()
	if err != nil {
		return nil, err
	}
	w, err := d.newWorkspace(roster, units, 1)
	if err != nil {
		return nil, err
	}
	w.loadReadings = func(_ context.Context, of study.Unit) ([]study.Reading, error) { return as.Readings(of) }
	fits := map[study.Unit]*study.Fit{}
	for _, job := range w.jobs() {
		if !job.stale() {
			continue
		}
		done, err := w.fit(ctx, 0, job)
		if err != nil {
			return nil, err
		}
		for _, f := range done.fits {
			fits[f.Unit] = f
		}
	}
	return fits, nil
}

// findExchanged returns the units whose coupons seem to be exchanged, by the current fits or by those that
// stand instead of them. spots is the number of spots that were compared.
func (g *guardRun) findExchanged(
	as *store.View, instead map[study.Unit]*study.Fit,
) (units map[study.Unit]study.Concern, spots int, err error) {
	films := g.guard.NewFilmComparison()
	judged, err := g.judgedUnits()
	if err != nil {
		return nil, 0, err
	}
	err = as.Fits(func(f *study.Fit) error {
		if other := instead[f.Unit]; other != nil {
			f = other
		}
		films.Add(f, judged[f.Unit])
		spots++
		return nil
	}, study.Exposed, study.Control)
	units = map[study.Unit]study.Concern{}
	for _, u := range films.Found() {
		units[u.Unit] = u.Concern
	}
	return units, spots, err
}

// judgedUnits returns the units of which a person has judged a reading.
func (g *guardRun) judgedUnits() (map[study.Unit]bool, error) {
	units := map[study.Unit]bool{}
	return units, g.view.ReviewedSince(0, func(m store.ReadingHeader) error {
		units[unitOf(&m.Place)] = true
		return nil
	})
}

// noteExchanged notes what stage 4 says now of the readings that count in the units, and that it says
// nothing of other readings that it held. Readings that a person has judged stay as they are.
func (g *guardRun) noteExchanged(as *store.View, units map[study.Unit]study.Concern) error {
	coupons := map[string]bool{}
	for u := range units {
		coupons[u.Coupon] = true
	}
	isExchanged := func(h store.Kept[study.Hold]) bool { return h.Row.Guard == guard.Exchanged }
	for n, judged := range g.standings {
		if !slices.ContainsFunc(judged.Holds, isExchanged) {
			continue
		}
		m, _, err := g.view.ReadingHeader(n)
		if err != nil {
			return err
		}
		if m != nil {
			coupons[m.Coupon] = true
		}
	}
	for _, coupon := range slices.Sorted(maps.Keys(coupons)) {
		err := as.HeadersOf(coupon, func(m store.ReadingHeader) error {
			judged := g.standings[m.Number]
			if len(judged.Reviews) > 0 {
				return nil
			}
			concern, ok := units[unitOf(&m.Place)]
			if ok && m.Standing == study.Counted && m.Guardable && m.Quantity == study.Reflectance {
				return g.changeConcerns(&m, func(c *guardConcerns) { c.exchanged = []study.Concern{concern} })
			}
			if !slices.ContainsFunc(judged.Holds, isExchanged) {
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
