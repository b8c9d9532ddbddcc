package fit

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// stepper finds the step of a local problem within a box and a trust radius.
type stepper struct {
	p         []float64 // the step, in scaled variables
	lo, hi    []float64 // the box around the present point, lo <= 0 <= hi
	shortened bool      // whether the radius, and not only the box, shortened p

	fixed   []bool    // components that keep their value
	face    []int     // the other components
	target  []float64 // the lowest point of the quadratic on the face
	rhs     []float64 // b: c + R·(fixed part of p)
	columns []float64 // n x len(face) by rows, the columns of R on the face
	svd     svd
	weights []float64 // of the right singular vectors; without these, the right-hand side of the triangle

	qr, tau, solution []float64 // scratch of setTargetByQR
	damped            triangle  // scratch of dampByQR
	diagonal, back    []float64
}

func (s *stepper) resize(n int) {
	for _, v := range []*[]float64{&s.p, &s.lo, &s.hi, &s.target, &s.rhs, &s.weights, &s.tau, &s.solution,
		&s.diagonal, &s.back} {
		*v = resized(*v, n)
	}
	s.columns, s.qr = resized(s.columns, n*n), resized(s.qr, n*n)
	s.fixed = resized(s.fixed, n)
	s.face = resized(s.face, n)
	s.svd.resize(n)
	s.damped.resize(n)
}

// findStep sets p to a step no longer than radius within the box. The step is a
// chain of straight lines. Each line goes to the lowest point of the quadratic on
// the present face of the box. If it meets a bound on the way, it ends there, and
// that component is fixed for the lines that follow. The quadratic falls along
// every line and each fixes one component more, so the step goes downhill and has
// at most as many lines as components.
//
// A component is fixed from the start if it is on a bound and the descent points
// out of the box. No other component is: bounds of earlier steps do not count.
func (s *stepper) findStep(l *local, radius float64) {
	clear(s.p)
	s.shortened = false
	for k := range s.fixed {
		s.fixed[k] = s.isBlocked(k, l.grad[k])
	}
	for s.listFace() > 0 {
		rest := radius*radius - floats.Dot(s.p, s.p) + s.faceLength2()
		if rest <= 0 {
			s.shortened = true
			return
		}
		if !s.setTarget(l, math.Sqrt(rest)) {
			return
		}
		bound := s.moveToTarget()
		if bound < 0 {
			return
		}
		s.fixed[bound] = true
	}
}

// isBlocked reports whether component k is on a bound and the descent points out of
// the box. grad is its element of the gradient.
func (s *stepper) isBlocked(k int, grad float64) bool {
	return s.lo[k] == 0 && grad > 0 || s.hi[k] == 0 && grad < 0
}

// listFace fills face with the components that are not fixed and returns their number.
func (s *stepper) listFace() int {
	s.face = s.face[:0]
	for k, fixed := range s.fixed {
		if !fixed {
			s.face = append(s.face, k)
		}
	}
	return len(s.face)
}

// faceLength2 returns the square of the length of p on the face.
func (s *stepper) faceLength2() (sum float64) {
	for _, k := range s.face {
		sum += s.p[k] * s.p[k]
	}
	return sum
}

// setTarget sets target to the lowest point of the quadratic on the face that is no
// longer than radius. Fixed components keep their value in p. With the singular
// value decomposition U·S·V' of the columns of R on the face, that point is
//
//	-V·S·(S² + λ)⁻¹·U'·b
//
// with b = c + R·(fixed part of p) and the smallest damping λ >= 0 for which it is
// short enough. Singular values at the level of rounding count as 0, so the step
// has no part in directions on which the residuals do not depend. setTarget returns
// false if the decomposition fails, which ends the search.
func (s *stepper) setTarget(l *local, radius float64) bool {
	n, m := len(l.c), len(s.face)
	copy(s.rhs, l.c)
	for i := range n {
		row := l.r[i*n : (i+1)*n]
		for a, k := range s.face {
			s.columns[i*m+a] = row[k]
		}
		for k, fixed := range s.fixed {
			if fixed {
				s.rhs[i] += row[k] * s.p[k]
			}
		}
	}
	if s.setTargetByQR(n, m, radius) {
		return true
	}
	if !s.svd.factor(s.columns, n, m) {
		return false
	}
	beta := s.weights[:m]
	s.svd.project(beta, s.rhs)
	s.svd.dropBelow(epsilon * float64(n))
	if damp(beta, s.svd.s[:m], radius) {
		s.shortened = true
	}
	clear(s.target)
	for i, b := range beta {
		for a, k := range s.face {
			s.target[k] -= b * s.svd.vt[i*m+a]
		}
	}
	return true
}

// wellConditioned is the smallest ratio of the least to the largest diagonal element
// of a triangle with which a step is found without singular values. (Our choice, far
// from where rounding matters.)
const wellConditioned = 1e-6

// setTargetByQR sets target as setTarget does. It uses QR factorisations instead of singular
// values, which takes a tenth of the time. It returns false where the columns are nearly
// dependent; columns and rhs then have not changed.
func (s *stepper) setTargetByQR(n, m int, radius float64) bool {
	t := blas64.General{Rows: n, Cols: m, Stride: m, Data: s.qr[:n*m]}
	copy(t.Data, s.columns[:n*m])
	x := s.solution[:n]
	copy(x, s.rhs)
	if m < n { // with all columns it is already a triangle
		lapack64.Geqrf(t, s.tau[:m], s.svd.work, len(s.svd.work))
		lapack64.Ormqr(blas.Left, blas.Trans, t, s.tau[:m], blas64.General{Rows: n, Cols: 1, Stride: 1, Data: x},
			s.svd.work, len(s.svd.work))
	}
	least, most := math.Inf(1), 0.0
	for i := range m {
		d := math.Abs(t.Data[i*m+i])
		least, most = min(least, d), max(most, d)
	}
	if !(least > wellConditioned*most) {
		return false
	}
	copy(s.weights, x[:m])
	blas64.Trsv(blas.NoTrans, blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: m, Stride: m,
		Data: t.Data[:m*m]}, blas64.Vector{N: m, Inc: 1, Data: x})
	if length := floats.Norm(x[:m], 2); !(length <= radius) {
		if !s.dampByQR(t.Data[:m*m], m, radius) {
			return false
		}
		s.shortened = true
	}
	clear(s.target)
	for a, k := range s.face {
		s.target[k] = -x[a]
	}
	return true
}

// dampByQR replaces the m components of solution, the lowest point of |R·p - c|², by that of
//
//	|R·p - c|² + λ·|p|²
//
// with the λ of [damp]. r holds R, m x m, and c stands in weights. It returns false where solution is not finite.
func (s *stepper) dampByQR(r []float64, m int, radius float64) bool {
	t, p, back, root := &s.damped, s.solution[:m], s.back[:m], s.diagonal[:m]
	t.n = m
	copy(t.r, r)
	lambda := 0.0
	for range 100 {
		length := floats.Norm(p, 2)
		if !finite(length) {
			return false
		}
		if length <= radius*(1+1e-12) {
			break
		}
		copy(back, p)
		t.solve(blas.Trans, back)
		lambda += length * length / floats.Dot(back, back) * (length/radius - 1)
		for k := range root {
			root[k] = math.Sqrt(lambda)
		}
		copy(t.r, r)
		copy(t.c, s.weights[:m])
		t.addDiagonal(root)
		copy(p, t.c)
		t.solve(blas.NoTrans, p)
	}
	return true
}

// damp replaces each beta by
//
//	s·beta / (s² + λ)        0 where s is 0
//
// with the smallest λ >= 0 for which their length is at most radius, and reports
// whether λ > 0.
//
// λ is the root of 1/radius - 1/length(λ). This function is concave, so Newton's
// method from 0 rises to the root and never passes it.
func damp(beta, s []float64, radius float64) bool {
	lambda := 0.0
	for range 100 {
		length2, slope := 0.0, 0.0
		for i, b := range beta {
			if s[i] == 0 {
				continue
			}
			d := s[i]*s[i] + lambda
			q := s[i] * b / d
			length2 += q * q
			slope += q * q / d
		}
		length := math.Sqrt(length2)
		if length <= radius*(1+1e-12) {
			break
		}
		lambda += length2 / slope * (length/radius - 1)
	}
	for i := range beta {
		if s[i] == 0 {
			beta[i] = 0
			continue
		}
		beta[i] *= s[i] / (s[i]*s[i] + lambda)
	}
	return lambda > 0
}

// moveToTarget moves p to target, or along the line to it up to the first bound. It
// returns the component that met the bound, or -1.
func (s *stepper) moveToTarget() int {
	t, first, at := 1.0, -1, 0.0
	for _, k := range s.face {
		bound := s.hi[k]
		if s.target[k] < s.p[k] {
			bound = s.lo[k]
		}
		if s.target[k] >= s.lo[k] && s.target[k] <= s.hi[k] {
			continue
		}
		if u := (bound - s.p[k]) / (s.target[k] - s.p[k]); first < 0 || u < t {
			t, first, at = u, k, bound
		}
	}
	for _, k := range s.face {
		s.p[k] += t * (s.target[k] - s.p[k])
	}
	if first >= 0 {
		s.p[first] = at
	}
	return first
}

// svd is the thin singular value decomposition U·S·V' of an n x m matrix, n >= m,
// stored by rows. u is n x m, vt is V', m x m.
type svd struct {
	m              int
	s, u, vt, work []float64
}

func (d *svd) resize(n int) {
	d.s, d.u, d.vt = resized(d.s, n), resized(d.u, n*n), resized(d.vt, n*n)
	d.work = resized(d.work, 8*n+1)
}

// factor decomposes t, which is overwritten, and reports whether it could.
func (d *svd) factor(t []float64, n, m int) (ok bool) {
	d.m = m
	return lapack64.Gesvd(lapack.SVDStore, lapack.SVDStore,
		blas64.General{Rows: n, Cols: m, Stride: m, Data: t},
		blas64.General{Rows: n, Cols: m, Stride: m, Data: d.u},
		blas64.General{Rows: m, Cols: m, Stride: m, Data: d.vt},
		d.s, d.work, len(d.work))
}

// project stores U'·b in dst.
func (d *svd) project(dst, b []float64) {
	clear(dst)
	for i, v := range b {
		floats.AddScaled(dst, v, d.u[i*d.m:(i+1)*d.m])
	}
}

// dropBelow sets singular values below tol times the largest to 0.
func (d *svd) dropBelow(tol float64) {
	for i, v := range d.s[:d.m] {
		if v <= tol*d.s[0] {
			d.s[i] = 0
		}
	}
}
