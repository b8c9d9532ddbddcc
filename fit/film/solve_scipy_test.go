package film_test

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// Source: testdata/scipy_fit.py (Python 3.11, numpy 1.24.2, scipy 1.10.1,
// least_squares with trf, tolerances 1e-15), which fits the same made-up spectra
// with its own model in thickness and porosity. The exact versions are in
// testdata/scipy_fits.json.
func TestAgainstSciPy(t *testing.T) {
	var want struct {
		Sigma float64
		Fits  []map[string]float64
	}
	text, err := os.ReadFile("testdata/scipy_fits.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &want))
	nm, columns := readSpectra(t, "testdata/scipy_spectra.csv")
	require.Len(t, columns, 4*len(want.Fits))

	for n, fitted := range want.Fits {
		t.Run(fmt.Sprintf("truth %d", n), func(t *testing.T) {
			s := &film.Spot{Setup: film.Setup{Glass: film.Glass{Index: optics.BorosilicateCrown()}, Known: sessionOnly(usualSession)}}
			for k, angle := range fourAngles {
				s.Curves = append(s.Curves, film.Curve{NM: nm, R: columns[4*n+k], AngleDeg: angle, Pol: optics.U,
					NoiseSD: want.Sigma})
			}
			v, err := film.FitPlainly(context.Background(), s)
			require.NoError(t, err)
			for name, got := range map[string]film.Estimate{
				"thickness_nm": v.ThicknessNM, "porosity": v.Porosity, "bare_fraction": v.Bare, "scale": v.Scale,
				"solid_nm": v.SolidNM,
			} {
				assert.InDelta(t, 1, got.Value/fitted[name], 1e-6, name)
				assert.InDelta(t, 1, got.U/fitted["u_"+name], 1e-4, "u of "+name)
			}
			assert.InDelta(t, 1, v.ReducedChi2/fitted["reduced_chi2"], 1e-8)
		})
	}
}

// readSpectra reads a table of curves on one grid.
func readSpectra(t *testing.T, path string) (nm []float64, columns [][]float64) {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	columns = make([][]float64, len(rows[0])-1)
	for _, row := range rows[1:] {
		for j, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			require.False(t, math.IsNaN(x))
			if j == 0 {
				nm = append(nm, x)
			} else {
				columns[j-1] = append(columns[j-1], x)
			}
		}
	}
	return nm, columns
}
