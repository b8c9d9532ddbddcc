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

// spreadLimit is the 0.1 % point of the likelihood ratio for a spread. A spread cannot be negative, so the ratio is
// 0 with probability 1/2, and otherwise chi-square with one degree of freedom (S. G. Self, K.-Y. Liang, J. Am.
// Stat. Assoc. 82, 605 (1987), from memory). The limit is strict because every spot is tested.
var spreadLimit = distuv.ChiSquared{K: 1}.Quantile(0.998)

// needsSpread reports whether to fit the film with a spread, and the square of the relative spread to start from.
func (m *model) needsSpread(film *solution) (from float64, ok bool) {
	if m.spot.Uniform || film == nil || film.params[pTau].Fixed || film.params[pBare].Fixed &&
		film.params[pBare].Start == 1 {
		return 0, false
	}
	fall, from := m.score(film)
	from = min(max(from, leastStart*leastStart), maxSpread*maxSpread/4)
	return from, m.spot.Ladder || fall > scoreHint*film.inflation()
}

// leastStart is the smallest relative spread at which a fit starts. From 0 it would not move.
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

// akaike returns the corrected information criterion of s,
//
//	AICc = cost/inflation + 2k + 2k(k+1)/(n-k-1)
//
// with k free parameters. The inflation and the effective number n of points are those of the widest solution. It
// is infinite if n-k-1 is not positive.
func (s *solution) akaike(widest *solution, points int) float64 {
	k, n, noise := float64(s.countFree()), float64(points)*widest.effectiveShare, widest.inflation()
	if n-k <= 1 {
		return math.Inf(1)
	}
	return s.cost/noise + 2*k + 2*k*(k+1)/(n-k-1)
}

// countFree returns the number of free parameters.
func (s *solution) countFree() (n int) {
	for i := range s.params {
		if !s.params[i].Fixed {
			n++
		}
	}
	return n
}

// fillLadder lists the structures that were fitted. Those that are nil were not.
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
			Separable: v.separates(r.s), Chosen: r.name == v.Model, Interval: r.s == v.widest}
		if below != nil {
			rung.LikelihoodRatio = max(0, (below.cost-r.s.cost)/widest.inflation())
		}
		v.Ladder = append(v.Ladder, rung)
		below = r.s
	}
}

// separates reports whether the linear covariance of s determines thickness, porosity and bare fraction within
// their limits.
func (v *Verdict) separates(s *solution) bool {
	if s.params[pTau].Fixed && s.params[pBare].Fixed {
		return true // there is no film
	}
	d := v.derive(s.x)
	bare := Estimate{U: math.Sqrt(s.cov.At(pBare, pBare))}
	return len(beyondLimits(d.thickness.estimate(s.cov), d.porosity.estimate(s.cov), bare)) == 0
}

// DetectionLimit returns the least thickness, in nm, of a film that these curves would show. The film has no bare
// places and an index in the middle of its range; 95 of 100 repeats would distinguish it from bare glass at the 1 %
// level. It is NaN if even a film of 400 nm optical thickness would not be distinguished, or if the pins require a
// film. If ctx is done, the error is that of ctx.
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

// detectable is the rise of the sum of squares, without noise, at which a film exceeds the limit of the likelihood
// ratio with a probability of 95 %:
//
//	(√limit + 1.645)²
//
// A film this thin changes the curves in one way only. The root of the ratio is therefore normally distributed
// about the root of the rise, with a standard deviation of 1.
var detectable = math.Pow(math.Sqrt(likelihoodLimit)+distuv.UnitNormal.Quantile(0.95), 2)
