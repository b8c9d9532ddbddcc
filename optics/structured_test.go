package optics_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/solar"
)

// structured evaluates a structured film of silica and air at one wavelength, with at
// least the given number of steps, on a glass whose index is off by dn.
func structured(t testing.TB, m optics.Mixing, film optics.StructuredFilm, nm, angle, dn float64, glass optics.Index,
	steps int) (s, p optics.StructuredResponse) {
	t.Helper()
	profile, err := optics.NewProfile([]float64{nm}, m, optics.FusedSilica(), 550)
	require.NoError(t, err)
	profile.RaiseSteps(steps)
	profile.Set(film)
	face, err := optics.NewSurface([]float64{nm}, angle, glass)
	require.NoError(t, err)
	face.Set(angle, dn)
	s, p = optics.NewStructuredResponse(1), optics.NewStructuredResponse(1)
	face.Structured(s, p, profile)
	return s, p
}

// The derivatives against central differences of the reflectance, at generic films:
// gradients, skins and variances below zero and above, clipped and thick films,
// absorbing glass. The steps are as many for all gradients in every second film, so
// that the differences do not straddle a change of their number.
func TestStructuredDerivatives(t *testing.T) {
	rng := seeded(34)
	for i := range 300 {
		film := optics.StructuredFilm{
			ThicknessNM: uniform(rng, 5, 400), Index: uniform(rng, 1.15, 1.4), Skeleton: uniform(rng, 1.44, 1.48),
			Gradient: uniform(rng, -0.1, 0.1), SkinNM: uniform(rng, -15, 30), Variance: uniform(rng, -0.01, 0.06),
		}
		steps := 0
		if i%2 == 1 {
			film.Gradient, steps = uniform(rng, -0.3, 0.3), 24
		}
		if i%10 == 0 { // between the rules of quadrature
			film.ThicknessNM, film.Variance = uniform(rng, 5, 149), uniform(rng, 0.0081, 0.0099)
		}
		nm, angle := uniform(rng, 350, 1500), uniform(rng, 5, 75)
		glass := medium(complex(1.5, 0.1*float64(rng.IntN(2))))
		mixing := rules[rng.IntN(len(rules))]
		s, p := structured(t, mixing, film, nm, angle, 0, glass, steps)
		for _, c := range []struct {
			name             string
			s, p, step, near float64
			change           func(f *optics.StructuredFilm, angle, dn *float64, h float64)
		}{
			{"thickness", s.DNM[0], p.DNM[0], 1e-3, 1e-8,
				func(f *optics.StructuredFilm, _, _ *float64, h float64) { f.ThicknessNM += h }},
			{"index", s.DIndex[0], p.DIndex[0], 1e-5, 1e-7,
				func(f *optics.StructuredFilm, _, _ *float64, h float64) { f.Index += h }},
			{"skeleton", s.DSkeleton[0], p.DSkeleton[0], 1e-5, 1e-7,
				func(f *optics.StructuredFilm, _, _ *float64, h float64) { f.Skeleton += h }},
			{"gradient", s.DGradient[0], p.DGradient[0], 1e-5, 1e-7,
				func(f *optics.StructuredFilm, _, _ *float64, h float64) { f.Gradient += h }},
			{"skin", s.DSkin[0], p.DSkin[0], 1e-3, 1e-8,
				func(f *optics.StructuredFilm, _, _ *float64, h float64) { f.SkinNM += h }},
			{"variance", s.DVariance[0], p.DVariance[0], 1e-6, 1e-7,
				func(f *optics.StructuredFilm, _, _ *float64, h float64) { f.Variance += h }},
			{"angle", s.DAngle[0], p.DAngle[0], 1e-3, 1e-8,
				func(_ *optics.StructuredFilm, a, _ *float64, h float64) { *a += h }},
			{"glass", s.DGlass[0], p.DGlass[0], 1e-5, 1e-7,
				func(_ *optics.StructuredFilm, _, dn *float64, h float64) { *dn += h }},
		} {
			at := func(h float64) (float64, float64) {
				f, a, dn := film, angle, 0.0
				c.change(&f, &a, &dn, h)
				s, p := structured(t, mixing, f, nm, a, dn, glass, steps)
				return s.R[0], p.R[0]
			}
			upS, upP := at(c.step)
			loS, loP := at(-c.step)
			// a difference carries an error of the third order beside that of rounding
			assert.InDelta(t, (upS-loS)/(2*c.step), c.s, c.near*(1+math.Abs(c.s)), "%s of s: %+v, %g nm, %g°, %v",
				c.name, film, nm, angle, mixing)
			assert.InDelta(t, (upP-loP)/(2*c.step), c.p, c.near*(1+math.Abs(c.p)), "%s of p: %+v, %g nm, %g°, %v",
				c.name, film, nm, angle, mixing)
		}
	}
}

// A steady profile has no jump where others change the number of their steps, at a gradient of 0.15, and there it gives what
// a steep one does.
func TestSteadyProfile(t *testing.T) {
	profile, err := optics.NewProfile([]float64{550}, optics.Bruggeman, optics.FusedSilica(), 550)
	require.NoError(t, err)
	face, err := optics.NewSurface([]float64{550}, 30, optics.SodaLime())
	require.NoError(t, err)
	at := func(gradient float64) float64 {
		s, p := optics.NewStructuredResponse(1), optics.NewStructuredResponse(1)
		profile.Set(optics.StructuredFilm{ThicknessNM: 118, Index: 1.3, Skeleton: 1.458, Gradient: gradient, SkinNM: 4})
		face.Structured(s, p, profile)
		return s.R[0]
	}
	below, above := 0.15, math.Nextafter(0.15, 1)
	jump := math.Abs(at(above) - at(below))
	assert.Greater(t, jump, 1e-9)
	assert.Less(t, jump, 1e-5)
	steep := at(above)
	profile.Steady(true)
	assert.Equal(t, steep, at(above))
	assert.InDelta(t, steep, at(below), 1e-14)
	profile.Steady(false)
	assert.Equal(t, jump, math.Abs(at(above)-at(below)))
}

// BenchmarkStructured reports the time of one point of both polarisations with all
// derivatives, as the prior of the variance wants it.
func BenchmarkStructured(b *testing.B) {
	nm := make([]float64, 401)
	for i := range nm {
		nm[i] = 380 + 2*float64(i)
	}
	profile, err := optics.NewProfile(nm, optics.Bruggeman, optics.FusedSilica(), 550)
	require.NoError(b, err)
	face, err := optics.NewSurface(nm, 45, optics.SodaLime())
	require.NoError(b, err)
	film := optics.StructuredFilm{ThicknessNM: 118, Index: 1.3, Skeleton: 1.458, Gradient: 0.03, SkinNM: 4,
		Variance: 0.0025}
	s, p := optics.NewStructuredResponse(len(nm)), optics.NewStructuredResponse(len(nm))
	b.Run("point", func(b *testing.B) {
		profile.Set(film)
		b.ReportAllocs()
		for b.Loop() {
			face.Structured(s, p, profile)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(nm)), "ns/point")
	})
	b.Run("profile", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			film.Gradient = -film.Gradient
			profile.Set(film)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(nm)), "ns/point")
	})
}

// golden evaluates a row of graded_golden.csv, with at least the given number of steps.
func golden(t *testing.T, row map[string]string, steps int) float64 {
	t.Helper()
	at := func(name string) float64 { return number(t, row[name]) }
	mixing, err := optics.ParseMixing(row["mixing"])
	require.NoError(t, err)
	nm := []float64{at("nm")}
	profile, err := optics.NewProfile(nm, mixing, medium(complex(at("skeleton"), 0)), 550)
	require.NoError(t, err)
	profile.RaiseSteps(steps)
	profile.Set(optics.StructuredFilm{ThicknessNM: at("thickness_nm"), Index: at("index"), Skeleton: at("skeleton"),
		Gradient: at("gradient"), SkinNM: at("skin_nm"), Variance: at("variance")})
	face, err := optics.NewSurface(nm, at("angle_deg"), medium(complex(at("glass_n"), at("glass_k"))))
	require.NoError(t, err)
	s, p := optics.NewStructuredResponse(1), optics.NewStructuredResponse(1)
	face.Structured(s, p, profile)
	if row["pol"] == "s" {
		return s.R[0]
	}
	return p.R[0]
}

// Source: graded_golden.csv, by graded_golden.py with SciPy (Airy functions, Runge-Kutta
// through the film, sums of 48 points over the spread): the film is not sliced there.
func TestStructuredAgainstMaxwell(t *testing.T) {
	for _, row := range records(t, "graded_golden.csv", 123) {
		g, v := math.Abs(number(t, row["gradient"])), number(t, row["variance"])
		few, many := 1e-5, 1e-9 // what is left of a smooth profile by two steps and by 32
		if g > 0.05 {
			few, many = 4e-5, 5e-9
		}
		switch {
		case row["case"] == "airy":
			many = 5e-10
		case strings.HasPrefix(row["case"], "clipped"):
			few, many = 1e-5, 1e-6 // a corner lies within one of the steps
		}
		switch { // what three points leave of the mean over the spread
		case v >= 0.01 && number(t, row["thickness_nm"]) == 150:
			many = 1e-5
		case math.Abs(v) >= 0.01:
			many = 1e-6
		case v != 0:
			many = 5e-8
		}
		want := number(t, row["R"])
		assert.InDelta(t, want, golden(t, row, 0), max(few, many), "few steps: %v", row)
		assert.InDelta(t, want, golden(t, row, 32), many, "32 steps: %v", row)
	}
}

// Two uniform layers, the skin and the film, against the general stack, with the
// dispersion of silica and absorbing glass.
func TestSkinAgainstStack(t *testing.T) {
	rng := seeded(31)
	for range 300 {
		film := optics.StructuredFilm{ThicknessNM: uniform(rng, 0, 400), Index: uniform(rng, 1.1, 1.45),
			Skeleton: uniform(rng, 1.44, 1.48), SkinNM: uniform(rng, 0, 40)}
		nm, angle := uniform(rng, 300, 2500), uniform(rng, 0, 85)
		glass := medium(complex(uniform(rng, 1.4, 1.9), uniform(rng, 0, 0.2)))
		s, p := structured(t, optics.LorentzLorenz, film, nm, angle, 0, glass, 0)

		silica := optics.FusedSilica()
		ref, err := silica.At(550)
		require.NoError(t, err)
		solid := silica.Shifted(film.Skeleton - real(ref))
		n, err := solid.At(nm)
		require.NoError(t, err)
		porosity := optics.LorentzLorenz.Porosity(complex(film.Index*film.Index, 0),
			complex(film.Skeleton*film.Skeleton, 0), 1)
		eps := optics.LorentzLorenz.Mix(n*n, 1, real(porosity))
		stack := optics.Stack{Substrate: glass, Films: []optics.Film{{Index: solid, ThicknessNM: film.SkinNM},
			{Index: medium(cmplx.Sqrt(eps)), ThicknessNM: film.ThicknessNM}}}
		for pol, got := range map[optics.Polarisation]float64{optics.S: s.R[0], optics.P: p.R[0]} {
			want, _ := one(t, stack.RT, nm, angle, pol)
			assert.InDelta(t, want, got, 1e-12, "%+v, %g nm, %g°, s share %g", film, nm, angle, pol)
		}
	}
}

// sliced is a film as n layers in equal steps of depth, each of the porosity in its
// middle, of silica and air at one wavelength.
func sliced(t *testing.T, film optics.StructuredFilm, nm float64, n int, glass optics.Index) optics.Stack {
	t.Helper()
	silica := optics.FusedSilica()
	ref, err := silica.At(550)
	require.NoError(t, err)
	solid, err := silica.At(nm)
	require.NoError(t, err)
	solid += complex(film.Skeleton, 0) - ref
	p := real(optics.Bruggeman.Porosity(complex(film.Index*film.Index, 0), complex(film.Skeleton*film.Skeleton, 0), 1))
	stack := optics.Stack{Substrate: glass}
	for j := range n {
		at := p + film.Gradient*(2*(float64(j)+0.5)/float64(n)-1)
		eps := optics.Bruggeman.Mix(solid*solid, 1, min(max(at, 0), 0.95))
		stack.Films = append(stack.Films, optics.Film{Index: medium(cmplx.Sqrt(eps)),
			ThicknessNM: film.ThicknessNM / float64(n)})
	}
	return stack
}

// The solar-weighted transmittance at normal incidence, 300 to 2500 nm, within 0.0005
// percentage points of fifty slices, which is what the steps are chosen for. Where the
// steepest profiles are clipped, fifty slices are 0.0006 off 400 themselves, and 400
// are taken.
func TestSolarTransmittanceOfFewSteps(t *testing.T) {
	var nm []float64
	for w := 300.0; w <= 2500; w += 20 {
		nm = append(nm, w)
	}
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	glass := medium(1.52)
	profile, err := optics.NewProfile(nm, optics.Bruggeman, optics.FusedSilica(), 550)
	require.NoError(t, err)
	face, err := optics.NewSurface(nm, 0, glass)
	require.NoError(t, err)
	s, p := optics.NewStructuredResponse(len(nm)), optics.NewStructuredResponse(len(nm))
	check := func(n int, d, index, g float64) {
		film := optics.StructuredFilm{ThicknessNM: d, Index: index, Skeleton: 1.458, Gradient: g}
		profile.Set(film)
		face.Structured(s, p, profile)
		sum := 0.0
		for i, w := range nm {
			want, _ := one(t, sliced(t, film, w, n, glass).RT, w, 0, optics.S)
			sum += weights[i] * (s.R[i] - want)
		}
		assert.InDelta(t, 0, 100*sum, 0.0005, "percentage points from %d slices: %+v", n, film)
	}
	for _, d := range []float64{40, 70, 118, 150} {
		for _, g := range []float64{-0.15, -0.05, 0.05, 0.1, 0.15} {
			for _, index := range []float64{1.1, 1.2, 1.3, 1.4, 1.45} {
				check(50, d, index, g)
			}
		}
		for _, index := range []float64{1.12, 1.4} {
			check(400, d, index, 0.3)
			check(400, d, index, -0.3)
		}
	}
}

// Without structure the film is that of [optics.Surface.Film], which shares no code
// with it; and without a film too, the face is bare.
func TestStructuredWithoutStructure(t *testing.T) {
	rng := seeded(32)
	for range 200 {
		film := optics.StructuredFilm{ThicknessNM: uniform(rng, 0, 600), Index: uniform(rng, 1.1, 1.45), Skeleton: 1.458}
		nm, angle := uniform(rng, 300, 2500), uniform(rng, 0, 85)
		glass := medium(complex(1.52, 0.1))
		s, p := structured(t, optics.Bruggeman, film, nm, angle, 0, glass, 0)
		silica, err := optics.FusedSilica().At(nm)
		require.NoError(t, err)
		ref, err := optics.FusedSilica().At(550)
		require.NoError(t, err)
		solid := real(silica-ref) + film.Skeleton
		porosity, _, _ := optics.Bruggeman.PorosityReal(film.Index*film.Index, film.Skeleton*film.Skeleton, 1)
		eps, _, _ := optics.Bruggeman.MixReal(solid*solid, 1, porosity)
		face, err := optics.NewSurface([]float64{nm}, angle, glass)
		require.NoError(t, err)
		wantS, wantP := optics.NewFilmResponse(1), optics.NewFilmResponse(1)
		face.Film(wantS, wantP, film.ThicknessNM, []float64{eps})
		for _, c := range []struct {
			got  optics.StructuredResponse
			want optics.FilmResponse
		}{{s, wantS}, {p, wantP}} {
			assert.InDelta(t, c.want.R[0], c.got.R[0], 1e-12)
			assert.InDelta(t, c.want.DNM[0], c.got.DNM[0], 1e-12)
			assert.InDelta(t, c.want.DAngle[0], c.got.DAngle[0], 1e-12)
			assert.InDelta(t, c.want.DGlass[0], c.got.DGlass[0], 1e-11)
		}
		film.ThicknessNM = 0
		s, p = structured(t, optics.Bruggeman, film, nm, angle, 0, glass, 0)
		bareS, bareP := face.Bare()
		assert.InDelta(t, bareS.R[0], s.R[0], 1e-12)
		assert.InDelta(t, bareP.R[0], p.R[0], 1e-12)
	}
}

// A small variance is half the second derivative by the thickness, below zero and
// above; up to 0.01 and 150 nm it stays so within 2e-4 of R at 380 nm.
func TestVarianceIsTheSecondDerivative(t *testing.T) {
	rng := seeded(33)
	for range 100 {
		film := optics.StructuredFilm{ThicknessNM: uniform(rng, 30, 150), Index: uniform(rng, 1.2, 1.4), Skeleton: 1.458,
			Gradient: uniform(rng, -0.05, 0.05), SkinNM: uniform(rng, -5, 10)}
		nm, angle := uniform(rng, 380, 1100), uniform(rng, 0, 60)
		at := func(d, v float64) (s, p float64) {
			f := film
			f.ThicknessNM, f.Variance = d, v
			rs, rp := structured(t, optics.Bruggeman, f, nm, angle, 0, optics.SodaLime(), 0)
			return rs.R[0], rp.R[0]
		}
		d, h := film.ThicknessNM, 0.002*film.ThicknessNM
		s0, p0 := at(d, 0)
		upS, upP := at(d+h, 0)
		loS, loP := at(d-h, 0)
		secondS, secondP := (upS-2*s0+loS)/(h*h)*d*d, (upP-2*p0+loP)/(h*h)*d*d
		for _, c := range []struct{ v, within float64 }{{-0.01, 1e-6}, {-1e-4, 1e-8}, {1e-4, 1e-7}, {0.0025, 2e-5},
			{0.01, 2e-4}} {
			s, p := at(d, c.v)
			assert.InDelta(t, s0+c.v/2*secondS, s, c.within, "s, v %g: %+v, %g nm", c.v, film, nm)
			assert.InDelta(t, p0+c.v/2*secondP, p, c.within, "p, v %g: %+v, %g nm", c.v, film, nm)
		}
	}
}

// R has no jump where one rule of quadrature gives way to another: a fit stalls at a jump of 1e-5.
func TestSpreadHasNoJump(t *testing.T) {
	at := func(nm, v float64) float64 {
		film := optics.StructuredFilm{ThicknessNM: 135, Index: 1.3, Skeleton: 1.458, Variance: v}
		s, _ := structured(t, optics.Bruggeman, film, nm, 30, 0, medium(1.52), 0)
		return s.R[0]
	}
	for _, v := range []float64{0, 1e-5, 0.008, 0.01} {
		for _, nm := range []float64{380, 550, 1100} {
			slope := at(nm, v+1e-6) - at(nm, v)
			assert.InDelta(t, at(nm, v-1e-10), at(nm, v+1e-10), 1e-9, "v %g, %g nm", v, nm)
			assert.InDelta(t, slope, at(nm, v)-at(nm, v-1e-6), 1e-8, "v %g, %g nm", v, nm)
		}
	}
}

func TestStructuredAllocatesNothing(t *testing.T) {
	nm := []float64{400, 500, 600}
	profile, err := optics.NewProfile(nm, optics.Bruggeman, optics.FusedSilica(), 550)
	require.NoError(t, err)
	face, err := optics.NewSurface(nm, 8, optics.SodaLime())
	require.NoError(t, err)
	s, p := optics.NewStructuredResponse(3), optics.NewStructuredResponse(3)
	film := optics.StructuredFilm{ThicknessNM: 118, Index: 1.3, Skeleton: 1.458, SkinNM: 4, Variance: 0.0025}
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		film.Gradient += 0.0001
		profile.Set(film)
		face.Structured(s, p, profile)
	}))
}

// The points and weights give the moments of a normal distribution: 1, 3, 15, ...
func TestQuadratureOfSpread(t *testing.T) {
	for n, rule := range map[int][][2]float64{3: optics.Gauss3, 7: optics.Gauss7} {
		want := 1.0
		for k := 0; k < 2*n; k++ {
			sum := 0.0
			for _, p := range rule {
				sum += p[1] * math.Pow(p[0], float64(k))
			}
			if k%2 == 1 {
				assert.InDelta(t, 0, sum, 1e-9, "%d points, moment %d", n, k)
				continue
			}
			assert.InEpsilon(t, want, sum, 1e-14*float64(n), "%d points, moment %d", n, k)
			want *= float64(k + 1)
		}
	}
}

// BenchmarkStructuredNodes reports the time of one point on the few wavelengths that
// stand for a curve.
func BenchmarkStructuredNodes(b *testing.B) {
	nm := []float64{380, 390, 400, 420, 450, 480, 520, 560, 610, 670, 740, 820, 900, 980, 1050, 1100}
	profile, err := optics.NewProfile(nm, optics.Bruggeman, optics.FusedSilica(), 550)
	require.NoError(b, err)
	face, err := optics.NewSurface(nm, 45, optics.SodaLime())
	require.NoError(b, err)
	s, p := optics.NewStructuredResponse(len(nm)), optics.NewStructuredResponse(len(nm))
	profile.Set(optics.StructuredFilm{ThicknessNM: 118, Index: 1.3, Skeleton: 1.458, Gradient: 0.03, SkinNM: 4,
		Variance: 0.0025})
	b.ReportAllocs()
	for b.Loop() {
		face.Structured(s, p, profile)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(nm)), "ns/point")
}
