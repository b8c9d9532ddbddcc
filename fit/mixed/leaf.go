package mixed

import (
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// work is one leaf at a time, for the slopes. Of the leaf, n effects touch m positions of the crown; the columns Z of e of them
// have covariances that are estimated.
type work struct {
	*equations
	params  []int     // of the block
	crown   []float64 // estimates, at the positions of the block
	inverse []float64 // at the positions of the block, by rows
	size    int       // of inverse

	leaf *leaf
	n, m int
	l, f []float64
	ests []int     // positions of the columns Z
	est  []int     // of each effect, its position among them; -1
	here []float64 // estimates of the crown, m
	k    []float64 // inverse of the crown, m x m

	hereRoom, kRoom []float64

	fk    []float64 // f k, n x m
	fkf   []float64 // f k fᵀ, n x n
	left  []float64 // what is left of y in f, n
	gram  []float64 // Zᵀ S⁻¹ [W T y], e x (n+m+1)
	h     []float64 // Zᵀ S⁻¹ W l⁻ᵀ, e x n
	z     []float64 // Zᵀ V_L⁻¹ [T y], e x (m+1)
	zk    []float64 // the same times k, e x m
	rest  []float64 // Zᵀ P y, e
	row   []float64 // l⁻¹ Wᵀ S⁻¹ of a row, n
	sumL  []float64 // its sum over the rows times P y, n
	sumT  []float64 // Tᵀ S⁻¹ P y, m
	sumZ  []float64 // Zᵀ S⁻¹ P y, then V_L for S, e
	c     []float64 // B_m P y of the columns Z, params x e
	trace float64   // tr P - yᵀPPy
	own   float64   // yᵀP V_L⁻¹ P y

	us         []float64 // of each row, P y; what follows is of each row too, for the second derivatives
	wide       []float64 // V_L⁻¹ [Z, 1] by T, (e + rows) x m
	wideK      []float64
	pairs      [][][2]int
	rowFactors []float64 // rows x n
}

func newWork(q *equations, b *block, params []int, crown []float64, inverse *mat.Dense) *work {
	w := &work{equations: q, params: params, size: len(b.crown) - 1}
	at := b.crown[:w.size]
	w.crown, w.inverse = make([]float64, w.size), make([]float64, w.size*w.size)
	for i, a := range at {
		w.crown[i] = crown[a]
		row, to := inverse.RawRowView(a), w.inverse[i*w.size:]
		for k, c := range at {
			to[k] = row[c]
		}
	}
	return w
}

// enter prepares the work for a leaf.
func (w *work) enter(leaf *leaf) {
	w.leaf, w.n, w.m = leaf, leaf.n, len(leaf.touched)-1
	n, m := w.n, w.m
	w.l, w.f = w.equations.l[leaf.l:leaf.l+n*n], w.equations.f[leaf.f:leaf.f+n*(m+1)]
	w.gather(leaf.touched[:m])
	w.left = w.left[:0]
	w.fk, w.fkf = zeros(w.fk, n*m), zeros(w.fkf, n*n)
	for a := range n {
		row := w.f[a*(m+1) : a*(m+1)+m]
		w.left = append(w.left, w.f[a*(m+1)+m]-floats.Dot(row, w.here))
		through(w.fk[a*m:(a+1)*m], row, w.k)
		for b := range n {
			w.fkf[a*n+b] = floats.Dot(w.fk[a*m:(a+1)*m], w.f[b*(m+1):b*(m+1)+m])
		}
	}
	w.ests, w.est = w.ests[:0], w.est[:0]
	for range n {
		w.est = append(w.est, -1)
	}
	for _, member := range leaf.members {
		for a := range member.width {
			if w.covs[member.cov].first >= 0 {
				w.est[member.at+a] = len(w.ests)
				w.ests = append(w.ests, member.at+a)
			}
		}
	}
}

// gather takes the estimates and the inverse of the crown at what the leaf touches.
func (w *work) gather(touched []int) {
	if len(touched) == w.size { // all that the block does
		w.here, w.k = w.crown, w.inverse
		return
	}
	w.here, w.k = w.hereRoom[:0], w.kRoom[:0]
	for _, at := range touched {
		w.here = append(w.here, w.crown[at])
		row := w.inverse[at*w.size : (at+1)*w.size]
		for _, c := range touched {
			w.k = append(w.k, row[c])
		}
	}
	w.hereRoom, w.kRoom = w.here, w.k
}

// through makes dst = row k, with k a symmetric matrix of the size of row.
func through(dst, row, k []float64) {
	m := len(row)
	for a := range m {
		dst[a] = floats.Dot(row, k[a*m:(a+1)*m])
	}
}

// addRows goes through the rows of the leaf: what is left of them, and the sums over them.
func (w *work) addRows() {
	n, m, e := w.n, w.m, len(w.ests)
	all := n + m + 1
	w.gram, w.sumL, w.sumT, w.sumZ = zeros(w.gram, e*all), zeros(w.sumL, n), zeros(w.sumT, m), zeros(w.sumZ, e)
	w.rest, w.us, w.rowFactors = zeros(w.rest, e), w.us[:0], w.rowFactors[:0]
	w.trace, w.own = 0, 0
	for i := w.leaf.from; i < w.leaf.to; i++ {
		s := w.s[i]
		row := w.items[w.spans[i]:w.spans[i+1]]
		w.row = zeros(w.row, n)
		first := 0
		for ; int(row[first].at) < n; first++ {
			w.row[row[first].at] = row[first].value / s
		}
		w.toFactors(w.leaf.members, w.row, 1)
		forward(w.l, n, w.row)
		touched, last := row[first:len(row)-1], row[len(row)-1]
		u, tkt, gkt := last.value, 0.0, 0.0
		for x, a := range touched {
			at := int(a.at) - n
			u -= a.value * w.here[at]
			k := w.k[at*m : (at+1)*m]
			tkt += a.value * a.value * k[at]
			for _, b := range touched[x+1:] {
				tkt += 2 * a.value * b.value * k[int(b.at)-n]
			}
			for c := range n {
				gkt += a.value * w.row[c] * w.fk[c*m+at]
			}
		}
		u = u/s - floats.Dot(w.row, w.left)
		hat := tkt/(s*s) - 2*gkt/s
		for a, x := range w.row {
			hat += x * (x + floats.Dot(w.row, w.fkf[a*n:(a+1)*n]))
		}
		w.trace += 1/s - hat - u*u
		w.own += u * u / s
		w.us, w.rowFactors = append(w.us, u), append(w.rowFactors, w.row...)
		floats.AddScaled(w.sumL, u, w.row)
		for _, a := range touched {
			w.sumT[int(a.at)-n] += a.value * u / s
		}
		for _, a := range row[:first] {
			j := w.est[a.at]
			if j < 0 {
				continue
			}
			w.rest[j] += a.value * u
			w.sumZ[j] += a.value * u / s
			to, v := w.gram[j*all:(j+1)*all], a.value/s
			for _, b := range row {
				to[b.at] += v * b.value
			}
		}
	}
	w.own -= floats.Dot(w.sumL, w.sumL)
	w.addColumns()
}

// addColumns takes off the columns Z what the effects of the leaf explain.
func (w *work) addColumns() {
	n, m, e := w.n, w.m, len(w.ests)
	all := n + m + 1
	w.h, w.z, w.zk = w.h[:0], w.z[:0], zeros(w.zk, e*m)
	for j := range e {
		row := w.gram[j*all : (j+1)*all]
		w.h = append(w.h, row[:n]...)
		h := w.h[j*n : (j+1)*n]
		w.toFactors(w.leaf.members, h, 1)
		forward(w.l, n, h)
		w.z = append(w.z, row[n:]...)
		z := w.z[j*(m+1) : (j+1)*(m+1)]
		for a, x := range h {
			floats.AddScaled(z, -x, w.f[a*(m+1):(a+1)*(m+1)])
		}
		through(w.zk[j*m:(j+1)*m], z[:m], w.k)
		w.sumZ[j] -= floats.Dot(h, w.sumL)
	}
}

// column returns row j of Zᵀ V_L⁻¹ T.
func (w *work) column(j int) []float64 { return w.z[j*(w.m+1) : j*(w.m+1)+w.m] }

// inner returns an element of Zᵀ V_L⁻¹ Z.
func (w *work) inner(i, j int) float64 {
	n := w.n
	return w.gram[i*(n+w.m+1)+w.ests[j]] - floats.Dot(w.h[i*n:(i+1)*n], w.h[j*n:(j+1)*n])
}

// each hands each of the parameters of each member of the leaf to do: its position among the parameters of the block, and
// those of its two columns Z.
func (w *work) each(do func(param, a, b int)) {
	at := 0
	for _, member := range w.leaf.members {
		cov := &w.covs[member.cov]
		if cov.first < 0 {
			return // those that are not estimated come last
		}
		for w.equations.params[w.params[at]].cov != member.cov {
			at++
		}
		param := at
		for a := range member.width {
			for b := range a + 1 {
				do(param, w.est[member.at+a], w.est[member.at+b])
				param++
			}
		}
	}
}

// addFirst adds the first derivatives, and what the average of the second is made of.
func (w *work) addFirst(to *partSlopes) {
	n, m, e := len(w.params), w.m, len(w.ests)
	w.c = zeros(w.c, n*e)
	w.each(func(param, a, b int) {
		slope := w.inner(a, b) - floats.Dot(w.zk[a*m:(a+1)*m], w.column(b)) - w.rest[a]*w.rest[b]
		to.first[param] += slope
		w.c[param*e+a] += w.rest[b]
		if a != b {
			to.first[param] += slope
			w.c[param*e+b] += w.rest[a]
		}
	})
	size := len(w.crown) + 1
	last := n
	if w.residuals > 0 {
		last = n - 1
		to.first[last] += w.trace
		to.own[last*n+last] += w.own
		for c, v := range w.sumT {
			for a, x := range w.sumL {
				v -= w.f[a*(m+1)+c] * x
			}
			to.by[last*size+w.leaf.touched[c]] += v
		}
	}
	for p := range last {
		c := w.c[p*e : (p+1)*e]
		for j, x := range c {
			if x == 0 {
				continue
			}
			for at, v := range w.column(j) {
				to.by[p*size+w.leaf.touched[at]] += x * v
			}
			for o := range p + 1 {
				for i, y := range w.c[o*e : (o+1)*e] {
					if y != 0 {
						to.own[p*n+o] += x * y * w.inner(j, i)
					}
				}
			}
			if w.residuals > 0 {
				to.own[last*n+p] += x * w.sumZ[j]
			}
		}
	}
}
