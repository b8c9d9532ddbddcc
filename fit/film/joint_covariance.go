package film

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// covariance fills inverse, inflation and the solution of every part, but for its covariance. Parameters on a
// bound count as free, as in the fit of a single spot. If the data determine a parameter only more widely than
// its bounds, the bounds count as further knowledge.
func (t *jointFit) covariance(r *fit.Result) error {
	t.x, t.atBound = r.X, r.AtBound
	t.eachPart(t.parts, func(p *part, _ int) {
		p.solution = p.makeSolution()
		p.arrow.eliminate(p.fillArrow(nil, 1))
	})
	if t.ctx.Err() != nil {
		return t.ctx.Err()
	}
	t.dof = r.DegreesOfFreedom() // of the shared parameters only, so far
	points, effective := 0.0, 0.0
	for _, p := range t.parts {
		t.dof -= len(p.local)
		points += float64(p.m.points)
		effective += p.solution.effectiveShare * float64(p.m.points)
	}
	if t.dof < 1 {
		return &InputError{"joint fit", "its points do not determine all parameters",
			"give more curves or points, or fix parameters"}
	}
	t.inflation = max(1, r.Cost/float64(t.dof)/(effective/points))
	if t.inflation > 1 { // of the noise, not of what is known beforehand
		t.eachPart(t.parts, func(p *part, _ int) { p.arrow.eliminate(p.fillArrow(nil, t.inflation)) })
	}

	none, wide := make([]float64, len(t.params)), uniformSDs(t.params)
	ok := t.invert(none)
	box := none
	if !ok || exceedsBounds(t.inverse, wide, t.inflation) {
		box = wide
	}
	for _, p := range t.parts {
		own := uniformSDs(p.sharedFixed)
		if p.arrow.undetermined || ok && exceedsBounds(p.covariance(t, 1), own, t.inflation) {
			p.arrow.eliminate(p.fillArrow(own, t.inflation))
		}
	}
	if !t.invert(box) {
		return &InputError{"joint fit", "the curves do not determine what the spots share",
			"state what is known of the session, or add a blank"}
	}
	return nil
}

// invert fills inverse from the parts, the knowledge from other fits, the priors and box, whose variances are
// divided by inflation. ok is false if there is no inverse.
func (t *jointFit) invert(box []float64) (ok bool) {
	t.inverse, ok = t.inverseWithout(box, nil)
	return ok
}

// inverseWithout returns the inverse of the normal matrix of the shared parameters without the part except, over the
// inflation, which counts for the residuals only; false if there is none.
func (t *jointFit) inverseWithout(box []float64, except *part) (*mat.SymDense, bool) {
	n := len(t.params)
	jj, jr := make([]float64, n*n), make([]float64, n)
	for _, p := range t.parts {
		if p != except {
			p.arrow.complement(jj, jr, p.at)
		}
	}
	t.addKnown(jj, jr)
	scale := make([]float64, n)
	for i, p := range t.params {
		switch {
		case p.Fixed:
			jj[i*n+i] = math.Inf(1)
		case p.Prior.SD > 0:
			jj[i*n+i] += t.inflation / p.Prior.SD / p.Prior.SD
		case box[i] > 0:
			jj[i*n+i] += t.inflation / box[i] / box[i]
		}
		scale[i] = math.Sqrt(jj[i*n+i])
	}
	scaled := mat.NewSymDense(n, nil)
	for i := range n {
		scaled.SetSym(i, i, 1)
		for j := i + 1; j < n; j++ {
			if v := jj[i*n+j]; v != 0 {
				scaled.SetSym(i, j, v/scale[i]/scale[j])
			}
		}
	}
	var c mat.Cholesky
	inverse := mat.NewSymDense(n, nil)
	if slices.Contains(scale, 0) || !c.Factorize(scaled) || c.InverseTo(inverse) != nil {
		return nil, false
	}
	for i := range n {
		for j := i; j < n; j++ {
			inverse.SetSym(i, j, inverse.At(i, j)/scale[i]/scale[j])
		}
	}
	return inverse, true
}

// addKnown adds what is known from other fits to the normal equations at the solution, times the inflation.
func (t *jointFit) addKnown(jj, jr []float64) {
	if len(t.known) == 0 {
		return
	}
	n := len(jr)
	more, right := make([]float64, n*n), make([]float64, n)
	for _, k := range t.known {
		k.add(more, right, t.x)
	}
	floats.AddScaled(jj, t.inflation, more)
	floats.AddScaled(jr, t.inflation, right)
}

// priorsFromOthers returns, for each shared parameter of the part, the prior that everything else makes for
// it; none where everything else knows no more than its bounds.
func (t *jointFit) priorsFromOthers(p *part) []fit.Prior {
	priors, box, n := make([]fit.Prior, len(p.shared)), uniformSDs(t.params), len(t.params)
	inverse, ok := t.inverseWithout(box, p)
	if !ok {
		return priors
	}
	// At the solution the gradients of the part and of all else add to 0.
	jj, shift := make([]float64, n*n), mat.NewVecDense(n, nil)
	p.arrow.complement(jj, shift.RawVector().Data, p.at)
	shift.MulVec(inverse, shift)
	for a, i := range p.at {
		sd := math.Sqrt(inverse.At(i, i))
		if box[i] == 0 || sd*math.Sqrt(t.inflation) < negligibleGain*box[i] {
			priors[a] = fit.Prior{Mean: t.x[i] + shift.AtVec(i), SD: sd}
		}
	}
	return priors
}

// negligibleGain is the share of the standard deviation by the bounds of a parameter above which an uncertainty
// counts as no knowledge.
const negligibleGain = 0.9

// makeSolution returns the solution of the part as the fit of a single spot gives it, without its covariance.
// Its cost does not include the priors of shared parameters.
func (p *part) makeSolution() *solution {
	for _, i := range p.shared {
		p.atBound[i] = p.x[i] <= p.params[i].Lower || p.x[i] >= p.params[i].Upper
	}
	return &solution{params: p.params, x: slices.Clone(p.x), cost: p.cost,
		chi2: p.cost / max(1, float64(p.m.points-len(p.local))), givenChi2: p.cost * p.m.noiseFactor / max(1,
			float64(p.m.points-len(p.local))),
		converged: p.converged, atBound: p.atBound, rms: p.m.rms(&fit.Result{X: p.x, DataCost: p.cost}),
		effectiveShare: p.m.effectiveShare()}
}

// covariance returns that of all parameters of the part, times inflation.
func (p *part) covariance(t *jointFit, inflation float64) *mat.SymDense {
	l, n := len(p.local), len(p.shared)
	cov := mat.NewSymDense(p.m.size(), nil)
	set := func(i, j int, v float64) { cov.SetSym(i, j, inflation*v) }
	for a, i := range p.shared {
		for b := a; b < n; b++ {
			set(i, p.shared[b], t.inverse.At(p.at[a], p.at[b]))
		}
	}
	with := make([]float64, l*n) // covariance of own with shared ones: minus slope times that of the latter
	for k := range l {
		for a := range n {
			for b, s := range p.arrow.slope(k) {
				with[k*n+a] -= s * t.inverse.At(p.at[b], p.at[a])
			}
			set(p.local[k], p.shared[a], with[k*n+a])
		}
	}
	own := p.arrow.inverse()
	for k := range l {
		for m := k; m < l; m++ {
			v := own[k*l+m]
			for a, s := range p.arrow.slope(m) {
				v -= with[k*n+a] * s
			}
			set(p.local[k], p.local[m], v)
		}
	}
	return cov
}

// result returns the joint fit of t, whose structures are free, and of uniform, of the equivalent uniform films, which is t
// where no film has a structure.
func (t *jointFit) result(r *fit.Result, uniform *jointFit) (*Joint, error) {
	j := &Joint{Spots: make([]JointSpot, len(t.all)), Cost: r.Cost, ReducedChi2: r.Cost / float64(t.dof),
		Converged: t.converged && uniform.converged, fit: t, uniform: uniform}
	for _, p := range t.parts {
		j.Points += p.m.points
		j.ReducedChi2 += p.cost * (p.m.noiseFactor - 1) / float64(t.dof) // by the noise as it was given
	}
	for i, s := range t.slots {
		prior := t.params[i].Prior.SD
		if prior == 0 {
			prior = math.Inf(1)
		}
		j.Shared = append(j.Shared, Shared{Key: s.Key, Unit: s.unit, Value: t.x[i],
			U: math.Sqrt(t.inflation * t.inverse.At(i, i)), PriorU: prior, AtBound: t.atBound[i]})
	}
	if len(j.Shared) > 0 {
		j.Covariance = mat.NewSymDense(len(j.Shared), nil)
		j.Covariance.ScaleSym(t.inflation, t.inverse)
	}
	verdicts, errs := make([]*Verdict, len(t.all)), make([]error, len(t.all))
	t.eachPart(t.parts, func(p *part, _ int) {
		p.finish(t)
		if other := uniform.all[p.number]; other != p {
			other.finish(uniform)
		}
		verdicts[p.number], errs[p.number] = p.verdict(uniform, j.Converged)
	})
	if t.ctx.Err() != nil {
		return nil, t.ctx.Err()
	}
	for i, p := range t.all {
		j.Spots[i] = JointSpot{Verdict: p.own, Err: p.err}
		if errs[i] != nil {
			return nil, fmt.Errorf("could not find how uncertain %s is: %w", p.member.Name, errs[i])
		}
		if p.err == nil {
			j.Spots[i].Verdict = verdicts[i]
		}
	}
	return j, nil
}

// finish completes the solution of the part with its covariance.
func (p *part) finish(t *jointFit) {
	p.solution.cov = p.covariance(t, t.inflation)
	p.solution.converged = t.converged
}

// verdict returns the verdict of the part by the joint fit. Whether there is a film, and what one that was not found may be,
// are as in the fit of the spot by itself.
func (p *part) verdict(uniform *jointFit, converged bool) (*Verdict, error) {
	other := uniform.all[p.number]
	p.solution.result, other.solution.result = p.ownSolution().result, other.ownSolution().result // for what is asked of the spot by itself
	v := &Verdict{Model: p.own.Model, Rungs: p.own.Rungs, LikelihoodRatio: p.own.LikelihoodRatio,
		model: p.m, chosen: p.solution, allowedFilm: p.own.allowedFilm, apart: jointlyApart, called: p.own.called, join: p.own.join}
	if p.own.structured != nil {
		v.structured, v.full = p.m, p.solution
		v.model, v.chosen = other.m, other.solution
	}
	v.fillEquivalent()
	if v.Model != ModelBare && v.allowedFilm == nil && len(v.notSeparable()) > 0 {
		var err error
		if v.equalFilms, err = other.equalFilms(uniform); err != nil {
			return nil, err
		}
		v.fillEquivalent()
	}
	v.fillPhysical()
	v.fillQuality()
	v.Converged = converged
	v.setFlags()
	return v, nil
}

// equalFilms returns the vectors of other films that explain the curves as well, with the shared parameters as
// well known as by the other spots and the priors.
func (p *part) equalFilms(t *jointFit) ([][]float64, error) {
	params := slices.Clone(p.params)
	for a, prior := range t.priorsFromOthers(p) {
		params[p.shared[a]].Prior = prior
	}
	coarse := p.m.coarse
	reference, err := coarse.solve(t.ctx, params, p.x)
	if err != nil {
		return nil, err
	}
	found, err := coarse.profileFilms(t.ctx, params, reference)
	if err != nil {
		return nil, err
	}
	lowest := reference.cost
	for _, s := range found {
		lowest = min(lowest, s.cost)
	}
	var equal [][]float64
	for _, s := range found {
		if s.cost <= lowest+equalRise*t.inflation {
			equal = append(equal, s.x)
		}
	}
	return equal, nil
}
