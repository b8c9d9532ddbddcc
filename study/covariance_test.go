package study_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"

	"wane/study"
)

// drawnFits are fits with made-up errors of a few sessions, coatings and placements.
func drawnFits(rng *rand.Rand, n int) []*study.Fit {
	fits := make([]*study.Fit, n)
	for i := range fits {
		f := study.NewFit(study.Unit{Coupon: string(rune('A' + i))})
		effect := func(owner study.Owner, of, name string) {
			s := study.Sensitivity{Effect: study.Effect{Owner: owner, Of: of, Name: name}}
			for q := range s.By {
				s.By[q] = rng.NormFloat64()
			}
			f.Errors.Shared = append(f.Errors.Shared, s)
		}
		effect(study.OwnerSession, []string{"S1", "S2"}[rng.IntN(2)], "scale")
		effect(study.OwnerSession, []string{"S1", "S2"}[rng.IntN(2)], "zero")
		effect(study.OwnerCoating, []string{"C1", "C2"}[rng.IntN(2)], "skeleton_index")
		effect(study.OwnerPlacement, f.Coupon, "tilt")
		noise := [study.NumberOfOutputs]float64{}
		for q := range noise {
			noise[q] = rng.NormFloat64()
			for k := range q + 1 {
				f.Errors.SetOwn(study.Output(q), study.Output(k), noise[q]*noise[k])
			}
		}
		fits[i] = f
	}
	return fits
}

// The covariance matrix of any results is positive semidefinite, whatever they share.
func TestCovarianceIsPositiveSemidefinite(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		var terms []study.Weighted
		for _, f := range drawnFits(rng, 6) {
			for q := range study.NumberOfOutputs {
				terms = append(terms, study.Weighted{Errors: &f.Errors, Output: q, Weight: 1})
			}
		}
		cov, trace := mat.NewSymDense(len(terms), nil), 0.0
		for i := range terms {
			for k := i; k < len(terms); k++ {
				cov.SetSym(i, k, study.Covariance(terms[i:i+1], terms[k:k+1]))
			}
			trace += cov.At(i, i)
		}
		var e mat.EigenSym
		assert.True(t, e.Factorize(cov, false))
		assert.Greater(t, e.Values(nil)[0], -1e-12*trace)
	}
}

// What all results have in common leaves every contrast alone, and a result less itself is exactly 0.
func TestContrasts(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	fits := drawnFits(rng, 5)
	var contrast []study.Weighted
	for i, w := range []float64{1, -1, -0.5, 0.25, 0.25} {
		contrast = append(contrast, study.Weighted{&fits[i].Errors, study.OutSolarT, w})
	}
	before := study.Uncertainty(contrast)
	for _, f := range fits {
		s := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerInstrument, Of: "I", Name: "offset"}}
		s.By[study.OutSolarT] = 7
		f.Errors.Shared = append(f.Errors.Shared, s)
	}
	assert.InDelta(t, before, study.Uncertainty(contrast), 1e-12*before)
	for q := range study.NumberOfOutputs {
		assert.Zero(t, study.Uncertainty([]study.Weighted{{&fits[0].Errors, q, 1}, {&fits[0].Errors, q, -1}}))
	}
}

// The order of the terms does not matter, and a sum is bilinear.
func TestCovarianceIsBilinear(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	f := drawnFits(rng, 3)
	a, b := study.Weighted{&f[0].Errors, study.OutSolarT, 2}, study.Weighted{&f[1].Errors, study.OutSolarT, -1}
	c := study.Weighted{&f[0].Errors, study.OutGain, 3}
	d := []study.Weighted{{&f[2].Errors, study.OutSolid, 1}, {&f[0].Errors, study.OutSolarT, 1}}
	want := study.Covariance([]study.Weighted{a}, d) + study.Covariance([]study.Weighted{b}, d) +
		study.Covariance([]study.Weighted{c}, d)
	for _, order := range [][]study.Weighted{{a, b, c}, {c, a, b}, {b, c, a}} {
		assert.InDelta(t, want, study.Covariance(order, d), 1e-12)
		assert.InDelta(t, want, study.Covariance(d, order), 1e-12)
	}
}

// A condensed sum of results of one coupon has its variance, and its covariance with results of another; what no
// other coupon shares has become its own. Sums of what is condensed add up as the results do.
func TestCondense(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	of := func(code string, weights ...float64) (terms []study.Weighted) {
		for i, f := range drawnFits(rng, len(weights)) {
			f.Errors.Shared[3].Of = code
			terms = append(terms, study.Weighted{&f.Errors, study.OutSolarT, weights[i]},
				study.Weighted{&f.Errors, study.OutGain, 1})
		}
		return terms
	}
	a, b := of("A", 100, -100), of("B", 1, 2, 3)
	condensed := study.Condense(a)
	one := []study.Weighted{condensed}
	assert.InEpsilon(t, study.Uncertainty(a), study.Uncertainty(one), 1e-12)
	assert.InEpsilon(t, study.Covariance(a, b), study.Covariance(one, b), 1e-12)
	for _, s := range condensed.Errors.Shared {
		assert.NotEqual(t, study.OwnerPlacement, s.Owner)
	}
	all := append(slices.Clone(a), b...)
	assert.InEpsilon(t, study.Uncertainty(all), study.Uncertainty([]study.Weighted{condensed, study.Condense(b)}), 1e-12)
	assert.Zero(t, study.Uncertainty([]study.Weighted{study.Condense(nil)}))
}

// Errors of which something is known have an effect or a variance of their own.
func TestKnown(t *testing.T) {
	var e study.Errors
	assert.False(t, e.Known())
	e.SetOwn(study.OutSolid, study.OutGain, 1)
	assert.True(t, e.Known())
	assert.True(t, (&study.Errors{Shared: make([]study.Sensitivity, 1)}).Known())
}

// The covariance of two sums is what its definition says, whatever the order in which fits have their effects, and however
// many fits there are: the effects of each owner are added up in a map here.
func TestCovarianceIsThatOfItsDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for _, n := range []int{1, 2, 3, 5, 40} {
		for range 20 {
			fits := mixedFits(rng, n)
			draw := func() (terms []study.Weighted) {
				for range n + rng.IntN(3) {
					f := fits[rng.IntN(n)]
					terms = append(terms, study.Weighted{&f.Errors, study.Output(rng.IntN(int(study.NumberOfOutputs))),
						rng.NormFloat64()})
				}
				return terms
			}
			a, b := draw(), draw()
			scale := study.Uncertainty(a) * study.Uncertainty(b)
			assert.InDelta(t, byDefinition(a, b), study.Covariance(a, b), 1e-12*scale)
			assert.InEpsilon(t, byDefinition(a, a), study.Covariance(a, a), 1e-12)
			assert.InEpsilon(t, byDefinition(a, a), study.Covariance(a, slices.Clone(a)), 1e-12)
		}
	}
}

// mixedFits are fits of a few sessions and coupons, each with some of all effects, those of an owner not always together.
func mixedFits(rng *rand.Rand, n int) []*study.Fit {
	fits := drawnFits(rng, n)
	for _, f := range fits {
		f.Errors.Shared = nil
		session, coupon := []string{"S1", "S2", "S3"}[rng.IntN(3)], []string{"A", "B"}[rng.IntN(2)]
		for _, effect := range []study.Effect{
			{Owner: study.OwnerCoating, Of: "K", Name: "skeleton_index"}, {Owner: study.OwnerCoupon, Of: coupon, Name: "coupon_index"},
			{Owner: study.OwnerSession, Of: session, Name: "scale"}, {Owner: study.OwnerSession, Of: session, Name: "s_share"},
			{Owner: study.OwnerSpot, Of: coupon, Name: "gradient"}, {Owner: study.OwnerSession, Of: session, Name: "zero"},
			{Owner: study.OwnerCoupon, Of: coupon, Name: "leak"}, {Owner: study.OwnerSession, Of: session, Name: "factor@8"},
			{Owner: study.OwnerSession, Of: session, Name: "factor@45"}, {Owner: study.OwnerPlacement, Of: f.Coupon, Name: "tilt"},
		} {
			if rng.IntN(4) > 0 {
				s := study.Sensitivity{Effect: effect}
				for q := range s.By {
					s.By[q] = rng.NormFloat64()
				}
				f.Errors.Shared = append(f.Errors.Shared, s)
			}
		}
		if rng.IntN(3) == 0 {
			rng.Shuffle(len(f.Errors.Shared), func(i, k int) {
				f.Errors.Shared[i], f.Errors.Shared[k] = f.Errors.Shared[k], f.Errors.Shared[i]
			})
		}
	}
	return fits
}

func byDefinition(a, b []study.Weighted) (cov float64) {
	sums := func(terms []study.Weighted) map[study.Effect]float64 {
		by := map[study.Effect]float64{}
		for _, term := range terms {
			for _, s := range term.Errors.Shared {
				by[s.Effect] += term.Weight * s.By[term.Output]
			}
		}
		return by
	}
	of := sums(b)
	for effect, x := range sums(a) {
		cov += x * of[effect]
	}
	for _, x := range a {
		for _, y := range b {
			if x.Errors == y.Errors {
				cov += x.Weight * y.Weight * x.Errors.OwnOf(x.Output, y.Output)
			}
		}
	}
	return cov
}

// The sums that are made of each row of results allocate nothing.
func TestUncertaintyOfAChangeAllocatesNothing(t *testing.T) {
	fits := mixedFits(rand.New(rand.NewPCG(11, 12)), 3)
	terms := []study.Weighted{{&fits[0].Errors, study.OutSolarT, 100}, {&fits[1].Errors, study.OutSolarT, -100},
		{&fits[2].Errors, 0, -1}}
	assert.Zero(t, testing.AllocsPerRun(100, func() { study.Uncertainty(terms) }))
}
