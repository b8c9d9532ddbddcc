package film

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Instrument describes the beam and the detectors of an instrument. The zero value is a
// parallel beam, a narrow slit and one detector.
type Instrument struct {
	ConeDeg float64   // half-angle of the cone of directions in the beam, evenly filled
	SlitNM  float64   // full width at half maximum of the triangular slit function
	JoinsNM []float64 // wavelengths at which the next detector begins, rising
	UJoin   float64   // standard uncertainty of the step at each join, a fraction of full scale; 0: no step
}

// CheckInstrument returns an [*InputError] for the first value of in that is not possible,
// and nil if there is none. A register can so refuse it before any reading exists.
func CheckInstrument(in *Instrument) error { return in.check() }

const (
	maxConeDeg = 15.0
	maxSlitNM  = 50.0
	maxJoins   = 4
)

// check returns the error of [CheckInstrument].
func (in *Instrument) check() error {
	bad := func(fault, try string) error { return &InputError{"instrument", fault, try} }
	switch {
	case !(in.ConeDeg >= 0 && in.ConeDeg <= maxConeDeg):
		return bad(fmt.Sprintf("a cone of half-angle %g degrees is outside 0 to %g", in.ConeDeg, maxConeDeg),
			"state the half-angle of the beam, in degrees")
	case !(in.SlitNM >= 0 && in.SlitNM <= maxSlitNM):
		return bad(fmt.Sprintf("a slit of %g nm is outside 0 to %g", in.SlitNM, maxSlitNM),
			"state the spectral width at half maximum, in nm")
	case !(in.UJoin >= 0 && in.UJoin <= 1):
		return bad(fmt.Sprintf("%g is not a standard uncertainty of a step in reflectance", in.UJoin),
			"state it as a fraction")
	case len(in.JoinsNM) > maxJoins:
		return bad(fmt.Sprintf("%d detector joins are more than %d", len(in.JoinsNM), maxJoins),
			"state those inside the spectra")
	case !slices.IsSorted(in.JoinsNM) || len(slices.Compact(slices.Clone(in.JoinsNM))) < len(in.JoinsNM):
		return bad("the detector joins do not rise", "state each once, in rising order")
	}
	for _, nm := range in.JoinsNM {
		if !(nm > 0) || math.IsInf(nm, 0) {
			return bad(fmt.Sprintf("a detector join at %g nm is no wavelength", nm), "state it in nm")
		}
	}
	return nil
}

// joins are detector joins inside some curve, nm: of reflectance, and of transmittance, which has steps of its own.
type joins struct{ ofR, ofT []float64 }

// ofCurve returns those of the quantity of a curve, and how many stand before them.
func (j *joins) ofCurve(c *Curve) (nm []float64, before int) {
	if c.Through {
		return j.ofT, len(j.ofR)
	}
	return j.ofR, 0
}

func (j *joins) countJoins() int { return len(j.ofR) + len(j.ofT) }

// joinsOf returns the joins that lie inside some curve.
func (s *Spot) joinsOf() joins {
	if s.joins != nil {
		return *s.joins
	}
	var inside joins
	for _, j := range s.Instrument.JoinsNM {
		in := func(through bool) bool {
			return s.Instrument.UJoin > 0 && slices.ContainsFunc(s.Curves, func(c Curve) bool {
				return c.Through == through && c.NM[0] < j && j <= c.NM[len(c.NM)-1]
			})
		}
		if in(false) {
			inside.ofR = append(inside.ofR, j)
		}
		if in(true) {
			inside.ofT = append(inside.ofT, j)
		}
	}
	return inside
}

// piece is the part of a curve that one detector reads.
type piece struct {
	from, to int // its points: from included, to excluded
	joins    int // number of joins below it
}

// pieces divides a curve with the wavelengths nm at the joins.
func pieces(nm, joins []float64) []piece {
	var out []piece
	from := 0
	for k := range len(joins) + 1 {
		to := len(nm)
		if k < len(joins) {
			to = sort.SearchFloat64s(nm, joins[k])
		}
		if to > from {
			out = append(out, piece{from, to, k})
		}
		from = to
	}
	return out
}

// quadrature is a set of offsets with weights that add to 1.
type quadrature []struct{ at, weight float64 }

// slit averages over a triangle of full width at half maximum 1: three points,
// exact to the fifth order, from its moments 1/6 and 1/15.
var slit = quadrature{{-math.Sqrt(0.4), 5. / 24}, {0, 7. / 12}, {math.Sqrt(0.4), 5. / 24}}

// gauss averages over a normal distribution of standard deviation 1: seven points,
// Gauss-Hermite, exact to the 13th order (M. Abramowitz, I. A. Stegun, Handbook of
// Mathematical Functions, table 25.10, from memory; moments checked in the tests).
var gauss = quadrature{
	{-3.750439717725742, 5.482688559722185e-4}, {-2.366759410734541, 3.075712396758645e-2},
	{-1.154405394739968, 0.2401231786050127},
	{0, 0.4571428571428571},
	{1.154405394739968, 0.2401231786050127}, {2.366759410734541, 3.075712396758645e-2},
	{3.750439717725742, 5.482688559722185e-4},
}
