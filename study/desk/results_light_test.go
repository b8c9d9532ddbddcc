package desk

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/optics/solar"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/scenario"
)

// lit returns the rows of a study in lights.
func lit(t *testing.T, d *Desk, workers int, lights ...evaluate.Light) (rows []LitRow) {
	t.Helper()
	require.NoError(t, d.ResultsInLight(context.Background(), ResultsOptions{Workers: workers}, lights, nil, func(r *LitRow) error {
		rows = append(rows, *r)
		return nil
	}))
	return rows
}

// At normal incidence results in other light are those that are stored, with their uncertainties, changes and corrected
// changes; at an angle, the film of the truth lets in what optics says; in the light of a year that is worked by hand, the
// weighted mean of its parts; and nothing depends on the number of workers.
func TestResultsInLight(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	ctx := context.Background()
	f.export("a.csv", 118, 0.02, 1)
	f.export("b.csv", 100, 0.05, 2)
	f.export("c.csv", 118, 0.02, 3)
	f.export("e.csv", 117, 0.02, 4)
	path := f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("b.csv", "E1", 1)+rows("c.csv", "C1", 0)+rows("e.csv", "C1", 1))
	_, err := d.Intake(ctx, path, nil, IntakeOptions{})
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)

	year, err := ReadLight(f.write("year.csv", "incidence_deg,beam,diffuse\n20,600,0\n60,300,100\n"))
	require.NoError(t, err)
	step, err := evaluate.IdealLight("1.12", 1.12)
	require.NoError(t, err)
	lights := []evaluate.Light{evaluate.LightAt(0), evaluate.LightAt(20), evaluate.LightAt(60),
		evaluate.DiffuseLight(), year, step}
	got := lit(t, d, 1, lights...)
	stored := results(t, d)
	require.Len(t, got, len(stored))
	for i := range stored {
		want, in := &stored[i], got[i].In
		require.Equal(t, want.Coupon, got[i].Coupon)
		same := func(want, got study.Measure, what string) {
			assert.InDelta(t, float64(want.Value), float64(got.Value), 1e-9, "%s: %s", want, what)
			assert.InDelta(t, float64(want.U), float64(got.U), 1e-5*float64(want.U), what) // errors are stored as float32
		}
		same(want.SolarT, in[0].Row.SolarT, "solar_T")
		same(want.Gain, in[0].Row.Gain, "gain")
		if want.Change.Value.Valid() {
			same(want.Change, in[0].Row.Change, "change")
		}
		if want.CorrectedChange.Value.Valid() {
			same(want.CorrectedChange, in[0].Row.CorrectedChange, "corrected change")
		}
		same(study.Measure{Value: 1, U: 0}, in[0].Modifier, "modifier at 0")

		value := func(k int) float64 { return float64(in[k].Row.SolarT.Value) }
		assert.InDelta(t, (600*value(1)+300*value(2)+100*value(3))/1000, value(4), 1e-9, "worked by hand")
		assert.InDelta(t, value(2)/value(0), float64(in[2].Modifier.Value), 1e-12)
		assert.Less(t, float64(in[2].Modifier.U), math.Hypot(float64(in[2].Row.SolarT.U), float64(in[0].Row.SolarT.U)),
			"what both have in common counts once")
	}
	for i, again := range lit(t, d, 2, lights[:3]...) {
		for k := range again.In {
			one, two := &got[i].In[k], &again.In[k]
			of := func(l *Lit) string { return fmt.Sprint(l.Row.SolarT, l.Row.Change, l.Row.CorrectedChange, l.Modifier) }
			assert.Equal(t, of(one), of(two))
		}
	}

	// E1 at pull 1: the film of its truth at 60 degrees, with optics alone, over the same sunlight.
	change := got[3].In[2].Row.Change
	require.Equal(t, "E1", got[3].Coupon)
	truth := frontT(t, 100, 0.05) - frontT(t, 118, 0.02)
	assert.InDelta(t, 100*truth, float64(change.Value), 3*float64(change.U))
	current := got[3].In[5].CurrentChange(got[3].In[5].Row.Change)
	by := got[3].In[5].Row
	assert.InDelta(t, 100*(float64(by.SolarT.Value)/float64(got[2].In[5].Row.SolarT.Value)-1), float64(current.Value), 1e-9)
}

// frontT returns the transmittance at 60 degrees by AM1.5 energy, of a made-up film.
func frontT(t *testing.T, thickness, bare float64) float64 {
	t.Helper()
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	r, err := scenario.Surface{ThicknessNM: thickness, Porosity: 0.35, Bare: bare}.Reflectance(nm, 60)
	require.NoError(t, err)
	return 1 - floats.Dot(weights, r)
}
