package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// The triangle with rows below it is that of the whole matrix by gonum's QR factorisation, but for signs: RᵀR and Rᵀc are
// the same.
func TestAddDiagonal(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{1, 2, 7, 22} {
		var tri triangle
		tri.resize(n)
		whole, right, diagonal := mat.NewDense(2*n, n, nil), mat.NewVecDense(2*n, nil), make([]float64, n)
		for i := range n {
			for j := i; j < n; j++ {
				tri.r[i*n+j] = rng.NormFloat64()
				whole.Set(i, j, tri.r[i*n+j])
			}
			if i%3 != 1 { // some of them add nothing
				diagonal[i] = math.Exp(3 * rng.NormFloat64())
			}
			whole.Set(n+i, i, diagonal[i])
			tri.c[i] = rng.NormFloat64()
			right.SetVec(i, tri.c[i])
		}
		tri.addDiagonal(diagonal)
		var want, got, wantC, gotC mat.Dense
		want.Mul(whole.T(), whole)
		wantC.Mul(whole.T(), right)
		r := mat.NewDense(n, n, tri.r)
		got.Mul(r.T(), r)
		gotC.Mul(r.T(), mat.NewVecDense(n, tri.c))
		assert.True(t, mat.EqualApprox(&want, &got, 1e-12*mat.Norm(&want, 2)))
		assert.True(t, mat.EqualApprox(&wantC, &gotC, 1e-12*mat.Norm(&want, 2)))
		for i := range n {
			for j := range i {
				require.Zero(t, tri.r[i*n+j])
			}
		}
	}
}

// A step that a radius shortens is the same by QR factorisations as by singular values.
func TestDampByQR(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{2, 9, 22} {
		for _, radius := range []float64{0.5, 0.01} {
			l := new(local)
			l.resize(n)
			for i := range n {
				l.r[i*n+i] = math.Exp(2 * rng.NormFloat64())
				for j := i + 1; j < n; j++ {
					l.r[i*n+j] = 0.3 * rng.NormFloat64()
				}
				l.c[i] = 10 * rng.NormFloat64()
			}
			var s stepper
			s.resize(n)
			s.listFace()
			require.True(t, s.setTarget(l, radius))
			require.True(t, s.shortened)
			got := append([]float64(nil), s.target...)
			assert.InDelta(t, radius, floats.Norm(got, 2), 1e-11*radius)

			copy(s.columns, l.r)
			require.True(t, s.svd.factor(s.columns, n, n))
			beta := make([]float64, n)
			s.svd.project(beta, l.c)
			require.True(t, damp(beta, s.svd.s[:n], radius))
			for k := range n {
				want := 0.0
				for i, b := range beta {
					want -= b * s.svd.vt[i*n+k]
				}
				assert.InDelta(t, want, got[k], 1e-10*radius, "component %d of %d", k, n)
			}
		}
	}
}
