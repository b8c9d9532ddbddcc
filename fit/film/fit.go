package film

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
)

// The models a verdict can choose.
const (
	ModelBare = "bare" // no film
	ModelFilm = "film" // a uniform film with a bare fraction
)

// PoorFit is the reduced chi-square above which the model is not adequate.
const PoorFit = 3.0

// solution is a minimum of the sum of squares.
type solution struct {
	params    []fit.Param
	x         []float64
	cost      float64 // sum of squares, priors included
	chi2      float64 // reduced
	free      int
	converged bool
	atBound   []bool
	cov       *mat.SymDense
}

// Fit finds the film that explains the curves of spot. An [*InputError] says
// what is wrong with the spot; an [*optics.RangeError] that a wavelength is
// outside the range of an index. It stops early, with ctx's error, when ctx is
// done.
func Fit(ctx context.Context, spot *Spot) (*Verdict, error) {
	if err := spot.check(); err != nil {
		return nil, err
	}
	sigma, err := spot.noise()
	if err != nil {
		return nil, err
	}
	m, err := newModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	film, err := m.fitFilm(ctx)
	if err != nil {
		return nil, err
	}
	bare, err := m.fitBare(ctx)
	if err != nil {
		return nil, err
	}
	return m.verdict(film, bare), nil
}

func (s *Spot) noise() ([]float64, error) {
	sigma := make([]float64, len(s.Curves))
	for i := range s.Curves {
		c := &s.Curves[i]
		sigma[i] = c.NoiseSD
		if sigma[i] == 0 {
			sigma[i] = Noise(c.NM, c.R)
		}
		if sigma[i] == 0 {
			return nil, &InputError{fmt.Sprintf("curve %d", i+1), "all its values are equal, which is not a spectrum", "leave the curve out, or export it again"}
		}
	}
	return sigma, nil
}

func (m *model) fitFilm(ctx context.Context) (*solution, error) {
	params := m.params()
	x, err := m.start(ctx, params)
	if err != nil {
		return nil, err
	}
	s, err := m.solve(ctx, params, x)
	if err != nil {
		return nil, err
	}
	return s, m.covariance(s)
}

// fitBare fits the glass without a film; nil where the person's pins say that
// there is one.
func (m *model) fitBare(ctx context.Context) (*solution, error) {
	pins := m.spot.Pins
	if v, ok := pins[Bare]; ok && v != 1 {
		return nil, nil
	}
	if _, ok := pins[Thickness]; ok {
		return nil, nil
	}
	params := m.params()
	for _, i := range []int{pTau, pIndex, pBare, pSkeleton} {
		params[i].Fixed, params[i].Prior = true, fit.Prior{}
	}
	params[pBare].Start = 1
	s, err := m.solve(ctx, params, startVector(params))
	if err != nil {
		return nil, err
	}
	return s, m.covariance(s)
}

// solve runs the solver from x.
func (m *model) solve(ctx context.Context, params []fit.Param, x []float64) (*solution, error) {
	started := append([]fit.Param(nil), params...)
	free, priors := 0, 0
	for i := range started {
		started[i].Start = x[i]
		if !started[i].Fixed {
			free++
			if started[i].Prior.SD > 0 {
				priors++
			}
		}
	}
	problem := &fit.Problem{Params: started, Points: m.points, Residuals: m.residuals, Jacobian: m.jacobian}
	r, err := fit.Solve(ctx, problem, nil)
	if err != nil {
		return nil, fmt.Errorf("could not fit the film: %w", err)
	}
	dof := m.points + priors - free
	if dof < 1 {
		return nil, &InputError{"spot", fmt.Sprintf("%d points do not determine %d parameters", m.points, free), "give more curves or points, or pin parameters"}
	}
	return &solution{params: started, x: r.X, cost: r.Cost, chi2: r.Cost / float64(dof), free: free,
		converged: r.Converged(), atBound: r.AtBound}, nil
}

var errCovariance = errors.New("film: the normal matrix cannot be inverted")

// covariance fills s.cov, of all parameters; the rows of fixed ones are 0. It is
// the inverse of the normal matrix, priors included, times max(1, reduced
// chi-square). Parameters on a bound count as free. Where the data leave the
// film or its bare fraction wider than the box of their bounds, the box counts
// as what is known of them: the variance of a uniform distribution.
func (m *model) covariance(s *solution) error {
	free := freeOf(s.params)
	normal := m.normal(s, free)
	inflate := max(1, s.chi2)
	cov, ok := invert(normal, inflate)
	if !ok || wider(cov, s.params, free) {
		for k, i := range free {
			if p := s.params[i]; i == pTau || i == pIndex || i == pBare {
				normal.SetSym(k, k, normal.At(k, k)+inflate/(box(p)*box(p)))
			}
		}
		if cov, ok = invert(normal, inflate); !ok {
			return errCovariance
		}
	}
	s.cov = mat.NewSymDense(len(s.params), nil)
	for a, i := range free {
		for b := a; b < len(free); b++ {
			s.cov.SetSym(i, free[b], cov.At(a, b))
		}
	}
	return nil
}

func freeOf(params []fit.Param) []int {
	var free []int
	for i, p := range params {
		if !p.Fixed {
			free = append(free, i)
		}
	}
	return free
}

// normal returns JᵀJ of the free parameters, priors included.
func (m *model) normal(s *solution, free []int) *mat.SymDense {
	size := m.size()
	jac := make([]float64, m.points*size)
	m.jacobian(jac, s.x)
	n := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b := a; b < len(free); b++ {
			sum := 0.0
			for row := 0; row < len(jac); row += size {
				sum += jac[row+i] * jac[row+free[b]]
			}
			n.SetSym(a, b, sum)
		}
		if sd := s.params[i].Prior.SD; sd > 0 {
			n.SetSym(a, a, n.At(a, a)+1/(sd*sd))
		}
	}
	return n
}

// invert returns the inverse of n times factor, through the correlation matrix
// so that units do not matter; ok is false if n is not positive definite to
// working precision.
func invert(n *mat.SymDense, factor float64) (inv *mat.SymDense, ok bool) {
	k := n.SymmetricDim()
	scale := make([]float64, k)
	scaled := mat.NewSymDense(k, nil)
	for i := range k {
		if scale[i] = math.Sqrt(n.At(i, i)); scale[i] == 0 {
			return nil, false
		}
	}
	for i := range k {
		for j := i; j < k; j++ {
			scaled.SetSym(i, j, n.At(i, j)/(scale[i]*scale[j]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(scaled) || chol.Cond() > 1e14 {
		return nil, false
	}
	inv = mat.NewSymDense(k, nil)
	if err := chol.InverseTo(inv); err != nil {
		return nil, false
	}
	for i := range k {
		for j := i; j < k; j++ {
			inv.SetSym(i, j, inv.At(i, j)*factor/(scale[i]*scale[j]))
		}
	}
	return inv, true
}

func wider(cov *mat.SymDense, params []fit.Param, free []int) bool {
	for k, i := range free {
		if (i == pTau || i == pIndex || i == pBare) && math.Sqrt(cov.At(k, k)) > box(params[i]) {
			return true
		}
	}
	return false
}

// likelihoodLimit is the 1 % point of chi-square with 3 degrees of freedom: the
// film's optical thickness, index and bare fraction. The three are not
// identified without a film, so the level is nominal; the tests simulate it.
var likelihoodLimit = distuv.ChiSquared{K: 3}.Quantile(0.99)

// ratio returns twice the log likelihood ratio of film over bare glass, the
// noise taken as large as the film's residuals say.
func ratio(film, bare *solution) float64 {
	return (bare.cost - film.cost) / max(1, film.chi2)
}
