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
	Return      optics.Share // what comes back of the light that arrives at a laminated far face

	// What is known of the light that the pane absorbs where transmittance is read: by a blank with the standard uncertainty
	// UPass of its transmittance once through, as a ratio, or without one by Index and ThicknessMM, with the standard
	// uncertainty ULoss of its absorbance as a ratio. 0 fixes what it is of.
	Blank        *Blank
	UPass, ULoss float64
}

// LetsThrough reports whether the far face lets out the light whose transmittance would be measured.
func (g *Glass) LetsThrough() bool { return g.Back == optics.Bare || g.Back == optics.Coated }

// byBlank returns u where the absorption of the pane is known by a blank, else 0, and byIndex the other way round.
func (g *Glass) byBlank(u float64) float64 {
	if g.Blank == nil {
		return 0
	}
	return u
}

func (g *Glass) byIndex(u float64) float64 {
	if g.Blank != nil {
		return 0
	}
	return u
}

// Curve is one measured spectrum: of reflectance, or of the transmittance of the whole pane, coated front first.
type Curve struct {
	NM       []float64 // strictly increasing
	R        []float64 // readings, fractions, as long as NM
	Through  bool      // they are of transmittance
	AngleDeg float64
	Pol      optics.Polarisation // the s share of the beam
	Native   bool                // the s share is only known to ± 0.05
	NoiseSD  float64             // of one point; 0: estimated from the curve
	Mounting int                 // the coupon was set down anew for the second, third, ...; 0 and 1: the first
}

// Known is what is known, before any fit, of the effects of the law (law.go), by their owners.
type Known struct {
	Session   Session
	Placement Placement
	Coupon    Coupon
	Structure Structure
	Loss      Loss
}

// DefaultKnown returns what is assumed to be known where nothing better is stated, for a far face: common practice, no
// source.
func DefaultKnown(back optics.Back) Known {
	return Known{DefaultSession(), DefaultPlacement(back), DefaultCoupon(), DefaultStructure(), DefaultLoss()}
}

// Session is what is known, before any fit, of the errors that all readings of one session have in common.
// Each field that begins with U is the standard uncertainty of a prior. 0 fixes the parameter; an infinite value means that
// nothing is known of it.
type Session struct {
	UScale        float64 // of the reference, about 1
	UFactor       float64 // of each angle setting's factor on it, about 1
	UAngle        float64 // of each angle setting, degrees
	UMixed        float64 // of the s share of a beam that is taken for even, about 0.5
	UShare        float64 // of the s share of a native beam, about 0.5
	UWavelengthNM float64 // of all wavelengths alike, nm, at most 2
	Zero, UZero   float64 // what stray and dark light add to each reading, a fraction

	Scale        float64 // of the reference; 0 stands for 1
	WavelengthNM float64 // the true wavelengths less those as written, nm, at most 2

	// Of transmittance, whose reference is the empty beam and whose detector is in another place.
	UThroughScale, UThroughZero float64
}

// DefaultSession returns what is assumed to be known where no certificate states better: common practice, no
// source.
func DefaultSession() Session {
	return Session{UScale: 0.01, UFactor: 0.01, UAngle: 0.3, UMixed: 0.01, UShare: 0.05, UWavelengthNM: 0.3, UZero: 0.0005,
		UThroughScale: 0.003, UThroughZero: 0.0005}
}

// scale returns the expected scale.
func (s *Session) scale() float64 {
	if s.Scale == 0 {
		return 1
	}
	return s.Scale
}

// What a sphere adds to what is known of a session, as standard uncertainties: its port to the scale, since the light of
// a bright and of a dark sample is lost through it by different shares, and to the zero that it is read at some 8 degrees
// against the hemisphere, of which the ports are missing. Common practice, no source.
const (
	uSpherePort       = 0.01
	uSphereHemisphere = 0.0005
)

// InSphere returns what is known of a session whose readings are taken by a sphere.
func (s Session) InSphere() Session {
	s.UScale, s.UZero = math.Hypot(s.UScale, uSpherePort), math.Hypot(s.UZero, uSphereHemisphere)
	return s
}

func (s *Session) uncertainties() []float64 {
	return []float64{s.UScale, s.UFactor, s.UAngle, s.UMixed, s.UShare, s.UWavelengthNM, s.UZero, s.UThroughScale,
		s.UThroughZero}
}

// Placement is what is known beforehand of the errors of one coupon set down once, as standard uncertainties; 0 fixes one.
type Placement struct {
	UFactor  float64 // of the factor of each curve, about 1
	UTiltDeg float64 // of the tilt that all angles have in common, degrees
	UZero    float64 // of what light around the coupon adds to each reading, a fraction
	UThrough float64 // of the factor of its transmittance, about 1
}

// DefaultPlacement returns what is assumed of placements where nobody has measured them: common practice, no source.
func DefaultPlacement(back optics.Back) Placement {
	p := Placement{UFactor: 0.002, UTiltDeg: 0.05, UZero: 0.0002, UThrough: 0.001}
	if back == optics.Blackened { // for good, so that its match does not change
		p.UZero = 0.0001
	}
	return p
}

// Coupon is what is known beforehand of one piece of glass.
type Coupon struct {
	UIndex float64 // standard uncertainty of its index against that of its batch; 0 fixes it

	// Leak is the share of the light that arrives at a far face called matched and comes back, ULeak its standard
	// uncertainty; 0 fixes it.
	Leak, ULeak float64

	UReturn float64 // standard uncertainty of the return spectrum of a laminated far face, the same at all wavelengths; 0 fixes it
}

// DefaultCoupon returns what is assumed of a coupon: common practice, no source. The leak is that of a half-normal
// distribution of rms 0.0002: its mean, and its standard deviation.
func DefaultCoupon() Coupon {
	return Coupon{UIndex: 0.0005, Leak: 0.00016, ULeak: 0.00012, UReturn: 0.0005}
}

// Structure is what is known beforehand of how a film departs from a uniform one. Its porosity runs linearly from p - g at
// the top to p + g at the bottom; a dense skin of thickness t lies on it; its thickness has the variance v, over the square of
// the thickness, within the spot. A spot has its structure at all pulls; each reading departs from that by the fields that
// end in Off, since a true change of the surface does so. Means and standard uncertainties; all 0: uniform films.
type Structure struct {
	UGradient, UGradientOff           float64 // of g, a porosity
	SkinNM, USkinNM, USkinOffNM       float64 // t
	Variance, UVariance, UVarianceOff float64 // v
}

// DefaultStructure returns what is assumed of coatings: common practice, no source. The means of skin and variance are not
// 0, since no film has less than none; inside a fit they may go below it, so that what the curves say does not pile up there.
func DefaultStructure() Structure {
	return Structure{UGradient: 0.05, UGradientOff: 0.01, SkinNM: 4, USkinNM: 3, USkinOffNM: 1, Variance: 0.0025,
		UVariance: 0.0035, UVarianceOff: 0.0007}
}

func (s *Structure) uncertainties() []float64 {
	return []float64{s.UGradient, s.UGradientOff, s.USkinNM, s.USkinOffNM, s.UVariance, s.UVarianceOff}
}

// Loss is what is known beforehand of what absorbs on the front face: the film itself, by k, the imaginary part of its index, and
// a thin residue on it and on bare glass, by its thickness times the imaginary part of its permittivity, in nm
// (3 nm of index 1.7 + 0.05i: 0.51). Both are the same at all wavelengths, so that the absorptance is as 1 over the
// wavelength. They are free only where transmittance was read. A spot has its k at all pulls; each reading has a
// residue of its own, since dirt comes and goes.
type Loss struct{ K, UK, ResidueNM, UResidueNM float64 }

// DefaultLoss returns what is assumed of films: common practice, no source. They are those of half-normal distributions of rms
// 0.002 and 2 nm: mean, and standard deviation. Inside a fit both may go below 0, so that what the curves say does not
// pile up there.
func DefaultLoss() Loss { return Loss{K: 0.0016, UK: 0.0012, ResidueNM: 1.6, UResidueNM: 1.2} }

// isNone reports whether all films are uniform.
func (s *Structure) isNone() bool { return *s == Structure{} }

// leak returns what is known of the leak through a far face. That of a laminated one is the error of its return spectrum.
func (c Coupon) leak(back optics.Back) (mean, sd float64) {
	switch back {
	case optics.Matched:
		return c.Leak, c.ULeak
	case optics.Laminated:
		return 0, c.UReturn
	}
	return 0, 0
}

// leaks reports whether a far face has a leak.
func leaks(back optics.Back) bool { return back == optics.Matched || back == optics.Laminated }

// Setup is what the spots of one kind of coupon have in common.
type Setup struct {
	Glass   Glass
	Coating Coating
	Water   Water  // in the pores of the film, where it is declared
	Known   *Known // beforehand; nil: DefaultKnown of the far face
	Instrument
	Texture bool // rolled glass: roughness and angle factors are free
	Divided bool // readings of reflectance were divided by those of a dark blank: see divisor
	Method
}

// Method is how curves are fitted. The zero value suits most curves.
type Method struct {
	Loss  fit.Loss // how far-off points count; the zero value counts their squares
	Masks []Window // wavelengths that are excluded
	// Structures has each structure of the film fitted by itself, too, to see what the curves say of it: see [Verdict.Rungs].
	Structures bool
}

// Spot holds the curves of one place on one coupon, for one fit.
type Spot struct {
	Setup
	Curves []Curve
	Pins   Pins

	joins   *joins // detector joins of the spot that this one replaces; nil: its own
	spikes  bool   // some points were removed as spikes
	leftOut int    // points inside masks, and spikes
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

func (s *Setup) known() Known {
	if s.Known == nil {
		return DefaultKnown(s.Glass.Back)
	}
	return *s.Known
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
	if lo, hi := s.Glass.Return.RangeNM(); back == optics.Laminated {
		for i := range s.Curves {
			nm := s.Curves[i].NM
			if first, last := nm[0], nm[len(nm)-1]; !(lo <= first && last <= hi) {
				return s.Glass.uncovered(fmt.Sprintf("curve %d", i+1), first, last)
			}
		}
	}
	if mm := s.Glass.ThicknessMM; !(mm >= 0 && mm <= 1000*mostGlassM) {
		return &InputError{"glass", fmt.Sprintf("%g mm is no thickness of a pane", mm),
			"give the thickness of the glass in mm"}
	}
	known := s.known()
	for _, of := range []struct {
		what string
		us   []float64
	}{
		{"session", known.Session.uncertainties()},
		{"placement", []float64{known.Placement.UFactor, known.Placement.UTiltDeg, known.Placement.UZero,
			known.Placement.UThrough}},
		{"coupon", []float64{known.Coupon.UIndex, known.Coupon.ULeak, known.Coupon.UReturn}},
		{"structure", known.Structure.uncertainties()},
		{"film", []float64{known.Loss.UK, known.Loss.UResidueNM}},
		{"glass", []float64{s.Glass.UIndex, s.Glass.ULoss, s.Glass.UPass}},
	} {
		for _, u := range of.us {
			if !(u >= 0) {
				return &InputError{of.what, fmt.Sprintf("%g is not a standard uncertainty", u),
					"give a number of at least 0; 0 fixes what it is of"}
			}
		}
	}
	if !(math.Abs(known.Session.Zero) <= maxZero && math.Abs(known.Coupon.Leak) <= maxLeak) {
		return &InputError{"session", fmt.Sprintf("a zero of %g or a leak of %g is outside -%g to %g",
			known.Session.Zero, known.Coupon.Leak,
			maxZero, maxZero), "state them as fractions"}
	}
	if scale, nm := known.Session.scale(), known.Session.WavelengthNM; !(scale >= minScale && scale <= maxScale &&
		math.Abs(nm) <= mostWavelengthError) {
		return &InputError{"session", fmt.Sprintf("a scale of %g or an error of the wavelengths of %g nm is none", scale, nm),
			fmt.Sprintf("state a scale of about 1, and an error of at most %g nm", mostWavelengthError)}
	}
	if err := s.Instrument.check(); err != nil {
		return err
	}
	if err := s.checkThrough(); err != nil {
		return err
	}
	if err := s.Water.check(); err != nil {
		return err
	}
	return s.Pins.Check(s.Coating)
}

// uncovered returns the error of a curve from lo to hi nm of whose far face the return is not known.
func (g *Glass) uncovered(what string, lo, hi float64) error {
	if g.Return.Name() == "" {
		return &InputError{what, "the far face is laminated, and its return spectrum is not given",
			"give the share of light that comes back from it, at all wavelengths of the curves"}
	}
	from, to := g.Return.RangeNM()
	return &InputError{what, fmt.Sprintf("it runs from %g to %g nm, and the return spectrum %s of the laminated far face from "+
		"%g to %g nm", lo, hi, g.Return.Name(), from, to), "give a return spectrum that covers the curves, or cut them to its range: --range"}
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
