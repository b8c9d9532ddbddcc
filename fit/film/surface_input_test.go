package film_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// Faults in a spot are errors that say which part and what to do, never panics.
func TestBadSpots(t *testing.T) {
	good := func() *film.Spot {
		return truth{118, 0.36, 0.05, 1, 1.458}.spot(t, grid(400, 1000, 25), []float64{8, 60}, 1)
	}
	for _, c := range []struct {
		name  string
		spoil func(s *film.Spot)
		fault string
	}{
		{"no curve", func(s *film.Spot) { s.Curves = nil }, "no curve is given"},
		{"too few points", func(s *film.Spot) { s.Curves[1].NM, s.Curves[1].R = s.Curves[1].NM[:5], s.Curves[1].R[:5] },
			"curve 2: 5 points are too few"},
		{"angle of 95", func(s *film.Spot) { s.Curves[0].AngleDeg = 95 }, "angle of incidence of 95 degrees"},
		{"NaN", func(s *film.Spot) { s.Curves[0].R[3] = math.NaN() }, "point 4 is not a finite number"},
		{"wavelength goes back", func(s *film.Spot) {
			s.Curves[0].NM = append([]float64(nil),
				s.Curves[0].NM...)
			s.Curves[0].NM[3] = 1
		}, "not above the one before"},
		{"negative noise", func(s *film.Spot) { s.Curves[0].NoiseSD = -1 }, "noise of -1"},
		{"constant curve", func(s *film.Spot) {
			for i := range s.Curves[0].R {
				s.Curves[0].R[i] = 0.02
			}
		}, "all its values are equal"},
		{"bare far face without thickness", func(s *film.Spot) { s.Glass.Back = optics.Bare },
			"the thickness of the glass is not given"},
		{"s share", func(s *film.Spot) { s.Curves[0].Pol = 1.5 }, "s share of 1.5"},
		{"contradictory pins", func(s *film.Spot) { s.Pins = film.Pins{film.Porosity: 0.3, film.FilmIndex: 1.3} },
			"fixed together"},
		{"the same curve twice", func(s *film.Spot) { s.Curves = append(s.Curves, s.Curves[0]) },
			"curve 3: its readings are those of curve 1"},
		{"values beyond numbers", func(s *film.Spot) { s.Curves[0].R[3] = 1e300 }, "point 4 is 1e+300"},
		{"NaN noise", func(s *film.Spot) { s.Curves[0].NoiseSD = math.NaN() }, "noise of NaN"},
		{"mask that leaves nothing", func(s *film.Spot) { s.Masks = []film.Window{{LoNM: 300, HiNM: 2000}} },
			"the masks leave 0 of its 25 points"},
		{"mask the wrong way round", func(s *film.Spot) { s.Masks = []film.Window{{LoNM: 900, HiNM: 800}} },
			"900 to 800 nm is no range"},
		{"wide cone", func(s *film.Spot) { s.Instrument.ConeDeg = 50 }, "a cone of half-angle 50 degrees"},
		{"slit", func(s *film.Spot) { s.Instrument.SlitNM = math.NaN() }, "a slit of NaN nm"},
		{"joins fall", func(s *film.Spot) { s.Instrument.JoinsNM = []float64{860, 500} }, "do not rise"},
		{"index of the glass", func(s *film.Spot) { s.Glass.UIndex = math.NaN() },
			"NaN is not a standard uncertainty"},
		{"pin below its range", func(s *film.Spot) { s.Pins = film.Pins{film.Thickness: -5} }, "thickness=-5 is outside"},
		{"session", func(s *film.Spot) { s.Known = sessionOnly(film.Session{UScale: -1}) }, "not a standard uncertainty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := good()
			c.spoil(s)
			_, err := film.Fit(context.Background(), s)
			var in *film.InputError
			require.ErrorAs(t, err, &in)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, in.Try)
		})
	}
	t.Run("wavelengths outside the glass", func(t *testing.T) {
		s := good()
		short, err := optics.Table("short", []float64{300, 900}, []float64{1.5, 1.5}, []float64{0, 0})
		require.NoError(t, err)
		s.Glass.Index = short
		_, err = film.Fit(context.Background(), s)
		var out *optics.RangeError
		require.ErrorAs(t, err, &out)
	})
	t.Run("stopped", func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		_, err := film.Fit(ctx, good())
		assert.ErrorIs(t, err, context.Canceled)
	})
}

// A pinned parameter has its value and no uncertainty, is flagged, and the rest
// is fitted around it.
func TestPins(t *testing.T) {
	tr := truth{118, 0.36, 0.05, 1, 1.458}
	for _, c := range []struct {
		pin string
		of  func(v *film.Verdict) film.Estimate
		at  float64
	}{
		{film.Thickness, func(v *film.Verdict) film.Estimate { return v.ThicknessNM }, 118},
		{film.Porosity, func(v *film.Verdict) film.Estimate { return v.Porosity }, 0.36},
		{film.Bare, func(v *film.Verdict) film.Estimate { return v.Bare }, 0.05},
		{film.Scale, func(v *film.Verdict) film.Estimate { return v.Scale }, 1},
	} {
		t.Run(c.pin, func(t *testing.T) {
			s := tr.spot(t, grid(380, 1100, 4), fourAngles, 7)
			s.Pins = film.Pins{c.pin: c.at}
			v, err := film.Fit(context.Background(), s)
			require.NoError(t, err)
			assert.InDelta(t, c.at, c.of(v).Value, 1e-12)
			assert.True(t, math.IsNaN(c.of(v).U))
			require.Len(t, v.Flags, 1)
			assert.Contains(t, v.Flags[0], "pinned:"+c.pin)
			if c.pin != film.Thickness {
				near(t, v.ThicknessNM, tr.thickness, 1, "thickness")
			}
			if c.pin != film.Bare {
				near(t, v.Bare, tr.bare, 0.02, "bare")
			}
		})
	}
	t.Run("all", func(t *testing.T) {
		s := tr.spot(t, grid(380, 1100, 4), fourAngles, 7)
		s.Pins = film.Pins{film.Thickness: 118, film.Porosity: 0.36, film.Bare: 0.05, film.Scale: 1}
		v, err := film.Fit(context.Background(), s)
		require.NoError(t, err)
		assert.Equal(t, 0.36, v.Porosity.Value, "to the last digit")
		assert.InDelta(t, 0.95*118*0.64, v.SolidNM.Value, 1e-12)
		assert.True(t, math.IsNaN(v.SolidNM.U), "nothing free is in it")
	})
	t.Run("no film", func(t *testing.T) {
		s := truth{0, 0.3, 0, 1, 1.458}.spot(t, grid(380, 1100, 4), fourAngles, 7)
		s.Pins = film.Pins{film.Bare: 1}
		v, err := film.Fit(context.Background(), s)
		require.NoError(t, err)
		assert.Equal(t, film.ModelBare, v.Model)
		assert.True(t, v.Converged)
	})
}

// The estimate of noise finds the standard deviation that was put in, on even
// and uneven grids, and never falls below the rounding of the values.
func TestNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	even := grid(380, 1100, 0.5)
	uneven := []float64{380}
	for len(uneven) < len(even) {
		uneven = append(uneven, uneven[len(uneven)-1]+0.2+0.6*rng.Float64())
	}
	tr := truth{118, 0.36, 0.05, 1, 1.458}
	for name, nm := range map[string][]float64{"even": even, "uneven": uneven} {
		r := tr.reflectance(t, nm, 8, optics.SodaLime())
		for i := range r {
			r[i] += noise * rng.NormFloat64()
		}
		// MAD of 1441 correlated differences: a standard error of about 3 %
		assert.InDelta(t, 1, film.Noise(nm, r)/noise, 0.1, name)
	}
	rounded := tr.reflectance(t, even, 8, optics.SodaLime())
	for i := range rounded {
		rounded[i] = math.Round(rounded[i]*1e3) / 1e3
	}
	assert.GreaterOrEqual(t, film.Noise(even, rounded), 0.001/math.Sqrt(12)*(1-1e-9))
	assert.Zero(t, film.Noise(even[:20], make([]float64, 20)))
}

// Textured glass: roughness and angle factors are free, and what is found of the
// film is still right when the specular light is lost as the model says, or not at
// all.
func TestTexture(t *testing.T) {
	nm := grid(380, 1100, 2)
	for _, rough := range []float64{0, 5, 15, 35} {
		for _, tr := range []truth{{118, 0.36, 0, 1, 1.458}, {118, 0.36, 0.05, 1, 1.458}} {
			for seed := range uint64(8) {
				s := tr.spot(t, nm, fourAngles, seed)
				s.Texture = true
				for k := range s.Curves {
					c := &s.Curves[k]
					factor := []float64{0.6, 0.62, 0.66, 0.7}[k]
					clean := tr.reflectance(t, nm, c.AngleDeg, optics.SodaLime())
					for i := range c.R {
						h := 4 * math.Pi * rough * math.Cos(c.AngleDeg*math.Pi/180) / nm[i]
						c.R[i] += clean[i] * (factor*math.Exp(-h*h) - 1)
					}
				}
				v, err := film.Fit(context.Background(), s)
				require.NoError(t, err)
				what := fmt.Sprintf("roughness %g nm, bare %g, seed %d: %+v", rough, tr.bare, seed, v)
				assert.True(t, v.Converged, what)
				assert.Contains(t, v.Flags, "specular-facets")
				assert.Less(t, v.ReducedChi2, 1.3, what)
				near(t, v.ThicknessNM, 118, math.Inf(1), "thickness: "+what)
				near(t, v.Bare, tr.bare, math.Inf(1), "bare: "+what)
			}
		}
	}
}

// The glass alone, textured, is fitted too.
func TestTexturedBlank(t *testing.T) {
	for seed := range uint64(8) {
		s := truth{0, 0.3, 0, 1, 1.458}.spot(t, grid(380, 1100, 2), fourAngles, seed)
		s.Texture = true
		v, err := film.Fit(context.Background(), s)
		require.NoError(t, err)
		assert.True(t, v.Converged)
	}
}

// A wrong far face or glass shows in a reference error beyond belief.
func TestUnlikelyScaleIsFlagged(t *testing.T) {
	s := truth{118, 0.36, 0.1, 1, 1.458}.spot(t, grid(380, 1100, 2), fourAngles, 1)
	s.Glass = film.Glass{Index: optics.SodaLime(), Back: optics.Coated, ThicknessMM: 3.2}
	v, err := film.Fit(context.Background(), s)
	require.NoError(t, err)
	assert.Contains(t, v.Flags, "unlikely:scale")
	assert.Contains(t, v.Flags, "back-as-front")
}

// A film of several micrometres is found though its fringes are many.
func TestThickFilm(t *testing.T) {
	for _, d := range []float64{900, 2500, 4700} {
		tr := truth{d, 0.30, 0.05, 1, 1.458}
		v, err := film.Fit(context.Background(), tr.spot(t, grid(380, 1100, 1), fourAngles, 5))
		require.NoError(t, err)
		assert.True(t, v.Converged)
		assert.Less(t, v.ReducedChi2, 1.3, "%g nm: found %v", d, v.ThicknessNM)
		near(t, v.ThicknessNM, d, math.Inf(1), "thickness")
	}
}

// The roughness that a session fit finds is the root mean square height of the surface:
// specular light is lost as exp(-(4π·roughness·cos θ/λ)²) (H. E. Bennett, J. O. Porteus, J.
// Opt. Soc. Am. 51, 123 (1961), from memory), here of 25 nm.
func TestRoughnessIsThatOfTheSurface(t *testing.T) {
	nm, rough, facets := grid(380, 1100, 4), 25.0, []float64{0.6, 0.62, 0.66, 0.7}
	var members []film.Member
	for i, bare := range []float64{1, 1, 0.05} {
		m := film.Member{Role: film.RoleBlank, Glass: "rolled", Session: "a"}
		if bare < 1 {
			m.Role, m.Coating = film.RoleCoupon, "K"
		}
		m.Spot = truth{118, 0.36, bare, 1, 1.458}.spot(t, nm, fourAngles, uint64(25+i))
		m.Spot.Setup = film.Setup{Glass: film.Glass{Index: optics.SodaLime()}, Texture: true}
		for k := range m.Spot.Curves {
			c := &m.Spot.Curves[k]
			for i, lambda := range nm {
				phase := 4 * math.Pi * rough * math.Cos(c.AngleDeg*math.Pi/180) / lambda
				c.R[i] *= facets[k] * math.Exp(-phase*phase)
			}
		}
		members = append(members, m)
	}
	j, err := film.FitSession(context.Background(), members, 1)
	require.NoError(t, err)
	for _, s := range j.Shared {
		if s.Unit == "nm²" {
			assert.InDelta(t, rough*rough, s.Value, 4*s.U)
			assert.Less(t, s.U, 0.1*rough*rough)
			return
		}
	}
	t.Fatal("no roughness is among what the session shares")
}
