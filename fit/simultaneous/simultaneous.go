// Package simultaneous says how large the largest of several correlated t statistics may be by chance, so that many
// comparisons keep one error rate together.
//
// T_j = X_j / S_j, with X normal of mean 0, unit variances and a known correlation, which may be singular, as that of all
// pairs of means is. Each S_j² is what an estimated variance is of the true one; [Apart] says what they have in common.
// [Apart.Adjusted] is the single-step adjusted p of a statistic, [Apart.Alone] the p of one statistic by which the
// standard errors of simultaneous intervals are multiplied ([Factor]).
//
// X is a direction times a length. Along a direction the length is integrated exactly, and what is left is a mean over
// directions: a quadrature after I. Deák, Numerische Mathematik 35 (1980) 83, from memory, over a lattice, the same
// points at each call, so the same digits. Of up to six means the chances are good to 2e-4, of thirty to 1.5e-3, and
// factors to 6e-4 and 2e-3 of their size (tests).
package simultaneous

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// dependent is the rest of a variance below which a statistic is a sum of those before it.
const dependent = 1e-10

// factor returns rows with X_j = Σ rows[j][i] Z_i, of independent Z as many as the rank, by a Cholesky factor with pivots:
// next comes the statistic of which most is left. It panics where the diagonal has not ones.
func factor(correlation mat.Symmetric) (rows [][]float64, rank int) {
	k := correlation.SymmetricDim()
	rows = make([][]float64, k)
	left := make([]float64, k)
	for j := range k {
		if math.Abs(correlation.At(j, j)-1) > 1e-9 {
			panic("simultaneous: a correlation has ones on its diagonal")
		}
		rows[j], left[j] = make([]float64, k), 1
	}
	for i := range k {
		best := 0
		for j := range k {
			if left[j] > left[best] {
				best = j
			}
		}
		if left[best] < dependent {
			break
		}
		root := math.Sqrt(left[best])
		pivot := rows[best]
		for j := range k {
			if j == best {
				continue
			}
			v := correlation.At(j, best)
			for c := range i {
				v -= rows[j][c] * pivot[c]
			}
			if v /= root; math.Abs(v) > 1e-12 && left[j] >= dependent {
				rows[j][i] = v
				left[j] -= v * v
			}
		}
		pivot[i], left[best] = root, 0
		rank++
	}
	for j := range k {
		rows[j] = rows[j][:rank]
	}
	return rows, rank
}

// latticeSteps are the steps of Richtmyer's lattice in the unit cube, the square roots of primes.
func latticeSteps(dimensions int) []float64 {
	steps, prime := make([]float64, dimensions), 2
	for i := range steps {
		_, steps[i] = math.Modf(math.Sqrt(float64(prime)))
		for prime++; !isPrime(prime); prime++ {
		}
	}
	return steps
}

func isPrime(n int) bool {
	for d := 2; d*d <= n; d++ {
		if n%d == 0 {
			return false
		}
	}
	return true
}

// Holm returns the adjusted p of several, after S. Holm, Scandinavian Journal of Statistics 6 (1979) 65, from memory.
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	adjusted, most := make([]float64, len(p)), 0.0
	for rank, i := range order {
		most = max(most, min(1, p[i]*float64(len(p)-rank)))
		adjusted[i] = most
	}
	return adjusted
}
