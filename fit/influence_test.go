package fit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/fit"
)

// stackloss is the linear model of the oxidation of ammonia, of testdata/stackloss.csv.
func stackloss(t testing.TB) *fit.Problem {
	rows := readCSV(t, "testdata/stackloss.csv")
	p := &fit.Problem{
		Params: []fit.Param{{Name: "one"}, {Name: "air"}, {Name: "water"}, {Name: "acid"}}, Points: len(rows),
		Residuals: func(dst, x []float64) {
			for i, row := range rows {
				dst[i] = x[0] + floats.Dot(x[1:], row[:3]) - row[3]
			}
		},
		Jacobian: func(dst, _ []float64) {
			for i, row := range rows {
				dst[4*i] = 1
				copy(dst[4*i+1:4*i+4], row[:3])
			}
		},
	}
	return p
}

// hatvalues, rstudent, cooks.distance and dfbeta of R 4.2.2 for stackloss, without and
// with knowledge, which R was given as rows of the design: testdata/influence.R. R takes
// data less model, so that its rstudent has the other sign, and dfbeta is with less
// without the point.
func TestInfluenceAgainstR(t *testing.T) {
	for _, c := range []struct {
		name   string
		priors map[int]fit.Prior
	}{
		{"plain", nil},
		{"priors", map[int]fit.Prior{0: {Mean: -30, SD: 5}, 2: {Mean: 1, SD: 0.2}, 3: {Mean: 0, SD: 0.1}}},
	} {
		p := stackloss(t)
		for j, prior := range c.priors {
			p.Params[j].Prior = prior
		}
		want := readCSV(t, "testdata/influence_"+c.name+".csv")
		require.Len(t, want, p.Points)
		for how, relative := range map[string]float64{"derivatives": 1e-9, "differences": 1e-6} {
			q := *p
			if how == "differences" {
				q.Jacobian = nil
			}
			r := solve(t, &q, nil)
			got, err := q.Influence(r)
			require.NoError(t, err)
			for i, row := range want {
				assert.InEpsilon(t, row[0], got.Leverage[i], relative, "%s, %s: leverage of %d", c.name, how, i)
				assert.InEpsilon(t, -row[1], got.Studentised[i], relative, "%s, %s: studentised %d", c.name, how, i)
				assert.InEpsilon(t, row[2], got.Cook[i], relative, "%s, %s: Cook's distance of %d", c.name, how, i)
				for j := range 4 {
					assert.InEpsilon(t, -row[3+j], got.Shift.At(i, j), 10*relative, "%s, %s: shift of %d by %d", c.name, how, j, i)
				}
			}
		}
	}
}

// Without a point the parameters are where Shift says: exactly for a linear problem,
// here with a parameter pinned and priors.
func TestInfluenceByLeavingOut(t *testing.T) {
	p := stackloss(t)
	p.Params[2] = fit.Param{Name: "water", Start: 1.2, Fixed: true}
	p.Params[3].Prior = fit.Prior{Mean: 0.1, SD: 0.05}
	r := solve(t, p, nil)
	got, err := p.Influence(r)
	require.NoError(t, err)
	for i := range p.Points {
		q := *p
		q.Residuals = func(dst, x []float64) {
			p.Residuals(dst, x)
			dst[i] = 0
		}
		q.Jacobian = func(dst, x []float64) {
			p.Jacobian(dst, x)
			clear(dst[4*i : 4*i+4])
		}
		without := solve(t, &q, nil)
		for j := range 4 {
			assert.InDelta(t, without.X[j]-r.X[j], got.Shift.At(i, j), 1e-9*math.Max(1, math.Abs(r.X[j])), "%d without %d", j, i)
		}
	}
}

// A point that alone determines a parameter has a leverage of 1 and nothing to be
// judged by; the other points keep theirs: three data of a mean, by hand, 1/3 each and
// with the squares of residuals 1, 1 and 4 Cook's distances h·r²/(1-h)²/s²/2, with
// s² = 6/2.
func TestInfluenceOfTheOnlyPoint(t *testing.T) {
	y := []float64{1, 1, 4, 7}
	p := &fit.Problem{
		Params: []fit.Param{{Name: "mean"}, {Name: "other"}}, Points: 4,
		Residuals: func(dst, x []float64) {
			for i := range 3 {
				dst[i] = x[0] - y[i]
			}
			dst[3] = x[0] + x[1] - y[3]
		},
		Jacobian: func(dst, _ []float64) { copy(dst, []float64{1, 0, 1, 0, 1, 0, 1, 1}) },
	}
	r := solve(t, p, nil)
	got, err := p.Influence(r)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{1. / 3, 1. / 3, 1. / 3, 1}, got.Leverage, 1e-12)
	for i, r2 := range []float64{1, 1, 4} {
		assert.InDelta(t, 1./3*r2/(4./9)/3/2, got.Cook[i], 1e-12)
	}
	// The other two agree without the third, and have no scatter to judge it by.
	assert.True(t, math.IsNaN(got.Studentised[2]))
	assert.True(t, math.IsNaN(got.Studentised[3]) && math.IsNaN(got.Cook[3]) && math.IsNaN(got.Shift.At(3, 0)))
}

func TestInfluenceFaults(t *testing.T) {
	p := stackloss(t)
	r := solve(t, p, nil)
	assert.Panics(t, func() { _, _ = p.Influence(&fit.Result{}) })

	few := line([]float64{0, 1, 2}, []float64{0, 1, 3}, 1, fit.Param{}, fit.Param{})
	var fault *fit.ProblemError
	_, err := few.Influence(solve(t, few, nil))
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "number of degrees of freedom", fault.Quantity)

	_, err = squared(p).Influence(r)
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "number of residual functions", fault.Quantity)

	same := line([]float64{1, 1, 1, 1}, []float64{0, 1, 3, 2}, 1, fit.Param{Name: "a"}, fit.Param{Name: "b"})
	var singular *fit.SingularError
	_, err = same.Influence(solve(t, same, nil))
	require.ErrorAs(t, err, &singular)
	assert.Equal(t, []string{"a", "b"}, singular.Params)
}
