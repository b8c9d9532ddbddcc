package population_test

import (
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/population"
)

// No digit depends on the number of workers.
func TestAnyNumberOfWorkers(t *testing.T) {
	d := large(8, 80, 8, 2, true)
	was := runtime.GOMAXPROCS(1)
	one := fitted(t, d, population.Options{})
	runtime.GOMAXPROCS(4)
	four := fitted(t, d, population.Options{})
	runtime.GOMAXPROCS(was)
	assert.Equal(t, one.Criterion(), four.Criterion())
	assert.Equal(t, one.Groups, four.Groups)
	assert.Equal(t, one.Components, four.Components)
	assert.Equal(t, one.Coupons, four.Coupons)
}
