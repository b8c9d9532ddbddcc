package evaluate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// A dark blank says what is wrong with its session as long as it is the bare glass that it was. It may leach or get
// dirty in the dark too. It is judged before it may determine anything, by a fit as bare glass whose scale is free:
//
//   - Its curves must be those of bare glass: the flag misfit must not be called.
//   - It must be as bright as at its own baseline, within [mostBlankChange] standard uncertainties of the difference. With
//     s the fitted scale, s0 that expected of the session and u0 its uncertainty by reference and check standards, the
//     difference between now and then is that of s - s0. Its uncertainty follows from [study.Covariance] and from u0 of
//     both sessions: the index of the glass is in neither.
//
// A blank that fails takes no part in the fit of its session. Where a reference drifted by so much that all blanks seem
// to have changed, a check standard says which it was.

// mostBlankChange is by how many standard uncertainties the brightness of a dark blank may have changed since its pull
// 0. Common practice, no source.
const mostBlankChange = 3

// uFreeScale is the standard uncertainty of a scale of which nothing is known.
const uFreeScale = 0.3

// BlankBefore is the reading of a dark blank at its own baseline.
type BlankBefore struct {
	Evaluator *Evaluator // under the conditions of its session
	Readings  []study.Reading
}

// whyNoAnchor says why a dark blank may not determine what is wrong with its session; empty: it may.
func (s *SessionUnit) whyNoAnchor(ctx context.Context) (string, error) {
	now, err := s.asBare(ctx, s.Evaluator, s.Readings)
	switch {
	case err != nil || now == nil: // the fit of the session says what is wrong with the readings
		return "", err
	case now.misfit:
		return "its curves are not those of bare glass", nil
	case s.Before == nil:
		return "", nil
	}
	then, err := s.asBare(ctx, s.Before.Evaluator, s.Before.Readings)
	if err != nil || then == nil || then.misfit {
		return "", err
	}
	ratio := 1 + now.off - then.off
	u := math.Hypot(math.Hypot(now.uExpected, then.uExpected), study.Uncertainty([]study.Weighted{
		{Errors: &now.errors, Weight: 1}, {Errors: &then.errors, Weight: -1}}))
	if math.Abs(ratio-1) <= mostBlankChange*u {
		return "", nil
	}
	return fmt.Sprintf("it reflects %.3f ± %.3f times as much as at its baseline", ratio, u), nil
}

// brightness is what a fit as bare glass says of a blank.
type brightness struct {
	off, uExpected float64      // scale less that expected of the session, and the uncertainty of the latter
	errors         study.Errors // of the scale
	misfit         bool
}

// asBare fits readings of the coupon as bare glass; nil if they cannot be fitted.
func (s *SessionUnit) asBare(ctx context.Context, e *Evaluator, readings []study.Reading) (*brightness, error) {
	curves, err := curvesOf(readings)
	if err != nil {
		return nil, err
	}
	setup, known := e.setup, knownOf(&e.setup)
	b, expected := &brightness{uExpected: known.Session.UScale}, 1.0
	if known.Session.Scale != 0 {
		expected = known.Session.Scale
	}
	known.Session.UScale = uFreeScale
	setup.Known = &known
	v, err := e.fitter.Fit(ctx, &film.Spot{Setup: setup, Curves: curves, Pins: film.Pins{film.Bare: 1}})
	var in *film.InputError
	if errors.As(err, &in) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	parts, err := v.Errors(film.Measurand{Name: film.Scale})
	if err != nil {
		return nil, err
	}
	b.off, b.misfit, b.errors = v.Scale.Value-expected, slices.Contains(v.Flags, film.FlagMisfit), errorsOfOne(parts)
	session := readings[0].Session
	if session == "" {
		session = study.UnnamedSession(readings[0].Pull)
	}
	b.errors.NameOwners(&study.Owners{Session: session, Coupon: s.Coupon.Coupon, Batch: s.Coupon.GlassBatch(),
		Spot: s.Coupon.Coupon + "/" + s.Unit.Spot, Instrument: "session " + session})
	return b, nil
}

// errorsOfOne returns what the uncertainty of a single quantity is made of, as that of output 0.
func errorsOfOne(from *film.Errors) (out study.Errors) {
	for k, effect := range from.Effects {
		owned := study.Effect{Owner: study.Owner(effect.Owner.String()), Name: effect.Name}
		out.Shared = append(out.Shared, study.Sensitivity{Effect: owned,
			By: [study.NumberOfOutputs]float64{from.By.At(k, 0)}})
	}
	out.SetOwn(0, 0, from.Own.At(0, 0))
	return out
}
