package report_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/plotter"

	"wane/study/report"
)

// A line of 20,000 points keeps its ends and every spike of one point, in both directions, and no column loses more
// than what lies between its extremes: the range of each column is that of all its points.
func TestDecimatedKeepsSpikes(t *testing.T) {
	const n, columns = 20_000, 300
	line := make(plotter.XYs, n)
	for i := range line {
		line[i] = plotter.XY{X: 300 + 0.1*float64(i), Y: 4 + math.Sin(float64(i)/900)}
	}
	spikes := []int{1, 777, 778, 9_999, n - 2}
	for k, i := range spikes {
		line[i].Y = 100 * float64(1-2*(k%2))
	}
	got := report.Decimated(line, columns)
	assert.LessOrEqual(t, len(got), 4*(columns+1))
	assert.Equal(t, line[0], got[0])
	assert.Equal(t, line[n-1], got[len(got)-1])
	for _, i := range spikes {
		assert.Contains(t, got, line[i])
	}
	require.True(t, slices.IsSortedFunc(got, func(a, b plotter.XY) int { return int(math.Copysign(1, a.X-b.X)) }))
	ranges := func(line plotter.XYs) map[int][2]float64 {
		out := map[int][2]float64{}
		for _, xy := range line {
			k := int(columns * (xy.X - 300) / (0.1 * (n - 1)))
			r, known := out[k]
			if !known {
				r = [2]float64{xy.Y, xy.Y}
			}
			out[k] = [2]float64{min(r[0], xy.Y), max(r[1], xy.Y)}
		}
		return out
	}
	assert.Equal(t, ranges(line), ranges(got))
	assert.Equal(t, line[:1000], report.Decimated(line[:1000], columns), "a short line stays")
	level := make(plotter.XYs, 5000) // all at one wavelength
	assert.NotEmpty(t, report.Decimated(level, columns))
}
