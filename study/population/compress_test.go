package population

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/mixed"
	"wane/study"
	"wane/study/series"
)

// lawful makes up a study of two coatings, with controls, whose values share errors of sessions, of coupons, of coatings and of an
// instrument, of sizes that differ a hundredfold, as the errors of readings do.
func lawful(seed uint64, coupons, pulls int) *series.Data {
	r := rand.New(rand.NewPCG(seed, 1))
	d := &series.Data{Quantity: series.Quantity{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1}, Route: study.RouteControls}
	const perSession, perCoupon, perCoating, perInstrument = 15, 6, 2, 4
	effects := pulls*perSession + coupons*perCoupon + 2*perCoating + perInstrument
	d.Effects = make([]study.Effect, effects)
	typical := make([]float64, effects)
	size := make([]float64, effects)
	off := make([]float64, effects)
	for e := range effects {
		size[e] = 0.02 * math.Pow(100, -r.Float64())
		typical[e], off[e] = r.NormFloat64(), r.NormFloat64()
	}
	for i := range coupons {
		c := series.Coupon{Coupon: string(rune('a' + i)), Role: study.Exposed, Coating: []string{"A", "B"}[i%2],
			Exposure: "rig", DoseUnit: "cycles"}
		if i >= coupons-4 {
			c.Role = study.Control
		}
		a, b := 0.05*r.NormFloat64(), -0.3+0.05*float64(i%2)+0.02*r.NormFloat64()
		for pull := range pulls {
			p := series.Point{Pull: pull, Session: string(rune('k' + pull)), Level: series.Value{Errors: series.Errors{Known: true, Own: 1e-5}}}
			if c.Role == study.Exposed {
				p.Dose = float64(pull) / float64(pulls-1)
			}
			p.Level.Value = 96 + a + b*p.Dose + math.Sqrt(1e-5)*r.NormFloat64()
			share := func(from, n int) {
				for e := from; e < from+n; e++ {
					by := size[e] * (typical[e] + 0.2*r.NormFloat64())
					p.Level.Shared = append(p.Level.Shared, series.Share{Effect: e, By: by})
					p.Level.Value += by * off[e]
				}
			}
			share(pull*perSession, perSession)
			share(pulls*perSession+i*perCoupon, perCoupon)
			share(pulls*perSession+coupons*perCoupon+i%2*perCoating, perCoating)
			share(effects-perInstrument, perInstrument)
			c.Points = append(c.Points, p)
		}
		d.Coupons = append(d.Coupons, c)
	}
	return d
}

// The variance of a value does not change, and what two values share is off by no more than what is discarded of them.
func TestCompressedErrors(t *testing.T) {
	d := lawful(1, 12, 5)
	s := newSample(d, Options{})
	c := compress(s.values, len(d.Effects))
	of := func(i int) map[int]float64 {
		m := map[int]float64{}
		for _, s := range c.shared[i] {
			m[s.Effect] += s.By
		}
		return m
	}
	for i := range s.values {
		v := &s.values[i]
		a, sum := of(i), c.own[i]
		for _, by := range a {
			sum += by * by
		}
		assert.InEpsilon(t, v.Variance(), sum, 1e-12)
		for j := range i {
			o, b := &s.values[j], of(j)
			shared := 0.0
			for e, by := range a {
				shared += by * b[e]
			}
			assert.InDelta(t, series.Covariance(v.Errors, o.Errors), shared, Discarded*math.Sqrt(v.Variance()*o.Variance()))
		}
	}
	assert.Less(t, c.effects, len(d.Effects)*2/3)
}

// The rates with errors in fewer effects are those with all of them.
func TestCompressedModel(t *testing.T) {
	d := lawful(2, 16, 6)
	p, err := Fit(t.Context(), d, Options{})
	require.NoError(t, err)
	whole := p.model
	whole.Known, whole.Shared = nil, nil
	for i := range p.values {
		v := &p.values[i]
		var shared []mixed.Share
		for _, s := range v.Shared {
			shared = append(shared, mixed.Share{Effect: s.Effect, By: s.By})
		}
		whole.Known, whole.Shared = append(whole.Known, v.Own), append(whole.Shared, shared)
	}
	want, err := whole.Fit(t.Context())
	require.NoError(t, err)
	for g := range p.Groups {
		require.Empty(t, p.Groups[g].Rate.Why)
		w := make([]float64, len(want.Coefficients))
		w[p.rates[g]] = 1
		c, got := want.Contrast(w), p.Groups[g].Rate
		assert.InDelta(t, c.Estimate, got.Value, 0.002*c.SE)
		assert.InEpsilon(t, c.SE, got.SE, 0.001)
		assert.InEpsilon(t, c.DoF, got.DoF, 0.005)
		t.Log(c, got)
	}
	assert.InEpsilon(t, want.Residuals[0]+1e-9, p.fit.Residuals[0]+1e-9, 0.01)
}
