package simultaneous_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/simultaneous"
)

// pairs is the correlation of all differences of g means of the same variance.
func pairs(g int) *mat.SymDense {
	var of [][2]int
	for a := range g {
		for b := range a {
			of = append(of, [2]int{a, b})
		}
	}
	c := mat.NewSymDense(len(of), nil)
	for i, p := range of {
		for j, q := range of[:i+1] {
			sum := 0.0
			for k, x := range p {
				for l, y := range q {
					if x == y {
						sum += float64(1-2*k) * float64(1-2*l)
					}
				}
			}
			c.SetSym(i, j, sum/2)
		}
	}
	return c
}

// oneSource is the distribution of statistics whose variances are one estimate, of dof degrees of freedom; of infinitely
// many they are known.
func oneSource(r mat.Symmetric, dof float64) *simultaneous.Apart {
	k, v := r.SymmetricDim(), simultaneous.Variances{}
	dofs, shares := make([]float64, k), []float64{1}
	if math.IsInf(dof, 1) {
		shares = nil
	} else {
		v.DoF = []float64{dof}
	}
	for i := range dofs {
		dofs[i], v.Share = dof, append(v.Share, shares)
	}
	return simultaneous.NewApart(r, v, dofs)
}

// exceeds is the chance that the largest |T| exceeds t.
func exceeds(a *simultaneous.Apart, t, dof float64) float64 {
	if math.IsInf(dof, 1) {
		return a.Adjusted(2 * distuv.UnitNormal.Survival(t))
	}
	return a.Adjusted(2 * distuv.StudentsT{Sigma: 1, Nu: dof}.Survival(t))
}

// exceeded is what the largest |T| exceeds with a chance of 5 %.
func exceeded(a *simultaneous.Apart, dof float64) float64 {
	return simultaneous.Factor(a.Alone(0.05), dof)
}

// All differences of g means: R 4.2.2's qtukey(0.95, g, df)/sqrt(2) and ptukey, which are another quadrature.
func TestTukey(t *testing.T) {
	for _, c := range []struct {
		g           int
		df, q, t, p float64
	}{
		{3, 5, 3.253911, 2.5, 0.115867}, {3, 10, 2.741295, 2.5, 0.074039}, {3, 51, 2.413980, 2.5, 0.040842},
		{3, math.Inf(1), 2.343701, 2.5, 0.033242}, {4, 5, 3.689913, 2.5, 0.174390}, {4, 51, 2.655808, 2.5, 0.071917},
		{6, 10, 3.473320, 2.5, 0.211157}, {6, math.Inf(1), 2.849705, 2.5, 0.123979}, {10, 5, 4.945998, 2.5, 0.422623},
		{10, 51, 3.307342, 2.5, 0.293012}, {20, 20, 4.040143, 3.5, 0.138943},
	} {
		m, offP, offQ := oneSource(pairs(c.g), c.df), 2e-4, 6e-4
		if c.g > 6 {
			offP, offQ = 1.5e-3, 2e-3
		}
		assert.InEpsilon(t, c.q, exceeded(m, c.df), offQ, "%d means, df %g", c.g, c.df)
		assert.InDelta(t, c.p, exceeds(m, c.t, c.df), offP, "%d means, df %g", c.g, c.df)
	}
}

// All 435 differences of 30 means, by R as above.
func TestManyMeans(t *testing.T) {
	m := oneSource(pairs(30), 120)
	assert.InEpsilon(t, 3.842137, exceeded(m, 120), 2e-3)
	assert.InDelta(t, 0.132224, exceeds(m, 3.5, 120), 1.5e-3)
}

// Several means against one: qmvt of R's mvtnorm 1.1.3 to 1e-6, for equal sizes.
func TestDunnett(t *testing.T) {
	for _, c := range []struct {
		k  int
		df float64
		q  float64
	}{{2, 5, 3.03015}, {2, 10, 2.568587}, {2, 20, 2.37884}, {2, 60, 2.26535}, {4, 5, 3.47587}} {
		r := mat.NewSymDense(c.k, nil)
		for i := range c.k {
			for j := range i {
				r.SetSym(i, j, 0.5)
			}
			r.SetSym(i, i, 1)
		}
		assert.InEpsilon(t, c.q, exceeded(oneSource(r, c.df), c.df), 6e-4)
	}
}

// Machines of nlme: the p of the three differences by emmeans 1.8.4.1, adjusted by the multivariate t and after Holm
// (testdata of package mixed).
func TestMachines(t *testing.T) {
	m := oneSource(pairs(3), 10)
	for tValue, p := range map[float64]float64{7.9666667 / 2.1769754: 0.0111, 13.9166667 / 2.1769754: 0.0002,
		5.95 / 2.1769754: 0.0508} {
		assert.InDelta(t, p, exceeds(m, tValue, 10), 2e-4)
	}
	assert.InDeltaSlice(t, []float64{0.0088, 0.0002, 0.0211}, simultaneous.Holm([]float64{0.00439263, 7.90647612e-05, 0.0211}), 1e-4)
}

// One statistic, independent ones, and the same one several times have their closed forms.
func TestClosedForms(t *testing.T) {
	one := mat.NewSymDense(1, []float64{1})
	assert.InDelta(t, 2.228139, exceeded(oneSource(one, 10), 10), 1e-6, "t of 10 degrees of freedom, by tables")
	same := mat.NewSymDense(3, []float64{1, 1, 1, 1, 1, 1, 1, 1, 1})
	assert.InEpsilon(t, 2.228139, exceeded(oneSource(same, 10), 10), 6e-4)
	eye := mat.NewSymDense(5, nil)
	for i := range 5 {
		eye.SetSym(i, i, 1)
	}
	assert.InDelta(t, 1-math.Pow(0.95, 5), exceeds(oneSource(eye, math.Inf(1)), 1.959963985, math.Inf(1)), 2e-4, "as the package says")
}

// Correlations at random against 400,000 draws.
func TestAgainstDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const k, rank, n, dof, limit = 6, 3, 400000, 7.0, 2.7
	rows := mat.NewDense(k, rank, nil)
	for j := range k {
		sum := 0.0
		for i := range rank {
			rows.Set(j, i, r.NormFloat64())
			sum += rows.At(j, i) * rows.At(j, i)
		}
		for i := range rank {
			rows.Set(j, i, rows.At(j, i)/math.Sqrt(sum))
		}
	}
	var c mat.Dense
	c.Mul(rows, rows.T())
	correlation := mat.NewSymDense(k, nil)
	for i := range k {
		for j := range i {
			correlation.SetSym(i, j, c.At(i, j))
		}
		correlation.SetSym(i, i, 1)
	}
	beyond := 0
	for range n {
		z, chi := [rank]float64{}, 0.0
		for i := range z {
			z[i] = r.NormFloat64()
		}
		for range int(dof) {
			x := r.NormFloat64()
			chi += x * x
		}
		s := math.Sqrt(chi / dof)
		for j := range k {
			x := 0.0
			for i := range rank {
				x += rows.At(j, i) * z[i]
			}
			if math.Abs(x/s) > limit {
				beyond++
				break
			}
		}
	}
	share := float64(beyond) / n
	assert.InDelta(t, share, exceeds(oneSource(correlation, dof), limit, dof), 4*math.Sqrt(share*(1-share)/n))
}
