package film

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
	"wane/optics"
)

// The models a verdict can choose.
const (
	ModelBare = "bare" // no film
	ModelFilm = "film" // a film with a bare fraction
)

// PoorFit is the reduced chi-square above which the model is not adequate.
const PoorFit = 3.0

// solution is a minimum of the sum of squares.
type solution struct {
	params         []fit.Param
	x              []float64
	cost           float64 // sum of squares, priors included
	chi2           float64 // reduced
	givenChi2      float64 // the same by the noise as it was given
	converged      bool
	atBound        []bool
	cov            *mat.SymDense
	result         *fit.Result
	rms            float64 // of the residuals, a fraction
	misfit         misfit  // of the smooth part of its residuals
	effectiveShare float64 // effective share of the points, see solve_effective.go
}

// inflation returns the factor on variances and on limits of the cost. It exceeds 1 where the residuals are
// larger than the noise or correlated:
//
//	max(1, reduced chi-square / effective share of the points)
func (s *solution) inflation() float64 { return max(1, s.chi2/s.effectiveShare) }

// fit fits the uniform film and the bare glass, chooses, and fits the structure of a film.
func (m *model) fit(ctx context.Context) (*Verdict, error) {
	film, err := m.fitFilm(ctx)
	if err != nil {
		return nil, err
	}
	return m.conclude(ctx, film)
}

// conclude makes the verdict from the uniform film that fits best: it fits bare glass, chooses, and fits the structure of a
// film.
func (m *model) conclude(ctx context.Context, film *solution) (*Verdict, error) {
	var err error
	given, called := m, m.calledMisfit(film)
	if m, film, err = m.raised(ctx, film); err != nil {
		return nil, err
	}
	v, err := m.choose(ctx, film)
	if err != nil {
		return nil, err
	}
	if v.called.uniform = called; v.Model == ModelBare {
		v.called.uniform = m.calledMisfit(v.chosen)
	}
	v.called.full = v.called.uniform
	return v, v.finish(ctx, given)
}

// raised returns m and its solution s with as much noise as the residuals of s show.
func (m *model) raised(ctx context.Context, s *solution) (*model, *solution, error) {
	by := s.inflation()
	if by <= raiseNoiseAbove {
		return m, s, nil
	}
	m = m.withMoreNoise(by)
	s, err := m.solve(ctx, s.params, s.x)
	if err != nil {
		return nil, nil, err
	}
	return m, s, m.covariance(s)
}

// choose chooses between the film and the bare glass.
func (m *model) choose(ctx context.Context, film *solution) (*Verdict, error) {
	if least := m.bareCostBound(); !m.spot.Structures && (least-film.cost)/film.inflation() > beyondDoubt*likelihoodLimit &&
		m.bareBoundHolds() {
		v, err := m.verdict(ctx, film, nil)
		if err == nil {
			v.LikelihoodRatio = (least - film.cost) / film.inflation()
		}
		return v, err
	}
	bare, err := m.fitBare(ctx)
	if err != nil {
		return nil, err
	}
	return m.verdict(ctx, film, bare)
}

// raiseNoiseAbove is the inflation above which the noise of the curves is multiplied by the root of the
// inflation and the fit is made again. To multiply the covariance instead would also widen the priors, which
// no residual contradicts.
const raiseNoiseAbove = 1.05

// withMoreNoise returns a copy of m with the variance of the noise of all curves multiplied by the factor by.
func (m *model) withMoreNoise(by float64) *model {
	out := *m
	out.noiseFactor *= by
	out.constantCost /= by
	out.curves = slices.Clone(m.curves)
	for k := range out.curves {
		c := &out.curves[k]
		c.sigma *= math.Sqrt(by)
		c.weightRoot = slices.Clone(c.weightRoot)
		floats.Scale(1/math.Sqrt(by), c.weightRoot)
	}
	out.curveCosts = make([]float64, len(m.curveCosts))
	switch m.coarse {
	case m:
		out.coarse = &out
	case nil:
	default:
		out.coarse = m.coarse.withMoreNoise(by)
	}
	return &out
}

// beyondDoubt is a multiple of likelihoodLimit. If the lower bound of the likelihood ratio exceeds it, the fit
// of bare glass is skipped.
const beyondDoubt = 10

// bareCostBound returns a lower bound of the sum of squares of glass without a film: that with a free factor and a free
// zero for each curve, without priors, times 0.9, since errors of the angle and of the s share bend the curves of bare glass
// a little.
func (m *model) bareCostBound() float64 {
	cost, known := m.constantCost, m.spot.known()
	for k := range m.curves {
		c := &m.curves[k]
		var pp, py, yy, ww, wp, wy float64
		for i, r := range c.r {
			w := c.weightRoot[i]
			y, p := w*r, w*(c.share*c.nominalBare[0][i]+(1-c.share)*c.nominalBare[1][i])
			pp, py, yy, ww, wp, wy = pp+p*p, py+p*y, yy+y*y, ww+w*w, wp+w*p, wy+w*y
		}
		if ww > 0 && known.Session.UZero+known.Placement.UZero > 0 {
			pp, py, yy = pp-wp*wp/ww, py-wp*wy/ww, yy-wy*wy/ww
		}
		cost += yy
		if pp > 0 {
			cost -= py * py / pp
		}
	}
	return 0.9 * cost
}

// bareBoundHolds reports whether bareCostBound is a lower bound: the pins allow glass without a film, the far
// face is matched, the glass is smooth, no curve is of a native beam, there is no detector join, and the loss
// is that of squares.
func (m *model) bareBoundHolds() bool {
	_, bare := m.spot.Pins[Bare]
	_, thickness := m.spot.Pins[Thickness]
	return !bare && !thickness && !m.spot.Texture && m.spot.Glass.Back == optics.Matched && !m.native &&
		m.countJoins() == 0 &&
		m.spot.Loss == fit.Squares
}

// fitFilm fits the uniform film, with its covariance.
func (m *model) fitFilm(ctx context.Context) (*solution, error) {
	params := m.params(0)
	s, err := m.start(ctx, params)
	if err != nil {
		return nil, err
	}
	if m.coarse != m {
		return m.fitFilmFrom(ctx, params, s.x)
	}
	return s, m.covariance(s)
}

// fitFilmFrom is like fitFilm, from the vector x.
func (m *model) fitFilmFrom(ctx context.Context, params []fit.Param, x []float64) (*solution, error) {
	s, err := m.solve(ctx, params, x)
	if err != nil {
		return nil, err
	}
	return s, m.covariance(s)
}

// explains reports whether the curves of m are near those of the uniform film, or of one with structure that begins there.
// Compressed curves leave a rest that no film of theirs explains.
func (m *model) explains(ctx context.Context, film *solution) (bool, error) {
	known, rest := m.spot.known(), m.constantCost*m.noiseFactor/float64(m.points)
	if film.givenChi2 < PoorFit || known.Structure.isNone() || rest >= PoorFit {
		return film.givenChi2 < PoorFit, nil
	}
	s, err := m.withStructure(m.derive(film.x).thickness.value).solveStructure(ctx, film)
	return err == nil && s.givenChi2 < PoorFit, err
}

// bareParams returns the parameters of glass without a film. ok is false where pins require a film.
func (m *model) bareParams() (params []fit.Param, ok bool) {
	pins := m.spot.Pins
	if v, pinned := pins[Bare]; pinned && v != 1 {
		return nil, false
	}
	if _, pinned := pins[Thickness]; pinned {
		return nil, false
	}
	params = m.params(0)
	fixFilm(params)
	params[pBare].Start = 1
	return params, true
}

// fitBare fits the glass without a film, with its covariance. The solution is nil where pins require a film.
func (m *model) fitBare(ctx context.Context) (*solution, error) {
	params, ok := m.bareParams()
	if !ok {
		return nil, nil
	}
	s, err := m.solve(ctx, params, startVector(params))
	if err != nil {
		return nil, err
	}
	return s, m.covariance(s)
}

// fitSettings ends a fit when a step changes the sum of squares by no more than 1e-9 of it. Such a step moves
// no parameter by more than a thousandth of its uncertainty.
var fitSettings = fit.Settings{CostTol: 1e-9}

// structureSettings are those of fits of a structured film, each step of which takes several times as long: they end when the
// next step is predicted to change the sum of squares by no more than 1e-7 of it. That step is still taken, and what it leaves
// is smaller by as much again.
var structureSettings = fit.Settings{CostTol: 1e-7}

func (m *model) settings() *fit.Settings {
	if m.structured {
		return &structureSettings
	}
	return &fitSettings
}

// run runs the solver from x, which is the start of the parameters that it returns. params and x are not changed. A fit that
// stalls where the number of steps of a gradient changes is made again with as many steps for all gradients.
func (m *model) run(ctx context.Context, params []fit.Param, x []float64) (started []fit.Param, r *fit.Result, err error) {
	started = append([]fit.Param(nil), params...)
	for i := range started {
		started[i].Start = x[i]
	}
	m.setFreeParams(started)
	problem, err := m.problem(started)
	if err != nil {
		return nil, nil, err
	}
	r, err = m.work.Solve(ctx, problem, m.settings())
	if err == nil && r.Reason == fit.Stalled && m.structured {
		m.setSteady(true)
		r, err = m.work.Solve(ctx, problem, m.settings())
		m.setSteady(false)
	}
	if err != nil && ctx.Err() != nil {
		return nil, nil, ctx.Err()
	}
	var fault *fit.ProblemError
	if errors.As(err, &fault) {
		return nil, nil, inputErrorOf("spot", "the curves cannot be fitted", fault,
			"check the values and units of the curves and of the glass")
	}
	if err != nil {
		return nil, nil, fmt.Errorf("could not fit the film: %w", err)
	}
	return started, r, nil
}

// setSteady sets whether profiles have as many steps for all gradients.
func (m *model) setSteady(on bool) {
	for k := range m.curves {
		v := m.curves[k].view
		v.layer.profile.Steady(on)
		v.last.whole = false
	}
}

// minimum is like solve, but returns the vector only, which takes less time.
func (m *model) minimum(ctx context.Context, params []fit.Param, x []float64) ([]float64, error) {
	_, r, err := m.run(ctx, params, x)
	if err != nil {
		return nil, err
	}
	return r.X, nil
}

// solve runs the solver from x. params and x are not changed.
func (m *model) solve(ctx context.Context, params []fit.Param, x []float64) (*solution, error) {
	started, r, err := m.run(ctx, params, x)
	if err != nil {
		return nil, err
	}
	dof, cost := r.DegreesOfFreedom(), r.Cost
	if dof < 1 {
		return nil, &InputError{"spot", fmt.Sprintf("%d points do not determine all parameters", m.points),
			"give more curves or points, or fix parameters"}
	}
	chi2 := cost / float64(dof)
	if m.spot.Loss != fit.Squares {
		chi2 = m.robustChi2(r.X)
	}
	given := chi2 + r.DataCost*(m.noiseFactor-1)/float64(dof)
	out := &solution{params: started, x: r.X, cost: cost, chi2: chi2, givenChi2: given, converged: r.Converged(),
		atBound: r.AtBound, result: r, rms: m.rms(r), effectiveShare: m.effectiveShare()}
	out.misfit = m.misfitOf(out)
	return out, nil
}

// robustChi2 returns
//
//	(1.4826 · median |r|)²
//
// of the residuals r at x, in units of the noise. It stands for the reduced chi-square and does not depend on
// points far from the fit. 1.4826 is the standard deviation of a normal distribution over its median absolute
// deviation.
func (m *model) robustChi2(x []float64) float64 {
	res := make([]float64, m.rows)
	m.residuals(res, x)
	for i, r := range res {
		res[i] = math.Abs(r)
	}
	scale := 1.4826 * median(res)
	return scale * scale
}

// problem returns the least-squares problem of m. It gives normal equations, or single residuals if the loss is
// a robust one.
func (m *model) problem(params []fit.Param) (*fit.Problem, error) {
	if m.spot.Loss == fit.Squares {
		return &fit.Problem{Params: params, Points: m.points, Normal: m.fillNormalEquations}, nil
	}
	plain := &fit.Problem{Params: params, Points: m.rows, Residuals: m.residuals, Jacobian: m.jacobian}
	return plain.Robust(m.spot.Loss, lossScale)
}

// lossScale is the residual, in standard deviations of the noise, above which a robust loss grows more slowly
// than the square. With 1.345 the efficiency under normal noise is 95 % (P. J. Huber, from memory).
const lossScale = 1.345

// rounding is the relative difference of two sums of squares up to which they count as those of the same
// point.
const rounding = 1e-9

// rms returns the root mean square residual at the result, a fraction. Afterwards the curves hold the fitted
// values at the result.
func (m *model) rms(r *fit.Result) float64 {
	last := m.constantCost
	for _, sum := range m.curveCosts {
		last += sum
	}
	// the last point that the solver evaluated is not the result
	if math.Abs(last-r.DataCost) > rounding*r.DataCost || m.spot.Loss != fit.Squares {
		n := m.size()
		m.fillNormalEquations(make([]float64, n*n), make([]float64, n), r.X)
	}
	sum := 0.0
	for k := range m.curves {
		c := &m.curves[k]
		sum += m.curveCosts[k]*c.sigma*c.sigma + c.unpackedSquares
	}
	return math.Sqrt(sum / float64(m.points))
}

// covariance fills s.cov for all parameters; the rows of fixed ones are 0. With J the Jacobian of the residuals, P what is
// known beforehand and f the inflation of s it is
//
//	(JᵀJ/f + P)⁻¹ = f·(JᵀJ + f·P)⁻¹
//
// so that residuals that exceed the noise widen the noise, never the priors. Parameters on a bound count as free. Where the
// data leave a parameter wider than its bounds, or do not determine it at all, its bounds count as knowledge: see uniformSDs.
func (m *model) covariance(s *solution) error {
	f, box := s.inflation(), uniformSDs(s.params)
	var known []float64 // that has to be added; nil: nothing
	if f > 1 {
		known = make([]float64, len(box))
		for i, p := range s.params {
			if p.Prior.SD > 0 && !p.Fixed {
				known[i] = p.Prior.SD / math.Sqrt(f-1)
			}
		}
	}
	cov, err := s.result.CovarianceWith(known)
	var singular *fit.SingularError
	if err != nil && !errors.As(err, &singular) {
		return err
	}
	if err != nil || exceedsBounds(cov, box, f) {
		if known == nil {
			known = make([]float64, len(box))
		}
		for i, sd := range box {
			if sd > 0 {
				known[i] = sd / math.Sqrt(f)
			}
		}
		if cov, err = s.result.CovarianceWith(known); err != nil {
			return inputErrorOf("spot", "the curves do not determine the fit at all", err,
				"give more curves, or fix parameters")
		}
	}
	if s.cov = cov; f != 1 {
		s.cov.ScaleSym(f, cov)
	}
	return nil
}

// exceedsBounds reports whether a standard deviation, with the inflation of its variance, exceeds that in box,
// which uniformSDs returned.
func exceedsBounds(cov *mat.SymDense, box []float64, inflation float64) bool {
	for i, sd := range box {
		if sd > 0 && math.Sqrt(cov.At(i, i)*inflation) > sd {
			return true
		}
	}
	return false
}

// likelihoodLimit is the 1 % point of chi-square with 3 degrees of freedom: the
// film's optical thickness, index and bare fraction. The three are not
// identified without a film, so the level is nominal; the tests simulate it.
var likelihoodLimit = distuv.ChiSquared{K: 3}.Quantile(0.99)

// likelihoodRatio returns twice the log likelihood ratio of film over bare glass,
//
//	(cost of bare glass - cost of film) / inflation of film
func likelihoodRatio(film, bare *solution) float64 {
	return (bare.cost - film.cost) / film.inflation()
}
