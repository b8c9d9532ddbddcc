package acceptance

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study/series"
)

const (
	draws      = 20000
	mostShared = 500 // coupons; of more the worst case is taken, which costs little then
	// bound is the number of standard errors of the draws by which a chance is raised: the one-sided 99.9 % quantile.
	bound = 3.090
)

// confidence returns the confidence of an acceptance of these coupons by the covariance of their errors: one less the
// chance that a product of which only the share of the rule conforms is accepted. That chance is largest where all
// others lie at the limit: each then passes when its own error is below -Guard standard uncertainties, whatever the
// distribution of the losses is. Lost coupons have errors of nobody's. Where a change in either direction is a loss,
// the worst is that all shared errors go the way in which a coupon passes.
func (j *Judgement) confidence(worse int) float64 {
	var errors []series.Errors
	for i := range j.Coupons {
		c := &j.Coupons[i]
		if c.Grade == "" {
			continue
		}
		e := c.errors
		if worse == 0 {
			e.Shared = scaled(e.Shared, math.Abs)
		}
		errors = append(errors, e)
	}
	return SharedConfidence(j.N, j.Rule.Failures, j.Rule.Share, errors)
}

// SharedConfidence is [Confidence] of n coupons by the covariance of the errors of those that were read. Where they
// share errors it is computed from draws of the shared ones, with a fixed seed, and lowered by what 99.9 % of such
// draws err at most; it is never below the worst case of Confidence.
func SharedConfidence(n, failures int, share float64, errors []series.Errors) float64 {
	if len(errors) > mostShared {
		return Confidence(n, failures, share, true)
	}
	parts := sharedParts(errors)
	if parts == nil {
		return Confidence(n, failures, share, false)
	}
	r := rand.New(rand.NewPCG(1, 2))
	rows, factors := parts.Dims()
	own := make([]float64, rows) // the standard deviation of what is not shared
	for i := range rows {
		v := 1.0
		for k := range factors {
			v -= parts.At(i, k) * parts.At(i, k)
		}
		own[i] = math.Sqrt(max(0, v))
	}
	z, pass := make([]float64, factors), make([]float64, n)
	sum, squares := 0.0, 0.0
	for range draws {
		for k := range z {
			z[k] = r.NormFloat64()
		}
		for i := range pass {
			chance := byChance
			if i < rows {
				shift := 0.0
				for k, by := range parts.RawRowView(i) {
					shift += by * z[k]
				}
				chance = chanceBelow(-Guard-shift, own[i])
			}
			pass[i] = share + (1-share)*chance
		}
		p := passAtLeast(pass, n-failures)
		sum, squares = sum+p, squares+p*p
	}
	mean := sum / draws
	scatter := math.Sqrt(max(0, squares/draws-mean*mean) / draws)
	return max(Confidence(n, failures, share, true), 1-mean-bound*scatter)
}

// chanceBelow returns the chance that a normal error of this standard deviation is below x.
func chanceBelow(x, sd float64) float64 {
	if sd == 0 {
		if x > 0 {
			return 1
		}
		return 0
	}
	return distuv.UnitNormal.CDF(x / sd)
}

// sharedParts returns a square root of the shared part of the correlation of errors: a row for each of them. It is nil
// where nothing is shared.
func sharedParts(errors []series.Errors) *mat.Dense {
	n := len(errors)
	correlation, some := mat.NewSymDense(max(n, 1), nil), false
	for i := range errors {
		for k := range i {
			c := series.Covariance(&errors[i], &errors[k]) / (errors[i].U() * errors[k].U())
			correlation.SetSym(i, k, c)
			some = some || math.Abs(c) > 1e-9
		}
		correlation.SetSym(i, i, (errors[i].Variance()-errors[i].Own)/errors[i].Variance())
	}
	var values mat.EigenSym
	if !some || !values.Factorize(correlation, true) {
		return nil
	}
	var vectors mat.Dense
	values.VectorsTo(&vectors)
	for k, v := range values.Values(nil) {
		root := math.Sqrt(max(0, v))
		for i := range n {
			vectors.Set(i, k, vectors.At(i, k)*root)
		}
	}
	return keepColumns(&vectors)
}

// keepColumns returns the columns that are not nearly 0.
func keepColumns(of *mat.Dense) *mat.Dense {
	rows, columns := of.Dims()
	var kept []int
	for k := range columns {
		if mat.Norm(of.ColView(k), 2) > 1e-6 {
			kept = append(kept, k)
		}
	}
	out := mat.NewDense(rows, len(kept), nil)
	for i, k := range kept {
		out.SetCol(i, mat.Col(nil, k, of))
	}
	return out
}

// passAtLeast returns the chance that at least k of some coupons pass, each with a chance of its own. It makes use of
// chances as room.
func passAtLeast(chances []float64, k int) float64 {
	if k == len(chances) {
		product := 1.0
		for _, p := range chances {
			product *= p
		}
		return product
	}
	most := len(chances) - k          // that may fail
	failed := make([]float64, most+1) // the chance of so many failures so far
	failed[0] = 1
	for _, p := range chances {
		for f := most; f >= 0; f-- {
			failed[f] *= p
			if f > 0 {
				failed[f] += failed[f-1] * (1 - p)
			}
		}
	}
	sum := 0.0
	for _, p := range failed {
		sum += p
	}
	return sum
}
