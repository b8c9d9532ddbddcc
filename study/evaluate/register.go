package evaluate

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// Conditions holds what the roster registers of one session, if it differs from the defaults.
type Conditions struct {
	Instrument film.Instrument
	UScale     float64 // of the reference; 0: the default
	Stated     Overrides

	// Standards is the scale by check standards alone, where no certificate states that of the reference; nil: none.
	Standards  *Override
	Geometries []string // that the instrument can read; none: nothing is stated of it
}

// RegisteredConditions returns the conditions of the enrolled sessions, by name. It does not contain sessions that are
// evaluated like unregistered ones.
//
// The certificate that was valid on the day of the session gives the uncertainty of the scale: its u_scale, else that
// of its values. The uncertainty by an expired certificate is never less than the default. A light trap that was read in
// the session states its zero, in place of what is stated of the instrument; line standards state the error of the
// wavelengths, and check standards of reflectance the scale, each together with what was known before.
func RegisteredConditions(roster *study.Roster) map[string]Conditions {
	instruments := map[string]Conditions{}
	for i := range roster.Instruments {
		in := &roster.Instruments[i]
		instruments[in.Instrument] = Conditions{Instrument: InstrumentOf(in), Stated: statedOfInstrument(in),
			Geometries: in.Geometries}
	}
	all := map[string]Conditions{}
	for i := range roster.Sessions {
		s := &roster.Sessions[i]
		c := instruments[s.Instrument]
		if r := roster.ReferenceOn(s.Reference, s.Date); r != nil {
			c.UScale = uScale(r)
			if study.Expired(r.Expires, s.Date) && c.UScale <= film.DefaultSession().UScale {
				c.UScale = 0
			}
		}
		c.addStandards(roster, s)
		if s.PoreWater.Is {
			c.Stated = append(slices.Clip(c.Stated), Override{"pore water", s.PoreWater.Value, s.UPoreWater.Value,
				"session " + s.Session})
		}
		if c.Key() != (Conditions{}).Key() {
			all[s.Session] = c
		}
	}
	return all
}

// uScale returns the relative standard uncertainty of the scale of readings against a reference, 0 if the certificate
// does not state it. For a table it is the mean of u/value of a curve, and of these the largest: the error of a
// certificate is nearly the same at all wavelengths.
func uScale(r *study.Reference) float64 {
	if r.UScale.Valid() {
		return float64(r.UScale)
	}
	most := 0.0
	for i := range r.Curves {
		c, mean := &r.Curves[i], 0.0
		for k, v := range c.Values {
			if v > 0 {
				mean += c.U[k] / v / float64(len(c.Values))
			}
		}
		most = max(most, mean)
	}
	return most
}

// InstrumentOf returns the settings of an instrument for fits; a setting that is null is 0.
func InstrumentOf(i *study.Instrument) film.Instrument {
	in := film.Instrument{JoinsNM: i.JoinsNM}
	for _, f := range []struct {
		to   *float64
		from study.Num
	}{{&in.ConeDeg, i.ConeDeg}, {&in.SlitNM, i.SlitNM}, {&in.UJoin, i.UJoin}} {
		if f.from.Valid() {
			*f.to = float64(f.from)
		}
	}
	return in
}

// CheckInstrument returns a [*study.Refusal] for settings that no instrument can have.
func CheckInstrument(i *study.Instrument) error {
	in := InstrumentOf(i)
	err := film.CheckInstrument(&in)
	var bad *film.InputError
	if errors.As(err, &bad) {
		return &study.Refusal{Fault: fmt.Sprintf("instrument %s: %s", i.Instrument, bad.Fault), Try: bad.Try}
	}
	return err
}

// Under returns setup under the conditions of the session.
func (c Conditions) Under(setup Setup) Setup {
	setup.Instrument = c.Instrument
	if c.UScale > 0 {
		setup = c.scale().Under(setup)
	}
	return c.Stated.Under(setup)
}

// scale returns what the reference states.
func (c Conditions) scale() Overrides { return Overrides{{"scale", 1, c.UScale, "its reference"}} }

// All returns what the register states of a session, and the roster of a coupon.
func (c Conditions) All(coupon *study.Coupon, roster *study.Roster) Overrides {
	all := slices.Concat(c.Stated, statedOfCoupon(coupon, roster))
	if c.UScale > 0 {
		all = append(all, c.scale()...)
	}
	return all
}

// Key returns a text that is equal for conditions that make the same setup.
func (c Conditions) Key() string {
	in := &c.Instrument
	key := fmt.Sprintf("%v %v %v %v %v", in.ConeDeg, in.SlitNM, in.JoinsNM, in.UJoin, c.UScale) + c.Stated.key()
	if len(c.Geometries) > 0 {
		key += fmt.Sprintf("\x00geometry %q", c.Geometries)
	}
	return key
}

// Digest returns the digest of a fit under the conditions; own is that of the fit without them.
func (c Conditions) Digest(own [32]byte) [32]byte {
	return sha256.Sum256(fmt.Appendf(nil, "register\x00%x\x00%s", own, c.Key()))
}

// OverBlank returns the conditions of readings over the dark blanks of the session, where nothing that is stated of the scale
// counts: it cancels.
func (c Conditions) OverBlank() Conditions {
	c.UScale, c.Standards = 0, nil
	c.Stated = slices.DeleteFunc(slices.Clone(c.Stated), func(o Override) bool { return o.Effect == "scale" })
	return c
}

// Dry returns the conditions of a coupon whose pores hold no water, whatever is declared of its session.
func (c Conditions) Dry() Conditions {
	c.Stated = slices.DeleteFunc(slices.Clone(c.Stated), func(o Override) bool { return o.Effect == "pore water" })
	return c
}
