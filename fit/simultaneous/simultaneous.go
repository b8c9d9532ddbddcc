// Package simultaneous says how large the largest of several correlated t statistics may be by chance, so that many
// comparisons keep one error rate together.
//
// T_j = X_j / S, with X normal of mean 0, unit variances and the correlation of a [MaxT], and S² a chi-square over its
// degrees of freedom. [MaxT.Exceeds] is the chance that the largest |T_j| exceeds a value: the single-step adjusted p
// of that value. [MaxT.Quantile] is what it exceeds with a given chance, by which the standard errors of simultaneous
// intervals are multiplied. Correlations may be singular, as those of all pairs of means are.
//
// X is a direction times a length. Along a direction the chance is one of Fisher's distribution, so that length and S
// are integrated exactly, and what is left is a mean over directions: a quadrature after I. Deák, Numerische Mathematik
// 35 (1980) 83, from memory, over a lattice, the same points at each call, so the same digits. Of up to twenty means
// the chances are good to 2e-4, of thirty to 5e-4, and quantiles to 5e-4 of their size (tests).
//
// Statistics whose variances are estimated apart, with different degrees of freedom, are those of [Apart].
package simultaneous

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// MaxT is the distribution of the largest of |T_j|.
type MaxT struct {
	rank int
	rows [][]float64 // X_j = Σ rows[j][i] Z_i
	most []float64   // the largest |X_j| of directions of length 1, rising: means of neighbours
}

// The number of directions, fewer where many statistics of many dimensions would take more products than work, and of
// the means of neighbours that stand for them.
const (
	mostDirections = 1 << 16
	fewDirections  = 1 << 12
	work           = 1 << 30
	nodes          = 1 << 8
)

// New returns the distribution of statistics of a correlation, k x k, positive semidefinite with ones on its diagonal.
// It panics on anything else.
func New(correlation mat.Symmetric) *MaxT {
	m := &MaxT{}
	m.factor(correlation)
	if m.rank == 1 {
		m.most = []float64{1}
		return m
	}
	all := m.along()
	slices.Sort(all)
	each := len(all) / nodes
	for of := range slices.Chunk(all, each) {
		sum := 0.0
		for _, v := range of {
			sum += v
		}
		m.most = append(m.most, sum/float64(each))
	}
	return m
}

// dependent is the rest of a variance below which a statistic is a sum of those before it.
const dependent = 1e-10

// factor makes the rows by a Cholesky factor with pivots: next comes the statistic of which most is left.
func (m *MaxT) factor(correlation mat.Symmetric) {
	k := correlation.SymmetricDim()
	m.rows = make([][]float64, k)
	left := make([]float64, k)
	for j := range k {
		if math.Abs(correlation.At(j, j)-1) > 1e-9 {
			panic("simultaneous: a correlation has ones on its diagonal")
		}
		m.rows[j], left[j] = make([]float64, k), 1
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
		pivot := m.rows[best]
		for j := range k {
			if j == best {
				continue
			}
			v := correlation.At(j, best)
			for c := range i {
				v -= m.rows[j][c] * pivot[c]
			}
			if v /= root; math.Abs(v) > 1e-12 && left[j] >= dependent {
				m.rows[j][i] = v
				left[j] -= v * v
			}
		}
		pivot[i], left[best] = root, 0
		m.rank++
	}
	for j := range k {
		m.rows[j] = m.rows[j][:m.rank]
	}
}

// along returns the largest |X_j| of each direction.
func (m *MaxT) along() []float64 {
	n := mostDirections
	for n > fewDirections && n*len(m.rows)*m.rank > work {
		n /= 2
	}
	largest, z := make([]float64, n), make([]float64, m.rank)
	steps := latticeSteps(m.rank)
	for p := range largest {
		length := 0.0
		for i, step := range steps {
			_, x := math.Modf((float64(p) + 0.5) * step)
			z[i] = distuv.UnitNormal.Quantile(x)
			length += z[i] * z[i]
		}
		for _, row := range m.rows {
			x := 0.0
			for i, v := range row {
				x += v * z[i]
			}
			largest[p] = max(largest[p], math.Abs(x))
		}
		largest[p] /= math.Sqrt(length)
	}
	return largest
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

// Exceeds returns the chance that the largest |T_j| exceeds t, for t of 0 and more, where S has dof degrees of freedom,
// which are positive and may be infinite. It panics on others.
func (m *MaxT) Exceeds(t, dof float64) float64 {
	if !(dof > 0) {
		panic("simultaneous: degrees of freedom must be positive")
	}
	if t == 0 {
		return 1
	}
	sum, half := 0.0, float64(m.rank)/2
	for _, most := range m.most {
		far := t * t / (most * most)
		if math.IsInf(dof, 1) {
			sum += mathext.GammaIncRegComp(half, far/2)
		} else {
			sum += mathext.RegIncBeta(dof/2, half, dof/(dof+far))
		}
	}
	return min(1, max(0, sum/float64(len(m.most))))
}

// Quantile returns the t that the largest |T_j| exceeds with this chance, between 0 and 1, where S has dof degrees of
// freedom.
func (m *MaxT) Quantile(chance, dof float64) float64 {
	lo, hi := 0.0, 1.0
	atLo, atHi := 1-chance, m.Exceeds(1, dof)-chance
	for atHi > 0 && hi < 1e6 {
		lo, atLo = hi, atHi
		hi *= 2
		atHi = m.Exceeds(hi, dof) - chance
	}
	for side := 0; hi-lo > 1e-7*hi; { // false position, where the end that stays counts half: Illinois
		next := (lo*atHi - hi*atLo) / (atHi - atLo)
		at := m.Exceeds(next, dof) - chance
		switch {
		case math.Abs(at) < 1e-9:
			return next
		case at > 0:
			lo, atLo = next, at
			if side == 1 {
				atHi /= 2
			}
			side = 1
		default:
			hi, atHi = next, at
			if side == -1 {
				atLo /= 2
			}
			side = -1
		}
	}
	return (lo + hi) / 2
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
