package film_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// drawTruth draws a made-up film from the ranges that the lab meets.
func drawTruth(rng *rand.Rand) truth {
	return truth{thickness: 90 + 70*rng.Float64(), porosity: 0.15 + 0.40*rng.Float64(), bare: 0.35 * rng.Float64(),
		scale: 1, skeleton: 1.458}
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
		known               *film.Known
		thickness, porosity float64 // largest errors, nm and fraction
	}{
		{"default knowledge", sessionOnly(usualSession), math.Inf(1), math.Inf(1)},
		{"angle factors known", sessionOnly(film.Session{UScale: 0.01}), 0.5, 0.01},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			for seed := range uint64(200) {
				tr := drawTruth(rng)
				spot := tr.spot(t, nm, fourAngles, seed)
				spot.Known = c.known
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

// runs is the number of simulated spots: n, or where WANE_LONG is set its number, 2,000 if it is 1.
func runs(n int) int {
	switch long, err := strconv.Atoi(os.Getenv("WANE_LONG")); {
	case err == nil && long > 1:
		return long
	case os.Getenv("WANE_LONG") != "":
		return 2000
	}
	return n
}

// One angle near the normal does not tell thickness, porosity and bare fraction
// apart, and a remnant of some 12 nm at four angles does not either. They are
// flagged, their uncertainties are wide enough for their errors, and the mean
// reflectance of the surface is right all the same.
func TestNotSeparable(t *testing.T) {
	nm := grid(380, 1100, 2)
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	for _, c := range []struct {
		name   string
		tr     truth
		angles []float64
	}{
		{"one angle", truth{118, 0.35, 0.10, 1, 1.458}, []float64{8}},
		{"12 nm remnant", truth{12, 0.35, 0, 1, 1.458}, fourAngles},
		{"patchy 12 nm remnant", truth{12, 0.35, 0.3, 1, 1.458}, fourAngles},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := runs(40)
			z := map[string]float64{}
			for seed := range uint64(n) {
				v, err := film.Fit(context.Background(), c.tr.spot(t, nm, c.angles, seed))
				require.NoError(t, err)
				what := fmt.Sprintf("seed %d: %+v", seed, v)
				require.Equal(t, film.ModelFilm, v.Model, what)
				assert.False(t, v.Separable(), what)
				mean, front := v.Mean(probe), c.tr.frontLoss(t, nm, flat(len(nm)))
				assert.InDelta(t, front, mean.Value, 0.0003, what)
				for name, e := range map[string][2]float64{
					"mean":      {mean.Value - front, mean.U},
					"thickness": {v.ThicknessNM.Value - c.tr.thickness, v.ThicknessNM.U},
					"porosity":  {v.Porosity.Value - c.tr.porosity, v.Porosity.U},
					"bare":      {v.Bare.Value - c.tr.bare, v.Bare.U},
					"solid":     {v.SolidNM.Value - (1-c.tr.bare)*c.tr.thickness*(1-c.tr.porosity), v.SolidNM.U},
				} {
					z[name] += e[0] / e[1] * e[0] / e[1] / float64(n)
				}
			}
			for name, square := range z {
				t.Logf("rms of error/u over %d seeds: %s %.2f", n, name, math.Sqrt(square))
				// wide intervals may be too wide, never too narrow
				assert.Less(t, math.Sqrt(square), 1.5, name)
			}
		})
	}
}

// Simulated blanks are called bare at the nominal level of 1 %, and a film of
// 20 nm is found. The uncertainty of a blank's solar value is neither nothing nor
// absurd: it is what a film under the detection limit would do.
func TestBareOrFilm(t *testing.T) {
	nm := grid(380, 1100, 4)
	for _, c := range []struct {
		name  string
		tr    truth
		model string
		runs  int
		least float64 // share of runs that choose model
	}{
		// Binomial with 1 % false alarms: 9 of 300 is its 99.9 % point, 36 of 2,000 its 99.95 % point.
		{"blank", truth{0, 0.35, 0, 1, 1.458}, film.ModelBare, runs(300), 1 - max(0.018, 9/float64(runs(300)))},
		{"20 nm film", truth{20, 0.35, 0, 1, 1.458}, film.ModelFilm, runs(60), 0.95},
	} {
		t.Run(c.name, func(t *testing.T) {
			probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
			require.NoError(t, err)
			n := 0
			for seed := range uint64(c.runs) {
				v, err := film.Fit(context.Background(), c.tr.spot(t, nm, fourAngles, seed))
				require.NoError(t, err)
				if v.Model != c.model {
					continue
				}
				n++
				if c.model == film.ModelBare {
					mean := v.Mean(probe)
					// not nothing, and no more than a solar value may be off
					assert.Greater(t, mean.U, 2e-6, "seed %d", seed)
					assert.Less(t, mean.U, 3e-4, "seed %d", seed)
					assert.Greater(t, v.SolidNM.U, 0.3, "seed %d: nm", seed)
					assert.Less(t, v.SolidNM.U, 10., "seed %d: nm", seed)
				}
			}
			t.Logf("%d of %d runs say %s", n, c.runs, c.model)
			assert.GreaterOrEqual(t, float64(n)/float64(c.runs), c.least)
		})
	}
}

// A film too thin to be found leaves a solar value that is off by what the film
// does; the uncertainty covers that, whether noise favours a film or not.
func TestUndetectedFilm(t *testing.T) {
	nm := grid(380, 1100, 4)
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	for _, d := range []float64{0, 2, 3} {
		t.Run(fmt.Sprint(d, " nm"), func(t *testing.T) {
			tr := truth{d, 0.35, 0, 1, 1.458}
			n, square, beyond := 0, 0.0, 0
			least, most := math.Inf(1), 0.0
			for seed := range uint64(runs(80)) {
				v, err := film.Fit(context.Background(), tr.spot(t, nm, fourAngles, seed))
				require.NoError(t, err)
				if v.Model != film.ModelBare {
					continue
				}
				e := v.Mean(probe)
				z := (e.Value - tr.frontLoss(t, nm, flat(len(nm)))) / e.U
				n++
				square += z * z
				if math.Abs(z) > 2 {
					beyond++
				}
				least, most = min(least, e.U), max(most, e.U)
			}
			t.Logf("%d called bare, rms of error/u %.2f, %d beyond 2 u, u from %.1e to %.1e", n, math.Sqrt(square/float64(n)),
				beyond, least, most)
			require.Greater(t, n, runs(80)/2)
			assert.Less(t, math.Sqrt(square/float64(n)), 1.2)
			assert.LessOrEqual(t, beyond, n/20)
		})
	}
}

// A person's bare=0 on glass without a film gives no absurd uncertainty.
func TestHardlyAnyFilm(t *testing.T) {
	for seed := range uint64(10) {
		s := truth{0, 0.3, 0, 1, 1.458}.spot(t, grid(380, 1100, 4), fourAngles, seed)
		s.Pins = film.Pins{film.Bare: 0}
		v, err := film.Fit(context.Background(), s)
		require.NoError(t, err)
		assert.Less(t, v.ThicknessNM.U, 40., "seed %d: nm", seed)
		assert.Greater(t, v.ThicknessNM.U, 0.1, "seed %d: nm", seed)
		assert.Less(t, v.SolidNM.U, 20., "seed %d: nm", seed)
	}
}
