package power

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// quantiles are those of t at one level, over the degrees of freedom from a least number on. Their logarithm is a smooth
// function of the reciprocal of these, which is interpolated between Chebyshev points: the quantile itself takes too long to
// be asked for at each node.
type quantiles struct {
	least      float64 // degrees of freedom
	at01, logs []float64
}

// quantileNodes is their number. The tests hold them to 1e-9 of the quantile from one degree of freedom on.
const quantileNodes = 28

func newQuantiles(level, least float64) *quantiles {
	q := &quantiles{least: least}
	for j := range quantileNodes {
		x := (1 + math.Cos(math.Pi*float64(2*j+1)/(2*quantileNodes))) / 2
		q.at01, q.logs = append(q.at01, x), append(q.logs, math.Log(tQuantile(level, least/x)))
	}
	return q
}

// manyDoF are degrees of freedom with which t is normal to 1e-7.
const manyDoF = 1e7

func tQuantile(level, dof float64) float64 {
	if dof > manyDoF {
		return distuv.UnitNormal.Quantile(level)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(level)
}

// at returns the quantile at degrees of freedom that are not below the least, by the barycentric formula for Chebyshev points of
// the first kind (J.-P. Berrut, L. N. Trefethen, SIAM Review 46 (2004) 501; from memory).
func (q *quantiles) at(dof float64) float64 {
	x := min(1, q.least/dof)
	above, below := 0.0, 0.0
	for j, node := range q.at01 {
		if x == node {
			return math.Exp(q.logs[j])
		}
		w := math.Sin(math.Pi*float64(2*j+1)/(2*quantileNodes)) / (x - node)
		if j%2 == 1 {
			w = -w
		}
		above, below = above+w*q.logs[j], below+w
	}
	return math.Exp(above / below)
}
