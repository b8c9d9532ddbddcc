// Package simultaneous says how large the largest of several correlated t statistics may be by chance, so that many
// comparisons keep one error rate together.
//
// T_j = X_j / S, with X normal of mean 0, unit variances and the correlation of a [MaxT], and S² a chi-square over its degrees
// of freedom. [MaxT.Exceeds] is the chance that the largest |T_j| exceeds a value: the single-step adjusted p of that value.
// [MaxT.Quantile] is what it exceeds with a given chance, by which the standard errors of simultaneous intervals are
// multiplied. Correlations may be singular, as those of all pairs of means are.
//
// The integral over the multivariate t is one over the unit cube, after A. Genz and F. Bretz, Computation of Multivariate
// Normal and t Probabilities (2009), section 4.2, from memory, and is taken over a lattice: the same points at each call,
// so the same digits. Up to ten means their chances are good to 2e-4 and quantiles to 5e-4 of their size (tests).
package simultaneous

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// MaxT is the distribution of the largest of |T_j|.
type MaxT struct {
	k, rank int
	rows    [][]float64 // X_j = Σ rows[j][i] Z_i
	lasts   [][]int     // by i: the statistics whose last factor above 0 is that of Z_i
	dof     float64     // may be infinite
	points  [][]float64 // of the lattice, rank coordinates each, of which the last one is that of S
	roots   []float64   // S at each point
}

// The number of points of the lattice, of few dimensions and of many.
const (
	fewDimensions = 9
	pointsOfFew   = 65521
	pointsOfMany  = 16381
)

// New returns the distribution of statistics of a correlation, k x k, positive semidefinite with ones on its diagonal, and
// dof degrees of freedom, which are positive and may be infinite. It panics on anything else.
func New(correlation mat.Symmetric, dof float64) *MaxT {
	if !(dof > 0) {
		panic("simultaneous: degrees of freedom must be positive")
	}
	m := &MaxT{k: correlation.SymmetricDim(), dof: dof}
	m.factor(correlation)
	m.lasts = make([][]int, m.rank)
	for j, row := range m.rows {
		last := 0
		for i, v := range row {
			if v != 0 {
				last = i
			}
		}
		m.lasts[last] = append(m.lasts[last], j)
	}
	n := pointsOfFew
	if m.rank > fewDimensions {
		n = pointsOfMany
	}
	if m.rank == 1 {
		return m
	}
	m.points = lattice(n, m.rank)
	m.roots = make([]float64, n)
	for i, p := range m.points {
		m.roots[i] = m.root(p[m.rank-1])
	}
	return m
}

// dependent is the rest of a variance below which a statistic is a sum of those before it.
const dependent = 1e-10

// factor makes the rows by a Cholesky factor with pivots: next comes the statistic of which most is left.
func (m *MaxT) factor(correlation mat.Symmetric) {
	k := m.k
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

// lattice returns n points in the unit cube of rank dimensions, but the last, whose integral is known, and one for S: Richtmyer's,
// by the square roots of primes, folded so that the ends meet.
func lattice(n, rank int) [][]float64 {
	points := make([][]float64, n)
	steps := make([]float64, rank)
	prime := 2
	for i := range steps {
		_, steps[i] = math.Modf(math.Sqrt(float64(prime)))
		for prime++; !isPrime(prime); prime++ {
		}
	}
	for p := range points {
		points[p] = make([]float64, rank)
		for i, step := range steps {
			_, x := math.Modf((float64(p) + 0.5) * step)
			points[p][i] = math.Abs(2*x - 1)
		}
	}
	return points
}

func isPrime(n int) bool {
	for d := 2; d*d <= n; d++ {
		if n%d == 0 {
			return false
		}
	}
	return true
}

// within returns the chance that no |T_j| exceeds t.
func (m *MaxT) within(t float64) float64 {
	if m.rank == 1 {
		if math.IsInf(m.dof, 1) {
			return 1 - 2*distuv.UnitNormal.Survival(t)
		}
		return 1 - 2*distuv.StudentsT{Sigma: 1, Nu: m.dof}.Survival(t)
	}
	sum, z := 0.0, make([]float64, m.rank)
	for i, p := range m.points {
		sum += m.at(t*m.roots[i], p, z)
	}
	return sum / float64(len(m.points))
}

// root returns S at a quantile.
func (m *MaxT) root(q float64) float64 {
	if math.IsInf(m.dof, 1) {
		return 1
	}
	return math.Sqrt(distuv.ChiSquared{K: m.dof}.Quantile(q) / m.dof)
}

// at returns the chance of all |X_j| <= limit along one point: what is left of each Z after those before it.
func (m *MaxT) at(limit float64, p, z []float64) float64 {
	chance := 1.0
	for i := range m.rank {
		lo, hi := math.Inf(-1), math.Inf(1)
		for _, j := range m.lasts[i] {
			row, mean := m.rows[j], 0.0
			for c := range i {
				mean += row[c] * z[c]
			}
			a, b := (-limit-mean)/row[i], (limit-mean)/row[i]
			if a > b {
				a, b = b, a
			}
			lo, hi = max(lo, a), min(hi, b)
		}
		if lo >= hi {
			return 0
		}
		from, to := distuv.UnitNormal.CDF(lo), distuv.UnitNormal.CDF(hi)
		chance *= to - from
		if i < m.rank-1 {
			z[i] = distuv.UnitNormal.Quantile(min(max(from+p[i]*(to-from), 1e-300), 1-1e-16))
		}
	}
	return chance
}

// Exceeds returns the chance that the largest |T_j| exceeds t, for t of 0 and more.
func (m *MaxT) Exceeds(t float64) float64 { return min(1, max(0, 1-m.within(t))) }

// Quantile returns the t that the largest |T_j| exceeds with this chance, between 0 and 1.
func (m *MaxT) Quantile(chance float64) float64 {
	lo, hi := 0.0, 1.0
	atLo, atHi := 1-chance, m.Exceeds(1)-chance
	for atHi > 0 && hi < 1e6 {
		lo, atLo = hi, atHi
		hi *= 2
		atHi = m.Exceeds(hi) - chance
	}
	for side := 0; hi-lo > 1e-7*hi; { // false position, where the end that stays counts half: Illinois
		next := (lo*atHi - hi*atLo) / (atHi - atLo)
		at := m.Exceeds(next) - chance
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
