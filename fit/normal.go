package fit

import "math"

// reduceNormalEquations fills w.next from the normal equations at x, which evaluate
// stored in w.jj and w.jr. R comes from a Cholesky factorisation of the scaled normal
// matrix, c from a forward substitution.
func (w *Workspace) reduceNormalEquations(x []float64) error {
	all := len(w.p.Params)
	for k, j := range w.free {
		length2 := w.jj[j*all+j]
		if prior := w.p.Params[j].Prior; prior.given() {
			length2 += 1 / prior.SD / prior.SD
		}
		length := math.Sqrt(length2)
		if !finite(length) {
			return w.notFinite(j, length)
		}
		w.lengths[k] = length
	}
	l, n := &w.next, len(w.free)
	l.rescale(&w.now, w.lengths)
	for k, j := range w.free {
		row := l.r[k*n : (k+1)*n]
		clear(row[:k])
		for i := k; i < n; i++ {
			b := w.free[i]
			row[i] = w.jj[min(j, b)*all+max(j, b)] / (l.scale[k] * l.scale[i])
		}
		l.grad[k] = w.jr[j]
		if prior := w.p.Params[j].Prior; prior.given() {
			row[k] += 1 / (prior.SD * l.scale[k]) / (prior.SD * l.scale[k])
			l.grad[k] += prior.residual(x[j]) / prior.SD
		}
		l.grad[k] /= l.scale[k]
	}
	l.factor()
	return nil
}

// factor replaces the normal matrix in R by its Cholesky factor and fills c from the
// gradient. It reads the upper triangle only, and takes no time for what is 0 in it. Where a diagonal element falls to the
// level of rounding, the parameter depends on those before it, and its row becomes 0.
func (l *local) factor() {
	n := len(l.c)
	copy(l.c, l.grad)
	for k := range n {
		l.whole[k] = l.r[k*n+k]
	}
	for k := range n {
		row := l.r[k*n : (k+1)*n]
		if !(row[k] > squaringNoise*squaringNoise*l.whole[k]) {
			clear(row)
			l.c[k] = 0
			continue
		}
		root := math.Sqrt(row[k])
		row[k], l.c[k] = root, l.c[k]/root
		for j := k + 1; j < n; j++ {
			row[j] /= root
		}
		for j := k + 1; j < n; j++ { // what row k takes from those below
			f := row[j]
			if f == 0 {
				continue // as in a joint fit of many spots
			}
			below, from := l.r[j*n+j:(j+1)*n], row[j:]
			for i, v := range from[:len(below)] {
				below[i] -= f * v
			}
			l.c[j] -= f * l.c[k]
		}
	}
}
