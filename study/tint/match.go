package tint

import (
	"math"

	"wane/optics"
	"wane/optics/colour"
)

// Measured is a tint that was measured.
type Measured struct {
	// Seen are tristimulus values relative to the white of the light: 100 is a white sheet.
	Seen colour.XYZ

	// Absolute says that the luminance counts, as of a colour meter that was set on a white standard. Else only the tint
	// counts, as of a camera: how much light the surface threw back to it is not known.
	Absolute bool

	// Spread is the standard deviation of the measurement, as a colour difference by CIEDE2000; above 0.
	Spread float64
}

// OfLab returns a tint by its L*a*b* relative to the white of a light.
func OfLab(lab colour.Lab, light colour.Light, spread float64) Measured {
	return Measured{Seen: lab.XYZ(light.White()), Absolute: true, Spread: spread}
}

// Range is what films are tried.
type Range struct {
	MostNM                 float64 // of thickness, from 0
	LoPorosity, HiPorosity float64
	MostBare               float64
}

// Steps of the search: in nm, and how many porosities and bare fractions are tried.
const (
	stepNM     = 1
	porosities = 5
	bares      = 4
)

// coverage is how many standard deviations a tint may be off before a film is excluded.
const coverage = 2

// leastSpread is what colours differ by at least, beside the measurement: what the model of the film leaves out. Common
// practice, no source.
const leastSpread = 1.0

// Allowed returns by how much a tint may differ from one that was measured with this spread.
func Allowed(spread float64) float64 { return coverage * math.Hypot(spread, leastSpread) }

// Interval is thicknesses that cannot be excluded, and the film among them whose tint comes nearest.
type Interval struct {
	LoNM, HiNM float64
	Nearest    Film
	Difference float64 // of its tint, by CIEDE2000
}

// Match returns the thicknesses that a measured tint cannot exclude, in their order, and the film whose tint comes nearest of
// all that were tried: with no interval, no film of the range has that tint. A film is excluded if its tint differs by more than
// two standard deviations, and so by each porosity and bare fraction of the range.
func (v *View) Match(m Measured, of Range) (intervals []Interval, nearest Interval, err error) {
	if !(m.Spread > 0) || math.IsInf(m.Spread, 1) {
		return nil, nearest, &optics.DomainError{Quantity: "spread", At: -1, Value: m.Spread, Want: "above 0, a colour difference"}
	}
	allowed := Allowed(m.Spread)
	nearest.Difference = math.Inf(1)
	var open *Interval
	for i := 0; float64(i)*stepNM <= of.MostNM; i++ {
		nm := float64(i) * stepNM
		film, difference, err := v.nearest(m, nm, &of)
		if err != nil {
			return nil, nearest, err
		}
		if difference < nearest.Difference {
			nearest = Interval{nm, nm, film, difference}
		}
		switch {
		case difference > allowed:
			open = nil
			continue
		case open == nil:
			intervals = append(intervals, Interval{LoNM: nm, HiNM: nm, Nearest: film, Difference: difference})
			open = &intervals[len(intervals)-1]
		}
		open.HiNM = nm
		if difference < open.Difference {
			open.Nearest, open.Difference = film, difference
		}
	}
	return intervals, nearest, nil
}

// nearest returns the film of a thickness whose tint comes nearest, and by how much it differs.
func (v *View) nearest(m Measured, nm float64, of *Range) (best Film, least float64, err error) {
	least = math.Inf(1)
	for i := range porosities {
		film := Film{ThicknessNM: nm, Porosity: of.LoPorosity + (of.HiPorosity-of.LoPorosity)*float64(i)/(porosities-1)}
		coated, err := v.seen(film)
		if err != nil {
			return best, least, err
		}
		glass := v.weights.XYZ(v.bare)
		for k := range bares {
			film.Bare = of.MostBare * float64(k) / (bares - 1)
			seen := colour.XYZ{X: coated.X + film.Bare*(glass.X-coated.X), Y: coated.Y + film.Bare*(glass.Y-coated.Y),
				Z: coated.Z + film.Bare*(glass.Z-coated.Z)}
			if d := v.difference(m, seen); d < least {
				best, least = film, d
			}
		}
		if nm == 0 {
			break // no film: its porosity is nothing
		}
	}
	return best, least, nil
}

// difference returns how different a measured tint and a film look.
func (v *View) difference(m Measured, seen colour.XYZ) float64 {
	if m.Absolute {
		return colour.Difference(m.Seen.Lab(v.white), seen.Lab(v.white))
	}
	bright := seen.Times(v.scale)
	return colour.Difference(m.Seen.Times(bright.Y/m.Seen.Y).Lab(v.white), bright.Lab(v.white))
}
