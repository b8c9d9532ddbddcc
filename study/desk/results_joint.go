package desk

import (
	"context"
	"errors"
	"slices"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// known fits the sessions of a study that corrects by them, for what each says of its
// spots' lives.
func (b *fitWorkspace) knownBySession(ctx context.Context, v *store.View) (map[string]*evaluate.SessionKnowledge, error) {
	if b.desk.Settings().Correction != study.RouteSession {
		return nil, nil
	}
	all := map[string]*evaluate.SessionKnowledge{}
	for _, job := range b.jobs() {
		if job.session == "" {
			continue
		}
		var sittings []evaluate.SessionUnit
		for _, u := range job.units {
			e, err := b.evaluator(0, b.coupons[u.Coupon], job.session)
			var refused *study.Refusal
			if errors.As(err, &refused) {
				continue // its rows say that they are not evaluated
			}
			if err != nil {
				return nil, err
			}
			readings, err := b.readingsToFit(u.Unit, job.session, v.Readings)
			if errors.As(err, &refused) {
				continue
			}
			if err != nil {
				return nil, err
			}
			sittings = append(sittings, evaluate.SessionUnit{Evaluator: e, Coupon: b.coupons[u.Coupon], Unit: u.Unit, Readings: readings})
		}
		if len(sittings) == 0 {
			continue
		}
		known, err := evaluate.LearnSession(ctx, job.session, sittings, 1)
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
func (b *fitWorkspace) fitLives(ctx context.Context, v *store.View, fits []*study.Fit, known map[string]*evaluate.SessionKnowledge) ([]*study.Fit, error) {
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
		var sittings []evaluate.SessionUnit
		var own []*study.Fit
		var joined []int // their positions
		for _, i := range at[p] {
			out[i] = evaluate.MarkNotJoint(fits[i]) // unless it is joined
			s, err := b.newSitting(v, fits[i])
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
		joint, err := evaluate.JointPulls(ctx, sittings, own, known)
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
func (b *fitWorkspace) newSitting(v *store.View, f *study.Fit) (*evaluate.SessionUnit, error) {
	if slices.Contains(f.Result.Flags, study.FlagSessions) {
		return nil, nil
	}
	session, coupon := f.Session, b.coupons[f.Coupon]
	if coupon == nil {
		return nil, b.desk.missingCoupon(f.Coupon)
	}
	var refused *study.Refusal
	e, err := b.evaluator(0, coupon, session)
	if err == nil {
		var readings []study.Reading
		if readings, err = b.readingsToFit(f.Unit, session, v.Readings); err == nil && evaluate.FromOneSession(readings) {
			return &evaluate.SessionUnit{Evaluator: e, Coupon: coupon, Unit: f.Unit, Readings: readings}, nil
		}
	}
	if errors.As(err, &refused) {
		err = nil
	}
	return nil, err
}
