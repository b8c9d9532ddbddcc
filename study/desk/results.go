package desk

import (
	"context"
	"errors"
	"slices"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/study/store"
)

// ResultsOptions say how results are made.
type ResultsOptions struct {
	// Joint fits all pulls of each spot together, now, and takes values and changes from
	// that; nothing is stored.
	Joint bool
}

// Results hands one row for each coupon, pull and spot to yield, sorted by coupon,
// pull and spot, all of one moment of the study. It streams through: one coupon's
// fits are held at a time, and one number for each control and pull.
func (d *Desk) Results(ctx context.Context, opt ResultsOptions, yield func(*study.Result) error) error {
	return d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		book := ageing.NewBook(roster, d.Settings().Correction)
		not, err := distrusted(v, roster)
		if err != nil {
			return err
		}
		book.Distrust(not)
		prepare := func(fits []*study.Fit) ([]*study.Fit, error) { return fits, nil }
		if opt.Joint {
			units, err := v.Units()
			if err != nil {
				return err
			}
			b, err := d.newBench(roster, units, 1)
			if err != nil {
				return err
			}
			known, err := b.known(ctx, v)
			if err != nil {
				return err
			}
			prepare = func(fits []*study.Fit) ([]*study.Fit, error) { return b.lives(ctx, v, fits, known) }
		}
		err = byCoupon(v, func(fits []*study.Fit) error {
			fits, err := prepare(fits)
			book.AddControl(fits)
			return err
		}, study.Control)
		if err != nil {
			return err
		}
		return byCoupon(v, func(fits []*study.Fit) error {
			if err := addSessions(v, fits); err != nil {
				return err
			}
			fits, err := prepare(fits)
			if err != nil {
				return err
			}
			for _, r := range book.Rows(fits) {
				if err := yield(r); err != nil {
					return err
				}
			}
			return nil
		})
	})
}

// known fits the sessions of a study that corrects by them, for what each says of its
// spots' lives.
func (b *bench) known(ctx context.Context, v *store.View) (map[string]*evaluate.Known, error) {
	if b.desk.Settings().Correction != study.RouteSession {
		return nil, nil
	}
	all := map[string]*evaluate.Known{}
	for _, job := range b.jobs() {
		if job.session == "" {
			continue
		}
		var sittings []evaluate.Sitting
		for _, u := range job.units {
			e, err := b.evaluator(0, b.coupons[u.Coupon], job.session)
			var refused *study.Refusal
			if errors.As(err, &refused) {
				continue // its rows say that they are not evaluated
			}
			if err != nil {
				return nil, err
			}
			readings, err := b.readings(u.Unit, job.session, v.Readings)
			if errors.As(err, &refused) {
				continue
			}
			if err != nil {
				return nil, err
			}
			sittings = append(sittings, evaluate.Sitting{Evaluator: e, Coupon: b.coupons[u.Coupon], Unit: u.Unit, Readings: readings})
		}
		if len(sittings) == 0 {
			continue
		}
		known, err := evaluate.KnownOf(ctx, job.session, sittings, 1)
		if err != nil {
			return nil, err
		}
		all[job.session] = known
	}
	return all, nil
}

// lives returns the fits of one coupon with those of each spot and condition that was
// read at several pulls replaced by those of a joint fit. Of those that could not be
// fitted together each says so.
func (b *bench) lives(ctx context.Context, v *store.View, fits []*study.Fit, known map[string]*evaluate.Known) ([]*study.Fit, error) {
	type place struct{ spot, condition string }
	var order []place
	at := map[place][]int{}
	for i, f := range fits {
		p := place{f.Spot, f.Condition}
		if at[p] == nil {
			order = append(order, p)
		}
		at[p] = append(at[p], i)
	}
	out := slices.Clone(fits)
	for _, p := range order {
		if len(at[p]) < 2 {
			continue
		}
		var sittings []evaluate.Sitting
		var own []*study.Fit
		var joined []int // their positions
		for _, i := range at[p] {
			out[i] = evaluate.NotJoint(fits[i]) // unless it is joined
			s, err := b.sitting(v, fits[i])
			if err != nil {
				return nil, err
			}
			if s != nil {
				joined, sittings, own = append(joined, i), append(sittings, *s), append(own, fits[i])
			}
		}
		if len(sittings) < 2 {
			continue
		}
		joint, err := evaluate.Life(ctx, sittings, own, known)
		if err != nil {
			return nil, err
		}
		for k, i := range joined {
			out[i] = joint[k]
		}
	}
	return out, nil
}

// sitting returns what a fit is made anew from, nil if its readings cannot be evaluated, come
// from several sessions, or are all held or set aside.
func (b *bench) sitting(v *store.View, f *study.Fit) (*evaluate.Sitting, error) {
	if slices.Contains(f.Result.Flags, study.FlagSessions) {
		return nil, nil
	}
	session, coupon := f.Session, b.coupons[f.Coupon]
	if coupon == nil {
		return nil, b.desk.noRow(f.Coupon)
	}
	var refused *study.Refusal
	e, err := b.evaluator(0, coupon, session)
	if err == nil {
		var readings []study.Reading
		if readings, err = b.readings(f.Unit, session, v.Readings); err == nil && evaluate.OneSession(readings) {
			return &evaluate.Sitting{Evaluator: e, Coupon: coupon, Unit: f.Unit, Readings: readings}, nil
		}
	}
	if errors.As(err, &refused) {
		err = nil
	}
	return nil, err
}

// addSessions fills in the sessions of fits of several.
func addSessions(v *store.View, fits []*study.Fit) (err error) {
	for _, f := range fits {
		if err == nil && slices.Contains(f.Result.Flags, study.FlagSessions) {
			f.Sessions, err = v.SessionsOf(f.Unit)
		}
	}
	return err
}

// byCoupon hands the current fits to yield, all of one coupon at a time. Without
// roles they are those of all coupons.
func byCoupon(v *store.View, yield func([]*study.Fit) error, roles ...study.Role) error {
	var fits []*study.Fit
	err := v.Fits(func(f *study.Fit) error {
		if len(fits) > 0 && fits[0].Coupon != f.Coupon {
			if err := yield(fits); err != nil {
				return err
			}
			fits = nil
		}
		fits = append(fits, f)
		return nil
	}, roles...)
	if err != nil || len(fits) == 0 {
		return err
	}
	return yield(fits)
}
