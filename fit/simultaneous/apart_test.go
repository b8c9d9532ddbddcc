package simultaneous_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"

	"wane/fit/simultaneous"
)

// Three groups of 10, 6 and 3, with spreads of 1, 3 and 10, against 400,000 draws of their Welch statistics at the true
// shares of the variances.
func TestApartAgainstDraws(t *testing.T) {
	n, sd := []float64{10, 6, 3}, []float64{1, 3, 10}
	v := make([]float64, 3) // of the means
	for g := range v {
		v[g] = sd[g] * sd[g] / n[g]
	}
	of := [][2]int{{0, 1}, {0, 2}, {1, 2}}
	r := mat.NewSymDense(3, []float64{1, 0, 0, 0, 1, 0, 0, 0, 1})
	cov := func(i, j int) float64 {
		sum := 0.0
		for g := range v {
			sum += sign(of[i], g) * sign(of[j], g) * v[g]
		}
		return sum
	}
	sources, dofs := simultaneous.Variances{DoF: []float64{9, 5, 2}}, make([]float64, 3)
	for i, pair := range of {
		a, b := pair[0], pair[1]
		share := make([]float64, 3)
		share[a], share[b] = v[a]/(v[a]+v[b]), v[b]/(v[a]+v[b])
		sources.Share = append(sources.Share, share)
		dofs[i] = 1 / (share[a]*share[a]/(n[a]-1) + share[b]*share[b]/(n[b]-1))
		for j := range i {
			r.SetSym(i, j, cov(i, j)/math.Sqrt(cov(i, i)*cov(j, j)))
		}
	}
	const p, draws = 0.02, 400000
	got := simultaneous.NewApart(r, sources, dofs).Adjusted(p)
	limits := [3]float64{}
	for i, dof := range dofs {
		limits[i] = simultaneous.Factor(p, dof)
	}
	rng := rand.New(rand.NewPCG(5, 6))
	seen := 0
	for range draws {
		mean, s := [3]float64{}, [3]float64{}
		for g := range mean {
			mean[g] = math.Sqrt(v[g]) * rng.NormFloat64()
			for range int(n[g]) - 1 {
				x := rng.NormFloat64()
				s[g] += x * x
			}
			s[g] *= v[g] / (n[g] - 1)
		}
		for i, pair := range of {
			a, b := pair[0], pair[1]
			if math.Abs(mean[a]-mean[b]) > limits[i]*math.Sqrt(s[a]+s[b]) {
				seen++
				break
			}
		}
	}
	share := float64(seen) / draws
	assert.InDelta(t, share, got, 1e-3)
}

func sign(pair [2]int, g int) float64 {
	switch g {
	case pair[0]:
		return 1
	case pair[1]:
		return -1
	}
	return 0
}
