package film

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// A test for a spread of thickness does not need a fit of the spread: the score test of
// C. R. Rao (from memory) uses only derivatives at the uniform film. Let A be the normal
// matrix and g half the gradient of the sum of squares there. Let q be the square of the
// relative spread, and o all other parameters that are free and not on a bound. With
//
//	S = A_qq - A_qo·A_oo⁻¹·A_oq        c = g_q - A_qo·A_oo⁻¹·g_o
//
// the best q is -c/S, and the sum of squares falls by c²/S, if it is quadratic. √S is
// the last diagonal element of the Cholesky factor of A, with q as the last parameter.

// scoreHint is the fall of the sum of squares above which a spread is fitted, in units
// of the inflated noise: the square of the 95 % point of the normal distribution. One
// uniform film in twenty exceeds it.
var scoreHint = math.Pow(1.6449, 2)

// score returns the fall of the sum of squares with a spread of thickness, c²/S, and the
// square of the relative spread, -c/S. Both are 0 if the best spread is not positive or
// the derivatives do not determine it.
func (m *model) score(film *solution) (fall, spread2 float64) {
	wide := *m
	wide.spread = true
	params := append([]fit.Param(nil), film.params...)
	params[pSpread2].Fixed = false
	wide.setFreeParams(params)
	defer m.setFreeParams(film.params)
	n := m.size()
	jj, jr := make([]float64, n*n), make([]float64, n)
	wide.fillNormalEquations(jj, jr, film.x)
	var free []int
	for i, p := range params {
		if i != pSpread2 && !p.Fixed && !film.atBound[i] {
			free = append(free, i)
			if p.Prior.SD > 0 {
				jj[i*n+i] += 1 / p.Prior.SD / p.Prior.SD
				jr[i] += (film.x[i] - p.Prior.Mean) / p.Prior.SD / p.Prior.SD
			}
		}
	}
	free = append(free, pSpread2)
	a, g := mat.NewSymDense(len(free), nil), mat.NewVecDense(len(free), nil)
	scale := func(i int) float64 { return math.Sqrt(jj[i*n+i]) }
	for k, i := range free {
		if !(jj[i*n+i] > 0) {
			return 0, 0
		}
		g.SetVec(k, jr[i]/scale(i))
		for l := k; l < len(free); l++ {
			j := free[l]
			a.SetSym(k, l, jj[min(i, j)*n+max(i, j)]/scale(i)/scale(j))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(a) {
		return 0, 0
	}
	var step mat.VecDense
	if c.SolveVecTo(&step, g) != nil {
		return 0, 0
	}
	last := len(free) - 1
	var u mat.TriDense
	c.UTo(&u)
	root := u.At(last, last) // of S
	q := -step.AtVec(last)
	if q <= 0 {
		return 0, 0
	}
	return q * q * root * root, q / scale(pSpread2)
}
