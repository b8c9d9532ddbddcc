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
// spots, by session; it may be nil.
//
// It returns a fit for each unit, in their order, with [study.Fit.SolarTWithBaseline] and GainWithBaseline, the
// covariances with the first unit at pull 0. Pulls that could not be fitted together keep the fits given, with
// [study.FlagNotJoint]. If ctx is done, the error is that of ctx.
func JointPulls(ctx context.Context, units []SessionUnit, fits []*study.Fit,
	known map[string]*SessionKnowledge) (out []*study.Fit, err error) {
	pulls := make([]film.Pull, len(units))
	for i := range units {
		s := &units[i]
		curves, err := curvesOf(s.Readings)
		if err != nil {
			return nil, err
		}
		session := s.Readings[0].Session
		if session == "" { // a pull without a session has a session of its own
			session = fmt.Sprintf("pull %d", s.Unit.Pull)
		}
		pulls[i] = film.Pull{Member: film.Member{Spot: &film.Spot{Setup: s.Evaluator.setup, Curves: curves},
			Role:    film.RoleCoupon,
			Session: session, Glass: s.Coupon.Glass, Coating: s.Coupon.Coating}}
		if k := known[session]; k != nil {
			pulls[i].Spot.Setup = k.setup[k.position[s.Unit]]
			if !slices.ContainsFunc(units[:i], func(o SessionUnit) bool { return o.Readings[0].Session == session }) {
				pulls[i].Known = k.fit.Without(k.positionsOf(units)...) // with the first of its pulls
			}
		}
	}
	joint, err := film.FitPulls(ctx, pulls, 1)
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
	base := -1
	out = make([]*study.Fit, len(fits))
	for i := range units {
		s, p := &units[i], joint.Spots[i]
		out[i] = fits[i]
		if p.Err != nil {
			out[i] = MarkNotJoint(fits[i])
			continue
		}
		f := study.NewFit(s.Unit)
		f.Digest = fits[i].Digest
		if err := s.Evaluator.fillFit(f, p.Verdict, pulls[i].Spot.Curves); err != nil {
			return nil, err
		}
		s.Evaluator.fillFromData(&f.Result, pulls[i].Spot.Curves)
		completeFit(f, p.Verdict, s.Coupon.Role, s.Unit, s.Readings)
		if known[f.Session] != nil { // these come from the fit of the session
			f.SolarTSharedSession, f.GainSharedSession = fits[i].SolarTSharedSession, fits[i].GainSharedSession
		}
		for _, flag := range fits[i].Result.Flags {
			if slices.Contains(readingFlags, flag) || strings.HasPrefix(flag, study.FlagSessionLimits) {
				f.Result.Flags = append(f.Result.Flags, flag)
			}
		}
		out[i] = f
		if base < 0 && s.Unit.Pull == 0 {
			base = i
		}
	}
	if base < 0 {
		return out, nil
	}
	solar := units[base].Evaluator.solar
	for i, f := range out {
		if i == base || joint.Spots[i].Err != nil {
			continue
		}
		withT, err := joint.CovarianceOf(film.Measurand{Mean: solar}, i, film.Measurand{Mean: solar}, base)
		if err != nil {
			return nil, err
		}
		withGain, err := joint.CovarianceOf(film.Measurand{Mean: solar}, i, film.Measurand{Gain: solar}, base)
		if err != nil {
			return nil, err
		}
		f.SolarTWithBaseline = study.Num(withT)
		f.GainWithBaseline = study.Num(-100 * withGain) // solar_T is 1 less the mean
	}
	return out, nil
}
