package evaluate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// Override is what a laboratory states of one effect in place of what is assumed.
type Override struct {
	Effect  string  // of effects
	Mean, U float64 // Mean only of effects that have one; U is the standard uncertainty
	By      string  // what states it
}

// Overrides are overrides, each effect once.
type Overrides []Override

// effects lists what can be stated of the effects of the law, with the places of mean and standard uncertainty in what is
// known of a setup. at returns nil for a mean that is fixed.
var effects = []struct {
	name, unit string
	at         func(*film.Setup, *film.Known) (mean, u *float64)
}{
	{"scale", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Session.UScale }},
	{"zero", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return &k.Session.Zero, &k.Session.UZero }},
	{"wavelength", "nm", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Session.UWavelengthNM }},
	{"place", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Placement.UFactor }},
	{"tilt", "degrees", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Placement.UTiltDeg }},
	{"place zero", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Placement.UZero }},
	{"leak", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return &k.Coupon.Leak, &k.Coupon.ULeak }},
	{"return", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Coupon.UReturn }},
	{"glass index", "", func(s *film.Setup, _ *film.Known) (*float64, *float64) { return nil, &s.Glass.UIndex }},
}

// Under returns setup with what is stated in place of what is assumed.
func (o Overrides) Under(setup Setup) Setup {
	if len(o) == 0 {
		return setup
	}
	known := knownOf(&setup)
	for _, stated := range o {
		for i := range effects {
			if effects[i].name != stated.Effect {
				continue
			}
			mean, u := effects[i].at(&setup, &known)
			if *u = stated.U; mean != nil {
				*mean = stated.Mean
			}
		}
	}
	setup.Known = &known
	return setup
}

// key returns a text that is equal for overrides that make the same setup.
func (o Overrides) key() string {
	var b strings.Builder
	for _, stated := range o {
		fmt.Fprintf(&b, "\x00%s %v %v", stated.Effect, stated.Mean, stated.U)
	}
	return b.String()
}

// Known is what a fit knows of one effect beforehand.
type Known struct {
	What string // the effect with its standard uncertainty, as "tilt ± 0.05 degrees"
	By   string // what states it; empty: it is assumed
}

// String returns what is known, and that it is assumed or by what it is stated.
func (k Known) String() string {
	if k.By == "" {
		return k.What + " assumed"
	}
	return k.What + " stated by " + k.By
}

// Knowledge says what a fit under setup knows beforehand of each effect that a laboratory can state. The scale is among
// them only where its uncertainty is stated: that of a joint fit is assumed as its blanks allow.
func Knowledge(setup Setup, stated Overrides) (all []Known) {
	known := knownOf(&setup)
	for i := range effects {
		e := &effects[i]
		k := slices.IndexFunc(stated, func(o Override) bool { return o.Effect == e.name })
		if k < 0 && e.name == "scale" || e.name == "leak" && setup.Glass.Back != optics.Matched ||
			e.name == "return" && setup.Glass.Back != optics.Laminated {
			continue
		}
		what, unit := e.name, ""
		mean, u := e.at(&setup, &known)
		if mean != nil {
			what += fmt.Sprintf(" %.3g", *mean)
		}
		if e.unit != "" {
			unit = " " + e.unit
		}
		own := Known{What: fmt.Sprintf("%s ± %.3g%s", what, *u, unit)}
		if k >= 0 {
			own.By = stated[k].By
		}
		all = append(all, own)
	}
	return all
}

// A leak is half-normal. Where its rms is r, its mean is r·√(2/π) and its standard deviation r·√(1 - 2/π): the fit takes
// these, rounded as in [film.DefaultCoupon].
const (
	meanOfLeak = 0.8
	sdOfLeak   = 0.6
)

// statedOfCoupon returns what the roster states of a coupon and of the batch of its glass.
func statedOfCoupon(c *study.Coupon, roster *study.Roster) (o Overrides) {
	switch {
	case c.Leak.Is && c.ReturnSpectrum != "":
		o = append(o, Override{"return", 0, c.Leak.Value, "coupon " + c.Coupon})
	case c.Leak.Is:
		o = append(o, Override{"leak", meanOfLeak * c.Leak.Value, sdOfLeak * c.Leak.Value, "coupon " + c.Coupon})
	}
	if b := roster.BatchOf(c); b != nil && b.UIndex.Is {
		o = append(o, Override{"glass index", 0, b.UIndex.Value, "glass batch " + b.Batch})
	}
	return o
}

// KeyOfCoupon returns a text that is equal for coupons of which the roster states the same, beside their glass, its
// thickness and the far face.
func KeyOfCoupon(c *study.Coupon, roster *study.Roster) string {
	return c.ReturnSpectrum + "\x00" + modelOf(c, roster) + statedOfCoupon(c, roster).key()
}

// modelOf returns the formula of the batch of a coupon's glass; empty: none is enrolled.
func modelOf(c *study.Coupon, roster *study.Roster) string {
	if b := roster.BatchOf(c); b != nil && IsFormula(b.Model) {
		return b.Model
	}
	return ""
}

// GivenOfCoupon says what the roster gives of the pane of a coupon beside its glass, which a fit takes as it is.
func GivenOfCoupon(c *study.Coupon, roster *study.Roster) (given []Known) {
	if model := modelOf(c, roster); model != "" {
		given = append(given, Known{"dispersion " + model, "glass batch " + c.Batch})
	}
	if s := roster.ReturnOf(c); s != nil {
		given = append(given, Known{fmt.Sprintf("return spectrum %s, %g to %g nm", s.Name, s.NM[0], s.NM[len(s.NM)-1]),
			"coupon " + c.Coupon})
	}
	return given
}

// statedOfInstrument returns what is enrolled of the errors of an instrument.
func statedOfInstrument(i *study.Instrument) (o Overrides) {
	for _, s := range []struct {
		effect string
		of     study.Stated
	}{{"zero", i.UZero}, {"wavelength", i.UWavelengthNM}, {"place", i.UPlace}, {"tilt", i.UTiltDeg},
		{"place zero", i.UPlaceZero}} {
		if s.of.Is {
			o = append(o, Override{s.effect, 0, s.of.Value, "instrument " + i.Instrument})
		}
	}
	return o
}

// ZeroByTrap returns the zero of a session by the light traps that were read in it: the mean of reading less certified
// value over all readings. Its standard uncertainty is that of the certificates, the largest, combined with the scatter
// of the mean; where a certificate had expired it is at least the default. ok is false if none was read.
func ZeroByTrap(roster *study.Roster, s *study.Session) (o Override, ok bool) {
	var off []float64
	u, names := 0.0, []string{}
	for i := range roster.Checks {
		c := &roster.Checks[i]
		if c.Session != s.Session {
			continue
		}
		trap := roster.StandardOn(c.Standard, c.AngleDeg, c.Polarisation, s.Date)
		if trap == nil || trap.Quantity != study.Zero {
			continue
		}
		off, u = append(off, c.Value-trap.Value), max(u, trap.U)
		if study.Expired(trap.Expires, s.Date) {
			u = max(u, film.DefaultSession().UZero)
		}
		if n := len(names); n == 0 || names[n-1] != c.Standard {
			names = append(names, c.Standard)
		}
	}
	if len(off) == 0 {
		return o, false
	}
	n, mean, squares := float64(len(off)), 0.0, 0.0
	for _, z := range off {
		mean += z / n
	}
	for _, z := range off {
		squares += (z - mean) * (z - mean)
	}
	scatter := 0.0
	if n > 1 {
		scatter = math.Sqrt(squares / (n - 1) / n)
	}
	return Override{"zero", mean, math.Hypot(u, scatter), "light trap " + strings.Join(names, ", ")}, true
}

// mostTrapDeviation is by how many standard uncertainties a light trap may depart from zero before it contradicts what is
// stated of the instrument. Common practice, no source.
const mostTrapDeviation = 4

// mostZero is the largest zero that is one, a fraction: more is a fault of the instrument, or a percentage that was
// written for a fraction. Common practice, no source.
const mostZero = 0.02

// CheckTraps returns a [*study.Refusal] for the first session whose light trap reads what no light trap can, or
// contradicts the u_zero of its instrument: both cannot be right, and sessions without a light trap are evaluated by
// u_zero.
func CheckTraps(roster *study.Roster) error {
	stated := map[string]study.Stated{}
	for i := range roster.Instruments {
		stated[roster.Instruments[i].Instrument] = roster.Instruments[i].UZero
	}
	for i := range roster.Sessions {
		s := &roster.Sessions[i]
		u := stated[s.Instrument]
		trap, read := ZeroByTrap(roster, s)
		if read && math.Abs(trap.Mean) > mostZero {
			return &study.Refusal{
				Fault: fmt.Sprintf("session %s: its light trap reads %.3g, and a zero is at most %g", s.Session, trap.Mean, mostZero),
				Try:   "write the value as a fraction: 0.0004 for 0.04 %; if it is one, look for light that passes the sample"}
		}
		if !u.Is || !read || math.Abs(trap.Mean) <= mostTrapDeviation*math.Hypot(u.Value, trap.U) {
			continue
		}
		return &study.Refusal{
			Fault: fmt.Sprintf("session %s: its light trap reads %.3g, and the u_zero of instrument %s is stated as %.3g, which "+
				"also applies to its sessions without a light trap", s.Session, trap.Mean, s.Instrument, u.Value),
			Try: "correct the reading, or enrol the instrument under another name with a larger u_zero or none"}
	}
	return nil
}

// smoothed is over how many points the smallest reading of a curve is averaged, so that noise does not decide.
const smoothed = 9

// CheckZero returns a [*study.Refusal] if a light trap is brighter than the coupon: if the zero that it states lies above
// the smallest reading, averaged over 9 points, by more than 2 standard uncertainties.
func (c *Conditions) CheckZero(readings []study.Reading) error {
	for _, o := range c.Stated {
		if o.Effect != "zero" || o.Mean == 0 {
			continue
		}
		for i := range readings {
			r := &readings[i]
			if least := leastOf(r.Values); o.Mean-2*o.U > least {
				return &study.Refusal{
					Fault: fmt.Sprintf("the %s of session %s reads %.3g, and coupon %s at %g degrees as little as %.3g: the trap is "+
						"brighter than the coupon", o.By, r.Session, o.Mean, r.Coupon, r.AngleDeg, least),
					Try: "check the value of the light trap and its unit, a fraction, and read it again with the whole " +
						"beam inside it"}
			}
		}
	}
	return nil
}

// leastOf returns the smallest mean of neighbouring values.
func leastOf(values []float64) float64 {
	n := min(smoothed, len(values))
	sum, least := 0.0, math.Inf(1)
	for i, v := range values {
		if sum += v; i >= n {
			sum -= values[i-n]
		}
		if i >= n-1 {
			least = min(least, sum/float64(n))
		}
	}
	return least
}
