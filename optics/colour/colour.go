// Package colour turns the reflectance of a surface into the colour that a person sees: tristimulus values of the CIE
// 1931 2-degree observer under a light, CIE L*a*b*, sRGB, and the difference of two colours by CIEDE2000.
//
// Start with [For], which turns the sums over the wavelengths of a grid into weights; [Weights.XYZ] then is three sums
// over a spectrum. [XYZ.Lab] and [XYZ.SRGB] are relative to a white: that of the light, or a white sheet seen beside the
// surface.
//
// Spectra are reflectances as fractions at wavelengths in nm, linear in between. Tristimulus values are 100 times
// fractions: Y of a perfect reflector is 100. The difference of wavelengths in air and in vacuum (0.03 %) is neglected.
package colour

import (
	_ "embed"
	"fmt"
	"sync"

	"wane/optics"
	"wane/optics/internal/figures"
)

// Light is a light under which a surface is seen.
type Light int

const (
	// D65 is the daylight of the CIE, some 6500 K.
	D65 Light = iota
	// A is the incandescent lamp of the CIE, 2856 K.
	A
	// E has the same power at every wavelength.
	E
	// LEDB3 is the white LED B3 of the CIE: a blue chip with a phosphor, some 4100 K.
	LEDB3
)

// Lights are all lights.
var Lights = []Light{D65, A, E, LEDB3}

// String returns D65, A, E or LED-B3.
func (l Light) String() string {
	if l < D65 || l > LEDB3 {
		return fmt.Sprintf("light %d", int(l))
	}
	return [...]string{"D65", "A", "E", "LED-B3"}[l]
}

// White returns the tristimulus values of a perfect reflector under the light.
func (l Light) White() XYZ { return observed()[l].white }

var (
	//go:embed cie1931.csv
	cie1931 string
	//go:embed illuminants.csv
	illuminants string
)

// LoNM and HiNM are the ends of the band that is summed over, every nm, in nm. The observer goes on to 360 and 830 nm,
// where it adds 2e-5 of Y at most; the LED is tabulated within these ends only.
const LoNM, HiNM = 380, 780

const nodes = HiNM - LoNM + 1

// seen is light times observer at each nm from LoNM on, made so that their sum over Y is 100.
type seen struct {
	power [nodes][3]float64
	white XYZ
}

var observed = sync.OnceValue(func() *[4]seen {
	var all [4]seen
	observer, lights := figures.MustColumns(cie1931), figures.MustColumns(illuminants)
	column := [...]int{D65: 2, A: 1, E: 3, LEDB3: 4}
	for l := range all {
		s, y := &all[l], 0.0
		for k := range nodes {
			i, f := k/5, float64(k%5)/5
			power := lights[column[l]][i]
			if f > 0 {
				power += f * (lights[column[l]][i+1] - power)
			}
			for c := range 3 {
				s.power[k][c] = power * observer[1+c][k]
			}
			y += s.power[k][1]
		}
		var sum [3]float64
		for k := range nodes {
			for c := range 3 {
				s.power[k][c] *= 100 / y
				sum[c] += s.power[k][c]
			}
		}
		s.white = XYZ{sum[0], sum[1], sum[2]}
	}
	return &all
})

// LeastShare is the least share of what the observer sees that a spectrum must cover.
const LeastShare = 0.99

// Weights are the sums over the wavelengths of one grid under one light.
type Weights struct {
	Light Light
	Share float64 // of X, Y and Z of a perfect reflector, what the grid covers of the one of which it covers least

	x, y, z []float64
	first   int
}

// For returns the weights of spectra on a grid of at least two wavelengths in nm, strictly increasing. Where a grid ends
// within the band, the spectrum goes on with its last value, as ASTM E308 has it (from memory), and Share says how much
// that is: below [LeastShare] it is a [*CoverageError]. A fault of the grid is an [*optics.DomainError].
func For(nm []float64, under Light) (*Weights, error) {
	if under < D65 || under > LEDB3 {
		return nil, &optics.DomainError{Quantity: "light", At: -1, Value: float64(under), Want: "one of D65, A, E, LED-B3"}
	}
	if err := optics.CheckGrid(nm); err != nil {
		return nil, err
	}
	s := &observed()[under]
	x, y, z := make([]float64, len(nm)), make([]float64, len(nm)), make([]float64, len(nm))
	var covered [3]float64
	last := len(nm) - 1
	i := 0
	for k, power := range s.power {
		at := float64(LoNM + k)
		for i+2 < len(nm) && nm[i+1] <= at {
			i++
		}
		f := (at - nm[i]) / (nm[i+1] - nm[i])
		if within := nm[0] <= at && at <= nm[last]; within {
			for c, v := range power {
				covered[c] += v
			}
		}
		f = min(max(f, 0), 1)
		for c, w := range [][]float64{x, y, z} {
			w[i] += (1 - f) * power[c]
			w[i+1] += f * power[c]
		}
	}
	share := min(covered[0]/s.white.X, covered[1]/s.white.Y, covered[2]/s.white.Z)
	if share < LeastShare {
		return nil, &CoverageError{FromNM: nm[0], ToNM: nm[last], Share: share}
	}
	lo, hi := 0, len(nm)
	for lo < last && x[lo] == 0 && y[lo] == 0 && z[lo] == 0 {
		lo++
	}
	for hi-1 > lo && x[hi-1] == 0 && y[hi-1] == 0 && z[hi-1] == 0 {
		hi--
	}
	return &Weights{Light: under, Share: share, x: x[lo:hi], y: y[lo:hi], z: z[lo:hi], first: lo}, nil
}

// XYZ returns the tristimulus values of a spectrum: reflectances as fractions at the wavelengths of the grid. It must be
// as long as the grid.
func (w *Weights) XYZ(reflectance []float64) XYZ {
	seen := reflectance[w.first : w.first+len(w.x)]
	var c XYZ
	x, y, z := w.x[:len(seen)], w.y[:len(seen)], w.z[:len(seen)]
	for i, r := range seen {
		c.X += x[i] * r
		c.Y += y[i] * r
		c.Z += z[i] * r
	}
	return c
}

// CoverageError reports a spectrum that covers too little of what a person sees.
type CoverageError struct {
	FromNM, ToNM float64 // of the spectrum
	Share        float64 // that it covers
}

func (e *CoverageError) Error() string {
	return fmt.Sprintf("colour: a spectrum from %g to %g nm covers %.1f %% of what the observer sees, and less than %.0f %% is "+
		"no colour", e.FromNM, e.ToNM, 100*e.Share, 100*LeastShare)
}
