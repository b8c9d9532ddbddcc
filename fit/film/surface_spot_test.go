package film

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// Where the solver finds a fault, both what is wrong with the spot and the fault of the solver can be
// found in the error, also after it was wrapped.
func TestInputErrorsKeepTheirCause(t *testing.T) {
	cause := &fit.ProblemError{Quantity: "sum of squares", Value: 1e300, Fault: "too large"}
	err := fmt.Errorf("coupon A01: %w", inputErrorOf("spot", "the curves cannot be fitted", cause, "check the unit"))
	var in *InputError
	require.ErrorAs(t, err, &in)
	assert.Equal(t, "spot", in.What)
	assert.Equal(t, "the curves cannot be fitted: "+cause.Error(), in.Fault)
	assert.Equal(t, "check the unit", in.Try)
	assert.True(t, errors.Is(err, cause))
	assert.Equal(t, "coupon A01: film: spot: the curves cannot be fitted: "+cause.Error(), err.Error())
}
