package scenario

import (
	"math"
	"sync"

	"wane/optics/solar"
)

// What a thin film reflects is a smooth function of the wave number. It is computed at Chebyshev points of the wave number, and
// interpolated by the polynomial through them. The tests hold readings to 2e-6 and solar values to 1e-6 of a computation
// at each wavelength.
const (
	bandNodes = 20 // over the wavelengths of readings
	sunNodes  = 40 // over 300 to 2500 nm
)

// band is a grid of wavelengths with what is needed to interpolate to it.
type band struct {
	nm    []float64   // rising
	nodes []float64   // wavelengths of the nodes, nm, rising
	basis [][]float64 // by wavelength, the weights of the values at the nodes
}

func newBand(nm []float64, n int) *band {
	b := &band{nm: nm}
	low, high := nm[0], nm[len(nm)-1]
	mid, half := (1/low+1/high)/2, (1/low-1/high)/2
	at, weight := make([]float64, n), make([]float64, n)
	b.nodes = make([]float64, n)
	for j := range n {
		angle := float64(2*j+1) * math.Pi / float64(2*n)
		at[j], weight[j] = math.Cos(angle), math.Sin(angle)*float64(1-2*(j%2))
		b.nodes[j] = 1 / (mid + half*at[j])
	}
	for _, lambda := range nm {
		b.basis = append(b.basis, cardinal((1/lambda-mid)/half, at, weight))
	}
	return b
}

// cardinal returns the values at x of the polynomials that are 1 at one node and 0 at the others, by the barycentric formula
// (J.-P. Berrut, L. N. Trefethen, SIAM Review 46 (2004) 501; from memory).
func cardinal(x float64, at, weight []float64) []float64 {
	row, sum := make([]float64, len(at)), 0.0
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

// spread interpolates values at the nodes to the wavelengths.
func (b *band) spread(dst, atNodes []float64) {
	for i, row := range b.basis {
		sum := 0.0
		for j, v := range atNodes {
			sum += row[j] * v
		}
		dst[i] = sum
	}
}

// sun holds the wavelengths of nodes from 300 to 2500 nm, and the weights of the values there in a solar mean by energy
// (ASTM G173-03, global).
type sun struct{ nodes, weights []float64 }

// sunlight is made once and never changed.
var sunlight = sync.OnceValues(func() (*sun, error) {
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	if err != nil {
		return nil, err
	}
	b := newBand(nm, sunNodes)
	s := &sun{nodes: b.nodes, weights: make([]float64, sunNodes)}
	for i, row := range b.basis {
		for j, v := range row {
			s.weights[j] += weights[i] * v
		}
	}
	return s, nil
})
