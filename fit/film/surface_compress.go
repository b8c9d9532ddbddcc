package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/optics"
)

// The reflectance of a thin film is smooth in u = 1/wavelength: a polynomial m of degree
// M-1 describes it on a grid of N points. Let p_k be the polynomials of degree k that are
// orthonormal on the points u_i of the grid, and let u_j be the M roots of p_M. The u_j
// are the nodes of a Gauss quadrature: with weights w_j it gives the sum of a polynomial
// over the N points exactly up to degree 2M-1. The square of m has degree 2M-2. For
// readings y_i therefore
//
//	Σ_i (y_i - m(u_i))² = Σ_j w_j·(z_j - m(u_j))² + rest
//	rest = Σ_i y_i² - Σ_k c_k²
//	c_k  = Σ_i p_k(u_i)·y_i
//	z_j  = Σ_k p_k(u_j)·c_k        k from 0 to M-1
//
// A curve is replaced once by M pseudo-readings z_j at the wavelengths 1/u_j, with
// weights w_j, and a rest that does not depend on the film. The fit treats them as it
// treats any curve. The only error is that of the interpolation by m. It is checked when
// the compression is made. A curve without some of its points has a grid of its own.
//
// Source: the recurrence of the p_k is that of Stieltjes; nodes and weights come from
// the eigenvectors of its matrix: G. H. Golub, J. H. Welsch, Mathematics of Computation
// 23, 221 (1969), from memory.

// nodes are the nodes of a grid.
type nodes struct {
	nm    []float64 // M, rising
	root  []float64 // M, √w_j
	turn  []float64 // M x M, by rows: √w_j·p_k(u_j), an orthogonal matrix
	basis []float64 // M x N, by rows: p_k(u_i)
	grid  int       // N
	step  []float64 // M x M, by rows: the matrix S of steps
	parts []float64 // M, scratch of pack

	cosines    []float64 // by rows: the cosine coefficients of values at the nodes
	cosineRows cosineTable
}

// compression is the view of the nodes of a grid. It replaces the view of the grid for
// films up to an optical thickness.
type compression struct {
	*view
	at     *nodes
	maxTau float64 // nm
}

// Levels of compression: the largest optical thickness of a level, in nm, and the
// numbers of nodes M that are tried for it.
var compressions = []struct {
	maxTau float64
	nodes  []int
}{
	{240, []int{12, 13, 14, 15, 16, 17, 18, 20, 24}},
	{450, []int{16, 20, 24, 28, 32, 40}},
}

// level returns the level of compression of m; -1 if it is not compressed.
func (m *model) level() int {
	for level, c := range compressions {
		if m.maxTau == c.maxTau {
			return level
		}
	}
	return -1
}

// compressionError is the largest error of reflectance of a compression, a fraction. It
// is about 1e-5 of the noise of the best curves, and sums of squares agree to 1e-8.
const compressionError = 1e-9

// absorptionError is the same for glass that absorbs. Its k comes from a table, which no
// polynomial follows at its points, and changes R to the first order.
const absorptionError = 2e-7

// returnError is the same for what a blackened far face returns, which has the absorption of the pane in it: half of
// what its nominal values may be off by (surface_back.go).
const returnError = 5e-6

// compress returns the compression of the grid of full at a level; angle is in degrees.
// It returns nil if the surface is not smooth enough or the grid has too few points. An
// error is that of newView.
func compress(setup *Setup, full *view, angle float64, level int, layers *[]*layer) (*compression, error) {
	if full.far != nil && full.far.back != optics.Blackened {
		return nil, nil // the absorption of the pane comes from a table and is not smooth
	}
	clear := *setup
	clear.Glass.Index = setup.Glass.Index.Lossless()
	smooth, err := newView(&clear, full.nm, angle, layers, false)
	if err != nil {
		return nil, err
	}
	l := compressions[level]
	trials := trialFilms(setup, l.maxTau)
	want := smooth.under(trials)
	for _, n := range l.nodes {
		if 2*n > len(full.nm) {
			return nil, nil
		}
		c := &compression{maxTau: l.maxTau, at: gaussNodes(full.nm, nil, n)}
		if c.at == nil {
			return nil, nil
		}
		short, err := newView(&clear, c.at.nm, angle, layers, false)
		if err != nil {
			return nil, err
		}
		if c.at.error(short.under(trials), want) > compressionError {
			continue
		}
		if c.view, err = newView(setup, c.at.nm, angle, layers, false); err != nil {
			return nil, err
		}
		if c.far != nil { // its best polynomials: what they leave is nearly the same for all films
			c.at.pack(c.far.s, full.far.s)
			c.at.pack(c.far.p, full.far.p)
		}
		if c.at.error(c.under(trials), full.under(trials)) > absorptionError ||
			c.far != nil && c.at.error([][]float64{c.far.s, c.far.p}, [][]float64{full.far.s, full.far.p}) > returnError {
			return nil, nil
		}
		return c, nil
	}
	return nil, nil
}

// gaussNodes returns n nodes of the grid nm, wavelengths in nm, strictly increasing, at
// least 2n of them. weight holds the weight of each point of the grid, none negative; nil
// means 1 for all. With weights, basis holds p_k(u_i) times the root of the weight. It
// returns nil if the eigenvalues are not found.
func gaussNodes(nm, weight []float64, n int) *nodes {
	count := len(nm)
	lo, hi := 1/nm[count-1], 1/nm[0]
	u := make([]float64, count) // 1/λ on -1..1, falling as λ rises
	for i, lambda := range nm {
		u[i] = 2*(1/lambda-lo)/(hi-lo) - 1
	}
	g := &nodes{grid: count, basis: make([]float64, n*count)}
	jacobi, next := mat.NewSymDense(n, nil), g.poly(0)
	for i := range next {
		next[i] = 1
		if weight != nil {
			next[i] = math.Sqrt(weight[i])
		}
	}
	whole := floats.Norm(next, 2)
	floats.Scale(1/whole, next)
	for k := range n {
		if k > 0 {
			length := floats.Norm(next, 2)
			jacobi.SetSym(k-1, k, length)
			floats.ScaleTo(g.poly(k), 1/length, next)
		}
		next = floats.MulTo(make([]float64, count), u, g.poly(k))
		jacobi.SetSym(k, k, floats.Dot(next, g.poly(k)))
		for range 2 { // twice, so that they are orthogonal up to rounding
			for l := range k + 1 {
				floats.AddScaled(next, -floats.Dot(g.poly(l), next), g.poly(l))
			}
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(jacobi, true) {
		return nil
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	values := eigen.Values(nil)
	g.turn, g.root, g.nm, g.parts = make([]float64, n*n), make([]float64, n), make([]float64, n), make([]float64, n)
	for j := range n {
		e := n - 1 - j // the eigenvalues rise, the wavelengths fall with them
		first := vectors.At(0, e)
		g.root[j] = whole * math.Abs(first)
		for k := range n {
			g.turn[j*n+k] = math.Copysign(1, first) * vectors.At(k, e)
		}
		g.nm[j] = 1 / (lo + (hi-lo)*(values[e]+1)/2)
	}
	return g
}

// poly returns p_k on the grid, N values.
func (g *nodes) poly(k int) []float64 { return g.basis[k*g.grid : (k+1)*g.grid] }

// trialFilms returns the films by which a compression up to the optical thickness tau, in nm, is tried: of the
// lowest, the middle and the highest index, and two of much structure.
func trialFilms(setup *Setup, tau float64) (films []filmState) {
	lo, hi := setup.Coating.indexRange()
	middle := (lo + hi) / 2
	skeleton, _ := setup.Coating.skeleton()
	for _, index := range []float64{lo, middle, hi} {
		films = append(films, filmState{d: tau / index, index: index, skeleton: skeleton})
	}
	for _, sign := range []float64{-1, 1} {
		films = append(films, filmState{d: (tau - 10*skeleton) / middle, index: middle, skeleton: skeleton, structured: true,
			gradient: sign * 0.1, skin: 10 * sign, variance: 0.01})
	}
	return films
}

// under returns the reflectances of v under each film, s and p, and last those of bare glass.
func (v *view) under(films []filmState) (curves [][]float64) {
	for i := range films {
		v.setFilm(&films[i], &sight{})
		for q := range v.bare {
			curves = append(curves, slices.Clone(v.seen(q, &films[i])))
		}
	}
	for q := range v.bare {
		curves = append(curves, slices.Clone(v.bare[q].R))
	}
	return curves
}

// error returns the largest error of the interpolation from the curves short, on the nodes, to the curves want, on
// the grid, a fraction.
func (g *nodes) error(short, want [][]float64) (worst float64) {
	got := make([]float64, g.grid)
	for k, values := range short {
		g.interpolate(got, values)
		for i, w := range want[k] {
			worst = max(worst, math.Abs(got[i]-w))
		}
	}
	return worst
}

// steps returns the sum of squared differences between neighbours on the grid of the
// polynomial m through the values at the nodes,
//
//	Σ_i (m(u_i) - m(u_{i-1}))² = vᵀ·S·v
//
// values holds v, one value for each node. The weights of the grid are all 1.
func (g *nodes) steps(values []float64) (sum float64) {
	n := len(values)
	if g.step == nil {
		g.step = make([]float64, n*n)
		unit, on := make([]float64, n), mat.NewDense(n, g.grid, nil)
		for j := range n {
			unit[j] = 1
			g.interpolate(on.RawRowView(j), unit)
			unit[j] = 0
		}
		for a := range n {
			for b := range n {
				for i := 1; i < g.grid; i++ {
					g.step[a*n+b] += (on.At(a, i) - on.At(a, i-1)) * (on.At(b, i) - on.At(b, i-1))
				}
			}
		}
	}
	for a, v := range values {
		sum += v * floats.Dot(g.step[a*n:(a+1)*n], values)
	}
	return sum
}

// interpolate stores in dst the polynomial through the values at the nodes, one value
// for each point of the grid. values has one value for each node. The weights of the grid
// are all 1.
func (g *nodes) interpolate(dst, values []float64) {
	clear(dst)
	n := len(values)
	for k := range n {
		part := 0.0
		for j, v := range values {
			part += g.turn[j*n+k] * g.root[j] * v
		}
		floats.AddScaled(dst, part, g.poly(k))
	}
}

// pack stores the pseudo-readings z_j of the curve y in dst, one for each node, and
// returns the rest, which is not negative. y has one reading for each point of the grid
// and is not changed.
func (g *nodes) pack(dst, y []float64) (rest float64) {
	n, parts := len(dst), g.parts
	rest = floats.Dot(y, y)
	for k := range n {
		parts[k] = floats.Dot(g.poly(k), y)
		rest -= parts[k] * parts[k]
	}
	for j := range dst {
		dst[j] = floats.Dot(g.turn[j*n:(j+1)*n], parts) / g.root[j]
	}
	return max(rest, 0)
}
