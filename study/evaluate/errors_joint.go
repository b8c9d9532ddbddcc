package evaluate

import (
	"fmt"
	"math"

	"wane/study"
)

// jointFits are fits of one joint fit.
type jointFits struct {
	name string
	fits []*study.Fit

	// covariance returns that of quantity a of fit i with quantity b of fit k by what the fits share inside the joint fit.
	covariance func(i, a, k, b int) float64
}

// Shares of the variance of each quantity of a joint fit: what may be left out of all that fits share, and the effect
// that may be left out of one fit. What is left out is the fit's own. In the sessions of the demo, u of changes and of
// corrected changes then differ by up to 2e-4 of u.
const (
	negligibleInside = 1e-4
	negligibleColumn = 1e-5
)

// share gives the fits effects of the joint fit: the columns of a root of the covariance of what they share. They are
// those of a Cholesky decomposition that takes next the quantity of which most is left (from memory: N. J. Higham,
// Analysis of the Cholesky decomposition of a semi-definite matrix, 1990). What all fits of a session share comes
// first; the later columns are those of single coupons, and no others keep them.
func (j *jointFits) share() {
	n, variance := outputs*len(j.fits), j.variances()
	unit, left := make([]float64, n), make([]float64, n)
	for r := range n {
		if unit[r] = math.Sqrt(variance[r/outputs][r%outputs]); !(unit[r] > 0) {
			unit[r] = 1
		}
	}
	at := func(r, s int) float64 {
		return j.covariance(r/outputs, r%outputs, s/outputs, s%outputs) / unit[r] / unit[s]
	}
	for r := range left {
		left[r] = at(r, r)
	}
	columns := make([][]byOutput, len(j.fits)) // by fit
	var scaled [][]float64
	for range n {
		column := nextColumn(at, left, scaled)
		if column == nil {
			break
		}
		scaled = append(scaled, column)
		for i := range columns {
			var by byOutput
			for q := range by {
				by[q] = column[outputs*i+q] * unit[outputs*i+q]
			}
			columns[i] = append(columns[i], by)
		}
	}
	for i := range j.fits {
		j.fill(i, columns[i], &variance[i])
	}
}

// nextColumn returns the next column of the decomposition and takes it off what is left of the diagonal; nil if hardly
// anything is left.
func nextColumn(at func(r, s int) float64, left []float64, columns [][]float64) []float64 {
	pivot := 0
	for r := range left {
		if left[r] > left[pivot] {
			pivot = r
		}
	}
	if left[pivot] <= negligibleInside {
		return nil
	}
	column, root := make([]float64, len(left)), math.Sqrt(left[pivot])
	for r := range column {
		v := at(r, pivot)
		for _, c := range columns {
			v -= c[r] * c[pivot]
		}
		column[r] = v / root
		left[r] -= column[r] * column[r]
	}
	return column
}

// fill gives fit i those of its columns that count, and the rest as its own.
func (j *jointFits) fill(i int, columns []byOutput, variance *byOutput) {
	e := &j.fits[i].Errors
	var kept []byOutput
	for k := range columns {
		if columns[k].counts(variance, negligibleColumn) {
			effect := study.Effect{Owner: study.OwnerJoint, Of: j.name, Name: fmt.Sprint(k + 1)}
			e.Shared = append(e.Shared, study.Sensitivity{Effect: effect, By: columns[k]})
			kept = append(kept, columns[k])
		}
	}
	for a := range outputs {
		for b := range a + 1 {
			own := e.OwnOf(study.Output(a), study.Output(b)) + j.covariance(i, a, i, b) - covarianceOf(kept, kept, a, b)
			if a == b {
				own = max(0, own)
			}
			e.SetOwn(study.Output(a), study.Output(b), own)
		}
	}
}

// variances returns the variance of each quantity of each fit.
func (j *jointFits) variances() []byOutput {
	all := make([]byOutput, len(j.fits))
	for i, f := range j.fits {
		for a := range outputs {
			one := []study.Weighted{{Errors: &f.Errors, Output: study.Output(a), Weight: 1}}
			all[i][a] = study.Covariance(one, one) + j.covariance(i, a, i, a)
		}
	}
	return all
}
