package power

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Quantiles of t from printed tables, as R's qt gives them: qt(0.975, c(1, 2, 5, 30, Inf)) and qt(0.95, 1); R 4.2.2.
func TestQuantiles(t *testing.T) {
	q := newQuantiles(0.975, 1)
	for dof, want := range map[float64]float64{1: 12.7062047361747, 2: 4.30265272974946, 5: 2.57058183563631,
		30: 2.04227245630124, math.Inf(1): 1.95996398454005} {
		assert.InEpsilon(t, want, q.at(dof), 1e-9, "%g", dof)
	}
	assert.InEpsilon(t, 6.31375151467504, newQuantiles(0.95, 1).at(1), 1e-9)
}
