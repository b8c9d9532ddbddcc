package evaluate_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
	"wane/study/evaluate"
)

const noise = 0.0004 // of one point, a fraction

// simulate makes made-up curves of a film of constant index on soda-lime glass.
func simulate(t *testing.T, films []optics.Film, angles []float64, seed uint64) []film.Curve {
	var nm []float64
	for x := 380.0; x <= 1100; x += 2 {
		nm = append(nm, x)
	}
	rng := rand.New(rand.NewPCG(seed, 4))
	var curves []film.Curve
	for _, a := range angles {
		r, _, err := optics.Stack{Films: films, Substrate: optics.SodaLime()}.RT(nil, nil, nm, a, optics.U)
		require.NoError(t, err)
		for i := range r {
			r[i] += noise * rng.NormFloat64()
		}
		curves = append(curves, film.Curve{NM: nm, R: r, AngleDeg: a, Pol: optics.U})
	}
	return curves
}

// evaluator returns an evaluator of glass whose index is exactly that of its formula.
func evaluator(t *testing.T) *evaluate.Evaluator {
	known := film.DefaultKnown(optics.Matched)
	known.Coupon.UIndex = 0
	e, err := evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()}, Known: &known})
	require.NoError(t, err)
	return e
}

// Bare clear soda-lime glass reflects 0.04257633 of the sun's energy over
// 300-2500 nm and 0.04261417 of its photons over 300-1200 nm. Source:
// optics/solar/testdata/worked.py.
func TestBareGlassSolarValues(t *testing.T) {
	r, v, err := evaluator(t).Spot(context.Background(), simulate(t, nil, []float64{8, 30, 45, 60}, 1), nil, nil)
	require.NoError(t, err)
	assert.Equal(t, film.ModelBare, v.Model)
	assert.Equal(t, study.Stripped, r.State)
	assert.InDelta(t, 1-0.04257633, float64(r.SolarT.Value), 5e-9) // the last digit printed
	assert.InDelta(t, 1-0.04261417, float64(r.CellT.Value), 5e-9)
	assert.Zero(t, float64(r.Gain.Value))
	assert.Zero(t, float64(r.Solid.Value))
	assert.Zero(t, float64(r.Thickness.Value))
	assert.False(t, r.Porosity.Value.Valid())
	assert.False(t, r.FilmIndex.Value.Valid())
}

// A film of index 1.30 and 100 nm on clear soda-lime glass reflects 0.01431355
// of the sun's energy over 300-2500 nm and 0.01278603 of its photons over
// 300-1200 nm (the same script). The simulated film has no
// dispersion and the fitted one has silica's, which a few 1e-4 allow for.
func TestFilmSolarValues(t *testing.T) {
	films := []optics.Film{{Index: optics.Constant("film", 1.30), ThicknessNM: 100}}
	r, _, err := evaluator(t).Spot(context.Background(), simulate(t, films, []float64{8, 30, 45, 60}, 2), nil, nil)
	require.NoError(t, err)
	assert.InDelta(t, 1-0.01431355, float64(r.SolarT.Value), 3e-4)
	assert.InDelta(t, 1-0.01278603, float64(r.CellT.Value), 3e-4)
	assert.InDelta(t, 100*(0.04257633-0.01431355), float64(r.Gain.Value), 0.03)
	assert.InDelta(t, float64(r.SolarT.U)*100, float64(r.Gain.U), 1e-12)
	assert.InDelta(t, 100, float64(r.Thickness.Value), 1.5)
}

// The share of 300-2500 nm in 380-1100 nm, and the mean of the readings there,
// from the table by hand: a plain trapezoid over the table's own wavelengths.
func TestSolarValueFromTheData(t *testing.T) {
	curves := simulate(t, nil, []float64{30, 8, 45}, 3)
	r, _, err := evaluator(t).Spot(context.Background(), curves, nil, nil)
	require.NoError(t, err)
	part, err := solar.Irradiance(380, 1100)
	require.NoError(t, err)
	whole, err := solar.Irradiance(300, 2500)
	require.NoError(t, err)
	assert.InDelta(t, part/whole, float64(r.SolarShareCovered), 1e-12)
	// optics/solar/testdata/worked.py
	assert.InDelta(t, 0.77808, float64(r.SolarShareCovered), 5e-6)

	sum, norm := 0.0, 0.0
	nm, w := solar.Table()
	for i := 1; i < len(nm); i++ {
		if nm[i-1] < 380 || nm[i] > 1100 {
			continue
		}
		d := (nm[i] - nm[i-1]) / 2
		sum += d * (w[i-1]*at(curves[1], nm[i-1]) + w[i]*at(curves[1], nm[i]))
		norm += d * (w[i-1] + w[i])
	}
	assert.InDelta(t, 1-sum/norm, float64(r.SolarTData), 1e-9)

	far := simulate(t, nil, []float64{30, 45}, 3)
	r, _, err = evaluator(t).Spot(context.Background(), far, nil, nil)
	require.NoError(t, err)
	assert.False(t, r.SolarTData.Valid(), "no curve up to 15 degrees")
}

// at reads a curve by straight lines.
func at(c film.Curve, nm float64) float64 {
	i := int(math.Floor((nm - c.NM[0]) / 2))
	i = min(max(i, 0), len(c.NM)-2)
	f := (nm - c.NM[i]) / 2
	return c.R[i]*(1-f) + c.R[i+1]*f
}

func TestGlassThatEndsTooEarly(t *testing.T) {
	short, err := optics.Table("short.csv", []float64{300, 1000}, []float64{1.53, 1.51}, []float64{0, 0})
	require.NoError(t, err)
	_, err = evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: short}})
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.Contains(t, r.Fault, "short.csv is known from 300 to 1000 nm only")
	assert.NotEmpty(t, r.Try)
}

// solar_T survives what thickness, porosity and bare fraction do not: one angle
// alone, and a 12 nm remnant at four, whose parameters are flagged. The truth is
// the G173 energy-weighted mean over 300-2500 nm of the general stack.
func TestSolarValueOfWhatIsNotSeparable(t *testing.T) {
	nm := solar.Grid(300, 2500)
	w, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	for _, c := range []struct {
		name   string
		films  []optics.Film
		angles []float64
	}{
		{"one angle", []optics.Film{silica(t, 118, 0.35)}, []float64{8}},
		{"12 nm remnant", []optics.Film{silica(t, 12, 0.35)}, []float64{8, 30, 45, 60}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _, err := optics.Stack{Films: c.films, Substrate: optics.SodaLime()}.RT(nil, nil, nm, 0, optics.U)
			require.NoError(t, err)
			truth := 1.0
			for i := range w {
				truth -= w[i] * r[i]
			}
			e := evaluator(t)
			for seed := range uint64(20) {
				got, v, err := e.Spot(context.Background(), simulate(t, c.films, c.angles, seed), nil, nil)
				require.NoError(t, err)
				assert.InDelta(t, truth, float64(got.SolarT.Value), 0.0003, "seed %d", seed)
				assert.False(t, v.Separable())
				assert.Equal(t, study.Unclear, got.State)
			}
		})
	}
}

// silica is a porous film by Bruggeman's rule, its skeleton fused silica shifted
// to 1.458 at 550 nm.
func silica(t *testing.T, nm, porosity float64) optics.Film {
	ref, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	solid := optics.FusedSilica().Shifted(1.458 - real(ref))
	grid := solar.Grid(300, 2500)
	n, k := make([]float64, len(grid)), make([]float64, len(grid))
	for i, lambda := range grid {
		s, err := solid.At(lambda)
		require.NoError(t, err)
		n[i] = math.Sqrt(real(optics.Bruggeman.Mix(s*s, 1, porosity)))
	}
	index, err := optics.Table("porous silica", grid, n, k)
	require.NoError(t, err)
	return optics.Film{Index: index, ThicknessNM: nm}
}
