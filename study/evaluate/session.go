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
	Before    *BlankBefore // of a dark blank, in another session; nil: it has none there
	Standards *Override    // as in [Conditions], of its session
}

// SessionResult is the result of a session. Fits and Refused have one entry for each unit, in their order; Refused
// says why a unit could not be fitted, nil if it could.
type SessionResult struct {
	Fits    []*study.Fit
	Refused []error
	Support []Support // whether the session supports solar values, thicknesses and bare fractions; none where it corrects nothing
	Notes   []string  // what says nothing of the session, and why, in sentences
}

// Support says whether a session supports a kind of result.
type Support struct {
	Of  string // the results, such as "solar values"
	OK  bool
	Why string // in a sentence
}

// Session evaluates all units of one session together, on workers goroutines and with fitters, which may be empty. It
// estimates the errors of the instrument that they share from blanks, controls and coupons together, and removes them
// from each. If nothing determines the scale of the session, the fits are those of the single units, with
// [study.FlagNoSession]. If ctx is done, the error is that of ctx.
func Session(ctx context.Context, name string, units []SessionUnit, fitters *film.Fitters, workers int) (*SessionResult,
	error) {
	out := &SessionResult{Fits: make([]*study.Fit, len(units)), Refused: make([]error, len(units))}
	members, err := membersOf(ctx, name, units)
	if err != nil {
		return nil, err
	}
	joint, err := jointly(ctx, members, units, fitters, workers)
	var in *film.InputError
	switch {
	case errors.As(err, &in):
		out.Notes = []string{fmt.Sprintf("session %s corrects nothing: %s; %s", study.Shown(name), in.Fault, in.Try)}
		joint = nil
	case err != nil:
		return nil, err
	default:
		for i := range units {
			if joint.Spots[i].Err == nil {
				if out.Fits[i], err = units[i].fit(joint.Spots[i].Verdict, members[i].Spot.Curves); err != nil {
					return nil, err
				}
			}
		}
		if err := out.fillErrors(markOf(name, units), joint.Joint, units); err != nil {
			return nil, err
		}
		for i, f := range out.Fits {
			if f != nil {
				if err := units[i].Evaluator.dry(f, joint.Spots[i].Verdict, members[i].Spot.Curves); err != nil {
					return nil, err
				}
			}
		}
	}
	for i := range units {
		if out.Fits[i] == nil {
			if out.Fits[i], out.Refused[i], err = units[i].fitSingly(ctx); err != nil {
				return nil, err
			}
		}
		if why := members[i].Excluded; why != "" && units[i].Coupon.Role == study.Blank {
			out.Fits[i].Result.Flags = append(out.Fits[i].Result.Flags, study.FlagNoAnchor)
			out.Notes = append(out.Notes, fmt.Sprintf("dark blank %s, spot %s says nothing of session %s: %s",
				study.Shown(units[i].Unit.Coupon), study.Shown(units[i].Unit.Spot), study.Shown(name), why))
		}
	}
	if joint != nil {
		out.addSupport(joint, units)
	}
	return out, nil
}

// jointly fits the units of a session together. Readings by a sphere and others together are a [*film.InputError].
func jointly(ctx context.Context, members []film.Member, units []SessionUnit, fitters *film.Fitters,
	workers int) (*film.SessionFit, error) {
	if mixGeometries(units) {
		return nil, &film.InputError{What: "session",
			Fault: "some of its readings are by a sphere and some are not, which have not one scale",
			Try:   "name a session for each, on instruments of their own"}
	}
	return fitters.Session(ctx, members, workers)
}

// fillErrors fills the errors of the fits of a joint fit.
func (o *SessionResult) fillErrors(name string, joint *film.Joint, units []SessionUnit) error {
	j := jointFits{name: name}
	var inside [][]byOutput
	for i, f := range o.Fits {
		if f == nil {
			continue
		}
		parts, err := joint.Errors(i, units[i].Evaluator.measurands()...)
		if err != nil {
			return err
		}
		all, columns := errorsOf(parts)
		f.Errors = all
		j.fits, inside = append(j.fits, f), append(inside, columns)
	}
	j.covariance = func(i, a, k, b int) float64 { return covarianceOf(inside[i], inside[k], a, b) }
	j.share()
	for _, f := range j.fits {
		f.Errors = asStored(f.Errors)
	}
	return nil
}

// membersOf returns the members of a session fit.
func membersOf(ctx context.Context, name string, units []SessionUnit) ([]film.Member, error) {
	members, unfit, blank := make([]film.Member, len(units)), make([]string, len(units)), false
	for i := range units {
		s := &units[i]
		if s.Coupon.Role.Coated() {
			continue
		}
		var err error
		if unfit[i], err = s.whyNoAnchor(ctx); err != nil {
			return nil, err
		}
		blank = blank || unfit[i] == "" && s.Coupon.Role == study.Blank
	}
	for i := range units {
		s := &units[i]
		curves, err := curvesOf(s.Readings)
		if err != nil {
			return nil, err
		}
		members[i] = film.Member{Spot: &film.Spot{Setup: jointSetup(s.Evaluator.setup, blank, s.Standards), Curves: curves},
			Role: jointRole(s.Coupon.Role), Session: name,
			Name: fmt.Sprintf("coupon %s, spot %s", s.Unit.Coupon, s.Unit.Spot), Glass: s.Coupon.GlassBatch(),
			Coating: s.Coupon.Coating, Coupon: s.Coupon.Coupon, Excluded: unfit[i]}
	}
	return members, nil
}

// SessionKnowledge is the information of a session on the parameters that its units share, for other fits.
type SessionKnowledge struct {
	fit      *film.SessionFit
	setup    []film.Setup       // of each member
	position map[study.Unit]int // of each unit among the members
}

// LearnSession fits a session for [JointPulls], as [Session] does. It returns nil if nothing determines the scale of the session.
func LearnSession(ctx context.Context, name string, units []SessionUnit, fitters *film.Fitters,
	workers int) (*SessionKnowledge, error) {
	members, err := membersOf(ctx, name, units)
	if err != nil {
		return nil, err
	}
	k := &SessionKnowledge{position: map[study.Unit]int{}}
	for i := range units {
		k.position[units[i].Unit] = i
		k.setup = append(k.setup, members[i].Spot.Setup)
	}
	k.fit, err = jointly(ctx, members, units, fitters, workers)
	var in *film.InputError
	if errors.As(err, &in) {
		return nil, nil
	}
	return k, err
}

// uScaleByBlank is the standard uncertainty of the scale of a session that has a dark blank: the reference may have a
// larger error than usual, and the blank determines it. Common practice, no source. With a smaller one, the fit takes
// a part of a drift of the reference of 3 % for an error of the glass (the drifted sessions of
// fit/film/coverage_test.go).
const uScaleByBlank = 0.05

// jointSetup returns the setup of a unit in the fit of its session. blank says whether the session has a dark
// blank that may determine it; standards is the scale by check standards alone, nil where there is none or a certificate
// states that of the reference.
func jointSetup(setup film.Setup, blank bool, standards *Override) film.Setup {
	known := knownOf(&setup)
	s := &known.Session
	switch {
	case !blank:
		return setup
	case standards != nil:
		both := standards.combined(Override{"scale", 1, uScaleByBlank, ""})
		s.Scale, s.UScale = both.Mean, both.U
	case s.UScale < film.DefaultSession().UScale: // a certificate states less
		return setup
	default:
		s.UScale = max(s.UScale, uScaleByBlank)
	}
	setup.Known = &known
	return setup
}

// knownOf returns what is known beforehand of the effects in a setup.
func knownOf(setup *film.Setup) film.Known {
	if setup.Known == nil {
		return film.DefaultKnown(setup.Glass.Back)
	}
	return *setup.Known
}

// fit returns the fit of a unit from its verdict in a joint fit, without its errors.
func (s *SessionUnit) fit(v *film.Verdict, curves []film.Curve) (*study.Fit, error) {
	f := study.NewFit(study.Unit{})
	if err := s.Evaluator.fillFit(f, v, curves); err != nil {
		return nil, err
	}
	s.Evaluator.fillFromData(&f.Result, curves)
	completeFit(f, v, s.Coupon.Role, s.Unit, s.Readings)
	return f, nil
}

// markOf returns the name of the joint fit of a session. It is another one if anything is different that the fit
// depends on.
func markOf(name string, units []SessionUnit) string {
	h := sha256.New()
	fmt.Fprint(h, modelVersion)
	for i := range units {
		u := &units[i]
		setup := &u.Evaluator.setup
		fmt.Fprintf(h, "%+v %q %v %v %v", u.Unit, u.Coupon.GlassBatch(), setup.Instrument, setup.Glass.UIndex, knownOf(setup))
		fmt.Fprintf(h, " %q %q", setup.Glass.Index.Name(), setup.Glass.Return.Name())
		for k := range u.Readings {
			fmt.Fprintf(h, " %+v %s %d", u.Readings[k].Place, u.Readings[k].Export, u.Readings[k].Column)
		}
	}
	return fmt.Sprintf("%s %x", name, h.Sum(nil)[:4])
}

// fitSingly returns the fit of a single unit, without its session. refused says why it could not be fitted; any other
// error ends the work.
func (s *SessionUnit) fitSingly(ctx context.Context) (f *study.Fit, refused, err error) {
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

// addSupport fills Support, and flags the rows of coated coupons that the session does not support.
func (o *SessionResult) addSupport(joint *film.SessionFit, units []SessionUnit) {
	s := joint.Support(func(i int) *film.Probe { return units[i].Evaluator.solar })
	for _, q := range []struct {
		of   film.Supported
		word string
		all  string
	}{{s.Solar, "solar", "solar values"}, {s.Thickness, "thickness", "thicknesses"}, {s.Bare, "bare", "bare fractions"}} {
		o.Support = append(o.Support, Support{q.all, q.of.OK, q.of.Why})
		if q.of.OK || math.IsNaN(q.of.U) && q.word != "solar" {
			continue
		}
		for i, f := range o.Fits {
			if units[i].Coupon.Role.Coated() && !slices.Contains(f.Result.Flags, study.FlagNoSession) {
				f.Result.Flags = append(f.Result.Flags, study.FlagSessionLimits+q.word)
			}
		}
	}
}

// jointRole returns the role of a coupon in a session fit. An exposed blank may have changed, so it is no blank there.
func jointRole(r study.Role) film.Role {
	switch r {
	case study.Blank:
		return film.RoleBlank
	case study.Control:
		return film.RoleControl
	}
	return film.RoleCoupon
}

// SessionDigest returns the digest of a fit in a session. own is the digest of the single fit of its unit, all those
// of all units.
func SessionDigest(own [32]byte, all [][32]byte) [32]byte {
	h := sha256.New()
	h.Write([]byte("session\x00"))
	h.Write(own[:])
	for _, d := range all {
		h.Write(d[:])
	}
	return [32]byte(h.Sum(nil))
}
