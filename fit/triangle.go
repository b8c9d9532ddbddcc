package fit

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
)

// triangle is an upper triangle R, n x n by rows, with a right-hand side c: the lowest point of |R·p + c|².
type triangle struct {
	n           int // at most that of resize
	r, c        []float64
	below, rest []float64 // scratch of addDiagonal: rows below R, one column after the other, and below c
}

func (t *triangle) resize(n int) {
	t.n = n
	t.r, t.c = resized(t.r, n*n), resized(t.c, n)
	t.below, t.rest = resized(t.below, n*n), resized(t.rest, n)
}

// addDiagonal makes R and c those of
//
//	[ R ]       [ c ]
//	[ D ]  and  [ 0 ]
//
// with D the diagonal matrix of d, by reflections of one column after the other. When it is the turn of column k, only the
// first k+1 rows of D have an element in it: that is a third of the work of a factorisation of all rows.
func (t *triangle) addDiagonal(d []float64) {
	n := t.n
	clear(t.below)
	clear(t.rest)
	for k, v := range d[:n] {
		t.below[k*n+k] = v
	}
	for k := range n {
		row, v := t.r[k*n:(k+1)*n], t.below[k*n:k*n+k+1]
		squares := floats.Dot(v, v)
		if squares == 0 {
			continue
		}
		// The reflection I - 2·w·wᵀ/|w|² with w = (head, v) takes column k to (-length, 0).
		length := math.Copysign(math.Sqrt(row[k]*row[k]+squares), row[k])
		head := row[k] + length
		scale := 1 / (length * head) // 2/|w|²
		row[k] = -length
		for j := k + 1; j < n; j++ {
			other := t.below[j*n : j*n+k+1]
			by := scale * (head*row[j] + floats.Dot(v, other))
			row[j] -= by * head
			floats.AddScaled(other, -by, v)
		}
		by := scale * (head*t.c[k] + floats.Dot(v, t.rest[:k+1]))
		t.c[k] -= by * head
		floats.AddScaled(t.rest[:k+1], -by, v)
	}
}

// solve stores R⁻¹·x in x, or (Rᵀ)⁻¹·x. No diagonal element may be 0.
func (t *triangle) solve(transpose blas.Transpose, x []float64) {
	blas64.Trsv(transpose, blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: t.n, Stride: t.n,
		Data: t.r[:t.n*t.n]}, blas64.Vector{N: t.n, Inc: 1, Data: x})
}
