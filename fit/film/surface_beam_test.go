package film

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// The points and weights of the quadratures give the moments of what they average
// over: a triangle of width at half maximum 1 (1/6, 1/15), a normal distribution
// (1, 3, 15, 105, 945, 10395), a disc (half-angle squared over 4 along one axis).
func TestQuadratures(t *testing.T) {
	moment := func(q quadrature, n int) (sum float64) {
		for _, p := range q {
			sum += p.weight * math.Pow(p.at, float64(n))
		}
		return sum
	}
	for n, want := range []float64{1, 0, 1. / 6, 0, 1. / 15, 0} {
		assert.InDelta(t, want, moment(slit, n), 1e-15, "slit, moment %d", n)
	}
	for n, want := range []float64{1, 0, 1, 0, 3, 0, 15, 0, 105, 0, 945, 0, 10395, 0} {
		assert.InDelta(t, want, moment(gauss, n), 1e-15*math.Pow(3.75, float64(n)),
			"normal, moment %d: rounding of its largest term", n)
	}
	weights, across, fourth := 0.0, 0.0, 0.0
	half := 3 * math.Pi / 180
	for _, r := range cone(3) {
		weights += r.weight
		x := r.polar * math.Cos(r.azimuth)
		across += r.weight * x * x
		fourth += r.weight * x * x * x * x
	}
	assert.InDelta(t, 1, weights, 1e-15)
	assert.InDelta(t, half*half/4, across, 1e-15)         // the mean of x² over a disc
	assert.InDelta(t, math.Pow(half, 4)/8, fourth, 1e-15) // and of x⁴
	assert.Equal(t, []ray{{weight: 1}}, cone(0))
}

// What an instrument reads is the mean of what the general stack gives over many
// directions, wavelengths and thicknesses, summed here by brute force.
func TestAveragesAgainstStack(t *testing.T) {
	const d, index, angle = 118.0, 1.30, 45.0
	nm := []float64{380, 450, 550, 700, 900, 1100}
	glass := optics.BorosilicateCrown()
	stack := func(d, lambda, angle float64) float64 {
		s := optics.Stack{Films: []optics.Film{{Index: optics.Constant("film", index), ThicknessNM: d}}, Substrate: glass}
		r, _, err := s.RT(nil, nil, []float64{lambda}, angle, optics.U)
		require.NoError(t, err)
		return r[0]
	}
	for _, c := range []struct {
		name       string
		instrument Instrument
		mean       func(lambda float64) float64
	}{
		{"slit", Instrument{SlitNM: 20}, func(lambda float64) float64 {
			sum, weight := 0.0, 0.0
			for x := -19.95; x < 20; x += 0.1 {
				w := 20 - math.Abs(x)
				sum, weight = sum+w*stack(d, lambda+x, angle), weight+w
			}
			return sum / weight
		}},
		{"cone", Instrument{ConeDeg: 6}, func(lambda float64) float64 {
			sum, n := 0.0, 0
			axis := angle * math.Pi / 180
			for x := -5.9; x < 6; x += 0.2 {
				for y := -5.9; y < 6; y += 0.2 {
					polar := math.Hypot(x, y) * math.Pi / 180
					if polar > 6*math.Pi/180 {
						continue
					}
					cos := math.Cos(axis)*math.Cos(polar) + math.Sin(axis)*math.Sin(polar)*x*math.Pi/180/polar
					sum += stack(d, lambda, math.Acos(cos)*180/math.Pi)
					n++
				}
			}
			return sum / float64(n)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			spot := &Spot{Setup: Setup{Glass: Glass{Index: glass}, Instrument: c.instrument},
				Curves: []Curve{{NM: nm, R: make([]float64, len(nm)), AngleDeg: angle, Pol: 0.5}}}
			m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1})
			require.NoError(t, err)
			v := m.curves[0].view
			for i := range v.layer.eps { // a film without dispersion, as in the stack
				v.layer.eps[i] = index * index
			}
			v.layer.index, v.layer.skeleton = index, 1.458
			v.setFilm(&filmState{d: d, index: index, skeleton: 1.458}, &sight{})
			for i, lambda := range nm {
				// 1e-6 is what the coarse sum over the disc leaves
				assert.InDelta(t, c.mean(lambda), 0.5*(v.faces[0].r[i]+v.faces[1].r[i]), 2e-6, "%g nm", lambda)
			}
		})
	}
}

// A step between detectors is found and does no harm to the film, on compressed
// curves; not enrolled, it does.
func TestDetectorJoin(t *testing.T) {
	ctx := context.Background()
	spot := noisySpot(t, optics.BorosilicateCrown(), 150, 0.1, 3)
	for k := range spot.Curves {
		c := &spot.Curves[k]
		for i, nm := range c.NM {
			if nm >= 860 {
				c.R[i] += 0.003
			}
		}
	}
	blind, err := Fit(ctx, spot)
	require.NoError(t, err)
	spot.Instrument = Instrument{JoinsNM: []float64{860}, UJoin: 0.002}
	v, err := Fit(ctx, spot)
	require.NoError(t, err)
	require.NotNil(t, v.model.curves[0].packed, "compressed")
	require.Len(t, v.model.curves, 8)
	assert.Less(t, v.ReducedChi2, 1.1)
	assert.Greater(t, blind.ReducedChi2, 1.5)
	step := v.model.pJoin(0)
	assert.InDelta(t, 0.003, v.chosen.x[step], 4*math.Sqrt(v.chosen.cov.At(step, step)))
	assert.InDelta(t, 150/1.29, v.ThicknessNM.Value, 4*v.ThicknessNM.U)
	curves, err := v.Curves()
	require.NoError(t, err)
	require.Len(t, curves, 4, "a curve is one curve, however many detectors read it")
	assert.Len(t, curves[0].Fitted, 401)
}
