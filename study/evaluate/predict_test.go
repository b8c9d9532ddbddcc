package evaluate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/colour"
	"wane/study/evaluate"
)

// Solar values and colours of stated films against testdata/predicted.py: NumPy 1.24, Fresnel's equations and the sum of
// Airy, trapezoids over the table of sunlight and sums over that of the observer. The model interpolates its films: 2e-6 of
// reflectance, 1e-3 of a colour.
func TestPredictedByPython(t *testing.T) {
	type sight struct{ solarT, cellT, gainPP float64 }
	angles := []float64{0, 8, 60, 75}
	for _, of := range []struct {
		nm, porosity, bare float64
		want               []sight
	}{
		{118, 0.36, 0, []sight{{0.987051593694, 0.989869689874, 2.962792160793}, {0.987054830990, 0.989827173898, 2.963763475295},
			{0.951651321582, 0.952734093253, 4.411871676558}, {0.805565341529, 0.805545451888, 6.224752502361}}},
		{95, 0.30, 0.1, []sight{{0.981508161183, 0.982638777068, 2.408448909694}, {0.981434227154, 0.982532926437, 2.401703091740},
			{0.937513179439, 0.937388676779, 2.998057462284}, {0.781638453242, 0.780814703896, 3.832063673631}}},
	} {
		seen := predicted(t, colour.D65, film.Sample{ThicknessNM: of.nm, Porosity: of.porosity, Bare: of.bare}, angles)
		for k, want := range of.want {
			assert.InDelta(t, want.solarT, float64(seen[k].SolarT.Value), 2e-6, "%g nm, %g degrees", of.nm, angles[k])
			assert.InDelta(t, want.cellT, float64(seen[k].CellT.Value), 2e-6, "%g nm, %g degrees", of.nm, angles[k])
			assert.InDelta(t, want.gainPP, float64(seen[k].Gain.Value), 2e-4, "%g nm, %g degrees", of.nm, angles[k])
			assert.False(t, seen[k].SolarT.U.Valid(), "a stated film has no uncertainty")
		}
	}
	for light, want := range map[colour.Light][2]colour.Lab{
		colour.A:     {{L: 2.499792594541, A: -0.549547007526, B: -13.875149052642}, {L: 20.452475275638, A: 4.358972616288, B: 6.119492167232}},
		colour.D65:   {{L: 3.016521670353, A: 4.059396859089, B: -14.216710229159}, {L: 19.837043673156, A: 3.085257867847, B: 5.156346224276}},
		colour.LEDB3: {{L: 2.634135748394, A: 1.775708946345, B: -14.629008536115}, {L: 20.146419815089, A: 3.05308484552, B: 5.834660429278}},
	} {
		for k, s := range predicted(t, light, film.Sample{ThicknessNM: 118, Porosity: 0.36}, []float64{8, 60}) {
			assert.InDeltaSlice(t, []float64{want[k].L, want[k].A, want[k].B}, []float64{s.Lab.L, s.Lab.A, s.Lab.B}, 1e-3, "%v", light)
		}
	}
}

func predicted(t *testing.T, light colour.Light, s film.Sample, anglesDeg []float64) []evaluate.Sight {
	t.Helper()
	f, err := evaluate.NewForecaster(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()}}, evaluate.View{AnglesDeg: anglesDeg,
		LoNM: 380, HiNM: 1100, StepNM: 2, Polarisation: "u", Light: light})
	require.NoError(t, err)
	out, err := f.Predict(s)
	require.NoError(t, err)
	return out.Sights
}
