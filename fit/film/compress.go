package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// The reflectance of a thin film is smooth in 1/wavelength: a polynomial through
// M Chebyshev nodes in 1/λ gives it on a whole grid. With L the matrix that
// interpolates from the nodes to the N grid points, and L = Q·S its thin QR
// factorisation, the sum of squares of the residuals of a model with values m at
// the nodes is, for fixed weights,
//
//	|y - L·m|² = |Qᵀy - S·m|² + |y|² - |Qᵀy|²
//
// so that a curve becomes M pseudo-data z = Qᵀy, once, and a rest that no film
// changes. The model is evaluated at the nodes only. It is exact up to the error
// of the interpolation, which is checked when the compression is made.

// compression stands for a grid, for films up to an optical thickness.
type compression struct {
	*view
	maxTau float64   // nm
	grid   int       // number of points that it stands for
	q      []float64 // grid x M, by columns
	mix    []float64 // M x M, S by rows, zeros below the diagonal
	scans  []*scanTable
}

// Levels of compression: optical thickness (nm) up to which a level holds, and
// the numbers of nodes tried for it.
var compressions = []struct {
	maxTau float64
	nodes  []int
}{
	{240, []int{12, 14, 16, 18, 20, 24}},
	{450, []int{16, 20, 24, 28, 32, 40}},
}

// compressionError is the largest error of reflectance that a compression may
// make, a fraction: some 1e-5 of the noise of the best curves, and small enough for
// sums of squares to agree to 1e-8.
const compressionError = 1e-9

// absorptionError is the same where the glass absorbs: its k follows a table, whose
// corners no polynomial follows, and enters R to the first order.
const absorptionError = 2e-7

// compress returns the compression of the grid of full at a level, or nil if the
// surface is not smooth enough for it or the grid too short.
func compress(setup *Setup, full *view, angle float64, level int, layers *[]*layer) (*compression, error) {
	if full.far != nil {
		return nil, nil // absorption in the pane follows a table, which is not smooth
	}
	clear := *setup
	clear.Glass.Index = setup.Glass.Index.Lossless()
	smooth, err := newView(&clear, full.nm, angle, layers)
	if err != nil {
		return nil, err
	}
	l := compressions[level]
	for _, nodes := range l.nodes {
		if 2*nodes > len(full.nm) {
			return nil, nil
		}
		at := chebyshevNM(full.nm[0], full.nm[len(full.nm)-1], nodes)
		short, err := newView(&clear, at, angle, layers)
		if err != nil {
			return nil, err
		}
		interpolate := lagrange(at, full.nm)
		if interpolationError(setup, short, smooth, interpolate, l.maxTau) > compressionError {
			continue
		}
		if short, err = newView(setup, at, angle, layers); err != nil {
			return nil, err
		}
		if interpolationError(setup, short, full, interpolate, l.maxTau) > absorptionError {
			return nil, nil
		}
		c := &compression{view: short, maxTau: l.maxTau, grid: len(full.nm)}
		c.factorise(interpolate)
		return c, nil
	}
	return nil, nil
}

// chebyshevNM returns n wavelengths, rising, at the Chebyshev nodes of the first
// kind in 1/λ between the wavelengths lo and hi.
func chebyshevNM(lo, hi float64, n int) []float64 {
	mid, half := (1/lo+1/hi)/2, (1/lo-1/hi)/2
	nm := make([]float64, n)
	for j := range nm {
		nm[j] = 1 / (mid + half*math.Cos(math.Pi*(float64(j)+0.5)/float64(n)))
	}
	return nm
}

// lagrange returns the matrix, len(grid) x len(nodes), that takes values at the
// nodes to the polynomial through them in 1/λ at the grid, by the barycentric
// formula (J.-P. Berrut, L. N. Trefethen, SIAM Review 46, 501 (2004), from memory).
func lagrange(nodes, grid []float64) *mat.Dense {
	n := len(nodes)
	weight := make([]float64, n)
	for j := range weight { // of the Chebyshev nodes of the first kind
		weight[j] = math.Sin(math.Pi * (float64(j) + 0.5) / float64(n))
		if j%2 == 1 {
			weight[j] = -weight[j]
		}
	}
	l := mat.NewDense(len(grid), n, nil)
	for i, lambda := range grid {
		row := l.RawRowView(i)
		if k := slices.Index(nodes, lambda); k >= 0 {
			row[k] = 1
			continue
		}
		for j := range row {
			row[j] = weight[j] / (1/lambda - 1/nodes[j])
		}
		floats.Scale(1/floats.Sum(row), row)
	}
	return l
}

// interpolationError returns the largest error of the interpolation from nodes to
// the whole grid for bare glass and for films of optical thickness tau and of the
// lowest, middle and highest index.
func interpolationError(setup *Setup, nodes, whole *view, interpolate *mat.Dense, tau float64) float64 {
	lo, hi := setup.Coating.indexRange()
	skeleton, _ := setup.Coating.skeleton()
	worst := 0.0
	check := func(short, long []float64) {
		var got mat.VecDense
		got.MulVec(interpolate, mat.NewVecDense(len(short), short))
		for i, want := range long {
			worst = max(worst, math.Abs(got.AtVec(i)-want))
		}
	}
	nodes.surface.Tilt(nodes.angle)
	whole.surface.Tilt(whole.angle)
	nodeS, nodeP := nodes.surface.Bare()
	gridS, gridP := whole.surface.Bare()
	check(nodeS, gridS)
	check(nodeP, gridP)
	for _, index := range []float64{lo, (lo + hi) / 2, hi} {
		g := geometry{d: tau / index, index: index, skeleton: skeleton}
		nodes.see(&g, 0)
		whole.see(&g, 0)
		check(nodes.s.R, whole.s.R)
		check(nodes.p.R, whole.p.R)
	}
	return worst
}

// factorise stores the thin QR factorisation of the interpolation, by Gram and
// Schmidt, twice so that the columns of Q are at right angles to rounding.
func (c *compression) factorise(interpolate *mat.Dense) {
	n, m := interpolate.Dims()
	c.q, c.mix = make([]float64, n*m), make([]float64, m*m)
	for j := range m {
		col := c.q[j*n : (j+1)*n]
		mat.Col(col, j, interpolate)
		for range 2 {
			for k := range j {
				before := c.q[k*n : (k+1)*n]
				part := floats.Dot(before, col)
				floats.AddScaled(col, -part, before)
				c.mix[k*m+j] += part
			}
		}
		length := floats.Norm(col, 2)
		floats.Scale(1/length, col)
		c.mix[j*m+j] = length
	}
}

// pack stores the pseudo-data of the curve y in dst, one for each node, and
// returns the sum of squares of what they leave out.
func (c *compression) pack(dst, y []float64) (rest float64) {
	n := c.grid
	rest = floats.Dot(y, y)
	for j := range dst {
		z := floats.Dot(c.q[j*n:(j+1)*n], y)
		dst[j] = z
		rest -= z * z
	}
	return max(rest, 0)
}

// stir replaces rows (M rows of width columns) by S·rows, in place: row i needs
// only itself and those below.
func (c *compression) stir(rows []float64, width int) {
	m := len(c.nm)
	for i := range m {
		to := rows[i*width : (i+1)*width]
		floats.Scale(c.mix[i*m+i], to)
		for k := i + 1; k < m; k++ {
			floats.AddScaled(to, c.mix[i*m+k], rows[k*width:(k+1)*width])
		}
	}
}
