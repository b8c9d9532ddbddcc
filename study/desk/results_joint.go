package desk

import (
	"context"
	"errors"
	"slices"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// knownBySession fits the sessions of a study that corrects by them. What it finds of each session enters
// the joint fits of the spots that were read in it.
func (w *fitWorkspace) knownBySession(
	ctx context.Context, v *store.View,
) (map[string]*evaluate.SessionKnowledge, error) {
	if w.settings.Correction != study.RouteSession {
		return nil, nil
	}
	all := map[string]*evaluate.SessionKnowledge{}
	for _, job := range w.jobs() {
		if job.session == "" {
			continue
		}
		var sessionUnits []evaluate.SessionUnit
		for _, u := range job.units {
			e, err := w.evaluator(0, u.Unit, job.session)
			var refused *study.Refusal
			if errors.As(err, &refused) {
				continue // its rows say that they are not evaluated
			}
			if err != nil {
				return nil, err
			}
			readings, err := w.readingsToFit(u.Unit, job.session, v.Readings)
			if errors.As(err, &refused) {
				continue
			}
			if err != nil {
				return nil, err
			}
			before, err := w.blankBefore(0, u, v.Readings)
			if err != nil {
				return nil, err
			}
			sessionUnits = append(sessionUnits, evaluate.SessionUnit{
				Evaluator: e, Coupon: w.coupons[u.Coupon], Unit: u.Unit, Readings: readings, Before: before,
				Standards: w.conditions[job.session].Standards,
			})
		}
		if len(sessionUnits) == 0 {
			continue
		}
		known, err := evaluate.LearnSession(ctx, job.session, sessionUnits, w.fitters[0], 1)
		if err != nil {
			return nil, err
		}
		all[job.session] = known
	}
	return all, nil
}

// fitPullsJointly returns the fits of one coupon. If a spot was read at several pulls in one condition,
// its fits are those of one joint fit. A fit that could not be part of it has a flag.
func (w *fitWorkspace) fitPullsJointly(
	ctx context.Context, v *store.View, fits []*study.Fit, known map[string]*evaluate.SessionKnowledge,
) ([]*study.Fit, error) {
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
	out, ownersOf := slices.Clone(fits), w.roster.OwnersOf()
	for _, p := range order {
		if len(at[p]) < 2 {
			continue
		}
		var sessionUnits []evaluate.SessionUnit
		var own []*study.Fit
		var joined []int // their positions
		for _, i := range at[p] {
			out[i] = evaluate.MarkNotJoint(fits[i]) // unless it is joined
			s, err := w.newSessionUnit(v, fits[i])
			if err != nil {
				return nil, err
			}
			if s != nil {
				joined, sessionUnits, own = append(joined, i), append(sessionUnits, *s), append(own, fits[i])
			}
		}
		if len(sessionUnits) < 2 {
			continue
		}
		joint, err := evaluate.JointPulls(ctx, sessionUnits, own, known, w.fitters[0])
		if err != nil {
			return nil, err
		}
		for k, i := range joined {
			out[i] = joint[k]
			owners := ownersOf(out[i])
			out[i].Errors.NameOwners(&owners)
		}
	}
	return out, nil
}

// newSessionUnit returns the readings and the evaluator of a fit. It returns nil if the readings cannot be
// evaluated, come from several sessions, or are all held or set aside.
func (w *fitWorkspace) newSessionUnit(v *store.View, f *study.Fit) (*evaluate.SessionUnit, error) {
	if slices.Contains(f.Result.Flags, study.FlagSessions) {
		return nil, nil
	}
	session, coupon := f.Session, w.coupons[f.Coupon]
	if coupon == nil {
		return nil, w.desk.missingCoupon(f.Coupon)
	}
	var refused *study.Refusal
	e, err := w.evaluator(0, f.Unit, session)
	if err == nil {
		var readings []study.Reading
		if readings, err = w.readingsToFit(f.Unit, session, v.Readings); err == nil && evaluate.FromOneSession(readings) {
			return &evaluate.SessionUnit{Evaluator: e, Coupon: coupon, Unit: f.Unit, Readings: readings}, nil
		}
	}
	if errors.As(err, &refused) {
		err = nil
	}
	return nil, err
}
