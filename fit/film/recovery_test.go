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

// drawTruth draws a made-up film from the ranges that the lab meets.
func drawTruth(rng *rand.Rand) truth {
	return truth{thickness: 90 + 70*rng.Float64(), porosity: 0.15 + 0.40*rng.Float64(), bare: 0.35 * rng.Float64(), scale: 1, skeleton: 1.458}
}

// Two hundred seeded truths whose reflectance comes from the general stack. With
// the default knowledge of a session (a factor of 1 ± 0.01 per angle) the data
// leave thickness uncertain by up to 0.35 nm, so only the predicted uncertainty
// can be asked for. With an instrument whose angle factors are known, as they
// are in these simulations, the errors are also small in nm.
func TestRecovery(t *testing.T) {
	nm := grid(380, 1100, 2)
	for _, c := range []struct {
		name                string
		session             *film.Session
		thickness, porosity float64 // largest errors, nm and fraction
	}{
		{"default knowledge", nil, math.Inf(1), math.Inf(1)},
		{"angle factors known", &film.Session{UScale: 0.01}, 0.5, 0.01},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			for seed := range uint64(200) {
				tr := drawTruth(rng)
				spot := tr.spot(t, nm, fourAngles, seed)
				spot.Session = c.session
				v, err := film.Fit(context.Background(), spot)
				require.NoError(t, err)
				what := fmt.Sprintf("seed %d, truth %+v, flags %v", seed, tr, v.Flags)
				require.True(t, v.Converged, what)
				assert.Equal(t, film.ModelFilm, v.Model, what)
				assert.True(t, v.Separable(), what)
				near(t, v.ThicknessNM, tr.thickness, c.thickness, "thickness: "+what)
				near(t, v.Porosity, tr.porosity, c.porosity, "porosity: "+what)
				near(t, v.Bare, tr.bare, math.Inf(1), "bare fraction: "+what)
				near(t, v.SolidNM, (1-tr.bare)*tr.thickness*(1-tr.porosity), math.Inf(1), "material left: "+what)
			}
		})
	}
}

// near asserts that an estimate is within four of its uncertainties of the
// truth, and within most.
func near(t *testing.T, got film.Estimate, want, most float64, what string) {
	t.Helper()
	off := math.Abs(got.Value - want)
	assert.LessOrEqual(t, off, 4*got.U, what)
	assert.LessOrEqual(t, off, most, what)
}

// frontLoss is the mean reflectance of the truth's front surface at normal
// incidence with the weights w.
func (t truth) frontLoss(tb testing.TB, nm, w []float64) float64 {
	t.scale = 1
	sum := 0.0
	for i, r := range t.reflectance(tb, nm, 0, optics.SodaLime()) {
		sum += w[i] * r
	}
	return sum
}

// flat weights all wavelengths alike.
func flat(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 1 / float64(n)
	}
	return w
}

// One angle near the normal does not tell thickness, porosity and bare fraction
// apart, and a 12 nm remnant at four angles does not either; the mean
// reflectance of the surface is right all the same.
func TestNotSeparable(t *testing.T) {
	nm := grid(380, 1100, 2)
	for _, c := range []struct {
		name   string
		tr     truth
		angles []float64
	}{
		{"one angle", truth{118, 0.35, 0.10, 1, 1.458}, []float64{8}},
		{"12 nm remnant", truth{12, 0.35, 0, 1, 1.458}, fourAngles},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(20) {
				v, err := film.Fit(context.Background(), c.tr.spot(t, nm, c.angles, seed))
				require.NoError(t, err)
				what := fmt.Sprintf("seed %d: %+v", seed, v)
				assert.False(t, v.Separable(), what)
				probe, err := film.NewProbe(nm, 0, optics.U, optics.SodaLime(), film.Coating{})
				require.NoError(t, err)
				got := v.Means(probe, flat(len(nm)))[0]
				near(t, got, c.tr.frontLoss(t, nm, flat(len(nm))), 0.0003, what)
			}
		})
	}
}

// Simulated blanks are called bare at the nominal level of 1 %, and a film of
// 20 nm is found.
func TestBareOrFilm(t *testing.T) {
	nm := grid(380, 1100, 4)
	const runs = 300
	for _, c := range []struct {
		name        string
		tr          truth
		model       string
		least, most int // runs that choose model
	}{
		// Binomial with 1 % false alarms: 9 of 300 is its 99.9 % point.
		{"blank", truth{0, 0.35, 0, 1, 1.458}, film.ModelBare, runs - 9, runs},
		{"20 nm film", truth{20, 0.35, 0, 1, 1.458}, film.ModelFilm, runs * 95 / 100, runs},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := 0
			for seed := range uint64(runs) {
				v, err := film.Fit(context.Background(), c.tr.spot(t, nm, fourAngles, seed))
				require.NoError(t, err)
				if v.Model == c.model {
					n++
				}
			}
			t.Logf("%d of %d runs say %s", n, runs, c.model)
			assert.GreaterOrEqual(t, n, c.least)
			assert.LessOrEqual(t, n, c.most)
		})
	}
}
