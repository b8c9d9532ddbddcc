package mixed

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Fit is a model fitted.
type Fit struct {
	Coefficients []float64         // p
	Cov          *mat.SymDense     // of the coefficients, p x p
	Terms        [][]*mat.SymDense // covariances of the effects of the groups, by term and kind; of a unit term, the unit matrix
	Residuals    []float64         // variances of e beyond the own errors, by kind; none with NoResidual
	Deviance     float64           // -2 log of the restricted likelihood
	Effects      [][][]float64     // predictions of the effects, by term, group and column

	curve *mat.SymDense                     // inverse of half the curvature of the deviance by the parameters: their covariance
	slope func(weights []float64) []float64 // derivatives of the variance of a sum of coefficients by the parameters
}

// Contrast is an estimate of a sum of coefficients, with the degrees of freedom of its t; infinite if no variance was
// estimated.
type Contrast struct{ Estimate, SE, DoF float64 }

// maxTurns bounds the turns of Newton's method, which makes the digits of a minimum that descent has found.
const maxTurns = 30

// Fit fits the model. A fault in it, coefficients that the columns of X do not determine, and data that the coefficients
// explain exactly give a [*ProblemError]; a cancelled context its cause.
func (m *Model) Fit(ctx context.Context) (*Fit, error) {
	if err := m.check(); err != nil {
		return nil, err
	}
	p, err := newProblem(m)
	if err != nil {
		return nil, err
	}
	theta, err := p.descendThin(ctx)
	if err != nil {
		return nil, err
	}
	free, err := p.settle(theta)
	if err != nil {
		return nil, err
	}
	hessian, curved, err := p.polish(ctx, theta, free)
	if err != nil {
		return nil, err
	}
	return p.result(theta, free, hessian, curved)
}

// ErrExact is the [*ProblemError] of data that leave no variance to the observations.
var ErrExact = faultf("the data are explained exactly, or no variance is left for the observations")

// start returns the parameters that descent starts from.
func (p *problem) start() []float64 {
	theta := make([]float64, len(p.params))
	for k, m := range p.params {
		if m.a == m.b {
			theta[k] = 0.5
		}
	}
	return theta
}

// Descent ends with a step that is to lower the deviance by less than gain, which is far below what matters: a parameter that is
// off by its standard error costs 1. It ends after mostTurns too.
//
// A diagonal factor that is not near 0 falls in one turn to no less than mostFall of itself: while others are far from where
// they belong it may fall too far, and from near 0 it takes many turns to come back.
//
// While steps are to lower the deviance by more than scoring, they take the second derivatives that are expected (Fisher's
// scoring): by them a variance that is alone comes to where it belongs in one turn, from however far; by their average it
// can only double. They take longer to make.
const (
	scoring   = 1
	mostFall  = 0.1
	gain      = 1e-9
	roughGain = 1e-3
	mostTurns = 200
)

// Of a problem with more leaves than manyLeaves, descent begins with a share of them, but with fewLeaves of each kind.
const (
	manyLeaves = 2000
	share      = 8
	fewLeaves  = 40
)

// thin returns the problem with a share of its leaves, and how many it has.
func (p *problem) thin() (few *problem, leaves int) {
	kind := func(b *block) string { return fmt.Sprint(b.kind, b.params) }
	of := map[string]int{}
	for k := range p.blocks {
		of[kind(&p.blocks[k])] += len(p.blocks[k].leaves)
	}
	q := *p
	q.blocks = nil
	for k := range p.blocks {
		b := &p.blocks[k]
		each := min(share, max(1, of[kind(b)]/fewLeaves))
		some := block{params: b.params, kind: b.kind, crown: b.crown}
		for k := 0; k < len(b.leaves); k += each {
			some.leaves = append(some.leaves, b.leaves[k])
		}
		q.blocks, leaves = append(q.blocks, some), leaves+len(some.leaves)
	}
	return &q, leaves
}

// descendThin finds the minimum of the deviance, of a large problem first roughly with a share of its leaves.
func (p *problem) descendThin(ctx context.Context) ([]float64, error) {
	theta := p.start()
	if few, leaves := p.thin(); len(p.leaves) > manyLeaves && leaves < len(p.leaves)/2 {
		rough, err := few.descend(ctx, theta, roughGain)
		switch {
		case ctx.Err() != nil:
			return nil, context.Cause(ctx)
		case err == nil: // else they have not all coefficients
			theta = rough
			least := min(10*nearZero, math.Sqrt(p.error(theta))) // from 0 no slope leads away, from less it takes many turns
			for k, m := range p.params {
				if m.a == m.b {
					theta[k] = max(math.Abs(theta[k]), least)
				}
			}
		}
	}
	return p.descend(ctx, theta, gain)
}

// descend finds the minimum of the deviance, to less than enough. Its steps are those to the minimum of a parabola that has the
// second derivatives that are expected, and nearer by the average of them, damped until the deviance falls.
func (p *problem) descend(ctx context.Context, theta []float64, enough float64) ([]float64, error) {
	here, ok := p.newEquations(theta)
	if !ok {
		return nil, ErrExact
	}
	defer func() { here.leave() }()
	damping, predicted := 1e-3, math.Inf(1)
	for turn := 0; turn < mostTurns && len(theta) > 0; turn++ {
		scored := predicted > scoring
		s, err := here.slopes(scored)
		if err != nil {
			return nil, err
		}
		curvature := s.average
		if scored {
			curvature = s.expected
		}
		grad, hessian := s.gradient(p.byTheta(theta)), p.hessian(theta, s, curvature, true)
		for {
			if err := context.Cause(ctx); err != nil {
				return nil, err
			}
			step := dampedStep(hessian, grad, damping)
			predicted = -floats.Dot(step, grad)
			next := slices.Clone(theta)
			for i, m := range p.params {
				next[i] += step[i]
				if m.a == m.b && math.Abs(theta[i]) > nearZero && next[i]/theta[i] < mostFall {
					next[i] = mostFall * theta[i]
				}
			}
			there, ok := p.newEquations(next)
			if ok && there.deviance <= here.deviance {
				here.leave()
				theta, here = next, there
				damping = max(damping/5, 1e-9)
				if p.isExact(theta) {
					return nil, ErrExact
				}
				if predicted < enough {
					return theta, nil
				}
				break
			}
			if ok {
				there.leave()
			}
			if damping *= 6; damping > 1e9 || predicted < gain {
				return theta, nil // no step goes down: this is as near as rounding lets it
			}
		}
	}
	return theta, nil
}

// leastVariance is the variance of e, in the square of the scatter of the observations, below which they are explained exactly.
const leastVariance = 1e-14

// error returns the mean variance of e.
func (p *problem) error(theta []float64) (mean float64) {
	for i, known := range p.known {
		mean += (p.sigma(theta, p.kindOf(i)) + known) / float64(len(p.known))
	}
	return mean
}

func (p *problem) isExact(theta []float64) bool {
	for i, known := range p.known {
		if p.sigma(theta, p.kindOf(i))+known < leastVariance {
			return true
		}
	}
	return false
}

// dampedStep returns the step to the minimum of a parabola of which the second derivatives are positive, with their diagonal
// made larger.
func dampedStep(hessian *mat.SymDense, grad []float64, damping float64) []float64 {
	n := len(grad)
	damped := mat.NewSymDense(n, nil)
	damped.CopySym(hessian)
	most := 0.0
	for i := range n {
		most = max(most, hessian.At(i, i))
	}
	for i := range n {
		damped.SetSym(i, i, hessian.At(i, i)*(1+damping)+1e-12*most)
	}
	var c mat.Cholesky
	step := mat.NewVecDense(n, nil)
	if !c.Factorize(damped) || c.SolveVecTo(step, mat.NewVecDense(n, grad)) != nil && c.Cond() > 1e18 {
		for i := range n {
			step.SetVec(i, grad[i]/max(damped.At(i, i), 1e-300))
		}
	}
	step.ScaleVec(-1, step)
	return step.RawVector().Data
}

// nearZero is the factor of a covariance, in the unit of the scatter of the observations, below which it may be 0.
const nearZero = 1e-3

// settle sets the diagonal factors to 0 that are there as far as the slopes say, and returns which parameters are free.
func (p *problem) settle(theta []float64) ([]bool, error) {
	free := make([]bool, len(p.params))
	zero := slices.Clone(theta)
	small := false
	for k, m := range p.params {
		free[k] = true
		if m.cov >= 0 && m.a == m.b && math.Abs(theta[k]) < nearZero {
			zero[k], free[k], small = 0, false, true
		}
	}
	if small {
		q, ok := p.newEquations(zero)
		if !ok {
			return nil, ErrExact
		}
		s, err := q.slopes(false)
		q.leave()
		if err != nil {
			return nil, err
		}
		for k := range theta {
			free[k] = free[k] || s.first[k] < 0 // the deviance falls with the variance
		}
	}
	for k, m := range p.params {
		if !free[k] {
			theta[k] = 0
		}
		if m.cov >= 0 && p.covs[m.cov].width == 1 {
			theta[k] = math.Abs(theta[k])
		}
	}
	return free, nil
}

// polish makes the digits of a minimum by Newton's method over the free parameters, and returns the second derivatives of
// the deviance there, with the slopes they are from. They are computed anew only after a step on which they change.
func (p *problem) polish(ctx context.Context, theta []float64, free []bool) (*mat.SymDense, *slopes, error) {
	var hessian *mat.SymDense
	var curved *slopes
	gained := math.Inf(1)
	for turn := 0; ; turn++ {
		if err := context.Cause(ctx); err != nil {
			return nil, nil, err
		}
		here, ok := p.newEquations(theta)
		if !ok {
			return nil, nil, ErrExact
		}
		s, err := here.slopes(gained > bends)
		here.leave()
		if err != nil {
			return nil, nil, err
		}
		if s.second != nil {
			curved, hessian, gained = s, p.hessian(theta, s, s.second, false), 0
		}
		grad := s.gradient(p.byTheta(theta))
		step := newtonStep(hessian, grad, free)
		predicted := -floats.Dot(step, grad)
		if turn == maxTurns || predicted < digits || !p.move(theta, step, here.deviance) {
			return hessian, curved, nil
		}
		gained += predicted
	}
}

// Polishing ends with a step that is to lower the deviance by less than digits; after one that was to lower it by more than
// bends, second derivatives are another.
const (
	digits = 1e-15
	bends  = 1e-8
)

// move goes along step, or a part of it that lowers the deviance; it reports whether it went.
func (p *problem) move(theta, step []float64, deviance float64) bool {
	next := make([]float64, len(theta))
	for part := 1.0; part > 1e-4; part /= 2 {
		for i := range next {
			next[i] = theta[i] + part*step[i]
		}
		q, ok := p.newEquations(next)
		if ok {
			q.leave()
		}
		if ok && q.deviance <= deviance+1e-12*math.Abs(deviance) {
			copy(theta, next)
			return true
		}
	}
	return false
}

// flat is the curvature, as a share of the largest, below which a direction is not determined.
const flat = 1e-9

// newtonStep returns the step to the minimum of the parabola, along the directions that curve upwards.
func newtonStep(hessian *mat.SymDense, grad []float64, free []bool) []float64 {
	step := make([]float64, len(grad))
	directions(hessian, free, len(grad), func(value float64, v []float64) {
		slope := 0.0
		for i, x := range v {
			slope += x * grad[i]
		}
		for i, x := range v {
			step[i] -= x * slope / value
		}
	})
	return step
}

// directions hands the eigenvalues of a Hessian that are well above 0, and their vectors, to do.
func directions(hessian *mat.SymDense, free []bool, n int, do func(value float64, v []float64)) {
	if n == 0 {
		return
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(hessian, true) {
		return
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	most := values[len(values)-1]
	for k, value := range values {
		if value <= flat*most || value <= 0 {
			continue
		}
		v := mat.Col(nil, k, &vectors)
		for i := range v {
			if !free[i] {
				v[i] = 0
			}
		}
		do(value, v)
	}
}

// result makes the fit at theta, with the second derivatives there and the slopes that they are from.
func (p *problem) result(theta []float64, free []bool, hessian *mat.SymDense, curved *slopes) (*Fit, error) {
	q, ok := p.newEquations(theta)
	if !ok {
		return nil, ErrExact
	}
	inverse, err := q.inverse()
	if err != nil {
		return nil, err
	}
	crown := q.solve()
	q.fromFactors(q.members, crown, 1)
	n := float64(len(p.y) - p.x.columns)
	f := &Fit{Cov: p.inUnits(func(a, b int) float64 { return inverse.At(p.layout.crown+a, p.layout.crown+b) }),
		Deviance: q.deviance + n*(math.Log(2*math.Pi)+2*math.Log(p.yUnit)), Effects: q.predictions(crown)}
	for k := range p.residuals {
		f.Residuals = append(f.Residuals, p.sigma(theta, k)*p.yUnit*p.yUnit)
	}
	for c := range p.x.columns { // |XᵀV⁻¹X| is that of the columns as they were given
		f.Coefficients = append(f.Coefficients, (crown[p.layout.crown+c]*p.yUnit+p.base[c])/p.xUnits[c])
		f.Deviance += 2 * math.Log(p.xUnits[c])
	}
	for k := range p.terms {
		var kinds []*mat.SymDense
		for _, cov := range p.covOf[k] {
			kinds = append(kinds, p.covarianceOf(k, q.factors[cov]))
		}
		f.Terms = append(f.Terms, kinds)
	}
	f.curve = mat.NewSymDense(max(1, len(p.params)), nil)
	directions(hessian, free, len(p.params), func(value float64, v []float64) {
		f.curve.SymRankOne(f.curve, 2/value, mat.NewVecDense(len(v), v))
	})
	f.slope = p.slopesOfCov(theta, curved)
	return f, nil
}

// slopesOfCov returns what returns the derivatives by theta of the variance of a sum of coefficients, in the units of the
// model.
func (p *problem) slopesOfCov(theta []float64, s *slopes) func(weights []float64) []float64 {
	j := p.byTheta(theta)
	return func(weights []float64) []float64 {
		own := make([]float64, len(weights))
		for c, w := range weights {
			own[c] = w * p.yUnit / p.xUnits[c]
		}
		by := mat.NewVecDense(max(1, len(theta)), nil)
		if len(theta) > 0 {
			by.MulVec(j.T(), mat.NewVecDense(len(theta), s.cov.of(own)))
		}
		return by.RawVector().Data[:len(theta)]
	}
}

// inUnits returns a matrix of the coefficients in the units of the model.
func (p *problem) inUnits(of func(a, b int) float64) *mat.SymDense {
	n := p.x.columns
	to := mat.NewSymDense(n, nil)
	for a := range n {
		for b := range a + 1 {
			to.SetSym(a, b, of(a, b)*p.yUnit*p.yUnit/(p.xUnits[a]*p.xUnits[b]))
		}
	}
	return to
}

// covarianceOf returns the covariance of the effects of a term in the units of the model.
func (p *problem) covarianceOf(term int, factor []float64) *mat.SymDense {
	r := p.terms[term].width()
	cov := mat.NewSymDense(r, nil)
	for a := range r {
		for b := range a + 1 {
			sum := 0.0
			for c := range r {
				sum += factor[a*r+c] * factor[b*r+c]
			}
			unit := p.yUnit * p.yUnit / (p.zUnits[term][a] * p.zUnits[term][b])
			cov.SetSym(a, b, sum*unit)
		}
	}
	return cov
}

// predictions returns the effects of all groups in the units of the model. crown are those of the crown as they are.
func (q *equations) predictions(crown []float64) [][][]float64 {
	leaves := make([][]float64, len(q.leaves))
	for k := range q.blocks {
		for _, leaf := range q.blocks[k].leaves {
			leaves[leaf] = q.effects(leaf, &q.blocks[k], crown)
			q.fromFactors(q.leaves[leaf].members, leaves[leaf], 1)
		}
	}
	out := make([][][]float64, len(q.terms))
	for t := range q.terms {
		r := q.terms[t].width()
		for _, p := range q.places[t] {
			effects := make([]float64, r)
			for a := range r {
				switch {
				case p.at < 0:
				case p.leaf >= 0:
					effects[a] = leaves[p.leaf][p.at+a] * q.yUnit / q.zUnits[t][a]
				default:
					effects[a] = crown[p.at+a] * q.yUnit / q.zUnits[t][a]
				}
			}
			out[t] = append(out[t], effects)
		}
	}
	return out
}

// Contrast returns the estimate of a sum of coefficients with these weights, p.
func (f *Fit) Contrast(weights []float64) Contrast {
	w := mat.NewVecDense(len(weights), weights)
	c := Contrast{Estimate: mat.Dot(w, mat.NewVecDense(len(weights), f.Coefficients)), DoF: math.Inf(1)}
	variance := mat.Inner(w, f.Cov, w)
	c.SE = math.Sqrt(variance)
	if slopes := f.slope(weights); len(slopes) > 0 {
		s := mat.NewVecDense(len(slopes), slopes)
		if v := mat.Inner(s, f.curve, s); v > 0 {
			c.DoF = 2 * variance * variance / v
		}
	}
	return c
}
