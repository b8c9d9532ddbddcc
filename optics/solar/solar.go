// Package solar weights spectra with sunlight: the reference spectrum of ASTM
// G173-03, global on a 37 degree tilt (AM1.5), 280 to 4000 nm.
//
// Start with [Weights], which turns the solar-weighted mean over a band into
// one sum over the values of a spectrum. [Irradiance] and [PhotonFlux] integrate
// sunlight itself.
//
// Wavelengths are in nm, as printed in the standard. Between table rows the
// irradiance is linear. All integrals are trapezoids on the table's wavelengths,
// the ends of the band and, for weights, the wavelengths of the spectrum.
// Nothing is extrapolated: a band beyond the table is a [*BandError].
package solar

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"

	"wane/optics/internal/figures"
)

// Weighting says what is weighted with.
type Weighting int

const (
	// Energy weights with the irradiance.
	Energy Weighting = iota
	// Photon weights with the number of photons: irradiance times wavelength.
	Photon
)

// String returns energy or photon.
func (by Weighting) String() string {
	if by == Photon {
		return "photon"
	}
	return "energy"
}

//go:embed am15g.csv
var am15g string

type spectrum struct{ nm, irradiance []float64 }

var sun = sync.OnceValue(func() spectrum {
	columns := figures.MustColumns(am15g)
	return spectrum{columns[0], columns[1]}
})

// Table returns a copy of the reference spectrum: 2002 increasing wavelengths in
// nm, and the irradiance at each in W/(m² nm).
//
// Source: ASTM G173-03, hemispherical on a 37 degree tilted surface; see the
// head of am15g.csv for where the figures were taken from.
func Table() (nm, irradiance []float64) {
	s := sun()
	return slices.Clone(s.nm), slices.Clone(s.irradiance)
}

// BandError reports a band that is not within the table, or not met by a
// spectrum.
type BandError struct {
	LoNM, HiNM   float64 // the band
	Fault        string  // what is wrong between it and the wavelengths
	FromNM, ToNM float64 // of the table or the spectrum
}

func (e *BandError) Error() string {
	return fmt.Sprintf("solar: band from %g to %g nm %s, %g to %g nm", e.LoNM, e.HiNM, e.Fault, e.FromNM, e.ToNM)
}
