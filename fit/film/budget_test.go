package film_test

import (
	"context"
	"math"
	"math/rand/v2"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
	"wane/fit/film"
	"wane/optics"
)

// flatBudget is a budget whose solar value is the flat mean over nm.
func flatBudget(tb testing.TB, nm []float64) film.Budget {
	return film.Budget{Seed: 11, Mean: func() (*film.Probe, error) { return flatProbe(tb, nm), nil }}
}

func budget(t *testing.T, b film.Budget, v, base *film.Verdict) (map[string]film.BudgetRow, []string) {
	rows, err := b.Run(context.Background(), v, base)
	require.NoError(t, err)
	byTerm, order := map[string]film.BudgetRow{}, []string{}
	for _, r := range rows {
		t.Logf("%-16s %8.4g %-16s %8.4f nm %8.5f pp %8.5f pp", r.Term, r.Size, r.Unit, r.ThicknessNM, r.SolarPP, r.ChangePP)
		byTerm[r.Term], order = r, append(order, r.Term)
	}
	return byTerm, order
}

// quadrature adds all rows but the total.
func quadrature(rows map[string]film.BudgetRow, of func(film.BudgetRow) float64) float64 {
	sum := 0.0
	for term, r := range rows {
		if term != "total" {
			sum += of(r) * of(r)
		}
	}
	return math.Sqrt(sum)
}

func thicknessOf(r film.BudgetRow) float64 { return r.ThicknessNM }
func solarOf(r film.BudgetRow) float64     { return r.SolarPP }
func changeOf(r film.BudgetRow) float64    { return r.ChangePP }

// With everything else held, noise alone is left: it contributes the u of the fit, within
// the Monte Carlo error 1/√(2·1000), 2.2 %. A second check of the u of thickness: 0.08 nm,
// noise and scale only (see TestPrecisionTable).
func TestBudgetOfNoiseOnly(t *testing.T) {
	nm := grid(380, 1100, 2)
	silica, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	spot := declared(truth{118, 0.36, 0.05, 1, real(silica)}.spot(t, nm, fourAngles, 1))
	spot.Known, spot.Coating = sessionOnly(film.Session{UScale: math.Inf(1)}), film.Coating{Skeleton: real(silica)}
	v := fitted(t, spot)
	b := flatBudget(t, nm)
	b.Draws, b.Known = 1000, &film.Known{}
	rows, order := budget(t, b, v, nil)
	assert.Equal(t, []string{"noise", "total"}, order)
	r := rows["noise"]
	inflated := math.Sqrt(max(1, v.ReducedChi2))
	assert.InDelta(t, noise*inflated, r.Size, 1e-12)
	assert.InDelta(t, 1, r.ThicknessNM/v.ThicknessNM.U, 3*0.022)
	assert.InDelta(t, 1, r.SolarPP/(100*v.Mean(flatProbe(t, nm)).U), 3*0.022)
	assert.InDelta(t, 0.08, r.ThicknessNM, 0.005+3*0.022*0.08, "to the digits of the table")
	assert.True(t, math.IsNaN(r.ChangePP))
	assert.InDelta(t, 1, rows["total"].ThicknessNM/r.ThicknessNM, 3*0.032, "of another draw")
}

// What the fit knows how to find out, it is not hurt by: an error of scale of 1 % moves a
// fit that leaves scale free without a prior by nothing but where fits end.
func TestBudgetOfAFreeScale(t *testing.T) {
	nm := grid(380, 1100, 2)
	spot := declared(truth{118, 0.36, 0.05, 1, 1.458}.spot(t, nm, fourAngles, 1))
	spot.Known, spot.Coating = sessionOnly(film.Session{UScale: math.Inf(1)}), film.Coating{Skeleton: 1.458}
	v := fitted(t, spot)
	b := flatBudget(t, nm)
	_, err := b.Run(context.Background(), v, nil)
	var in *film.InputError
	assert.ErrorAs(t, err, &in, "an infinite error cannot be drawn")
	b.Draws, b.Known = 100, sessionOnly(film.Session{UScale: 0.01})
	rows, _ := budget(t, b, v, nil)
	assert.Equal(t, 0.01, rows["scale"].Size)
	assert.Less(t, rows["scale"].ThicknessNM, 1e-3*v.ThicknessNM.U)
	assert.Less(t, rows["scale"].SolarPP, 1e-3*rows["noise"].SolarPP)
	// Held, the same error goes into the film.
	held := *spot
	held.Known = sessionOnly(film.Session{})
	rows, _ = budget(t, b, fitted(t, &held), nil)
	assert.Greater(t, rows["scale"].ThicknessNM, 3*v.ThicknessNM.U)
}

// With all that a session does not know, in the linear regime: the terms add in
// quadrature to the total, the total is the u of the fit, and the u of thickness is the
// 0.16 nm of testdata/precision.py. Sum and total each have a
// Monte Carlo error of 1/√(2·1000), 2.2 %, at most.
func TestBudgetAddsUp(t *testing.T) {
	nm := grid(380, 1100, 2)
	silica, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	spot := declared(truth{118, 0.36, 0.05, 1, real(silica)}.spot(t, nm, fourAngles, 1))
	spot.Coating = film.Coating{Skeleton: real(silica), USkeleton: 0.010}
	spot.Glass.UIndex = 0.002
	for k := range spot.Curves {
		spot.Curves[k].Native = true
	}
	v := fitted(t, spot)
	b := flatBudget(t, nm)
	b.Draws = 1000
	rows, order := budget(t, b, v, nil)
	assert.Equal(t, []string{"noise", "skeleton index", "glass index", "scale", "s share", "angle factors",
		"angle errors", "total"}, order)
	inflated := math.Sqrt(max(1, v.ReducedChi2)) // which the fit takes for priors, too, and the budget for noise alone
	for name, c := range map[string]struct{ sum, total, u float64 }{
		"thickness": {quadrature(rows, thicknessOf), rows["total"].ThicknessNM, v.ThicknessNM.U},
		"solar":     {quadrature(rows, solarOf), rows["total"].SolarPP, 100 * v.Mean(flatProbe(t, nm)).U},
	} {
		assert.InDelta(t, 1, c.sum/c.total, 3*0.032, name)
		assert.InDelta(t, 1, c.sum/c.u, 3*0.022+inflated-1, name)
		assert.InDelta(t, 1, c.total/c.u, 3*0.022+inflated-1, name)
	}
	assert.InDelta(t, 0.16, rows["total"].ThicknessNM, 0.005+3*0.022*0.16, "to the digits of the table")
	for term, want := range map[string]float64{"scale": 0.01, "angle factors": 0.01, "angle errors": 0.3,
		"s share": 0.05, "glass index": 0.002, "skeleton index": 0.010} {
		assert.InDelta(t, want, rows[term].Size, 1e-12, term)
	}
}

// What two pulls share cancels in their difference, as far as their films are alike; what
// they do not share adds.
func TestBudgetOfAChange(t *testing.T) {
	nm := grid(380, 1100, 2)
	spot := func(d float64, seed uint64) *film.Verdict {
		s := declared(truth{d, 0.36, 0.05, 1, 1.458}.spot(t, nm, fourAngles, seed))
		s.Glass.UIndex, s.Water = 0.002, film.Water{Share: 0.1, UShare: 0.03}
		return fitted(t, s)
	}
	v, base := spot(112, 1), spot(118, 2)
	b := flatBudget(t, nm)
	rows, order := budget(t, b, v, base)
	assert.Equal(t, "total", order[len(order)-1])
	for _, term := range []string{"skeleton index", "glass index"} {
		assert.Less(t, rows[term].ChangePP, 0.5*rows[term].SolarPP, term)
	}
	for _, term := range []string{"noise", "angle factors", "angle errors", "pore water"} {
		// the films are nearly the same: the root of two, with three Monte Carlo errors of 3.5 % and a tenth for the films
		assert.InDelta(t, math.Sqrt2, rows[term].ChangePP/rows[term].SolarPP, 0.25, term)
	}
	assert.InDelta(t, 0.03, rows["pore water"].Size, 1e-15)
	assert.Less(t, rows["pore water"].ThicknessNM, 1e-9)
	assert.InDelta(t, 1, quadrature(rows, changeOf)/rows["total"].ChangePP, 3*0.05)
}

// The same seed gives the same budget, with any number of workers.
func TestBudgetDoesNotDependOnTheWorkers(t *testing.T) {
	nm := grid(380, 1100, 8)
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(t, nm, fourAngles, 1)
	spot.Water = film.Water{Share: 0.1, UShare: 0.05}
	v := fitted(t, spot)
	run := func(workers int, seed uint64) []film.BudgetRow {
		b := flatBudget(t, nm)
		b.Draws, b.Workers, b.Seed = 12, workers, seed
		rows, err := b.Run(context.Background(), v, v)
		require.NoError(t, err)
		for i := range rows {
			if math.IsNaN(rows[i].Size) {
				rows[i].Size = 0 // a NaN equals nothing
			}
		}
		return rows
	}
	assert.Equal(t, run(1, 1), run(3, 1))
	assert.NotEqual(t, run(1, 1), run(1, 2))
}

// A pane that sends light back, on all points because its absorption is not smooth, with
// the porosity held: what noise contributes is still the u of the fit.
func TestBudgetOfAPaneWithPins(t *testing.T) {
	nm := grid(400, 1000, 8)
	tr := truth{118, 0.36, 0, 1, 1.458}
	glass := film.Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: optics.Bare}
	spot := &film.Spot{Setup: film.Setup{Glass: glass, Coating: film.Coating{Skeleton: 1.458}, Known: sessionOnly(film.Session{})},
		Pins: film.Pins{film.Porosity: 0.36}}
	rng := rand.New(rand.NewPCG(12, 13))
	for _, a := range []float64{8, 45} {
		c := film.Curve{NM: nm, AngleDeg: a, Pol: optics.U, NoiseSD: noise}
		for i := range nm {
			films := []optics.Film{{Index: optics.Constant("film", tr.film(t, nm[i])), ThicknessNM: tr.thickness}}
			r, _, err := optics.Pane{Films: films, Glass: glass.Index, GlassMM: glass.ThicknessMM, Back: glass.Back}.RT(nil,
				nil, nm[i:i+1], a, optics.U)
			require.NoError(t, err)
			c.R = append(c.R, r[0]+noise*rng.NormFloat64())
		}
		spot.Curves = append(spot.Curves, c)
	}
	v := fitted(t, spot)
	assert.InDelta(t, 118, v.ThicknessNM.Value, 4*v.ThicknessNM.U)
	b := flatBudget(t, nm)
	b.Draws = 150
	rows, _ := budget(t, b, v, nil)
	// the Monte Carlo error is 5.8 %; the bare fraction ends on its bound about every
	// other time, which makes the scatter smaller than the linear u
	assert.Less(t, rows["noise"].ThicknessNM, (1+3*0.058)*v.ThicknessNM.U)
	assert.Greater(t, rows["noise"].ThicknessNM, 0.5*v.ThicknessNM.U)
	i, err := v.Profile(context.Background(), film.FilmIndex, 0)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(i.Lower), "the index follows from the porosity")
}

func TestBudgetRefusesWhatItCannotDraw(t *testing.T) {
	nm := grid(380, 1100, 8)
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(t, nm, fourAngles, 1)
	v := fitted(t, spot)
	other := *spot
	other.Coating = film.Coating{Mixing: optics.VolumeAverage}
	var in *film.InputError
	for _, bad := range []struct {
		change func(b *film.Budget)
		base   *film.Verdict
	}{
		{func(b *film.Budget) { b.Draws = -1 }, nil},
		{func(b *film.Budget) { b.Workers = -2 }, nil},
		{func(b *film.Budget) { b.Known = sessionOnly(film.Session{UAngle: math.Inf(1)}) }, nil},
		{func(*film.Budget) {}, fitted(t, &other)},
	} {
		b := flatBudget(t, nm)
		bad.change(&b)
		_, err := b.Run(context.Background(), v, bad.base)
		assert.ErrorAs(t, err, &in)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	b := flatBudget(t, nm)
	_, err := b.Run(ctx, v, nil)
	assert.ErrorIs(t, err, context.Canceled)
}

// asking is a context that panics when it is asked for the n-th time.
type asking struct {
	context.Context
	left *atomic.Int64
}

func (c asking) Err() error {
	if c.left.Add(-1) == 0 {
		panic("made up")
	}
	return c.Context.Err()
}

// A panic in a worker of a budget reaches the caller.
func TestBudgetHandsPanicsOn(t *testing.T) {
	nm := grid(380, 1100, 20)
	v := fitted(t, declared(truth{118, 0.36, 0.05, 1, 1.458}.spot(t, nm, fourAngles, 1)))
	b := flatBudget(t, nm)
	b.Draws, b.Workers = 20, 3
	ctx := asking{context.Background(), &atomic.Int64{}}
	ctx.left.Store(math.MaxInt64)
	_, err := b.Run(ctx, v, nil)
	require.NoError(t, err)
	ctx.left.Store((math.MaxInt64 - ctx.left.Load()) / 2) // most questions are those of the workers
	defer func() { require.IsType(t, &fit.WorkerPanic{}, recover()) }()
	_, err = b.Run(ctx, v, nil)
	t.Errorf("returned %v", err)
}
