package optics

import "math"

// Nodes are a few wavelengths from whose values a smooth spectrum follows. What a thin film reflects is a smooth function
// of the wave number: it is interpolated by the polynomial through its values at Chebyshev points of the wave number. An
// index of a table with kinks is not smooth: compare before use.
type Nodes struct {
	Grid  []float64   // the wavelengths to which it interpolates, nm, rising
	NM    []float64   // those of the nodes, nm, rising
	basis [][]float64 // by wavelength of the grid, the weights of the values at the nodes
}

// NewNodes returns n nodes for the grid nm, of two wavelengths in nm or more, rising.
func NewNodes(nm []float64, n int) *Nodes {
	low, high := nm[0], nm[len(nm)-1]
	mid, half := (1/low+1/high)/2, (1/low-1/high)/2
	b := &Nodes{Grid: nm, NM: make([]float64, n), basis: make([][]float64, len(nm))}
	at, weight := make([]float64, n), make([]float64, n)
	for j := range n {
		angle := float64(2*j+1) * math.Pi / float64(2*n)
		at[j], weight[j] = math.Cos(angle), math.Sin(angle)*float64(1-2*(j%2))
		b.NM[j] = 1 / (mid + half*at[j])
	}
	for i, lambda := range nm {
		b.basis[i] = cardinal((1/lambda-mid)/half, at, weight)
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

// Spread interpolates values at the nodes to the wavelengths of the grid. dst has one place for each.
func (b *Nodes) Spread(dst, atNodes []float64) {
	for i, row := range b.basis {
		sum := 0.0
		for j, v := range atNodes {
			sum += row[j] * v
		}
		dst[i] = sum
	}
}

// Weights returns the weights of values at the nodes in a sum over the grid with the weights given, one for each of its
// wavelengths.
func (b *Nodes) Weights(onGrid []float64) []float64 {
	weights := make([]float64, len(b.NM))
	for i, row := range b.basis {
		for j, v := range row {
			weights[j] += onGrid[i] * v
		}
	}
	return weights
}
