package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// local is the problem near a point, reduced to a triangle. A step is written in
// scaled variables, p[k] = scale[k] times the change of the k-th free parameter;
// up to a constant the cost is then |c + R·p|², R'R being the scaled normal
// matrix and R'c half the scaled gradient.
//
// Steps and covariances use nothing else. How a Jacobian is stored, or whether there
// is one, matters only to the code that fills a local.
type local struct {
	r     []float64 // n x n by rows, upper triangle, zeros below
	c     []float64 // n
	grad  []float64 // n, R'c
	norm  []float64 // n, lengths of the columns of R
	scale []float64 // n, positive
	whole []float64 // n, scratch: the diagonal of the normal matrix
	peak  []float64 // n, longest column of the unscaled Jacobian so far, which is the scale unless it is 0
}

func (l *local) resize(n int) {
	l.r = resized(l.r, n*n)
	for _, s := range []*[]float64{&l.c, &l.grad, &l.norm, &l.scale, &l.whole, &l.peak} {
		*s = resized(*s, n)
	}
}

// resized returns a slice of n zeros, in the memory of s if that is large enough.
func resized[T any](s []T, n int) []T {
	s = slices.Grow(s[:0], n)[:n]
	clear(s)
	return s
}

// rescale sets each scale to the larger of that of before and the given column length.
// (Moré also lets a scale never fall; from memory.)
func (l *local) rescale(before *local, lengths []float64) {
	for k, length := range lengths {
		l.peak[k] = max(before.peak[k], length)
		l.scale[k] = l.peak[k]
		if l.scale[k] == 0 {
			l.scale[k] = 1
		}
		l.norm[k] = length / l.scale[k]
	}
}

// reduce fills R, c and the gradient by a QR factorisation of m, which holds the
// scaled Jacobian with the residuals as last column and is overwritten. m has at
// least as many rows as R.
func (l *local) reduce(m blas64.General, tau, work []float64) {
	n := m.Cols - 1
	lapack64.Geqrf(m, tau, work, len(work))
	for i := range n {
		row := m.Data[i*m.Stride:]
		copy(l.r[i*n+i:(i+1)*n], row[i:n])
		l.c[i] = row[n]
	}
	clear(l.grad)
	for i := range n {
		floats.AddScaled(l.grad, l.c[i], l.r[i*n:(i+1)*n])
	}
}

// change returns the fall of the cost for step p if the cost is quadratic,
//
//	-2·grad·p - |R·p|²
//
// and half the slope of the cost along p, grad·p. rp is scratch of the length of p.
func (l *local) change(p, rp []float64) (fall, slope float64) {
	n := len(p)
	for i := range rp {
		rp[i] = floats.Dot(l.r[i*n:(i+1)*n], p)
	}
	slope = floats.Dot(l.grad, p)
	return -2*slope - floats.Dot(rp, rp), slope
}

// length returns the length of x in scaled variables; free lists its free
// elements.
func (l *local) length(x []float64, free []int) float64 {
	sum := 0.0
	for k, j := range free {
		v := l.scale[k] * x[j]
		sum += v * v
	}
	return math.Sqrt(sum)
}
