package film_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/testdata/foreign"
)

// Run 1309 of these spots is best explained with a gradient of 0.15, where the number of steps changes: on its jump of R the
// fit would stall. It ends, and about its truth.
func TestFitEndsWhereStepsChange(t *testing.T) {
	sc := foreign.SceneNamed("native")
	r, err := newReader(sc.Setup)
	require.NoError(t, err)
	o, err := spotRun(r, sc, foreign.Prior(), 105, 1309, false)
	require.NoError(t, err)
	assert.NotContains(t, o.flags, "not-converged")
	c := o.claims[ofSolarT]
	assert.InDelta(t, 0, c.off, 3*c.u)
}
