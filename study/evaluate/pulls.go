package evaluate

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/study"
)

// MarkNotJoint returns a copy of a fit with [study.FlagNotJoint].
func MarkNotJoint(f *study.Fit) *study.Fit {
	own := *f
	own.Result.Flags = append(slices.Clone(f.Result.Flags), study.FlagNotJoint)
	return &own
}

// positionsOf returns the positions of those units that are members of the session fit.
func (k *SessionKnowledge) positionsOf(units []SessionUnit) (at []int) {
	for i := range units {
		if n, ok := k.position[units[i].Unit]; ok {
			at = append(at, n)
		}
	}
	return at
}

// JointPulls evaluates all pulls of one spot together. The index of the glass and that of the coating's skeleton
// are the same at all pulls; each pull has a film of its own. The readings of a unit must come from one session: see
// [FromOneSession]. fits holds the single fit of each unit; it is not changed. known holds the information of other
// spots, by session; it may be nil. fitters are those of the joint fits before, and may be empty.
//
// It returns a fit for each unit, in their order. Where known has the session of a unit, its errors have in common
// with those of other spots of the session what those of the fit given have. Pulls that could not be fitted together
// keep the fits given, with [study.FlagNotJoint]. If ctx is done, the error is that of ctx.
func JointPulls(ctx context.Context, units []SessionUnit, fits []*study.Fit,
	known map[string]*SessionKnowledge, fitters *film.Fitters) (out []*study.Fit, err error) {
	pulls := make([]film.Pull, len(units))
	for i := range units {
		s := &units[i]
		curves, err := curvesOf(s.Readings)
		if err != nil {
			return nil, err
		}
		session := s.Readings[0].Session
		if session == "" {
			session = study.UnnamedSession(s.Unit.Pull)
		}
		pulls[i] = film.Pull{Member: film.Member{Spot: &film.Spot{Setup: s.Evaluator.setup, Curves: curves},
			Role:    film.RoleCoupon,
			Session: session, Glass: s.Coupon.GlassBatch(), Coating: s.Coupon.Coating, Coupon: s.Coupon.Coupon}}
		if slices.Contains(fits[i].Result.Flags, FlagLeached) {
			pulls[i].Excluded = "its glass has a leached skin, which is another film than that of the other pulls"
		}
		if k := known[session]; k != nil {
			pulls[i].Spot.Setup = k.setup[k.position[s.Unit]]
			if !slices.ContainsFunc(units[:i], func(o SessionUnit) bool { return o.Readings[0].Session == session }) {
				pulls[i].Known = k.fit.Without(k.positionsOf(units)...) // with the first of its pulls
			}
		}
	}
	joint, err := fitters.Pulls(ctx, pulls, 1)
	var in *film.InputError
	if errors.As(err, &in) {
		for _, f := range fits {
			out = append(out, MarkNotJoint(f))
		}
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	out = make([]*study.Fit, len(fits))
	var shared pullErrors
	for i := range units {
		s, p := &units[i], joint.Spots[i]
		out[i] = fits[i]
		if p.Err != nil {
			out[i] = MarkNotJoint(fits[i])
			continue
		}
		f, err := s.fit(p.Verdict, pulls[i].Spot.Curves)
		if err != nil {
			return nil, err
		}
		if err := shared.add(f, fits[i], joint, i, s.Evaluator, known[f.Session] != nil); err != nil {
			return nil, err
		}
		f.Digest = fits[i].Digest
		for _, flag := range fits[i].Result.Flags {
			if slices.Contains(readingFlags, flag) || strings.HasPrefix(flag, study.FlagSessionLimits) {
				f.Result.Flags = append(f.Result.Flags, flag)
			}
		}
		out[i] = f
	}
	first := &units[0].Unit
	shared.split(fmt.Sprintf("pulls of %s/%s %s", first.Coupon, first.Spot, first.Condition))
	for i := range units {
		if p := joint.Spots[i]; p.Err == nil {
			if err := units[i].Evaluator.dry(out[i], p.Verdict, pulls[i].Spot.Curves); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}
