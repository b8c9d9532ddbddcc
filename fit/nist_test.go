package fit_test

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// nistSet is a dataset of the NIST/ITL Statistical Reference Datasets, nonlinear
// regression (testdata/nist_strd, with sources in each file; terms: testdata/README.md).
type nistSet struct {
	Name        string
	Start1      []float64
	Start2      []float64
	Certified   []float64
	CertifiedSD []float64 `json:"certified_sd"`
	RSS         float64   `json:"certified_rss"`
	ResidualSD  float64   `json:"residual_sd"`

	x [][]float64
	y []float64
}

func loadNIST(t testing.TB) (sets []nistSet) {
	files, err := filepath.Glob("testdata/nist_strd/*.json")
	require.NoError(t, err)
	require.Len(t, files, len(nistModels), "every set has a model and every model a set")
	sort.Strings(files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		var s nistSet
		require.NoError(t, json.Unmarshal(text, &s), file)
		s.load(t, strings.TrimSuffix(file, ".json")+".csv")
		require.Contains(t, nistModels, s.Name)
		sets = append(sets, s)
	}
	return sets
}

func (s *nistSet) load(t testing.TB, file string) {
	for _, row := range readCSV(t, file) {
		last := len(row) - 1
		y := row[last]
		if s.Name == "Nelson" {
			y = math.Log(y)
		}
		s.x, s.y = append(s.x, row[:last]), append(s.y, y)
	}
}

// readCSV returns the numbers in file below the headings.
func readCSV(t testing.TB, file string) (numbers [][]float64) {
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		v := make([]float64, len(row))
		for i := range row {
			v[i], err = strconv.ParseFloat(row[i], 64)
			require.NoError(t, err)
		}
		numbers = append(numbers, v)
	}
	return numbers
}

// problem returns the set as a problem of unit weights, with the Jacobian by hand.
func (s *nistSet) problem(start []float64) *fit.Problem {
	model, n := nistModels[s.Name], len(start)
	grad := make([]float64, n)
	p := &fit.Problem{Points: len(s.y)}
	for j, b := range start {
		p.Params = append(p.Params, fit.Param{Name: fmt.Sprintf("b%d", j+1), Start: b})
	}
	p.Residuals = func(dst, b []float64) {
		for i, x := range s.x {
			dst[i] = model(grad, b, x) - s.y[i]
		}
	}
	p.Jacobian = func(dst, b []float64) {
		for i, x := range s.x {
			model(dst[i*n:(i+1)*n], b, x)
		}
	}
	return p
}

// tight asks for all that double precision gives.
var tight = &fit.Settings{MaxIterations: 5000, CostTol: -1, StepTol: -1, GradTol: -1}

// digits returns the number of digits that agree in all elements of got and
// want: the smallest -log10 of a relative difference, at most 11, which is what
// NIST certifies.
func digits(got, want []float64) float64 {
	d := 11.0
	for i := range want {
		off := math.Abs(got[i]-want[i]) / math.Abs(want[i])
		if math.IsNaN(off) {
			return math.Inf(-1)
		}
		d = min(d, -math.Log10(off))
	}
	return d
}

// TestNIST holds every set, from both starts, with one setting, to the certified
// parameters, standard deviations and residual sums of squares.
//
// From start 2 it asks for 6 digits, from start 1, which is far away on purpose,
// for 4. Measured were at least 7.1 and 7.6, but for ENSO: 6.5 and 6.7. (Doubles
// resolve a cost to 16 digits, hence a parameter to about 8 of its standard
// deviations' digits, and one in ENSO has a standard deviation 2.4 times itself.)
// Central differences, good to 10 digits, cost little: at least 6.9 and 6.4.
//
// One case is an exception: from start 1 of MGH17, 5 orders of magnitude above
// the certified cost, differences lead to a plateau where exp(-b5·x) has vanished
// from all data. There b5 cannot be determined, and the fit must say so. Of 300
// starts within 5 % of this one 280 arrive with differences, 289 without.
func TestNIST(t *testing.T) {
	for _, s := range loadNIST(t) {
		for _, c := range []struct {
			name   string
			start  []float64
			digits float64
		}{{"start 1", s.Start1, 4}, {"start 2", s.Start2, 6}} {
			p := s.problem(c.start)
			t.Run(s.Name+"/"+c.name, func(t *testing.T) { s.check(t, p, c.digits) })
			p.Jacobian = nil
			t.Run(s.Name+"/"+c.name+"/differences", func(t *testing.T) {
				if s.Name == "MGH17" && c.name == "start 1" {
					s.checkPlateau(t, p)
					return
				}
				s.check(t, p, c.digits)
			})
		}
	}
}

func (s *nistSet) check(t *testing.T, p *fit.Problem, want float64) {
	r, err := fit.Solve(context.Background(), p, tight)
	require.NoError(t, err)
	where := fmt.Sprintf("%s from %v: %v after %d iterations at %v", s.Name, p.Params, r.Reason, r.Iterations, r.X)
	assert.True(t, r.Converged(), where)
	assert.GreaterOrEqual(t, digits(r.X, s.Certified), want, "digits of the parameters, "+where)
	// The cost is flat at the minimum, so that it has twice the digits of the
	// parameters: at least 10 in all cases measured.
	assert.GreaterOrEqual(t, digits([]float64{r.Cost}, []float64{s.RSS}), 9.0, "digits of the sum of squares, "+where)
	assert.Equal(t, r.Cost, r.DataCost, where)
	assert.Equal(t, len(s.y)-len(s.Certified), r.DegreesOfFreedom(), where)

	cov, err := r.Covariance()
	require.NoError(t, err, where)
	sd := fit.StandardErrors(nil, cov)
	for j := range sd {
		sd[j] *= s.ResidualSD
	}
	assert.GreaterOrEqual(t, digits(sd, s.CertifiedSD), want, "digits of the standard deviations %v, %s", sd, where)
}

func (s *nistSet) checkPlateau(t *testing.T, p *fit.Problem) {
	r, err := fit.Solve(context.Background(), p, tight)
	require.NoError(t, err)
	if digits(r.X, s.Certified) >= 4 {
		return
	}
	_, err = r.Covariance()
	var singular *fit.SingularError
	require.ErrorAs(t, err, &singular, "ended at %v, where the fit must not look sound", r.X)
	assert.Contains(t, singular.Params, "b5")
}

// TestNISTDefaults makes sure that the defaults, meant for data with noise, stop
// where it no longer matters: within a ten-thousandth of a standard deviation of
// the certified parameters.
func TestNISTDefaults(t *testing.T) {
	for _, s := range loadNIST(t) {
		r, err := fit.Solve(context.Background(), s.problem(s.Start2), nil)
		require.NoError(t, err)
		assert.True(t, r.Converged(), s.Name)
		for j, want := range s.Certified {
			assert.InDelta(t, want, r.X[j], 1e-4*s.CertifiedSD[j], "%s b%d", s.Name, j+1)
		}
	}
}

// TestNISTJacobians compares the derivatives by hand with central differences, in
// units of the parameters and relative to the largest in a column. Steps h = 1e-5
// give differences good to about 1e-9 of it, and the tolerance leaves room for
// the curvature of the exponentials; where a column is almost nothing beside the
// residuals, their rounding errors over h are what counts.
func TestNISTJacobians(t *testing.T) {
	const h = 1e-5
	for _, s := range loadNIST(t) {
		for _, at := range [][]float64{s.Start1, s.Start2, s.Certified} {
			p, m, n := s.problem(at), len(s.y), len(at)
			x, one := make([]float64, n), make([]float64, n)
			for j := range one {
				one[j] = 1
			}
			var want mat.Dense
			want.ReuseAs(m, n)
			fd.Jacobian(&want, func(dst, unit []float64) {
				for j := range x {
					x[j] = unit[j] * at[j]
				}
				p.Residuals(dst, x)
			}, one, &fd.JacobianSettings{Formula: fd.Central, Step: h})

			got, r := make([]float64, m*n), make([]float64, m)
			p.Jacobian(got, at)
			p.Residuals(r, at)
			rounding := 0x1p-52 * floats.Norm(r, math.Inf(1)) / h
			for j := range n {
				largest := 0.0
				for i := range m {
					largest = max(largest, math.Abs(got[i*n+j]*at[j]))
				}
				for i := range m {
					assert.InDelta(t, want.At(i, j), got[i*n+j]*at[j], 1e-6*largest+rounding, "%s at %v: residual %d by b%d", s.Name,
						at, i, j+1)
				}
			}
		}
	}
}
