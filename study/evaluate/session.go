package evaluate

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// SessionUnit is one unit of a session, with its coupon and the evaluator of its setup.
type SessionUnit struct {
	Evaluator *Evaluator
	Coupon    *study.Coupon
	Unit      study.Unit
	Readings  []study.Reading
}

// SessionResult is the outcome of a session: a fit for each unit, in their order; why a unit could not be
// fitted, nil where it could; and what the session can support.
type SessionResult struct {
	Fits    []*study.Fit
	Refused []error
	Support []string // plain sentences, one for each kind of result
}

// Session evaluates all units of one session together, on workers goroutines. What they share of the
// instrument is estimated from blanks, controls and coupons at once and removed from each. If nothing
// determines the scale of the session, the fits are those of the units by themselves, with
// [study.FlagNoSession].
func Session(ctx context.Context, name string, units []SessionUnit, workers int) (*SessionResult, error) {
	out := &SessionResult{Fits: make([]*study.Fit, len(units)), Refused: make([]error, len(units))}
	members, err := membersOf(name, units)
	if err != nil {
		return nil, err
	}
	joint, err := film.FitSession(ctx, members, workers)
	var in *film.InputError
	switch {
	case errors.As(err, &in):
		out.Support = []string{fmt.Sprintf("session %s corrects nothing: %s; %s", study.Shown(name), in.Fault, in.Try)}
		joint = nil
	case err != nil:
		return nil, err
	default:
		for i := range units {
			if v := joint.Spots[i].Verdict; joint.Spots[i].Err == nil {
				if out.Fits[i], err = units[i].fit(joint, i, v, members[i].Spot.Curves); err != nil {
					return nil, err
				}
			}
		}
	}
	for i := range units {
		if out.Fits[i] == nil {
			if out.Fits[i], out.Refused[i], err = units[i].fitAlone(ctx); err != nil {
				return nil, err
			}
		}
	}
	if joint != nil {
		out.addSupport(name, joint, units)
	}
	return out, nil
}

// membersOf returns the members of a session fit.
func membersOf(name string, units []SessionUnit) ([]film.Member, error) {
	members := make([]film.Member, len(units))
	blank := slices.ContainsFunc(units, func(s SessionUnit) bool { return s.Coupon.Role == study.Blank })
	for i := range units {
		s := &units[i]
		curves, err := curvesOf(s.Readings)
		if err != nil {
			return nil, err
		}
		members[i] = film.Member{Spot: &film.Spot{Setup: jointSetup(s.Evaluator.setup, blank), Curves: curves},
			Role: jointRole(s.Coupon.Role), Session: name,
			Name: fmt.Sprintf("coupon %s, spot %s", s.Unit.Coupon, s.Unit.Spot), Glass: s.Coupon.Glass,
			Coating: s.Coupon.Coating}
	}
	return members, nil
}

// SessionKnowledge is what a session says of the parameters that its units share, for fits outside of it.
type SessionKnowledge struct {
	fit      *film.SessionFit
	setup    []film.Setup       // of its members
	position map[study.Unit]int // their positions
}

// LearnSession fits a session for [JointPulls]; nil if the session says nothing.
func LearnSession(ctx context.Context, name string, units []SessionUnit, workers int) (*SessionKnowledge, error) {
	members, err := membersOf(name, units)
	if err != nil {
		return nil, err
	}
	k := &SessionKnowledge{position: map[study.Unit]int{}}
	for i := range units {
		k.position[units[i].Unit] = i
		k.setup = append(k.setup, members[i].Spot.Setup)
	}
	k.fit, err = film.FitSession(ctx, members, workers)
	var in *film.InputError
	if errors.As(err, &in) {
		return nil, nil
	}
	return k, err
}

// What a session fit takes to be possible beyond what single spots do: that all angles are
// off alike, and, where a dark blank tells, that the reference is off by more than usual.
// Common practice, no source: with less, a reference that has drifted by 3 % is put down
// in part to the glass (the drifted sessions of fit/film/coverage_test.go).
const (
	uMountDeg     = 0.3
	uScaleByBlank = 0.05
)

// jointSetup returns the setup of a unit in the fit of a whole session, which has a dark blank or not.
func jointSetup(setup film.Setup, blank bool) film.Setup {
	known := film.DefaultSession()
	if setup.Session != nil {
		known = *setup.Session
	}
	known.UMount = uMountDeg
	if blank && known.UScale >= film.DefaultSession().UScale { // no certificate says better
		known.UScale = max(known.UScale, uScaleByBlank)
	}
	setup.Session = &known
	return setup
}

// fit makes the fit of a unit from its verdict in the joint fit.
func (s *SessionUnit) fit(joint *film.SessionFit, i int, v *film.Verdict, curves []film.Curve) (*study.Fit, error) {
	f := study.NewFit(study.Unit{})
	if err := s.Evaluator.fillFit(f, v, curves); err != nil {
		return nil, err
	}
	s.Evaluator.fillFromData(&f.Result, curves)
	f.SolarTSharedSession = study.Num(joint.SessionU(film.Measurand{Mean: s.Evaluator.solar}, i))
	f.GainSharedSession = study.Num(100 * joint.SessionU(film.Measurand{Gain: s.Evaluator.solar}, i))
	completeFit(f, v, s.Coupon.Role, s.Unit, s.Readings)
	return f, nil
}

// fitAlone returns the fit of a unit by itself. refused says why it could not be fitted; any other error ends
// the work.
func (s *SessionUnit) fitAlone(ctx context.Context) (f *study.Fit, refused, err error) {
	f, err = s.Evaluator.Unit(ctx, s.Coupon.Role, s.Unit, s.Readings)
	var r *study.Refusal
	if err != nil && !errors.As(err, &r) {
		return nil, nil, err
	}
	f.Result.Flags = append(f.Result.Flags, study.FlagNoSession)
	if r != nil {
		return f, r, nil
	}
	return f, nil, nil
}

// addSupport adds what the session supports, and flags the rows that it does not.
func (o *SessionResult) addSupport(name string, joint *film.SessionFit, units []SessionUnit) {
	s := joint.Support(func(i int) *film.Probe { return units[i].Evaluator.solar })
	for _, q := range []struct {
		of   film.Supported
		word string
		all  string
	}{{s.Solar, "solar", "solar values"}, {s.Thickness, "thickness", "thicknesses"}, {s.Bare, "bare", "bare fractions"}} {
		said := "do not use %s of session %s: %s"
		if q.of.OK {
			said = "%s of session %s can be used: %s"
		}
		o.Support = append(o.Support, fmt.Sprintf(said, q.all, study.Shown(name), q.of.Why))
		if q.of.OK || math.IsNaN(q.of.U) && q.word != "solar" {
			continue
		}
		for i, f := range o.Fits {
			if units[i].Coupon.Role.Coated() && f.SolarTSharedSession.Valid() {
				f.Result.Flags = append(f.Result.Flags, study.FlagSessionLimits+q.word)
			}
		}
	}
}

// jointRole returns what a coupon is to its session. An exposed blank may have changed, so it corrects
// nothing.
func jointRole(r study.Role) film.Role {
	switch r {
	case study.Blank:
		return film.RoleBlank
	case study.Control:
		return film.RoleControl
	}
	return film.RoleCoupon
}

// SessionDigest returns the digest of a fit in a session: of all that the fits of its units by themselves
// depend on.
func SessionDigest(own [32]byte, all [][32]byte) [32]byte {
	h := sha256.New()
	h.Write([]byte("session\x00"))
	h.Write(own[:])
	for _, d := range all {
		h.Write(d[:])
	}
	return [32]byte(h.Sum(nil))
}
