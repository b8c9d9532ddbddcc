package evaluate

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// modelVersion is a part of the digest of a fit. Raise it with every change of the model or of the rules that changes
// a printed number: older fits then become stale.
const modelVersion = 7

// readingFlags are the flags that describe the readings of a fit. A joint fit keeps them.
var readingFlags = []string{study.FlagHeld, study.FlagAside, study.FlagOverBlank, study.FlagNoSession,
	study.FlagNoAnchor}

// CouponSetup returns the setup of a coupon: its glass, known by name, as a formula or from a table, what is stated of
// both, and the mixing rule of the study. roster has what is enrolled of its glass; nil: nothing. A far face that
// cannot be evaluated and an unknown glass give a [*study.Refusal].
func CouponSetup(c *study.Coupon, mixing string, roster *study.Roster) (Setup, error) {
	if roster == nil {
		roster = &study.Roster{}
	}
	rule, err := optics.ParseMixing(mixing)
	if err != nil {
		return Setup{}, err
	}
	back, err := optics.ParseBack(c.Back)
	if err != nil {
		return Setup{}, err
	}
	index, ok, err := GlassIndex(c.Glass)
	if err != nil {
		return Setup{}, err
	}
	for i := range roster.Glasses {
		if g := &roster.Glasses[i]; !ok && g.Name == c.Glass {
			if index, err = optics.Table(g.Name, g.NM, g.N, g.K); err != nil {
				return Setup{}, err
			}
			ok = true
		}
	}
	if !ok {
		return Setup{}, &study.Refusal{Fault: fmt.Sprintf("coupon %s: the glass %q is not in the study", c.Coupon, c.Glass),
			Try: "enrol the coupon with a glass that wane knows, or with a table"}
	}
	glass := film.Glass{Index: index, UIndex: GlassUncertainty(c.Glass), Back: back, ULoss: LossUncertainty(c.Glass)}
	if model := modelOf(c, roster); model != "" {
		formula, err := Formula(model)
		if err != nil {
			return Setup{}, err
		}
		glass.Index, glass.UIndex = formula.WithAbsorptionOf(index), GlassUncertainty(model)
	}
	if c.GlassMM.Valid() {
		glass.ThicknessMM = float64(c.GlassMM)
	}
	if back == optics.Laminated {
		if glass.Return, err = returnOf(c, roster); err != nil {
			return Setup{}, err
		}
	}
	return statedOfCoupon(c, roster).Under(Setup{Glass: glass, Coating: film.Coating{Mixing: rule}}), nil
}

// returnOf returns the return spectrum of the laminated far face of a coupon.
func returnOf(c *study.Coupon, roster *study.Roster) (optics.Share, error) {
	s := roster.ReturnOf(c)
	if s == nil {
		return optics.Share{}, &study.Refusal{Fault: fmt.Sprintf("coupon %s has a laminated far face, and its return spectrum "+
			"is not in the study", c.Coupon),
			Try: "enrol the coupon under another name with a return_spectrum, or measure it with a matched far face"}
	}
	return NewReturn(s)
}

// NewReturn returns a return spectrum for fits. Rows that do not rise, or are no fractions, give a [*study.Refusal].
func NewReturn(s *study.ReturnSpectrum) (optics.Share, error) {
	share, err := optics.NewShare(s.Name, s.NM, s.Return)
	var domain *optics.DomainError
	if errors.As(err, &domain) {
		return share, &study.Refusal{Fault: fmt.Sprintf("return spectrum %s: %s is %g, and must be %s", s.Name, domain.Quantity,
			domain.Value, domain.Want), Try: "give wavelengths in nm that rise, and fractions from 0 to 1", Cause: err}
	}
	return share, err
}

// Digest returns the digest of all inputs of the fit of a unit: the version of the model, the fields of the coupon that
// matter, the mixing rule, the digest of the readings, and what roster has of the glass. A fit with another digest is stale.
func Digest(c *study.Coupon, mixing string, readings [32]byte, roster *study.Roster) [32]byte {
	h := sha256.New()
	fmt.Fprintf(h, "%d\x00%s\x00%s\x00%s\x00%g\x00%s\x00%x", modelVersion, c.Role, c.Glass, c.Back, float64(c.GlassMM),
		mixing, readings)
	for i := range roster.Glasses {
		if g := &roster.Glasses[i]; g.Name == c.Glass {
			fmt.Fprintf(h, "%v%v%v", g.NM, g.N, g.K)
		}
	}
	if s := roster.ReturnOf(c); s != nil {
		fmt.Fprintf(h, "\x00return\x00%v%v", s.NM, s.Return)
	}
	if c.Batch != "" {
		fmt.Fprintf(h, "\x00%q", c.GlassBatch())
	}
	if model := modelOf(c, roster); model != "" {
		fmt.Fprintf(h, "\x00model\x00%s", model)
	}
	fmt.Fprint(h, statedOfCoupon(c, roster).key())
	return [32]byte(h.Sum(nil))
}

// Beam returns the s share of the polarisation s, p, u or n. native reports n, the native beam of the instrument,
// whose s share is uncertain and near that of u. Any other word gives an error.
func Beam(polarisation string) (pol optics.Polarisation, native bool, err error) {
	if polarisation == "n" {
		return optics.U, true, nil
	}
	pol, err = optics.ParsePolarisation(polarisation)
	return pol, false, err
}

// NotEvaluated returns the fit of a unit that could not be fitted.
func NotEvaluated(role study.Role, unit study.Unit) *study.Fit {
	f := study.NewFit(unit)
	f.Result.Flags = []string{study.FlagNotEvaluated}
	if role.Coated() {
		f.Result.State = study.Unclear
	}
	return f
}

// Unit evaluates the readings of one unit of a coupon of the given role. Readings that cannot be fitted give a
// fit with [study.FlagNotEvaluated], state unclear, and the [*study.Refusal] as error; other errors, such as
// that of a cancelled ctx, give no fit.
func (e *Evaluator) Unit(ctx context.Context, role study.Role, unit study.Unit, readings []study.Reading) (*study.Fit,
	error) {
	curves, err := curvesOf(readings)
	if err != nil {
		return nil, err
	}
	f, v, err := e.fit(ctx, curves, nil)
	if err == nil && !role.Coated() && (v.Model == film.ModelFilm || slices.Contains(v.Flags, film.FlagMisfit)) {
		skin, err := e.withSkin(ctx, curves)
		if err != nil {
			return nil, err
		}
		if skin != nil {
			f = skin
		}
	}
	var refused *study.Refusal
	switch {
	case errors.As(err, &refused):
		f = NotEvaluated(role, unit)
	case err != nil:
		return nil, err
	}
	completeFit(f, v, role, unit, readings)
	return f, err
}

// mountingsOf returns the number of the mounting that each reading belongs to. Readings of two sessions are never of one:
// the coupon was set down for each.
func mountingsOf(readings []study.Reading) []int {
	type mounting struct {
		session string
		number  int
	}
	at, numbers := map[mounting]int{}, make([]int, len(readings))
	several := len(readings) > 0 && !FromOneSession(readings)
	for i := range readings {
		r := &readings[i]
		if numbers[i] = r.Mounting; !several {
			continue
		}
		k := mounting{r.Session, max(1, r.Mounting)}
		if at[k] == 0 {
			at[k] = len(at) + 1
		}
		numbers[i] = at[k]
	}
	return numbers
}

// curvesOf returns the curves of readings.
func curvesOf(readings []study.Reading) ([]film.Curve, error) {
	curves, mountings := make([]film.Curve, len(readings)), mountingsOf(readings)
	for i := range readings {
		r := &readings[i]
		pol, native, err := Beam(r.Polarisation)
		if err != nil {
			return nil, err
		}
		curves[i] = film.Curve{NM: r.NM, R: r.Values, AngleDeg: r.AngleDeg, Pol: pol, Native: native, Mounting: mountings[i],
			Through: r.Quantity == study.Transmittance}
	}
	return curves, nil
}

// anglesOf returns the angles of readings, each once, rising.
func anglesOf(readings []study.Reading) []float64 {
	angles := make([]float64, len(readings))
	for i := range readings {
		angles[i] = readings[i].AngleDeg
	}
	slices.Sort(angles)
	return slices.Compact(angles)
}

// completeFit fills the unit, the session, the angles and the state of a fit. v is nil if there is no verdict.
func completeFit(f *study.Fit, v *film.Verdict, role study.Role, unit study.Unit, readings []study.Reading) {
	if v != nil {
		f.AnglesDeg = anglesOf(readings)
	}
	switch {
	case !role.Coated():
		f.Result.Gain = study.NoMeasure()
	case v != nil:
		f.Result.State = state(v, nil)
	}
	f.Unit = unit
	f.Session = readings[0].Session
	if !FromOneSession(readings) {
		f.Result.Flags = append(f.Result.Flags, study.FlagSessions)
	}
}

// FromOneSession reports whether there are readings and all of them name the same session, or none.
func FromOneSession(readings []study.Reading) bool {
	return len(readings) > 0 &&
		!slices.ContainsFunc(readings, func(r study.Reading) bool { return r.Session != readings[0].Session })
}
