package figures_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/optics/internal/figures"
)

func TestMustColumns(t *testing.T) {
	got := figures.MustColumns("# a remark, with a comma\nwavelength_nm,k\n310,4.996E-5\n320,1.375E-5\n")
	assert.Equal(t, [][]float64{{310, 320}, {4.996e-5, 1.375e-5}}, got)
}

func TestMustColumnsPanicsOnWhatIsNoTable(t *testing.T) {
	for name, text := range map[string]string{
		"empty":        "# a remark only\n",
		"ragged":       "nm,k\n310,1,2\n",
		"not a number": "nm,k\n310,none\n",
	} {
		assert.Panics(t, func() { figures.MustColumns(text) }, name)
	}
}
