package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// varianceModel is the problem of [REML] made ready. A variance is the square of an sd.
type varianceModel struct {
	vectors    []Observed
	of         []int // component of each coordinate
	components int
}

func newVarianceModel(vectors []Observed, component []int) (*varianceModel, error) {
	m := &varianceModel{vectors: vectors, of: component}
	for _, k := range component {
		m.components = max(m.components, k+1)
	}
	for k := range m.components {
		if m.coordinates(k) == 0 {
			panic("fit: a variance component without a coordinate")
		}
	}
	if len(vectors) < 2 {
		return nil, &ProblemError{"", "number of vectors", float64(len(vectors)), "there must be at least 2 to scatter"}
	}
	for i := range vectors {
		if err := m.check(i); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// coordinates returns how many coordinates a component has.
func (m *varianceModel) coordinates(k int) (n int) {
	for _, of := range m.of {
		if of == k {
			n++
		}
	}
	return n
}

// check returns a *ProblemError for the first fault of vector i.
func (m *varianceModel) check(i int) error {
	v, n := &m.vectors[i], len(m.of)
	if len(v.Y) != n || v.C.SymmetricDim() != n {
		panic("fit: vectors, covariances and components differ in length")
	}
	scaled := mat.NewSymDense(n, nil)
	for a, y := range v.Y {
		if !finite(y) {
			return &ProblemError{"", fmt.Sprintf("coordinate %d of vector %d", a, i), y, "it must be finite"}
		}
		for b := a; b < n; b++ {
			c := v.C.At(a, b)
			if !finite(c) || a == b && c < 0 {
				return &ProblemError{"", fmt.Sprintf("covariance %d, %d of vector %d", a, b, i), c,
					"it must be finite, and not negative on the diagonal"}
			}
			if c != 0 {
				scaled.SetSym(a, b, c/math.Sqrt(v.C.At(a, a)*v.C.At(b, b)))
			}
		}
	}
	const rounding = 1e-10 // what a semidefinite matrix may lack by rounding errors
	for a := range n {
		scaled.SetSym(a, a, scaled.At(a, a)+rounding)
	}
	var c mat.Cholesky
	if !c.Factorize(scaled) {
		return &ProblemError{"", fmt.Sprintf("determinant of the covariance of vector %d", i), mat.Det(v.C),
			"it must be positive semidefinite"}
	}
	return nil
}

// scatter returns the mean over the coordinates of component k of their sample variance, and of the variance of their
// errors.
func (m *varianceModel) scatter(k int) (sample, own float64) {
	n := float64(len(m.vectors))
	for a, of := range m.of {
		if of != k {
			continue
		}
		mean := 0.0
		for i := range m.vectors {
			mean += m.vectors[i].Y[a] / n
		}
		for i := range m.vectors {
			d := m.vectors[i].Y[a] - mean
			sample += d * d / (n - 1)
			own += m.vectors[i].C.At(a, a) / n
		}
	}
	share := 1 / float64(m.coordinates(k))
	return sample * share, own * share
}

// moments returns variances to start from: the sample variance of each component less that of the errors, or a tenth of
// it if that is more.
func (m *varianceModel) moments() ([]float64, error) {
	start := make([]float64, m.components)
	for k := range start {
		sample, own := m.scatter(k)
		if sample == 0 && own == 0 {
			return nil, &ProblemError{fmt.Sprintf("#%d", k), "scatter", 0,
				"vectors that agree exactly and claim no errors determine no variance"}
		}
		start[k] = max(sample-own, sample/10)
	}
	return start, nil
}

// variancePoint is the deviance at given variances, without its constant, with derivatives by them.
type variancePoint struct {
	variance, mean []float64
	cov            mat.SymDense // of the mean
	deviance       float64      // infinite where the variances leave no covariance
	grad           []float64
	expected       *mat.SymDense // second derivatives, their expectation, which is never negative
	observed       *mat.SymDense // second derivatives
}

// at evaluates the deviance. With P_i = V_i⁻¹, q_i = P_i·(y_i - mean), E_k the coordinates of component k and P the
// matrix that takes the stacked vectors to the stacked q, its derivatives are
//
//	∂/∂k = tr(P E_k) - qᵀ E_k q
//	∂²/∂k∂l = -tr(P E_k P E_l) + 2 qᵀ E_k P E_l q, with the expectation tr(P E_k P E_l)
func (m *varianceModel) at(variance []float64) *variancePoint {
	n := len(m.of)
	pt := &variancePoint{variance: variance, deviance: math.Inf(1)}
	inverse := make([]*mat.SymDense, len(m.vectors))
	precision, weighted := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	deviance := 0.0
	for i := range m.vectors {
		var c mat.Cholesky
		if !c.Factorize(m.covariance(i, variance)) {
			return pt
		}
		deviance += c.LogDet()
		inverse[i] = new(mat.SymDense)
		if c.InverseTo(inverse[i]) != nil && !finite(mat.Sum(inverse[i])) {
			return pt
		}
		precision.AddSym(precision, inverse[i])
		var py mat.VecDense
		py.MulVec(inverse[i], mat.NewVecDense(n, m.vectors[i].Y))
		weighted.AddVec(weighted, &py)
	}
	var c mat.Cholesky
	if !c.Factorize(precision) {
		return pt
	}
	deviance += c.LogDet()
	if c.InverseTo(&pt.cov) != nil && !finite(mat.Sum(&pt.cov)) {
		return pt
	}
	var mean mat.VecDense
	mean.MulVec(&pt.cov, weighted)
	pt.mean = mean.RawVector().Data
	q := make([]*mat.VecDense, len(m.vectors))
	for i := range m.vectors {
		rest := mat.NewVecDense(n, floats.SubTo(make([]float64, n), m.vectors[i].Y, pt.mean))
		q[i] = new(mat.VecDense)
		q[i].MulVec(inverse[i], rest)
		deviance += mat.Dot(rest, q[i])
	}
	pt.deviance = deviance
	m.differentiate(pt, inverse, q)
	return pt
}

// covariance returns V_i.
func (m *varianceModel) covariance(i int, variance []float64) *mat.SymDense {
	v := mat.NewSymDense(len(m.of), nil)
	v.CopySym(m.vectors[i].C)
	for a, k := range m.of {
		v.SetSym(a, a, v.At(a, a)+variance[k])
	}
	return v
}

// differentiate fills the derivatives of pt, from the P_i and q_i. P has the blocks δ_ij P_i - P_i V̂ P_j, with V̂ the
// covariance of the mean.
func (m *varianceModel) differentiate(pt *variancePoint, inverse []*mat.SymDense, q []*mat.VecDense) {
	n, K := len(m.of), m.components
	pt.grad = make([]float64, K)
	trace, square := mat.NewDense(K, K, nil), mat.NewDense(K, K, nil)
	spread, pull := make([]*mat.Dense, K), make([]*mat.VecDense, K) // Σ P_i E_k P_i and Σ P_i E_k q_i
	for k := range K {
		spread[k], pull[k] = mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	}
	for i, p := range inverse {
		var half, g mat.Dense // P_i V̂ and P_i V̂ P_i
		half.Mul(p, &pt.cov)
		g.Mul(&half, p)
		for a, k := range m.of {
			qa := q[i].AtVec(a)
			pt.grad[k] += p.At(a, a) - g.At(a, a) - qa*qa
			column := mat.NewVecDense(n, mat.Row(nil, a, p))
			pull[k].AddScaledVec(pull[k], qa, column)
			spread[k].RankOne(spread[k], 1, column, column)
			for b, l := range m.of {
				pab := p.At(a, b)
				trace.Set(k, l, trace.At(k, l)+pab*(pab-2*g.At(a, b)))
				square.Set(k, l, square.At(k, l)+qa*pab*q[i].AtVec(b))
			}
		}
	}
	pt.expected, pt.observed = mat.NewSymDense(K, nil), mat.NewSymDense(K, nil)
	for k := range K {
		var left mat.Dense
		left.Mul(&pt.cov, spread[k])
		for l := k; l < K; l++ {
			var right, product mat.Dense
			right.Mul(&pt.cov, spread[l])
			product.Mul(&left, &right)
			expected := trace.At(k, l) + mat.Trace(&product)
			pt.expected.SetSym(k, l, expected)
			pt.observed.SetSym(k, l, 2*(square.At(k, l)-mat.Inner(pull[k], &pt.cov, pull[l]))-expected)
		}
	}
}

// descend returns the point of least deviance that its steps find from start, with the variance of component held, if
// it is one, left as it is.
func (m *varianceModel) descend(start []float64, held int) (*variancePoint, error) {
	const (
		iterations = 500
		halvings   = 60
		last       = 1e-10 // fall of the deviance that makes a step the last: the next would promise its square
		rounding   = 1e-13 // share of the deviance that is lost to rounding errors
	)
	now := m.at(append([]float64(nil), start...))
	if math.IsInf(now.deviance, 1) { // held at a value that leaves no covariance
		return now, nil
	}
	for range iterations {
		step, promise := now.step(held)
		if promise == 0 {
			return now, nil
		}
		if math.IsNaN(promise) {
			return nil, fmt.Errorf("fit: the deviance does not depend on some of the variances %v", now.variance)
		}
		next, share, least := now, 1.0, last+rounding*math.Abs(now.deviance)
		for range halvings {
			if next = m.at(now.moved(step, share)); next.deviance <= now.deviance+least {
				break
			}
			share /= 2
		}
		if !(next.deviance <= now.deviance+least) {
			return nil, fmt.Errorf("fit: no step lowers the deviance at variances %v", now.variance)
		}
		now = next
		if promise <= least && share == 1 {
			return now, nil
		}
	}
	return nil, fmt.Errorf("fit: the variances have not converged after %d steps: %v", iterations, now.variance)
}

// step returns the next step, zero for components that are held or that stay at zero, and by how much it should lower
// the deviance; NaN where the derivatives give no step. Far off it is the step of Fisher's scoring, by the expected
// second derivatives, which goes most of the way at once from any side; near the end it is that of Newton.
func (pt *variancePoint) step(held int) (step []float64, promise float64) {
	const near = 1 // promise of the deviance from which on second derivatives are those of the minimum
	var free []int
	for k, g := range pt.grad {
		if k != held && (pt.variance[k] > 0 || g < 0) {
			free = append(free, k)
		}
	}
	if len(free) == 0 {
		return make([]float64, len(pt.variance)), 0
	}
	step, promise = pt.solve(free, pt.expected)
	if promise <= near {
		if newton, fall := pt.solve(free, pt.observed); fall > 0 {
			return newton, fall
		}
	}
	return step, promise
}

// solve returns the step to the minimum of the parabola with these second derivatives over the free components, and how
// far it falls; NaN if they are not positive definite.
func (pt *variancePoint) solve(free []int, second *mat.SymDense) (step []float64, fall float64) {
	h, grad := mat.NewSymDense(len(free), nil), mat.NewVecDense(len(free), nil)
	for a, k := range free {
		grad.SetVec(a, pt.grad[k])
		for b, l := range free {
			h.SetSym(a, b, second.At(k, l))
		}
	}
	var c mat.Cholesky
	var along mat.VecDense
	if !c.Factorize(h) {
		return nil, math.NaN()
	}
	if err := c.SolveVecTo(&along, grad); err != nil && !finite(mat.Norm(&along, 2)) {
		return nil, math.NaN()
	}
	step = make([]float64, len(pt.variance))
	for a, k := range free {
		step[k] = -along.AtVec(a)
	}
	return step, mat.Dot(grad, &along) / 2
}

// moved returns the variances at a share of the step, none below zero.
func (pt *variancePoint) moved(step []float64, share float64) []float64 {
	to := append([]float64(nil), pt.variance...)
	floats.AddScaled(to, share, step)
	for k := range to {
		to[k] = max(to[k], 0)
	}
	return to
}
