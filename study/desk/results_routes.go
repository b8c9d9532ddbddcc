package desk

import (
	"context"
	"slices"
	"sync"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/study/store"
)

// RoutesOptions say how the rows of all routes are made.
type RoutesOptions struct {
	Workers  int // jobs that are fitted at once; 0: one for each core
	Progress Progress

	// Keep says which rows are wanted, by their rows of the route that the study has; nil: all.
	Keep func(*study.Result) bool
}

// Routes hands a row for each spot of a coated coupon that was exposed, at each pull after its baseline, to yield: what each
// route makes of it. They are sorted by coupon, pull and spot, and all of one moment of the study. The fits by the
// route of the study are those that are stored. All others are made now and kept in memory; nothing is stored.
//
// A study whose readings are taken over the blank has no fits of sessions: its dark blanks cannot correct twice.
func (d *Desk) Routes(ctx context.Context, opt RoutesOptions, yield func(*ageing.RouteRow) error) error {
	var err error
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return err
	}
	return d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		routes := ageing.NewRoutes(roster)
		untrusted, err := distrusted(v, roster)
		if err != nil {
			return err
		}
		routes.DistrustSessions(untrusted)
		bridges, err := d.bridgesOf(ctx, v, roster, study.FollowedSolarT())
		if err != nil {
			return err
		}
		routes.SetBridges(bridges)
		other, err := d.otherFits(ctx, v, roster, opt)
		if err != nil {
			return err
		}
		err = byCoupon(v, roster, fitsOfRoles(v, study.Control), func(fits []*study.Fit) error {
			routes.AddControl(other.both(fits))
			return nil
		})
		if err != nil {
			return err
		}
		own := d.Settings().Correction
		exposed := func(yield func([]*study.Fit) error) error {
			return byCoupon(v, roster, fitsOfRoles(v, study.Exposed), yield)
		}
		rowsOf := func(fits []*study.Fit) []ageing.RouteRow { return routes.Rows(other.both(fits)) }
		return rowsInOrder(ctx, opt.Workers, exposed, rowsOf, func(r ageing.RouteRow) error {
			if row := r.Of(own); !(row.Pull > row.BaselinePull) || opt.Keep != nil && !opt.Keep(row) {
				return nil
			}
			return yield(&r)
		})
	})
}

// otherFits are the fits of a study that its route does not use: of single spots where it uses those of the joint fits
// of sessions, else those.
type otherFits struct {
	joint   bool // they are of joint fits
	fits    map[study.Unit]*study.Fit
	ownerOf func(*study.Fit) study.Owners
	coupons map[string]*study.Coupon
}

// otherFits makes these fits of the readings of a view.
func (d *Desk) otherFits(ctx context.Context, v *store.View, roster *study.Roster, opt RoutesOptions) (*otherFits,
	error) {
	o := &otherFits{joint: d.Settings().Correction != study.RouteSession, fits: map[study.Unit]*study.Fit{},
		ownerOf: roster.OwnersOf(), coupons: couponsByCode(roster)}
	if o.joint && d.Settings().OverBlank {
		return o, nil
	}
	units, err := v.Units()
	if err != nil {
		return nil, err
	}
	w, err := d.newWorkspace(roster, units, opt.Workers)
	if err != nil {
		return nil, err
	}
	w.together = o.joint
	var reading sync.Mutex // a view is of one goroutine at a time
	w.loadReadings = func(_ context.Context, u study.Unit) ([]study.Reading, error) {
		reading.Lock()
		defer reading.Unlock()
		return v.Readings(u)
	}
	jobs := w.jobs()
	w.innerWorkers = max(1, opt.Workers/max(1, len(jobs)))
	return o, inOrder(ctx, opt.Workers, slices.Values(jobs), w.fit, func(done fitOutcome) error {
		for _, f := range done.fits {
			o.fits[f.Unit] = f
		}
		if opt.Progress != nil {
			opt.Progress(len(o.fits), len(units))
		}
		return nil
	})
}

// both returns the fits of single spots and those of joint fits, of the units of some fits that are stored.
func (o *otherFits) both(stored []*study.Fit) (single, joint []*study.Fit) {
	other := make([]*study.Fit, len(stored))
	for i, f := range stored {
		other[i] = o.fits[f.Unit]
		if other[i] == nil {
			other[i] = o.without(f)
		}
		other[i].Sessions = f.Sessions
		owners := o.ownerOf(other[i])
		other[i].Errors.NameOwners(&owners)
	}
	if o.joint {
		return stored, other
	}
	return other, stored
}

// without returns what stands for the other fit of a unit that has none. That of a joint fit is the stored one,
// marked as one of no session.
func (o *otherFits) without(stored *study.Fit) *study.Fit {
	if !o.joint {
		return evaluate.NotEvaluated(o.coupons[stored.Coupon].Role, stored.Unit)
	}
	f := *stored
	f.Result.Flags = append(slices.Clone(f.Result.Flags), study.FlagNoSession)
	return &f
}
