package film

import (
	"context"
	"math"

	"wane/fit"

	"gonum.org/v1/gonum/stat/distuv"
)

// fitStructure fits the film whose structure is free under what is known of it, from the uniform one, on m.
func (v *Verdict) fitStructure(ctx context.Context, m *model) error {
	wide := m.withStructure(v.ThicknessNM.Value)
	s, err := wide.solveStructure(ctx, v.chosen)
	if err != nil {
		return err
	}
	if err := wide.covariance(s); err != nil {
		return err
	}
	v.called.full = wide.calledMisfit(s)
	v.structured, v.full, err = wide.raised(ctx, s)
	return err
}

// solveStructure fits the film whose structure is free from the uniform one.
func (m *model) solveStructure(ctx context.Context, uniform *solution) (*solution, error) {
	params := m.params(0)
	return m.solve(ctx, params, m.startFrom(uniform.x, params))
}

// thinFilmNM is the thickness of a film below which its structure shrinks with it.
const thinFilmNM = 20

// withStructure returns m with the structure of a film of thickness nm free. The structure of a film thinner than thinFilmNM
// is less in proportion, so that it vanishes with the film.
func (m *model) withStructure(nm float64) *model {
	wide := *m
	wide.structured, wide.structure = true, min(1, nm/thinFilmNM)
	wide.curveCosts = make([]float64, len(m.curves))
	switch m.coarse {
	case nil:
	case m:
		wide.coarse = &wide
	default:
		coarse := *m.coarse
		coarse.structured, coarse.structure, coarse.coarse = true, wide.structure, &coarse
		wide.coarse = &coarse
	}
	return &wide
}

// startFrom returns the vector from which the structured film is fitted: the uniform film x with the structure that is
// expected, and that much less of it.
func (m *model) startFrom(x []float64, params []fit.Param) []float64 {
	out := append([]float64(nil), x...)
	for _, k := range []kind{kGradient, kSkin, kVariance} {
		out[k] = params[k].Start
	}
	if !params[pTau].Fixed {
		out[pTau] = max(params[pTau].Lower, out[pTau]-out[kSkin]*out[pSkeleton])
	}
	return out
}

// Rung is one structure fitted to a spot, on the curves' own noise: bare glass, a uniform film, or a film with one structure
// of which nothing is taken to be known beforehand.
type Rung struct {
	Model           string   // bare, film, film+gradient, film+skin, film+variance
	Free            int      // free parameters, nuisances included
	ReducedChi2     float64  // priors included
	LikelihoodRatio float64  // twice the log likelihood ratio over the uniform film, of that over bare glass; NaN for bare
	AICc            float64  // with the effective number of points; differences between rungs count
	Separable       bool     // thickness, porosity and bare fraction are determined within their limits
	Chosen          bool     // the equivalent film is of this one
	Size            Estimate // of the structure: gradient of porosity, skin in nm, variance of thickness over its square
}

// IsStructure reports whether the rung is a film with a structure.
func (r *Rung) IsStructure() bool { return r.Model != ModelBare && r.Model != ModelFilm }

// structureKinds are the structures that rungs try, with their names.
var structureKinds = []struct {
	kind kind
	name string
}{{kGradient, "film+gradient"}, {kSkin, "film+skin"}, {kVariance, "film+variance"}}

// fillRungs lists the structures that were fitted, and with Structures fits each one of the film by itself. It changes no
// other value.
func (v *Verdict) fillRungs(ctx context.Context, bare, film *solution) error {
	null := Estimate{math.NaN(), math.NaN()}
	add := func(name string, s, below *solution, size Estimate) {
		r := Rung{Model: name, Free: s.countFree(), ReducedChi2: s.givenChi2, LikelihoodRatio: math.NaN(),
			AICc: s.akaike(film, v.model.points), Chosen: name == v.Model, Size: size}
		if s == v.chosen && v.Model == ModelFilm {
			r.Separable = len(v.notSeparable()) == 0
		} else {
			r.Separable = v.model.separates(s)
		}
		if below != nil {
			r.LikelihoodRatio = max(0, (below.cost-s.cost)/film.inflation())
		}
		v.Rungs = append(v.Rungs, r)
	}
	if bare != nil {
		add(ModelBare, bare, nil, null)
	}
	add(ModelFilm, film, bare, null)
	if !v.model.spot.Structures || v.Model != ModelFilm || v.allowedFilm != nil {
		return nil
	}
	for _, k := range structureKinds {
		s, err := v.model.fitOneStructure(ctx, film, k.kind)
		if err != nil {
			return err
		}
		add(k.name, s, film, parameterOf(s, int(k.kind)))
	}
	return nil
}

// fitOneStructure fits the film with one structure free, of which nothing is known beforehand.
func (m *model) fitOneStructure(ctx context.Context, film *solution, free kind) (*solution, error) {
	wide := m.withStructure(m.derive(film.x).thickness.value)
	params := append([]fit.Param(nil), film.params...)
	params[free] = wide.params(0)[free]
	params[free].Start, params[free].Fixed, params[free].Prior = 0, false, fit.Prior{}
	s, err := wide.solve(ctx, params, film.x)
	if err != nil {
		return nil, err
	}
	return s, wide.covariance(s)
}

// akaike returns the corrected information criterion of s. The film says how large the noise is and how many points count.
func (s *solution) akaike(film *solution, points int) float64 {
	k, n, noise := float64(s.countFree()), float64(points)*film.effectiveShare, film.inflation()
	if n-k <= 1 {
		return math.Inf(1)
	}
	return s.cost/noise + 2*k + 2*k*(k+1)/(n-k-1)
}

func (s *solution) countFree() (n int) {
	for i := range s.params {
		if !s.params[i].Fixed {
			n++
		}
	}
	return n
}

// separates reports whether s determines thickness, porosity and bare fraction within their limits, by its linear
// covariance.
func (m *model) separates(s *solution) bool {
	if s.params[pTau].Fixed && s.params[pBare].Fixed {
		return true // no film to determine
	}
	d := m.derive(s.x)
	bare := Estimate{U: math.Sqrt(s.cov.At(pBare, pBare))}
	return len(beyondLimits(d.thickness.estimate(s.cov), d.porosity.estimate(s.cov), bare)) == 0
}

// DetectionLimit returns the thickness, in nm, of the thinnest whole film of an index in the middle of its
// range that these curves would show: one that 95 of 100 repeats would distinguish from bare glass at the 1 %
// level at which films are called. It is NaN if even a film of 400 nm optical thickness would not be
// distinguished, or if the pins require a film.
func (v *Verdict) DetectionLimit(ctx context.Context) (float64, error) {
	m := v.model.coarse
	params, ok := v.model.bareParams()
	if !ok {
		return math.NaN(), nil
	}
	bare := &solution{params: params, x: startVector(params)}
	x, err := m.withPredictedReadings(bare.x).thickestFilm(ctx, bare, detectable*v.chosen.inflation())
	if err != nil || x == nil {
		return math.NaN(), err
	}
	g := m.filmAt(x)
	return g.d, nil
}

// detectable is by how much a film must raise the sum of squares, without noise, to exceed the limit of the
// likelihood ratio with a probability of 95 %. A film this thin changes the curves in one way only, so the
// root of the ratio is normal about the root of the rise: it must lie 1.645 above that of the limit.
var detectable = math.Pow(math.Sqrt(likelihoodLimit)+distuv.UnitNormal.Quantile(0.95), 2)
