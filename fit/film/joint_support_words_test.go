package film

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A shared parameter outside its prior is described with its unit, and with what may be the matter: of a zero that is
// also the light trap.
func TestUnlikelyWords(t *testing.T) {
	zero := unlikelyWords(Shared{Key: Key{Name: "zero"}, Unit: "1", Value: 0.0006433}, 6.4)
	assert.Contains(t, zero, "zero comes out at 0.0006433 of reflectance, 6 standard deviations from what is known of it; ")
	assert.Contains(t, zero, "clean the light trap")
	angle := unlikelyWords(Shared{Key: Key{Name: "angle of 60 degrees"}, Unit: "degrees", Value: 0.5}, 5)
	assert.Contains(t, angle, "comes out at 0.5 degrees, 5 standard deviations")
	scale := unlikelyWords(Shared{Key: Key{Name: Scale}, Unit: "1", Value: 1.3}, 30)
	assert.Contains(t, scale, "scale comes out at 1.3, 30 standard deviations")
	assert.Contains(t, scale, "a blank or its glass")
}
