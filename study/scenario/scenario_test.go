package scenario_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/scenario"
)

// made are the files of a scenario.
func made(t *testing.T) (map[string]string, scenario.Truth) {
	t.Helper()
	files := map[string]string{}
	truth, err := scenario.New().Write(func(name, text string) error {
		assert.NotContains(t, files, name, "written twice")
		files[name] = text
		return nil
	})
	require.NoError(t, err)
	return files, truth
}

// The same files come out each time, and no others than were announced; each curve has its row
// of the map and each spot its truth.
func TestScenarioIsWholeAndTheSame(t *testing.T) {
	files, truth := made(t)
	again, _ := made(t)
	assert.Equal(t, files, again)
	names := scenario.New().Files()
	assert.Len(t, files, len(names))
	curves := 0
	for _, name := range names {
		require.Contains(t, files, name)
		if strings.HasPrefix(name, "exports/") {
			heading := strings.Split(files[name], "\n")[3]
			curves += strings.Count(heading, "%R")
		}
	}
	assert.Equal(t, 1+curves, strings.Count(files[scenario.MapName], "\n"), "and the header")
	assert.Len(t, truth, curves/4, "four angles a spot")
	for _, table := range scenario.New().Tables() {
		assert.Contains(t, files, table)
	}
}

// The bare surface has Fresnel's reflectance at normal incidence, (n-1)²/(n+1)², at 587.562 nm with
// n = 1.523382406 (soda-lime glass by the formula of Rubin 1985, computed at 30 digits); a film
// whose surface is all bare changes nothing.
func TestBareSurface(t *testing.T) {
	const n = 1.523382406
	want := math.Pow((n-1)/(n+1), 2)
	for _, s := range []scenario.Surface{{Bare: 1}, {ThicknessNM: 120, Porosity: 0.3, Bare: 1}, {Porosity: 0.3}} {
		r, err := s.Reflectance([]float64{587.562, 600}, 0)
		require.NoError(t, err)
		assert.InDelta(t, want, r[0], 1e-10, "the index has ten digits: %+v", s)
	}
}

// Without voids the film is fused silica. A quarter wave of it reflects, at normal incidence,
// ((n-m²)/(n+m²))², with m = 1.45846368 at 587.562 nm (Malitson 1965, computed at 30 digits).
func TestQuarterWave(t *testing.T) {
	const n, m, nm = 1.523382406, 1.45846368, 587.562
	want := math.Pow((n-m*m)/(n+m*m), 2)
	r, err := scenario.Surface{ThicknessNM: nm / 4 / m}.Reflectance([]float64{nm, nm + 20}, 0)
	require.NoError(t, err)
	assert.InDelta(t, want, r[0], 1e-8, "the index has nine digits")
}

// A wavelength of which no table tells is an error.
func TestNothingIsExtrapolated(t *testing.T) {
	_, err := scenario.Surface{ThicknessNM: 120}.Reflectance([]float64{1, 2}, 0)
	assert.Error(t, err)
}
