package shape

import (
	"maps"
	"slices"

	"gonum.org/v1/gonum/mat"

	"wane/study/series"
)

// meanOf returns the mean of values, with its errors.
func meanOf(values []*series.Value) *series.Value {
	if len(values) == 1 {
		return values[0]
	}
	n := float64(len(values))
	mean := series.Value{Errors: series.Errors{Known: true}}
	by := map[int]float64{}
	for _, v := range values {
		mean.Value += v.Value / n
		mean.Known = mean.Known && v.Known
		mean.Own += v.Own / (n * n)
		for _, s := range v.Shared {
			by[s.Effect] += s.By / n
		}
	}
	for _, effect := range slices.Sorted(maps.Keys(by)) {
		mean.Shared = append(mean.Shared, series.Share{Effect: effect, By: by[effect]})
	}
	return &mean
}

// covarianceOf returns the covariance of values by their errors.
func covarianceOf(values []*series.Value) *mat.SymDense {
	cov := mat.NewSymDense(len(values), nil)
	for i, v := range values {
		cov.SetSym(i, i, v.Variance())
		for j := range i {
			cov.SetSym(i, j, series.Covariance(&v.Errors, &values[j].Errors))
		}
	}
	return cov
}
