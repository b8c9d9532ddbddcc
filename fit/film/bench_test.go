package film_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// peerSets are 200 made-up spots as the peer in testdata/peer fits them: a porous
// film on lossless soda-lime glass, 401 wavelengths at 8, 30, 45 and 60 degrees,
// noise 0.0005 declared; thickness 70-160 nm, porosity 0.15-0.55, bare fraction
// 0.02-0.35, scale 0.9-1.1.
func peerSets(b *testing.B, setup film.Setup) []*film.Spot {
	silica, err := optics.FusedSilica().At(550)
	require.NoError(b, err)
	setup.Glass = film.Glass{Index: optics.SodaLime().Lossless()}
	rng := rand.New(rand.NewPCG(2024, 6))
	nm, sets := grid(380, 1180, 2), make([]*film.Spot, 200)
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	for i := range sets {
		tr := truth{between(70, 160), between(0.15, 0.55), between(0.02, 0.35), between(0.9, 1.1), real(silica)}
		sets[i] = &film.Spot{Setup: setup}
		for _, angle := range fourAngles {
			c := film.Curve{NM: nm, R: tr.reflectance(b, nm, angle, setup.Glass.Index), AngleDeg: angle, Pol: optics.U,
				NoiseSD: 0.0005}
			for k := range c.R {
				c.R[k] += c.NoiseSD * rng.NormFloat64()
			}
			sets[i].Curves = append(sets[i].Curves, c)
		}
	}
	return sets
}

// BenchmarkFitPeer is the fit that testdata/peer does with SciPy: 1604 points, four
// parameters (thickness, porosity, bare fraction and scale, without priors). A whole
// fit: starts found, bounds, both models, covariance, flags.
func BenchmarkFitPeer(b *testing.B) {
	silica, err := optics.FusedSilica().At(550)
	require.NoError(b, err)
	benchmarkSets(b, film.Setup{Coating: film.Coating{Skeleton: real(silica)},
		Known: sessionOnly(film.Session{UScale: math.Inf(1)})})
}

// BenchmarkFitDefault fits the same spots with the default law: about 22 parameters, structure among them.
func BenchmarkFitDefault(b *testing.B) { benchmarkSets(b, film.Setup{}) }

func benchmarkSets(b *testing.B, setup film.Setup) {
	sets := peerSets(b, setup)
	f, ctx, i := film.NewFitter(sets[0].Setup), context.Background(), 0
	_, err := f.Fit(ctx, sets[0])
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := f.Fit(ctx, sets[i]); err != nil {
			require.NoError(b, err)
		}
		i = (i + 1) % len(sets)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "fits/s")
}

// BenchmarkFit is one whole four-angle fit of 4 x 361 points with the default
// model: noise estimate, starts found, both models, covariance, flags.
func BenchmarkFit(b *testing.B) {
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(b, grid(380, 1100, 2), fourAngles, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := film.Fit(context.Background(), spot); err != nil {
			require.NoError(b, err)
		}
	}
}

// BenchmarkFitter is the same fit as one of many: the tables of the grid are there.
func BenchmarkFitter(b *testing.B) {
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(b, grid(380, 1100, 2), fourAngles, 1)
	f := film.NewFitter(spot.Setup)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := f.Fit(context.Background(), spot); err != nil {
			require.NoError(b, err)
		}
	}
}

// BenchmarkFitPoor fits a spot that no film of the model explains: between 850 and 900 nm it reads 0.02 too much.
func BenchmarkFitPoor(b *testing.B) {
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(b, grid(380, 1100, 2), fourAngles, 1)
	for k := range spot.Curves {
		for i, nm := range spot.Curves[k].NM {
			if nm >= 850 && nm <= 900 {
				spot.Curves[k].R[i] += 0.02
			}
		}
	}
	spot.Known = nil
	f := film.NewFitter(spot.Setup)
	b.ReportAllocs()
	for b.Loop() {
		v, err := f.Fit(context.Background(), spot)
		require.NoError(b, err)
		require.Contains(b, v.Flags, "poor-fit")
	}
}
