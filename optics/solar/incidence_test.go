package solar_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/solar"
)

// reflectance returns the reflectance of a surface for unpolarised light at one wavelength and angle.
func reflectance(t *testing.T, s optics.Stack, nm, angleDeg float64) float64 {
	t.Helper()
	r, _, err := s.RT(nil, nil, []float64{nm}, angleDeg, optics.U)
	require.NoError(t, err)
	return r[0]
}

func meanOver(t *testing.T, rays []solar.Ray, s optics.Stack, nm float64) (mean, weights float64) {
	for _, r := range rays {
		mean += r.Weight * reflectance(t, s, nm, r.AngleDeg)
		weights += r.Weight
	}
	return mean, weights
}

// The diffuse reflectance of glass of index 1.5 is 0.0917780 (closed form of Duntley). That of a film of index 1.25 and
// 118 nm on glass of index 1.52: testdata/oblique.py, the adaptive integration of SciPy 1.10 to 1e-13.
func TestIsotropic(t *testing.T) {
	bare := optics.Stack{Substrate: optics.Constant("n 1.5", 1.5)}
	coated := optics.Stack{Films: []optics.Film{{Index: optics.Constant("film", 1.25), ThicknessNM: 118}},
		Substrate: optics.Constant("n 1.52", 1.52)}
	for _, c := range []struct {
		of   optics.Stack
		nm   float64
		want float64
	}{{bare, 550, 0.09177795934}, {coated, 550, 0.03715532269}, {coated, 400, 0.03538277457}} {
		got, weights := meanOver(t, solar.Isotropic(), c.of, c.nm)
		assert.InDelta(t, 1, weights, 1e-12)
		assert.InDelta(t, c.want, got, 1e-7)
	}
	got, _ := meanOver(t, solar.Isotropic(), bare, 550)
	assert.InDelta(t, 0.0917780, got, 1e-7)
}

// A histogram worked by hand: 600 kWh/m² at 20 degrees, 300 at 60 and 100 diffuse; the mean of a surface that reflects
// 4 %, 9 % and 9.18 % of these is 0.6 × 4 + 0.3 × 9 + 0.1 × 9.18 = 6.018 %.
func TestMixByHand(t *testing.T) {
	mix := solar.Mix{Beam: []solar.Ray{{AngleDeg: 20, Weight: 600}, {AngleDeg: 60, Weight: 300}}, Diffuse: 100}
	rays, err := mix.Rays()
	require.NoError(t, err)
	mean := 0.0
	for i, r := range rays {
		switch {
		case i == 0:
			assert.Equal(t, solar.Ray{AngleDeg: 20, Weight: 0.6}, r)
			mean += r.Weight * 4
		case i == 1:
			assert.Equal(t, solar.Ray{AngleDeg: 60, Weight: 0.3}, r)
			mean += r.Weight * 9
		default:
			mean += r.Weight * 9.18
		}
	}
	assert.InDelta(t, 6.018, mean, 1e-12)
}

// Hours at any angle, dealt out over half degrees, have the mean that they have one by one.
func TestMixOfManyHours(t *testing.T) {
	coated := optics.Stack{Films: []optics.Film{{Index: optics.Constant("film", 1.25), ThicknessNM: 118}},
		Substrate: optics.SodaLime()}
	random := rand.New(rand.NewPCG(3, 4))
	var mix solar.Mix
	want, total := 0.0, 0.0
	for range 3000 {
		r := solar.Ray{AngleDeg: 89.9 * random.Float64(), Weight: 1000 * random.Float64()}
		r.Weight *= math.Cos(r.AngleDeg * math.Pi / 180) // as the beam in a plane
		mix.Beam = append(mix.Beam, r)
		want += r.Weight * reflectance(t, coated, 600, r.AngleDeg)
		total += r.Weight
	}
	rays, err := mix.Rays()
	require.NoError(t, err)
	got, weights := meanOver(t, rays, coated, 600)
	assert.InDelta(t, 1, weights, 1e-12)
	assert.InDelta(t, want/total, got, 1e-5)
}

// The incidence-angle modifier of bare glass of index 1.526 at 60 degrees, by Fresnel's equations and Snell's law as they
// stand in every textbook: T(60°)/T(0).
func TestModifierAgainstFresnel(t *testing.T) {
	const n = 1.526
	inside := math.Asin(math.Sin(math.Pi/3) / n)
	s := math.Pow(math.Sin(inside-math.Pi/3)/math.Sin(inside+math.Pi/3), 2)
	p := math.Pow(math.Tan(inside-math.Pi/3)/math.Tan(inside+math.Pi/3), 2)
	want := (1 - (s+p)/2) / (1 - math.Pow((n-1)/(n+1), 2))
	glass := optics.Stack{Substrate: optics.Constant("glass", n)}
	got := (1 - reflectance(t, glass, 550, 60)) / (1 - reflectance(t, glass, 550, 0))
	assert.InDelta(t, want, got, 1e-12)
}

func TestMixRefuses(t *testing.T) {
	for what, m := range map[string]solar.Mix{
		"nothing":  {},
		"below 0":  {Beam: []solar.Ray{{AngleDeg: 10, Weight: -1}}},
		"grazing":  {Beam: []solar.Ray{{AngleDeg: 90, Weight: 1}}},
		"NaN":      {Beam: []solar.Ray{{AngleDeg: math.NaN(), Weight: 1}}},
		"diffuse":  {Diffuse: math.Inf(1)},
		"no light": {Beam: []solar.Ray{{AngleDeg: 10}}},
	} {
		var domain *optics.DomainError
		_, err := m.Rays()
		assert.ErrorAs(t, err, &domain, what)
	}
}
