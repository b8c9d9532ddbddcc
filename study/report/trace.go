package report

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/plotter"

	"wane/fit/film"
	"wane/study/report/paper"
)

const (
	percent = 100

	// unusable is the size, in percent, percentage points, nm or a unit of dose, from
	// which a value counts as a fault. It is not drawn, like one that is not finite.
	unusable = 1e6

	// coverage is the factor k of the noise band.
	coverage = 2
)

// trace is a curve as it is drawn, in nm, percent and percentage points, without values
// that cannot be drawn.
type trace struct {
	style
	angle    string // in words
	label    string // angle and polarisation
	measured plotter.XYs
	residual plotter.XYs   // measured minus fitted
	fitted   []plotter.XYs // unbroken runs
	band     []plotter.XYs // outlines of unbroken runs
	noise    float64       // half-width of the noise band, 0 if not known
	leftOut  int           // points with a value that cannot be drawn
	through  bool          // of transmittance
}

// usable reports whether a value can be drawn.
func usable(v float64) bool { return math.Abs(v) < unusable }

// newTrace returns the trace of curve i of a figure.
func newTrace(i int, c *film.FittedCurve, polarisation string) trace {
	angle := angleLabel(c.AngleDeg)
	if c.Through {
		angle = "T, " + angle
	}
	t := trace{style: styleOf(i), angle: angle, label: angle, through: c.Through}
	if polarisation != "" {
		t.label += ", " + paper.Plain(polarisation)
	}
	has := func(v []float64) func(int) bool {
		return func(k int) bool { return usable(c.NM[k]) && usable(percent*v[k]) }
	}
	hasMeasured, hasFitted, hasBand := has(c.Measured), has(c.Fitted), has(c.Band)
	for k, nm := range c.NM {
		if hasMeasured(k) {
			t.measured = append(t.measured, plotter.XY{X: nm, Y: percent * c.Measured[k]})
			if hasFitted(k) {
				t.residual = append(t.residual, plotter.XY{X: nm, Y: percent * (c.Measured[k] - c.Fitted[k])})
			}
		}
		if !hasMeasured(k) || !hasFitted(k) || !hasBand(k) {
			t.leftOut++
		}
	}
	for _, r := range runs(len(c.NM), hasFitted) {
		t.fitted = append(t.fitted, lineOf(c, r))
	}
	for _, r := range runs(len(c.NM), func(k int) bool { return hasFitted(k) && hasBand(k) }) {
		t.band = append(t.band, outlineOf(c, r))
	}
	if noise := percent * coverage * c.NoiseSD; usable(noise) && noise > 0 {
		t.noise = noise
	}
	return t
}

// run is the range of indices from first to before last.
type run struct{ first, last int }

// runs returns the unbroken runs of the indices 0 to n-1 that are ok.
func runs(n int, ok func(int) bool) []run {
	var out []run
	for k := 0; k < n; k++ {
		switch {
		case !ok(k):
		case len(out) > 0 && out[len(out)-1].last == k:
			out[len(out)-1].last++
		default:
			out = append(out, run{k, k + 1})
		}
	}
	return out
}

// lineOf returns the fitted line over a run.
func lineOf(c *film.FittedCurve, r run) plotter.XYs {
	xys := make(plotter.XYs, 0, r.last-r.first)
	for k := r.first; k < r.last; k++ {
		xys = append(xys, plotter.XY{X: c.NM[k], Y: percent * c.Fitted[k]})
	}
	return xys
}

// outlineOf returns the outline of the band over a run: along its upper edge and back along
// the lower one.
func outlineOf(c *film.FittedCurve, r run) plotter.XYs {
	var upper, lower plotter.XYs
	for k := r.first; k < r.last; k++ {
		upper = append(upper, plotter.XY{X: c.NM[k], Y: percent * (c.Fitted[k] + c.Band[k])})
		lower = append(lower, plotter.XY{X: c.NM[k], Y: percent * (c.Fitted[k] - c.Band[k])})
	}
	lower = slices.Clone(decimated(lower, lineColumns))
	slices.Reverse(lower)
	return append(slices.Clip(decimated(upper, lineColumns)), lower...)
}

// angleLabel writes an angle of incidence.
func angleLabel(angleDeg float64) string {
	if !usable(angleDeg) {
		return notStated
	}
	return withMinus(strconv.FormatFloat(math.Round(angleDeg*100)/100, 'f', -1, 64)) + "°"
}

// thinned returns about most of the points or fewer, evenly chosen. Curves with different
// offsets, from 0 to 1, keep different points.
func thinned(xys plotter.XYs, most int, offset float64) plotter.XYs {
	step := (len(xys) + most - 1) / most
	if step < 2 {
		return xys
	}
	var out plotter.XYs
	for k := int(offset * float64(step)); k < len(xys); k += step {
		out = append(out, xys[k])
	}
	return out
}
