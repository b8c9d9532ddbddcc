package evaluate_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/combin"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
	"wane/study/evaluate"
)

func proposal() *evaluate.Proposal {
	return &evaluate.Proposal{ThicknessNM: 118, Porosity: 0.36, LoNM: 380, HiNM: 1100, StepNM: 2, Polarisation: "u",
		NoiseSD: 0.0005}
}

// What a plan says is what the evaluation of noise-free curves says, which the general
// stack gives, but for what only readings tell. The stack is a uniform film on glass without a leak: what is known of
// structure and leak has the mean 0 here.
func TestPlanIsWhatEvaluationSays(t *testing.T) {
	ctx, angles := context.Background(), []float64{8, 30, 45, 60}
	known := film.DefaultKnown(optics.Matched)
	known.Structure.SkinNM, known.Structure.Variance, known.Coupon.Leak = 0, 0, 0
	e, err := evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()}, Known: &known})
	require.NoError(t, err)
	plan, err := e.Plan(ctx, proposal(), angles)
	require.NoError(t, err)
	curves := simulate(t, []optics.Film{silica(t, 118, 0.36)}, angles, 1)
	for i := range curves {
		c := &curves[i]
		c.R, _, err = optics.Stack{Films: []optics.Film{silica(t, 118, 0.36)}, Substrate: optics.SodaLime()}.RT(nil, nil,
			c.NM, c.AngleDeg, optics.U)
		require.NoError(t, err)
		c.NoiseSD = 0.0005
	}
	fitted, _, err := e.Spot(ctx, curves, nil, nil)
	require.NoError(t, err)

	assert.Equal(t, angles, plan.AnglesDeg)
	assert.Zero(t, plan.Tried)
	r := &plan.Result
	for name, m := range map[string][2]study.Measure{
		"solar_T": {r.SolarT, fitted.SolarT}, "cell_T": {r.CellT, fitted.CellT}, "gain": {r.Gain, fitted.Gain},
		"solid":     {r.Solid, fitted.Solid},
		"thickness": {r.Thickness, fitted.Thickness}, "porosity": {r.Porosity, fitted.Porosity},
		"bare":              {r.BareFraction, fitted.BareFraction},
		"optical thickness": {r.OpticalThickness, fitted.OpticalThickness}, "index": {r.FilmIndex, fitted.FilmIndex},
		"scale": {r.Scale, fitted.Scale},
	} {
		// where the fit ends is good to a thousandth of u
		assert.InDelta(t, float64(m[1].Value), float64(m[0].Value), 1e-3*float64(m[1].U), name)
		assert.InEpsilon(t, float64(m[1].U), float64(m[0].U), 1e-3, "u of %s", name)
	}
	assert.InDelta(t, float64(fitted.SolarShareCovered), float64(r.SolarShareCovered), 1e-9)
	assert.Equal(t, fitted.Points, r.Points)
	assert.Equal(t, fitted.Model, r.Model)
	assert.Empty(t, r.State)
	for _, null := range []study.Num{r.RMSResidual, r.ReducedChi2, r.SolarTData} {
		assert.False(t, null.Valid())
	}
}

// The change that a plan expects of an unchanged spot is the difference of two evaluated readings in two sessions: what they
// do not share is noise, placement and reading, and the errors of the sessions.
func TestPlannedChange(t *testing.T) {
	ctx, angles, e := context.Background(), []float64{8, 60}, evaluator(t)
	plan, err := e.Plan(ctx, proposal(), angles)
	require.NoError(t, err)
	curves := simulate(t, []optics.Film{silica(t, 118, 0.36)}, angles, 1)
	for i := range curves {
		curves[i].NoiseSD = proposal().NoiseSD
	}
	assert.Zero(t, plan.Result.Change.Value)
	_, v, err := e.Spot(ctx, curves, nil, nil)
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt(2*sessionAndOwn(t, v)), float64(plan.Result.Change.U), 0.02)
}

// sessionAndOwn is the variance, in pp², of the solar_T of a verdict that another session does not share.
func sessionAndOwn(t *testing.T, v *film.Verdict) float64 {
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	sun, err := film.NewProbe(nm, weights, 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	parts, err := v.Errors(film.Measurand{Mean: sun})
	require.NoError(t, err)
	variance := parts.Own.At(0, 0)
	for k, effect := range parts.Effects {
		if effect.Owner == film.OwnerSession {
			variance += parts.By.At(k, 0) * parts.By.At(k, 0)
		}
	}
	return 1e4 * variance
}

// A light trap whose zero is known to 0.0001 is worth what evaluated readings with that zero say, and a second mounting is
// worth what curves of two mountings say. The extra angle is the best of the candidates.
func TestPlanMeans(t *testing.T) {
	ctx, angles, e := context.Background(), []float64{8, 60}, evaluator(t)
	given, err := e.Plan(ctx, proposal(), angles)
	require.NoError(t, err)
	means, err := e.PlanMeans(ctx, proposal(), angles, []float64{8, 30, 45, 60})
	require.NoError(t, err)
	by := map[string]*evaluate.Plan{}
	for _, m := range means {
		by[m.Means] = m
		for name, of := range map[string]func(r *study.Result) study.Num{
			"solar_T": func(r *study.Result) study.Num { return r.SolarT.U },
			"change":  func(r *study.Result) study.Num { return r.Change.U },
			"solid":   func(r *study.Result) study.Num { return r.Solid.U },
		} {
			more, less := float64(of(&given.Result)), float64(of(&m.Result))
			assert.Less(t, less, more, "%s by %s", name, m.Means)
			if m.Means == evaluate.MeansMounting {
				assert.Greater(t, less, more/math.Sqrt2, "%s by %s", name, m.Means)
			}
		}
	}
	assert.Len(t, by, 3)

	known := film.DefaultKnown(optics.Matched)
	known.Coupon.UIndex = 0
	twice := &film.Plan{ThicknessNM: 118, Porosity: 0.36}
	nm := floats.Span(make([]float64, 361), 380, 1100)
	for mounting := range 2 {
		for _, angle := range angles {
			twice.Curves = append(twice.Curves, film.Curve{NM: nm, AngleDeg: angle, Pol: optics.U,
				NoiseSD: 0.0005, Mounting: 1 + mounting})
		}
	}
	v, err := film.NewFitter(film.Setup{Glass: film.Glass{Index: optics.SodaLime()}, Known: &known}).Precision(ctx, twice)
	require.NoError(t, err)
	mounted := &by[evaluate.MeansMounting].Result
	assert.InEpsilon(t, v.SolidNM.U, float64(mounted.Solid.U), 1e-6)
	assert.InEpsilon(t, v.ThicknessNM.U, float64(mounted.Thickness.U), 1e-6)

	known.Session.UZero = 0.0001
	trapped, err := evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()}, Known: &known})
	require.NoError(t, err)
	same, err := trapped.Plan(ctx, proposal(), angles)
	require.NoError(t, err)
	trap := &by[evaluate.MeansTrap].Result
	assert.Equal(t, [3]study.Measure{same.Result.SolarT, same.Result.Change, same.Result.Solid},
		[3]study.Measure{trap.SolarT, trap.Change, trap.Solid})
	again, err := trapped.PlanMeans(ctx, proposal(), angles, nil)
	require.NoError(t, err)
	require.Len(t, again, 1, "neither a trap that is there already nor an angle without candidates")
	assert.Equal(t, evaluate.MeansMounting, again[0].Means)

	for _, angle := range []float64{30, 45} {
		other, err := e.Plan(ctx, proposal(), []float64{8, angle, 60})
		require.NoError(t, err)
		assert.LessOrEqual(t, by[evaluate.MeansAngle].Result.SolarT.U, other.Result.SolarT.U)
	}
}

// Whatever the goal, no other set of two is better.
func TestBestAngles(t *testing.T) {
	ctx, candidates, e := context.Background(), []float64{8, 30, 45, 60, 75}, evaluator(t)
	for goal, u := range map[string]func(r *study.Result) study.Num{
		"thickness": func(r *study.Result) study.Num { return r.Thickness.U },
		"porosity":  func(r *study.Result) study.Num { return r.Porosity.U },
		"bare":      func(r *study.Result) study.Num { return r.BareFraction.U },
		"solid":     func(r *study.Result) study.Num { return r.Solid.U },
		"solar_T":   func(r *study.Result) study.Num { return r.SolarT.U },
	} {
		assert.Contains(t, evaluate.Goals(), goal)
		best, err := e.BestAngles(ctx, proposal(), candidates, 2, goal)
		require.NoError(t, err)
		assert.True(t, best.All)
		assert.Equal(t, 10, best.Tried)
		least := math.Inf(1)
		for _, pair := range combin.Combinations(len(candidates), 2) {
			p, err := e.Plan(ctx, proposal(), []float64{candidates[pair[0]], candidates[pair[1]]})
			require.NoError(t, err)
			least = min(least, float64(u(&p.Result)))
		}
		assert.InEpsilon(t, least, float64(u(&best.Result)), 1e-9, goal)
	}
	assert.Len(t, evaluate.Goals(), 5)
}

// A range is met at both ends whatever the step, and what is none is refused.
func TestPlannedWavelengths(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		lo, hi, step float64
		points       int
		fault        string
	}{
		{380, 1100, 2, 361, ""},
		{380, 1100, 0.1, 7201, ""},
		{400, 700, 7, 43, ""}, // to 694 nm
		{1100, 380, 2, 0, "1100 to 380 nm is no range of wavelengths"},
		{380, 380, 2, 0, "380 to 380 nm is no range of wavelengths"},
		{math.NaN(), 1100, 2, 0, "NaN to 1100 nm is no range of wavelengths"},
		{380, 1100, 0, 0, "a step of 0 nm does not divide 380-1100 nm into up to 20000 points"},
		{380, 1100, 1e-6, 0, "a step of 1e-06 nm does not divide 380-1100 nm into up to 20000 points"},
		{380, 1100, math.NaN(), 0, "a step of NaN nm does not divide 380-1100 nm into up to 20000 points"},
		{380, 400, 5, 0, "curve 1: 5 points are too few to fit; at least 8 are needed"},
		{200, 1100, 2, 0, "the curves reach 200 nm, but the index of soda-lime glass is known from 300 to 4600 nm only"},
	} {
		p := proposal()
		p.LoNM, p.HiNM, p.StepNM = c.lo, c.hi, c.step
		plan, err := evaluator(t).Plan(ctx, p, []float64{8})
		if c.fault == "" {
			require.NoError(t, err)
			assert.Equal(t, study.Num(c.points), plan.Result.Points)
			continue
		}
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused)
		assert.Equal(t, c.fault, refused.Error())
		assert.NotEmpty(t, refused.Try)
	}
	_, err := evaluator(t).BestAngles(ctx, proposal(), []float64{8, 60}, 3, "thickness")
	assert.EqualError(t, err, "angles: a set of 3 cannot be chosen from 2 candidates")
	assert.Panics(t, func() { _, _ = evaluator(t).BestAngles(ctx, proposal(), []float64{8, 60}, 1, "beauty") })
}

// A film that the proposed angles do not tell is flagged, and its solar value stands.
func TestPlanNotSeparable(t *testing.T) {
	plan, err := evaluator(t).Plan(context.Background(), proposal(), []float64{8})
	require.NoError(t, err)
	for _, name := range []string{film.Thickness, film.Porosity, film.Bare} {
		assert.Contains(t, plan.Result.Flags, film.FlagNotSeparable+name)
	}
	assert.Less(t, float64(plan.Result.SolarT.U), 0.001)
}

// What transmittance would buy is what the evaluation of noise-free reflectance and transmittance says, which the general
// pane gives, without and with a blank of the pane, of solar_T, gain, and what film and residue absorb. An evaluation of
// noisy curves, which takes films as absorbing beforehand as it does by default, says as much within a tenth: it ends at
// another film. Without transmittance it is unknown what the film absorbs.
func TestPlanThrough(t *testing.T) {
	ctx, angles, known := context.Background(), []float64{8, 60}, film.DefaultKnown(optics.Bare)
	known.Structure.SkinNM, known.Structure.Variance = 0, 0 // as the pane has none
	setup := evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: 0.002, ThicknessMM: 3.2, Back: optics.Bare,
		ULoss: 0.25}, Known: &known}
	evaluatorOf := func(setup evaluate.Setup) *evaluate.Evaluator {
		e, err := evaluate.NewEvaluator(setup)
		require.NoError(t, err)
		return e
	}
	byDefault := evaluatorOf(setup)
	given, err := byDefault.Plan(ctx, proposal(), angles)
	require.NoError(t, err)
	assert.True(t, given.Result.IsLossless())
	means, err := byDefault.PlanMeans(ctx, proposal(), angles, nil)
	require.NoError(t, err)
	require.Len(t, means, 4)

	curves := paneCurves(t, angles)
	clear := known
	clear.Loss.K, clear.Loss.ResidueNM = 0, 0
	setup.Known = &clear
	_, through, err := optics.Pane{Glass: setup.Glass.Index, GlassMM: 3.2, Back: optics.Bare}.RT(nil, nil, curves[0].NM, 0, optics.U)
	require.NoError(t, err)
	blank, err := film.NewBlank(setup.Glass.Index, curves[0].NM, through, 0)
	require.NoError(t, err)
	noisy := slices.Clone(curves)
	rng := rand.New(rand.NewPCG(1, 4))
	for i := range noisy {
		noisy[i].R = slices.Clone(noisy[i].R)
		for k := range noisy[i].R {
			noisy[i].R[k] += noisy[i].NoiseSD * rng.NormFloat64()
		}
	}
	blanked := slices.Clone(curves)
	blanked[2].NoiseSD *= math.Sqrt2 // that of the blank is as much
	for _, c := range []struct {
		plan   *evaluate.Plan
		means  string
		e      *evaluate.Evaluator
		curves []film.Curve
		tol    float64
	}{
		{means[2], evaluate.MeansThrough, evaluatorOf(setup), curves, 1e-3},
		{means[2], evaluate.MeansThrough, byDefault, noisy, 0.1},
		{means[3], evaluate.MeansPane, evaluatorOf(evaluate.WithBlank(setup, blank, true)), blanked, 1e-3},
	} {
		fitted, v, err := c.e.Spot(ctx, c.curves, nil, nil)
		require.NoError(t, err)
		require.Equal(t, c.means, c.plan.Means)
		r := &c.plan.Result
		assert.Equal(t, angles, c.plan.AnglesDeg)
		for name, m := range map[string][2]study.Measure{"solar_T": {r.SolarT, fitted.SolarT}, "gain": {r.Gain, fitted.Gain},
			"absorbed": {r.Absorbed, fitted.Absorbed}, "film_k": {r.FilmK, fitted.FilmK}} {
			assert.InDelta(t, float64(m[1].Value), float64(m[0].Value), 30*c.tol*float64(m[1].U), "%s of %s", name, c.means)
			assert.InEpsilon(t, float64(m[1].U), float64(m[0].U), c.tol, "u of %s of %s", name, c.means)
		}
		assert.InEpsilon(t, math.Sqrt(2*sessionAndOwn(t, v)), float64(r.Change.U), c.tol, c.means)
		assert.Greater(t, r.SolarT.U, given.Result.SolarT.U, "the lossless film leaves out what is absorbed")
		assert.Equal(t, given.Result.Thickness.Value, r.Thickness.Value)
	}
}

// paneCurves are the noise-free reflectances at the angles and the transmittance at normal incidence of the proposed film on a
// pane of 3.2 mm with a bare far face.
func paneCurves(t *testing.T, angles []float64) (curves []film.Curve) {
	pane := optics.Pane{Films: []optics.Film{silica(t, 118, 0.36)}, Glass: optics.SodaLime(), GlassMM: 3.2, Back: optics.Bare}
	nm := floats.Span(make([]float64, 361), 380, 1100)
	for _, angle := range append(slices.Clone(angles), 0) {
		r, through, err := pane.RT(nil, nil, nm, angle, optics.U)
		require.NoError(t, err)
		c := film.Curve{NM: nm, R: r, AngleDeg: angle, Pol: optics.U, NoiseSD: proposal().NoiseSD}
		if angle == 0 {
			c.R, c.Through = through, true
		}
		curves = append(curves, c)
	}
	return curves
}
