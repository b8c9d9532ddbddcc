package study_test

import (
	"math/rand/v2"
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
				terms = append(terms, study.Weighted{Fit: f, Output: q, Weight: 1})
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
	contrast := []study.Weighted{{Fit: fits[0], Weight: 1}, {Fit: fits[1], Weight: -1}, {Fit: fits[2], Weight: -0.5},
		{Fit: fits[3], Weight: 0.25}, {Fit: fits[4], Weight: 0.25}}
	before := study.Uncertainty(contrast)
	for _, f := range fits {
		s := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerInstrument, Of: "I", Name: "offset"}}
		s.By[study.OutSolarT] = 7
		f.Errors.Shared = append(f.Errors.Shared, s)
	}
	assert.InDelta(t, before, study.Uncertainty(contrast), 1e-12*before)
	for q := range study.NumberOfOutputs {
		assert.Zero(t, study.Uncertainty([]study.Weighted{{fits[0], q, 1}, {fits[0], q, -1}}))
	}
}

// The order of the terms does not matter, and a sum is bilinear.
func TestCovarianceIsBilinear(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	f := drawnFits(rng, 3)
	a, b, c := study.Weighted{f[0], study.OutSolarT, 2}, study.Weighted{f[1], study.OutSolarT, -1}, study.Weighted{f[0], study.OutGain, 3}
	d := []study.Weighted{{f[2], study.OutSolid, 1}, {f[0], study.OutSolarT, 1}}
	want := study.Covariance([]study.Weighted{a}, d) + study.Covariance([]study.Weighted{b}, d) +
		study.Covariance([]study.Weighted{c}, d)
	for _, order := range [][]study.Weighted{{a, b, c}, {c, a, b}, {b, c, a}} {
		assert.InDelta(t, want, study.Covariance(order, d), 1e-12)
		assert.InDelta(t, want, study.Covariance(d, order), 1e-12)
	}
}
