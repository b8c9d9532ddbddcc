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

// standardsRead are the readings of standards in a session, compared with their certificates.
type standardsRead struct {
	off     []float64
	u       float64 // standard uncertainty by the certificates, the largest
	angles  []float64
	names   []string
	expired bool // some certificate had expired
}

// readStandards compares the readings in a session of the standards that are wanted with their certificates. off
// returns by how much a reading is off, and the uncertainty of that by the certificate.
func readStandards(roster *study.Roster, s *study.Session, wanted func(*study.Standard) bool,
	off func(value float64, c *study.Standard) (off, u float64)) (r standardsRead) {
	for i := range roster.Checks {
		c := &roster.Checks[i]
		if c.Session != s.Session {
			continue
		}
		standard := roster.StandardOn(c.Standard, c.AngleDeg, c.Polarisation, s.Date)
		if standard == nil || !wanted(standard) {
			continue
		}
		value, u := off(c.Value, standard)
		r.off, r.u = append(r.off, value), max(r.u, u)
		r.expired = r.expired || study.Expired(standard.Expires, s.Date)
		r.angles, r.names = append(r.angles, c.AngleDeg), append(r.names, c.Standard)
	}
	slices.Sort(r.angles)
	slices.Sort(r.names)
	r.angles, r.names = slices.Compact(r.angles), slices.Compact(r.names)
	return r
}

// mean returns the mean by how much the readings are off, and the standard uncertainty of the mean by their scatter; 0
// for a single one.
func (r *standardsRead) mean() (mean, scatter float64) {
	n, squares := float64(len(r.off)), 0.0
	for _, v := range r.off {
		mean += v / n
	}
	for _, v := range r.off {
		squares += (v - mean) * (v - mean)
	}
	if n > 1 {
		scatter = math.Sqrt(squares / (n - 1) / n)
	}
	return mean, scatter
}

// by names the standards.
func (r *standardsRead) by(kind string) string { return kind + " " + strings.Join(r.names, ", ") }

// ZeroByTrap returns the zero of a session by the light traps that were read in it: the mean of reading less certified
// value over all readings. Its standard uncertainty is that of the certificates, the largest, combined with the scatter
// of the mean; where a certificate had expired it is at least the default. ok is false if none was read.
func ZeroByTrap(roster *study.Roster, s *study.Session) (o Override, ok bool) {
	r := readStandards(roster, s, func(c *study.Standard) bool { return c.Quantity == study.Zero },
		func(value float64, c *study.Standard) (float64, float64) { return value - c.Value, c.U })
	if len(r.off) == 0 {
		return o, false
	}
	if r.expired {
		r.u = max(r.u, film.DefaultSession().UZero)
	}
	mean, scatter := r.mean()
	return Override{"zero", mean, math.Hypot(r.u, scatter), r.by("light trap")}, true
}

// errorByLines returns the error of the wavelengths of a session by the line standards that were read in it: the mean
// of certified wavelength less that at which it was read, with its standard uncertainty as in [ZeroByTrap]. ok is false
// if none was read.
func errorByLines(roster *study.Roster, s *study.Session) (o Override, ok bool) {
	r := readStandards(roster, s, func(c *study.Standard) bool { return c.Quantity == study.Line },
		func(value float64, c *study.Standard) (float64, float64) { return c.Value - value, c.U })
	if len(r.off) == 0 {
		return o, false
	}
	if r.expired {
		r.u = max(r.u, film.DefaultSession().UWavelengthNM)
	}
	mean, scatter := r.mean()
	return Override{"wavelength", mean, math.Hypot(r.u, scatter), r.by("line standard")}, true
}

// leastStandard is the least certified reflectance of a check standard that states a scale.
const leastStandard = 0.01

// mostScaleDeviation is by how many standard uncertainties of both the scale by check standards may differ from that of
// the reference to be taken: else one of the two is wrong, and which is not known. Common practice, no source.
const mostScaleDeviation = 3

// scaleByStandards returns the scale of a session by the check standards of reflectance that were read in it: with zero
// the expected zero of the session, the mean over all readings of
//
//	(reading - zero) / certified value
//
// Its standard uncertainty combines that of the certificates, the largest, with the larger of the scatter of the mean
// and of what angle factors (one an angle) and factors of placements (one a reading) do to it, and with the zeros of
// session and placement; where a certificate had expired it is at least the default. ok is false if none was read.
func scaleByStandards(roster *study.Roster, s *study.Session, known *film.Known) (o Override, ok bool) {
	least := math.Inf(1)
	r := readStandards(roster, s, func(c *study.Standard) bool {
		return (c.Quantity == "R" || c.Quantity == "solar_R") && c.Value >= leastStandard
	}, func(value float64, c *study.Standard) (float64, float64) {
		least = min(least, c.Value)
		return (value - known.Session.Zero) / c.Value, c.U / c.Value
	})
	if len(r.off) == 0 {
		return o, false
	}
	if r.expired {
		r.u = max(r.u, film.DefaultSession().UScale)
	}
	mean, scatter := r.mean()
	factors := math.Hypot(known.Session.UFactor/math.Sqrt(float64(len(r.angles))),
		known.Placement.UFactor/math.Sqrt(float64(len(r.off))))
	zero := math.Hypot(known.Session.UZero, known.Placement.UZero) / least
	return Override{"scale", mean, math.Hypot(math.Hypot(r.u, zero), max(scatter, factors)), r.by("check standard")}, true
}

// combined returns what two independent sources say of one effect: their mean by inverse variance. An uncertainty of 0
// is exact.
func (o Override) combined(with Override) Override {
	by := o.By
	if with.By != "" {
		by += " and " + with.By
	}
	if o.U == 0 || with.U == 0 {
		exact := o
		if with.U == 0 {
			exact = with
		}
		return exact
	}
	a, b := 1/o.U/o.U, 1/with.U/with.U
	return Override{o.Effect, (a*o.Mean + b*with.Mean) / (a + b), 1 / math.Sqrt(a+b), by}
}

// addStandards adds what the standards that were read in a session state of it.
func (c *Conditions) addStandards(roster *study.Roster, s *study.Session) {
	if trap, read := ZeroByTrap(roster, s); read {
		c.state(trap)
	}
	known := film.DefaultKnown(optics.Matched)
	setup := c.Stated.Under(film.Setup{Known: &known})
	known = *setup.Known
	if lines, read := errorByLines(roster, s); read {
		by := ""
		if k := slices.IndexFunc(c.Stated, func(o Override) bool { return o.Effect == "wavelength" }); k >= 0 {
			by = c.Stated[k].By
		}
		c.state(lines.combined(Override{"wavelength", 0, known.Session.UWavelengthNM, by}))
	}
	prior := Override{"scale", 1, c.UScale, "its reference"}
	if c.UScale == 0 {
		prior = Override{"scale", 1, film.DefaultSession().UScale, ""}
	}
	if tile, read := scaleByStandards(roster, s, &known); read &&
		math.Abs(tile.Mean-1) <= mostScaleDeviation*math.Hypot(tile.U, prior.U) {
		c.state(tile.combined(prior))
		if c.UScale == 0 {
			c.Standards = &tile
		}
	}
}

// state states an effect in place of what was stated of it before.
func (c *Conditions) state(o Override) {
	kept := slices.DeleteFunc(slices.Clone(c.Stated), func(p Override) bool { return p.Effect == o.Effect })
	c.Stated = append(kept, o)
}

// checkLine returns a [*study.Refusal] for a line standard that reads what no instrument does, or contradicts the
// u_wavelength_nm of its instrument.
func checkLine(roster *study.Roster, s *study.Session, instrument *study.Instrument) error {
	line, read := errorByLines(roster, s)
	if !read {
		return nil
	}
	if math.Abs(line.Mean) > mostLineNM {
		return &study.Refusal{Fault: fmt.Sprintf("session %s: its line standard is off by %.3g nm, and at most %d nm is taken",
			s.Session, line.Mean, mostLineNM),
			Try: "correct the wavelength at which it was read; if it is right, have the instrument adjusted"}
	}
	if u := instrument.UWavelengthNM; u.Is && math.Abs(line.Mean) > mostTrapDeviation*math.Hypot(u.Value, line.U) {
		return &study.Refusal{Fault: fmt.Sprintf("session %s: its line standard is off by %.3g nm, and the u_wavelength_nm of "+
			"instrument %s is stated as %.3g nm, which also applies to its sessions without a line standard", s.Session, line.Mean,
			s.Instrument, u.Value),
			Try: "correct the reading, or enrol the instrument under another name with a larger u_wavelength_nm or none"}
	}
	return nil
}

// mostLineNM is the largest error of wavelengths that a line standard may state, in nm: that of package film.
const mostLineNM = 2

// mostTrapDeviation is by how many standard uncertainties a light trap may depart from zero before it contradicts what
// is stated of the instrument. Common practice, no source.
const mostTrapDeviation = 4

// mostZero is the largest zero that is one, a fraction: more is a fault of the instrument, or a percentage that was
// written for a fraction. Common practice, no source.
const mostZero = 0.02

// CheckStandards returns a [*study.Refusal], or [study.Refusals], for each session whose light trap reads what no light
// trap can, or contradicts the u_zero of its instrument: both cannot be right, and sessions without a light trap are
// evaluated by u_zero. The same holds of line standards and u_wavelength_nm.
func CheckStandards(roster *study.Roster) error {
	instruments := map[string]*study.Instrument{}
	for i := range roster.Instruments {
		instruments[roster.Instruments[i].Instrument] = &roster.Instruments[i]
	}
	var refused study.Refusals
	for i := range roster.Sessions {
		s := &roster.Sessions[i]
		instrument := instruments[s.Instrument]
		if instrument == nil {
			instrument = &study.Instrument{} // nothing is stated
		}
		for _, check := range []func(*study.Roster, *study.Session, *study.Instrument) error{checkLine, checkTrap} {
			if err := check(roster, s, instrument); err != nil && !refused.Note(err) {
				return err
			}
		}
	}
	return refused.Err()
}

// checkTrap returns a [*study.Refusal] for a light trap that reads what none can, or contradicts the u_zero of its
// instrument.
func checkTrap(roster *study.Roster, s *study.Session, instrument *study.Instrument) error {
	u := instrument.UZero
	trap, read := ZeroByTrap(roster, s)
	if read && math.Abs(trap.Mean) > mostZero {
		return &study.Refusal{
			Fault: fmt.Sprintf("session %s: its light trap reads %.3g, and a zero is at most %g", s.Session, trap.Mean, mostZero),
			Try:   "write the value as a fraction: 0.0004 for 0.04 %; if it is one, look for light that passes the sample"}
	}
	if !u.Is || !read || math.Abs(trap.Mean) <= mostTrapDeviation*math.Hypot(u.Value, trap.U) {
		return nil
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("session %s: its light trap reads %.3g, and the u_zero of instrument %s is stated as %.3g, which "+
			"also applies to its sessions without a light trap", s.Session, trap.Mean, s.Instrument, u.Value),
		Try: "correct the reading, or enrol the instrument under another name with a larger u_zero or none"}
}
