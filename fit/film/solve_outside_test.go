package film

import (
	"context"
	"encoding/csv"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// Sources: testdata/outside/fit.py (SciPy 1.10.1, least_squares) and fit.R (R 4.2.2,
// minpack.lm 1.2.3, nls.lm), tolerances 1e-15; the exact versions and calls stand atop
// what they wrote. Each fits the same made-up readings with a model of its own, in
// thickness and porosity, written from Snell's law, Fresnel's equations and the Airy sum
// (M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), 1.5 and 1.6, from memory).
var outsideFits = []string{"fits_scipy.csv", "fits_r.csv"}

// The outside programs agree with each other to 2e-14 in the sum of squares, 2e-7
// standard errors in the parameters and 5e-9 in the standard errors.
const (
	outsideParameter = 1e-6 // relative
	outsideShift     = 1e-4 // of a standard error: nobody would see it, and it binds where a value is known well
	outsideError     = 1e-5 // relative, of a standard error
)

// Both ways to fit find what the outside programs find. The sum of squares of all
// points agrees to where the fit stops; that of compressed curves to the error of
// their interpolation, 1e-9 of reflectance.
func TestAgainstSciPyAndR(t *testing.T) {
	ctx := context.Background()
	for _, problem := range outsideTable(t, "problems.csv") {
		t.Run(problem["problem"], func(t *testing.T) {
			spot := outsideSpot(t, problem)
			f := NewFitter(spot.Setup)
			sigma, err := spot.noise()
			require.NoError(t, err)
			m, err := f.packedModel(spot, sigma, 0)
			require.NoError(t, err)
			m.coarse = m
			short, err := m.plainly(ctx)
			require.NoError(t, err)
			if !short.isWithinModel() { // too thick for the first level
				m, err = f.packedModel(spot, sigma, 1)
				require.NoError(t, err)
				m.coarse = m
				short, err = m.plainly(ctx)
				require.NoError(t, err)
			}
			m, err = f.fullModel(spot, sigma)
			require.NoError(t, err)
			m.coarse, err = f.coarseModel(spot, sigma)
			require.NoError(t, err)
			whole, err := m.plainly(ctx)
			require.NoError(t, err)
			for _, file := range outsideFits {
				want := outsideFit(t, file, problem["problem"])
				t.Run("compressed, "+file, func(t *testing.T) { againstOutside(t, want, short, 1e-8) })
				t.Run("all points, "+file, func(t *testing.T) { againstOutside(t, want, whole, 1e-10) })
			}
		})
	}
}

// againstOutside compares the film found with an outside fit; cost is the relative
// tolerance of the sum of squares.
func againstOutside(t *testing.T, want map[string]Estimate, v *Verdict, cost float64) {
	require.True(t, v.Converged)
	require.Equal(t, ModelFilm, v.Model)
	got := outsideQuantities(v)
	require.ElementsMatch(t, slices.Collect(maps.Keys(want)), slices.Collect(maps.Keys(got)),
		"the same parameters are free")
	for name, w := range want {
		g := got[name]
		if name == "objective" {
			assert.InEpsilon(t, w.Value, g.Value, cost, name)
			continue
		}
		assert.InDelta(t, w.Value, g.Value, outsideParameter*outsideSize(t, name, w.Value), name)
		assert.InDelta(t, w.Value, g.Value, outsideShift*w.U, name)
		assert.InEpsilon(t, w.U, g.U, outsideError, "standard error of "+name)
	}
}

// outsideSize is what a parameter's tolerance is relative to: its value, but for the
// errors of an angle and of the index of the glass, which may be 0, the angle itself
// and an index of 1.5.
func outsideSize(t *testing.T, name string, value float64) float64 {
	if angle, is := strings.CutPrefix(name, "angle@"); is {
		return number(t, angle)
	}
	if name == "glass" {
		return 1.5
	}
	return value
}

// outsideQuantities are the sum of squares and the free parameters by their outside
// names. The standard errors are those for residuals that do not hang together: times
// max(1, reduced chi-square) and nothing else.
func outsideQuantities(v *Verdict) map[string]Estimate {
	s := v.chosen
	inflated := math.Sqrt(max(1, s.chi2) / s.inflation())
	film := v.model.derive(s.x)
	q := map[string]Estimate{"thickness_nm": film.thickness.estimate(s.cov), "porosity": film.porosity.estimate(s.cov)}
	outside := map[string]string{"skeleton_index": "skeleton", "glass_index": "glass"}
	for i, p := range s.params {
		name, renamed := outside[p.Name]
		if !renamed {
			name = p.Name
		}
		if i != pTau && i != pIndex && !p.Fixed {
			q[name] = Estimate{Value: s.x[i], U: math.Sqrt(s.cov.At(i, i))}
		}
	}
	for name, e := range q {
		e.U *= inflated
		q[name] = e
	}
	q["objective"] = Estimate{Value: s.cost}
	return q
}

// outsideFit reads what one program found for a problem.
func outsideFit(t *testing.T, file, problem string) map[string]Estimate {
	q := map[string]Estimate{}
	for _, row := range outsideTable(t, file) {
		if row["problem"] == problem {
			q[row["quantity"]] = Estimate{Value: number(t, row["value"]), U: number(t, row["standard_error"])}
		}
	}
	return q
}

// outsideSpot is a problem with its readings.
func outsideSpot(t *testing.T, problem map[string]string) *Spot {
	of := func(column string) float64 { return number(t, problem[column]) }
	glass := map[string]optics.Index{"borosilicate-crown": optics.BorosilicateCrown(),
		"soda-lime": optics.SodaLime().Lossless()}[problem["glass"]]
	mixing, err := optics.ParseMixing(problem["mixing"])
	require.NoError(t, err)
	spot := &Spot{Setup: Setup{
		Glass:   Glass{Index: glass, UIndex: of("u_glass")},
		Coating: Coating{Mixing: mixing, Skeleton: of("skeleton"), USkeleton: of("u_skeleton")},
		Known:   &Known{Session: Session{UScale: of("u_scale"), UFactor: of("u_factor"), UAngle: of("u_angle_deg"), UShare: of("u_share")}},
	}}
	readings := outsideTable(t, problem["problem"]+".csv")
	for _, column := range strings.Fields(problem["curves"]) {
		end := len(column) - 1
		share, known := map[byte]optics.Polarisation{'s': optics.S, 'p': optics.P, 'u': optics.U, 'n': optics.U}[column[end]]
		require.True(t, known, column)
		c := Curve{AngleDeg: number(t, column[:end]), Pol: share, Native: column[end] == 'n', NoiseSD: of("noise_sd")}
		for _, row := range readings {
			c.NM, c.R = append(c.NM, number(t, row["nm"])), append(c.R, number(t, row[column]))
		}
		spot.Curves = append(spot.Curves, c)
	}
	return spot
}

// outsideTable reads a table of testdata/outside, one map from column to cell a row.
func outsideTable(t *testing.T, file string) []map[string]string {
	f, err := os.Open("testdata/outside/" + file)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	r := csv.NewReader(f)
	r.Comment = '#'
	head, err := r.Read()
	require.NoError(t, err)
	var rows []map[string]string
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		row := map[string]string{}
		for i, cell := range cells {
			row[head[i]] = cell
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

func number(t *testing.T, cell string) float64 {
	v, err := strconv.ParseFloat(cell, 64)
	require.NoError(t, err)
	return v
}
