package film

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// lme4Series is the series of testdata/remount.csv.
func lme4Series(t *testing.T) []Remounted {
	f, err := os.Open("testdata/remount.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	curves := make([]Remounted, 3)
	for _, row := range rows[1:] { // point, curve, placement, slope, y; points first
		var v [5]float64
		for i, cell := range row {
			v[i], err = strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
		}
		c := &curves[int(v[1])-1]
		if v[0] == 1 {
			c.R = append(c.R, nil)
		}
		if v[2] == 1 {
			c.NM, c.TiltSlope = append(c.NM, 400+v[0]), append(c.TiltSlope, v[3])
		}
		last := &c.R[len(c.R)-1]
		*last = append(*last, v[4])
	}
	return curves
}

// lme4 1.1-31 in R 4.2.2, testdata/remount.R, from the 648 readings themselves, with a fixed mean for each point: the
// regression of each placement and the variances of its results pose the same problem for the noise that lme4 finds.
func TestPlacementAgainstLme4(t *testing.T) {
	s, err := newRemountSeries(lme4Series(t))
	require.NoError(t, err)
	for k := range s.sigma {
		s.sigma[k] = 0.0193188652237
	}
	s.fillDesign()
	vectors, factor, err := s.vectors()
	require.NoError(t, err)
	assert.InDelta(t, 1, factor, 0.05, "568 degrees of freedom tell the variance of the noise to 6 %")
	v, err := fit.REML(vectors, []int{0, 0, 0, 1, 2})
	require.NoError(t, err)
	// lmer stops at about 1e-7 of these.
	assert.InEpsilonSlice(t, []float64{0.0102729565115, 0.1154034416539, 0.0099214628569}, v.SD, 1e-6)
}
