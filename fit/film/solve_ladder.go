package film

import (
	"context"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rung is one film structure fitted to a spot: bare, film or film+spread.
type Rung struct {
	Model           string
	Free            int     // free parameters, nuisances included
	ReducedChi2     float64 // priors included
	LikelihoodRatio float64 // twice the log likelihood ratio over the rung below; NaN for the lowest
	AICc            float64 // with the effective number of points; differences between rungs count
	Separable       bool    // thickness, porosity and bare fraction are determined within their limits
	Chosen          bool    // the estimates are of this one
	Interval        bool    // the uncertainties are of this one
}

// spreadLimit is the 0.1 % point of the likelihood ratio for a spread, which cannot be negative: half of the
// weight of chi-square with one degree of freedom is at 0 (S. G. Self, K.-Y. Liang, J. Am. Stat. Assoc. 82,
// 605 (1987), from memory). It is strict because every spot is tested.
var spreadLimit = distuv.ChiSquared{K: 1}.Quantile(0.998)

// wantsSpread reports whether the film with a spread is to be fitted, and from which square of the relative
// spread.
func (m *model) wantsSpread(film *solution) (from float64, ok bool) {
	if m.spot.Uniform || film == nil || film.params[pTau].Fixed || film.params[pBare].Fixed &&
		film.params[pBare].Start == 1 {
		return 0, false
	}
	fall, from := m.score(film)
	from = min(max(from, leastStart*leastStart), maxSpread*maxSpread/4)
	return from, m.spot.Ladder || fall > scoreHint*film.inflation()
}

// leastStart is the smallest relative spread that a fit starts from: from 0 it would not move.
const leastStart = 0.02

// fitSpread fits the film with a spread of thickness, from the uniform film and the square of a relative
// spread, and returns its model with the solution.
func (m *model) fitSpread(ctx context.Context, film *solution, from float64) (*model, *solution, error) {
	wide := *m
	wide.spread = true
	if m.coarse == m {
		wide.coarse = &wide
	} else {
		coarse := *m.coarse
		coarse.spread, coarse.coarse = true, &coarse
		wide.coarse = &coarse
	}
	params := wide.params()
	x := append([]float64(nil), film.x...)
	x[pSpread2] = from
	best, err := wide.solve(ctx, params, x)
	if err != nil {
		return nil, nil, err
	}
	return &wide, best, wide.covariance(best)
}

// akaike returns the corrected information criterion of s. The widest solution says how large the noise is and
// how many points count.
func (s *solution) akaike(widest *solution, points int) float64 {
	k, n, noise := float64(s.countFree()), float64(points)*widest.effectiveShare, widest.inflation()
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

// fillLadder lists the structures that were fitted; nil ones are left out.
func (v *Verdict) fillLadder(bare, film, spread *solution) {
	widest := film
	if spread != nil {
		widest = spread
	}
	var below *solution
	for _, r := range []struct {
		name string
		s    *solution
	}{{ModelBare, bare}, {ModelFilm, film}, {ModelSpread, spread}} {
		if r.s == nil {
			continue
		}
		rung := Rung{Model: r.name, Free: r.s.countFree(), ReducedChi2: r.s.givenChi2, LikelihoodRatio: math.NaN(),
			AICc:      r.s.akaike(widest, v.model.points),
			Separable: v.separatesSpread(r.s), Chosen: r.name == v.Model, Interval: r.s == v.widest}
		if below != nil {
			rung.LikelihoodRatio = max(0, (below.cost-r.s.cost)/widest.inflation())
		}
		v.Ladder = append(v.Ladder, rung)
		below = r.s
	}
}

// separatesSpread reports whether s determines thickness, porosity and bare fraction within their limits, by
// its linear covariance.
func (v *Verdict) separatesSpread(s *solution) bool {
	if s.params[pTau].Fixed && s.params[pBare].Fixed {
		return true // no film to tell of
	}
	d := v.derive(s.x)
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
