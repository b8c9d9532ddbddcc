package mixed

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// crossedModel has two coatings of twelve coupons in four lots, with an intercept and a slope each that are correlated and of a
// covariance of their coating, spots inside coupons, six sessions of two kinds crossed with them, errors shared by batch with
// known sensitivities, others shared by the observations of a coupon and of a lot, and known own variances, beside residuals of three
// kinds. Some observations
// belong to no coupon.
func crossedModel(seed uint64) *Model {
	r := rand.New(rand.NewPCG(seed, 1))
	m := &Model{X: make([][]float64, 3), Terms: []Term{
		{Name: "coupon", Columns: make([][]float64, 2), Kinds: []int{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}}, {Name: "spot"},
		{Name: "lot"}, {Name: "session", Kinds: []int{0, 1, 1, 0, 1, 0}}, {Name: "batch", Unit: true, Columns: make([][]float64, 1)}}}
	add := func(coupon, spot, lot, session, coating int, dose float64) {
		m.Y = append(m.Y, 3*r.NormFloat64()+float64(coating))
		for c, x := range []float64{1, float64(coating), dose} {
			m.X[c] = append(m.X[c], x)
		}
		for k, of := range []int{coupon, spot, lot, session, coupon % 3} {
			m.Terms[k].Of = append(m.Terms[k].Of, of)
		}
		m.Terms[0].Columns[0] = append(m.Terms[0].Columns[0], 1)
		m.Terms[0].Columns[1] = append(m.Terms[0].Columns[1], dose)
		m.Terms[4].Columns[0] = append(m.Terms[4].Columns[0], 0.3*r.NormFloat64())
		m.Known = append(m.Known, r.Float64())
		m.Residuals = append(m.Residuals, max(0, coupon%3))
		m.Shared = append(m.Shared, nil)
		if coupon >= 0 {
			m.Shared[len(m.Shared)-1] = []Share{{20, 0.5 * r.NormFloat64()}, {coupon, r.NormFloat64()}, {13 + lot, 0.4}}
		}
	}
	for coupon := range 12 {
		for pull := range 4 {
			for spot := range 2 {
				add(coupon, 2*coupon+spot, coupon/3, (pull+coupon)%6, coupon%2, float64(pull)/3)
			}
		}
	}
	for range 3 {
		add(-1, -1, 0, 2, 0, r.Float64())
	}
	return m
}

// The deviance by the equations is that of dense matrices, and its gradient that of differences, at parameters at random and
// where a variance is 0.
func TestDevianceAgainstDenseMatrices(t *testing.T) {
	for seed := range uint64(4) {
		m := crossedModel(seed)
		require.NoError(t, m.check())
		p, err := newProblem(m)
		require.NoError(t, err)
		r := rand.New(rand.NewPCG(seed, 2))
		theta := make([]float64, len(p.params))
		for i := range theta {
			theta[i] = 0.2 + r.Float64()
		}
		if seed == 3 {
			theta[0], theta[p.covs[3].first] = 0, 0
		}
		q, ok := p.newEquations(theta)
		require.True(t, ok)
		assert.InEpsilon(t, dense(p, m.Shared, theta), q.deviance, 1e-10)
		s, err := q.slopes(false)
		require.NoError(t, err)
		got := s.gradient(p.byTheta(theta))
		p.checkSecond(t, theta)
		for i := range theta {
			const h = 1e-3
			at, want := slices.Clone(theta), 0.0
			for _, c := range [][2]float64{{-2, 1. / 12}, {-1, -8. / 12}, {1, 8. / 12}, {2, -1. / 12}} {
				at[i] = theta[i] + c[0]*h
				want += c[1] / h * dense(p, m.Shared, at)
			}
			assert.InDelta(t, want, got[i], 1e-6*max(1, math.Abs(want)), "parameter %d", i)
		}
	}
}

// checkSecond holds the second derivatives and those of the covariance of the coefficients to differences.
func (p *problem) checkSecond(t *testing.T, theta []float64) {
	at := func(theta []float64, curved bool) (*slopes, *mat.Dense) {
		q, ok := p.newEquations(theta)
		require.True(t, ok)
		s, err := q.slopes(curved)
		require.NoError(t, err)
		inverse, err := q.inverse()
		require.NoError(t, err)
		return s, inverse
	}
	s, _ := at(theta, true)
	hessian, covs := p.hessian(theta, s, s.second, false), p.slopesOfCov(theta, s)
	for i := range theta {
		const h = 1e-3
		next := slices.Clone(theta)
		want, cov := make([]float64, len(theta)), mat.NewDense(p.x.columns, p.x.columns, nil)
		for _, c := range [][2]float64{{-2, 1. / 12}, {-1, -8. / 12}, {1, 8. / 12}, {2, -1. / 12}} {
			next[i] = theta[i] + c[0]*h
			s, inverse := at(next, false)
			for k, g := range s.gradient(p.byTheta(next)) {
				want[k] += c[1] / h * g
			}
			for a := range p.x.columns {
				for b := range p.x.columns {
					unit := p.yUnit * p.yUnit / (p.xUnits[a] * p.xUnits[b])
					cov.Set(a, b, cov.At(a, b)+c[1]/h*unit*inverse.At(p.layout.crown+a, p.layout.crown+b))
				}
			}
		}
		for k := range theta {
			assert.InDelta(t, want[k], hessian.At(i, k), 1e-6*max(1, math.Abs(want[k])), "parameters %d, %d", i, k)
		}
		for a := range p.x.columns {
			for b := range a + 1 {
				w := make([]float64, p.x.columns)
				w[a]++
				w[b]-- // of the variance of one coefficient where they are the same, else of a difference
				if a == b {
					w[a] = 1
				}
				var cw mat.VecDense
				cw.MulVec(cov, mat.NewVecDense(len(w), w))
				want := mat.Dot(mat.NewVecDense(len(w), w), &cw)
				assert.InDelta(t, want, covs(w)[i], 1e-6*max(1, math.Abs(want)), "parameter %d", i)
			}
		}
	}
}

// dense is the deviance, without its constant, by whole matrices: log|V| + log|XᵀV⁻¹X| + yᵀPy.
func dense(p *problem, shared [][]Share, theta []float64) float64 {
	n := len(p.y)
	v := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			sum := 0.0
			if i == j {
				sum = p.known[i] + p.sigma(theta, p.kindOf(i))
			}
			for k := range p.terms {
				t := &p.terms[k]
				if t.Of[i] < 0 || t.Of[i] != t.Of[j] {
					continue
				}
				r, l := t.width(), p.factor(p.covOf[k][t.kind(t.Of[i])], theta)
				for c := range r {
					a, b := 0.0, 0.0
					for d := range r {
						a += t.Columns[d][i] * l[d*r+c]
						b += t.Columns[d][j] * l[d*r+c]
					}
					sum += a * b
				}
			}
			for _, a := range shared[i] {
				for _, b := range shared[j] {
					if a.Effect == b.Effect {
						sum += a.By * b.By / (p.yUnit * p.yUnit)
					}
				}
			}
			v.SetSym(i, j, sum)
		}
	}
	var c, d mat.Cholesky
	c.Factorize(v)
	x := mat.NewDense(n, p.x.columns, nil)
	for i := range n {
		at, value := p.x.row(i)
		for j, c := range at {
			x.Set(i, int(c), value[j])
		}
	}
	var vx, xvx mat.Dense
	c.SolveTo(&vx, x)
	xvx.Mul(x.T(), &vx)
	gram := mat.NewSymDense(p.x.columns, nil)
	for a := range p.x.columns {
		for b := range a + 1 {
			gram.SetSym(a, b, xvx.At(a, b))
		}
	}
	d.Factorize(gram)
	y := mat.NewVecDense(n, p.y)
	var vy, xy, b, xb, rest, vrest mat.VecDense
	c.SolveVecTo(&vy, y)
	xy.MulVec(x.T(), &vy)
	d.SolveVecTo(&b, &xy)
	xb.MulVec(x, &b)
	rest.SubVec(y, &xb)
	c.SolveVecTo(&vrest, &rest)
	return c.LogDet() + d.LogDet() + mat.Dot(&rest, &vrest)
}

// The order of observations and of terms does not matter, nor do units.
func TestOrderAndUnitsDoNotMatter(t *testing.T) {
	m := crossedModel(7)
	want, err := m.Fit(t.Context())
	require.NoError(t, err)
	turned := &Model{Terms: []Term{m.Terms[1], m.Terms[3], m.Terms[0], m.Terms[4], m.Terms[2]}, X: slices.Clone(m.X), Y: m.Y,
		Known: m.Known}
	order := rand.New(rand.NewPCG(7, 7)).Perm(len(m.Y))
	pick := func(v []float64, f float64) (out []float64) {
		for _, i := range order {
			out = append(out, f*v[i])
		}
		return out
	}
	const unit = 1000
	turned.Y, turned.Known = pick(m.Y, unit), pick(m.Known, unit*unit)
	turned.Residuals = nil
	for _, i := range order {
		turned.Residuals = append(turned.Residuals, m.Residuals[i])
		var shared []Share
		for _, s := range m.Shared[i] {
			shared = append(shared, Share{25 - s.Effect, unit * s.By})
		}
		turned.Shared = append(turned.Shared, shared)
	}
	for c := range turned.X {
		turned.X[c] = pick(m.X[c], 0.01)
	}
	for k := range turned.Terms {
		term := &turned.Terms[k]
		of := term.Of
		term.Of = nil
		for _, i := range order {
			term.Of = append(term.Of, of[i])
		}
		columns, f := term.Columns, 1.0
		if term.Unit {
			f = unit
		}
		term.Columns = nil
		for _, c := range columns {
			term.Columns = append(term.Columns, pick(c, f))
		}
	}
	got, err := turned.Fit(t.Context())
	require.NoError(t, err)
	n := float64(len(m.Y) - len(m.X))
	assert.InEpsilon(t, want.Deviance+2*n*math.Log(unit)+2*3*math.Log(0.01), got.Deviance, 1e-8)
	for k, v := range want.Residuals {
		assert.InEpsilon(t, v*unit*unit, got.Residuals[k], 1e-5)
	}
	for c := range want.Coefficients {
		w := make([]float64, 3)
		w[c] = 1
		a, b := want.Contrast(w), got.Contrast(w)
		assert.InEpsilon(t, a.Estimate*unit/0.01, b.Estimate, 1e-6)
		assert.InEpsilon(t, a.SE*unit/0.01, b.SE, 1e-6)
		assert.InEpsilon(t, a.DoF, b.DoF, 1e-3)
	}
	assert.InEpsilon(t, want.Effects[0][5][1]*unit, got.Effects[2][5][1], 1e-5)
}
