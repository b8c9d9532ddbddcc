package mixed

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Fit is a model fitted.
type Fit struct {
	Coefficients []float64         // p
	Cov          *mat.SymDense     // of the coefficients, p x p
	Terms        [][]*mat.SymDense // covariances of the effects of the groups, by term and kind; of a unit term, the unit matrix
	Residual     float64           // variance of e beyond the own errors
	Deviance     float64           // -2 log of the restricted likelihood
	Effects      [][][]float64     // predictions of the effects, by term, group and column

	curve *mat.SymDense   // inverse of half the curvature of the deviance by the parameters: their covariance
	slope []*mat.SymDense // derivatives of Cov by the parameters
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
	p := newProblem(m)
	if err := p.checkRank(); err != nil {
		return nil, err
	}
	theta, err := p.descend(ctx)
	if err != nil {
		return nil, err
	}
	free := p.settle(theta)
	hessian, err := p.polish(ctx, theta, free)
	if err != nil {
		return nil, err
	}
	return p.result(ctx, theta, free, hessian)
}

// ErrExact is the [*ProblemError] of data that leave no variance to the observations.
var ErrExact = faultf("the data are explained exactly, or no variance is left for the observations")

// checkRank refuses columns of X that depend on each other.
func (p *problem) checkRank() error {
	n := len(p.x)
	gram := mat.NewSymDense(n, nil)
	for a, x := range p.x {
		for b := range a + 1 {
			sum := 0.0
			for i, v := range x {
				sum += v * p.x[b][i]
			}
			gram.SetSym(a, b, sum)
		}
	}
	for a := range n {
		if gram.At(a, a) == 0 {
			return faultf("coefficient %d has no observation", a)
		}
	}
	var c mat.Cholesky
	if !c.Factorize(gram) || c.Cond() > 1e13 {
		return faultf("the columns of X depend on each other, so that the coefficients are not determined")
	}
	return nil
}

// start returns the parameters that descent starts from.
func (p *problem) start() []float64 {
	theta := make([]float64, p.count)
	for k := range p.covs {
		at := p.covs[k].first
		for a := range p.covs[k].width {
			for b := range a + 1 {
				if at >= 0 && a == b {
					theta[at] = 0.5
				}
				if at >= 0 {
					at++
				}
			}
		}
	}
	if p.residual {
		theta[p.count-1] = 0.5
	}
	return theta
}

// descend finds the minimum of the deviance to about six digits.
func (p *problem) descend(ctx context.Context) ([]float64, error) {
	theta := p.start()
	if _, ok := p.newEquations(theta); !ok {
		return nil, ErrExact
	}
	if p.count == 0 {
		return theta, nil
	}
	var last *equations // the gradient is asked for where the deviance was
	var lastAt []float64
	at := func(x []float64) *equations {
		if slices.Equal(x, lastAt) {
			return last
		}
		q, ok := p.newEquations(x)
		if !ok || ctx.Err() != nil {
			q = nil
		}
		last, lastAt = q, slices.Clone(x)
		return q
	}
	problem := optimize.Problem{
		Func: func(x []float64) float64 {
			if q := at(x); q != nil {
				return q.deviance
			}
			return math.Inf(1)
		},
		Grad: func(grad, x []float64) {
			q := at(x)
			if q != nil {
				if g, err := q.gradient(x); err == nil {
					copy(grad, g)
					return
				}
			}
			for i := range grad {
				grad[i] = math.NaN()
			}
		},
	}
	settings := &optimize.Settings{GradientThreshold: 1e-5, MajorIterations: 500, Converger: optimize.NeverTerminate{}}
	result, err := optimize.Minimize(problem, theta, settings, &optimize.BFGS{})
	if ctx.Err() != nil {
		return nil, context.Cause(ctx)
	}
	if result == nil {
		return nil, err
	}
	return result.X, nil // where a search along a line could not do better, polish will
}

// nearZero is the factor of a covariance, in the unit of the scatter of the observations, below which it may be 0.
const nearZero = 1e-3

// settle sets the diagonal factors to 0 that are there as far as the deviance says, and returns which parameters are free.
func (p *problem) settle(theta []float64) []bool {
	free := make([]bool, p.count)
	for i := range free {
		free[i] = true
	}
	for k := range p.covs {
		at := p.covs[k].first
		if at < 0 {
			continue
		}
		for a := range p.covs[k].width {
			at += a
			if math.Abs(theta[at]) < nearZero && p.isZero(theta, at) {
				theta[at], free[at] = 0, false
			}
			theta[at] = math.Abs(theta[at])
			at++
		}
	}
	return free
}

// isZero reports whether the deviance is no larger with parameter at at 0.
func (p *problem) isZero(theta []float64, at int) bool {
	here, ok := p.newEquations(theta)
	zero := slices.Clone(theta)
	zero[at] = 0
	there, ok2 := p.newEquations(zero)
	return ok && ok2 && there.deviance <= here.deviance+1e-9*math.Abs(here.deviance)
}

// polish makes the digits of a minimum by Newton's method over the free parameters, and returns the second derivatives of
// the deviance there. They are computed anew only after a step on which they change.
func (p *problem) polish(ctx context.Context, theta []float64, free []bool) (*mat.SymDense, error) {
	var hessian *mat.SymDense
	moved := math.Inf(1)
	for range maxTurns {
		if err := context.Cause(ctx); err != nil {
			return nil, err
		}
		here, ok := p.newEquations(theta)
		if !ok {
			return nil, ErrExact
		}
		grad, err := here.gradient(theta)
		if err != nil {
			return nil, err
		}
		if moved > 1e-5 {
			if hessian, err = p.curvature(theta, free); err != nil {
				return nil, err
			}
			moved = 0
		}
		step := newtonStep(hessian, grad, free)
		if largest(step) < 1e-9 || !p.move(theta, step, here.deviance) {
			return hessian, nil
		}
		moved += largest(step)
	}
	return p.curvature(theta, free)
}

// move goes along step, or a part of it that lowers the deviance; it reports whether it went.
func (p *problem) move(theta, step []float64, deviance float64) bool {
	next := make([]float64, len(theta))
	for part := 1.0; part > 1e-4; part /= 2 {
		for i := range next {
			next[i] = theta[i] + part*step[i]
		}
		if q, ok := p.newEquations(next); ok && q.deviance <= deviance+1e-12*math.Abs(deviance) {
			copy(theta, next)
			return true
		}
	}
	return false
}

func largest(v []float64) (most float64) {
	for _, x := range v {
		most = max(most, math.Abs(x))
	}
	return most
}

// curvature returns the second derivatives of the deviance by central differences of its gradient; those of parameters that
// are not free are 0.
func (p *problem) curvature(theta []float64, free []bool) (*mat.SymDense, error) {
	const h = 1e-4
	rows := make([][]float64, p.count)
	at := slices.Clone(theta)
	for i := range theta {
		if !free[i] {
			continue
		}
		var side [2][]float64
		for s, sign := range []float64{1, -1} {
			at[i] = theta[i] + sign*h
			q, ok := p.newEquations(at)
			if !ok {
				return nil, ErrExact
			}
			g, err := q.gradient(at)
			if err != nil {
				return nil, err
			}
			side[s] = g
		}
		at[i] = theta[i]
		rows[i] = make([]float64, p.count)
		for j := range theta {
			rows[i][j] = (side[0][j] - side[1][j]) / (2 * h)
		}
	}
	hessian := mat.NewSymDense(max(1, p.count), nil)
	for i := range theta {
		for j := range i + 1 {
			if free[i] && free[j] {
				hessian.SetSym(i, j, (rows[i][j]+rows[j][i])/2)
			}
		}
	}
	return hessian, nil
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

// result makes the fit at theta.
func (p *problem) result(ctx context.Context, theta []float64, free []bool, hessian *mat.SymDense) (*Fit, error) {
	q, ok := p.newEquations(theta)
	if !ok {
		return nil, ErrExact
	}
	cov, err := q.covariance()
	if err != nil {
		return nil, err
	}
	crown := q.solve()
	n := float64(len(p.y) - len(p.x))
	f := &Fit{Cov: cov, Deviance: q.deviance + n*(math.Log(2*math.Pi)+2*math.Log(p.yUnit)), Effects: q.predictions(crown)}
	for c := range p.x { // |XᵀV⁻¹X| is that of the columns as they were given
		f.Coefficients = append(f.Coefficients, crown[p.layout.crown+c]*p.yUnit/p.xUnits[c])
		f.Deviance += 2 * math.Log(p.xUnits[c])
	}
	if p.residual {
		f.Residual = theta[p.count-1] * theta[p.count-1] * p.yUnit * p.yUnit
	}
	for k := range p.terms {
		var kinds []*mat.SymDense
		for _, cov := range p.covOf[k] {
			kinds = append(kinds, p.covarianceOf(k, q.factors[cov]))
		}
		f.Terms = append(f.Terms, kinds)
	}
	f.curve = mat.NewSymDense(max(1, p.count), nil)
	directions(hessian, free, p.count, func(value float64, v []float64) {
		f.curve.SymRankOne(f.curve, 2/value, mat.NewVecDense(len(v), v))
	})
	const h = 1e-4
	at := slices.Clone(theta)
	for i := range theta {
		slope := mat.NewSymDense(len(p.x), nil)
		f.slope = append(f.slope, slope)
		if !free[i] {
			continue
		}
		if err := context.Cause(ctx); err != nil {
			return nil, err
		}
		for _, sign := range []float64{1, -1} {
			at[i] = theta[i] + sign*h
			q, ok := p.newEquations(at)
			if !ok {
				return nil, ErrExact
			}
			c, err := q.covariance()
			if err != nil {
				return nil, err
			}
			c.ScaleSym(sign/(2*h), c)
			slope.AddSym(slope, c)
		}
		at[i] = theta[i]
	}
	return f, nil
}

// covariance returns that of the coefficients.
func (q *equations) covariance() (*mat.SymDense, error) {
	inverse, err := q.inverse()
	if err != nil {
		return nil, err
	}
	n := len(q.x)
	cov := mat.NewSymDense(n, nil)
	for a := range n {
		for b := range a + 1 {
			cov.SetSym(a, b, inverse.At(q.layout.crown+a, q.layout.crown+b)*q.yUnit*q.yUnit/(q.xUnits[a]*q.xUnits[b]))
		}
	}
	return cov, nil
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

// predictions returns the effects of all groups in the units of the model.
func (q *equations) predictions(crown []float64) [][][]float64 {
	leaves := make([][]float64, len(q.leaves))
	for k := range leaves {
		if q.leaves[k].from < q.leaves[k].to {
			leaves[k] = q.effects(k, crown)
		}
	}
	out := make([][][]float64, len(q.terms))
	for t := range q.terms {
		r := q.terms[t].width()
		for g, p := range q.places[t] {
			effects, factor := make([]float64, r), q.factors[q.covOf[t][q.terms[t].kind(g)]]
			for a := range r {
				for b := range a + 1 {
					switch z := crown; {
					case p.at < 0:
					case p.leaf >= 0:
						effects[a] += factor[a*r+b] * leaves[p.leaf][p.at+b]
					default:
						effects[a] += factor[a*r+b] * z[p.at+b]
					}
				}
				effects[a] *= q.yUnit / q.zUnits[t][a]
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
	slopes := make([]float64, len(f.slope))
	for i, s := range f.slope {
		slopes[i] = mat.Inner(w, s, w)
	}
	if len(slopes) > 0 {
		s := mat.NewVecDense(len(slopes), slopes)
		if v := mat.Inner(s, f.curve, s); v > 0 {
			c.DoF = 2 * variance * variance / v
		}
	}
	return c
}
