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
	assert.LessOrEqual(t, len(got), 2*(columns+2))
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
	assert.Equal(t, line[:600], report.Decimated(line[:600], columns), "a short line stays")
	level := make(plotter.XYs, 5000) // all at one wavelength
	assert.NotEmpty(t, report.Decimated(level, columns))
}

// A smooth line of 2,000 points is drawn by a few of them, from which none is off by more than is allowed; a spike
// stays.
func TestSimplified(t *testing.T) {
	line := make(plotter.XYs, 2000)
	for i := range line {
		line[i] = plotter.XY{X: float64(i), Y: math.Sin(float64(i) / 300)}
	}
	line[1234].Y = 3
	got := report.Simplified(line, 1e-3)
	assert.Less(t, len(got), 100) // chords of equal height would be 75, by hand: 2000 / (300 √(8 · 0.001))
	assert.Contains(t, got, line[1234])
	k := 0
	for _, xy := range line {
		for got[k+1].X < xy.X {
			k++
		}
		a, b := got[k], got[k+1]
		assert.InDelta(t, a.Y+(b.Y-a.Y)*(xy.X-a.X)/(b.X-a.X), xy.Y, 1e-3)
	}
	assert.Equal(t, line[:2], report.Simplified(line[:2], 1))
}

// A figure of four curves of 2,201 points, which is 300-2500 nm in steps of 1 nm, is small enough for a page, and the
// residual of one point that sticks out is still drawn: the axis of residuals goes that far, and a dot is there.
func TestALongFitIsSmall(t *testing.T) {
	f := &report.Fit{Title: "Made up"}
	for k := range 4 {
		c := made(2201, float64(8+17*k), 0.02)
		for i := range c.Measured { // noise of ±0.01 pp, as a page has to draw it
			c.Measured[i] = c.Fitted[i] + 1e-4*float64(1-2*(i%2))
		}
		f.Curves = append(f.Curves, c)
	}
	f.Curves[0].Measured[1001] = f.Curves[0].Fitted[1001] + 0.01
	d := parse(t, f)
	top, zero := math.Inf(-1), 0.0
	dots := d.longest(t, faint(report.Palette()[0]))
	for _, p := range dots {
		top = math.Max(top, p[1])
	}
	zero = dots[0][1]
	step := d.label(t, "−0.5") - d.label(t, "−1.0")
	assert.InDelta(t, 1-0.01, 0.5*(top-zero)/step, 0.02, "pp above the first dot, which is 0.01 pp high")
	assert.Contains(t, string(drawSVG(t, f)), "measured − fitted, the extremes where points are dense")
	assert.NotContains(t, string(drawSVG(t, spot(4))), "extremes", "of 181 points every one is drawn")
	for _, format := range []string{report.FormatPage, report.FormatNarrow} {
		assert.Less(t, len(write(t, f, format)), 240_000, "%s: bytes", format)
	}
}
