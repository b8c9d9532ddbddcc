package mixed

import (
	"math"
	"runtime"
	"sync/atomic"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// equations are the equations of mixed models at some parameters, factored. T stands for the columns of the crown as they
// are, with X, and V_L for what the leaves and e make of the covariance of y.
type equations struct {
	*problem
	theta   []float64
	factors [][]float64 // by covariance
	s       []float64   // variances of e, by row

	// l holds the lower Cholesky factors of the blocks of the leaves, f those times their parts of the other columns: one row
	// for each effect, of the positions touched.
	l, f     []float64
	gram     *mat.Dense    // [T y]ᵀ V_L⁻¹ [T y]
	upper    *mat.TriDense // Cholesky factor of the equations of the crown, with y
	unknowns int           // in the crown: effects and coefficients
	deviance float64
}

// newEquations returns the equations at theta; ok is false where they cannot be factored.
func (p *problem) newEquations(theta []float64) (q *equations, ok bool) {
	q = &equations{problem: p, theta: append([]float64(nil), theta...), s: make([]float64, len(p.y)),
		unknowns: p.layout.crown + p.x.columns}
	q.l, q.f = p.rooms.take(p.sizeL, p.sizeF)
	defer func() {
		if !ok {
			q.leave()
			q = nil
		}
	}()
	for k := range p.covs {
		q.factors = append(q.factors, p.factor(k, theta))
	}
	for row, i := range p.order {
		q.s[row] = p.known[i] + p.sigma(theta, p.kindOf(i))
		if !(q.s[row] > 0) {
			return q, false
		}
	}
	parts := make([]part, len(p.blocks))
	p.inBlocks(len(parts), func(k int) { parts[k] = q.eliminateAll(&p.blocks[k]) })
	q.gram = mat.NewDense(q.unknowns+1, q.unknowns+1, nil)
	for k := range parts {
		if !parts[k].ok {
			return q, false
		}
		q.deviance += parts[k].logs
		at := p.blocks[k].crown
		for a := range at {
			to := q.gram.RawRowView(at[a])
			for b := a; b < len(at); b++ {
				to[at[b]] += parts[k].crown[a*len(at)+b]
			}
		}
	}
	for a := range q.unknowns + 1 {
		for b := range a {
			q.gram.Set(a, b, q.gram.At(b, a))
		}
	}
	return q, q.factorCrown()
}

// leave gives the room of the factors to the next equations: these are needed no more.
func (q *equations) leave() {
	q.rooms.l, q.rooms.f = append(q.rooms.l, q.l), append(q.rooms.f, q.f)
	q.l, q.f = nil, nil
}

// factorCrown factors the equations of the crown, and adds its part of the deviance; it reports whether it could.
func (q *equations) factorCrown() bool {
	size := q.unknowns + 1
	crown := mat.DenseCopyOf(q.gram)
	data := crown.RawMatrix().Data
	q.toFactors(q.members, data, size)
	for a := range size {
		q.toFactors(q.members, data[a*size:(a+1)*size], 1)
	}
	for a := range q.layout.crown {
		data[a*size+a]++
	}
	var c mat.Cholesky
	if !c.Factorize(mat.NewSymDense(size, data)) {
		return false
	}
	q.upper = mat.NewTriDense(size, mat.Upper, nil)
	c.UTo(q.upper)
	for a := range q.unknowns {
		q.deviance += 2 * math.Log(q.upper.At(a, a))
	}
	rest := q.upper.At(size-1, size-1)
	q.deviance += rest * rest
	return !math.IsNaN(q.deviance)
}

// toFactors makes Λᵀ A of the rows of A, of which those of the members change: of the columns as they are, those of effects of
// unit variance.
func (q *equations) toFactors(members []member, rows []float64, width int) {
	for _, m := range members {
		factor := q.factors[m.cov]
		if m.width == 1 {
			if factor[0] != 1 {
				floats.Scale(factor[0], rows[m.at*width:(m.at+1)*width])
			}
			continue
		}
		for b := range m.width {
			to := rows[(m.at+b)*width : (m.at+b+1)*width]
			floats.Scale(factor[b*m.width+b], to)
			for a := b + 1; a < m.width; a++ {
				floats.AddScaled(to, factor[a*m.width+b], rows[(m.at+a)*width:(m.at+a+1)*width])
			}
		}
	}
}

// fromFactors makes Λ A of the rows of A: of effects of unit variance, the effects as they are.
func (q *equations) fromFactors(members []member, rows []float64, width int) {
	for _, m := range members {
		factor := q.factors[m.cov]
		for a := m.width - 1; a >= 0; a-- {
			to := rows[(m.at+a)*width : (m.at+a+1)*width]
			floats.Scale(factor[a*m.width+a], to)
			for b := range a {
				floats.AddScaled(to, factor[a*m.width+b], rows[(m.at+b)*width:(m.at+b+1)*width])
			}
		}
	}
}

// fewItems is the number of elements of rows up to which several workers are not worth their start.
const fewItems = 1 << 15

// inBlocks calls do for each of n blocks, or other parts of the work, on all processors if there is enough to do.
func (p *problem) inBlocks(n int, do func(k int)) {
	if len(p.items) < fewItems {
		for k := range n {
			do(k)
		}
		return
	}
	var next atomic.Int64
	var group fit.Group
	for range min(n, runtime.GOMAXPROCS(0)) {
		group.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				do(k)
			}
		})
	}
	group.Wait()
}

// part is what the leaves of one block leave on what they touch.
type part struct {
	crown []float64 // upper half, by rows
	logs  float64   // of variances and determinants
	ok    bool
}

// eliminateAll eliminates the leaves of a block.
func (q *equations) eliminateAll(b *block) part {
	size := len(b.crown)
	to := part{crown: make([]float64, size*size), ok: true}
	var gram []float64
	for _, k := range b.leaves {
		leaf := &q.leaves[k]
		m := len(leaf.touched)
		all := leaf.n + m
		gram = zeros(gram, all*all)
		to.logs += q.addRows(leaf, gram, all)
		logs, ok := q.eliminate(leaf, gram)
		if !ok {
			to.ok = false
			return to
		}
		to.logs += logs
		if m == size {
			for a := range m {
				floats.Add(to.crown[a*size+a:(a+1)*size], gram[(leaf.n+a)*all+leaf.n+a:(leaf.n+a+1)*all])
			}
			continue
		}
		for a, at := range leaf.touched {
			row, from := to.crown[at*size:(at+1)*size], gram[(leaf.n+a)*all+leaf.n:]
			for b := a; b < m; b++ {
				row[leaf.touched[b]] += from[b]
			}
		}
	}
	return to
}

// zeros returns n zeros, in the room of v if it has enough.
func zeros(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	v = v[:n]
	clear(v)
	return v
}

// addRows adds the products of the columns of a leaf, over the variances of e, to the upper half of gram. It returns the
// logarithms of these variances.
func (q *equations) addRows(leaf *leaf, gram []float64, all int) (logs float64) {
	product := 1.0
	for i := leaf.from; i < leaf.to; i++ {
		if product *= q.s[i]; product < 1e-200 || product > 1e200 {
			logs, product = logs+math.Log(product), 1
		}
		row := q.items[q.spans[i]:q.spans[i+1]]
		for x, a := range row {
			v, to := a.value/q.s[i], gram[int(a.at)*all:]
			for _, b := range row[x:] {
				to[b.at] += v * b.value
			}
		}
	}
	return logs + math.Log(product)
}

// eliminate factors the block of a leaf, and takes off what touches it what it explains, in the upper half of gram. It
// returns the logarithm of its determinant.
func (q *equations) eliminate(leaf *leaf, gram []float64) (logs float64, ok bool) {
	n, m := leaf.n, len(leaf.touched)
	all := n + m
	l, f := q.l[leaf.l:leaf.l+n*n], q.f[leaf.f:leaf.f+n*m]
	for a := range n {
		for b := a; b < n; b++ {
			l[a*n+b], l[b*n+a] = gram[a*all+b], gram[a*all+b]
		}
		copy(f[a*m:(a+1)*m], gram[a*all+n:(a+1)*all])
	}
	q.toFactors(leaf.members, l, n)
	for a := range n {
		q.toFactors(leaf.members, l[a*n:(a+1)*n], 1)
	}
	q.toFactors(leaf.members, f, m)
	for a := range n {
		l[a*n+a]++
		for b := range a + 1 {
			v := l[a*n+b]
			for c := range b {
				v -= l[a*n+c] * l[b*n+c]
			}
			if a > b {
				l[a*n+b] = v / l[b*n+b]
				continue
			}
			if !(v > 0) {
				return 0, false
			}
			l[a*n+a] = math.Sqrt(v)
			logs += 2 * math.Log(l[a*n+a])
		}
		row := f[a*m : (a+1)*m]
		for b := range a {
			floats.AddScaled(row, -l[a*n+b], f[b*m:(b+1)*m])
		}
		floats.Scale(1/l[a*n+a], row)
	}
	for c := range n {
		row := f[c*m : (c+1)*m]
		for a, x := range row {
			if x != 0 {
				floats.AddScaled(gram[(n+a)*all+n+a:(n+a+1)*all], -x, row[a:])
			}
		}
	}
	return logs, true
}

// forward solves l z = v in place, with l the factor of a leaf of n effects.
func forward(l []float64, n int, v []float64) {
	for a := range n {
		x := v[a]
		for b := range a {
			x -= l[a*n+b] * v[b]
		}
		v[a] = x / l[a*n+a]
	}
}

// solve returns the estimates of the effects in the crown, of unit variance, and of the coefficients.
func (q *equations) solve() []float64 {
	u := q.unknowns
	x := make([]float64, u)
	for a := u - 1; a >= 0; a-- {
		v := q.upper.At(a, u)
		for b := a + 1; b < u; b++ {
			v -= q.upper.At(a, b) * x[b]
		}
		x[a] = v / q.upper.At(a, a)
	}
	return x
}

// inverse returns the inverse of the equations of the crown, without y, for the effects as they are.
func (q *equations) inverse() (*mat.Dense, error) {
	var c mat.Cholesky
	c.SetFromU(q.upper.SliceTri(0, q.unknowns))
	inverse := mat.NewSymDense(q.unknowns, nil)
	if err := c.InverseTo(inverse); err != nil {
		return nil, err
	}
	u := q.unknowns
	full := mat.NewDense(u, u, nil)
	full.Copy(inverse)
	data := full.RawMatrix().Data
	q.fromFactors(q.members, data, u)
	for a := range u {
		q.fromFactors(q.members, data[a*u:(a+1)*u], 1)
	}
	return full, nil
}

// effects returns the estimates of the effects of leaf k, of unit variance. crown are those of the crown as they are, with
// the coefficients, and at the positions of block b that it touches.
func (q *equations) effects(k int, b *block, crown []float64) []float64 {
	leaf := &q.leaves[k]
	n, m := leaf.n, len(leaf.touched)
	l, f := q.l[leaf.l:leaf.l+n*n], q.f[leaf.f:leaf.f+n*m]
	z := make([]float64, n)
	for a := n - 1; a >= 0; a-- {
		v := f[a*m+m-1]
		for c, at := range leaf.touched[:m-1] {
			v -= f[a*m+c] * crown[b.crown[at]]
		}
		for b := a + 1; b < n; b++ {
			v -= l[b*n+a] * z[b]
		}
		z[a] = v / l[a*n+a]
	}
	return z
}
