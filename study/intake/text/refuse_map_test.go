package text

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A map states in columns what a flag states.
func TestTriesInMaps(t *testing.T) {
	for try, want := range map[string]string{
		"state --quantity R and --unit percent": "state R in column quantity and percent in column unit",
		"state --unit, or correct the file":     "state column unit of the map, or correct the file",
		"--wavelength-unit um or nm":            "um in column wavelength_unit or nm",
		"state --units":                         "state --units",
	} {
		assert.Equal(t, want, tryInMap(try))
	}
}
