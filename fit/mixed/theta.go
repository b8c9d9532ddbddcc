package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// byTheta returns the derivatives of the parameters, which are elements of covariances, by theta, those of their Cholesky
// factors: rows are parameters.
func (p *problem) byTheta(theta []float64) *mat.Dense {
	n := max(1, len(p.params))
	j := mat.NewDense(n, n, nil)
	p.eachFactor(func(first, r int) {
		// Element (a, b) of the covariance is the sum over c of l(a, c) l(b, c).
		for a := range r {
			for b := range a + 1 {
				row := j.RawRowView(first + a*(a+1)/2 + b)
				for c := range b + 1 {
					row[first+a*(a+1)/2+c] += theta[first+b*(b+1)/2+c]
					row[first+b*(b+1)/2+c] += theta[first+a*(a+1)/2+c]
				}
			}
		}
	})
	return j
}

// eachFactor hands the position of the first parameter of each covariance that is estimated, and its width, to do. The
// variances of e are of width 1.
func (p *problem) eachFactor(do func(first, width int)) {
	for k := range p.covs {
		if c := &p.covs[k]; c.first >= 0 {
			do(c.first, c.width)
		}
	}
	for k := range p.residuals {
		do(p.residual(k), 1)
	}
}

// gradient returns the derivatives of the deviance by theta.
func (s *slopes) gradient(j *mat.Dense) []float64 {
	g := mat.NewVecDense(max(1, len(s.first)), nil)
	if len(s.first) > 0 {
		g.MulVec(j.T(), mat.NewVecDense(len(s.first), s.first))
	}
	return g.RawVector().Data[:len(s.first)]
}

// hessian returns second derivatives of the deviance by theta from those by the parameters. With safe, those by which the
// covariances bend are made positive.
func (p *problem) hessian(theta []float64, s *slopes, by *mat.SymDense, safe bool) *mat.SymDense {
	n := max(1, len(p.params))
	j := p.byTheta(theta)
	var half, full mat.Dense
	half.Mul(by, j)
	full.Mul(j.T(), &half)
	h := mat.NewSymDense(n, nil)
	for a := range n {
		for b := range a + 1 {
			h.SetSym(a, b, (full.At(a, b)+full.At(b, a))/2)
		}
	}
	p.eachFactor(func(first, r int) {
		g := mat.NewSymDense(r, nil) // the slope by the covariance as a matrix
		for a := range r {
			for b := range a + 1 {
				v := s.first[first+a*(a+1)/2+b]
				if a == b {
					v *= 2
				}
				g.SetSym(a, b, v)
			}
		}
		switch {
		case safe && r == 1:
			g.SetSym(0, 0, bend(s.first[first], by.At(first, first), theta[first], by == s.expected))
		case safe:
			g = positive(g)
		}
		for a := range r {
			for b := range a + 1 {
				for c := range b + 1 {
					i, k := first+a*(a+1)/2+c, first+b*(b+1)/2+c
					h.SetSym(i, k, h.At(i, k)+g.At(a, b))
				}
			}
		}
	})
	return h
}

// bend returns what makes up for the square of theta in the second derivative by theta, where the deviance is a parabola in
// the variance, of this slope and this second derivative: with it a step upwards goes to the minimum of that parabola, and so
// does one downwards with second derivatives that are expected; else that stops at 0.
func bend(slope, second, theta float64, expected bool) float64 {
	x := -slope / (second * theta * theta) // by what share of itself the variance is to grow
	switch {
	case slope >= 0 && !expected:
		return 2 * slope
	case x < -1:
		return 2*slope + 4*slope/x // to 0
	case !(math.Abs(x) > 1e-6) || math.IsInf(x, 1):
		return -slope
	}
	return -2 * slope * (math.Sqrt(1+x) - 1) / x
}

// positive returns the matrix with the sizes of its eigenvalues.
func positive(m *mat.SymDense) *mat.SymDense {
	n := m.SymmetricDim()
	var eigen mat.EigenSym
	out := mat.NewSymDense(n, nil)
	if !eigen.Factorize(m, true) {
		return out
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	for k, value := range eigen.Values(nil) {
		out.SymRankOne(out, math.Abs(value), vectors.ColView(k))
	}
	return out
}
