package desk

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study/evaluate"
)

// sweep predicts films of steps of the thickness.
func sweep(tb testing.TB, step float64, workers int) (all []evaluate.Forecast) {
	opt := &PredictOptions{Pane: Pane{Glass: "soda-lime", Back: optics.Matched}, Film: film.NoSample(), Workers: workers,
		View: evaluate.View{AnglesDeg: []float64{8}, LoNM: 380, HiNM: 1100, StepNM: 2, Polarisation: "u"},
		Vary: []Varied{{Name: "thickness", Lo: 50, Hi: 150, Step: step}}}
	opt.Film.Porosity = 0.36
	require.NoError(tb, Predict(context.Background(), opt, nil, func(f *evaluate.Forecast, _ []evaluate.Spectrum) error {
		all = append(all, *f)
		return nil
	}))
	return all
}

func TestSweepDoesNotDependOnWorkers(t *testing.T) {
	one := sweep(t, 1, 1)
	require.Len(t, one, 101)
	assert.Equal(t, 50.0, one[0].Film.ThicknessNM)
	assert.Equal(t, 150.0, one[100].Film.ThicknessNM)
	for i, other := range sweep(t, 1, 3) {
		assert.Equal(t, fmt.Sprint(one[i]), fmt.Sprint(other)) // a NaN equals none
	}
}

// Of films of one porosity that of about a quarter wave in the middle of sunlight lets most through: common practice,
// no source.
func TestSweepHasABestFilm(t *testing.T) {
	all := sweep(t, 1, 2)
	best := 0
	for i := range all {
		if all[i].Sights[0].SolarT.Value > all[best].Sights[0].SolarT.Value {
			best = i
		}
	}
	assert.InDelta(t, 110, all[best].Film.ThicknessNM, 15)
}

func TestValuesOfVaried(t *testing.T) {
	for _, v := range []Varied{{"thickness", 140, 90, 5}, {"thickness", 90, 90, 5}, {"thickness", 90, 140, 0},
		{"thickness", 90, 140, -5}, {"thickness", 90, 140, 1e-6}} {
		_, err := v.values()
		var usage *UsageError
		assert.ErrorAs(t, err, &usage, v)
	}
	values, err := (&Varied{"porosity", 0.1, 0.4, 0.1}).values()
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{0.1, 0.2, 0.3, 0.4}, values, 1e-12)
}

func TestTooManyFilms(t *testing.T) {
	opt := &PredictOptions{Vary: []Varied{{"thickness", 1, 1001, 1}, {"porosity", 0, 0.5, 0.001}}}
	_, err := opt.films()
	assert.ErrorContains(t, err, "more than 100000 films")
}

// A sweep of 1,000 films shall take less than a second.
func BenchmarkSweepOf1000Films(b *testing.B) {
	for b.Loop() {
		sweep(b, 0.1, 0)
	}
}
