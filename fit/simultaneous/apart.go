package simultaneous

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Variances says what the estimated variances of statistics are made of. Share[k][i] of that of statistic k is the estimate
// of source i, which has DoF[i] degrees of freedom and is independent of the other sources; the rest of it is known.
type Variances struct {
	Share [][]float64
	DoF   []float64
}

// Apart is the distribution of the least p of several correlated statistics whose variances are estimated apart, such as
// differences of means of groups that each have a variance of their own.
//
// T_k = X_k / S_k, with X as the package says, and S_k² = 1 + Σ_i Share[k][i] (χ²_i / DoF[i] - 1). The p of a statistic is two-sided,
// by Student's t with degrees of freedom of its own, such as those of Welch and Satterthwaite. One S for all would make the
// largest of the |T_k| too small, where their variances have little in common.
//
// The length of X is integrated exactly, its direction and the sources over a lattice.
type Apart struct {
	rank   int
	dof    []float64
	points [][]float32 // S_k / |X_k| for a direction of length 1
	nodes  map[int]float64
}

// The number of points: fewer where there are many statistics.
const (
	mostPoints  = 1 << 14
	fewPoints   = 1 << 12
	mostEntries = 1 << 22
)

// NewApart returns the distribution of statistics of a correlation, k x k, positive semidefinite with ones on its
// diagonal, with the degrees of freedom of each. It panics on anything else, and on slices of other lengths.
func NewApart(correlation mat.Symmetric, v Variances, dof []float64) *Apart {
	rows, rank := factor(correlation)
	k := len(rows)
	if len(dof) != k || len(v.Share) != k {
		panic("simultaneous: as many degrees of freedom and shares as statistics")
	}
	a := &Apart{rank: rank, dof: dof, nodes: map[int]float64{}}
	n := max(fewPoints, min(mostPoints, mostEntries/k))
	tables, made := make([]chiSquares, len(v.DoF)), map[float64]chiSquares{}
	for i, f := range v.DoF {
		if made[f] == nil {
			made[f] = newChiSquares(f)
		}
		tables[i] = made[f]
	}
	columns, sources := make([][]float64, rank), make([][]source, k) // the same numbers, as the points need them
	for i := range columns {
		columns[i] = make([]float64, k)
	}
	for j := range rows {
		for i, w := range rows[j] {
			columns[i][j] = w
		}
		for i, w := range v.Share[j] {
			if w != 0 {
				sources[j] = append(sources[j], source{i, w})
			}
		}
	}
	steps := latticeSteps(rank + len(v.DoF))
	z, x, chi := make([]float64, len(steps)), make([]float64, k), make([]float64, len(v.DoF))
	all := make([]float32, n*k)
	for p := range n {
		for i, step := range steps {
			_, at := math.Modf((float64(p) + 0.5) * step)
			z[i] = distuv.UnitNormal.Quantile(at)
		}
		for i := range chi {
			chi[i] = tables[i].at(z[rank+i]) - 1
		}
		length := 0.0
		clear(x)
		for i, column := range columns {
			length += z[i] * z[i]
			floats.AddScaled(x, z[i], column)
		}
		point := all[p*k : (p+1)*k]
		for j := range point {
			s := 1.0
			for _, of := range sources[j] {
				s += of.share * chi[of.at]
			}
			point[j] = float32(math.Sqrt(max(0, s)*length) / math.Abs(x[j]))
		}
		a.points = append(a.points, point)
	}
	return a
}

// source is one that a variance is made of, with its share.
type source struct {
	at    int
	share float64
}

// Adjusted returns the chance that the least p is p or less. It is not for several goroutines at once.
func (a *Apart) Adjusted(p float64) float64 {
	switch {
	case !(p > 0) || p >= 1 || len(a.dof) == 1:
		return min(1, max(0, p))
	case p < leastP:
		return p * float64(len(a.dof))
	case len(a.dof) <= fewStatistics:
		return a.chance(p)
	}
	at := math.Log(p) * perLog
	before := math.Floor(at)
	from, to := a.node(int(before)), a.node(int(before)+1)
	return math.Exp(math.Log(from) + (at-before)*(math.Log(to)-math.Log(from)))
}

// Of many statistics the chance is found between the nodes of a grid, evenly spaced in the logarithm of p, which is good
// to 0.5 % of it. Below leastP it is the sum of the chances.
const (
	fewStatistics = 12
	perLog        = 2
	leastP        = 1e-15
)

func (a *Apart) node(i int) float64 {
	chance, known := a.nodes[i]
	if !known {
		chance = a.chance(min(1, math.Exp(float64(i)/perLog)))
		a.nodes[i] = chance
	}
	return chance
}

// chance is Adjusted, from the points.
func (a *Apart) chance(p float64) float64 {
	limits := make([]float32, len(a.dof))
	for k, f := range a.dof {
		limits[k] = float32(Factor(p, f))
	}
	sum := 0.0
	for _, point := range a.points {
		nearest := float32(math.Inf(1))
		for k, s := range point {
			if at := s * limits[k]; at < nearest {
				nearest = at
			}
		}
		sum += mathext.GammaIncRegComp(float64(a.rank)/2, float64(nearest)*float64(nearest)/2)
	}
	return min(1, sum/float64(len(a.points)))
}

// Alone returns the p that the least p falls below with a chance between 0 and 1.
func (a *Apart) Alone(chance float64) float64 {
	if len(a.dof) == 1 {
		return chance
	}
	p := chance / float64(len(a.dof)) // and up: the chance of any is less than the sum
	for range 50 {
		next := p * chance / a.Adjusted(p)
		if math.Abs(next-p) < 1e-7*p {
			return next
		}
		p = next
	}
	return p
}

// Factor returns the |t| that is exceeded with a chance p; dof may be infinite.
func Factor(p, dof float64) float64 {
	if math.IsInf(dof, 1) {
		return -distuv.UnitNormal.Quantile(p / 2)
	}
	return -distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p / 2)
}

// chiSquares is a table of the logarithm of the quantiles of a chi-square over its degrees of freedom, by the normal
// quantile of the same chance.
type chiSquares []float64

// The range and the steps of the table.
const (
	tableEnd  = 5.0
	tableStep = 1.0 / 32
)

func newChiSquares(dof float64) chiSquares {
	table := make(chiSquares, int(2*tableEnd/tableStep)+1)
	for i := range table {
		chance := distuv.UnitNormal.CDF(-tableEnd + tableStep*float64(i))
		table[i] = math.Log(distuv.ChiSquared{K: dof}.Quantile(chance) / dof)
	}
	return table
}

func (c chiSquares) at(z float64) float64 {
	x := min(max((z+tableEnd)/tableStep, 0), float64(len(c)-2))
	i := min(int(x), len(c)-2)
	return math.Exp(c[i] + (x-float64(i))*(c[i+1]-c[i]))
}
