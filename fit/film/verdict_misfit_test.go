package film

import (
	"context"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/optics"
)

// Source: R version 4.2.2, pf(x, d1, d2, lower.tail = FALSE).
func TestMisfitIsComparedWithF(t *testing.T) {
	for _, c := range []struct{ x, nu, noise, p float64 }{
		{1.8, 40, 361, 0.00294124809887262},
		{1.5, 28.7, 96.25, 0.0744892669166359},
		{2.4, 12, 22.5, 0.0352576131229288},
	} {
		f := misfit{q: c.x * c.nu, noise: c.noise}
		assert.InEpsilon(t, c.p, f.survival(c.nu), 1e-9)
	}
	sure := misfit{q: 48, noise: math.Inf(1)}
	assert.InEpsilon(t, 0.472849720547744, sure.survival(48), 1e-9, "pchisq(48, 48, lower.tail = FALSE)")
}

// The limit that Q is compared with is the quantile of F of R (testdata/misfit.R, with its version), to 1e-6.
func TestMisfitLimitIsQuantileOfF(t *testing.T) {
	f, err := os.Open("testdata/misfit.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+9*6)
	for _, row := range rows[1:] {
		var v [3]float64 // nu, nu_s, limit; "Inf" is a number, too
		for i, cell := range row {
			v[i], err = strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
		}
		at := func(factor float64) misfit {
			return misfit{q: v[0] * v[2] * factor, least: v[0], most: v[0], noise: v[1]}
		}
		below, above := at(1-1e-6), at(1+1e-6)
		assert.False(t, below.isCalled(nil), row)
		assert.True(t, above.isCalled(nil), row)
	}
}

// The rows of the cosine coefficients are orthonormal, and on compressed curves they give those of the polynomial.
func TestCosinesAreOrthonormal(t *testing.T) {
	var table cosineTable
	const n = 61
	for a := range cosines {
		for b := range cosines {
			want := 0.0
			if a == b {
				want = 1
			}
			sum := 0.0
			for i := range n {
				sum += table.row(a, n)[i] * table.row(b, n)[i]
			}
			assert.InDelta(t, want, sum, 1e-13)
		}
	}
	for _, size := range []int{60, 61} {
		var table cosineTable
		values, got := make([]float64, size), make([]float64, cosines)
		for i := range values {
			values[i] = math.Exp(math.Sin(float64(i)))
		}
		table.transform(got, values)
		for k := range got {
			assert.InDelta(t, floats.Dot(table.row(k, size), values), got[k], 1e-12)
		}
	}
}

// Of the curves of uniform films with noise alone hardly any are called; a step of 0.003 at a detector that is not
// enrolled always is.
func TestMisfitCallsFewSoundSpots(t *testing.T) {
	rng, called, found := rand.New(rand.NewPCG(3, 1)), 0, 0
	const n = 150
	known := Known{Session: Session{UScale: 0.01, UFactor: 0.01, UAngle: 0.3}}
	setup := Setup{Glass: Glass{Index: optics.SodaLime()}, Known: &known}
	fitter := NewFitter(setup)
	for range n {
		spot := &Spot{Setup: setup}
		for _, angle := range []float64{8, 30, 45, 60} {
			c := Curve{AngleDeg: angle, Pol: optics.U}
			for nm := 380.0; nm <= 1100; nm += 12 {
				c.NM, c.R = append(c.NM, nm), append(c.R, 0)
			}
			spot.Curves = append(spot.Curves, c)
		}
		m, err := fitter.fullModel(spot, []float64{1, 1, 1, 1})
		require.NoError(t, err)
		x := startVector(m.params(0))
		x[pTau], x[pIndex], x[pBare] = 130+30*rng.Float64(), 1.25+0.1*rng.Float64(), 0.1*rng.Float64()
		m.predictReadings(x)
		for k := range spot.Curves {
			for i := range spot.Curves[k].R {
				spot.Curves[k].R[i] += 0.0004 * rng.NormFloat64()
			}
		}
		v, err := fitter.Fit(context.Background(), spot)
		require.NoError(t, err)
		if v.called.full {
			called++
		}
		for k := range spot.Curves {
			for i, nm := range spot.Curves[k].NM {
				if nm >= 850 {
					spot.Curves[k].R[i] += 0.003
				}
			}
		}
		if v, err = fitter.Fit(context.Background(), spot); err == nil && v.called.full {
			found++
		}
	}
	t.Logf("%d of %d called, %d with a step", called, n, found)
	assert.LessOrEqual(t, called, 3) // 99.9 % of binomials of 150 and 0.0031 (see verdict_misfit.go)
	assert.Equal(t, n, found)
}
