package foreign

import (
	_ "embed"
	"math"
	"sync"
)

// Reflectance of films much thinner than a few wavelengths is a smooth function of the wave
// number. It is computed at Chebyshev points of the wave number and interpolated by the
// polynomial through them; the tests bound the error.
const (
	bandKnots = 24 // for the band of the readings
	sunKnots  = 44 // for 300 to 2500 nm
)

// Band is a grid of wavelengths at which readings are taken, with what is needed to interpolate
// to it. It is never changed once made, and may be shared.
type Band struct {
	WavelengthNM []float64 // rising
	knots        []float64 // wavelengths of the Chebyshev points, nm
	basis        [][]float64
}

// NewBand returns the band of points equally spaced wavelengths from low to high, in nm.
func NewBand(low, high float64, points int) *Band {
	b := &Band{WavelengthNM: make([]float64, points)}
	for i := range b.WavelengthNM {
		b.WavelengthNM[i] = low + (high-low)*float64(i)/float64(points-1)
	}
	b.knots, b.basis = interpolation(low, high, bandKnots, b.WavelengthNM)
	return b
}

// spread interpolates values at the knots to the band's grid.
func (b *Band) spread(dst, atKnots []float64) {
	for i, row := range b.basis {
		sum := 0.0
		for j, v := range atKnots {
			sum += row[j] * v
		}
		dst[i] = sum
	}
}

// interpolation returns n wavelengths between low and high, and for each wavelength of grid the
// weights of the values there: barycentric interpolation at Chebyshev points of the first kind
// (J.-P. Berrut, L. N. Trefethen, SIAM Review 46, 501-517 (2004); from memory) in 1/wavelength.
func interpolation(low, high float64, n int, grid []float64) (knots []float64, basis [][]float64) {
	mid, half := (1/low+1/high)/2, (1/low-1/high)/2
	at, weight := make([]float64, n), make([]float64, n)
	knots = make([]float64, n)
	for j := range n {
		angle := float64(2*j+1) * math.Pi / float64(2*n)
		at[j], weight[j] = math.Cos(angle), math.Sin(angle)
		if j%2 == 1 {
			weight[j] = -weight[j]
		}
		knots[j] = 1 / (mid + half*at[j])
	}
	basis = make([][]float64, len(grid))
	for i, lambda := range grid {
		basis[i] = barycentric((1/lambda-mid)/half, at, weight)
	}
	return knots, basis
}

// barycentric returns the values at x of the polynomials that are 1 at one point and 0 at the others.
func barycentric(x float64, at, weight []float64) []float64 {
	row := make([]float64, len(at))
	sum := 0.0
	for j := range at {
		if x == at[j] {
			clear(row)
			row[j] = 1
			return row
		}
		row[j] = weight[j] / (x - at[j])
		sum += row[j]
	}
	for j := range row {
		row[j] /= sum
	}
	return row
}

//go:embed am15g.csv
var sunTable string

// sun holds, for values at Chebyshev points between 300 and 2500 nm, the weights of their mean
// by energy (300-2500 nm) and by photons (300-1200 nm) of ASTM G173-03 global tilt.
type sun struct{ knots, energy, photons []float64 }

// sunlight is computed once; like every table of the package it is never changed.
var sunlight = sync.OnceValue(func() *sun {
	table := columns(sunTable, 2)
	var grid, irradiance []float64
	for i, lambda := range table[0] {
		if lambda >= 300 && lambda <= 2500 {
			grid, irradiance = append(grid, lambda), append(irradiance, table[1][i])
		}
	}
	s := &sun{energy: make([]float64, sunKnots), photons: make([]float64, sunKnots)}
	var basis [][]float64
	s.knots, basis = interpolation(300, 2500, sunKnots, grid)
	accumulate(s.energy, basis, trapezoid(grid, 2500), irradiance)
	photons := make([]float64, len(grid))
	for i := range grid {
		photons[i] = irradiance[i] * grid[i]
	}
	accumulate(s.photons, basis, trapezoid(grid, 1200), photons)
	return s
})

// trapezoid returns the weights of the trapezoidal rule over the points of grid up to high, which
// is one of them.
func trapezoid(grid []float64, high float64) []float64 {
	w := make([]float64, len(grid))
	for i := 1; i < len(grid) && grid[i] <= high; i++ {
		half := (grid[i] - grid[i-1]) / 2
		w[i-1] += half
		w[i] += half
	}
	return w
}

// accumulate stores in dst the weights of the interpolated mean over the grid.
func accumulate(dst []float64, basis [][]float64, steps, spectrum []float64) {
	total := 0.0
	for i, step := range steps {
		total += step * spectrum[i]
	}
	for i, row := range basis {
		share := steps[i] * spectrum[i] / total
		for j, v := range row {
			dst[j] += share * v
		}
	}
}

// Rubin's extinction, parsed once.
var paneExtinction = sync.OnceValue(func() *extinction {
	c := columns(extinctionTable, 3)
	return &extinction{c[0], c[1], c[2]}
})
