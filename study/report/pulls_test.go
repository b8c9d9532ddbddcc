package report_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study/report"
)

// levelCurve is a curve at a level, a fraction, measured a little above it.
func levelCurve(n int, level float64) film.FittedCurve {
	c := film.FittedCurve{AngleDeg: 8}
	for k := range n {
		c.NM = append(c.NM, 400+600*float64(k)/float64(n-1))
		c.Fitted, c.Measured, c.Band = append(c.Fitted, level), append(c.Measured, level+0.001), append(c.Band, 1e-4)
	}
	return c
}

// pulls is a made-up figure: pull k reads k + 1 percent.
func pulls(pulls, panels int) *report.Pulls {
	f := &report.Pulls{Title: "Coupon E1: measured and fitted curves by pull"}
	for p := range panels {
		panel := report.PullPanel{Label: fmt.Sprintf("Spot %d, 8°, s", p+1)}
		for k := range pulls {
			panel.Curves = append(panel.Curves, report.PullCurve{Pull: k, FittedCurve: levelCurve(61, 0.01*float64(k+1))})
		}
		f.Panels = append(f.Panels, panel)
	}
	for k := range pulls {
		f.Pulls = append(f.Pulls, report.PullName{Name: fmt.Sprintf("pull %d", k), Dose: fmt.Sprintf("%d days", 90*k)})
	}
	return f
}

// The height at which the fitted line of each pull is drawn, read by the labels of the axis, is its reflectance, and
// the legend has the pulls in their order.
func TestPullsAreDrawnWhereTheyAre(t *testing.T) {
	d := parse(t, pulls(4, 1))
	perPercent := (d.label(t, "4") - d.label(t, "1")) / 3
	zero := d.label(t, "1") - perPercent
	styles := 0
	for k := range 4 {
		line := d.longest(t, solid(report.Palette()[k]), "stroke-width:1.5")
		require.Len(t, line, 2, "a level line")
		// The foot of a label is below the middle of its digits, where the tick is, by 0.36 of the size of the text.
		got := (line[0][1] - zero - 0.36*12.5) / perPercent
		assert.InDelta(t, float64(k+1), got, 0.05, "pull %d", k)
		styles++
		assert.Greater(t, d.label(t, fmt.Sprintf("pull %d", max(0, k-1))), d.label(t, fmt.Sprintf("pull %d", k))-1)
	}
	assert.Equal(t, 4, styles)
	d.text(t, "270 days")
	d.text(t, "Wavelength / nm")
}

// A spike of one point in a long curve is drawn: the line of what was measured goes as high.
func TestASpikeIsDrawn(t *testing.T) {
	f := pulls(2, 1)
	c := levelCurve(12_001, 0.02)
	c.Measured[7_003] = 0.09
	f.Panels[0].Curves[1] = report.PullCurve{Pull: 1, FittedCurve: c}
	d := parse(t, f)
	thin := d.longest(t, "stroke-width:0.6")
	assert.Less(t, len(thin), 4_900, "decimated")
	top, middle := math.Inf(-1), thin[10][1]
	for _, p := range thin {
		top = math.Max(top, p[1])
	}
	perPercent := (d.label(t, "8") - d.label(t, "2")) / 6
	assert.InDelta(t, 9-2.1, (top-middle)/perPercent, 0.01, "percent above the others")
}

func TestPullsOfAnySize(t *testing.T) {
	for _, n := range [][2]int{{1, 1}, {12, 1}, {12, 8}, {4, 30}} {
		f := pulls(n[0], n[1])
		f.Title = strings.Repeat("Coupon with a name that is very long ", 5)
		f.Pulls[0].Name = strings.Repeat("long", 40)
		d := parse(t, f)
		for _, s := range d.texts {
			if !s.turned {
				assert.GreaterOrEqual(t, s.y, 0.0, "%v: %q", n, s.text)
				assert.LessOrEqual(t, s.x+s.width, d.width, "%v: %q", n, s.text)
			}
		}
		for _, s := range report.NarrowTextsOf(f) {
			if !s.Turned {
				assert.LessOrEqual(t, s.X+s.Face.Width(s.Text).Points(), 276.0, "narrow, %v: %q", n, s.Text)
			}
		}
	}
}

func TestPullsThatCannotBeDrawn(t *testing.T) {
	write := func(f *report.Pulls) error { return f.Write(&bytes.Buffer{}, "svg") }
	assert.ErrorContains(t, write(&report.Pulls{}), "no pull")
	f := pulls(2, 1)
	f.Panels[0].Curves[1].Pull = 2
	assert.ErrorContains(t, write(f), "is of pull 2 of 2")
	f = pulls(2, 1)
	f.Panels[0].Curves[1].Fitted = nil
	assert.ErrorContains(t, write(f), "61 measured and 0 fitted")
	f = pulls(2, 1)
	f.Panels[0].Curves[1].Measured[3] = math.NaN()
	parse(t, f).text(t, "Points with a value that cannot be drawn (not finite, or too large): 1.")
}
