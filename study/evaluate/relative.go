package evaluate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"wane/optics"
	"wane/study"
)

// Absolute returns the absolute values of a spectrum that was read relative to a reference:
//
//	value = reading · certified value
//
// with the certified value at the same angle and polarisation. It is interpolated linearly
// between the wavelengths of the certificate and never extrapolated. If the certificate has
// no values for unpolarised light (u), it is the mean of s and p.
//
// u is the standard uncertainty of the values by the certificate alone, interpolated in the
// same way. This error is nearly the same at all points; it is no noise. Both slices are as
// long as s.NM; values are fractions if the certified ones are.
//
// s is not changed. A certificate without that angle and polarisation, or of a narrower
// range, gives a [*study.Refusal].
func Absolute(ref *study.Reference, s *study.Spectrum) (values, u []float64, err error) {
	curves, err := curvesFor(ref, s)
	if err != nil {
		return nil, nil, err
	}
	values, u = make([]float64, len(s.NM)), make([]float64, len(s.NM))
	part := 1 / float64(len(curves))
	for _, c := range curves {
		if lo, hi := c.NM[0], c.NM[len(c.NM)-1]; len(s.NM) > 0 && (s.NM[0] < lo || s.NM[len(s.NM)-1] > hi) {
			return nil, nil, &study.Refusal{File: s.File, Fault: fmt.Sprintf("its readings go from %g to %g nm, and "+
				"reference %s is certified from %g to %g nm at %g degrees, %s",
				s.NM[0], s.NM[len(s.NM)-1], ref.Reference, lo, hi, c.AngleDeg, c.Polarisation),
				Try: fmt.Sprintf("leave out what lies outside: --range %g-%g; nothing is extrapolated", max(lo, s.NM[0]),
					min(hi, s.NM[len(s.NM)-1]))}
		}
		for i, nm := range s.NM {
			values[i] += part * s.Values[i] * interpolate(c.NM, c.Values, nm)
			u[i] += part * math.Abs(s.Values[i]) * interpolate(c.NM, c.U, nm)
		}
	}
	return values, u, nil
}

// curvesFor returns the certified curves whose mean applies to a spectrum: one, or s and p.
func curvesFor(ref *study.Reference, s *study.Spectrum) ([]*study.ReferenceCurve, error) {
	find := func(pol string) *study.ReferenceCurve {
		k := slices.IndexFunc(ref.Curves, func(c study.ReferenceCurve) bool {
			return c.AngleDeg == s.AngleDeg && c.Polarisation == pol
		})
		if k < 0 {
			return nil
		}
		return &ref.Curves[k]
	}
	if c := find(s.Polarisation); c != nil {
		return []*study.ReferenceCurve{c}, nil
	}
	if a, b := find("s"), find("p"); s.Polarisation == "u" && a != nil && b != nil {
		return []*study.ReferenceCurve{a, b}, nil
	}
	return nil, &study.Refusal{File: s.File, Fault: fmt.Sprintf("certificate %s of reference %s has no values at %g "+
		"degrees, %s", ref.Certificate, ref.Reference, s.AngleDeg, s.Polarisation),
		Try: "enrol a certificate with a table of values for that angle and polarisation"}
}

// interpolate returns y at x by straight lines. xs is strictly increasing, y as long, and x
// within xs.
func interpolate(xs, y []float64, x float64) float64 {
	k := sort.SearchFloat64s(xs, x)
	if k < len(xs) && xs[k] == x {
		return y[k]
	}
	f := (x - xs[k-1]) / (xs[k] - xs[k-1])
	return y[k-1] + f*(y[k]-y[k-1])
}

// Blank is a reading of a dark blank with the index of its glass, the half-angle of the beam in degrees, and what is expected
// of the leak of its far face.
type Blank struct {
	Spectrum study.Spectrum
	Geometry string
	Glass    optics.Index
	ConeDeg  float64
	Leak     float64
}

// NewBlank returns a reading of a dark blank of that setup.
func NewBlank(setup *Setup, r *study.Reading) Blank {
	b := Blank{Geometry: r.Geometry, Glass: setup.Glass.Index, ConeDeg: setup.Instrument.ConeDeg,
		Spectrum: study.Spectrum{NM: r.NM, Values: r.Values,
			AngleDeg: r.AngleDeg, Polarisation: r.Polarisation}}
	if setup.Glass.Back == optics.Matched {
		b.Leak = knownOf(setup).Coupon.Leak
	}
	return b
}

// DivideByBlanks returns the readings of one spot over the dark blanks: see divideByBlank. blanks holds those of the
// same session. A reading is divided by those at the same angle and polarisation, by a sphere or not as itself; with
// several, the result is the mean of the quotients. readings is not changed. A reading without such a blank gives a
// [*study.Refusal].
func DivideByBlanks(readings []study.Reading, blanks []Blank) ([]study.Reading, error) {
	out := slices.Clone(readings)
	for i := range out {
		r := &out[i]
		if r.Quantity == study.Transmittance { // the blank of the pane counts in another way
			continue
		}
		s := study.Spectrum{NM: r.NM, Values: r.Values, AngleDeg: r.AngleDeg, Polarisation: r.Polarisation}
		sum, n := make([]float64, len(r.Values)), 0.0
		for k := range blanks {
			b := &blanks[k]
			if b.Spectrum.AngleDeg != r.AngleDeg || b.Spectrum.Polarisation != r.Polarisation ||
				study.BySphere(b.Geometry) != study.BySphere(r.Geometry) {
				continue
			}
			values, err := divideByBlank(&s, b)
			if err != nil {
				return nil, err
			}
			for j, v := range values {
				sum[j] += v
			}
			n++
		}
		if n == 0 {
			how := "not by a sphere"
			if study.BySphere(r.Geometry) {
				how = "by a sphere"
			}
			return nil, &study.Refusal{Fault: fmt.Sprintf("no dark blank was read at %g degrees, %s, %s, in the same session, "+
				"and this study evaluates over the blank", r.AngleDeg, r.Polarisation, how),
				Try: "read a dark blank at each angle and polarisation in every session, and name the session of all readings"}
		}
		for j := range sum {
			sum[j] /= n
		}
		r.Values = sum
	}
	return out, nil
}

// What a fit of readings over the blank takes to be known of scale and factors: no longer those of the reference,
// which have cancelled, but by how much the reading of the blank may be off by what is its own: leak and index of its glass, zero,
// tilt and factor of its placement. It is taken to be known as well as that of the coupon is. An error of 1 in each is so many
// times the reflectance of bare glass of 1.52 at 8 degrees, which is a scale; at 30, 45 and 60 degrees it is another, and the
// root mean square of the differences, over all four, is one of the factors.
const (
	zeroAt8, zeroBeyond   = 24, 7  // 1/R
	leakAt8, leakBeyond   = 22, 7  // (1-R)²/R
	indexAt8, indexBeyond = 3, 0.7 // d ln R/dn
	tiltBeyond            = 0.03   // d ln R/dangle, a degree
)

// OverBlank returns setup for readings that were divided by those of dark blanks: see [DivideByBlanks]. The index of the blank
// counts as a part of the scale of the session, as if it were another one at each pull, and not that of the coupon; so a
// change is stated somewhat less surely than it is.
func OverBlank(setup Setup) Setup {
	known := knownOf(&setup)
	zero, leak, index := known.Placement.UZero, known.Coupon.ULeak, math.Hypot(setup.Glass.UIndex, known.Coupon.UIndex)
	known.Session.Scale, known.Session.UScale = 0, rootOfSquares(zeroAt8*zero, leakAt8*leak, indexAt8*index)
	known.Session.UFactor = rootOfSquares(known.Placement.UFactor, tiltBeyond*known.Placement.UTiltDeg, zeroBeyond*zero,
		leakBeyond*leak, indexBeyond*index)
	setup.Known, setup.Divided = &known, true
	return setup
}

func rootOfSquares(values ...float64) (root float64) {
	for _, v := range values {
		root = math.Hypot(root, v)
	}
	return root
}

// divideByBlank returns
//
//	values = value / blank · [R + leak·(1-R)²]
//
// with R the reflectance of the clean face of the blank in air to the beam by Fresnel's equations, and the leak of its far face as it
// is expected: of a matched one, 0 of any other. Both must come from one session, at the same angle and polarisation. The
// blank is interpolated linearly between its wavelengths and never extrapolated. The values are as many as those of
// s, fractions.
//
// The quotient cancels factors that both readings have in common: the scale of the reference and its drift with the
// wavelength, the factor of an angle, a slow drift of the lamp. It cancels nothing else. An offset (stray light, dark
// current, a step at a detector join), an error of the angle and an error of the s share act differently on film and
// glass. A blank whose surface is not that of fresh glass adds its error to every value, and its noise adds to that
// of the spectrum. The model therefore keeps all its nuisance parameters.
func divideByBlank(s *study.Spectrum, by *Blank) ([]float64, error) {
	blank := &by.Spectrum
	switch {
	case s.AngleDeg != blank.AngleDeg || s.Polarisation != blank.Polarisation:
		return nil, &study.Refusal{File: s.File, Fault: fmt.Sprintf("it was read at %g degrees, %s, and the blank at %g "+
			"degrees, %s", s.AngleDeg, s.Polarisation, blank.AngleDeg, blank.Polarisation),
			Try: "read the blank at the same angle and polarisation in the same session"}
	case len(s.NM) == 0 || len(blank.NM) == 0 || s.NM[0] < blank.NM[0] || s.NM[len(s.NM)-1] > blank.NM[len(blank.NM)-1]:
		return nil, &study.Refusal{File: s.File, Fault: "its readings reach beyond those of the blank",
			Try: "cut them with --range, or read the blank over the same range; nothing is extrapolated"}
	}
	pol, _, err := Beam(s.Polarisation)
	if err != nil {
		return nil, err
	}
	face, err := optics.NewSurface(s.NM, s.AngleDeg, by.Glass)
	var out *optics.RangeError
	if errors.As(err, &out) {
		return nil, &study.Refusal{File: s.File, Fault: fmt.Sprintf("the index of %s is known from %g to %g nm only, and "+
			"the readings go beyond", out.Index, out.LoNM, out.HiNM), Try: "cut them with --range; nothing is extrapolated"}
	}
	if err != nil {
		return nil, err
	}
	share := float64(pol)
	bare := bareInBeam(face, s.AngleDeg, by.ConeDeg, share)
	values := make([]float64, len(s.NM))
	for i, nm := range s.NM {
		b := interpolate(blank.NM, blank.Values, nm)
		if !(b > 0) {
			return nil, &study.Refusal{File: blank.File, Fault: fmt.Sprintf("the blank reads %g at %g nm, and nothing can "+
				"be divided by that", b, nm), Try: "cut the range there with --range, or read the blank again"}
		}
		r := bare[i]
		values[i] = s.Values[i] / b * (r + by.Leak*(1-r)*(1-r))
	}
	return values, nil
}

// bareInBeam returns the reflectance of bare glass to a beam about an angle with a share of s light: the mean over the rays
// of its cone, as the fits take it.
func bareInBeam(face *optics.Surface, angleDeg, coneDeg, share float64) (mean []float64) {
	for _, ray := range optics.Cone(nil, angleDeg, coneDeg) {
		face.Set(ray.AngleDeg, 0)
		s, p := face.Bare()
		mean = append(mean, make([]float64, len(s.R)-len(mean))...)
		seen := share*(1-ray.Turned) + (1-share)*ray.Turned
		for i := range mean {
			mean[i] += ray.Weight * (seen*s.R[i] + (1-seen)*p.R[i])
		}
	}
	return mean
}
