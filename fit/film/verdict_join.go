package film

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Where an instrument has no registered detector join and the curves are not those of the law, a join is tried: a step
// at one wavelength of 850 ± 50 nm, the same in all curves, as where a silicon detector ends. With r the residuals over
// the noise and J their derivatives at the solution, P what is known beforehand, g = J'r + P·(x - mean) and c a step of
// 1 from the join on, over the noise, one step of the linear problem gives
//
//	step = -(c'r - b'N⁻¹g)/(c'c - b'N⁻¹b)      b = J'c, N = J'J + P
//
// and takes the square of the numerator over the denominator off the sum of squares. It is said where that is more than
// leastJoin and the residuals that remain no longer call the misfit. It changes no value.
const (
	joinNM, joinReachNM, joinStepNM = 850, 50, 5
	leastJoin                       = 25 // the square of 5 standard deviations, since 21 joins are tried
)

// triedJoin is a join that explains a misfit.
type triedJoin struct{ nm, step float64 }

func (j *triedJoin) String() string { return fmt.Sprintf("%g=%.2g", j.nm, j.step) }

// tryJoin finds the join that explains the misfit of a verdict on spot, whose noise is sigma, and flags it.
func (f *Fitter) tryJoin(v *Verdict, spot *Spot, sigma []float64) error {
	if !v.called.full || len(spot.Instrument.JoinsNM) > 0 {
		return nil
	}
	of, s := v.physical()
	whole, err := f.fullModel(spot, sigma)
	if err != nil {
		return err
	}
	whole.structured, whole.structure = of.structured, of.structure
	t := newJoinTrial(whole, s)
	if t == nil {
		return nil
	}
	var best triedJoin
	least := float64(leastJoin)
	for nm := joinNM - joinReachNM; nm <= joinNM+joinReachNM; nm += joinStepNM {
		if step, taken := t.step(float64(nm)); taken > least {
			best, least = triedJoin{float64(nm), step}, taken
		}
	}
	if best.nm == 0 {
		return nil
	}
	left := s.misfit
	left.q = t.misfitWith(&best)
	if !left.isCalled(func() float64 { return of.cosineTrace(s) }) {
		v.join = &best
		v.Flags = nil
		v.setFlags()
	}
	return nil
}

// joinTrial is the linear problem of a step at a join, about a solution.
type joinTrial struct {
	m        *model
	res      []float64
	jac      *mat.Dense // of the free parameters
	inverse  *mat.SymDense
	gradient *mat.VecDense
}

// newJoinTrial returns the problem about the solution s on the whole grids of m; nil where nothing is free or the
// solution does not determine it.
func newJoinTrial(m *model, s *solution) *joinTrial {
	size := m.size()
	t := &joinTrial{m: m, res: make([]float64, m.rows)}
	all := make([]float64, m.rows*size)
	m.setFreeParams(s.params)
	m.residuals(t.res, s.x)
	m.jacobian(all, s.x)
	var free []int
	for i := range s.params {
		if !s.params[i].Fixed {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return nil
	}
	t.jac = mat.NewDense(m.rows, len(free), nil)
	for r := range m.rows {
		for k, i := range free {
			t.jac.Set(r, k, all[r*size+i])
		}
	}
	normal := mat.NewSymDense(len(free), nil)
	normal.SymOuterK(1, t.jac.T())
	t.gradient = mat.NewVecDense(len(free), nil)
	t.gradient.MulVec(t.jac.T(), mat.NewVecDense(m.rows, t.res))
	for k, i := range free {
		if p := s.params[i].Prior; p.SD > 0 {
			normal.SetSym(k, k, normal.At(k, k)+1/p.SD/p.SD)
			t.gradient.SetVec(k, t.gradient.AtVec(k)+(s.x[i]-p.Mean)/p.SD/p.SD)
		}
	}
	var c mat.Cholesky
	t.inverse = mat.NewSymDense(len(free), nil)
	if !c.Factorize(normal) || c.InverseTo(t.inverse) != nil {
		return nil
	}
	return t
}

// column returns a step of 1 from nm on, over the noise. ok is false if no curve has it well inside.
func (t *joinTrial) column(nm float64) (c []float64, ok bool) {
	c = make([]float64, 0, t.m.rows)
	for k := range t.m.curves {
		curve := &t.m.curves[k]
		n := len(curve.nm)
		ok = ok || curve.nm[0] < nm-joinReachNM && curve.nm[n-1] > nm+joinReachNM
		for i, lambda := range curve.nm {
			at := 0.0
			if lambda >= nm {
				at = curve.weightRoot[i]
			}
			c = append(c, at)
		}
	}
	return c, ok
}

// step returns the step at nm and by how much it lowers the sum of squares.
func (t *joinTrial) step(nm float64) (step, taken float64) {
	c, ok := t.column(nm)
	if !ok {
		return 0, 0
	}
	b, nb := t.project(c)
	top, below := floats.Dot(c, t.res)-mat.Dot(nb, t.gradient), floats.Dot(c, c)-mat.Dot(nb, b)
	if !(below > 0) {
		return 0, 0
	}
	return -top / below, top * top / below
}

// project returns b = J'c and N⁻¹b.
func (t *joinTrial) project(c []float64) (b, nb *mat.VecDense) {
	b, nb = mat.NewVecDense(t.gradient.Len(), nil), mat.NewVecDense(t.gradient.Len(), nil)
	b.MulVec(t.jac.T(), mat.NewVecDense(len(c), c))
	nb.MulVec(t.inverse, b)
	return b, nb
}

// misfitWith returns the sum of squares of the smooth part of the residuals with a join.
func (t *joinTrial) misfitWith(j *triedJoin) (q float64) {
	c, _ := t.column(j.nm)
	b, _ := t.project(c)
	b.AddScaledVec(t.gradient, j.step, b)
	moved := mat.NewVecDense(b.Len(), nil)
	moved.MulVec(t.inverse, b)
	left := mat.NewVecDense(len(c), nil)
	left.MulVec(t.jac, moved)
	at := 0
	for k := range t.m.curves {
		curve := &t.m.curves[k]
		n := len(curve.nm)
		for i := range curve.cosineCount() {
			row, sum := curve.cosineRows.row(i, n), 0.0
			for p, weight := range row {
				sum += weight * (t.res[at+p] + j.step*c[at+p] - left.AtVec(at+p))
			}
			q += sum * sum
		}
		at += n
	}
	if math.IsNaN(q) {
		return math.Inf(1)
	}
	return q
}
