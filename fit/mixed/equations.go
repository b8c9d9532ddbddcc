package mixed

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"
)

// problem is a model in units in which observations and columns are of the size 1, with its layout.
type problem struct {
	layout
	terms    []Term
	y        []float64
	x        [][]float64
	known    []float64
	residual bool // the variance of e is estimated

	yUnit  float64
	xUnits []float64
	zUnits [][]float64 // by term and column; those of unit terms are 1

	covs  []covariance
	covOf [][]int // by term and kind
	count int     // of parameters
}

// covariance is that of the effects of the groups of one kind of a term. Those of Model.Shared have the last one.
type covariance struct {
	term  int // -1: Model.Shared
	width int
	first int // position of its first parameter; -1: a unit matrix
}

// newProblem makes a model that is checked ready.
func newProblem(m *Model) *problem {
	p := &problem{residual: !m.NoResidual}
	p.yUnit = sizeOf(m.Y)
	if mean := meanOf(m.Y); len(m.Y) > 1 { // of the scatter, since most of an observation is its mean
		var sum float64
		for _, y := range m.Y {
			sum += (y - mean) * (y - mean)
		}
		if sum > 0 {
			p.yUnit = math.Sqrt(sum / float64(len(m.Y)))
		}
	}
	p.y = scaledBy(1/p.yUnit, m.Y)
	for _, x := range m.X {
		unit := sizeOf(x)
		p.x, p.xUnits = append(p.x, scaledBy(1/unit, x)), append(p.xUnits, unit)
	}
	p.known = make([]float64, len(m.Y))
	for i := range m.Known {
		p.known[i] = m.Known[i] / (p.yUnit * p.yUnit)
	}
	p.terms = append([]Term(nil), m.Terms...)
	for k := range p.terms {
		t := &p.terms[k]
		units := make([]float64, t.width())
		columns := make([][]float64, t.width())
		for c := range units {
			values := make([]float64, len(m.Y))
			for i, g := range t.Of {
				if g >= 0 {
					values[i] = t.value(c, i)
				}
			}
			units[c] = sizeOf(values)
			if t.Unit {
				units[c] = p.yUnit
			}
			columns[c] = scaledBy(1/units[c], values)
		}
		t.Columns = columns
		p.zUnits = append(p.zUnits, units)
		p.addCovariances(k)
	}
	p.covs = append(p.covs, covariance{-1, 1, -1})
	if p.residual {
		p.count++
	}
	p.lay(m.Shared)
	return p
}

// addCovariances adds those of a term.
func (p *problem) addCovariances(term int) {
	t := &p.terms[term]
	width := t.width()
	var of []int
	for range t.kinds() {
		c := covariance{term, width, -1}
		if !t.Unit {
			c.first = p.count
			p.count += width * (width + 1) / 2
		}
		of = append(of, len(p.covs))
		p.covs = append(p.covs, c)
	}
	p.covOf = append(p.covOf, of)
}

func meanOf(values []float64) (mean float64) {
	for _, v := range values {
		mean += v / float64(len(values))
	}
	return mean
}

// sizeOf is the root mean square of the values that are not 0; 1 if there are none.
func sizeOf(values []float64) float64 {
	sum, n := 0.0, 0.0
	for _, v := range values {
		if v != 0 {
			sum, n = sum+v*v, n+1
		}
	}
	if n == 0 {
		return 1
	}
	return math.Sqrt(sum / n)
}

func scaledBy(f float64, values []float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = f * v
	}
	return out
}

// factor returns the Cholesky factor of a covariance, by rows, at the parameters theta.
func (p *problem) factor(cov int, theta []float64, to []float64) []float64 {
	r, at := p.covs[cov].width, p.covs[cov].first
	unit := at < 0
	to = to[:0]
	for a := range r {
		for b := range r {
			switch {
			case unit && a == b:
				to = append(to, 1)
			case unit || b > a:
				to = append(to, 0)
			default:
				to = append(to, theta[at])
				at++
			}
		}
	}
	return to
}

// equations are the equations of mixed models at some parameters, factored.
type equations struct {
	*problem
	factors [][]float64 // by covariance
	s       []float64   // variances of e, by row
	// l holds the lower Cholesky factors of the blocks of the leaves, f those times their parts of the other columns: one row
	// for each effect, of the positions touched.
	l, f     []float64
	upper    *mat.TriDense // Cholesky factor of the crown, with y
	unknowns int           // in the crown: effects and coefficients
	deviance float64
}

// entry is an element of a row of [W X y].
type entry struct {
	at    int
	value float64
}

// newEquations returns the equations at theta; ok is false where they cannot be factored.
func (p *problem) newEquations(theta []float64) (q *equations, ok bool) {
	last := &p.leaves[len(p.leaves)-1]
	q = &equations{problem: p, s: make([]float64, len(p.y)), unknowns: p.layout.crown + len(p.x), l: make([]float64, last.l),
		f: make([]float64, last.f)}
	for k := range p.covs {
		q.factors = append(q.factors, p.factor(k, theta, nil))
	}
	sigma := 0.0
	if p.residual {
		sigma = theta[p.count-1]
	}
	for row, i := range p.order {
		q.s[row] = p.known[i] + sigma*sigma
		if !(q.s[row] > 0) {
			return nil, false
		}
	}
	size := q.unknowns + 1
	parts := make([]part, len(p.blocks))
	inBlocks(len(parts), func(k int) { parts[k] = q.eliminateAll(p.blocks[k]) })
	crown := mat.NewSymDense(size, nil)
	sum := crown.RawSymmetric().Data
	for a := range p.layout.crown {
		sum[a*size+a] = 1
	}
	for k := range parts {
		if !parts[k].ok {
			return nil, false
		}
		q.deviance += parts[k].logs
		for i, v := range parts[k].crown {
			sum[i] += v
		}
	}
	var c mat.Cholesky
	if !c.Factorize(crown) {
		return nil, false
	}
	q.upper = mat.NewTriDense(size, mat.Upper, nil)
	c.UTo(q.upper)
	for a := range q.unknowns {
		q.deviance += 2 * math.Log(q.upper.At(a, a))
	}
	rest := q.upper.At(size-1, size-1)
	q.deviance += rest * rest
	return q, true
}

// inBlocks calls do for each of n blocks, on all processors.
func inBlocks(n int, do func(k int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				do(k)
			}
		})
	}
	wait.Wait()
}

// entries returns a row of [W X y].
func (q *equations) entries(row int, to []entry) []entry {
	to = to[:0]
	items := q.items[q.spans[row]:q.spans[row+1]]
	for len(items) > 0 {
		first := &items[0]
		if first.cov < 0 {
			to = append(to, entry{int(first.at), first.value})
			items = items[1:]
			continue
		}
		factor := q.factors[first.cov]
		if len(factor) == 1 {
			to = append(to, entry{int(first.at), first.value * factor[0]})
			items = items[1:]
			continue
		}
		r := q.covs[first.cov].width
		for b := range r {
			sum := 0.0
			for a := b; a < r; a++ {
				sum += items[a].value * factor[a*r+b]
			}
			to = append(to, entry{int(items[b].at), sum})
		}
		items = items[r:]
	}
	return to
}

// part is what the leaves of one block leave on the crown.
type part struct {
	crown []float64 // upper half, by rows
	logs  float64   // of variances and determinants
	ok    bool
}

// eliminateAll eliminates the leaves of a block.
func (q *equations) eliminateAll(b block) part {
	size := q.unknowns + 1
	to := part{crown: make([]float64, size*size), ok: true}
	var sum []float64
	var row []entry
	lastS, log := 1.0, 0.0
	for k := b.from; k < b.to && to.ok; k++ {
		leaf := &q.leaves[k]
		all := leaf.n + len(leaf.touched)
		sum = append(sum[:0], make([]float64, all*all)...)
		for i := leaf.from; i < leaf.to; i++ {
			row = q.entries(i, row)
			if q.s[i] != lastS {
				lastS, log = q.s[i], math.Log(q.s[i])
			}
			to.logs += log
			for x, a := range row {
				v := a.value / q.s[i]
				for _, b := range row[x:] {
					if a.at < b.at {
						sum[a.at*all+b.at] += v * b.value
					} else {
						sum[b.at*all+a.at] += v * b.value
					}
				}
			}
		}
		logs, ok := q.eliminate(leaf, sum)
		to.logs, to.ok = to.logs+logs, ok
		for a, at := range leaf.touched {
			for b := a; b < len(leaf.touched); b++ {
				to.crown[at*size+leaf.touched[b]] += sum[(leaf.n+a)*all+leaf.n+b]
			}
		}
	}
	return to
}

// eliminate factors the block of a leaf, in the upper half of sum, and takes off what touches it what it explains. It returns the
// logarithm of its determinant.
func (q *equations) eliminate(leaf *leaf, sum []float64) (logs float64, ok bool) {
	n, m := leaf.n, len(leaf.touched)
	all := n + m
	l, f := q.l[leaf.l:leaf.l+n*n], q.f[leaf.f:leaf.f+n*m]
	for a := range n {
		sum[a*all+a]++
		for b := range a + 1 {
			v := sum[b*all+a]
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
		for c := range m {
			v := sum[a*all+n+c]
			for b := range a {
				v -= l[a*n+b] * f[b*m+c]
			}
			f[a*m+c] = v / l[a*n+a]
		}
	}
	for c := range n {
		row := f[c*m : (c+1)*m]
		for a, x := range row {
			to := sum[(n+a)*all+n : (n+a)*all+all]
			for b := a; b < m; b++ {
				to[b] -= x * row[b]
			}
		}
	}
	return logs, true
}

// solve returns the estimates of the effects in the crown and of the coefficients, as far as the equations have them.
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

// inverse returns the inverse of the equations of the crown, without y.
func (q *equations) inverse() (*mat.SymDense, error) {
	var c mat.Cholesky
	c.SetFromU(q.upper.SliceTri(0, q.unknowns))
	inverse := mat.NewSymDense(q.unknowns, nil)
	err := c.InverseTo(inverse)
	return inverse, err
}

// effects returns the estimates of the effects of leaf k, given those of the crown.
func (q *equations) effects(k int, crown []float64) []float64 {
	leaf := &q.leaves[k]
	n, m, touched := leaf.n, len(leaf.touched), leaf.touched
	l, f := q.l[leaf.l:leaf.l+n*n], q.f[leaf.f:leaf.f+n*m]
	z := make([]float64, n)
	for a := n - 1; a >= 0; a-- {
		v := f[a*m+m-1]
		for c := range m - 1 {
			v -= f[a*m+c] * crown[touched[c]]
		}
		for b := a + 1; b < n; b++ {
			v -= l[b*n+a] * z[b]
		}
		z[a] = v / l[a*n+a]
	}
	return z
}

// inverseAt returns the inverse of the equations at leaf k, by rows: its effects, then what it touches but y. inverse is
// that of the crown.
func (q *equations) inverseAt(k int, inverse *mat.SymDense) []float64 {
	leaf := &q.leaves[k]
	n, m, touched := leaf.n, len(leaf.touched), leaf.touched
	l, f := q.l[leaf.l:leaf.l+n*n], q.f[leaf.f:leaf.f+n*m]
	all := n + m - 1
	out := make([]float64, all*all)
	for a := range m - 1 {
		for b := range m - 1 {
			out[(n+a)*all+n+b] = inverse.At(touched[a], touched[b])
		}
	}
	// Of the effects against the crown: -l⁻ᵀ f K.
	for c := range m - 1 {
		for a := n - 1; a >= 0; a-- {
			v := 0.0
			for b := range m - 1 {
				v -= f[a*m+b] * out[(n+b)*all+n+c]
			}
			for b := a + 1; b < n; b++ {
				v -= l[b*n+a] * out[b*all+n+c]
			}
			v /= l[a*n+a]
			out[a*all+n+c], out[(n+c)*all+a] = v, v
		}
	}
	// Of the effects: l⁻ᵀ (l⁻¹ - f (their part against the crown)ᵀ).
	inv := make([]float64, n*n) // l⁻¹
	for b := range n {
		for a := b; a < n; a++ {
			v := 0.0
			if a == b {
				v = 1
			}
			for c := b; c < a; c++ {
				v -= l[a*n+c] * inv[c*n+b]
			}
			inv[a*n+b] = v / l[a*n+a]
		}
	}
	for b := range n {
		for a := n - 1; a >= 0; a-- {
			v := inv[a*n+b]
			for c := range m - 1 {
				v -= f[a*m+c] * out[b*all+n+c]
			}
			for c := a + 1; c < n; c++ {
				v -= l[c*n+a] * out[c*all+b]
			}
			out[a*all+b] = v / l[a*n+a]
		}
	}
	return out
}

// gradient returns the derivatives of the deviance by the parameters theta. By the variance matrix V it is
// tr(P dV) - yᵀP dV P y, and the row of P W for an observation is the one of [W X] times the inverse, over s.
func (q *equations) gradient(theta []float64) ([]float64, error) {
	grad := make([]float64, q.count)
	crown := q.solve()
	inverse, err := q.inverse()
	if err != nil {
		return nil, err
	}
	parts := make([]slopes, len(q.blocks))
	inBlocks(len(parts), func(k int) { parts[k] = q.slopesOf(q.blocks[k], crown, inverse) })
	for k := range q.covs {
		at, r := q.covs[k].first, q.covs[k].width
		if at < 0 {
			continue
		}
		for a := range r {
			for b := range a + 1 {
				for i := range parts {
					grad[at] += 2 * parts[i].byCov[k][a*r+b]
				}
				at++
			}
		}
	}
	if q.residual {
		for i := range parts {
			grad[q.count-1] += 2 * theta[q.count-1] * parts[i].trace
		}
	}
	return grad, nil
}

// slopes are what the leaves of a block add to the derivatives of the deviance.
type slopes struct {
	byCov [][]float64 // half of those by the factor of each covariance, by rows
	trace float64     // tr P - yᵀPPy
}

// slopesOf returns what a block adds, with the estimates and the inverse of the crown.
func (q *equations) slopesOf(b block, crown []float64, inverse *mat.SymDense) slopes {
	to := slopes{byCov: make([][]float64, len(q.covs))}
	for k := range q.covs {
		r := q.covs[k].width
		to.byCov[k] = make([]float64, r*r)
	}
	var row []entry
	for k := b.from; k < b.to; k++ {
		leaf := &q.leaves[k]
		if leaf.from == leaf.to {
			continue
		}
		estimates, local := q.effects(k, crown), q.inverseAt(k, inverse)
		for _, at := range leaf.touched[:len(leaf.touched)-1] {
			estimates = append(estimates, crown[at])
		}
		for i := leaf.from; i < leaf.to; i++ {
			row = q.entries(i, row)
			q.addSlopes(&to, i, row[:len(row)-1], row[len(row)-1].value, estimates, local)
		}
	}
	return to
}

// addSlopes adds those of one row of [W X], with its y.
func (q *equations) addSlopes(to *slopes, i int, row []entry, y float64, estimates, local []float64) {
	all := len(estimates)
	py := y
	for _, e := range row {
		py -= e.value * estimates[e.at]
	}
	py /= q.s[i]
	items := q.items[q.spans[i]:q.spans[i+1]]
	hat := 0.0
	for next := 0; next < len(row); next++ {
		e := row[next]
		v := 0.0 // of the row of P W
		for _, o := range row {
			v += o.value * local[o.at*all+e.at]
		}
		v /= q.s[i]
		hat += e.value * v
		cov := items[next].cov
		if cov < 0 || q.covs[cov].first < 0 {
			continue
		}
		r := q.covs[cov].width
		b := 0
		for next-b > 0 && items[next-b-1].cov == cov {
			b++
		}
		v -= py * estimates[e.at]
		for a := b; a < r; a++ {
			to.byCov[cov][a*r+b] += items[next-b+a].value * v
		}
	}
	to.trace += (1-hat)/q.s[i] - py*py
}
