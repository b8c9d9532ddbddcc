package film

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Effect is one effect of the law: whom it belongs to, and its name.
type Effect struct {
	Owner Owner
	Name  string
}

// Errors is what the uncertainties of some quantities of a spot are made of. Two spots that share the owner of an effect
// share the effect: the covariance of a quantity at one spot with a quantity at another is
//
//	Σ a·b over the effects that they share
//
// with a and b from By, and the variance of a quantity is Σ a² + Own.
type Errors struct {
	Effects []Effect
	By      *mat.Dense    // a row for each effect, a column for each quantity: the error that one prior sd causes; nil without effects
	Own     *mat.SymDense // covariance of what no other spot shares: noise, placement and reading
}

// Errors returns what the uncertainties of quantities of v are made of: with S the covariance of the parameters and c the
// gradient of a quantity, an effect of standard deviation sd_j that is fitted with others as one parameter k, of variance
// sd² = Σ sd_j², causes
//
//	a_j = -(c'S)_k·sd_j/sd²
//
// when it is one sd_j off. An [*InputError] says that there is no such quantity.
func (v *Verdict) Errors(quantities ...Measurand) (*Errors, error) {
	return v.errors(quantities, func(o Owner) bool { return o == OwnerSession || o.outlives() })
}

// errors is Errors for the effects of the owners that are kept.
func (v *Verdict) errors(quantities []Measurand, keeps func(Owner) bool) (*Errors, error) {
	n := len(quantities)
	out := &Errors{Own: mat.NewSymDense(max(n, 1), nil)}
	all := make([]contribution, n)
	for q, of := range quantities {
		e, by, err := of.of(v)
		if err != nil {
			return nil, err
		}
		c := contribution{by.s, by.of(by.s.x).grad, nil}
		if math.IsNaN(e.U) { // nothing free is in it
			c.grad, e.U = make([]float64, len(c.grad)), 0
		}
		c.moved = timesCovariance(c.grad, by.s.cov)
		all[q] = c
		for k := range q {
			if all[k].s == c.s {
				out.Own.SetSym(q, k, floats.Dot(c.moved, all[k].grad))
			}
		}
		out.Own.SetSym(q, q, max(floats.Dot(c.moved, c.grad), e.U*e.U)) // more where other films explain the curves as well
	}
	var rows []float64
	m, physical := v.physical()
	m.eachPrior(physical, v.apart, func(i int, of Effect, sd, total float64) {
		if !keeps(of.Owner) {
			return
		}
		out.Effects = append(out.Effects, of)
		for q := range quantities {
			rows = append(rows, -all[q].moved[i]*all[q].share(i, sd, total))
		}
	})
	out.add(rows)
	for q := range n {
		for k := range q {
			if all[k].s != all[q].s { // of a fit of its own: what noise does to both is not followed
				out.Own.SetSym(q, k, 0)
			}
		}
	}
	return out, nil
}

// contribution is a quantity of a solution: its gradient, and that times the covariance of the parameters.
type contribution struct {
	s           *solution
	grad, moved []float64
}

// share returns sd/total² where the parameter is free in the solution, else 0.
func (c *contribution) share(i int, sd, total float64) float64 {
	if c.s.params[i].Fixed {
		return 0
	}
	return sd / (total * total)
}

// add takes the rows of By from Own, which has held the whole covariance.
func (e *Errors) add(rows []float64) {
	n := e.Own.SymmetricDim()
	if len(rows) == 0 {
		return
	}
	e.By = mat.NewDense(len(e.Effects), n, rows)
	for q := range n {
		for k := range q + 1 {
			own := e.Own.At(q, k) - mat.Dot(e.By.ColView(q), e.By.ColView(k))
			if q == k {
				own = max(0, own)
			}
			e.Own.SetSym(q, k, own)
		}
	}
}

// eachPrior calls do for each effect of which something is known beforehand in the solution s of m: with the position of its
// parameter, its own standard deviation, and that of all effects that are fitted as that parameter. The effects of the owners
// apart have parameters of their own.
func (m *model) eachPrior(s *solution, apart owners, do func(i int, of Effect, sd, total float64)) {
	known := m.spot.known()
	m.eachEffect(func(i int, e *effect, setting int) {
		p := &s.params[i]
		if p.Fixed || p.Prior.SD == 0 {
			return
		}
		one := func(e *effect, name string) {
			if _, sd := m.knowledgeOf(e, setting, &known); sd > 0 {
				do(i, Effect{e.owner, name}, sd, p.Prior.SD)
			}
		}
		one(e, m.nameAt(i, e, setting))
		for _, with := range mergers[e.kind] {
			if m.merged(with, setting, apart) {
				one(with, with.name)
			}
		}
	})
}

// timesCovariance returns g'·cov.
func timesCovariance(g []float64, cov *mat.SymDense) []float64 {
	out := make([]float64, len(g))
	for i, gi := range g {
		if gi == 0 {
			continue // most are
		}
		for k := range out {
			out[k] += gi * cov.At(i, k)
		}
	}
	return out
}

// Errors returns what the uncertainties of quantities at a spot of the joint fit are made of. Effects of owners that
// outlive the session are as in [Verdict.Errors]. What remains of the covariance Σ of the shared parameters, their own
// noise and what the spots share inside the session, has the owner [OwnerJoint]: with e_k the unit vectors of the
// parameters of lasting owners, of prior standard deviation sd_k, and t how much a quantity moves with the shared
// parameters, the columns are t'L of
//
//	L·L' = Σ - Σ_k (Σ·e_k)·(Σ·e_k)'/sd_k²
//
// The errors are those of [Joint.Combine].
func (j *Joint) Errors(spot int, quantities ...Measurand) (*Errors, error) {
	if err := j.checkUsed(spot); err != nil {
		return nil, err
	}
	v := j.Spots[spot].Verdict
	// steps at detector joins are parameters of the session here
	out, err := v.errors(quantities, func(o Owner) bool { return o.outlives() && o != OwnerInstrument })
	if err != nil {
		return nil, err
	}
	fits := []*jointFit{j.fit}
	if j.uniform != j.fit {
		fits = append(fits, j.uniform)
	}
	n := len(quantities)
	for _, t := range fits {
		root := t.root()
		if root == nil {
			continue
		}
		by := mat.NewDense(len(t.slots), n, nil)
		for q, of := range quantities {
			_, m, err := j.sensitivity(of, spot)
			if err != nil {
				return nil, err
			}
			if m.fit == t {
				by.SetCol(q, m.by)
			}
		}
		out.addInside(root, by, t == j.fit)
	}
	return out, nil
}

// addInside adds the columns of what spots share inside a joint fit, or inside that of the equivalent uniform films.
func (e *Errors) addInside(root, by *mat.Dense, physical bool) {
	var columns mat.Dense
	columns.Mul(root.T(), by)
	rows, _ := columns.Dims()
	inside := &Errors{Own: e.Own}
	for r := range rows {
		name := fmt.Sprintf("uniform %d", r+1)
		if physical {
			name = fmt.Sprintf("%d", r+1)
		}
		inside.Effects = append(inside.Effects, Effect{OwnerJoint, name})
	}
	inside.add(columns.RawMatrix().Data)
	e.Effects = append(e.Effects, inside.Effects...)
	if e.By == nil {
		e.By = inside.By
		return
	}
	var stacked mat.Dense
	stacked.Stack(e.By, inside.By)
	e.By = &stacked
}

// root returns L of [Joint.Errors]; nil if nothing is shared inside.
func (t *jointFit) root() *mat.Dense {
	n := len(t.slots)
	if t.inside != nil || n == 0 {
		return t.inside
	}
	covariance, rest := mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			covariance.SetSym(i, k, t.inflation*t.inverse.At(i, k))
		}
	}
	rest.CopySym(covariance)
	for k, s := range t.slots {
		sd := t.params[k].Prior.SD
		if s.ofSession || sd == 0 {
			continue
		}
		column := mat.NewVecDense(n, nil)
		for i := range n {
			column.SetVec(i, covariance.At(i, k))
		}
		rest.SymRankOne(rest, -1/sd/sd, column)
	}
	t.inside = halfOf(rest)
	return t.inside
}
