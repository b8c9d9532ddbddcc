package desk

import (
	"context"
	"math"
	"slices"

	"wane/study"
	"wane/study/ageing"
	"wane/study/life"
	"wane/study/store"
)

// ResultsOptions say how results are made.
type ResultsOptions struct {
	// Joint fits all pulls of each spot together, now, and takes values and changes from
	// that; nothing is stored.
	Joint bool

	// Keep says which rows are wanted; nil: all. Controls and pulls 0 enter the changes of
	// others also where they are not wanted themselves.
	Keep func(*study.Result) bool

	Coupon string // the one whose rows are wanted; empty: those of all

	Workers int // coupons whose rows are made at once; 0: one for each core

	AsOf int64 // the line of the log as of which the study is looked at; 0: the last one

	inLight map[study.Unit]*study.Fit // in place of the fits that are stored: see [Desk.ResultsInLight]
}

// Results hands one row for each coupon, pull and spot to yield, sorted by coupon,
// pull and spot, all of one moment of the study. It streams through: one coupon's
// fits are held at a time for each of a few goroutines, and the change of each control at each pull.
func (d *Desk) Results(ctx context.Context, opt ResultsOptions, yield func(*study.Result) error) error {
	return d.view(ctx, opt.AsOf, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		return d.results(ctx, v, roster, opt, yield)
	})
}

// results is Results of one moment.
func (d *Desk) results(ctx context.Context, v *store.View, roster *study.Roster, opt ResultsOptions,
	yield func(*study.Result) error) error {
	asTheyAre := func(rows [][]*study.Result) []*study.Result { return rows[0] }
	follows := []study.Followed{study.FollowedSolarT()}
	all := rowsOptions{ResultsOptions: opt}
	return rowsOfCoupons(ctx, d, v, roster, all, follows, asTheyAre, func(r *study.Result) error {
		if opt.Keep != nil && !opt.Keep(r) {
			return nil
		}
		return yield(r)
	})
}

// rowsOptions say of which coupons rows are made, and how.
type rowsOptions struct {
	ResultsOptions
	only []string // coupons, sorted; nil: all, or that of ResultsOptions, whose controls may be among them
}

// rowsOfCoupons hands what is made of the rows of each coupon to take, in the order of the coupons: of its rows with the
// changes of each quantity that is followed. of is called in several goroutines.
func rowsOfCoupons[Row any](ctx context.Context, d *Desk, v *store.View, roster *study.Roster,
	opt rowsOptions, follows []study.Followed, of func([][]*study.Result) []Row, take func(Row) error) error {
	few, able := roster, []string(nil) // controls that can correct the coupon
	if opt.Coupon != "" {
		able = controlsOf(roster, opt.Coupon)
		few = rosterOf(roster, append(able[:len(able):len(able)], opt.Coupon))
	}
	changes, err := d.changesOf(ctx, v, roster, few, follows)
	if err != nil {
		return err
	}
	if opt.inLight != nil { // in which no offset between instruments is known
		for _, c := range changes {
			c.SetBridges(nil)
		}
	}
	prepare := func(fits []*study.Fit) ([]*study.Fit, error) { return fits, nil }
	if opt.inLight != nil {
		ownersOf, coupons := few.OwnersOf(), couponsByCode(few)
		prepare = func(fits []*study.Fit) ([]*study.Fit, error) {
			return inLight(fits, opt.inLight, coupons, ownersOf), nil
		}
	}
	if opt.Joint {
		units, err := v.Units()
		if err != nil {
			return err
		}
		w, err := d.newWorkspace(roster, units, 1)
		if err != nil {
			return err
		}
		known, err := w.knownBySession(ctx, v)
		if err != nil {
			return err
		}
		prepare = func(fits []*study.Fit) ([]*study.Fit, error) { return w.fitPullsJointly(ctx, v, fits, known) }
	}
	controls, wanted := fitsOfRoles(v, study.Control), fitsOfRoles(v)
	switch {
	case opt.Coupon != "":
		controls, wanted = fitsOfCoupons(v, able), fitsOfCoupons(v, []string{opt.Coupon})
		if opt.only != nil {
			wanted = fitsOfCoupons(v, opt.only)
		}
	case opt.only != nil && 4*len(opt.only) <= 3*len(roster.Coupons): // one by one, each costs a little more
		wanted = fitsOfCoupons(v, opt.only)
	}
	err = byCoupon(v, few, controls, func(fits []*study.Fit) error {
		fits, err := prepare(fits)
		for _, c := range changes {
			c.AddControl(fits)
		}
		return err
	})
	if err != nil {
		return err
	}
	coupons := func(yield func([]*study.Fit) error) error {
		return byCoupon(v, few, wanted, func(fits []*study.Fit) error {
			fits, err := prepare(fits)
			if err != nil {
				return err
			}
			return yield(fits)
		})
	}
	made := func(fits []*study.Fit) []Row {
		rows := make([][]*study.Result, len(changes))
		for i, c := range changes {
			rows[i] = c.Rows(fits)
		}
		return of(rows)
	}
	return rowsInOrder(ctx, opt.Workers, coupons, made, take)
}

// changesOf returns the changes of each quantity, without controls; few is the roster of the coupons that they are of.
func (d *Desk) changesOf(ctx context.Context, v *store.View, roster, few *study.Roster,
	follows []study.Followed) ([]*ageing.Changes, error) {
	untrusted, err := distrusted(v, roster)
	if err != nil {
		return nil, err
	}
	changes := make([]*ageing.Changes, len(follows))
	for i, q := range follows {
		bridges, err := d.bridgesOf(ctx, v, roster, q)
		if err != nil {
			return nil, err
		}
		changes[i] = ageing.NewChanges(few, d.Settings().Correction)
		changes[i].Follow(q)
		changes[i].DistrustSessions(untrusted)
		changes[i].SetBridges(bridges)
	}
	return changes, nil
}

// rowsInOrder hands the rows that are made of the fits of each coupon to take, in the order of the coupons. Fits are read in
// one goroutine, rows made in as many as there are workers, and taken in this one; few coupons are held at a time.
func rowsInOrder[Row any](ctx context.Context, workers int, coupons func(yield func([]*study.Fit) error) error,
	rowsOf func([]*study.Fit) []Row, take func(Row) error) error {
	workers, err := countWorkers(workers)
	if err != nil {
		return err
	}
	var failed error // of reading
	read := func(yield func([]*study.Fit) bool) {
		failed = coupons(func(fits []*study.Fit) error {
			if !yield(fits) {
				return context.Canceled // by an error that inOrder returns
			}
			return nil
		})
	}
	make := func(_ context.Context, _ int, fits []*study.Fit) ([]Row, error) { return rowsOf(fits), nil }
	err = inOrderWithin(ctx, workers, couponsAhead*workers, read, make, func(rows []Row) error {
		for _, r := range rows {
			if err := take(r); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		err = failed
	}
	return err
}

// couponsAhead is how many coupons of each worker may wait for their rows to be taken.
const couponsAhead = 4

// eachFit hands fits to yield, those of a coupon one after the other.
type eachFit func(yield func(*study.Fit) error) error

// fitsOfRoles are the current fits of coupons of these roles; without roles those of all.
func fitsOfRoles(v *store.View, roles ...study.Role) eachFit {
	return func(yield func(*study.Fit) error) error { return v.Fits(yield, roles...) }
}

func fitsOfCoupons(v *store.View, coupons []string) eachFit {
	return func(yield func(*study.Fit) error) error { return v.FitsOf(coupons, yield) }
}

// rosterOf returns a roster with these of its coupons alone, so that nothing is made for all the others. What else is
// enrolled stays.
func rosterOf(roster *study.Roster, coupons []string) *study.Roster {
	few := *roster
	few.Coupons = make([]study.Coupon, 0, len(coupons))
	for i := range roster.Coupons {
		if slices.Contains(coupons, roster.Coupons[i].Coupon) {
			few.Coupons = append(few.Coupons, roster.Coupons[i])
		}
	}
	return &few
}

// controlsOf returns the controls that can correct a coupon, in the order of their codes.
func controlsOf(roster *study.Roster, coupon string) (controls []string) {
	of := life.New(rosterOf(roster, []string{coupon})).Of(coupon)
	if of == nil {
		return nil
	}
	with := append(of.Exposures(math.MaxInt), "")
	for i := range roster.Coupons {
		o := &roster.Coupons[i]
		if o.Role == study.Control && o.Coating == of.Coupon.Coating && slices.Contains(with, o.Exposure) {
			controls = append(controls, o.Coupon)
		}
	}
	return controls
}

// byCoupon hands fits to yield, all of one coupon at a time, with the sessions of those of several and the
// owners of their effects.
func byCoupon(v *store.View, roster *study.Roster, each eachFit, yield func([]*study.Fit) error) error {
	var fits []*study.Fit
	ownersOf := roster.OwnersOf()
	hand := func() error {
		if len(fits) == 0 {
			return nil
		}
		positions, err := v.Positions(fits[0].Coupon)
		if err != nil {
			return err
		}
		for _, f := range fits {
			f.Position = positions[f.Unit]
		}
		return yield(fits)
	}
	err := each(func(f *study.Fit) (err error) {
		if slices.Contains(f.Result.Flags, study.FlagSessions) {
			if f.Sessions, err = v.SessionsOf(f.Unit); err != nil {
				return err
			}
		}
		owners := ownersOf(f)
		f.Errors.NameOwners(&owners)
		if len(fits) > 0 && fits[0].Coupon != f.Coupon {
			if err := hand(); err != nil {
				return err
			}
			fits = nil
		}
		fits = append(fits, f)
		return nil
	})
	if err != nil {
		return err
	}
	return hand()
}
