package optics_test

import (
	"encoding/csv"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/optics"
)

// records reads a CSV of testdata: one map per row, from heading to cell. It
// fails the test unless there are exactly as many rows as expected.
func records(t *testing.T, name string, rows int) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	require.NoError(t, err)
	require.Len(t, all, rows+1, "rows of %s with the header", name)
	out := make([]map[string]string, rows)
	for i, row := range all[1:] {
		out[i] = make(map[string]string)
		for j, cell := range row {
			out[i][all[0][j]] = cell
		}
	}
	return out
}

func number(t *testing.T, cell string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(cell, 64)
	require.NoError(t, err)
	return v
}

// seeded returns a source of its own for each test, the same at each run.
func seeded(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 17)) }

// uniform returns a random number between lo and hi.
func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// anyFilms returns up to five random films, with k up to the given one.
func anyFilms(r *rand.Rand, k float64) []optics.Film {
	films := make([]optics.Film, r.IntN(6))
	for i := range films {
		films[i] = film(complex(uniform(r, 1.05, 2.6), uniform(r, 0, k)), uniform(r, 0, 400))
	}
	return films
}

func film(n complex128, thicknessNM float64) optics.Film {
	return optics.Film{Index: medium(n), ThicknessNM: thicknessNM}
}

// medium is the constant index n.
func medium(n complex128) optics.Index { return optics.Constant("a made-up medium", n) }

// spectrum is the RT of a stack or a pane.
type spectrum func(dstR, dstT, nm []float64, angleDeg float64, pol optics.Polarisation) (R, T []float64, err error)

// one evaluates rt at one wavelength.
func one(t *testing.T, rt spectrum, nm, angleDeg float64, pol optics.Polarisation) (R, T float64) {
	t.Helper()
	r, tr, err := rt(nil, nil, []float64{nm}, angleDeg, pol)
	require.NoError(t, err)
	return r[0], tr[0]
}
