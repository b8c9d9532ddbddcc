package film

import (
	"fmt"
	"math"
	"slices"
)

// Support says which results a session can support, by these rules:
//
//	solar value    a dark blank or a check standard is in the fit, or the reference is
//	               certified, with an uncertainty below the default; and the session
//	               adds at most 0.1 percentage points of standard uncertainty to the
//	               solar value of the typical coupon
//	thickness      that of the typical coupon is known to the larger of 5 nm and 5 %
//	bare fraction  that of the typical coupon is known to 0.10
//
// The typical coupon is the median over coupons and controls with a film. Nothing is
// supported where blank and check standard disagree, the fit is poor or has not
// converged, or a shared parameter is far outside its prior. The
// limits are those of separable parameters, and for the solar value a tenth of what a
// worn coating loses; common practice, no source.
type Support struct{ Solar, Thickness, Bare Supported }

// Supported is the answer for one kind of result.
type Supported struct {
	OK       bool
	U, Limit float64 // standard uncertainty of the typical coupon and what it may be; NaN where there is none
	Unit     string  // of both
	Why      string  // why it is OK, or not, in a sentence
}

// limitSolarPP is the largest standard uncertainty of the solar value that a session may
// add, in percentage points.
const limitSolarPP = 0.1

// Support applies the rules of [Support] to the session. solar returns the probe of the
// solar mean of a spot, by its number from 0.
func (s *SessionFit) Support(solar func(spot int) *Probe) Support {
	var bySession, thickness, nm, bare []float64
	for i, p := range s.fit.all {
		v := s.Spots[i].Verdict
		if p.err != nil || p.member.reference() || v.Model == ModelBare {
			continue
		}
		bySession = append(bySession, 100*s.SessionU(Measurand{Mean: solar(i)}, i))
		if !math.IsNaN(v.ThicknessNM.U) {
			thickness, nm = append(thickness, v.ThicknessNM.U), append(nm, v.ThicknessNM.Value)
		}
		if !math.IsNaN(v.Bare.U) {
			bare = append(bare, v.Bare.U)
		}
	}
	part := max(limitThicknessNM, limitThicknessPart*medianOf(nm))
	out := Support{
		Solar: supported("solar value", "pp", "this session adds a standard uncertainty of", medianOf(bySession),
			limitSolarPP),
		Thickness: supported("thickness", "nm", "its standard uncertainty is", medianOf(thickness), part),
		Bare:      supported("bare fraction", "1", "its standard uncertainty is", medianOf(bare), limitBare),
	}
	if out.Solar.OK && !s.scaleIsKnown() {
		out.Solar.OK = false
		out.Solar.Why = "the session has no usable dark blank and no usable check standard, and its reference has no " +
			"certificate"
	}
	strange := s.unlikely()
	for _, q := range []*Supported{&out.Solar, &out.Thickness, &out.Bare} {
		switch {
		case !s.Converged:
			q.OK, q.Why = false, "the joint fit has not converged"
		case !s.agreement.Agree:
			q.OK, q.Why = false, s.agreement.Why
		case s.ReducedChi2 > PoorFit:
			q.OK, q.Why = false, fmt.Sprintf("the joint fit is poor, with a reduced chi-square of %.3g", s.ReducedChi2)
		case strange != "":
			q.OK, q.Why = false, strange
		}
	}
	return out
}

// supported applies one limit. u is the median over the coupons, NaN without one.
func supported(what, unit, says string, u, limit float64) Supported {
	s := Supported{U: u, Limit: limit, Unit: unit}
	in := " " + unit
	if unit == "1" {
		in = ""
	}
	figures := fmt.Sprintf("%s %.2g%s for the %s of the typical coupon; at most %.2g%s is allowed", says, u, in, what,
		limit, in)
	switch {
	case math.IsNaN(u):
		s.Limit = math.NaN()
		s.Why = "no coupon or control has a film whose " + what + " is free"
	case u <= limit:
		s.OK, s.Why = true, figures
	default:
		s.Why = figures
	}
	return s
}

// unlikely describes a shared parameter that lies far outside its prior; empty if none does. A blank of another
// glass than stated is found here.
func (s *SessionFit) unlikely() string {
	for i, p := range s.Shared {
		prior := s.fit.params[i].Prior
		if prior.SD > 0 && math.Abs(p.Value-prior.Mean) > unlikelySigmas*prior.SD {
			return unlikelyWords(p, math.Abs(p.Value-prior.Mean)/prior.SD)
		}
	}
	return ""
}

// unlikelyWords describes a shared parameter that lies so many standard deviations outside its prior, and what to try.
func unlikelyWords(p Shared, sigmas float64) string {
	unit, try := "", "a blank or its glass may not be what it is taken for: check its label and its far face"
	if p.Unit != "1" {
		unit = " " + p.Unit
	}
	for i := range law {
		if law[i].name != p.Name {
			continue
		}
		if unit == "" && law[i].unit != "" {
			unit = " " + law[i].unit
		}
		if law[i].kind == kZero {
			try = "stray light, or a light trap or a blank that is not what it is taken for, does so: clean the light trap, look " +
				"for stray light, read the trap again, and check the label and the far face of the blank"
		}
	}
	return fmt.Sprintf("%s comes out at %.4g%s, %.0f standard deviations from what is known of it; %s", p.Name, p.Value, unit,
		sigmas, try)
}

// SessionU returns the part of the standard uncertainty of a quantity that comes from the parameters of the
// session, in the unit of the quantity; NaN if there is no such quantity.
func (s *SessionFit) SessionU(q Measurand, spot int) float64 {
	_, m, err := s.sensitivity(q, spot)
	if err != nil {
		return math.NaN() // the mean of a probe never gives an error
	}
	for i := range m.by {
		if !m.fit.slots[i].ofSession {
			m.by[i] = 0
		}
	}
	return math.Sqrt(m.covariance(m))
}

// scaleIsKnown reports whether a reference spot, or a prior narrower than the default, determines the scale.
func (s *SessionFit) scaleIsKnown() bool {
	return slices.ContainsFunc(s.fit.parts, func(p *part) bool {
		return p.member.reference() || p.member.Spot.known().Session.UScale < DefaultSession().UScale
	})
}

// medianOf returns the median of v, NaN for an empty one.
func medianOf(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	return median(v)
}
