package film_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/film"
	"wane/optics"
)

var (
	freshFilm = truth{118, 0.36, 0, 1, 1.458}
	blank     = truth{0, 0.36, 1, 1, 1.458}
)

// slope returns the derivative of the reflectance by the angle, per degree, by differences of the general stack.
func (t truth) slope(tb testing.TB, nm []float64, angle float64) []float64 {
	up, down := t.reflectance(tb, nm, angle+0.02, optics.SodaLime()), t.reflectance(tb, nm, angle-0.02, optics.SodaLime())
	floats.Sub(up, down)
	floats.Scale(1/0.04, up)
	return up
}

// placementDraw is what one placement does to the curves.
type placementDraw struct {
	factor     []float64 // of each curve, about 1
	tilt, zero float64   // degrees, fraction
}

// drawPlacements returns n placements with normal effects.
func drawPlacements(n, curves int, uFactor, uTilt, uZero float64, rng *rand.Rand) []placementDraw {
	draws := make([]placementDraw, n)
	for m := range draws {
		d := &draws[m]
		d.tilt, d.zero = uTilt*rng.NormFloat64(), uZero*rng.NormFloat64()
		for range curves {
			d.factor = append(d.factor, 1+uFactor*rng.NormFloat64())
		}
	}
	return draws
}

// remounts returns the curves of placements of a film, with normal noise.
func (t truth) remounts(tb testing.TB, nm, angles []float64, draws []placementDraw, noise float64,
	rng *rand.Rand) []film.Remounted {
	out := make([]film.Remounted, len(angles))
	for k, a := range angles {
		r := t.reflectance(tb, nm, a, optics.SodaLime())
		out[k] = film.Remounted{NM: nm, TiltSlope: t.slope(tb, nm, a)}
		for _, d := range draws {
			row := make([]float64, len(nm))
			for i := range row {
				row[i] = d.factor[k]*r[i] + d.tilt*out[k].TiltSlope[i] + d.zero
				if noise > 0 {
					row[i] += noise * rng.NormFloat64()
				}
			}
			out[k].R = append(out[k].R, row)
		}
	}
	return out
}

// Without noise the placements scatter as they were drawn: by the sample standard deviation of their effects, with M-1
// degrees of freedom each. The factors are drawn in pairs about 1, since a factor counts relative to the mean curve.
func TestPlacementWithoutNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 30))
	draws := drawPlacements(8, 4, 0.002, 0.05, 0.0002, rng)
	for m := 0; m < len(draws); m += 2 {
		for k, f := range draws[m].factor {
			draws[m+1].factor[k] = 2 - f
		}
		draws[m+1].tilt, draws[m+1].zero = -draws[m].tilt, -draws[m].zero
	}
	var tilts, zeros []float64
	factors := 0.0
	for _, d := range draws {
		tilts, zeros = append(tilts, d.tilt), append(zeros, d.zero)
		for _, f := range d.factor {
			factors += (f - 1) * (f - 1) / 4 / 7
		}
	}
	p, err := film.MeasurePlacement(freshFilm.remounts(t, grid(380, 1100, 5), fourAngles, draws, 0, nil), 0.95)
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt(factors), p.Factor.SD, 1e-9)
	assert.InEpsilon(t, stat.StdDev(tilts, nil), p.Tilt.SD, 1e-9)
	assert.InEpsilon(t, stat.StdDev(zeros, nil), p.Zero.SD, 1e-9)
	assert.Equal(t, 8, p.Placements)
}

// Ten placements of a coated coupon and of a blank at four angles, with effects and noise drawn anew for each series:
// the mean variance is the one that they were drawn from, and 95 % intervals cover it. From 10 to 90 % of the estimates
// of a factor of 0.2 % lie within 0.15 to 0.24 %, narrower than the 0.14 to 0.26 % of one curve. (200 series each:
// 0.151 to 0.241 % and 0.158 to 0.242 %, and intervals that cover in 93 %.)
func TestPlacementOfSimulatedSeries(t *testing.T) {
	const runs = 120
	truths := []float64{0.002, 0.05, 0.0002}
	for name, of := range map[string]truth{"coated": freshFilm, "blank": blank} {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(2, 30))
			variances, covered, factors := make([][]float64, 3), make([]int, 3), []float64{}
			for range runs {
				draws := drawPlacements(10, 4, truths[0], truths[1], truths[2], rng)
				p, err := film.MeasurePlacement(of.remounts(t, grid(380, 1100, 2), fourAngles, draws, 0.0003, rng), 0.95)
				require.NoError(t, err)
				factors = append(factors, p.Factor.SD)
				for k, r := range []film.ScatterRange{p.Factor, p.Tilt, p.Zero} {
					variances[k] = append(variances[k], r.SD*r.SD/truths[k]/truths[k])
					if r.Lower <= truths[k] && truths[k] <= r.Upper {
						covered[k]++
					}
				}
			}
			least := binomialLower(runs, 0.95)
			for k := range truths {
				mean, sd := stat.MeanStdDev(variances[k], nil)
				assert.InDelta(t, 1, mean, 3.5*sd/math.Sqrt(runs))
				assert.GreaterOrEqual(t, covered[k], least)
			}
			slices.Sort(factors)
			assert.InDelta(t, 0.0015, factors[runs/10], 0.00015, "the quantiles of 120 vary by 0.00005")
			assert.InDelta(t, 0.0024, factors[runs*9/10], 0.00015)
		})
	}
}

// binomialLower is the lower end of the exact 99.9 % range of a binomial count.
func binomialLower(n int, p float64) int {
	b := distuv.Binomial{N: float64(n), P: p}
	for k := range n {
		if b.CDF(float64(k)) > 0.0005 {
			return k
		}
	}
	return n
}

// The slope by tilt of a fit is that of the general stack at the film fitted, to what noise leaves uncertain of the
// film.
func TestTiltSlopes(t *testing.T) {
	nm := grid(380, 1100, 4)
	for name, of := range map[string]truth{"coated": freshFilm, "blank": blank} {
		t.Run(name, func(t *testing.T) {
			spot := of.spot(t, nm, []float64{0, 8, 45, 60}, 3)
			v, err := film.Fit(t.Context(), spot)
			require.NoError(t, err)
			slopes, err := v.TiltSlopes(spot.Curves)
			require.NoError(t, err)
			assert.Equal(t, make([]float64, len(nm)), slopes[0], "R has no slope at normal incidence")
			for k, c := range spot.Curves[1:] {
				want := of.slope(t, nm, c.AngleDeg)
				largest := max(floats.Max(want), -floats.Min(want))
				assert.InDeltaSlice(t, want, slopes[k+1], 0.03*largest, "%g degrees", c.AngleDeg)
			}
		})
	}
}

// Noise that hangs together along the wavelength counts for more than its second differences show.
func TestPlacementOfCorrelatedNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 30))
	draws := drawPlacements(10, 4, 0.002, 0.05, 0.0002, rng)
	series := freshFilm.remounts(t, grid(400, 1100, 5), fourAngles, draws, 0, nil)
	const rho = 0.7
	for k := range series {
		for _, r := range series[k].R {
			e := 0.0
			for i := range r {
				e = rho*e + math.Sqrt(1-rho*rho)*0.0003*rng.NormFloat64()
				r[i] += e
			}
		}
	}
	p, err := film.MeasurePlacement(series, 0.95)
	require.NoError(t, err)
	// Second differences of such a process have the variance (6 - 8ρ + 2ρ²)/6 of those of independent noise, and n points
	// are worth n·(1-ρ)/(1+ρ): together, by the formulas of autoregressive processes.
	want := (1 + rho) / (1 - rho) * 6 / (6 - 8*rho + 2*rho*rho)
	assert.InEpsilon(t, want, p.NoiseFactor, 0.15)
}

func TestPlacementFaults(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 30))
	series := func(angles []float64, placements int) []film.Remounted {
		draws := drawPlacements(placements, len(angles), 0.002, 0.05, 0.0002, rng)
		return freshFilm.remounts(t, grid(400, 1100, 20), angles, draws, 0.0003, rng)
	}
	flat := series(fourAngles, 3)
	for m := range flat[1].R {
		for i := range flat[1].R[m] {
			flat[1].R[m][i] = 0.04 + 0.001*float64(m)
		}
	}
	broken := series(fourAngles, 3)
	broken[2].R[1][5] = math.NaN()
	same := series(fourAngles, 1)
	for k := range same {
		same[k].R = append(same[k].R, same[k].R[0], same[k].R[0])
	}
	normal := series([]float64{8}, 3)
	clear(normal[0].TiltSlope)
	for says, curves := range map[string][]film.Remounted{
		"film: series: no curve is given": nil,
		"film: series: 2 placements are too few to say how they scatter; at least 3 are needed": series(fourAngles, 2),
		"film: curve 2: its values are all equal, which is not a spectrum":                      flat,
		"film: curve 1 of placement 2: its readings are those of placement 1":                   same,
		"film: curve 3 of placement 2: point 6 is not a finite number":                          broken,
		"film: series: its curves do not distinguish a factor, a tilt and a zero":               normal,
	} {
		_, err := film.MeasurePlacement(curves, 0.95)
		var in *film.InputError
		require.ErrorAs(t, err, &in)
		assert.EqualError(t, err, says)
		assert.NotEmpty(t, in.Try)
	}
	assert.Panics(t, func() { _, _ = film.MeasurePlacement(slices.Clone(flat), 1) })
}
