package fit_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"wane/fit"
)

// remlExpected are the figures of one case of testdata/reml_expected.csv, by name.
func remlExpected(t *testing.T, of string) map[string]float64 {
	f, err := os.Open("testdata/reml_expected.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	figures := map[string]float64{}
	for _, row := range rows {
		if row[0] == of {
			figures[row[1]], err = strconv.ParseFloat(row[2], 64)
			require.NoError(t, err)
		}
	}
	require.NotEmpty(t, figures)
	return figures
}

// kinds is what the coordinates of testdata/reml.R belong to: factor, tilt, zero.
var kinds = []int{0, 0, 0, 0, 1, 2}

// diagonal returns a covariance of equal, independent errors.
func diagonal(n int, sd float64) *mat.SymDense {
	c := mat.NewSymDense(n, nil)
	for i := range n {
		c.SetSym(i, i, sd*sd)
	}
	return c
}

// lme4 1.1-31 in R 4.2.2, testdata/reml.R: five readings of 12 mounts with one sigma, whose estimate makes C here.
// lmer stops when its deviance does, at about 1e-7 of the sds.
func TestREMLAgainstLme4(t *testing.T) {
	want := remlExpected(t, "balanced")
	vectors := make([]fit.Observed, 12)
	for i := range vectors {
		vectors[i] = fit.Observed{Y: make([]float64, 6), C: diagonal(6, want["sigma"]/math.Sqrt(5))}
	}
	for _, row := range readCSV(t, "testdata/reml_balanced.csv") {
		vectors[int(row[0])-1].Y[int(row[1])-1] += row[3] / 5
	}
	v, err := fit.REML(vectors, kinds)
	require.NoError(t, err)
	assert.InEpsilonSlice(t, []float64{want["factor"], want["tilt"], want["zero"]}, v.SD, 1e-6)
	checkMeans(t, want, v)
}

func checkMeans(t *testing.T, want map[string]float64, v *fit.Variances) {
	t.Helper()
	se := fit.StandardErrors(nil, v.Cov)
	for i := range se {
		n := strconv.Itoa(i + 1)
		assert.InEpsilon(t, want["mean"+n], v.Mean[i], 1e-6)
		assert.InEpsilon(t, want["se"+n], se[i], 1e-6)
	}
}

// unequalVectors are those of testdata/reml_unequal.csv, with a covariance of its own each.
func unequalVectors(t *testing.T) (vectors []fit.Observed) {
	for _, row := range readCSV(t, "testdata/reml_unequal.csv") {
		vectors = append(vectors, fit.Observed{Y: row[:6], C: mat.NewSymDense(6, row[6:])})
	}
	require.Len(t, vectors, 9)
	return vectors
}

// metafor 3.8-1 in R 4.2.2, testdata/reml.R: its REML to about 1e-7, and the ends of its profile-likelihood intervals
// at 95 %, of tau², with a deviance that it finds anew at each of them. Its interval of zero begins at 0.
func TestREMLAgainstMetafor(t *testing.T) {
	want := remlExpected(t, "unequal")
	v, err := fit.REML(unequalVectors(t), kinds)
	require.NoError(t, err)
	checkMeans(t, want, v)
	for k, name := range []string{"factor", "tilt", "zero"} {
		assert.InEpsilon(t, want[name], v.SD[k], 1e-6, name)
		i, err := v.Interval(k, 3.841458820694124) // chi-square, 95 %, 1 degree of freedom
		require.NoError(t, err)
		assert.InDelta(t, want[name+"_lower"], i.Lower, 1e-5*want[name], name)
		assert.InEpsilon(t, want[name+"_upper"], i.Upper, 1e-5, name)
		assert.Equal(t, want[name+"_lower"] == 0, i.LowerOpen, name)
		assert.False(t, i.UpperOpen)
	}
}

// Without errors of their own the vectors have the sample variance, pooled over the coordinates of a component, with
// M-1 degrees of freedom; the deviance is then that of normal data, (M-1)·n·log variance + ..., whose profile solves
// x - log x - 1 = rise/((M-1)·n) for x the ratio of estimate and variance.
func TestREMLWithoutErrors(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	vectors, columns := make([]fit.Observed, 7), make([][]float64, 3)
	for i := range vectors {
		vectors[i] = fit.Observed{Y: []float64{r.NormFloat64(), 3 + r.NormFloat64(), 500 * r.NormFloat64()},
			C: mat.NewSymDense(3, nil)}
		for k, y := range vectors[i].Y {
			columns[k] = append(columns[k], y)
		}
	}
	v, err := fit.REML(vectors, []int{0, 0, 1})
	require.NoError(t, err)
	pooled := (stat.Variance(columns[0], nil) + stat.Variance(columns[1], nil)) / 2
	assert.InEpsilon(t, math.Sqrt(pooled), v.SD[0], 1e-9)
	assert.InEpsilon(t, stat.StdDev(columns[2], nil), v.SD[1], 1e-9)
	for k, freedom := range []float64{12, 6} {
		i, err := v.Interval(k, 3)
		require.NoError(t, err)
		for _, end := range []float64{i.Lower, i.Upper} {
			x := v.SD[k] * v.SD[k] / end / end
			assert.InDelta(t, 3/freedom, x-math.Log(x)-1, 1e-8)
		}
		assert.Less(t, i.Lower, v.SD[k])
		assert.Greater(t, i.Upper, v.SD[k])
	}
}

// The factor of one curve in ten placements, true scatter 0.2 %: from 10 to 90 % of the estimates lie within 0.14 to
// 0.26 %. Without errors these are the quantiles of chi-square with 9 degrees of freedom, 0.136 and 0.255 % (qchisq of
// R 4.2.2: 4.168 and 14.684); errors of 0.04 %, the noise of a blank at one angle, hardly widen that.
func TestREMLOfTenPlacements(t *testing.T) {
	const runs = 2000
	r := rand.New(rand.NewPCG(5, 6))
	for _, own := range []float64{0, 0.04} {
		var found []float64
		for range runs {
			vectors := make([]fit.Observed, 10)
			for i := range vectors {
				vectors[i] = fit.Observed{Y: []float64{math.Hypot(0.2, own) * r.NormFloat64()}, C: diagonal(1, own)}
			}
			v, err := fit.REML(vectors, []int{0})
			require.NoError(t, err)
			found = append(found, v.SD[0])
		}
		slices.Sort(found)
		// The standard error of these quantiles with 2,000 runs is 0.0015 %.
		assert.InDelta(t, 0.136, found[runs/10], 0.006)
		assert.InDelta(t, 0.255, found[runs*9/10], 0.006)
	}
}

// Nothing depends on the units of the coordinates, the order of the vectors or a shift of all of them.
func TestREMLInvariance(t *testing.T) {
	plain, err := fit.REML(unequalVectors(t), kinds)
	require.NoError(t, err)
	unit, shift := []float64{1e-3, 1e-3, 1e-3, 1e-3, 40, 1e-6}, []float64{1, -2, 30, 4, 5, 6e-3}
	vectors := unequalVectors(t)
	for _, v := range vectors {
		c := v.C.(*mat.SymDense)
		for a := range v.Y {
			v.Y[a] = v.Y[a]*unit[a] + shift[a]
			for b := a; b < len(v.Y); b++ {
				c.SetSym(a, b, c.At(a, b)*unit[a]*unit[b])
			}
		}
	}
	slices.Reverse(vectors)
	scaled, err := fit.REML(vectors, kinds)
	require.NoError(t, err)
	for k, u := range []float64{1e-3, 40, 1e-6} {
		assert.InEpsilon(t, plain.SD[k]*u, scaled.SD[k], 1e-8)
		a, err := plain.Interval(k, 2)
		require.NoError(t, err)
		b, err := scaled.Interval(k, 2)
		require.NoError(t, err)
		assert.InDelta(t, a.Lower*u, b.Lower, 1e-7*a.Upper*u)
		assert.InEpsilon(t, a.Upper*u, b.Upper, 1e-7)
	}
}

// Scatter below what the errors claim is none, with an interval from 0; the deviance rises to its end.
func TestREMLAtZero(t *testing.T) {
	vectors := []fit.Observed{
		{Y: []float64{1.00}, C: diagonal(1, 0.5)}, {Y: []float64{1.02}, C: diagonal(1, 0.4)},
		{Y: []float64{0.97}, C: diagonal(1, 0.6)}, {Y: []float64{1.01}, C: diagonal(1, 0.5)},
	}
	v, err := fit.REML(vectors, []int{0})
	require.NoError(t, err)
	assert.Zero(t, v.SD[0])
	w := []float64{4, 6.25, 1 / 0.36, 4} // inverse variances
	assert.InEpsilon(t, stat.Mean([]float64{1, 1.02, 0.97, 1.01}, w), v.Mean[0], 1e-12)
	i, err := v.Interval(0, 3.84)
	require.NoError(t, err)
	assert.True(t, i.LowerOpen)
	assert.Zero(t, i.Lower)
	deviance := func(sd float64) float64 { // of REML, written out for one coordinate
		sum, logs, mean := 0.0, 0.0, 0.0
		for _, v := range vectors {
			sum += 1 / (sd*sd + v.C.At(0, 0))
			mean += v.Y[0] / (sd*sd + v.C.At(0, 0))
		}
		mean /= sum
		for _, v := range vectors {
			total := sd*sd + v.C.At(0, 0)
			logs += math.Log(total) + (v.Y[0]-mean)*(v.Y[0]-mean)/total
		}
		return logs + math.Log(sum)
	}
	assert.InDelta(t, 3.84, deviance(i.Upper)-deviance(0), 1e-7)
	assert.InDelta(t, deviance(0)+3*math.Log(2*math.Pi), v.Deviance, 1e-12)
}

// On made-up problems of all shapes no grid of variances is better than the estimate.
func TestREMLIsTheMinimum(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	grid := []float64{0, 0.05, 0.2, 0.5, 1, 2, 5}
	for range 40 {
		vectors := make([]fit.Observed, 2+r.IntN(8))
		own := float64(r.IntN(2)) * r.Float64() // errors like the scatter, or smaller by up to 12 powers of ten
		u := []float64{3 * r.Float64() * r.Float64(), 3 * r.Float64() * r.Float64()}
		for i := range vectors {
			a := mat.NewDense(3, 3, nil)
			for k := range 9 {
				a.Set(k/3, k%3, r.NormFloat64()*r.Float64())
			}
			c := mat.NewSymDense(3, nil)
			a.Scale(math.Pow(10, -12*own), a)
			c.SymOuterK(1, a)
			e := mat.NewVecDense(3, []float64{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()})
			e.MulVec(a, e)
			vectors[i] = fit.Observed{C: c, Y: []float64{u[0]*r.NormFloat64() + e.AtVec(0), u[0]*r.NormFloat64() + e.AtVec(1),
				u[1]*r.NormFloat64() + e.AtVec(2)}}
		}
		v, err := fit.REML(vectors, []int{0, 0, 1})
		require.NoError(t, err)
		for _, a := range grid {
			for _, b := range grid {
				assert.GreaterOrEqual(t, fit.REMLDeviance(vectors, []int{0, 0, 1}, []float64{a, b}), v.Deviance-1e-9)
			}
		}
		for k := range v.SD {
			i, err := v.Interval(k, 3.84)
			require.NoError(t, err)
			assert.LessOrEqual(t, i.Lower, v.SD[k])
			assert.Greater(t, i.Upper, v.SD[k])
		}
	}
}

// The derivatives of the deviance against central differences.
func TestREMLDerivatives(t *testing.T) {
	const h = 1e-4
	vectors, at := unequalVectors(t), []float64{4.1, 5.2, 1.9}
	_, grad, second := fit.REMLDerivatives(vectors, kinds, at)
	for k := range at {
		plus, minus := slices.Clone(at), slices.Clone(at)
		plus[k], minus[k] = at[k]+h, at[k]-h
		up, gradUp, _ := fit.REMLDerivatives(vectors, kinds, plus)
		down, gradDown, _ := fit.REMLDerivatives(vectors, kinds, minus)
		assert.InDelta(t, (up-down)/(2*h), grad[k], 1e-7)
		for l := range at {
			assert.InDelta(t, (gradUp[l]-gradDown[l])/(2*h), second.At(k, l), 1e-7)
		}
	}
}

func TestREMLFaults(t *testing.T) {
	two := func(change func(v []fit.Observed)) []fit.Observed {
		v := []fit.Observed{{Y: []float64{1, 2}, C: diagonal(2, 1)}, {Y: []float64{2, 4}, C: diagonal(2, 1)}}
		change(v)
		return v
	}
	for name, c := range map[string]struct {
		vectors []fit.Observed
		says    string
	}{
		"one vector": {two(func([]fit.Observed) {})[:1], "fit: number of vectors is 1: there must be at least 2 to scatter"},
		"not a number": {two(func(v []fit.Observed) { v[1].Y[0] = math.NaN() }),
			"fit: coordinate 0 of vector 1 is NaN: it must be finite"},
		"negative variance": {two(func(v []fit.Observed) { v[0].C = mat.NewSymDense(2, []float64{1, 0, 0, -1}) }),
			"fit: covariance 1, 1 of vector 0 is -1: it must be finite, and not negative on the diagonal"},
		"no covariance": {two(func(v []fit.Observed) { v[0].C = mat.NewSymDense(2, []float64{1, 2, 2, 2}) }),
			"fit: determinant of the covariance of vector 0 is -2: it must be positive semidefinite"},
		"covariance without variance": {two(func(v []fit.Observed) { v[0].C = mat.NewSymDense(2, []float64{1, 1, 1, 0}) }),
			"fit: determinant of the covariance of vector 0 is -1: it must be positive semidefinite"},
		"no scatter": {two(func(v []fit.Observed) {
			v[1].Y[0] = 1
			v[0].C, v[1].C = diagonal(2, 0), diagonal(2, 0)
		}), `fit: scatter of parameter "#0" is 0: vectors that agree exactly and claim no errors determine no variance`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := fit.REML(c.vectors, []int{0, 1})
			var fault *fit.ProblemError
			require.ErrorAs(t, err, &fault)
			assert.EqualError(t, err, c.says)
		})
	}
	v, err := fit.REML(two(func([]fit.Observed) {}), []int{0, 1})
	require.NoError(t, err)
	_, err = v.Interval(0, math.Inf(1))
	assert.EqualError(t, err, "fit: rise is +Inf: it must be positive and finite")
}
