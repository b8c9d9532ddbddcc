package foreign

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fresnel returns s and p reflectance of a bare interface from air, in closed form: A. Fresnel
// 1823; M. Born, E. Wolf, Principles of Optics, 7th ed., 1.5.2, from memory.
func fresnel(n, degrees float64) (s, p float64) {
	in := degrees * math.Pi / 180
	out := math.Asin(math.Sin(in) / n)
	if degrees == 0 {
		r := (n - 1) / (n + 1)
		return r * r, r * r
	}
	s = math.Sin(in-out) / math.Sin(in+out)
	p = math.Tan(in-out) / math.Tan(in+out)
	return s * s, p * p
}

func TestBareGlassIsFresnel(t *testing.T) {
	var stack stack
	// Closed forms to 13 digits (mpmath): bare 1.52, normal incidence.
	s, p := stack.solve(550, 0, 1.52*1.52, nil, one)
	assert.InDelta(t, 0.0425799949609, s.R, 1e-13)
	assert.InDelta(t, 0.0425799949609, p.R, 1e-13)
	for _, degrees := range []float64{0, 8, 30, 56.6592926535, 75, 89} {
		sin := math.Sin(degrees * math.Pi / 180)
		s, p := stack.solve(550, sin*sin, 1.52*1.52, nil, one)
		wantS, wantP := fresnel(1.52, degrees)
		assert.InDelta(t, wantS, s.R, 1e-13, "%g degrees", degrees)
		assert.InDelta(t, wantP, p.R, 1e-13, "%g degrees", degrees)
	}
}

// The golden films of the project, computed with mpmath at 40 digits by another method (Rouard's
// recursion); those from air on lossless glass. Rounding of a double leaves about 1e-15.
func TestStackAgainstGoldenFilms(t *testing.T) {
	file, err := os.Open("../../optics/testdata/airy_golden.csv")
	require.NoError(t, err)
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	rows, err := reader.ReadAll()
	require.NoError(t, err)
	cell := func(text string) float64 {
		if text == "" {
			return 0
		}
		v, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return v
	}
	var stack stack
	checked, lossy := 0, 0
	for _, row := range rows[1:] {
		if cell(row[4]) != 1 || cell(row[12]) != 0 {
			continue
		}
		var layers []layer
		for _, at := range []int{8, 5} { // the lower film first
			if row[at] != "" {
				n := complex(cell(row[at]), cell(row[at+1]))
				layers = append(layers, layer{squared(n), cell(row[at+2]), false})
				if imag(n) > 0 {
					lossy++
				}
			}
		}
		sin := math.Sin(cell(row[2]) * math.Pi / 180)
		s, p := stack.solve(cell(row[3]), sin*sin, cell(row[11])*cell(row[11]), layers, one)
		got := s
		if row[1] == "p" {
			got = p
		}
		assert.InDelta(t, cell(row[13]), got.R, 1e-12, "R of %v", row)
		assert.InDelta(t, cell(row[14]), got.T, 1e-12, "T of %v", row)
		checked++
	}
	assert.Greater(t, checked, 50)
	assert.GreaterOrEqual(t, lossy, 10)
}

// graded returns a film of 118 nm whose permittivity runs from 1.22^2 (top) to 1.35^2.
func graded(n int) []layer {
	layers := make([]layer, n)
	for i := range layers {
		depth := 1 - (float64(i)+0.5)/float64(n)
		layers[i] = layer{complex(1.22*1.22+depth*(1.35*1.35-1.22*1.22), 0), 118 / float64(n), false}
	}
	return layers
}

// A film whose permittivity is linear in depth is solved exactly by Airy functions for s light;
// the figures were computed with them outside the project, to 12 decimals. Slices err by the
// inverse square of their number: extrapolated from 1,000 and 2,000 they must agree, and the fifty
// of the simulator err as the square says, here by 6e-6 at most (this film is much steeper than
// the law's).
func TestGradedFilmAgainstAiryFunctions(t *testing.T) {
	var stack stack
	for _, c := range []struct{ lambda, degrees, want float64 }{
		{550, 0, 0.001844942431}, {550, 60, 0.061549367050}, {400, 45, 0.012769560338},
	} {
		sin := math.Sin(c.degrees * math.Pi / 180)
		by := func(slices int) float64 {
			s, _ := stack.solve(c.lambda, sin*sin, 1.52*1.52, graded(slices), one)
			return s.R
		}
		assert.InDelta(t, c.want, (4*by(2000)-by(1000))/3, 1e-12, "%+v", c)
		assert.InDelta(t, 4, (by(Slices)-c.want)/(by(2*Slices)-c.want), 0.01, "order of the slices, %+v", c)
		assert.InDelta(t, c.want, by(Slices), 6e-6, "%+v", c)
	}
}

// Solar means of R computed with plain numpy on the table's own grid (trapezoid; energy
// 300-2500 nm, photons 300-1200 nm), printed to eight decimals.
func TestSolarMeansAgainstNumpy(t *testing.T) {
	sun := sunlight()
	var stack stack
	for name, c := range map[string]struct{ index, nm, energy, photons float64 }{
		"bare":         {1, 0, 0.04257633, 0.04261417},
		"1.25, 120 nm": {1.25, 120, 0.01168242, 0.00888176},
		"1.30, 100 nm": {1.30, 100, 0.01431355, 0.01278603},
	} {
		energy, photons := 0.0, 0.0
		for j, lambda := range sun.knots {
			n := sodaLime(lambda)
			l, _ := stack.solve(lambda, 0, n*n, []layer{{complex(c.index*c.index, 0), c.nm, false}}, one)
			energy += sun.energy[j] * l.R
			photons += sun.photons[j] * l.R
		}
		assert.InDelta(t, c.energy, energy, 1e-8, name)
		// The photon weights end inside the knots' range: the same polynomial, the same error.
		assert.InDelta(t, c.photons, photons, 1e-8, name)
	}
}

// The tables lie here as copies, so that the package can embed them.
func TestTablesAreThoseOfTheProject(t *testing.T) {
	for own, theirs := range map[string]string{"am15g.csv": "../../optics/solar/am15g.csv",
		"soda_lime_k.csv": "../../optics/soda_lime_k.csv"} {
		a, err := os.ReadFile(own)
		require.NoError(t, err)
		b, err := os.ReadFile(theirs)
		require.NoError(t, err)
		assert.Equal(t, string(b), string(a), own)
	}
}

// Handbook values (most from memory), rounded as printed there: half of the last digit.
func TestIndicesAgainstHandbooks(t *testing.T) {
	for name, c := range map[string]struct{ want, got float64 }{
		"silica, d":   {1.45846, silica(587.562)},
		"silica, 404": {1.46962, silica(404.656)},
		"crown, d":    {1.51680, crown(587.562)},
		"crown, 1060": {1.50669, crown(1060)},
		"water, d":    {1.3334, water(587.562)},
	} {
		assert.InDelta(t, c.want, c.got, 1e-5, name)
	}
	assert.InDelta(t, 1.523, sodaLime(587.562), 5e-4) // nd of window glass, from memory
}

// at computes R of a surface at one wavelength and angle directly.
func (s Surface) at(lambda, degrees, share float64) float64 {
	var t tracer
	sin := math.Sin(degrees * math.Pi / 180)
	var l [1]light
	t.at(l[:], s, lambda, []ray{{sin * sin, share, 1 - share}})
	return l[0].R
}

// rough is a surface with everything on it.
func rough() Surface {
	return Surface{Glass: SodaLime, GlassShift: 0.002, Skeleton: 1.455, Thickness: 150, Porosity: 0.4, Bare: 0.1,
		Gradient: 0.1, Skin: 12, Variance: 0.02, Leach: 50, Residue: 3, ResidueIndex: complex(1.7, 0.05)}
}

// Interpolation from the knots costs less than a thousandth of the noise.
func TestInterpolationInWavelength(t *testing.T) {
	for _, s := range []Surface{rough(), {Glass: SodaLime, Skeleton: 1.458, Thickness: 118, Porosity: 0.36}} {
		for i, c := range s.Ideal(Standard()) {
			for k, lambda := range c.WavelengthNM {
				require.InDelta(t, s.at(lambda, Standard().AnglesDeg[i], 0.5), c.Reflectance[k], 1e-7,
					"%g nm, %g degrees", lambda, c.AngleDeg)
			}
		}
	}
}

// The mean over a normal distribution of thickness, against the trapezoidal rule on 401 points
// over eight standard deviations to each side (its error is far below 1e-10).
func TestSpreadAgainstFineQuadrature(t *testing.T) {
	for _, c := range []struct{ variance, tolerance float64 }{{0.0025, 1e-9}, {0.01, 1e-6}, {0.0144, 1e-7}} {
		for _, degrees := range []float64{8, 60} {
			s := Surface{Glass: SodaLime, Skeleton: 1.458, Thickness: 140, Porosity: 0.36, Gradient: 0.05, Skin: 5}
			sum, weights := 0.0, 0.0
			for i := -200; i <= 200; i++ {
				z := float64(i) / 25
				part := s
				part.Thickness = 140 * (1 + math.Sqrt(c.variance)*z)
				w := math.Exp(-z * z / 2)
				if part.Thickness > thinFilm { // beyond, the weight is below 1e-10
					sum += w * part.at(380, degrees, 0.5)
					weights += w
				}
			}
			s.Variance = c.variance
			assert.InDelta(t, sum/weights, s.at(380, degrees, 0.5), c.tolerance, "v %g, %g degrees", c.variance, degrees)
		}
	}
}

// "By the second derivative in thickness", R + v d^2 R” / 2: 1e-4 of R up to |v| = 0.01 and
// films to 150 nm, as the description of the model says.
func TestSpreadAgainstSecondDerivative(t *testing.T) {
	for _, lambda := range []float64{400, 550, 1000} {
		s := Surface{Glass: SodaLime, Skeleton: 1.458, Thickness: 118, Porosity: 0.36}
		up, down := s, s
		up.Thickness, down.Thickness = 119, 117
		r := s.at(lambda, 8, 0.5)
		second := up.at(lambda, 8, 0.5) - 2*r + down.at(lambda, 8, 0.5)
		s.Variance = 0.0025
		assert.InDelta(t, r+0.0025*118*118*second/2, s.at(lambda, 8, 0.5), 1e-4, "%g nm", lambda)
	}
}

// The far face in closed form: for a lossless pane 2r / (1 + r) of each polarisation. Worked
// figure: 0.0816819719671 for n = 1.52 at normal incidence (mpmath).
func TestBareFarFaceInClosedForm(t *testing.T) {
	r := 0.0425799949609
	assert.InDelta(t, 0.0816819719671, 2*r/(1+r), 1e-12)
	u := Standard()
	u.Back, u.GlassMM = "bare", 4
	s := Surface{Glass: FusedSilica, Skeleton: 1.458}
	for _, c := range s.Ideal(u) {
		for k, lambda := range c.WavelengthNM {
			inS, inP := fresnel(silica(lambda), c.AngleDeg)
			require.InDelta(t, inS/(1+inS)+inP/(1+inP), c.Reflectance[k], 1e-9)
		}
	}
	// The extinction of the pane takes light off the far face.
	clear, iron := Surface{Glass: LowIron, Skeleton: 1.458}.Ideal(u), Surface{Glass: SodaLime, Skeleton: 1.458}.Ideal(u)
	assert.Greater(t, clear[0].Reflectance[360], iron[0].Reflectance[360]+0.005)
	u.Back = "coated"
	film := Surface{Glass: FusedSilica, Skeleton: 1.458, Thickness: 118, Porosity: 0.36}
	got := film.Ideal(u)[0].Reflectance[85]
	inS, inP := film.at(550, 8, 1), film.at(550, 8, 0)
	assert.InDelta(t, inS/(1+inS)+inP/(1+inP), got, 1e-9)
}

// A cone, against its own integral on rings and azimuths so many that they do not matter, with
// the polarisation of every ray by vectors.
func TestConeAgainstFineIntegral(t *testing.T) {
	s := Surface{Glass: SodaLime, Skeleton: 1.458, Thickness: 118, Porosity: 0.36, Bare: 0.5}
	const cone, axis = 5.0, 45.0
	sum, unturned, n := 0.0, 0.0, 0.0
	for ring := range 40 {
		radius := cone * math.Pi / 180 * math.Sqrt((float64(ring)+0.5)/40)
		for a := range 72 {
			turn := 2 * math.Pi * float64(a) / 72
			sin, cos := math.Sincos(axis * math.Pi / 180)
			k := [3]float64{sin*math.Cos(radius) + cos*math.Sin(radius)*math.Cos(turn), math.Sin(radius) * math.Sin(turn),
				cos*math.Cos(radius) - sin*math.Sin(radius)*math.Cos(turn)}
			// The field along y less its part along k, on the normal of the ray's plane of incidence.
			field := [3]float64{-k[1] * k[0], 1 - k[1]*k[1], -k[1] * k[2]}
			across := math.Hypot(k[0], k[1])
			part := (-k[1]*field[0] + k[0]*field[1]) / across
			share := part * part / (field[0]*field[0] + field[1]*field[1] + field[2]*field[2])
			sum += s.at(550, math.Acos(k[2])*180/math.Pi, share)
			unturned += s.at(550, math.Acos(k[2])*180/math.Pi, 1)
			n++
		}
	}
	u := Standard()
	u.Polarisation, u.ConeDeg, u.AnglesDeg = "s", cone, []float64{axis}
	got := s.Ideal(u)[0].Reflectance[85]
	assert.InDelta(t, sum/n, got, 2e-7)
	// The turn of the plane of incidence matters: without it all rays would be s light.
	assert.Greater(t, unturned/n-got, 5e-5)
	total := 0.0
	for _, r := range beam(axis, cone, 0.7) {
		total += r.s + r.p
	}
	assert.InDelta(t, 1, total, 1e-14)
}

func TestUnknownWordsPanic(t *testing.T) {
	assert.Panics(t, func() { glassIndex("window", 550) })
	assert.Panics(t, func() { Prior().Without("nothing") })
	assert.Panics(t, func() { Prior().Beyond("nothing") })
	assert.Panics(t, func() { SceneNamed("nothing") })
	assert.True(t, strings.HasPrefix(sunTable, "# ASTM G173-03"))
}
