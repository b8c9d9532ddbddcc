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
	{"scale", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return &k.Session.Scale, &k.Session.UScale }},
	{"zero", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return &k.Session.Zero, &k.Session.UZero }},
	{"wavelength", "nm", func(_ *film.Setup, k *film.Known) (*float64, *float64) {
		return &k.Session.WavelengthNM, &k.Session.UWavelengthNM
	}},
	{"place", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Placement.UFactor }},
	{"tilt", "degrees", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Placement.UTiltDeg }},
	{"place zero", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Placement.UZero }},
	{"leak", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return &k.Coupon.Leak, &k.Coupon.ULeak }},
	{"return", "", func(_ *film.Setup, k *film.Known) (*float64, *float64) { return nil, &k.Coupon.UReturn }},
	{"pore water", "", func(s *film.Setup, _ *film.Known) (*float64, *float64) { return &s.Water.Share, &s.Water.UShare }},
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
			e.name == "pore water" && k < 0 || e.name == "return" && setup.Glass.Back != optics.Laminated {
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

// smoothed is over how many points the smallest reading of a curve is averaged, so that noise does not decide.
const smoothed = 9

// BrightTrapError reports a light trap that is brighter than a coupon of its session.
type BrightTrapError struct{ Session, Trap string }

func (e *BrightTrapError) Error() string { return "the trap is brighter than the coupon" }

// CheckZero returns a [*study.Refusal] with the cause [*BrightTrapError] if a light trap is brighter than the coupon:
// if the zero that it states lies above the smallest reading, averaged over 9 points, by more than 2 standard
// uncertainties.
func (c *Conditions) CheckZero(readings []study.Reading) error {
	for _, o := range c.Stated {
		if o.Effect != "zero" || o.Mean == 0 {
			continue
		}
		for i := range readings {
			r := &readings[i]
			if r.Quantity == study.Transmittance { // whose zero is its own
				continue
			}
			if least := leastOf(r.Values); o.Mean-2*o.U > least {
				bright := &BrightTrapError{r.Session, o.By}
				return &study.Refusal{
					Fault: fmt.Sprintf("the %s of session %s reads %.3g, and coupon %s at %g degrees as little as %.3g: %v",
						o.By, r.Session, o.Mean, r.Coupon, r.AngleDeg, least, bright),
					Try: "clean the light trap, look for stray light, and read it again with the whole beam inside it; check " +
						"that its value is a fraction",
					Cause: bright}
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
