package report_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study/report"
)

// assertInside holds every text and every line of a figure to its page.
func assertInside(t *testing.T, d *drawing) {
	t.Helper()
	for _, s := range d.texts {
		if s.turned {
			continue
		}
		assert.GreaterOrEqual(t, s.x, 0.0, s.text)
		assert.LessOrEqual(t, s.x+s.width, d.width, s.text)
		assert.GreaterOrEqual(t, s.y-0.25*s.height, 0.0, s.text)
		assert.LessOrEqual(t, s.y+s.height, d.height, s.text)
	}
	for _, p := range d.paths {
		for _, at := range p.points {
			inside := at[0] >= 0 && at[0] <= d.width && at[1] >= 0 && at[1] <= d.height
			require.True(t, inside, "%v is off the page (%s)", at, p.style)
		}
	}
}

// assertApart holds the boxes of all upright texts apart. A box goes from 0.2
// (descenders) below the baseline to 0.75 (capitals) of the size above.
func assertApart(t *testing.T, d *drawing) {
	t.Helper()
	for i, a := range d.texts {
		for _, b := range d.texts[:i] {
			overlap := a.x < b.x+b.width && b.x < a.x+a.width &&
				a.y-0.2*a.height < b.y+0.75*b.height && b.y-0.2*b.height < a.y+0.75*a.height
			assert.False(t, overlap && !a.turned && !b.turned, "%q lies on %q", a.text, b.text)
		}
	}
}

func TestLayout(t *testing.T) {
	long := strings.Repeat("a caption of many words with λ = 550 nm and ± 0.4 nm ", 12)
	for name, f := range map[string]*report.Fit{
		"one curve":    spot(1),
		"four curves":  spot(4),
		"eight curves": spot(8),
		"forty curves": spot(40),
		"no texts":     {Curves: spot(2).Curves},
		"long texts": {
			Title: long, Curves: spot(2).Curves, Polarisation: []string{long, strings.Repeat("s", 300)},
			Caption: []string{long, "", strings.Repeat("w", 500), "last"},
		},
		"blank texts":         {Title: " \n ", Curves: spot(1).Curves, Caption: []string{"\n", " "}},
		"very small":          {Curves: []film.FittedCurve{made(181, 8, 0.002)}},
		"nothing reflected":   {Curves: []film.FittedCurve{made(181, 8, 0)}},
		"no light but noise":  {Curves: []film.FittedCurve{made(181, 8, -0.0001)}},
		"textured, at 60":     {Curves: []film.FittedCurve{made(181, 60, 0.14)}},
		"one point":           {Curves: []film.FittedCurve{made(1, 8, 0.02)}},
		"two points":          {Curves: []film.FittedCurve{made(2, 8, 0.02)}},
		"largest drawn value": {Curves: []film.FittedCurve{made(181, 8, 5000)}},
	} {
		t.Run(name, func(t *testing.T) {
			d := parse(t, f)
			assertInside(t, d)
			assertApart(t, d)
		})
	}
}

// What is drawn stands where the labels of the axes say: the distance of lines and
// dots from one another is that of the labels of their values.
func TestValuesStandAtTheirLabels(t *testing.T) {
	f := &report.Fit{}
	for _, level := range []float64{0.01, 0.02, 0.03} {
		c := film.FittedCurve{AngleDeg: 8, NoiseSD: 0.0002}
		for nm := 400.0; nm <= 1000; nm += 50 {
			c.NM, c.Fitted = append(c.NM, nm), append(c.Fitted, level)
			c.Measured, c.Band = append(c.Measured, level+0.05*level), append(c.Band, 0.001)
		}
		f.Curves = append(f.Curves, c)
	}
	d := parse(t, f)
	percent := d.label(t, "2.0") - d.label(t, "1.0")
	point := (d.label(t, "0.1") - d.label(t, "−0.1")) / 2
	var line, dots []float64
	for i := range f.Curves {
		c := report.Palette()[i]
		line = append(line, d.longest(t, solid(c)+":1.5")[0][1])
		dots = append(dots, d.longest(t, faint(c))[0][1])
	}
	// 0.02 pt: coordinates are written with five digits.
	assert.InDelta(t, percent, line[1]-line[0], 0.02, "1 to 2 %%")
	assert.InDelta(t, percent, line[2]-line[1], 0.02, "2 to 3 %%")
	assert.InDelta(t, 0.5*point, dots[1]-dots[0], 0.02, "0.05 to 0.10 pp: measured is above fitted")
	assert.InDelta(t, 0.5*point, dots[2]-dots[1], 0.02, "0.10 to 0.15 pp")

	lower, upper := extent(d.longest(t, "fill:#3B47B3;fill-opacity"))
	assert.InDelta(t, 0.2*percent, upper-lower, 0.02, "band of ± 0.1 %%")
	lower, upper = extent(d.longest(t, "fill-opacity:0.054"))
	assert.InDelta(t, 0.8*point, upper-lower, 0.02, "noise of ± 2 × 0.02 pp")
}

func extent(points [][2]float64) (lower, upper float64) {
	lower, upper = math.Inf(1), math.Inf(-1)
	for _, p := range points {
		lower, upper = math.Min(lower, p[1]), math.Max(upper, p[1])
	}
	return lower, upper
}

// A parameter that the data do not determine gives a band much wider than the
// curves; it is cut at the edge of the panel and must not press them flat.
func TestWideBandLeavesTheCurvesTheirHeight(t *testing.T) {
	narrow, wide := spot(1), spot(1)
	for i := range wide.Curves[0].Band {
		wide.Curves[0].Band[i] = 10
	}
	height := func(f *report.Fit) float64 {
		lower, upper := extent(parse(t, f).longest(t, "stroke:#3C48B4;stroke-width:1.5"))
		return upper - lower
	}
	assertInside(t, parse(t, wide))
	// 0.45: the axis grows by half at each end, and by its margins.
	assert.Greater(t, height(wide), 0.45*height(narrow), "points")
}

// All panels of a figure have the same left and right edge of their data.
func TestPanelsShareTheirEdges(t *testing.T) {
	for name, c := range map[string]struct {
		figure figure
		lines  int
	}{
		"fit":     {spot(3), 7},          // an axis of the reflectances; an axis and a zero line of each angle
		"changes": {threeUnits(), 2 * 3}, // an axis and a zero line each
	} {
		t.Run(name, func(t *testing.T) {
			var first, last []float64
			for _, p := range parse(t, c.figure).all("stroke:#555555") {
				if len(p.points) == 2 && p.points[1][0]-p.points[0][0] > 200 {
					first, last = append(first, p.points[0][0]), append(last, p.points[1][0])
				}
			}
			require.Len(t, first, c.lines)
			for i := range first {
				assert.InDelta(t, first[0], first[i], 0.02, "left edge, points")
				assert.InDelta(t, last[0], last[i], 0.02, "right edge, points")
			}
		})
	}
}
