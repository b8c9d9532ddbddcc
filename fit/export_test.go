package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// REMLDeviance returns the deviance of [REML] at given sds.
func REMLDeviance(vectors []Observed, component []int, sd []float64) float64 {
	variance := make([]float64, len(sd))
	for k := range sd {
		variance[k] = sd[k] * sd[k]
	}
	m := &varianceModel{vectors, component, len(sd)}
	return m.at(variance).deviance + float64((len(vectors)-1)*len(component))*math.Log(2*math.Pi)
}

// REMLDerivatives returns the deviance at given variances, without its constant, with its derivatives by them.
func REMLDerivatives(vectors []Observed, component []int, variance []float64) (float64, []float64, *mat.SymDense) {
	m := &varianceModel{vectors, component, len(variance)}
	at := m.at(variance)
	return at.deviance, at.grad, at.observed
}
