package film

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// Whether the thickness spreads within a spot can be asked without fitting a spread: by
// C. R. Rao's score. At the uniform film, with A the normal matrix and g half the
// gradient of the sum of squares, in which q is the square of the spread and all that is
// free and off its bounds comes before it, a Cholesky factorisation of A ends with
//
//	S = A_qq less what the others explain        c = g_q likewise
//
// q would go to -c/S, and the sum of squares would fall by c²/S, if it is quadratic.

// scoreHint is the fall of the sum of squares from which on a spread is fitted: exceeded
// by one uniform film in twenty.
var scoreHint = math.Pow(1.6449, 2)

// score returns by how much the sum of squares would fall with a spread of thickness, and
// the square of the relative spread; zeros where it would not.
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
