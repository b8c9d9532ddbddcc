package optics_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// The fast path against the general stack, which shares no code with it, for
// films and glasses drawn at random, absorbing glass included.
func TestSurfaceEqualsStack(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 200 {
		nm := []float64{300 + 2000*rng.Float64()}
		n, d, angle := 1.05+1.5*rng.Float64(), 3000*rng.Float64(), 89*rng.Float64()
		glass := optics.Constant("glass", complex(1.3+2*rng.Float64(), 0.5*rng.Float64()))
		face, err := optics.NewSurface(nm, angle, glass)
		require.NoError(t, err)
		s, p := optics.NewFilmResponse(1), optics.NewFilmResponse(1)
		face.Film(s, p, d, []float64{n * n})
		stack := optics.Stack{Films: []optics.Film{{Index: optics.Constant("film", complex(n, 0)), ThicknessNM: d}},
			Substrate: glass}
		bareS, bareP := face.Bare()
		for _, c := range []struct {
			pol        optics.Polarisation
			film, bare float64
		}{{optics.S, s.R[0], bareS.R[0]}, {optics.P, p.R[0], bareP.R[0]}} {
			want, _, err := stack.RT(nil, nil, nm, angle, c.pol)
			require.NoError(t, err)
			assert.InDelta(t, want[0], c.film, 1e-11, "n %g, d %g nm, %g degrees, pol %v", n, d, angle, c.pol)
			want, _, err = optics.Stack{Substrate: glass}.RT(nil, nil, nm, angle, c.pol)
			require.NoError(t, err)
			assert.InDelta(t, want[0], c.bare, 1e-12)
		}
	}
}

// The derivatives against central differences at generic points.
func TestSurfaceDerivatives(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 2))
	for range 50 {
		nm := []float64{350 + 1500*rng.Float64()}
		eps, d, angle := 1.2+1.2*rng.Float64(), 20+400*rng.Float64(), 80*rng.Float64()
		face, err := optics.NewSurface(nm, angle, optics.Constant("glass", complex(1.5, 0.2)))
		require.NoError(t, err)
		at := func(d, eps float64) (s, p optics.FilmResponse) {
			s, p = optics.NewFilmResponse(1), optics.NewFilmResponse(1)
			face.Film(s, p, d, []float64{eps})
			return s, p
		}
		s, p := at(d, eps)
		const h = 1e-5
		upS, upP := at(d+h*100, eps)
		downS, downP := at(d-h*100, eps)
		assert.InDelta(t, (upS.R[0]-downS.R[0])/(200*h), s.DNM[0], 1e-9)
		assert.InDelta(t, (upP.R[0]-downP.R[0])/(200*h), p.DNM[0], 1e-9)
		upS, upP = at(d, eps+h)
		downS, downP = at(d, eps-h)
		set := func(angle, shift float64) (s, p optics.FilmResponse, bareS, bareP float64) {
			face.Set(angle, shift)
			s, p = at(d, eps)
			bs, bp := face.Bare()
			return s, p, bs.R[0], bp.R[0]
		}
		const da = 1e-3 // degrees
		hiS, hiP, hiBareS, hiBareP := set(angle+da, 0)
		loS, loP, loBareS, loBareP := set(angle-da, 0)
		const dn = 1e-4
		moreS, moreP, moreBareS, moreBareP := set(angle, dn)
		lessS, lessP, lessBareS, lessBareP := set(angle, -dn)
		face.Set(angle, 0)
		bareS, bareP := face.Bare()
		assert.InDelta(t, (hiS.R[0]-loS.R[0])/(2*da), s.DAngle[0], 1e-8)
		assert.InDelta(t, (hiP.R[0]-loP.R[0])/(2*da), p.DAngle[0], 1e-8)
		assert.InDelta(t, (hiBareS-loBareS)/(2*da), bareS.DAngle[0], 1e-8)
		assert.InDelta(t, (hiBareP-loBareP)/(2*da), bareP.DAngle[0], 1e-8)
		assert.InDelta(t, (moreS.R[0]-lessS.R[0])/(2*dn), s.DGlass[0], 1e-7)
		assert.InDelta(t, (moreP.R[0]-lessP.R[0])/(2*dn), p.DGlass[0], 1e-7)
		assert.InDelta(t, (moreBareS-lessBareS)/(2*dn), bareS.DGlass[0], 1e-7)
		assert.InDelta(t, (moreBareP-lessBareP)/(2*dn), bareP.DGlass[0], 1e-7)

		scale := math.Max(1, math.Abs(p.DEps[0])) // a difference of 1e-5 carries 1e-8 of third order
		assert.InDelta(t, (upS.R[0]-downS.R[0])/(2*h), s.DEps[0], 1e-7*scale)
		assert.InDelta(t, (upP.R[0]-downP.R[0])/(2*h), p.DEps[0], 1e-7*scale)
	}
}

func TestSurfaceFilmAllocatesNothing(t *testing.T) {
	nm := []float64{400, 500, 600}
	face, err := optics.NewSurface(nm, 8, optics.SodaLime())
	require.NoError(t, err)
	s, p, eps := optics.NewFilmResponse(3), optics.NewFilmResponse(3), []float64{1.6, 1.6, 1.6}
	assert.Zero(t, testing.AllocsPerRun(100, func() { face.Film(s, p, 120, eps) }))
	angle := 8.0
	assert.Zero(t, testing.AllocsPerRun(100, func() { angle += 0.01; face.Set(angle, 0.001) }))
}

// BenchmarkSet reports the time of one point of a surface that is turned.
func BenchmarkSet(b *testing.B) {
	nm := make([]float64, 401)
	for i := range nm {
		nm[i] = 380 + 2*float64(i)
	}
	face, err := optics.NewSurface(nm, 45, optics.SodaLime())
	require.NoError(b, err)
	angle := 45.0
	b.ReportAllocs()
	for b.Loop() {
		angle = 91 - angle
		face.Set(angle, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/401, "ns/point")
}

// BenchmarkFilm reports the time of one point with derivatives.
func BenchmarkFilm(b *testing.B) {
	nm, eps := make([]float64, 401), make([]float64, 401)
	for i := range nm {
		nm[i], eps[i] = 380+2*float64(i), 1.65
	}
	face, err := optics.NewSurface(nm, 45, optics.SodaLime())
	require.NoError(b, err)
	s, p := optics.NewFilmResponse(401), optics.NewFilmResponse(401)
	b.ReportAllocs()
	for b.Loop() {
		face.Film(s, p, 118, eps)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/401, "ns/point")
}
