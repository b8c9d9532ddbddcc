package solar

import (
	"slices"

	"gonum.org/v1/gonum/integrate"
)

// Planck's constant in J s and the speed of light in m/s, exact by definition
// of the SI (2019).
const (
	planck = 6.62607015e-34
	light  = 299792458
)

// Irradiance returns the sunlight in the band from loNM to hiNM, in W/m². The
// band must lie within the table and not be empty; else it is a [*BandError].
func Irradiance(loNM, hiNM float64) (wPerM2 float64, err error) {
	return integral(loNM, hiNM, Energy)
}

// PhotonFlux returns the photons in a band, in 1/(m² s):
//
//	∫ E·λ/(h·c) dλ
//
// with E the irradiance. The band and the error are those of [Irradiance].
func PhotonFlux(loNM, hiNM float64) (perM2S float64, err error) {
	v, err := integral(loNM, hiNM, Photon)
	return v * 1e-9 / (planck * light), err // 1e-9 m for each nm of λ
}

// Grid returns the wavelengths, in nm and increasing, on which sunlight in the
// band from loNM to hiNM is integrated: those of the table within it, and its
// two ends. A part of the band beyond the table is left out; if nothing
// remains the result is empty.
func Grid(loNM, hiNM float64) []float64 {
	table := sun().nm
	return union(table, nil, max(loNM, table[0]), min(hiNM, table[len(table)-1]))
}

// union returns lo, hi and those of a and b that lie between, in order; nothing
// if lo is not below hi. a and b are increasing. A wavelength of both comes
// twice, which adds an interval of no width.
func union(a, b []float64, lo, hi float64) []float64 {
	if !(lo < hi) {
		return nil
	}
	a, b = between(a, lo, hi), between(b, lo, hi)
	nodes := make([]float64, 0, len(a)+len(b)+2)
	nodes = append(nodes, lo)
	for len(a) > 0 && len(b) > 0 {
		if a[0] > b[0] {
			a, b = b, a
		}
		nodes = append(nodes, a[0])
		a = a[1:]
	}
	nodes = append(append(nodes, a...), b...)
	return append(nodes, hi)
}

// between returns the part of x with lo < x < hi.
func between(x []float64, lo, hi float64) []float64 {
	from, found := slices.BinarySearch(x, lo)
	if found {
		from++
	}
	to, _ := slices.BinarySearch(x, hi)
	return x[from:max(from, to)]
}

// integral returns ∫E dλ in W/m², or ∫E·λ dλ in nm W/m² for photons.
func integral(loNM, hiNM float64, by Weighting) (float64, error) {
	table := sun().nm
	first, last := table[0], table[len(table)-1]
	if !(first <= loNM && loNM < hiNM && hiNM <= last) {
		return 0, &BandError{loNM, hiNM, "is empty or reaches beyond the table", first, last}
	}
	nodes := Grid(loNM, hiNM)
	return integrate.Trapezoidal(nodes, ordinates(nodes, by)), nil
}

// ordinates returns E, or E·λ for photons, at increasing wavelengths within the
// table.
func ordinates(nm []float64, by Weighting) []float64 {
	s := sun()
	at := cursor{x: s.nm}
	out := make([]float64, len(nm))
	for k, w := range nm {
		i, f := at.find(w)
		out[k] = s.irradiance[i]*(1-f) + s.irradiance[i+1]*f
		if by == Photon {
			out[k] *= w
		}
	}
	return out
}

// cursor finds increasing positions on an increasing grid x.
type cursor struct {
	x []float64
	i int
}

// find returns the interval [x[i], x[i+1]] that holds w, and how far along it w
// lies, 0 to 1.
func (c *cursor) find(w float64) (i int, along float64) {
	for c.i+2 < len(c.x) && c.x[c.i+1] <= w {
		c.i++
	}
	lo, hi := c.x[c.i], c.x[c.i+1]
	return c.i, (w - lo) / (hi - lo)
}
