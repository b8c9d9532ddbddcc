package film

import (
	"fmt"
	"math"
	"slices"

	"wane/fit"
	"wane/optics"
)

// Glass is the pane under the film.
type Glass struct {
	Index       optics.Index
	UIndex      float64 // standard uncertainty of its real part, the same at all wavelengths; 0 fixes it
	ThicknessMM float64 // needed for a far face that returns light
	Back        optics.Back
}

// Curve is one measured reflectance spectrum.
type Curve struct {
	NM       []float64 // strictly increasing
	R        []float64 // fractions, as long as NM
	AngleDeg float64
	Pol      optics.Polarisation // the s share of the beam
	Native   bool                // the s share is only known to ± 0.05
	NoiseSD  float64             // of one point; 0: estimated from the curve
}

// Session holds the priors of the errors that all readings of one session have in common. Each field is the
// standard uncertainty of a prior. 0 fixes the parameter; an infinite value means no prior.
type Session struct {
	UScale  float64 // of the reference, about 1
	UFactor float64 // of each angle setting's factor on it, about 1
	UAngle  float64 // of each angle setting, degrees
	UMount  float64 // of all angles in common, as when the coupon sits askew, degrees
	UShare  float64 // of the s share of a native beam, about 0.5
}

// DefaultSession returns the priors without a certificate: common practice, no source.
func DefaultSession() Session { return Session{UScale: 0.01, UFactor: 0.01, UAngle: 0.3, UShare: 0.05} }

// Setup is what the spots of one kind of coupon have in common.
type Setup struct {
	Glass   Glass
	Coating Coating
	Session *Session // nil: DefaultSession
	Instrument
	Texture bool // rolled glass: roughness and angle factors are free
	Method
}

// Method is how curves are fitted. The zero value suits most curves.
type Method struct {
	Loss    fit.Loss // how points far from the fit count; the zero value counts their squares
	Masks   []Window // wavelengths that are not fitted
	Ladder  bool     // fit all structures, also where a simple one is enough
	Uniform bool     // the thickness does not vary within a spot: no spread is fitted
}

// Spot holds the curves of one place on one coupon, for one fit.
type Spot struct {
	Setup
	Curves []Curve
	Pins   Pins

	joins   []float64 // detector joins of the spot that this one replaces; nil: its own
	spikes  bool      // some points were removed as spikes
	leftOut int       // points inside masks, and spikes
}

// Window is a range of wavelengths, nm, ends included.
type Window struct{ LoNM, HiNM float64 }

// InputError reports a fault of a spot, or of a request. Fault says what is wrong, Try what to do about it.
type InputError struct {
	What  string // the part concerned: "curve 2", "glass", "pins"
	Fault string
	Try   string
}

func (e *InputError) Error() string { return "film: " + e.What + ": " + e.Fault }

// causedError is an [*InputError] that keeps the error that it came from.
type causedError struct {
	*InputError
	cause error
}

// Unwrap returns the input error and its cause.
func (e *causedError) Unwrap() []error { return []error{e.InputError, e.cause} }

// inputErrorOf returns an [*InputError], in the chain of the result, whose fault ends with its cause.
func inputErrorOf(what, fault string, cause error, try string) error {
	return &causedError{&InputError{what, fault + ": " + cause.Error(), try}, cause}
}

const (
	minPoints  = 8  // per curve; second differences of fewer give no noise
	mostValue  = 10 // largest reflectance of a reading, a fraction
	mostGlassM = 1  // largest thickness of a pane, in metres
)

// session returns the session of the setup, or the default.
func (s *Setup) session() Session {
	if s.Session == nil {
		return DefaultSession()
	}
	return *s.Session
}

// check returns an [*InputError] for the first fault of the spot.
func (s *Spot) check() error {
	if len(s.Curves) == 0 {
		return &InputError{"spot", "no curve is given", "give at least one reflectance curve"}
	}
	for i := range s.Curves {
		if err := s.Curves[i].check(fmt.Sprintf("curve %d", i+1)); err != nil {
			return err
		}
		for k := range i {
			if slices.Equal(s.Curves[i].R, s.Curves[k].R) && slices.Equal(s.Curves[i].NM, s.Curves[k].NM) {
				return &InputError{fmt.Sprintf("curve %d", i+1), fmt.Sprintf("its readings are those of curve %d", k+1),
					"give each curve once: the same readings twice would look surer than they are"}
			}
		}
	}
	back := s.Glass.Back
	if (back == optics.Bare || back == optics.Coated) && !(s.Glass.ThicknessMM > 0) {
		return &InputError{"glass", fmt.Sprintf("the far face is %v, so its light crosses the pane twice, but the "+
			"thickness of the glass is not given", back),
			"give the thickness of the glass in mm"}
	}
	if mm := s.Glass.ThicknessMM; !(mm >= 0 && mm <= 1000*mostGlassM) {
		return &InputError{"glass", fmt.Sprintf("%g mm is no thickness of a pane", mm),
			"give the thickness of the glass in mm"}
	}
	known := s.session()
	for _, u := range []float64{known.UScale, known.UFactor, known.UAngle, known.UMount, known.UShare} {
		if !(u >= 0) {
			return &InputError{"session", fmt.Sprintf("%g is not a standard uncertainty", u),
				"give a number of at least 0; 0 fixes the parameter"}
		}
	}
	if u := s.Glass.UIndex; !(u >= 0) {
		return &InputError{"glass", fmt.Sprintf("%g is not a standard uncertainty of its index", u),
			"give a number of at least 0; 0 fixes the index"}
	}
	if err := s.Instrument.check(); err != nil {
		return err
	}
	return s.Pins.Check(s.Coating)
}

func (c *Curve) check(what string) error {
	switch {
	case len(c.NM) != len(c.R):
		panic("film: wavelengths and values differ in length")
	case len(c.NM) < minPoints:
		return &InputError{what, fmt.Sprintf("%d points are too few to fit; at least %d are needed", len(c.NM), minPoints),
			"give a longer or denser spectrum"}
	case !(c.AngleDeg >= 0 && c.AngleDeg < 90):
		return &InputError{what, fmt.Sprintf("an angle of incidence of %g degrees is outside 0 to below 90", c.AngleDeg),
			"state the angle from the normal, in degrees"}
	case !(c.NoiseSD >= 0) || math.IsInf(c.NoiseSD, 0):
		return &InputError{what, fmt.Sprintf("a noise of %g is not a standard deviation", c.NoiseSD),
			"give a positive fraction, or nothing to have it estimated"}
	case !(float64(c.Pol) >= 0 && c.Pol <= 1):
		return &InputError{what, fmt.Sprintf("an s share of %g is outside 0 to 1", float64(c.Pol)), "state s, p or u"}
	}
	if c.sound() {
		return nil
	}
	for i, v := range c.R {
		if math.IsNaN(v) || math.IsInf(v, 0) || math.IsNaN(c.NM[i]) || math.IsInf(c.NM[i], 0) {
			return &InputError{what, fmt.Sprintf("point %d is not a finite number", i+1), "leave missing points out"}
		}
		if math.Abs(v) > mostValue {
			return &InputError{what, fmt.Sprintf("point %d is %g, which no reflectance is", i+1, v),
				"check the unit, or leave the point out"}
		}
		if c.NM[i] <= 0 || i > 0 && c.NM[i] <= c.NM[i-1] {
			return &InputError{what, fmt.Sprintf("the wavelength %g nm of point %d is not above the one before", c.NM[i], i+1),
				"sort the points by wavelength, each once"}
		}
	}
	return nil
}

// sound reports quickly whether check has nothing to say of the points.
func (c *Curve) sound() bool {
	for _, v := range c.R {
		if !(v >= -mostValue && v <= mostValue) {
			return false
		}
	}
	before := 0.0
	for _, nm := range c.NM {
		if !(nm > before) {
			return false
		}
		before = nm
	}
	return before <= math.MaxFloat64
}
