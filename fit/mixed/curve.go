package mixed

import (
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// partCurve is what the leaves of a block add to the second derivatives.
type partCurve struct {
	own []float64   // of tr(P B_m P B_n), what pairs inside one leaf have beyond the crown, by rows, params x params
	by  [][]float64 // of each parameter Tᵀ V_L⁻¹ B_m V_L⁻¹ T, upper half by rows, crown x crown
}

func newPartCurve(params, size int) *partCurve {
	c := &partCurve{own: make([]float64, params*params)}
	for range params {
		c.by = append(c.by, make([]float64, size*size))
	}
	return c
}

// addCurve adds what the leaf has. Its rows stand beside the columns Z, as those of the variance of e.
func (w *work) addCurve(to *partCurve) {
	m, e, n := w.m, len(w.ests), len(w.params)
	rows := 0
	if w.residuals > 0 {
		rows = w.leaf.to - w.leaf.from
	}
	w.widen(rows)
	for len(w.pairs) < n {
		w.pairs = append(w.pairs, nil)
	}
	for p := range w.pairs {
		w.pairs[p] = w.pairs[p][:0]
	}
	w.each(func(param, a, b int) {
		w.pairs[param] = append(w.pairs[param], [2]int{a, b})
		if a != b {
			w.pairs[param] = append(w.pairs[param], [2]int{b, a})
		}
	})
	for i := range rows {
		w.pairs[n-1] = append(w.pairs[n-1], [2]int{e + i, e + i})
	}
	all := e + rows
	inner, crown := make([]float64, all*all), make([]float64, all*all)
	for i := range all {
		for j := range i + 1 {
			v := floats.Dot(w.wideK[i*m:(i+1)*m], w.wide[j*m:(j+1)*m])
			crown[i*all+j], crown[j*all+i] = v, v
			v = w.wideInner(i, j) - v
			inner[i*all+j], inner[j*all+i] = v, v
		}
	}
	for p := range n {
		for o := range p + 1 {
			sum := 0.0
			for _, x := range w.pairs[p] {
				for _, y := range w.pairs[o] {
					sum += inner[y[1]*all+x[0]]*inner[x[1]*all+y[0]] - crown[y[1]*all+x[0]]*crown[x[1]*all+y[0]]
				}
			}
			to.own[p*n+o] += sum
		}
		size := len(w.crown) + 1
		for _, x := range w.pairs[p] {
			a, b := w.wide[x[0]*m:(x[0]+1)*m], w.wide[x[1]*m:(x[1]+1)*m]
			for c, v := range a {
				row := to.by[p][w.leaf.touched[c]*size:]
				if m == len(w.crown) { // it touches all that the block does
					floats.AddScaled(row[c:m], v, b[c:m])
					continue
				}
				for d := c; d < m; d++ {
					row[w.leaf.touched[d]] += v * b[d]
				}
			}
		}
	}
}

// widen makes [Z, 1]ᵀ V_L⁻¹ T and the same times the inverse of the crown.
func (w *work) widen(rows int) {
	n, m, e := w.n, w.m, len(w.ests)
	w.wide = w.wide[:0]
	for j := range e {
		w.wide = append(w.wide, w.column(j)...)
	}
	for i := range rows {
		at := w.leaf.from + i
		w.wide = append(w.wide, make([]float64, m)...)
		row := w.wide[(e+i)*m:]
		for _, a := range w.items[w.spans[at] : w.spans[at+1]-1] {
			if int(a.at) >= n {
				row[int(a.at)-n] = a.value / w.s[at]
			}
		}
		for a, x := range w.rowFactors[i*n : (i+1)*n] {
			floats.AddScaled(row, -x, w.f[a*(m+1):a*(m+1)+m])
		}
	}
	w.wideK = append(zeros(w.wideK, 0), w.zk...)
	for i := range rows {
		w.wideK = append(w.wideK, make([]float64, m)...)
		through(w.wideK[(e+i)*m:], w.wide[(e+i)*m:(e+i+1)*m], w.k)
	}
}

// wideInner returns an element of [Z, 1]ᵀ V_L⁻¹ [Z, 1].
func (w *work) wideInner(i, j int) float64 {
	n, e := w.n, len(w.ests)
	if i < j {
		i, j = j, i
	}
	if i < e {
		return w.inner(i, j)
	}
	row := w.rowFactors[(i-e)*n : (i-e+1)*n]
	at := w.leaf.from + i - e
	if j < e {
		v := -floats.Dot(row, w.h[j*n:(j+1)*n])
		for _, a := range w.items[w.spans[at]:w.spans[at+1]] {
			if int(a.at) == w.ests[j] {
				v += a.value / w.s[at]
			}
		}
		return v
	}
	v := -floats.Dot(row, w.rowFactors[(j-e)*n:(j-e+1)*n])
	if i == j {
		v += 1 / w.s[at]
	}
	return v
}

// curve makes the second derivatives, and those of the covariance of the coefficients, of what the blocks have.
func (q *equations) curve(s *slopes, parts []*partSlopes, c *crownSlopes, inverse *mat.Dense) {
	n := len(q.params)
	traces := mat.NewSymDense(max(1, n), nil) // tr(P B_m P B_n)
	for _, part := range parts {
		for i, m := range part.params {
			for j, o := range part.params[:i+1] {
				traces.SetSym(m, o, traces.At(m, o)+part.curve.own[i*len(part.params)+j])
			}
		}
	}
	sums := make([]*sumCurve, n)
	q.inBlocks(n, func(m int) {
		if sums[m] = q.sumOf(m, parts); sums[m] != nil {
			sums[m].through(q, inverse)
		}
	})
	q.inBlocks(n, func(m int) {
		if sums[m] == nil {
			return
		}
		turned := mat.DenseCopyOf(sums[m].left.T())
		for o := range m + 1 {
			if sums[o] != nil {
				traces.SetSym(m, o, traces.At(m, o)+sums[o].times(sums[m].runs, turned))
			}
		}
	})
	pairs := c.curve(traces, sums)
	s.cov = newCovSlopes(c, inverse, sums, pairs)
	s.expected, s.second = traces, mat.NewSymDense(max(1, n), nil)
	for m := range n {
		for o := range m + 1 {
			s.second.SetSym(m, o, 2*s.average.At(m, o)-traces.At(m, o))
		}
	}
}

// sumCurve is Tᵀ V_L⁻¹ B_m V_L⁻¹ T of a parameter, at the positions that it touches: a sum of pieces.
type sumCurve struct {
	at     []int    // positions in the crown
	runs   [][2]int // of positions one after the other: the first, and how many
	pieces []piece
	left   *mat.Dense // the same times the inverse of the crown: rows are the positions touched, columns all
}

// piece is a part of a symmetric matrix. at are positions among those of a sumCurve.
type piece struct {
	at []int
	a  *mat.Dense
}

// sumOf sums over the blocks; nil: none has the parameter.
func (q *equations) sumOf(m int, parts []*partSlopes) *sumCurve {
	s := &sumCurve{}
	for k, part := range parts {
		if slices.Contains(part.params, m) {
			s.at = append(s.at, q.blocks[k].crown[:len(q.blocks[k].crown)-1]...)
		}
	}
	if s.at == nil {
		return nil
	}
	slices.Sort(s.at)
	s.at = slices.Compact(s.at)
	position := make(map[int]int, len(s.at))
	for k, at := range s.at {
		position[at] = k
		if k == 0 || at != s.at[k-1]+1 {
			s.runs = append(s.runs, [2]int{at, 0})
		}
		s.runs[len(s.runs)-1][1]++
	}
	for k, part := range parts {
		if i := slices.Index(part.params, m); i >= 0 {
			s.add(q.blocks[k].crown, position, part.curve.by[i])
		}
	}
	size := 0
	for _, p := range s.pieces {
		size += len(p.at) * len(p.at)
	}
	if size > len(s.at)*len(s.at) { // more work than in one
		s.join()
	}
	return s
}

// add adds what a block has, an upper half by rows, to the last piece if that is of the same positions, else as another one.
func (s *sumCurve) add(crown []int, position map[int]int, upper []float64) {
	size := len(crown)
	var at []int
	for _, c := range crown[:size-1] {
		at = append(at, position[c])
	}
	if n := len(s.pieces); n == 0 || !slices.Equal(s.pieces[n-1].at, at) {
		s.pieces = append(s.pieces, piece{at, mat.NewDense(size-1, size-1, nil)})
	}
	to := s.pieces[len(s.pieces)-1].a
	for a := range size - 1 {
		for b := a; b < size-1; b++ {
			v := to.At(a, b) + upper[a*size+b]
			to.Set(a, b, v)
			to.Set(b, a, v)
		}
	}
}

// join makes one piece of all.
func (s *sumCurve) join() {
	all := piece{a: mat.NewDense(len(s.at), len(s.at), nil)}
	for k := range s.at {
		all.at = append(all.at, k)
	}
	for _, p := range s.pieces {
		for a, i := range p.at {
			to, from := all.a.RawRowView(i), p.a.RawRowView(a)
			for b, j := range p.at {
				to[j] += from[b]
			}
		}
	}
	s.pieces = []piece{all}
}

// through multiplies the sum by the inverse of the crown.
func (s *sumCurve) through(q *equations, inverse *mat.Dense) {
	s.left = mat.NewDense(len(s.at), q.unknowns, nil)
	for _, p := range s.pieces {
		rows := mat.NewDense(len(p.at), q.unknowns, nil)
		for k, i := range p.at {
			rows.SetRow(k, inverse.RawRowView(s.at[i]))
		}
		var product mat.Dense
		product.Mul(p.a, rows)
		for k, i := range p.at {
			floats.Add(s.left.RawRowView(i), product.RawRowView(k))
		}
	}
}

// times returns the trace of the product of two sums, each times the inverse of the crown. Of the other sum runs are the
// positions, and turned is left, with rows for columns.
func (s *sumCurve) times(runs [][2]int, turned *mat.Dense) (sum float64) {
	for k, to := range s.at {
		left, right := s.left.RawRowView(k), turned.RawRowView(to)
		for _, run := range runs {
			sum += floats.Dot(left[run[0]:run[0]+run[1]], right[:run[1]])
			right = right[run[1]:]
		}
	}
	return sum
}

// curve adds the traces of the parameters of the crown, and returns the pairs of columns that each is the covariance of.
func (c *crownSlopes) curve(traces *mat.SymDense, sums []*sumCurve) (pairs [][][2]int) {
	if len(c.columns) == 0 {
		return nil
	}
	u, e := c.unknowns, len(c.columns)
	// What is left of the columns: the unit matrix less inverse times gram, and Zᵀ P Z.
	left := mat.NewDense(u, e, nil)
	left.Scale(-1, c.through)
	for j, column := range c.columns {
		left.Set(column, j, left.At(column, j)+1)
	}
	inner := mat.NewDense(e, e, nil)
	rows := mat.NewDense(e, u, nil)
	for j, column := range c.columns {
		rows.SetRow(j, c.gram.RawRowView(column)[:u])
	}
	inner.Mul(rows, left)
	pairs = make([][][2]int, len(c.params))
	for _, m := range c.members {
		for a := range m.width {
			for b := range a + 1 {
				p := c.covs[m.cov].first + a*(a+1)/2 + b
				pairs[p] = append(pairs[p], [2]int{m.at + a, m.at + b})
				if a != b {
					pairs[p] = append(pairs[p], [2]int{m.at + b, m.at + a})
				}
			}
		}
	}
	trace := func(p, o int, inner *mat.Dense) {
		sum := 0.0
		for _, x := range pairs[p] {
			for _, y := range pairs[o] {
				sum += inner.At(y[1], x[0]) * inner.At(x[1], y[0])
			}
		}
		traces.SetSym(p, o, traces.At(p, o)+sum)
	}
	for p := range pairs {
		for o := range p + 1 {
			trace(p, o, inner)
		}
	}
	betweens := make([]*mat.Dense, len(sums))
	c.inBlocks(len(sums), func(m int) {
		if sums[m] != nil {
			betweens[m] = sums[m].between(left)
		}
	})
	for m, between := range betweens {
		if between == nil {
			continue
		}
		for p := range pairs {
			sum := 0.0
			for _, x := range pairs[p] {
				sum += between.At(x[0], x[1])
			}
			traces.SetSym(m, p, traces.At(m, p)+sum)
		}
	}
	return pairs
}

// between returns the sum between the columns of left, which are of the crown.
func (s *sumCurve) between(left *mat.Dense) *mat.Dense {
	_, e := left.Dims()
	sum := mat.NewDense(e, e, nil)
	for _, p := range s.pieces {
		rows := mat.NewDense(len(p.at), e, nil)
		for k, i := range p.at {
			rows.SetRow(k, left.RawRowView(s.at[i]))
		}
		var half, both mat.Dense
		half.Mul(p.a, rows)
		both.Mul(rows.T(), &half)
		sum.Add(sum, &both)
	}
	return sum
}

// covSlopes are the derivatives of the variance of a sum of coefficients by the parameters, in the units of the problem. As
// matrices of the coefficients they would be larger than all else.
type covSlopes struct {
	inverse *mat.Dense  // of the crown, at the coefficients: unknowns x coefficients
	sums    []*sumCurve // by parameter; nil: it has none in the leaves
	through *mat.Dense  // of the coefficients and the columns of the crown that are estimated; nil: there is none
	pairs   [][][2]int  // by parameter, of these columns
}

func newCovSlopes(c *crownSlopes, inverse *mat.Dense, sums []*sumCurve, pairs [][][2]int) *covSlopes {
	of := &covSlopes{sums: sums, pairs: pairs,
		inverse: mat.DenseCopyOf(inverse.Slice(0, c.unknowns, c.layout.crown, c.unknowns))}
	if pairs != nil {
		of.through = mat.DenseCopyOf(c.through.Slice(c.layout.crown, c.unknowns, 0, len(c.columns)))
	}
	for _, s := range sums {
		if s != nil {
			s.left = nil // is needed no more, and large
		}
	}
	return of
}

// of returns the derivatives by the parameters of the variance of a sum of coefficients with these weights.
func (c *covSlopes) of(weights []float64) []float64 {
	slopes := make([]float64, len(c.sums))
	w := mat.NewVecDense(len(weights), weights)
	var at, columns mat.VecDense
	at.MulVec(c.inverse, w)
	for m, s := range c.sums {
		if s != nil {
			slopes[m] = s.form(at.RawVector().Data)
		}
	}
	if c.through != nil {
		columns.MulVec(c.through.T(), w)
	}
	for m, pairs := range c.pairs {
		for _, x := range pairs {
			slopes[m] += columns.AtVec(x[0]) * columns.AtVec(x[1])
		}
	}
	return slopes
}

// form returns the quadratic form of values of the whole crown.
func (s *sumCurve) form(crown []float64) (sum float64) {
	for _, p := range s.pieces {
		values := make([]float64, len(p.at))
		for k, i := range p.at {
			values[k] = crown[s.at[i]]
		}
		for k, v := range values {
			sum += v * floats.Dot(p.a.RawRowView(k), values)
		}
	}
	return sum
}
